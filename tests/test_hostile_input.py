"""Whatever comes in by a door, it is read or refused in our own words: nothing else is ever raised.

Bounded here; more with ``--hypothesis-seed`` and another profile.
"""

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labelsvc import facts
from labelsvc.codes.article_number import gtin
from labelsvc.codes.gs1 import compute_gs1, parse_human_readable, parse_scan, write_human_readable, write_scan
from labelsvc.codes.gs1_link import parse_link
from labelsvc.codes.link import base_address
from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import LabelsvcError
from labelsvc.labels.layout_file import parse_layout
from labelsvc.ledger.archive import check
from labelsvc.operations.computing import COMPUTATIONS
from labelsvc.operations.keeping import Head
from labelsvc.units import Mass, decimal

LAYOUT = (Path(__file__).parents[1] / "label_layouts" / "badge_86x54.toml").read_text(encoding="utf-8")
some = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
FEW_SIGNS = "0123456789().,/-+ gkoz?&=%:|PKNAC\x1d]C1d2Q3\u2009\ufeff\u0660²½\x00\n\r\"'<>"
TEXT = st.one_of(st.text(max_size=60), st.text(alphabet=FEW_SIGNS, max_size=60))
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXT, inner, max_size=4),
    max_leaves=12,
)
DOORS = {
    "weight": lambda text: Mass.parse(text),
    "decimal": lambda text: decimal(text, "percent"),
    "lot code": LotCode.parse,
    "element string": parse_human_readable,
    "scan": parse_scan,
    "link": parse_link,
    "base address": base_address,
    "gtin": gtin,
    "head": Head.parse,
    "layout": lambda text: parse_layout(text, "a file"),
    "import": lambda text: check([text]),
}


def tried(door, value):
    """Return what the door makes of it, or None where it refuses in our words."""
    try:
        return door(value)
    except LabelsvcError:
        return None


@pytest.mark.parametrize("name", DOORS)
@some
@given(text=TEXT)
def test_text_when_it_is_anything_then_it_is_read_or_refused_by_name(name, text):
    tried(DOORS[name], text)


@some
@given(text=TEXT)
def test_weight_when_it_can_be_read_then_it_is_not_negative_and_reads_back_the_same(text):
    mass = tried(Mass.parse, text)
    if mass is not None:
        assert mass.milligrams >= 0
        assert Mass.parse(str(mass)) == mass


@some
@given(text=TEXT)
def test_lot_code_when_it_can_be_read_then_its_own_text_is_the_same_code(text):
    code = tried(LotCode.parse, text)
    if code is not None:
        assert LotCode.parse(str(code)) == code


@some
@given(text=st.text(alphabet="0123456789()ABx/-", min_size=4, max_size=50))
def test_element_string_when_it_can_be_read_then_written_and_read_again_it_is_the_same(text):
    elements = tried(parse_human_readable, f"(01)09506000134352(10){text}")
    if elements is not None:
        assert parse_human_readable(write_human_readable(elements)) == elements
        assert parse_scan(write_scan(elements)) == elements


@pytest.mark.parametrize("name", sorted(COMPUTATIONS))
@settings(some, max_examples=60)
@given(request=st.dictionaries(TEXT, JSON, max_size=5))
def test_computation_when_asked_anything_then_it_answers_or_refuses(name, request):
    tried(COMPUTATIONS[name], request)


@pytest.mark.parametrize("kind", sorted(facts.KINDS))
@settings(some, max_examples=40)
@given(data=st.data())
def test_fact_when_its_fields_hold_anything_then_it_is_read_or_refused(kind, data):
    fields = facts.shape_of(kind).__struct_encode_fields__
    given_ = data.draw(st.dictionaries(st.sampled_from(fields) | TEXT, JSON, max_size=6))
    tried(lambda value: facts.read(kind, value), given_)


@some
@given(request=st.fixed_dictionaries({}, optional={name: TEXT for name in ("human_readable", "scan", "link", "base")}))
def test_gs1_when_asked_anything_then_its_answer_can_be_written_down(request):
    answer = tried(compute_gs1, request)
    if answer is not None:
        json.dumps(answer).encode()


@some
@given(at=st.integers(0, len(LAYOUT)), length=st.integers(0, 30), put=TEXT)
def test_layout_when_a_piece_of_it_is_anything_then_it_is_read_or_refused(at, length, put):
    tried(DOORS["layout"], LAYOUT[:at] + put + LAYOUT[at + length :])


@some
@given(lines=st.lists(st.one_of(TEXT, JSON.map(lambda value: json.dumps(value))), max_size=3))
def test_import_when_its_lines_are_anything_then_it_is_read_or_refused(lines):
    tried(check, lines)
