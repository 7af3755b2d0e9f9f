"""The contract ``ingoing``: published amounts, methods, refusals."""

from decimal import Decimal
from itertools import permutations

import pytest
from published import REQUESTS, as_printed, case, cases

from labelsvc.curing.amounts import amounts_on
from labelsvc.curing.ingoing import Cure, compute_ingoing, ingoing_of, remarks_on_mix
from labelsvc.curing.mix import MixLine
from labelsvc.curing.salts import SODIUM_NITRITE
from labelsvc.errors import InputError
from labelsvc.units import Mass

PINK = {"name": "pink", "weight": "2.5 g", "sodium_nitrite_percent": "6.25"}


def ask(**fields):
    base = {"market": "us", "class": "dry_cured", "method": "dry", "on": "2026-01-05", "green_weight": "1 kg", "mix": [PINK]}
    return {**base, **fields}


def compute(published):
    return compute_ingoing(REQUESTS["ingoing"][1](published))


def figures(answer):
    return {
        "nitrite": answer["nitrite"]["ppm_as_sodium_nitrite"],
        "nitrate": answer["nitrate"]["ppm_as_sodium_nitrate"],
        "salt": answer["salt_percent"],
    }


def rules_in(answer):
    return {finding["rule"] for finding in answer["findings"]}


@pytest.mark.parametrize("one", cases("ingoing") + cases("cure"), ids=lambda one: one["id"])
def test_ingoing_when_published_then_gives_the_published_figures(one):
    found = figures(compute(one))
    for name, text in one["published"].items():
        assert as_printed(found[name], text, one.get("mode", "rounded")) == Decimal(text), name


@pytest.mark.parametrize("one", cases("mismatch"), ids=lambda one: one["id"])
def test_ingoing_when_a_published_figure_is_wrong_then_gives_the_right_one(one):
    found = figures(compute(one))["nitrite"]
    assert as_printed(found, one["correct"]) == Decimal(one["correct"])
    assert as_printed(found, one["published"]) != Decimal(one["published"])


def test_ingoing_when_nitrate_salt_is_potassium_then_is_told_as_both():
    # W26, the case that the nitrate is potassium nitrate: 0.10 g/kg * 84.994 / 101.102 = 84.07 as sodium nitrate, printed 84.1
    answer = compute_ingoing(ask(mix=[{"name": "nitrate", "weight": "0.10 g", "substance": "potassium nitrate"}]))
    assert answer["nitrate"]["ppm_as_potassium_nitrate"] == "100"
    assert Decimal(answer["nitrate"]["ppm_as_sodium_nitrate"]).quantize(Decimal("0.1")) == Decimal("84.1")
    assert Decimal(answer["nitrate"]["mg_per_kg_as_ion"]).quantize(Decimal("0.1")) == Decimal("61.3")
    assert answer["nitrite"] == {"ppm_as_sodium_nitrite": "0", "mg_per_kg_as_ion": "0"}


def test_ingoing_when_the_pickle_is_pumped_then_salt_follows_the_brine():
    # W18: (110 + 32 * 0.9412) / 1266 * 120 = 13.2814 g in 1200 g; the source printed 13.2816 from a rounded percentage
    grams = Decimal(figures(compute(case("ingoing", "salts-W18")))["salt"]) * 12
    assert abs(grams - Decimal("13.2816")) < Decimal("0.0015")


def test_ingoing_when_an_excess_cure_then_is_an_upper_bound_and_salt_is_unknown():
    answer = compute_ingoing(ask(method="dry_excess", mix=[PINK, {"name": "salt", "weight": "100 g"}]))
    assert answer["upper_bound"] is True
    assert answer["salt_percent"] is None
    assert answer["nitrite"]["ppm_as_sodium_nitrite"] == "156.25"
    assert "curing.upper_bound" in rules_in(answer)


def test_ingoing_when_mix_is_weighed_back_then_the_bound_is_narrower():
    # half of 102.5 g comes back: 156.25 / 2
    answer = compute_ingoing(ask(method="dry_excess", mix=[PINK, {"name": "salt", "weight": "100 g"}], leftover="51.25 g"))
    assert answer["nitrite"]["ppm_as_sodium_nitrite"] == "78.125"
    assert answer["upper_bound"] is True


def test_ingoing_when_more_mix_is_applied_than_listed_then_keeps_the_proportions():
    answer = compute_ingoing(ask(mix_applied="5 g"))
    assert answer["nitrite"]["ppm_as_sodium_nitrite"] == "312.5"


