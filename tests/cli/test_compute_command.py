"""``compute NAME``: one JSON object in, one out, no database; the published numbers through the command line."""

import json
from decimal import Decimal

import pytest
from by_hand import Hand

from labelsvc.cli.options import read_json

PER_100G = {"fat": "10", "saturates": "5", "carbohydrate": "2", "sugars": "1", "protein": "20", "sodium_mg": "400"}
SALT = [{"name": "salt", "weight": "1 kg"}]
SALT_ALONE = {"market": "eu", "language": "en", "on": "2026-01-05", "finished_weight": "1 kg", "ingredients": SALT}
LAW = {"market": "us", "class": "dry_cured", "on": "2026-01-05"}


@pytest.fixture
def nobody(tmp_path, monkeypatch):
    """A command line in an empty folder: computing leaves nothing behind in it."""
    monkeypatch.chdir(tmp_path)
    yield Hand(tmp_path / "none.db")
    assert list(tmp_path.iterdir()) == []


def test_compute_lot_code_when_typed_badly_then_code_kind_and_date(nobody: Hand):
    assert nobody.compute("lot-code", code="p261125-a4 m").json == {"code": "P261125A4M", "kind": "piece", "date": "2026-11-25"}


def test_compute_ingoing_when_published_then_its_ppm(nobody: Hand):
    # 965 g with 2.4 g of a 6.25 % cure: 155 ppm (curing_trade.md section 9, C3); exactly 150 mg / 0.965 kg = 155.4404.
    mix = [{"name": "salt", "weight": "32 g"}, {"name": "cure", "weight": "2.4 g", "sodium_nitrite_percent": "6.25"}]
    answer = nobody.compute("ingoing", **LAW, method="dry", green_weight="965 g", mix=mix).json
    assert answer["nitrite"]["ppm_as_sodium_nitrite"] == "155.4404"
    assert answer["nitrate"]["ppm_as_sodium_nitrate"] == "0"
    # Salt: 32 g and the rest of the premix, 2.25 g: 34.25 / 965 = 3.549 %.
    assert answer["salt_percent"][:5] == "3.549"


def test_compute_dose_when_150_ppm_are_wanted_then_2_4_g_and_the_caution(nobody: Hand):
    # 150 mg / 0.0625 = 2.4 g on 1 kg.
    answer = nobody.compute("dose", **LAW, green_weight="1 kg", targets={"nitrite_ppm": "150"},
                            premix={"name": "cure", "sodium_nitrite_percent": "6.25"}).json  # fmt: skip
    assert answer["weigh"] == [{"name": "cure", "weight": "2.4 g"}]
    assert answer["worst"] == {"nitrite_ppm_low": "150", "nitrite_ppm_high": "150"}
    assert any("poisonous in small amounts" in finding["message"] for finding in answer["findings"])


def test_compute_water_when_published_then_the_loin_of_the_series(nobody: Hand):
    # Loin, 30 % lost: salt 3.93, water phase salt 6.85, water activity 0.958 (curing_trade.md section 9, P1).
    answer = nobody.compute("water", water_percent="70.14", salt_percent="2.75", loss_percent="30").json
    assert answer["water_phase_salt_percent"][:4] == "6.85"
    assert answer["water_activity"][:5] == "0.958"
    assert answer["finished_salt_percent"][:4] == "3.92"  # 2.75 / 70 = 3.9286
    assert any("never a release test" in finding["message"] for finding in answer["findings"])


def test_compute_drying_when_weighed_once_then_null_and_why(nobody: Hand):
    answer = nobody.compute(
        "drying", hang_weight="1 kg", target_loss_percent="30", weighings=[{"day": 7, "weight": "900 g"}]
    ).json
    assert answer["ready_day"] is None
    assert answer["reason"].startswith("weigh the piece on at least two days")


def test_compute_drying_when_the_target_lies_between_two_weighings_then_the_day_does_too(nobody: Hand):
    weighings = [{"day": day, "weight": weight} for day, weight in ((10, "850 g"), (20, "760 g"), (30, "690 g"), (40, "640 g"))]
    ready = nobody.compute("drying", hang_weight="1 kg", target_loss_percent="30", weighings=weighings).json["ready_day"]
    low, likely, high = (Decimal(ready[name]) for name in ("low", "likely", "high"))
    assert 20 <= low <= likely <= high <= 30


def test_compute_declaration_when_a_neck_is_declared_then_list_allergen_and_quantity(nobody: Hand):
    answer = nobody.compute(
        "declaration", market="eu", language="en", on="2026-01-05", finished_weight="1 kg", food_name="Cured neck", ingredients=[
            {"name": "salt", "weight": "40 g"}, {"name": "pork", "weight": "1500 g", "category": "meat", "species": "pig"},
            {"name": "mustard seed", "weight": "10 g", "category": "spice", "allergens": ["mustard"]}]).json  # fmt: skip
    assert answer["ingredient_list"] == "Ingredients: pork, salt, mustard seed"
    assert "".join(run["text"] for run in answer["runs"]) == answer["ingredient_list"]
    assert [run["text"] for run in answer["runs"] if run["emphasis"]] == ["mustard"]
    assert answer["allergens"] == ["mustard"]
    assert answer["quantities"] == [{"name": "pork", "form": "grams_per_100g", "value": "150", "exact": "150"}]
    assert answer["quantity_statement"] == "Made with 150 g of pork per 100 g of finished product"


