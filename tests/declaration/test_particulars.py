"""Net quantity, sizes of type and figures, lot, operator, storage and cooking, at the limits."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from published import case, cases

from labelsvc.declaration import particulars
from labelsvc.declaration.context import context_for
from labelsvc.declaration.ingredient_use import Additive
from labelsvc.declaration.meat import connective_tissue, meat_limits
from labelsvc.errors import InputError
from labelsvc.facts import DisplayPanel
from labelsvc.shape import read_shape
from labelsvc.units import Mass

ON = dt.date(2026, 3, 2)


@pytest.mark.parametrize(("nominal", "millimetres"), cases("figure_height")[0]["millimetres"].items())
@pytest.mark.parametrize("market", ["eu", "gb"])
def test_figure_height_when_at_a_band_then_published_height(nominal: str, millimetres: int, market: str) -> None:
    assert particulars.figure_height_mm(Mass.parse(nominal), market, ON) == millimetres


@pytest.mark.parametrize(
    ("weight", "market", "packs", "text"),
    [
        ("250 g", "eu", 1, "250 g"),
        ("249.9 g", "eu", 1, "249 g"),
        ("999.9 g", "eu", 1, "999 g"),
        ("1250 g", "gb", 1, "1.25 kg"),
        ("1 lb", "us", 1, "Net Wt. 16 oz"),  # U1
        ("100 g", "us", 1, "Net Wt. 3.5 oz"),  # 3.527
    ],
)
def test_net_quantity_then_never_more_than_there_is(weight: str, market: str, packs: int, text: str) -> None:
    assert particulars.net_quantity(Mass.parse(weight), "en", market, packs=packs) == text


def test_net_quantity_when_nothing_or_no_pack_then_refused() -> None:
    with pytest.raises(InputError, match="at least 1 g"):
        particulars.net_quantity(Mass(Decimal("0.9")), "en")
    with pytest.raises(InputError, match="at least 1, got 0"):
        particulars.net_quantity(Mass(Decimal(9)), "en", packs=0)


@pytest.mark.parametrize("one", cases("net_quantity"), ids=lambda one: one["id"])
def test_net_quantity_when_published_then_the_same(one: dict[str, Any]) -> None:
    weighed, pack = dict(one["weighed"]), one["pack"]
    assert particulars.net_quantity(Mass.parse(pack["weight"]), "en", "eu", packs=pack["packs"]) == pack["text"]
    needed = weighed.pop("needed")
    assert particulars.is_net_quantity_needed(**weighed) is needed


def test_net_quantity_when_weighed_before_the_buyer_and_drying_then_not_needed() -> None:
    # Annex IX point 1(a): both must hold
    assert particulars.is_net_quantity_needed(loses_weight=True, by_piece_or_weighed_before_buyer=False)
    assert particulars.is_net_quantity_needed(loses_weight=False, by_piece_or_weighed_before_buyer=True)


@pytest.mark.parametrize(("face", "height"), [("79.9", "0.9"), ("80", "1.2"), ("200", "1.2")])
def test_x_height_when_face_is_small_then_smaller(face: str, height: str) -> None:
    assert particulars.x_height_mm(Decimal(face), "eu", ON) == Decimal(height)


def test_display_panel_when_published_then_that_area() -> None:
    (one,) = cases("panel")
    cm = Decimal("2.54")  # an inch, exact by definition
    jar = DisplayPanel("cylinder", height_cm=Decimal(one["height_inches"]) * cm, around_cm=Decimal(one["around_inches"]) * cm)
    assert particulars.display_panel_cm2(jar, "us", ON) == Decimal(one["square_inches"]) * cm * cm


@pytest.mark.parametrize(
    ("panel", "area"),
    [  # 16 CFR 500.21(a): height by width; 40 % of the surface of any other shape
        (DisplayPanel("rectangle", height_cm=Decimal(10), width_cm=Decimal("7.5")), "75"),
        (DisplayPanel("other", surface_cm2=Decimal(200)), "80"),
    ],
)
def test_display_panel_when_another_shape_then_by_its_rule(panel: DisplayPanel, area: str) -> None:
    assert particulars.display_panel_cm2(panel, "us", ON) == Decimal(area)


@pytest.mark.parametrize(
    ("area", "height"),
    [  # 5, 25, 100 and 400 square inches; 1/16, 1/8, 3/16, 1/4 and 1/2 inch (9 CFR 317.2(h)(3), from memory but the first)
        ("32.258", "1.5875"), ("32.259", "3.175"), ("161.29", "3.175"), ("161.3", "4.7625"), ("645.16", "4.7625"),
        ("645.17", "6.35"), ("2580.64", "6.35"), ("2580.65", "12.7"),
    ],
)  # fmt: skip
def test_panel_figure_height_when_at_a_step_then_the_lower_and_over_it_the_next(area: str, height: str) -> None:
    assert particulars.panel_figure_height_mm(Decimal(area), "us", ON) == Decimal(height)


@pytest.mark.parametrize(
    ("measures", "field"),
    [
        (dict(shape="cylinder", height_cm=Decimal(4)), "display_panel.around_cm"),
        (dict(shape="other", surface_cm2=Decimal(0)), "display_panel.surface_cm2"),
        (dict(shape="rectangle", height_cm=Decimal(4), width_cm=Decimal(4), around_cm=Decimal(1)), "display_panel.around_cm"),
    ],
)
def test_display_panel_when_a_measure_is_missing_or_idle_then_refused(measures: dict[str, object], field: str) -> None:
    with pytest.raises(InputError) as refused:
        DisplayPanel(**measures)
    assert refused.value.field == field


def test_list_and_nutrition_when_face_is_at_the_limit_then_needed() -> None:
    # the waivers are for faces strictly under 10 and 25 cm2
    for face, is_needed in case("face", "law-N3")["cm2"].items():
        assert particulars.is_list_needed(Decimal(face), "eu", ON) is is_needed
    assert particulars.is_nutrition_needed(Decimal(25), "eu", ON)
    assert not particulars.is_nutrition_needed(Decimal("24.9"), "eu", ON)


def test_lot_operator_and_eating_lines_then_as_the_law_words_them() -> None:
    assert particulars.lot_line("5TB4-K7") == "L 5TB4-K7"
    assert particulars.operator_lines("Example Curing", "1 Example Street\nExampleton\n") == (
        "Example Curing",
        "1 Example Street",
        "Exampleton",
    )
    assert particulars.eating_line("cooked", "en") == "Cook thoroughly before eating"
    assert particulars.eating_line("as_is", "en") == "Ready to eat"
    assert particulars.storage_line("refrigerated", "en") == "Keep refrigerated"
    assert particulars.storage_line("Keep below 5 °C", "en") == "Keep below 5 °C"


def test_operator_and_eating_lines_when_missing_then_refused() -> None:
    with pytest.raises(InputError, match="address: expected the operator's name and postal address, got nothing"):
        particulars.operator_lines("Example Curing", " ")
    with pytest.raises(InputError, match="eaten: expected as_is or cooked, got raw"):
        particulars.eating_line("raw", "en")


def test_connective_tissue_of_collagen_then_37_to_8() -> None:
    one = case("tissue", "law-M3")
    found = connective_tissue(Decimal(one["collagen_percent"]), context_for("eu", "en", ON, Decimal(1)))
    assert found == Decimal(one["connective_tissue_percent"])


def test_meat_limits_when_mammals_dominate_a_mixture_then_the_published_row() -> None:
    one = case("mixture", "law-M4")
    rule = context_for("eu", "en", ON, Decimal(1)).rule("meat_limits")
    row = meat_limits({species: Decimal(share) for species, share in one["meats"].items()}, rule)
    assert row is not None
    assert (row["fat"], row["collagen"]) == (one["fat"], one["collagen"])


@pytest.mark.parametrize(
    ("weights", "group"),
    [
        ({"pig": 1}, "pigs"),
        ({"cattle": 60, "turkey": 40}, "mammals"),
        ({"cattle": 50, "turkey": 50}, "birds and rabbits"),
        ({"pig": 1, "cattle": 1}, "mammals"),
        ({"rabbit": 1}, "birds and rabbits"),
    ],
)
def test_meat_limits_when_mixed_then_by_what_dominates(weights: dict[str, int], group: str) -> None:
    rule = context_for("eu", "en", ON, Decimal(1)).rule("meat_limits")
    row = meat_limits({species: Decimal(grams) for species, grams in weights.items()}, rule)
    assert row is not None
    assert row["group"] == group


def test_meat_limits_when_the_animal_is_not_in_the_table_then_none() -> None:
    rule = context_for("eu", "en", ON, Decimal(1)).rule("meat_limits")
    assert meat_limits({"kangaroo": Decimal(1)}, rule) is None


def test_additive_when_written_in_other_ways_then_one_spelling() -> None:
    carmine = {"name": "carmine", "function": "Color", "e_number": "e120"}
    assert read_shape(Additive, carmine, "additive") == Additive("carmine", "colour", "E 120")
    with pytest.raises(InputError, match=r"^e_number: expected an E number such as E 250, got 250$"):
        read_shape(Additive, {**carmine, "e_number": "250"}, "additive")
