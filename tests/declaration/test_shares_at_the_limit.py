"""The shares that a list of ingredients turns on, in both markets that have them: just under, at, and just over.

Regulation (EU) 1169/2011, Annex VII B.7 (spices by their class: not over 2 %), Annex VIII 4(a) (grams where the figure exceeds
100 %) and Annex II.12 (sulphites: more than 10 mg/kg); the United Kingdom keeps the same text. All of 1000 g finished.
"""

from typing import Any

import pytest
from declaration_samples import request

from labelsvc.declaration.compute import declaration

MARKETS = pytest.mark.parametrize("market", ["eu", "gb"])


def listed(market: str, *uses: dict[str, Any], pork: str = "1100 g") -> dict[str, Any]:
    meat = {"name": "pork", "weight": pork, "category": "meat", "species": "pig"}
    return declaration(request([meat, *uses], finished_weight="1000 g", market=market))


@MARKETS
@pytest.mark.parametrize(
    ("second", "words"), [("9.999 g", "spices"), ("10 g", "spices"), ("10.001 g", "fennel seed, black pepper")]
)
def test_spices_when_together_over_2_percent_then_each_by_its_name(market: str, second: str, words: str) -> None:
    spices = [("black pepper", "10 g"), ("fennel seed", second)]
    answer = listed(market, *({"name": name, "weight": weight, "category": "spice"} for name, weight in spices))
    assert answer["ingredient_list"] == f"Ingredients: pork, {words}"


@MARKETS
@pytest.mark.parametrize(("pork", "form"), [("999.999 g", "percent"), ("1000 g", "percent"), ("1000.001 g", "grams_per_100g")])
def test_quantity_when_over_100_percent_then_in_grams(market: str, pork: str, form: str) -> None:
    uses = {"name": "salt", "weight": "30 g"}
    (quantity,) = listed(market, uses, pork=pork)["quantities"]
    assert quantity["form"] == form


@MARKETS
@pytest.mark.parametrize(("sulphur", "allergens"), [("9.99", []), ("10", []), ("10.01", ["sulphur dioxide and sulphites"])])
def test_sulphites_when_over_10_mg_per_kg_then_declared(market: str, sulphur: str, allergens: list[str]) -> None:
    wine = {"name": "wine", "weight": "1000 g", "so2_mg_per_kg": sulphur, "allergens": ["sulphites"]}
    assert listed(market, wine, pork="1000 g")["allergens"] == allergens
