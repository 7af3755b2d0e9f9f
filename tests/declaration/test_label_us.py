"""Labels of the United States, through ``compute label``: published cases and the limits of names and statements."""

from __future__ import annotations

from typing import Any

import pytest
from declaration_samples import pork, premix
from label_asked import AMERICAN, US, asked, found, stops, text

from labelsvc.declaration.compute import declaration
from labelsvc.errors import InputError

NOT_PRESERVED = "Not Preserved - Keep Refrigerated Below 40 °F. At All Times"


def test_us_safe_handling_then_only_where_it_is_not_ready_to_eat() -> None:
    # U3 prosciutto ready to eat: none; U12 raw cured smoked bacon: the block, and cooking
    ready = asked(US, packing=AMERICAN)
    assert text(ready, "statements") == ""
    raw = asked(US, {"eaten": "cooked", "food_name": "Bacon", "treatments": ["smoked"]}, AMERICAN)
    assert text(raw, "safe_handling").startswith("Safe Handling Instructions")
    assert "cook" in text(raw, "cooking").casefold()


def test_us_allergens_then_the_nine_right_behind_the_list() -> None:
    # U4: sesame; celery is none of the nine
    uses = [pork(), {"name": "sesame", "weight": "5 g", "allergens": ["sesame"]}, {"name": "celery", "weight": "9 g"}]
    answer = asked(US, packing=AMERICAN, ingredients=uses)
    assert text(answer, "allergens") == "Contains: sesame seeds"


@pytest.mark.parametrize(
    ("name", "uses", "statements", "severity"),
    [
        ("Uncured bacon", [], ["No nitrate or nitrite added", NOT_PRESERVED], None),
        (
            "Uncured bacon",
            [{"name": "celery powder", "weight": "4 g", "allergens": ["celery"]}],
            [
                "No nitrate or nitrite added except for those naturally occurring in celery powder",
                NOT_PRESERVED,
            ],
            None,
        ),
        ("Bacon", [{"name": "celery powder", "weight": "4 g"}],
         ["No nitrate or nitrite added except for those naturally occurring in celery powder",
          NOT_PRESERVED], "warn"),
        ("Uncured bacon", [premix()], [], "stop"),
        ("Uncured bacon", [{"name": "Natriumnitrit", "weight": "0.1 g"}], [], "stop"),
        ("Bacon", [premix()], [], None),
        ("Bacon", [], [], "note"),
    ],
)  # fmt: skip
def test_us_uncured_then_its_statements(name: str, uses: list[Any], statements: list[str], severity: str | None) -> None:
    answer = asked(US, {"food_name": name}, AMERICAN, ingredients=[pork(), {"name": "salt", "weight": "25 g"}, *uses])
    assert [one["text"] for one in answer["particulars"] if one["element"] == "statements"] == statements
    finding = found(answer, "uncured")
    assert (finding and finding["severity"]) == severity


@pytest.mark.parametrize(
    ("measured", "says"),
    [
        # 9 CFR 317.17(c)(2) and (3), read: pH 4.6 or less, water activity 0.92 or less, brine of 10 percent or more
        ({"brine_percent": "10"}, False), ({"brine_percent": "9.99"}, True),
        ({"ph": "4.6"}, False), ({"ph": "4.61"}, True),
        ({"water_activity": "0.92"}, False), ({"water_activity": "0.921"}, True),
    ],
)  # fmt: skip
def test_us_not_preserved_when_what_was_measured_preserves_it_then_left_out(measured: dict[str, str], says: bool) -> None:
    packing = {**AMERICAN, "measured": measured}
    answer = asked(US, {"food_name": "Uncured ham"}, packing, ingredients=[pork(), {"name": "salt", "weight": "25 g"}])
    assert ("Not Preserved" in text(answer, "statements")) is says


@pytest.mark.parametrize(
    ("name", "cured", "total", "stopped"),
    [
        ("Country ham", 44, 70, True), ("Country ham", 45, 70, False), ("Country ham", 45, 69, True),  # U11
        ("Country-style shoulder", 25, 50, False), ("Country shoulder", 24, 50, True), ("Country cousin's neck", 1, 1, False),
    ],
)  # fmt: skip
def test_us_country_ham_then_its_days(name: str, cured: int, total: int, stopped: bool) -> None:
    answer = asked(US, {"food_name": name}, {**AMERICAN, "cured_days": cured, "total_days": total})
    assert ("us.labelling.country_ham" in stops(answer)) is stopped


@pytest.mark.parametrize(
    ("name", "kind", "protein", "stopped"),
    [
        ("Ham", "dry_cured", "18.3", False), ("Ham", "dry_cured", "18.0", False), ("Ham", "dry_cured", "17.9", True),  # U7
        ("Ham", "heat_treated", "20.4", True), ("Ham", "heat_treated", "20.5", False), ("Shoulder", "dry_cured", "17.5", False),
        ("Ham and water product - 12 % of weight is added ingredients", "dry_cured", "17.9", False),
    ],
)  # fmt: skip
def test_us_protein_fat_free_then_the_plain_name_or_another(name: str, kind: str, protein: str, stopped: bool) -> None:
    answer = asked(US, {"food_name": name, "class": kind}, {**AMERICAN, "measured": {"protein_fat_free": protein}})
    assert ("us.labelling.protein_fat_free" in stops(answer)) is stopped


def test_us_dates_then_month_day_year_and_words() -> None:
    # U8
    assert text(asked(US, packing=AMERICAN), "date_line") == "Best if Used By May 1, 2026"


def test_words_from_memory_then_told_for_what_is_printed() -> None:
    finding = next(one for one in asked(product={"inedible": ["casing"]})["findings"] if one["rule"] == "words.en.used")
    assert "'Casing not edible'" in finding["message"]


def test_us_block_and_legend_when_they_stand_on_the_stock_then_not_printed_again() -> None:
    raw = asked(US, {"eaten": "cooked", "on_stock": ["mark", "safe_handling"]}, AMERICAN)
    assert (text(raw, "safe_handling"), text(raw, "mark")) == ("", "")
    assert found(raw, "safe_handling") is None
    printed = found(asked(US, {"eaten": "cooked"}, AMERICAN), "safe_handling")
    assert printed is not None
    assert "its border, its pictures and a larger heading" in printed["message"]


@pytest.mark.parametrize("language", ["fr", "de", "it", "es"])
def test_us_language_other_than_english_then_refused_by_name(language: str) -> None:
    # 9 CFR 317.2(b): in English; Spanish alone only in Puerto Rico, and the words of the US are not here in Spanish
    message = "^language: expected en for the market us .*9 CFR 317.2\\(b\\)"
    with pytest.raises(InputError, match=message):
        asked(US, packing={**AMERICAN, "language": language})
    with pytest.raises(InputError, match=message):
        declaration({"market": "us", "language": language, "on": "2026-03-02", "finished_weight": "1 kg", "food_name": "x",
                     "ingredients": [pork()]})  # fmt: skip
