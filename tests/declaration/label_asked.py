"""Requests of ``compute label`` that are valid by default, and what to look for in the answers."""

from __future__ import annotations

from typing import Any

from declaration_samples import pork, premix

from labelsvc.declaration.compute import label

WORKSHOP = {
    "name": "Tarn End", "address": "4 Tarn End, Exampleby", "timezone": "Europe/Dublin", "country": "IE",
    "standing": "registered",
}  # fmt: skip
PRODUCT = {
    "name": "Pork neck", "food_name": "Dry-cured pork neck", "species": "pig", "cut": "neck", "markets": ["eu"],
    "languages": ["en"], "shelf_life_days": 60, "storage": "refrigerated", "class": "non_heat_treated", "eaten": "as_is",
}  # fmt: skip
PACKING = {"market": "eu", "language": "en", "on": "2026-03-02", "weight": "120 g", "best_before": "2026-05-01", "lot": "K1"}


def asked(
    workshop: dict[str, Any] | None = None,
    product: dict[str, Any] | None = None,
    packing: dict[str, Any] | None = None,
    **more: Any,
) -> dict[str, Any]:
    uses = [pork("1000 g"), {"name": "salt", "weight": "25 g"}, premix()]
    request = {"ingredients": uses, "finished_weight": "650 g", **more}
    return label(
        {
            "workshop": {**WORKSHOP, **(workshop or {})},
            "product": {**PRODUCT, **(product or {})},
            "packing": {**PACKING, **(packing or {})},
            **request,
        }
    )


def text(answer: dict[str, Any], element: str) -> str:
    return ". ".join(one["text"] for one in answer["particulars"] if one["element"] == element)


def found(answer: dict[str, Any], rule: str) -> dict[str, Any] | None:
    return next((one for one in answer["findings"] if one["rule"].endswith(f".{rule}")), None)


def stops(answer: dict[str, Any]) -> list[str]:
    return [one["rule"] for one in answer["findings"] if one["severity"] == "stop" and one["exceeded"]]


GB = {"country": "GB", "timezone": "Europe/London"}
US = {"country": "US", "timezone": "America/New_York", "standing": "us_inspected", "approval_number": "38000"}
AMERICAN = {"market": "us", "country": "US"}
