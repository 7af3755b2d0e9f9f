"""The layouts, invented contents of two of them, random ones for the proofs, and a small layout of one element."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from labelsvc.labels.content import LabelContent, Run
from labelsvc.labels.layout import Layout
from labelsvc.labels.layout_file import parse_layout, read_layout
from labelsvc.labels.shelf import Shelf

LAYOUTS = Path(__file__).parents[2] / "label_layouts"
SHELF = Shelf(LAYOUTS)
TAG = read_layout(LAYOUTS / "hanging_tag_60x120.toml")
SALE = read_layout(LAYOUTS / "sale_label_70x100.toml")

TAG_CONTENT = LabelContent(
    {
        "lot_code_day": "P261125",
        "lot_code_serial": "A4K",
        "product_name": "Beef bresaola, top side",
        "stop_at": "1043 g",
        "stop_at_basis": "on the scale, string included · 35\u00a0% of hang weight",
        "not_before": "14 Jan 2027",
        "allergens": "Contains: celery, mustard",
        "status": "NOT FOR SALE",
        "qr": "HTTPS://WORKSHOP.EXAMPLE.COM/L/P261125A4K",
        "code128": "P261125A4K",
        "source": "A261118 7M2",
        "cured_on": "12 Nov 2026",
        "strung_on": "25 Nov 2026",
        "tare": "18 g",
    }
)

# As long as such labels get: a name of 38 letters, 324 letters of ingredients, 86 of operator; emphasis inside brackets.
INGREDIENTS = (
    Run("Ingredients: pork (76 %), pork fat, sea salt, red wine ("),
    Run("sulphites", True),
    Run("), dextrose, lactose ("),
    Run("milk", True),
    Run("), spices ("),
    Run("mustard", True),
    Run(", "),
    Run("celery", True),
    Run(", black pepper, juniper, coriander), garlic, antioxidants: sodium ascorbate, extracts of rosemary; "),
    Run("preservatives: sodium nitrite (E\u00a0250), potassium nitrate (E\u00a0252); smoke flavouring; starter cultures ("),
    Run("milk", True),
    Run(")."),
)
SALE_CONTENT = LabelContent(
    {
        "food_name": "Dry-cured pork loin, sliced and smoked",
        "net_quantity": "120 g",
        "date_line": "Use by 24.03.2027",
        "ingredients": INGREDIENTS,
        "quantity_statement": "Prepared with 138 g of raw pork per 100 g of finished product.",
        "storage": "Keep refrigerated at 0 to 5 °C. Once opened, consume within 3 days.",
        "cooking": "Must be cooked thoroughly before eating: 70 °C in the middle for 2 minutes.",
        "statements": "Packaged in a protective atmosphere.",
        "operator": "Made by Example Curing Workshop Ltd, 12 Invented Lane, Sampleton, EX1 2MP, example.com",
        "lot_line": "Lot K261130 7QX",
        "ean13": "9521234543213",
        "qr": "https://example.com/01/09521234543213/10/K2611307QX",
    },
    smallest_mm={"net_quantity": Decimal(3)},
)

_LETTERS = "ABCDEFGHJKMNPQRTVWXYZ0123456789"


def with_elements(content: LabelContent, **elements: str | tuple[Run, ...]) -> LabelContent:
    """Return a content with some elements changed."""
    return replace(content, elements={**content.elements, **elements})


def ean13(body: str) -> str:
    """Return 12 digits with their check digit, by the textbook: odd places once, even places three times, up to the next ten."""
    total = sum(int(digit) for digit in body[0::2]) + 3 * sum(int(digit) for digit in body[1::2])
    return body + str((10 - total % 10) % 10)


def random_tag(chance: random.Random) -> LabelContent:
    """Return the tag of a code that was drawn by lot."""
    code = "P" + "".join(chance.choice("0123456789") for _ in range(6)) + "".join(chance.choice(_LETTERS) for _ in range(3))
    link = f"HTTPS://W{chance.randrange(10 ** chance.randrange(1, 9))}.EXAMPLE.COM/L/{code}"
    return with_elements(TAG_CONTENT, code128=code, qr=link, lot_code_day=code[:7], lot_code_serial=code[7:])


def random_sale(chance: random.Random) -> LabelContent:
    """Return the sale label of a number, lot and serial that were drawn by lot."""
    number = ean13("952" + "".join(chance.choice("0123456789") for _ in range(9)))
    lot = "".join(chance.choice(_LETTERS) for _ in range(chance.randrange(6, 13)))
    link = f"https://example.com/01/0{number}/10/{lot}?21={chance.randrange(10**6)}"
    return with_elements(SALE_CONTENT, ean13=number, qr=link, lot_line=f"Lot {lot}")


def one_element(lines: str, *, box: str = "[2, 2, 56, 26]", head: str = "") -> Layout:
    """Return a layout of 60 x 30 mm with the one element ``it``."""
    text = f"""
title = "One element"
purpose = "sale_label"
width_mm = 60
height_mm = 30
edge_margin_mm = 1
dots_per_mm = 8
minimum_x_height_mm = 0.9
{head}
[elements.it]
priority = 1
box_mm = {box}
{lines}
"""
    return parse_layout(text, "one.toml")