def test_ingoing_when_immersed_then_the_two_methods_differ():
    # 10 g nitrite in 10 kg of pickle on 5 kg: pick-up 4 % -> 40 ppm; equilibrium 10 / 15 kg -> 666.6667
    mix = [{"name": "nitrite", "weight": "10 g", "substance": "sodium nitrite"}]
    both = {"green_weight": "5 kg", "mix": mix, "pickle_weight": "10 kg", "class": "pickle_cured"}
    pickup = compute_ingoing(ask(**both, method="immersion_pickup", pickup_percent="4"))
    equilibrium = compute_ingoing(ask(**both, method="immersion_equilibrium"))
    assert pickup["nitrite"]["ppm_as_sodium_nitrite"] == "40"
    assert equilibrium["nitrite"]["ppm_as_sodium_nitrite"] == "666.6667"


def test_ingoing_when_the_order_of_lines_changes_then_is_the_same():
    lines = [PINK, {"name": "salt", "weight": "22 g"}, {"name": "nitrate", "weight": "0.3 g", "substance": "potassium nitrate"}]
    answers = [figures(compute_ingoing(ask(mix=list(order)))) for order in permutations(lines)]
    assert all(answer == answers[0] for answer in answers)


@pytest.mark.parametrize("times", [3, 7, 1000])
def test_ingoing_when_everything_is_scaled_then_is_the_same(times):
    scaled = {**PINK, "weight": f"{Decimal('2.5') * times} g"}
    assert figures(compute_ingoing(ask(mix=[scaled], green_weight=f"{times} kg"))) == figures(compute_ingoing(ask()))


def test_ingoing_when_weighed_in_ounces_then_is_the_same_as_in_grams():
    ounces = compute_ingoing(ask(green_weight="2 lb 4 oz", mix=[{**PINK, "weight": "0.09 oz"}]))
    # 0.09 oz in 36 oz is 0.25 %, as 2.5 g in 1 kg
    assert figures(ounces) == figures(compute_ingoing(ask()))


def test_ingoing_when_the_premix_has_no_salt_percent_then_counts_the_rest_and_says_so():
    answer = compute_ingoing(ask(mix=[{**PINK, "sodium_nitrate_percent": "4"}]))
    # 2.5 g * 89.75 % in 1 kg = 0.224375 %
    assert answer["salt_percent"] == "0.2244"
    assert "curing.rest_is_salt" in rules_in(answer)


def test_ingoing_when_the_salt_percent_is_given_then_uses_it():
    answer = compute_ingoing(ask(mix=[{**PINK, "salt_percent": "50"}]))
    assert answer["salt_percent"] == "0.125"
    assert "curing.rest_is_salt" not in rules_in(answer)


def test_ingoing_when_nothing_but_pepper_is_on_then_is_zero():
    answer = compute_ingoing(ask(mix=[{"name": "black pepper", "weight": "5 g"}]))
    assert answer["nitrite"]["ppm_as_sodium_nitrite"] == "0"
    assert answer["salt_percent"] == "0"


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"green_weight": 1000.0}, "green_weight"),
        ({"green_weight": "0 g"}, "green_weight"),
        ({"colour": "red"}, "colour"),
        ({"market": "fr"}, "market"),
        ({"class": "jerky"}, "class"),
        ({"method": "smoked"}, "method"),
        ({"on": "2026-02-30"}, "on"),
        ({"on": "2001-01-01", "market": "eu", "class": "heat_treated"}, "on"),
        ({"mix": []}, "mix"),
        ({"mix": "salt"}, "mix"),
        ({"mix": [{**PINK, "sodium_nitrite_percent": 6.25}]}, "mix[0].sodium_nitrite_percent"),
        ({"mix": [{**PINK, "sodium_nitrite_percent": "101"}]}, "mix[0].sodium_nitrite_percent"),
        ({"mix": [{**PINK, "salt_percent": "95"}]}, "mix[0]"),
        ({"mix": [PINK, {**PINK, "dye": "red"}]}, "mix[1].dye"),
        ({"mix": [{**PINK, "substance": "sodium nitrite"}]}, "mix[0].substance"),
        ({"mix": [{"name": "x", "weight": "1 g", "substance": "sand"}]}, "mix[0].substance"),
        ({"mix": [{"name": "cure"}]}, "mix[0].weight"),
        ({"mix": [{**PINK, "weight": "1 tsp"}]}, "mix[0].weight"),
        ({"mix": [{**PINK, "weight": "0 g"}]}, "mix"),
        ({"leftover": "3 g"}, "leftover"),
        ({"pump_percent": "10"}, "pump_percent"),
        ({"skin_on": "yes"}, "skin_on"),
        ({"method": "pumped", "pump_percent": "10"}, "pickle_weight"),
        ({"method": "pumped", "pickle_weight": "1 kg"}, "pump_percent"),
        ({"method": "immersion_equilibrium", "pickle_weight": "2 g"}, "pickle_weight"),
    ],
)
def test_ingoing_when_a_field_is_wrong_then_the_error_names_it(fields, field):
    with pytest.raises(InputError) as caught:
        compute_ingoing(ask(**fields))
    assert caught.value.field == field


