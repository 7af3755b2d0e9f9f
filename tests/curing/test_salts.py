"""Substances, against an independent table of atomic weights and against published roundings."""

from decimal import Decimal

import periodictable
import pytest
from published import as_printed, cases

from labelsvc.curing.salts import (
    NITRATE_ION,
    NITRITE_ION,
    POTASSIUM_NITRATE,
    PURE,
    SALT,
    SODIUM_NITRATE,
    SODIUM_NITRITE,
    expressed_as,
    find_substance,
    molar_mass,
    sounds_like_curing_salt,
)
from labelsvc.errors import InputError

BY_NAME = {substance.name: substance for substance in (*PURE, NITRITE_ION, NITRATE_ION)}


@pytest.mark.parametrize("substance", BY_NAME.values(), ids=BY_NAME)
def test_molar_mass_when_compared_with_an_independent_table_then_agrees(substance):
    formula = "".join(f"{symbol}{count}" for symbol, count in substance.atoms)
    # the judge uses unabridged weights (22.98976928 for sodium); five figures are what an abridged weight promises
    assert float(molar_mass(substance)) == pytest.approx(periodictable.formula(formula).mass, rel=1e-5)


@pytest.mark.parametrize("case", cases("expressed"), ids=lambda case: case["id"])
def test_expressed_as_when_published_then_gives_the_published_figure(case):
    value = expressed_as(Decimal(case["amount"]), BY_NAME[case["from"]], BY_NAME[case["to"]])
    assert as_printed(value, case["published"], case.get("mode", "rounded")) == Decimal(case["published"])


def test_expressed_as_when_nitrate_is_asked_for_as_nitrite_then_refuses():
    with pytest.raises(InputError) as caught:
        expressed_as(Decimal(100), SODIUM_NITRATE, SODIUM_NITRITE)
    assert caught.value.message == "substance: expected a nitrite to express as sodium nitrite, got sodium nitrate"


def test_expressed_as_when_there_and_back_then_is_the_same():
    ion = expressed_as(Decimal(100), POTASSIUM_NITRATE, NITRATE_ION)
    assert abs(expressed_as(ion, NITRATE_ION, POTASSIUM_NITRATE) - 100) < Decimal("1e-20")


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("E250", "sodium nitrite"),
        ("e 249", "potassium nitrite"),
        ("E-251", "sodium nitrate"),
        ("E252", "potassium nitrate"),
        ("Sodium  Nitrite", "sodium nitrite"),
        ("saltpetre", "potassium nitrate"),
        ("Salt", "sodium chloride"),
        ("Natriumnitrit", "sodium nitrite"),
    ],
)
def test_find_substance_when_named_or_numbered_then_finds_it(name, expected):
    substance = find_substance(name)
    assert substance is not None
    assert substance.name == expected


@pytest.mark.parametrize("name", ["sugar", "E300x", "E999", "black pepper", "curing salt"])
def test_find_substance_when_not_a_pure_salt_then_is_none(name):
    assert find_substance(name) is None


@pytest.mark.parametrize(
    "name",
    ["Nitritpökelsalz", "Pink salt no. 1", "Cure no. 1", "cure #2", "quick cure", "curing blend", "pink", "blend with E 250"],
)
def test_sounds_like_curing_salt_when_the_name_promises_nitrite_then_is_true(name):
    assert sounds_like_curing_salt(name)


@pytest.mark.parametrize("name", ["sea salt", "pink peppercorns", "cured ham", "E 300"])
def test_sounds_like_curing_salt_when_the_name_promises_nothing_then_is_false(name):
    assert not sounds_like_curing_salt(name)


def test_common_salt_has_no_e_number():
    assert SALT.e_number == ""
