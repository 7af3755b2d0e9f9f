"""Messages of the Internet Printing Protocol, written and read (RFC 8010, section 3; names and numbers of RFC 8011).

An answer comes from a machine that nobody vouches for: every length in it is checked against what is really there, nothing is
taken deeper or longer than a printer has reason to, and whatever cannot be read is an ``Unreadable`` and no other error.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

VERSION = (2, 0)  # IPP/2.0: media collections are in it

PRINT_JOB, CANCEL_JOB, GET_JOB_ATTRIBUTES, GET_JOBS, GET_PRINTER_ATTRIBUTES = 0x0002, 0x0008, 0x0009, 0x000A, 0x000B
OPERATION, JOB, END, PRINTER = 0x01, 0x02, 0x03, 0x04  # delimiters of groups
INTEGER, BOOLEAN, ENUM = 0x21, 0x22, 0x23
OCTETS, DATE_TIME, RESOLUTION, RANGE, COLLECTION, TEXT_IN, NAME_IN, END_COLLECTION = (
    0x30,
    0x31,
    0x32,
    0x33,
    0x34,
    0x35,
    0x36,
    0x37,
)
TEXT, NAME, KEYWORD, URI, URI_SCHEME, CHARSET, LANGUAGE, MIME, MEMBER = 0x41, 0x42, 0x44, 0x45, 0x46, 0x47, 0x48, 0x49, 0x4A

_WORDS = (TEXT, NAME, KEYWORD, URI, URI_SCHEME, CHARSET, LANGUAGE, MIME)
_FIRST_VALUE = 0x10  # tags below it begin a group
_OUT_OF_BAND = range(0x10, 0x20)  # unknown, no value, not supported: no value at all
_DEEPEST = 8  # collections within collections; media-col has two
_HEAD = struct.Struct(">BBHI")


class Unreadable(ValueError):  # noqa: N818 - what the bytes are, said to the caller alone, who names the printer
    """Bytes that are no message of this protocol."""


class Resolution(NamedTuple):
    """Dots in a unit, across the feed and along it; the unit is 3 for an inch, 4 for a centimetre."""

    across: int
    along: int
    unit: int


class Range(NamedTuple):
    """Whole numbers from the lower to the upper, both among them."""

    lower: int
    upper: int


@dataclass(frozen=True)
class Value:
    """One value with the tag of its syntax.

    Args:
        tag: of RFC 8010, section 3.5.2.
        of: an int, bool, str, ``Resolution``, ``Range``, ``Attributes`` of a collection, bytes as they came, or None where
            the tag says that there is no value.
    """

    tag: int
    of: Any


Attributes = Mapping[str, Sequence[Value]]


@dataclass(frozen=True)
class Message:
    """A request or an answer, without the document that may follow it.

    Args:
        code: the operation of a request, the status of an answer.
        request: its number; an answer repeats it.
        groups: delimiter and attributes, in order.
    """

    code: int
    request: int
    groups: tuple[tuple[int, Attributes], ...]

    def first(self, group: int) -> Attributes:
        """Return the attributes of the first group with a delimiter; none where there is no such group."""
        return next(iter(self.all(group)), {})

    def all(self, group: int) -> list[Attributes]:
        """Return the attributes of each group with a delimiter, in order."""
        return [attributes for tag, attributes in self.groups if tag == group]


def encode(message: Message) -> bytes:
    """Return the bytes of a message; a document may follow them as it is."""
    parts = [_HEAD.pack(*VERSION, message.code, message.request)]
    for group, attributes in message.groups:
        parts.append(bytes([group]))
        for name, values in attributes.items():
            parts += [_attribute(value, name if place == 0 else "") for place, value in enumerate(values)]
    return b"".join([*parts, bytes([END])])


def _attribute(value: Value, name: str) -> bytes:
    if value.tag != COLLECTION:
        return _field(value.tag, name, _written(value))
    members = [
        _field(MEMBER, "", member.encode()) + _attribute(first, "") + b"".join(_attribute(other, "") for other in others)
        for member, (first, *others) in value.of.items()
    ]
    return b"".join([_field(COLLECTION, name, b""), *members, _field(END_COLLECTION, "", b"")])


def _field(tag: int, name: str, content: bytes) -> bytes:
    named = name.encode()
    return struct.pack(f">BH{len(named)}sH", tag, len(named), named, len(content)) + content


def _written(value: Value) -> bytes:
    if value.tag in (INTEGER, ENUM):
        return struct.pack(">i", value.of)
    if value.tag == BOOLEAN:
        return bytes([value.of])
    if value.tag == RESOLUTION:
        return struct.pack(">iib", *value.of)
    if value.tag == RANGE:
        return struct.pack(">ii", *value.of)
    if value.tag in _WORDS:
        return str(value.of).encode()
    return b"" if value.of is None else bytes(value.of)


def decode(content: bytes) -> Message:
    """Return the message that bytes hold; what follows its end is left alone.

    Raises:
        Unreadable: it is none, or a length in it goes past its end.
    """
    return _Reader(content).message()


class _Reader:
    """Goes through the bytes once, from the front."""

    def __init__(self, content: bytes) -> None:
        self.content = content
        self.place = 0

    def message(self) -> Message:
        major, _minor, code, request = _HEAD.unpack(self.take(_HEAD.size))
        if major not in (1, 2):
            raise Unreadable(f"version {major} of the protocol")
        groups: list[tuple[int, Attributes]] = []
        tag = self.tag()
        while tag != END:
            if not 0 < tag < _FIRST_VALUE:
                raise Unreadable(f"a group that begins with 0x{tag:02x}")
            attributes, after = self.group()
            groups.append((tag, attributes))
            tag = after
        return Message(code, request, tuple(groups))

    def group(self) -> tuple[Attributes, int]:
        """Return a group's attributes and the delimiter behind it; of two with one name the first counts."""
        found: dict[str, list[Value]] = {}
        values: list[Value] | None = None
        while (tag := self.tag()) >= _FIRST_VALUE:
            name = self.words(self.counted())
            value = self.value(tag, 0)
            if name:
                values = []
                found.setdefault(name, values)
            if values is None:
                raise Unreadable("a value without a name before it")
            values.append(value)
        return found, tag

    def value(self, tag: int, depth: int) -> Value:
        content = self.counted()
        if tag == COLLECTION:
            return Value(tag, self.collection(depth + 1))
        return Value(tag, _read(tag, content))

    def collection(self, depth: int) -> Attributes:
        """Return the members of a collection up to its end."""
        if depth > _DEEPEST:
            raise Unreadable(f"collections more than {_DEEPEST} deep")
        found: dict[str, list[Value]] = {}
        values: list[Value] | None = None
        while (tag := self.tag()) != END_COLLECTION:
            if self.counted():
                raise Unreadable("a name where a member of a collection has none")
            if tag == MEMBER:
                values = []
                found.setdefault(self.words(self.counted()), values)
            elif tag < _FIRST_VALUE or values is None:
                raise Unreadable("a collection without its end or without the name of a member")
            else:
                values.append(self.value(tag, depth))
        self.counted()
        self.counted()
        return found

    def tag(self) -> int:
        return self.take(1)[0]

    def counted(self) -> bytes:
        return self.take(int.from_bytes(self.take(2), "big"))

    def take(self, count: int) -> bytes:
        if count > len(self.content) - self.place:
            raise Unreadable(f"{count} bytes announced and {len(self.content) - self.place} there")
        self.place += count
        return self.content[self.place - count : self.place]

    @staticmethod
    def words(content: bytes) -> str:
        return content.decode("utf-8", errors="replace")


_SIZES = {INTEGER: ">i", ENUM: ">i", BOOLEAN: ">?", RESOLUTION: ">iib", RANGE: ">ii"}


def _read(tag: int, content: bytes) -> Any:
    if tag in _OUT_OF_BAND:
        return None
    if tag in _SIZES:
        if len(content) != struct.calcsize(_SIZES[tag]):
            raise Unreadable(f"{len(content)} bytes for a value of the kind 0x{tag:02x}")
        read = struct.unpack(_SIZES[tag], content)
        return Resolution(*read) if tag == RESOLUTION else Range(*read) if tag == RANGE else read[0]
    if tag in (TEXT_IN, NAME_IN):
        inner = _Reader(content)
        inner.counted()  # its language
        return inner.words(inner.counted())
    return _Reader.words(content) if tag in _WORDS else content
