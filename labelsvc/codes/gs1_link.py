"""GS1 Digital Link URIs: key and qualifiers in the path, everything else in the query.

Source: GS1 Digital Link URI Syntax (table of keys and qualifiers in the GS1 Barcode Syntax Dictionary) and the behaviour of the
standard owner's syntax engine, which the vectors were computed with. Convenience names (gtin, lot) and compression are not read.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labelsvc.codes.gs1_syntax import Element, check_elements, identifier, shown, table
from labelsvc.errors import CodeError

_URI_CHARACTERS = frozenset(string.ascii_letters + string.digits + "-._~:/?#[]@!$&'()*+,;=%")
_UNESCAPED = frozenset(string.ascii_letters + string.digits + "-._~")
_SCHEME = re.compile(r"(?:https?|HTTPS?)://")
_HOST = re.compile(r"[A-Za-z0-9.-]+(?::([0-9]{1,5}))?")
_PERCENT = re.compile(r"%([0-9A-Fa-f]{2})?")


@dataclass(frozen=True)
class ParsedLink:
    """A Digital Link taken apart.

    Args:
        base: scheme, host and stem before the key, without trailing slash.
        path: key and qualifiers, in their order.
        query: the other elements, in their order.
    """

    base: str
    path: tuple[Element, ...]
    query: tuple[Element, ...]

    @property
    def elements(self) -> tuple[Element, ...]:
        """All elements, those of the path first."""
        return self.path + self.query


def parse_link(uri: str, field: str = "link") -> ParsedLink:
    """Return a checked Digital Link; a fragment and query words that are no identifier are left out.

    Args:
        uri: such as ``https://example.com/01/09521234543213/10/H14?15=270303``.
        field: how an error names it.

    Raises:
        CodeError: no web address, a character that no URI has, no key, an element in the wrong place or twice, or elements that
            are wrong in themselves.

    >>> parse_link("https://example.com/trace/01/09521234543213/10/H14").base
    'https://example.com/trace'
    """
    origin, path, query = _split(uri, field)
    stem, pairs = _key_pairs(path, uri, field)
    in_path = tuple(Element(ai, _decoded(text, uri, field)) for ai, text in pairs)
    in_query = tuple(_query_elements(query, uri, field))
    _check_places(in_path, in_query, uri, field)
    check_elements(in_path + in_query, field)
    return ParsedLink(origin + stem, in_path, in_query)


def split_places(elements: Sequence[Element]) -> tuple[tuple[Element, ...], tuple[Element, ...]] | None:
    """Return the elements of the path and those of the query, or None where no key stands.

    The first key in the order of the input begins the path. Of its orders of qualifiers that one is taken which places most of
    those that may stand nowhere else, then most of all. In the query identifiers of predefined length come first, as the
    syntax engine writes them, each group in the order of the input.

    Args:
        elements: checked elements.
    """
    rows = table().identifiers
    first: dict[str, Element] = {element.ai: element for element in reversed(elements)}
    key = next((element for element in elements if rows[element.ai].link == "key"), None)
    if key is None:
        return None
    orders = [[ai for ai in order if ai in first] for order in rows[key.ai].qualifiers] or [[]]
    best = max(orders, key=lambda order: (sum(rows[ai].link == "path" for ai in order), len(order)))
    path = (key, *(first[ai] for ai in best))
    rest = dict.fromkeys(element for element in elements if element not in path)
    return path, predefined_first(rest)


def predefined_first(query: Iterable[Element]) -> tuple[Element, ...]:
    """Return elements of a query as they are written: those of predefined length first, each group in the order given."""
    return tuple(sorted(query, key=lambda element: not table().identifiers[element.ai].predefined))


def left_out(query: Iterable[Element]) -> list[str]:
    """Return the identifiers of query elements that may not stand in a query."""
    return [element.ai for element in query if table().identifiers[element.ai].link in ("path", "none")]


def write_link(base: str, path: Sequence[Element], query: Sequence[Element]) -> str:
    """Return the URI: everything but letters, digits and - . _ ~ is percent-encoded.

    Args:
        base: address without trailing slash.
        path: key and qualifiers.
        query: the other elements.

    >>> write_link("https://example.com", [Element("01", "09521234543213"), Element("10", "A/B")], [Element("15", "270303")])
    'https://example.com/01/09521234543213/10/A%2FB?15=270303'
    """
    steps = "".join(f"/{element.ai}/{_encoded(element.value)}" for element in path)
    words = "&".join(f"{element.ai}={_encoded(element.value)}" for element in query)
    return f"{base}{steps}{'?' if words else ''}{words}"


def _split(uri: str, field: str) -> tuple[str, str, str]:
    """Return scheme with host, path, and query."""
    scheme = _SCHEME.match(uri)
    if scheme is None:
        raise CodeError(field, "a web address whose scheme is http:// or https://", shown(uri))
    if not _URI_CHARACTERS.issuperset(uri):
        raise CodeError(field, "only characters a URI may have", shown(uri))
    rest = uri[scheme.end() :].partition("#")[0]
    before, _, query = rest.partition("?")
    host, slash, path = before.partition("/")
    match = _HOST.fullmatch(host)
    if match is None or int(match[1] or 0) > 65535 or not slash:
        raise CodeError(field, "a domain and a path after it", uri)
    return scheme[0] + host, slash + path, query


def _key_pairs(path: str, uri: str, field: str) -> tuple[str, list[tuple[str, str]]]:
    """Return the stem and the pairs from the rightmost key on, walking back from the end in steps of two."""
    parts = path.split("/")
    start = len(parts) - 2
    while start >= 1:
        row = table().identifiers.get(parts[start])
        if row is None:
            break
        if row.link == "key":
            pairs = list(zip(parts[start::2], parts[start + 1 :: 2], strict=True))
            _refuse_empty(pairs, uri, field)
            return "/".join(parts[:start]), pairs
        start -= 2
    raise CodeError(field, "a GS1 key with a value in the path, and a value after every identifier", uri)


def _refuse_empty(pairs: Iterable[tuple[str, str]], uri: str, field: str) -> None:
    for ai, text in pairs:
        if not text:
            raise CodeError(field, f"a value after ({ai}), not an empty one", uri)


def _query_elements(query: str, uri: str, field: str) -> Iterable[Element]:
    for word in query.split("&"):
        name, equals, text = word.partition("=")
        if not equals or not name.isdigit():
            continue
        identifier(name, field, uri)
        _refuse_empty([(name, text)], uri, field)
        value = _decoded(text.replace("+", " "), uri, field)
        # a GTIN of 8, 12 or 13 digits is filled up in a query only; the path needs 14
        yield Element(name, value.rjust(14, "0") if name == "01" and len(value) in (8, 12, 13) else value)


def _check_places(path: Sequence[Element], query: Sequence[Element], uri: str, field: str) -> None:
    names = [element.ai for element in (*path, *query)]
    twice = next((ai for ai in names if names.count(ai) > 1), None)
    if twice:
        raise CodeError(field, f"({twice}) only once in a link", uri)
    key = identifier(path[0].ai, field, uri)
    taken = [element.ai for element in path[1:]]
    orders = [order for order in key.qualifiers or ((),) if _is_in_order(taken, order)]
    if not orders:
        named = " or ".join(",".join(order) for order in key.qualifiers) or "none"
        raise CodeError(field, f"after the key ({key.ai}) only its qualifiers in their order: {named}", uri)
    if key.ai == "01" and len(path[0].value) != 14:
        raise CodeError(field, "a GTIN written with exactly 14 digits", uri)
    _check_query(query, orders, uri, field)


def _check_query(query: Sequence[Element], orders: Sequence[Sequence[str]], uri: str, field: str) -> None:
    for element in query:
        if any(element.ai in order for order in orders):
            raise CodeError(field, f"the qualifier ({element.ai}) in the path, not in the query", uri)
    refused = left_out(query)
    if refused:
        raise CodeError(field, f"({refused[0]}) not in the query of a link: it is no data attribute", uri)


def _is_in_order(taken: Sequence[str], order: Sequence[str]) -> bool:
    left = iter(order)
    return all(ai in left for ai in taken)


def _decoded(text: str, uri: str, field: str) -> str:
    def character(match: re.Match[str]) -> str:
        if match[1] is None or match[1] == "00":
            raise CodeError(field, "two hexadecimal digits after % and no null character", uri)
        return chr(int(match[1], 16))

    return _PERCENT.sub(character, text)


def _encoded(text: str) -> str:
    return "".join(character if character in _UNESCAPED else f"%{ord(character):02X}" for character in text)
