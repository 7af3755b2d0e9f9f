"""Volumes in a cure: taken for spices, warned of for salt, refused for any source of nitrite or nitrate.

Grams: USDA National Nutrient Database SR28, table of weights: black pepper 2.3 g a teaspoon, salt 6.0 g.
"""

import pytest

from labelsvc.errors import InputError


def cured(shop, name, spoons, **card):
    shop.record("ingredient", name=name, **card)
    piece, bag = shop.green_piece("1000 g"), shop.ingredient(name, "1 kg")
    return piece, shop.cure([piece], (bag, spoons), at="2026-03-03")


def test_spice_by_the_spoon_is_kept_as_said_and_as_grams_and_called_an_estimate(shop):
    piece, done = cured(shop, "black pepper", "2 tsp")
    (line,) = shop.fact_body(done.fact)["given"]["mix"]
    assert (line["volume"], line["weight"]) == ("2 tsp", "4.6 g")
    assert shop.state(piece).put_on_milligrams == 4_600
    assert any(note.field == "mix[0].volume" and "An estimate" in note.hint for note in done.notes)
    before = shop.dump()
    shop.rebuild()
    assert shop.dump() == before


def test_salt_by_the_spoon_is_warned_of(shop):
    shop.record("ingredient", name="table salt")
    _, done = cured(shop, "table salt", "1 tbsp")
    assert any("off more than twofold" in note.hint for note in done.notes)


NITRITE = [{"name": "salt", "percent": "99.4"}, {"name": "sodium nitrite", "percent": "0.6"}]


@pytest.mark.parametrize(
    ("name", "card"),
    [
        ("red curing salt", {}),  # its name promises it, whatever its card says
        ("white pepper", {"components": NITRITE}),  # an innocent name with nitrite on its card
        ("celery powder", {}),
    ],
)
def test_source_of_nitrite_or_nitrate_by_the_spoon_is_refused(shop, name, card):
    with pytest.raises(InputError, match=r"mix\[0\]\.volume: expected grams from a scale for .*, never a volume, got 1 tsp"):
        cured(shop, name, "1 tsp", **card)


def test_line_without_weight_and_volume_is_refused(shop):
    piece = shop.green_piece("1000 g")
    with pytest.raises(InputError, match="the grams on the scale"):
        shop.record("cure", tub="blue", pieces=[piece], method="dry", mix=[{"lot": shop.ingredient()}])


def test_spoon_of_what_the_table_does_not_have_is_refused_by_its_line(shop):
    with pytest.raises(InputError, match=r"mix\[0\]\.volume: expected an ingredient of the table"):
        cured(shop, "juniper", "1 tsp")
