"""A label for each moment of the work, read back as an outsider reads it: the words of the PDF, the symbols of its raster."""

from pathlib import Path

import build
import pypdfium2
import pytest
from build import NOW

from labelsvc.declaration.words import LANGUAGES, words_of
from labelsvc.errors import BlockedError, ConflictError, DoesNotFitError, LayoutError
from labelsvc.labels.content import LabelContent
from labelsvc.labels.draw import lay_out
from labelsvc.labels.samples import sample_content
from labelsvc.labels.shelf import Shelf
from labelsvc.ledger import read
from labelsvc.operations import issuing, labelling
from labelsvc.operations.issuing import Issued, Stock

SHELF = Shelf(Path(__file__).parents[2] / "label_layouts")


def packed(shop, *weights: str) -> tuple[str, ...]:
    """Packs of a released piece that hangs with 700 g; what is not packed has dried."""
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    return shop.pack([piece], *weights, at="2026-05-21", yes=True)


def printed(issue, shop, what, **stock) -> Issued:
    return issue(shop.ledger, what, layouts=SHELF, now=NOW, who="Ada", stock=Stock(**stock))


def words(issued: Issued, page: int = 0) -> str:
    document = pypdfium2.PdfDocument(issued.pdf)
    try:
        return " ".join(document[page].get_textpage().get_text_range().split())
    finally:
        document.close()


def symbols(issued: Issued, label: int = 0) -> list[tuple[str, str]]:
    return [(identifier, data.decode()) for identifier, data in issued.proof.pages[label].symbols]


def labels(shop, code: str) -> list[dict]:
    with shop.ledger.reading() as connection:
        return labelling.issued_labels(connection, read.find(connection, code))


def test_tub_card_says_what_lies_in_it_and_what_was_put_on_it(shop):
    piece = shop.green_piece("1000 g")
    shop.cure([piece], (shop.ingredient(), "30 g"), tub="blue tub", planned_out="2026-03-20")
    card = printed(labelling.tub_card, shop, "Blue Tub")
    said = words(card)
    for part in (
        "blue tub",
        "OUT ON",
        "20 March",
        "In since 2026-03-02",
        "dry cure",
        "1 piece: Cured neck",
        "1000 g",
        "salt 30 g",
    ):
        assert part in said
    assert "poisonous" not in said  # only salt was put on it
    assert symbols(card) == [("]C0", "blue tub")]
    assert [label["layout"] for label in labels(shop, piece)] == ["tub_card_105x148"]


def test_tub_card_of_an_empty_tub_says_what_to_do(shop):
    with pytest.raises(ConflictError, match=r"^tub: expected a tub with something in cure, got red\. Put pieces in it first\.$"):
        printed(labelling.tub_card, shop, "red")


def test_container_label_says_the_strength_of_a_curing_salt_and_its_allergens(shop):
    parts = [{"name": "salt", "percent": "99.4"}, {"name": "sodium nitrite", "percent": "0.6"}]
    shop.record("ingredient", name="curing salt", components=parts, allergens=["celery"])
    lot = shop.ingredient("curing salt", supplier_lot="H-560")
    label = printed(labelling.container_label, shop, lot)
    for part in ("curing salt", "0.6 % sodium nitrite: poisonous, weigh it", "Allergens: celery", "From Meadow Farm, lot H-560"):
        assert part in words(label)
    assert symbols(label) == [("]C0", lot)]


@pytest.mark.parametrize(
    ("card", "said"),
    [
        ({"name": "saltpetre"}, "100 % potassium nitrate: poisonous, weigh it"),
        ({"name": "cure no. 1"}, "nitrite or nitrate, how much is not entered: poisonous, weigh it"),
        (
            {"name": "red powder", "components": [
                {"name": "salt", "percent": "99"},
                {"name": "sharp", "percent": "1", "additive": {"name": "x", "function": "preservative", "e_number": "E 250"}},
            ]},
            "1 % sodium nitrite: poisonous, weigh it",
        ),
        ({"name": "mustard seed"}, "Allergens: mustard"),
    ],
)  # fmt: skip
def test_container_label_warns_by_what_is_in_it_whatever_it_is_called(shop, card, said):
    shop.record("ingredient", **card)
    assert said in words(printed(labelling.container_label, shop, shop.ingredient(card["name"])))


