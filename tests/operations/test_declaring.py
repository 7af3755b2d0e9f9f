"""What the label of packs says by the ledger: in the United States the weight that was weighed, in a language of that market."""

import pytest
from build import NOW, body

from labelsvc.errors import InputError
from labelsvc.operations.declaring import declared

AMERICAN = {"markets": ["us"], "class": "dry_cured"}


def released(shop, **product):
    shop.record("product", **{**body("product"), **AMERICAN, **product})
    piece = shop.hanging_piece("6 kg", salt="180 g", hung="5 kg", tare="0 g")
    shop.record("lift", lots=[piece], reason="salt only", by="Ada", at="2026-05-20") if shop.state(piece).is_held else None
    shop.release(piece, at="2026-05-20")
    return piece


def test_pack_in_ounces_then_its_label_says_what_was_weighed_and_never_more(shop):
    # 1 lb is 16 oz and 453.59237 g, which the ledger keeps as 453592 mg; 100 g are 3.527 oz; 453 g are 15.979 oz
    said = {
        "1 lb": "16",
        "16 oz": "16",
        "8 oz": "8",
        "12 oz": "12",
        "1 lb 4 oz": "20",
        "3.2 oz": "3.2",
        "100 g": "3.5",
        "453 g": "15.9",
    }
    _, *packs = shop.pack([dict(piece=released(shop), rest="2 kg")], *said, market="us", at="2026-05-21", yes=True)
    printed = [declared(shop.ledger, pack, now=NOW).particulars for pack in packs]
    texts = [one.text for particulars in printed for one in particulars if one.element == "net_quantity"]
    assert texts == [f"Net Wt. {ounces} oz" for ounces in said.values()]


def test_pack_for_the_us_in_another_language_then_refused_at_once_and_noted_where_it_is_known_already(shop):
    piece = released(shop, languages=["fr"])
    with pytest.raises(InputError, match=r"^language: expected en for the market us .*9 CFR 317\.2\(b\)\), got fr"):
        shop.pack([piece], "1 lb", market="us", language="fr", at="2026-05-21", yes=True)
    assert shop.pack([piece], "4900 g", market="us", language="en", at="2026-05-21", yes=True)
