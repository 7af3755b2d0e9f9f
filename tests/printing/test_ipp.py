"""Messages of the protocol: what is written is read again, and nothing that comes from outside does more than be refused."""

import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labelsvc.printing import ipp
from labelsvc.printing.ipp import Message, Range, Resolution, Unreadable, Value, decode, encode

WORDS = st.text(alphabet=st.characters(exclude_categories=("Cs",)), max_size=20)
NUMBERS = st.integers(-(2**31), 2**31 - 1)
NAMES = st.text(alphabet="abcdefgh-", min_size=1, max_size=12)
PLAIN = st.one_of(
    st.builds(Value, st.sampled_from([ipp.INTEGER, ipp.ENUM]), NUMBERS),
    st.builds(Value, st.just(ipp.BOOLEAN), st.booleans()),
    st.builds(Value, st.sampled_from([ipp.KEYWORD, ipp.TEXT, ipp.NAME, ipp.URI, ipp.MIME]), WORDS),
    st.builds(Value, st.just(ipp.RESOLUTION), st.builds(Resolution, NUMBERS, NUMBERS, st.sampled_from([3, 4]))),
    st.builds(Value, st.just(ipp.RANGE), st.builds(Range, NUMBERS, NUMBERS)),
    st.builds(Value, st.just(0x13), st.none()),
)


def collections(values):
    members = st.dictionaries(NAMES, st.lists(values, min_size=1, max_size=3), max_size=3)
    return st.one_of(values, st.builds(Value, st.just(ipp.COLLECTION), members))


VALUES = st.recursive(PLAIN, collections, max_leaves=6)
GROUPS = st.tuples(
    st.sampled_from([ipp.OPERATION, ipp.JOB, ipp.PRINTER]),
    st.dictionaries(NAMES, st.lists(VALUES, min_size=1, max_size=3), max_size=4),
)
MESSAGES = st.builds(Message, st.integers(0, 0xFFFF), st.integers(0, 2**31 - 1), st.lists(GROUPS, max_size=3).map(tuple))
# An answer written by hand after RFC 8010, section 3: head, operation group, printer group with a value that has two, the end.
BY_HAND = (
    b"\x02\x00\x00\x00\x00\x00\x00\x07"
    b"\x01\x47\x00\x12attributes-charset\x00\x05utf-8"
    b"\x04\x23\x00\x0dprinter-state\x00\x04\x00\x00\x00\x05"
    b"\x44\x00\x15printer-state-reasons\x00\x11media-empty-error\x44\x00\x00\x00\x0fcover-open-error"
    b"\x03"
)


def test_answer_when_written_by_hand_after_the_rfc_then_it_is_read():
    content = BY_HAND.replace(b"\x00\x0fcover", b"\x00\x10cover")
    read = decode(content)
    assert (read.code, read.request) == (0, 7)
    printer = read.first(ipp.PRINTER)
    assert printer["printer-state"] == [Value(ipp.ENUM, 5)]
    assert [value.of for value in printer["printer-state-reasons"]] == ["media-empty-error", "cover-open-error"]
    assert encode(read) == content


def test_collection_when_written_then_its_bytes_are_those_of_the_rfc():
    """RFC 8010, section 3.1.6: begin with the name, each member named in a value of its own, an end without a name."""
    size = Value(ipp.COLLECTION, {"x-dimension": [Value(ipp.INTEGER, 6000)]})
    written = encode(Message(ipp.PRINT_JOB, 1, ((ipp.JOB, {"media-size": [size]}),)))
    assert written == (
        b"\x02\x00\x00\x02\x00\x00\x00\x01\x02"
        b"\x34\x00\x0amedia-size\x00\x00"
        b"\x4a\x00\x00\x00\x0bx-dimension\x21\x00\x00\x00\x04" + struct.pack(">i", 6000) + b"\x37\x00\x00\x00\x00\x03"
    )


@given(MESSAGES)
def test_message_when_written_and_read_then_it_is_the_same(message):
    assert decode(encode(message) + b"a document") == message


@given(st.binary(max_size=400))
def test_bytes_when_they_are_any_then_a_message_or_unreadable(content):
    _read_or_refused(content)


@settings(max_examples=300)
@given(MESSAGES, st.integers(0, 10_000), st.binary(min_size=1, max_size=4))
def test_message_when_it_is_damaged_anywhere_then_a_message_or_unreadable(message, place, damage):
    written = encode(message)
    place %= len(written)
    _read_or_refused(written[:place] + damage + written[place + len(damage) :])
    with pytest.raises(Unreadable):
        decode(written[:place])


def test_collections_when_deeper_than_any_printer_has_them_then_unreadable():
    deep = b"\x02\x00\x00\x00\x00\x00\x00\x01\x04\x34\x00\x01a\x00\x00" + b"\x4a\x00\x00\x00\x01a\x34\x00\x00\x00\x00" * 5000
    with pytest.raises(Unreadable, match="collections more than 8 deep"):
        decode(deep)


def test_attribute_when_sent_twice_then_the_first_counts():
    twice = Message(0, 1, ((ipp.PRINTER, {"a": [Value(ipp.INTEGER, 1)]}),))
    again = encode(twice)[:-1] + b"\x21\x00\x01a\x00\x04\x00\x00\x00\x02\x21\x00\x00\x00\x04\x00\x00\x00\x03\x03"
    assert decode(again) == twice


def _read_or_refused(content):
    try:
        assert isinstance(decode(content), Message)
    except Unreadable:
        return