def test_container_label_of_a_piece_is_refused(shop):
    with pytest.raises(ConflictError, match=r"^code: expected the lot of an ingredient, got .*, of kind piece$"):
        printed(labelling.container_label, shop, shop.green_piece())


def test_hold_tag_says_why_and_since_when_and_is_over_when_the_hold_is(shop):
    piece = shop.hanging_piece()
    with pytest.raises(ConflictError, match=r"^code: expected a lot that is held, .* Hold it first\.$"):
        printed(labelling.hold_tag, shop, piece)
    shop.record("hold", lots=[piece], reason="green mould on the cut", at="2026-04-02")
    tag = printed(labelling.hold_tag, shop, piece)
    for part in ("HELD", "Do not pack, sell, give away or eat", "Why: green mould on the cut", "Since 2026-04-02, Ada"):
        assert part in words(tag)
    assert symbols(tag) == [("]C0", piece)]
    assert labels(shop, piece)[0]["superseded"] is False
    shop.record("lift", lots=[piece], reason="it was flour", at="2026-04-03")
    assert labels(shop, piece)[0]["superseded"] is True


def test_counter_cards_say_allergens_and_the_loose_one_no_list(shop):
    shop.record("ingredient", name="salt", allergens=["milk"])
    lot, *_ = packed(shop, "300 g", "340 g")
    direct = printed(labelling.counter_card, shop, lot)
    assert "Ingredients: " in words(direct)
    loose = printed(labelling.counter_card, shop, lot, layout="loose_counter_card_105x74")
    assert "Ingredients" not in words(loose)
    assert "Contains milk" in words(loose)
    assert [label["superseded"] for label in labels(shop, lot)] == [False, False]


def test_sale_label_in_two_languages_needs_a_product_with_two(shop):
    lot, *_ = packed(shop, "300 g")
    two = "sale_label_two_languages_100x150"
    with pytest.raises(LayoutError, match=r"^layout: expected a product with labels in two languages, .*Add the language"):
        printed(labelling.sale_label, shop, lot, layout=two)
    shop.record("product", **{**build.body("product"), "languages": ["en", "de"]})
    label = printed(labelling.sale_label, shop, lot, layout=two)
    assert "Ingredients: " in words(label)
    assert "Zutaten: " in words(label)
    assert labels(shop, f"{lot}/1")[0]["superseded"] is False


@pytest.mark.parametrize(("face", "may"), [(None, False), ("10", False), ("9.9", True)])
def test_tiny_label_is_only_for_faces_under_ten_square_centimetres(shop, face, may):
    # Regulation (EU) 1169/2011 Art 16(2): under 10 cm2 name, allergens, net quantity and date are enough
    shop.record("ingredient", name="salt", allergens=["milk"])
    lot, *_ = packed(shop, "30 g")
    if face:
        shop.record("product", **{**build.body("product"), "face_cm2": face})
    if not may:
        with pytest.raises(LayoutError, match=r"^layout: expected a label with ingredients, .*only a tiny pack may do without"):
            printed(labelling.sale_label, shop, lot, layout="sale_label_tiny_38x25")
        return
    said = words(printed(labelling.sale_label, shop, lot, layout="sale_label_tiny_38x25"))
    assert "Contains milk" in said
    assert "30 g" in said
    assert "Ingredients" not in said


@pytest.mark.parametrize(("face", "least"), [("79.9", 0.9), ("80", 1.2), (None, 1.2)])
def test_small_pack_may_have_smaller_type_only_under_eighty_square_centimetres(shop, face, least):
    # Regulation (EU) 1169/2011 Art 13(3): 0.9 mm where the largest face is under 80 cm2
    if face:
        shop.record("product", **{**build.body("product"), "face_cm2": face})
    lot, *_ = packed(shop, "300 g")
    printed(labelling.sale_label, shop, lot)
    assert labels(shop, f"{lot}/1")[0]["content"]["minimum_x_height_mm"] == f"{least}"