def test_compute_nutrition_when_one_ingredient_then_energy_by_the_factors_of_the_law(nobody: Hand):
    # kJ: 10 x 37 + 2 x 17 + 20 x 17 = 744; kcal: 10 x 9 + 2 x 4 + 20 x 4 = 178; salt: 0.4 g of sodium x 2.5 = 1.
    answer = nobody.compute("nutrition", market="eu", finished_weight="1 kg",
                            ingredients=[{"name": "x", "weight": "1 kg", "per_100g": PER_100G}]).json  # fmt: skip
    assert answer["per_100g"] == {"energy_kj": "744", "energy_kcal": "178", "fat": "10", "saturates": "5", "carbohydrate": "2",
                                  "sugars": "1", "protein": "20", "salt": "1"}  # fmt: skip
    assert answer["declared"]["energy_kj"] == "744 kJ"
    assert answer["declared"]["salt"] == "1.0 g"


LINES = {
    "lot-code": ({"code": "P261125A4M"}, {"code": "P261125A4N"}),
    "ingoing": (
        {**LAW, "method": "dry", "green_weight": "1 kg", "mix": [{"name": "salt", "weight": "20 g"}]},
        {**LAW, "method": "dry"},
    ),
    "water": (
        {"finished_water_percent": "50", "finished_salt_percent": "4"},
        {"finished_water_percent": "101", "finished_salt_percent": "4"},
    ),
    "dose": (
        {
            **LAW,
            "green_weight": "1 kg",
            "targets": {"nitrite_ppm": "150"},
            "premix": {"name": "c", "sodium_nitrite_percent": "6.25"},
        },
        {
            **LAW,
            "green_weight": "1 kg",
            "targets": {"nitrite_ppm": "-1"},
            "premix": {"name": "c", "sodium_nitrite_percent": "6.25"},
        },
    ),
    "declaration": ({**SALT_ALONE, "food_name": "Salt"}, {**SALT_ALONE, "food_name": "Salt", "market": "nowhere"}),
    "nutrition": (
        {"market": "eu", "finished_weight": "1 kg", "ingredients": [{"name": "x", "weight": "1 kg", "per_100g": PER_100G}]},
        {"market": "eu", "finished_weight": "0 g", "ingredients": [{"name": "x", "weight": "1 kg", "per_100g": PER_100G}]},
    ),
    "drying": ({"hang_weight": "1 kg", "target_loss_percent": "30", "weighings": []}, {"hang_weight": "1", "weighings": []}),
}


@pytest.mark.parametrize("name", LINES)
def test_compute_lines_when_one_line_is_bad_then_the_error_stands_in_its_place_and_exit_0(nobody: Hand, name: str):
    good, bad = (json.dumps(one) for one in LINES[name])
    answer = nobody.ask("compute", name, "--lines", given=f"{good}\n{bad}\n{good}\nnot JSON\n[1]\n{good}\n")
    lines = [json.loads(line) for line in answer.out.splitlines()]
    assert (answer.code, answer.err) == (0, "")
    assert [set(line) == {"error"} for line in lines] == [False, True, False, True, True, False]
    assert lines[0] == lines[2] == lines[5] == nobody.ask("compute", name, given=good).json
    for line in (lines[1], lines[3], lines[4]):
        assert set(line["error"]) == {"field", "expected", "got", "message"}


@pytest.mark.parametrize(("name", "request_text", "field"), [
    ("ingoing", '{"market": "us", "class": "dry_cured", "on": "2026-01-05", "method": "dry", "green_weight": 965.5, '
     '"mix": [{"name": "salt", "weight": "20 g"}]}', "green_weight"),
    ("water", '{"water_percent": 70.14, "salt_percent": "2.75", "loss_percent": "30"}', "water_percent"),
    ("lot-code", '{"code": 1.5}', "code"),
    ("lot-code", '{"kode": "P261125A4M"}', "kode"),
    ("lot-code", "{}", "code"),
    ("nothing", "{}", "name"),
    ("lot-code", '{"code": ' + "1" * 5000 + "}", "lot-code"),
    ("lot-code", "[" * 100_000, "lot-code"),
    ("lot-code", '{"code": "\\ud800"}', "lot-code"),
])  # fmt: skip
def test_compute_when_the_request_cannot_be_then_exit_2_and_the_error_object(nobody: Hand, name, request_text, field):
    answer = nobody.ask("compute", name, given=request_text)
    assert (answer.code, answer.error["field"]) == (2, field)
    assert answer.err == f"{answer.error['message']}\n"


def test_compute_when_a_database_is_named_then_it_is_left_alone(nobody: Hand):
    assert nobody.refused("compute", "lot-code", given='{"code": "P261125A4M"}').code == 0


def test_json_of_an_editor_that_writes_a_byte_order_mark_then_it_is_read():
    assert read_json('\ufeff{"code": "P261125A4M"}', "lot-code") == {"code": "P261125A4M"}
