"""GS1 element strings as people read them, as scanners send them, and as links: each form read, checked and written.

Source: GS1 General Specifications (element strings, FNC1 and symbology identifiers) and the GS1 Barcode Syntax Dictionary; the
behaviour where they are silent is that of the standard owner's syntax engine, with which the vectors were computed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, cast

from labelsvc.codes.gs1_link import ParsedLink, left_out, parse_link, predefined_first, split_places, write_link
from labelsvc.codes.gs1_syntax import Element, check_elements, has_any, leading_identifier, shown, table
from labelsvc.codes.link import base_address
from labelsvc.errors import CodeError, InputError
from labelsvc.rules.finding import Finding, Known, Severity

SEPARATOR = "\x1d"
DEFAULT_BASE = "https://example.com"
_GS1_SYMBOLS = ("]C1", "]d2", "]Q3", "]e0")
_PLAIN_SYMBOLS = ("]d1", "]Q1")
_SYMBOLOGY = re.compile(r"\][A-Za-z][0-9A-Za-z]")
_BRACKETED = re.compile(r"\(([0-9]{2,4})\)((?:\\\(|[^(])*)", re.DOTALL)
_FORMS = ("human_readable", "scan", "link")


def compute_gs1(request: Mapping[str, Any]) -> dict[str, Any]:
    r"""Return one set of GS1 elements in every form: elements, human_readable, scan, link, findings.

    Args:
        request: one of ``human_readable`` ("(01)..."), ``scan`` (with symbology identifier, FNC1 as U+001D) or ``link`` (URI);
            ``base`` is the address of the link that is written (default: that of the link given, else https://example.com).

    Raises:
        InputError: none or two of the forms, another field, or no text.
        CodeError: data that the standard refuses.

    >>> compute_gs1({"human_readable": "(01)09521234543213(10)H14(15)270303"})["link"]
    'https://example.com/01/09521234543213/10/H14?15=270303'
    """
    form, text = _one_form(request)
    given = _given_link(form, text)
    elements = given.elements if given else _READERS[form](text)
    base = base_address(_text(request, "base"), "base") if "base" in request else given.base if given else DEFAULT_BASE
    link, findings = _link(elements, base, given)
    scan = write_scan(elements)
    findings += [*_too_long(scan), *_too_many(elements), *_doubtful_numbers(elements)]
    return {
        "elements": [{"ai": element.ai, "value": element.value} for element in elements],
        "human_readable": write_human_readable(elements),
        "scan": scan,
        "link": link,
        "findings": [finding.as_json() for finding in findings],
    }


def parse_human_readable(text: str, field: str = "human_readable") -> tuple[Element, ...]:
    r"""Return the checked elements of a text with bracketed identifiers.

    Args:
        text: such as ``(01)09521234543213(10)H14``; an opening bracket inside a value is written ``\(``.
        field: how an error names it.

    Raises:
        CodeError: no identifiers of two to four digits in brackets, or data that the standard refuses.
    """
    elements: list[Element] = []
    place = 0
    while place < len(text):
        match = _BRACKETED.match(text, place)
        if match is None:
            raise CodeError(
                field, "Application Identifiers of two to four digits in brackets, each before its value", shown(text)
            )
        elements.append(Element(match[1], match[2].replace("\\(", "(")))
        place = match.end()
    check_elements(elements, field)
    return tuple(elements)


def parse_scan(text: str, field: str = "scan") -> tuple[Element, ...]:
    r"""Return the checked elements of what a scanner sent.

    A separator after data of predefined length or at the end is tolerated. A missing one cannot be noticed: the next element
    then reads as part of the value before it.

    Args:
        text: ``]C1``, ``]d2``, ``]Q3`` or ``]e0`` and element strings with U+001D between them, or ``]d1`` or ``]Q1`` and a link.
        field: how an error names it.

    Raises:
        CodeError: no or another symbology identifier, a separator in the wrong place, or data that the standard refuses.

    >>> [str(element) for element in parse_scan("]C1010952123454321310H14\x1d17270303")]
    ['(01)09521234543213', '(10)H14', '(17)270303']
    """
    if text.startswith(_PLAIN_SYMBOLS):
        return parse_link(text[3:], field).elements
    _refuse_other_symbols(text, field)
    elements: list[Element] = []
    rest = text[3:]
    while rest:
        element, rest = _next_element(rest, text, field)
        elements.append(element)
    check_elements(elements, field)
    return tuple(elements)


def write_human_readable(elements: Sequence[Element]) -> str:
    r"""Return the elements with their identifiers in brackets; an opening bracket inside a value becomes ``\(``."""
    return "".join(f"({element.ai})" + element.value.replace("(", "\\(") for element in elements)


def write_scan(elements: Sequence[Element]) -> str:
    r"""Return what a scanner sends for a GS1-128: ``]C1``, and U+001D after data without predefined length unless it is last.

    >>> write_scan([Element("01", "09521234543213"), Element("10", "H14"), Element("17", "270303")])
    ']C1010952123454321310H14\x1d17270303'
    """
    identifiers = table().identifiers
    parts = [element.ai + element.value + ("" if identifiers[element.ai].predefined else SEPARATOR) for element in elements]
    return "]C1" + "".join(parts).removesuffix(SEPARATOR)


_READERS = {"human_readable": parse_human_readable, "scan": parse_scan}


def _one_form(request: Mapping[str, Any]) -> tuple[str, str]:
    for name in request:
        if name not in (*_FORMS, "base"):
            raise InputError(str(name), f"no field but {', '.join(_FORMS)} or base", repr(request[name]))
    forms = [name for name in _FORMS if name in request]
    if len(forms) != 1:
        raise InputError("gs1", f"one of {', '.join(_FORMS)}", " and ".join(forms) or "none of them")
    return forms[0], _text(request, forms[0])


def _text(request: Mapping[str, Any], name: str) -> str:
    value = request[name]
    if not isinstance(value, str):
        raise InputError(name, "a text", repr(value))
    return value


def _given_link(form: str, text: str) -> ParsedLink | None:
    """Return the link that was given, or scanned from a plain symbol; None where it is no link."""
    if form == "link":
        return parse_link(text, form)
    if form == "scan" and text.startswith(_PLAIN_SYMBOLS):
        return parse_link(text[3:], form)
    return None


def _refuse_other_symbols(text: str, field: str) -> None:
    if not text.startswith(_GS1_SYMBOLS):
        expected = f"scan data whose symbology identifier is one of {' '.join((*_GS1_SYMBOLS, *_PLAIN_SYMBOLS))}"
        raise CodeError(field, expected, shown(text) if _SYMBOLOGY.match(text) else f"{text!r} without one")
    if text[3:].startswith(SEPARATOR):
        raise CodeError(field, "an Application Identifier first, not a leading separator", repr(text))


def _next_element(rest: str, text: str, field: str) -> tuple[Element, str]:
    """Return the element at the beginning of ``rest`` and what follows it, without one separator between them."""
    row = leading_identifier(rest, field)
    data, separator, after = rest[len(row.ai) :].partition(SEPARATOR)
    if not row.predefined:
        return Element(row.ai, data), after
    value, surplus = data[: row.longest], data[row.longest :]
    following = surplus + separator + after if surplus else after
    return Element(row.ai, value), following


def _link(elements: Sequence[Element], base: str, given: ParsedLink | None) -> tuple[str | None, list[Finding]]:
    """Return the link, or None with a finding where an element may not stand in one; a given path stays as it was."""
    places = split_places(elements)
    if places is None:
        return None, []
    path, query = (given.path, predefined_first(given.query)) if given else places
    refused = left_out(query)
    if refused:
        return None, [_finding("no_link", False, None, f"No link: ({refused[0]}) may not stand in one.")]
    return write_link(base, path, query), []


def _too_long(scan: str) -> list[Finding]:
    found, limit = _characters(scan), _most_characters()
    if found <= limit:
        return []
    message = f"{found} characters do not fit one GS1-128 of at most {limit}: use two symbols, Data Matrix or QR."
    return [_finding("too_long", True, str(found), message)]


def symbols_needed(elements: Sequence[Element]) -> int:
    """Return how many GS1-128 symbols hold some elements in their order; an element is never divided."""
    count, held = 1, 0
    for place in range(1, len(elements) + 1):
        if place - held > 1 and _characters(write_scan(elements[held:place])) > _most_characters():
            count, held = count + 1, place - 1
    return count


def _too_many(elements: Sequence[Element]) -> list[Finding]:
    needed, most = symbols_needed(elements), int(table().findings["too_many"]["limit"])
    if needed <= most:
        return []
    message = f"{needed} GS1-128 symbols would be needed, more than {most}: use one 2D symbol, GS1 DataMatrix or GS1 QR."
    return [_finding("too_many", True, str(needed), message)]


def _characters(scan: str) -> int:
    return len(scan) - len("]C1")


def _most_characters() -> int:
    return int(table().findings["too_long"]["limit"])


def _doubtful_numbers(elements: Sequence[Element]) -> list[Finding]:
    """Return what is unusual in AI 01 and 02: a measure beside a grouping's number, or a number for one's own shop."""
    groups = table().groups
    measured = has_any(frozenset(element.ai for element in elements), groups["trade_measures"])
    findings = []
    for element in dict.fromkeys(element for element in elements if element.ai in ("01", "02")):
        if measured and "1" <= element.value[0] <= "8":
            message = f"{element} numbers a grouping of fixed-measure items (first digit 1 to 8) but a measure stands beside it."
            findings.append(_finding("fixed_measure", True, element.value[0], message))
        if element.value[0] == "0" and element.value[1:].startswith(groups["restricted_prefixes"]):
            message = f"{element} holds a number for use inside one shop or country: it is no GTIN."
            findings.append(_finding("restricted", True, element.value, message))
    return findings


def _finding(kind: str, exceeded: bool, found: str | None, message: str) -> Finding:
    row = table().findings[kind]
    return Finding(
        rule=row["rule"],
        severity=cast(Severity, row["severity"]),
        exceeded=exceeded,
        limit=row.get("limit"),
        found=found,
        unit=row.get("unit"),
        expressed_as=None,
        basis=None,
        known=cast(Known, row["known"]),
        citation=row["citation"],
        message=message,
    )
