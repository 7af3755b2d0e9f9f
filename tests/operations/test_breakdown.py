"""An animal that is cut up: what the pieces do not weigh stays with the animal, as the published yields say."""

from __future__ import annotations

from typing import Any

import published
import pytest
from build import Shop

from labelsvc.units import Mass


@pytest.mark.parametrize("case", published.cases("yield"), ids=lambda case: case["id"])
def test_cut_when_the_yields_are_published_then_the_animal_keeps_the_published_rest(case: dict[str, Any], shop: Shop) -> None:
    animal = shop.receive(weight=case["animal"])
    shop.cut(animal, *case["pieces"].values())
    left = shop.state(animal).milligrams
    assert abs(left - Mass.parse(case["left"]).milligrams) <= len(case["pieces"])  # each weight is whole milligrams
