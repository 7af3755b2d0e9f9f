"""A counted lot over several rails: each becomes a lot with its share of everything, its own tare and tag."""

import build
import pypdfium2
import pytest

from labelsvc import settings
from labelsvc.errors import InputError
from labelsvc.operations import labelling
from labelsvc.operations.rails import string_over_rails


@pytest.fixture
def breasts(shop):
    """Twelve duck breasts of 3600 g out of the cure, one lot; the product's string weighs 5 g a piece."""
    animal = shop.receive(kind="part", name="duck breasts", species="duck", weight="4 kg")
    rows = [dict(product="Cured duck breast", weight="3600 g", count=12)]
    lot = shop.record("cut", from_=animal, pieces=rows).codes[0]
    shop.cure([lot], (shop.ingredient(), "90 g"))
    return lot


def hang(shop, lot, *rails, **more):
    given = {
        "from": lot,
        "place": "Drying room",
        "rails": [dict(zip(("count", "weight", "tare"), rail, strict=False)) for rail in rails],
    }
    return string_over_rails(shop.ledger, given, now=build.NOW, who="Ada", **more)


def test_rails_when_strung_then_each_has_its_pieces_weight_tare_and_share(shop, breasts):
    first, second = hang(shop, breasts, (8, "2440 g"), (4, "1230 g", "30 g")).codes
    one, two = shop.state(first), shop.state(second)
    assert (one.count, one.hang_milligrams, one.tare_milligrams, one.place) == (8, 2_400_000, 40_000, "Drying room, rail 1 of 2")
    assert (two.count, two.hang_milligrams, two.tare_milligrams, two.place) == (4, 1_200_000, 30_000, "Drying room, rail 2 of 2")
    assert (one.green_milligrams, two.green_milligrams) == (2_400_000, 1_200_000)  # of 3600 g by weight
    assert (shop.state(breasts).phase, shop.state(breasts).milligrams) == ("used up", 0)
    shop.weigh(first, "2200 g", at="2026-11-25")
    assert shop.state(first).milligrams == 2_160_000
    assert shop.state(second).milligrams == 1_200_000


def test_the_tag_of_a_rail_when_printed_then_it_says_which_rail_and_how_many_pieces(shop, breasts):
    for number, code in enumerate(hang(shop, breasts, (8, "2440 g"), (4, "1220 g")).codes, start=1):
        issued = labelling.tag(shop.ledger, code, layouts=settings.layouts(), now=build.NOW)
        text = " ".join(pypdfium2.PdfDocument(issued.pdf)[0].get_textpage().get_text_range().split())
        assert f"Cured duck breast, {(8, 4)[number - 1]} pieces, rail {number} of 2" in text


@pytest.mark.parametrize(
    ("rails", "said"),
    [
        ([(12, "3660 g")], r"^rails: expected two rails or more, got 1\. On one rail, string the whole lot\.$"),
        ([(8, "2440 g"), (5, "1220 g")], r"^rails\[0\]\.count: expected rails with the 12 pieces of .* together, got 13$"),
        ([(11, "3340 g"), (1, "320 g")], r"^rails\[1\]\.count: expected 2 pieces or more, got 1$"),
        ([(8, "2440 g"), (4, "20 g")], r"^rails\[1\]\.weight: expected more than the tare of 20 g, got 20 g$"),
    ],
)
def test_rails_when_they_cannot_be_then_nothing_is_recorded(shop, breasts, rails, said):
    before = shop.facts()
    with pytest.raises(InputError, match=said):
        hang(shop, breasts, *rails)
    assert shop.facts() == before