def test_ingoing_when_a_volume_is_given_then_the_refusal_says_why():
    with pytest.raises(InputError) as caught:
        compute_ingoing(ask(mix=[{**PINK, "weight": "½ teaspoon"}]))
    assert caught.value.message == (
        "mix[0].weight: expected a weight from a scale, never a volume, got ½ teaspoon."
        " Two spoons of one size can differ by a quarter, and salt by shape more than twofold: put it on a scale"
    )


def test_ingoing_when_the_request_is_no_object_then_says_so():
    with pytest.raises(InputError, match=r"^ingoing: expected one JSON object, got \[\]$"):
        compute_ingoing([])


def test_amounts_on_when_components_come_from_the_ledger_then_resolves_name_and_number():
    components = [
        {"name": "salt", "percent": "93.75"},
        {"name": "preservative", "percent": "6.25", "additive": {"e_number": "E 250"}},
    ]
    line = MixLine.from_components("pink", Mass.parse("2.5 g"), components)
    answer = amounts_on(Mass.parse("1 kg"), [line]).as_json()
    assert answer["nitrite"]["ppm_as_sodium_nitrite"] == "156.25"
    # 2.5 g * 93.75 % in 1 kg
    assert answer["salt_percent"] == "0.2344"


def test_amounts_on_when_an_ingredient_has_no_components_then_its_name_tells():
    salt = MixLine.from_components("Salt", Mass.parse("25 g"))
    unknown = MixLine.from_components("Pink curing salt", Mass.parse("2 g"))
    assert amounts_on(Mass.parse("1 kg"), [salt]).as_json()["salt_percent"] == "2.5"
    assert unknown.is_unchecked
    assert not salt.is_unchecked


def test_amounts_on_when_the_rest_of_the_components_is_listed_then_it_is_not_counted_as_salt():
    components = [{"name": "sodium nitrite", "percent": "0.6"}, {"name": "sugar", "percent": "30"}]
    line = MixLine.from_components("complete cure", Mass.parse("100 g"), components)
    # 100 - 0.6 - 30 = 69.4 % of 100 g in 1 kg
    assert amounts_on(Mass.parse("1 kg"), [line]).as_json()["salt_percent"] == "6.94"


@pytest.mark.parametrize(
    ("component", "is_unchecked"),
    [
        ({"name": "sodium nitrite"}, True),
        ({"name": "preservative", "additive": {"e_number": "E252"}}, True),
        ({"name": "curing salt", "percent": "10"}, True),
        ({"name": "juniper"}, False),
        ({"name": "preservative", "percent": "1", "additive": {"e_number": "E250"}}, False),
    ],
)
def test_from_components_when_a_curing_salt_has_no_content_then_the_line_is_unchecked(component, is_unchecked):
    line = MixLine.from_components("rub", Mass.parse("10 g"), [{"name": "salt", "percent": "80"}, component])
    assert line.is_unchecked is is_unchecked
    assert [finding.severity for finding in remarks_on_mix([line])] == (["warn"] if is_unchecked else [])


@pytest.mark.parametrize("additive", [{"name": "sodium nitrite"}, {"name": "preservative", "e_number": "E 250"}])
def test_from_components_when_the_ingredient_is_an_additive_itself_then_it_counts_as_that(additive):
    line = MixLine.from_components("white powder", Mass.parse("5 g"), additive=additive)
    # 5 g of nitrite on 1 kg
    assert amounts_on(Mass.parse("1 kg"), [line]).as_json()["nitrite"]["ppm_as_sodium_nitrite"] == "5000"
    assert line.is_pure_nitrite


