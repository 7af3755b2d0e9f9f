"""Requests that are valid by default."""

from __future__ import annotations

from typing import Any


def pork(weight: str = "1000 g", **more: Any) -> dict[str, Any]:
    return {"name": "pork", "weight": weight, "category": "meat", "species": "pig", **more}


def premix(weight: str = "2.5 g", **more: Any) -> dict[str, Any]:
    agent = {"e_number": "E250", "name": "sodium nitrite", "function": "preservative"}
    parts = [{"name": "salt", "percent": "93.75"}, {"name": "sodium nitrite", "percent": "6.25", "additive": agent}]
    return {"name": "curing salt", "weight": weight, "components": parts, **more}


def neck() -> list[dict[str, Any]]:
    """An invented dry-cured neck: 1000 g of pork dried to 650 g."""
    return [
        pork(),
        {"name": "salt", "weight": "25 g"},
        premix(),
        {"name": "sugar", "weight": "5 g"},
        {"name": "black pepper", "weight": "4 g", "category": "spice"},
        {"name": "mustard", "weight": "2 g", "category": "spice", "allergens": ["mustard"]},
    ]


def request(ingredients: list[dict[str, Any]], **changes: Any) -> dict[str, Any]:
    return {
        "market": "eu",
        "language": "en",
        "on": "2026-03-02",
        "finished_weight": "650 g",
        "food_name": "Dry-cured neck",
        "ingredients": ingredients,
        **changes,
    }


def emphasised(answer: dict[str, Any]) -> list[str]:
    return [run["text"] for run in answer["runs"] if run["emphasis"]]
