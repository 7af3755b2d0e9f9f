"""The published cases of ``fixtures/vectors``: one file a source, one table a kind, and the request that asks each case."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping
from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[1] / "fixtures" / "vectors"
NOT_OF_THIS_SHAPE = ("gs1_check_digits.toml",)
Case = Mapping[str, Any]


@cache
def files() -> dict[str, dict[str, Any]]:
    """Return the content of each file of a source, by file name."""
    names = sorted(file.name for file in FOLDER.glob("*.toml") if file.name not in NOT_OF_THIS_SHAPE)
    return {name: tomllib.loads((FOLDER / name).read_text(encoding="utf-8"), parse_float=Decimal) for name in names}


def kinds() -> set[str]:
    """Return the kinds of case that stand in any file."""
    return {kind for content in files().values() for kind in content} - {"source"}


def cases(kind: str) -> list[dict[str, Any]]:
    """Return every case of a kind, each with what its file says of the source."""
    return [{**content["source"], **case} for content in files().values() for case in content.get(kind, ())]


def case(kind: str, case_id: str) -> dict[str, Any]:
    """Return one case."""
    return next(one for one in cases(kind) if one["id"] == case_id)


def as_printed(value: str | Decimal, published: str, mode: str = "rounded") -> Decimal:
    """Return a value at the precision of the published one, rounded as its source rounds."""
    return Decimal(value).quantize(Decimal(published), ROUND_DOWN if mode == "truncated" else ROUND_HALF_UP)


def _only(case: Case, *names: str) -> dict[str, Any]:
    return {name: case[name] for name in names if name in case}


def _cure(case: Case) -> dict[str, Any]:
    fields = ("green_weight", "mix", "mix_applied", "pickle_weight", "pump_percent", "pickup_percent")
    law = {"market": "us", "class": "comminuted", "on": "2026-01-05", "method": case.get("method", "dry")}
    return {**law, **_only(case, *fields)}


def _dose(case: Case) -> dict[str, Any]:
    premix = {"name": "cure", "sodium_nitrite_percent": "6.25"}
    base = {"market": "us", "class": "dry_cured", "on": "2026-01-05", "premix": premix}
    return {**base, **_only(case, "green_weight", "targets", "premix", "scale_step")}


def _declaration(case: Case) -> dict[str, Any]:
    asked = {"market": "eu", "language": "en", "on": "2026-03-02", "food_name": case.get("food_name", "Sausage")}
    return {**asked, "finished_weight": case["finished"], "ingredients": case["uses"]}


def _nutrition(case: Case) -> dict[str, Any]:
    food = [{"name": "food", "weight": "100 g", "per_100g": case.get("per_100g")}]
    return {"market": "eu", "finished_weight": case.get("finished", "100 g"), "ingredients": case.get("ingredients", food)}


def _raw_meat(case: Case) -> dict[str, Any]:
    pork = {"name": "pork", "weight": case["meat"], "category": "meat", "species": "pig"}
    return _declaration({"finished": case["finished"], "uses": [pork]})


def _loss(case: Case) -> dict[str, Any]:
    reached = [{"day": 30, "weight": case["weight"]}]
    return {"hang_weight": case["hang_weight"], "target_loss_percent": case.get("target_loss_percent", "1"), "weighings": reached}


def _series(case: Case) -> dict[str, Any]:
    weighings = [{"day": day, "weight": f"{grams} g"} for day, grams in zip(case["days"], case["grams"], strict=True)]
    return {**_only(case, "hang_weight", "target_loss_percent"), "weighings": weighings}


def _label(case: Case) -> dict[str, Any]:
    """A label that is whole but for what the case says; the cases of 9 CFR are of an inspected workshop in the US."""
    is_american = "CFR" in str(case["title"])
    workshop = {
        "name": "Tarn End",
        "address": "4 Tarn End, Exampleby",
        "timezone": "Europe/Dublin",
        "country": "IE",
        "standing": "registered",
    }
    american = {"country": "US", "standing": "us_inspected", "approval_number": "38000"} if is_american else {}
    product = {
        "name": "Pork neck", "species": "pig", "cut": "neck", "markets": ["eu"], "languages": ["en"], "shelf_life_days": 60,
        "storage": "Keep Refrigerated", "class": "non_heat_treated", "eaten": "as_is",
    }  # fmt: skip
    packing = {
        "market": "us" if is_american else "eu",
        "language": "en",
        "on": "2026-03-02",
        "weight": "120 g",
        "best_before": "2026-05-01",
    }
    pork = {"name": "pork", "weight": "1000 g", "category": "meat", "species": "pig"}
    return {
        "workshop": {**workshop, "standing": "registered", **american, **case.get("workshop", {})},
        "product": {**product, **case.get("product", {})},
        "packing": {**packing, **case.get("packing", {})},
        "finished_weight": case.get("finished", "650 g"),
        "ingredients": case.get("uses", [pork, {"name": "sodium nitrite", "weight": "0.1 g"}]),
    }


# What is asked of ``compute`` for each kind that it can answer.
REQUESTS: Mapping[str, tuple[str, Callable[[Case], dict[str, Any]]]] = {
    "ingoing": ("ingoing", _cure),
    "cure": ("ingoing", _cure),
    "mismatch": ("ingoing", _cure),
    "dose": ("dose", _dose),
    "weigh": ("dose", _dose),
    "water": ("water", lambda case: case["input"]),
    "quantity": ("declaration", _declaration),
    "raw_meat": ("declaration", _raw_meat),
    "nutrition": ("nutrition", _nutrition),
    "loss": ("drying", _loss),
    "target": ("drying", _loss),
    "series": ("drying", _series),
    "label": ("label", _label),
    "habit": ("habit", lambda case: case["ask"]),
    "intake": ("intake", lambda case: case["ask"]),
}


def requests() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Return the id, the computation's name and the request of each case that ``compute`` can answer."""
    for kind, (name, request) in REQUESTS.items():
        for one in cases(kind):
            yield one["id"], name, request(one)