def test_from_components_when_a_part_has_parts_then_their_percents_are_multiplied():
    base = {"name": "base", "percent": "50", "components": [{"name": "sodium nitrite", "percent": "6"}]}
    line = MixLine.from_components("rub", Mass.parse("100 g"), [base, {"name": "pepper", "percent": "50"}])
    answer = amounts_on(Mass.parse("1 kg"), [line]).as_json()
    # 100 g * 50 % * 6 % = 3 g in 1 kg; the base's rest is salt: 100 g * 50 % * 94 % = 47 g
    assert (answer["nitrite"]["ppm_as_sodium_nitrite"], answer["salt_percent"]) == ("3000", "4.7")
    assert not line.is_unchecked


def test_from_components_when_a_part_of_a_part_has_no_percent_then_the_line_is_unchecked():
    base = {"name": "base", "percent": "50", "components": [{"name": "sodium nitrite"}]}
    assert MixLine.from_components("rub", Mass.parse("100 g"), [base]).is_unchecked


def test_amounts_on_when_nothing_is_on_then_all_is_zero():
    assert amounts_on(Mass.parse("1 kg"), []).as_json()["nitrite"]["ppm_as_sodium_nitrite"] == "0"


def test_amounts_on_when_there_is_no_green_weight_then_refuses():
    with pytest.raises(InputError, match="green_weight: expected a weight of more than 0 g, got 0 g"):
        amounts_on(Mass(Decimal(0)), [])


def test_ingoing_of_when_typed_then_agrees_with_the_contract():
    line = MixLine("pink", Mass.parse("2.5 g"), ((SODIUM_NITRITE, Decimal("6.25")),))
    ingoing = ingoing_of(Cure("dry", Mass.parse("1 kg"), (line,), line.weight))
    assert ingoing.as_salt(SODIUM_NITRITE) == Decimal("156.25")
    assert ingoing.salt_percent == 0


def test_mix_line_when_contents_are_over_100_percent_then_refuses():
    with pytest.raises(InputError, match="pink: expected contents of at most 100 percent together, got 120 percent"):
        MixLine("pink", Mass.parse("1 g"), ((SODIUM_NITRITE, Decimal(60)), (SODIUM_NITRITE, Decimal(60))))


@pytest.mark.parametrize("name", ["curing salt", "nitrite salt", "Pökelsalz", "sel nitrité"])
def test_ingoing_when_a_curing_salt_has_no_percent_then_says_what_is_missing_and_gives_no_number(name):
    asked = {"market": "us", "class": "dry_cured", "method": "dry", "on": "2026-01-05", "green_weight": "1 kg",
             "mix": [{"name": name, "weight": "25 g"}]}  # fmt: skip
    answer = compute_ingoing(asked)
    assert set(answer["nitrite"].values()) | set(answer["nitrate"].values()) | {answer["salt_percent"]} == {None}
    missing = next(one for one in answer["findings"] if one["rule"] == "curing.unchecked_content")
    assert (missing["severity"], missing["exceeded"]) == ("warn", False)
    assert missing["message"] == (
        f"{name!r} may carry nitrite or nitrate, but the percent of sodium nitrite or nitrate that its bag states is not entered:"
        " it is unchecked, not free of it; a piece it is on is held until it is"
    )
    assert not [one for one in answer["findings"] if one["rule"].startswith(("us.no_nitrite", "practice.no_nitrite"))]


@pytest.mark.parametrize(("grams", "exceeded", "severity"), [("10 g", False, "warn"), ("10.1 g", True, "stop")])
def test_ingoing_when_a_second_curing_salt_has_a_percent_then_what_is_known_can_stop_but_not_approve(grams, exceeded, severity):
    # 10 g of 6.25 % in 1 kg are 625 ppm, the limit of 9 CFR 424.21(c)
    asked = {"market": "us", "class": "dry_cured", "method": "dry", "on": "2026-01-05", "green_weight": "1 kg",
             "mix": [{"name": "curing salt", "weight": "25 g"},
                     {"name": "premix", "weight": grams, "sodium_nitrite_percent": "6.25"}]}  # fmt: skip
    found = next(one for one in compute_ingoing(asked)["findings"] if one["rule"] == "us.nitrite.dry_cured")
    assert (found["exceeded"], found["severity"]) == (exceeded, severity)