def test_words_that_do_not_fit_are_answered_with_the_layout_that_would_do(shop):
    long = "Keep refrigerated and away from light, and once it is open eat it within a few days. " * 12
    shop.record("product", **{**build.body("product"), "storage": long.strip()})
    lot, *_ = packed(shop, "300 g")
    with pytest.raises(DoesNotFitError) as caught:
        printed(labelling.sale_label, shop, lot)
    assert caught.value.field.startswith("sale_label_70x100.toml ")
    assert "mm too high" in caught.value.got
    assert caught.value.hint == "It would fit: sale_label_100x150"
    assert printed(labelling.sale_label, shop, lot, layout="sale_label_100x150").lots == (f"{lot}/1",)


def test_words_that_fit_nowhere_say_so(shop):
    shop.record("product", **{**build.body("product"), "storage": "Keep refrigerated and away from light. " * 200})
    lot, *_ = packed(shop, "300 g")
    with pytest.raises(DoesNotFitError, match=r"None of the layouts at hand would hold it: shorten the words$"):
        printed(labelling.sale_label, shop, lot)


def test_layout_of_another_purpose_or_market_is_refused(shop):
    lot, *_ = packed(shop, "300 g")
    for other in ("hanging_tag_60x120", "sale_label_us_70x100"):
        with pytest.raises(LayoutError, match=rf"^layout: expected one of .*sale_label_70x100.*, got {other}$"):
            printed(labelling.sale_label, shop, lot, layout=other)


def test_sale_label_with_the_weight_in_its_number_for_the_till(shop):
    # 28, item 0042, check digit 8 of 00300 (3 weighted 5- is 4, to 10 it is 6, which 5- gives for 8), 00300 g; the whole from the
    # right 0 0 3 0 0 8 2 4 0 0 8 2 with 3 1 3 1 ...: 0+0+9+0+0+8+6+4+0+0+24+2 = 53, next ten 60: 7
    shop.record("product", **{**build.body("product"), "in_store": "de_weight", "in_store_item": 42})
    lot, *_ = packed(shop, "300 g")
    assert ("]E0", "2800428003007") in symbols(printed(labelling.sale_label, shop, lot))


def test_case_without_a_number_has_its_lot_in_plain_code_128_and_says_why(shop):
    lot, *_ = packed(shop, "300 g", "340 g")
    label = printed(labelling.case_label, shop, [lot])
    assert symbols(label) == [("]C0", lot)]
    assert "2 packs" in words(label)
    assert "640 g" in words(label)
    assert [finding.message for finding in label.findings][:1] == [
        "No GS1-128: Cured neck has no GTIN of a case, so the lot stands in a plain Code 128"
    ]


def test_case_of_varying_weight_has_number_weight_date_and_lot_in_two_symbols(shop):
    # 9 952123454321 and its check digit 6 (identification pack 9.7); 640 g are 000640 with three decimals of a kilogram.
    # In one symbol it would be 332 modules of 0.495 mm with 20 for the quiet zones: too wide (identification pack 1.3).
    shop.record("product", **{**build.body("product"), "case_gtin": "99521234543216"})
    lot, *_ = packed(shop, "300 g", "340 g")
    shop.sell(f"{lot}/1", f"{lot}/2", at="2026-05-22")
    label = printed(labelling.case_label, shop, [lot])
    date = shop.state(f"{lot}/1").best_before.strftime("%y%m%d")
    assert symbols(label) == sorted([("]C1", f"01995212345432163103000640{'15'}{date}"), ("]C1", f"10{lot}")])
    assert f"(01)99521234543216(3103)000640(15){date}" in words(label)
    assert f"(10){lot}" in words(label)
    assert "To Corner Shop" in words(label)
    assert any(finding.message.startswith("Two symbols instead of one: ") for finding in label.findings)


def test_case_of_fixed_weight_has_no_weight_in_its_symbol(shop):
    shop.record("product", **{**build.body("product"), "case_gtin": "19521234543210"})
    lot, *_ = packed(shop, "300 g", "300 g")
    label = printed(labelling.case_label, shop, [lot])
    date = shop.state(f"{lot}/1").best_before.strftime("%y%m%d")
    assert "".join(data for _, data in sorted(symbols(label))) == f"0119521234543210{'15'}{date}10{lot}"
    assert "2 packs of 300 g" in words(label)


