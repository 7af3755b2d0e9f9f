"""The syntax of GS1 elements: the table of Application Identifiers, one value against its format, elements beside each other.

Source: the GS1 Barcode Syntax Dictionary (``gs1_ai.toml`` says which release) and the General Specifications behind it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any, Literal

from labelsvc.codes.gs1_content import failed_test, outside_set
from labelsvc.errors import CodeError

Link = Literal["key", "path", "query", "none"]
_COMPONENT = re.compile(r"(\[?)([NXYZ])(\.\.)?([0-9]+)\]?")


@dataclass(frozen=True)
class Element:
    """One Application Identifier with its value.

    Args:
        ai: two to four digits.
        value: the data after it, without separator.
    """

    ai: str
    value: str

    def __str__(self) -> str:
        return f"({self.ai}){self.value}"


@dataclass(frozen=True)
class Component:
    """One part of a value.

    Args:
        kind: N, X, Y or Z.
        least: fewest characters.
        most: most characters.
        optional: whether the value may end before it.
        tests: names of the tests on its content.
    """

    kind: str
    least: int
    most: int
    optional: bool
    tests: tuple[str, ...]


@dataclass(frozen=True)
class Identifier:
    """One row of the table: an Application Identifier and the rules of its value.

    Args:
        ai: the digits.
        title: the data title of the standard.
        components: the parts of the value in order.
        predefined: no separator follows it.
        required: each list needs one of its entries beside it; an entry is identifiers that are needed together.
        never: identifiers or patterns that may not stand beside it.
        link: its place in a Digital Link.
        qualifiers: of a key, the orders in which its qualifiers may follow in the path.
    """

    ai: str
    title: str
    components: tuple[Component, ...]
    predefined: bool
    required: tuple[tuple[tuple[str, ...], ...], ...]
    never: tuple[str, ...]
    link: Link
    qualifiers: tuple[tuple[str, ...], ...]

    @property
    def longest(self) -> int:
        """The most characters a value may have."""
        return sum(part.most for part in self.components)

    @property
    def shortest(self) -> int:
        """The fewest characters a value may have."""
        return sum(part.least for part in self.components if not part.optional)


@dataclass(frozen=True)
class Table:
    """What ``gs1_ai.toml`` holds.

    Args:
        identifiers: by their digits.
        lists: the codes that a value may be one of, by the name of the list.
        groups: named lists of patterns and prefixes.
        findings: what a finding of each kind says besides its message.
    """

    identifiers: Mapping[str, Identifier]
    lists: Mapping[str, frozenset[str]]
    groups: Mapping[str, tuple[str, ...]]
    findings: Mapping[str, Mapping[str, str]]


@cache
def table() -> Table:
    """Return the packaged table, read once."""
    raw = tomllib.loads((resources.files("labelsvc.codes") / "gs1_ai.toml").read_text(encoding="utf-8"))
    identifiers = {ai: _identifier(ai, row) for row in raw["identifiers"] for ai in _expand(row["ai"])}
    lists = {name: frozenset(raw[name].split()) for name in ("countries", "country_letters", "currencies", "package_types")}
    groups = {name: tuple(raw[name]) for name in ("variable_measure", "trade_measures", "restricted_prefixes")}
    return Table(MappingProxyType(identifiers), lists, groups, raw["findings"])


def identifier(ai: str, field: str, got: str) -> Identifier:
    """Return the row of an identifier.

    Raises:
        CodeError: the table does not know it.
    """
    known = table().identifiers.get(ai)
    if known is None:
        raise CodeError(field, "a known GS1 Application Identifier", shown(got))
    return known


def leading_identifier(text: str, field: str) -> Identifier:
    """Return the identifier a text begins with; no identifier begins with another one, so at most one fits.

    Raises:
        CodeError: the table knows none that fits.
    """
    found = next((text[:size] for size in (2, 3, 4) if text[:size] in table().identifiers), text[:4])
    return identifier(found, field, text)


def shown(text: str) -> str:
    r"""Return a text as an error may quote it: a control character such as the separator becomes ``\x1d``."""
    return text if text.isprintable() else repr(text)


def matches(ai: str, pattern: str) -> bool:
    """Tell whether an identifier fits a pattern, in which n stands for any digit (``31nn``)."""
    return len(ai) == len(pattern) and all(p in ("n", a) for a, p in zip(ai, pattern, strict=True))


def check_value(element: Element, field: str) -> None:
    """Refuse a value that does not fit the format of its identifier.

    Args:
        element: identifier and value.
        field: how an error names it.

    Raises:
        CodeError: empty, too long, another length, a character outside the set, a check digit, date, country or currency.
    """
    row = identifier(element.ai, field, str(element))
    if not element.value:
        raise CodeError(field, f"a value after ({row.ai}) {row.title}, not an empty one", str(element))
    rest = element.value
    for part in row.components:
        if part.optional and not rest:
            break
        rest = _check_component(part, rest, row, element, field)
    if rest:
        raise _wrong_length(row, element, field)


def check_elements(elements: Sequence[Element], field: str) -> None:
    """Refuse no elements, a wrong value, or elements that may not stand together.

    Args:
        elements: in the order of the input.
        field: how an error names them.

    Raises:
        CodeError: nothing there, a value that does not fit, an identifier twice with different values, one that needs another
            or may not stand beside it, or a variable measure GTIN without measure.
    """
    if not elements:
        raise CodeError(field, "at least one GS1 element, not an empty text", "nothing")
    for element in elements:
        check_value(element, field)
    _refuse_repeats(elements, field)
    present = frozenset(element.ai for element in elements)
    for element in elements:
        _refuse_exclusive(table().identifiers[element.ai], present, field)
        _refuse_missing(table().identifiers[element.ai], present, field)
    _refuse_unmeasured(elements, present, field)


def has_any(present: frozenset[str], patterns: Sequence[str]) -> bool:
    """Tell whether any identifier fits any of the patterns."""
    return any(matches(ai, pattern) for ai in present for pattern in patterns)


def _check_component(part: Component, rest: str, row: Identifier, element: Element, field: str) -> str:
    """Check one component at the beginning of ``rest`` and return what follows it."""
    text, after = rest[: part.most], rest[part.most :]
    wrong_set = outside_set(part.kind, text)
    if wrong_set:
        raise CodeError(field, f"{wrong_set} in ({row.ai}) {row.title}", shown(str(element)))
    if len(text) < part.least:
        raise _wrong_length(row, element, field)
    lists = table().lists
    for expected in (failed_test(name, text, lists) for name in part.tests):
        if expected:
            raise CodeError(field, f"{expected} in ({row.ai}) {row.title}", str(element))
    return after


def _wrong_length(row: Identifier, element: Element, field: str) -> CodeError:
    word = "digits" if all(part.kind == "N" for part in row.components) else "characters"
    if row.shortest == row.longest:
        expected = f"exactly {row.longest} {word}"
    elif len(element.value) > row.longest:
        expected = f"at most {row.longest} {word}"
    elif all(part.least == part.most for part in row.components):
        expected = f"{' or '.join(str(size) for size in _sizes(row))} {word}"
    else:
        expected = f"{row.shortest} to {row.longest} {word}"
    return CodeError(field, f"{expected} after ({row.ai}) {row.title}", f"{element} with {len(element.value)}")


def _sizes(row: Identifier) -> list[int]:
    """Return the lengths a value of fixed components may have, optional ones left out from the end."""
    lengths = [sum(part.most for part in row.components[: i + 1]) for i in range(len(row.components))]
    return [size for size in lengths if size >= row.shortest]


def _refuse_repeats(elements: Sequence[Element], field: str) -> None:
    values: dict[str, str] = {}
    for element in elements:
        if values.setdefault(element.ai, element.value) != element.value:
            got = f"{values[element.ai]} and {element.value}"
            raise CodeError(field, f"({element.ai}) once, or twice with the same value", got)


def _refuse_exclusive(row: Identifier, present: frozenset[str], field: str) -> None:
    for other in sorted(present - {row.ai}):
        if any(matches(other, pattern) for pattern in row.never):
            raise CodeError(field, f"({row.ai}) {row.title} not together with ({other})", f"both ({row.ai}) and ({other})")


def _refuse_missing(row: Identifier, present: frozenset[str], field: str) -> None:
    for alternatives in row.required:
        if not any(all(has_any(present, (needed,)) for needed in together) for together in alternatives):
            named = " or ".join("+".join(together) for together in alternatives)
            got = " ".join(f"({ai})" for ai in sorted(present))
            raise CodeError(field, f"({row.ai}) {row.title} only beside the required {named}", got)


def _refuse_unmeasured(elements: Sequence[Element], present: frozenset[str], field: str) -> None:
    """First digit 9 is a variable measure item: it needs its measure or count (General Specifications, figure 4.14.2-1)."""
    for element in elements:
        if element.ai in ("01", "02") and element.value[0] == "9" and not has_any(present, table().groups["variable_measure"]):
            expected = f"the required measure or count beside ({element.ai}) whose first digit is 9"
            raise CodeError(field, expected, f"{element} without measure")


def _expand(text: str) -> list[str]:
    first, dash, last = text.partition("-")
    return [str(number) for number in range(int(first), int(last) + 1)] if dash else [first]


def _identifier(ai: str, row: Mapping[str, Any]) -> Identifier:
    return Identifier(
        ai=ai,
        title=row["title"],
        components=tuple(_component(text) for text in row["format"]),
        predefined=row.get("predefined", False),
        required=tuple(tuple(tuple(entry.split("+")) for entry in group) for group in row.get("required", ())),
        never=tuple(row.get("never", ())),
        link=row.get("link", "query"),
        qualifiers=tuple(tuple(order) for order in row.get("qualifiers", ())),
    )


def _component(text: str) -> Component:
    form, *tests = text.split()
    match = _COMPONENT.fullmatch(form)
    if match is None:
        raise ValueError(f"no format of a component: {text!r}")
    opening, kind, up_to, size = match.groups()
    return Component(kind, 1 if up_to else int(size), int(size), bool(opening), tuple(tests))
