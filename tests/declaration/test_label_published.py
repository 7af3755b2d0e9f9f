"""The published cases of whole labels, each through ``compute label``."""

from __future__ import annotations

from typing import Any

import published
import pytest

from labelsvc.declaration.compute import label


def said(answer: dict[str, Any], element: str) -> str:
    return next((one["text"] for one in answer["particulars"] if one["element"] == element), "")


@pytest.mark.parametrize("case", published.cases("label"), ids=lambda case: case["id"])
def test_label_when_published_then_it_says_and_stops_just_that(case: dict[str, Any]) -> None:
    answer = label(published.REQUESTS["label"][1](case))
    assert {element: said(answer, element) for element in case.get("says", {})} == case.get("says", {})
    assert [element for element, start in case.get("says_begin", {}).items() if not said(answer, element).startswith(start)] == []
    assert [element for element in case.get("silent", ()) if said(answer, element)] == []
    assert {element: answer["smallest_mm"][element] for element in case.get("least_mm", {})} == case.get("least_mm", {})
    rules = {one["rule"] for one in answer["findings"]}
    assert set(case.get("found", ())) <= rules
    assert not rules & set(case.get("not_found", ()))
    stopped = sorted(one["rule"] for one in answer["findings"] if one["severity"] == "stop" and one["exceeded"])
    assert stopped == case.get("stops", [])


@pytest.mark.parametrize(("nominal", "grams"), published.cases("short_weight")[0]["grams"].items())
def test_short_weight_when_published_then_rounded_up(nominal: str, grams: str) -> None:
    answer = label(published.REQUESTS["label"][1]({"title": "FertigPackV", "packing": {"weight": f"{nominal} g"}}))
    working = next(one["working"] for one in answer["particulars"] if one["element"] == "net_quantity")
    assert working.endswith(f"nominal weight {grams} g")