def narrow_case(folder: Path, *changes: tuple[str, str]) -> Shelf:
    """A person's own case label of 100 mm, where two symbols hold less than number, weight and date."""
    text = (SHELF.shipped / "case_label_148x105.toml").read_text(encoding="utf-8")
    heads = [("[4, 3, 88, 7]", "[4, 3, 60, 7]"), ("[93, 3, 51, 7]", "[66, 3, 30, 7]")]
    columns = [("[4, 11, 70, 17]", "[4, 11, 50, 17]"), ("[75, 11, 69, 17]", "[56, 11, 40, 17]")]
    codes = [(", 144, ", ", 96, "), (", 140, ", ", 92, ")]
    for old, new in [("width_mm = 148", "width_mm = 100"), *heads, *columns, *codes, *changes]:
        assert old in text
        text = text.replace(old, new)
    (folder / "case_narrow.toml").write_text(text, encoding="utf-8")
    return Shelf(SHELF.shipped, folder)


def test_case_whose_data_two_symbols_do_not_hold_has_all_of_it_in_a_gs1_qr_code(shop, tmp_path):
    shop.record("product", **{**build.body("product"), "case_gtin": "99521234543216"})
    lot, *_ = packed(shop, "300 g", "340 g")
    shelf = narrow_case(tmp_path)
    label = labelling.case_label(shop.ledger, [lot], layouts=shelf, now=NOW, who="Ada", stock=Stock("case_narrow"))
    date = shop.state(f"{lot}/1").best_before.strftime("%y%m%d")
    assert symbols(label) == [("]Q3", f"01995212345432163103000640{'15'}{date}10{lot}")]
    assert f"(01)99521234543216(3103)000640(15){date}(10){lot}" in words(label)
    (said,) = [finding for finding in label.findings if finding.rule == "labels.case_code"]
    assert said.severity == "note"
    assert said.message.startswith("A GS1 QR code instead of bars: two GS1-128 symbols are not enough for (01)99521234543216")
    # least module in distribution 0.743 mm (GS1 General Specifications 5.12.3, from memory)
    assert label.proof.pages[0].module_mm["case_code"] >= 0.743


def test_case_whose_layout_has_no_room_for_a_matrix_has_its_lot_in_plain_code_128_and_is_told_so(shop, tmp_path):
    shop.record("product", **{**build.body("product"), "case_gtin": "99521234543216"})
    lot, *_ = packed(shop, "300 g", "340 g")
    shelf = narrow_case(tmp_path, ("matrix_module_mm = { smallest = 0.743, target = 0.743, largest = 1.5 }\n", ""))
    label = labelling.case_label(shop.ledger, [lot], layouts=shelf, now=NOW, who="Ada", stock=Stock("case_narrow"))
    assert symbols(label) == [("]C0", lot)]
    (said,) = [finding for finding in label.findings if finding.rule == "labels.case_code"]
    assert said.severity == "warn"
    assert said.message.endswith("this case needs a 2D symbol")


@pytest.mark.parametrize(
    ("languages", "country", "held", "none"),
    [
        (["de", "en"], "DE", "GESPERRT", "keine erfasst"),
        (["fr"], "FR", "RETENU", "aucun noté"),
        (["es"], "US", "HELD", "none recorded"),  # there what stands on a tag stands in the words of the law
    ],
)
def test_tag_says_its_state_in_the_language_of_the_labels(shop, languages, country, held, none):
    shop.record("workshop", **build.body("workshop", country=country))
    shop.record("product", **{**build.body("product"), "languages": languages, "target_loss_percent": "37.5"})
    piece = shop.hanging_piece()
    shop.record("hold", lots=[piece], reason="smell", at="2026-03-21")
    said = words(printed(labelling.tag, shop, piece))
    assert held in said
    assert none in said
    assert ("37,5" in said) is (country != "US")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", [labelling.TAG, labelling.NOT_FOR_SALE])
def test_words_of_a_tag_fit_in_every_language_with_the_longest_figures(language, name):
    layout, said = SHELF.layout(name), words_of(language)["tag"]
    worst = sample_content(layout, SHELF.shipped, "worst")
    for base in ("hang", "green"):
        basis = said["basis"].format(percent="37,5", base=said[base], weight="19960,5\u00a0g")
        for status in ("held", "not_for_sale"):
            told = {**worst.elements, "status": said[status], "stop_at_basis": basis}
            lay_out(layout, [LabelContent(told)], dots_per_mm=8, language=language)


def test_case_of_what_is_held_is_blocked(shop):
    lot, *_ = packed(shop, "300 g")
    shop.record("hold", lots=[lot], reason="smell", at="2026-05-22")
    with pytest.raises(BlockedError, match="held"):
        printed(labelling.case_label, shop, [lot])


def test_labels_on_a_sheet_begin_at_the_chosen_position(shop):
    lot, *_ = packed(shop, "300 g", "340 g")
    sheet = printed(labelling.sale_label, shop, lot, sheet="a4_8_of_70x100", start=8)
    document = pypdfium2.PdfDocument(sheet.pdf)
    assert len(document) == 2
    document.close()
    assert len(sheet.proof.pages) == 2
    assert sheet.proof.dots_per_mm == 23.622


def test_reprint_gives_the_label_as_it_was_and_keeps_why(shop):
    lot, *_ = packed(shop, "300 g")
    first = printed(labelling.sale_label, shop, lot)
    again = issuing.reprint(shop.ledger, first.fact, "torn", layouts=SHELF, now=NOW, who="Ada")
    assert again.pdf == first.pdf
    assert shop.fact_body(again.fact)["given"]["reason"] == "torn"
    assert labels(shop, f"{lot}/1")[0]["reprints"] == [{"day": NOW.date().isoformat(), "reason": "torn"}]


def test_void_label_counts_no_more(shop):
    lot, *_ = packed(shop, "300 g")
    first = printed(labelling.sale_label, shop, lot)
    issuing.void(shop.ledger, first.fact, "printed on the wrong roll", now=NOW, who="Ada")
    assert labels(shop, f"{lot}/1")[0]["void"] == "printed on the wrong roll"
    for act in (
        lambda: issuing.void(shop.ledger, first.fact, "again", now=NOW),
        lambda: issuing.reprint(shop.ledger, first.fact, "torn", layouts=SHELF, now=NOW),
    ):
        with pytest.raises(
            ConflictError, match=r"^label: expected a label that stands, got label \d+, which is void: printed on"
        ):
            act()
    second = printed(labelling.sale_label, shop, lot)
    assert second.fact > first.fact + 1
    assert second.pdf == first.pdf


def test_fact_that_is_no_label_is_neither_reprinted_nor_voided(shop):
    with pytest.raises(ConflictError, match=r"^label: expected the number of the fact that issued a label, got 1$"):
        issuing.void(shop.ledger, 1, "x", now=NOW)


def test_many_labels_come_in_documents_of_a_bounded_size_with_progress(shop, monkeypatch):
    monkeypatch.setattr(issuing, "CHUNK", 2)
    lot, *_ = packed(shop, "100 g", "100 g", "100 g", "100 g", "100 g")
    heard: list[int] = []
    documents = list(labelling.sale_labels(shop.ledger, lot, layouts=SHELF, now=NOW, who="Ada", progress=heard.append))
    assert [len(one.lots) for one in documents] == [2, 2, 1]
    assert heard == [2, 4, 5]


def test_next_document_goes_on_where_the_sheet_of_the_last_one_ended(shop):
    # eight positions: three labels from the seventh on end on the first of the next sheet, so the second one is free
    with_press = issuing.press(SHELF, Stock(sheet="a4_8_of_70x100", start=7), labelling.SALE_LABEL, "en", "eu")
    assert with_press.after(3).start == 2
    assert with_press.after(2).start == 1
    alone = issuing.press(SHELF, Stock(), labelling.SALE_LABEL, "en", "eu")
    assert alone.after(5) == alone


@pytest.mark.parametrize(("country", "least"), [("US", "9.525"), ("DE", None)])
def test_tag_of_what_is_not_for_sale_has_its_height_in_the_united_states(shop, country, least):
    # 9 CFR 317.16: at least 3/8 inch, which is 9.525 mm
    shop.record("workshop", **{**build.body("workshop"), "standing": "not for sale", "country": country})
    piece = shop.hanging_piece(hung="720 g")
    printed(labelling.tag, shop, piece)
    assert labels(shop, piece)[0]["content"]["smallest_mm"].get("not_for_sale") == least
