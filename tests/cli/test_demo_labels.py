"""The demo's PDFs, read back as an outsider would: what the symbols and the words say is what the ledger says."""

import datetime as dt

import pytest
from by_hand import Told
from curing_story import cards_by_commands, day, goods_by_commands
from printed import closed_up, symbols, words

GTINS = {"Pork neck": "9521234544012", "Beef round": "9521234544029"}
# The duck has no GTIN: a number of the shop's own, 04 and the number of the fact that first described it (the 16th), then the
# check digit: 6 x 3 + 1 x 1 + 4 x 3 = 31, so 9.
DUCK_NUMBER = "0400000000169"
HOST = "https://labels.example.com"
MONTHS = "January February March April May June July August September October November December".split()  # noqa: SIM905
OPERATOR = "Tarn End Curing Room, Mill Loft, 4 Tarn End, Exampleby, Ireland"
NECK_SAYS = "Ingredients: pork, salt, sugar, black pepper, mustard seed, preservative (sodium nitrite)"
READY = "Ready to eat"
DUCK_SAYS = "Ingredients: duck, salt, black pepper, preservative (sodium nitrite)"


def _said(day: dt.date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def _link(product: str, lot: str, unit: str = "") -> str:
    if product in GTINS:
        return f"{HOST}/01/0{GTINS[product]}/10/{lot}" + (f"/21/{unit}" if unit else "")
    return f"{HOST}/lot/{lot}" + (f"/{unit}" if unit else "")


@pytest.fixture(scope="module")
def hanging(demo: Told) -> list[dict[str, str]]:
    """The pieces that hang, by the ledger."""
    return list(demo.hand("list", "--state", "hanging", "--json").json["lots"])


def test_demo_when_built_then_a_tag_for_each_hanging_piece_and_labels_for_what_may_be_sold(demo: Told, hanging):
    codes = demo.codes
    # The second neck has a rest of 410 g that still hangs.
    assert {lot["code"] for lot in hanging} == {*codes["necks"][1:], *codes["rounds"], *codes["more_breasts"]}
    expected = {f"tag-{lot['code']}.pdf" for lot in hanging}
    expected |= {f"sale-labels-{codes[name][0]}.pdf" for name in ("neck_packs", "duck_packs")}
    assert {file.name for file in demo.folder.iterdir()} == expected
    assert sorted(demo.said["files"]) == sorted(str(file) for file in demo.folder.iterdir())


@pytest.mark.parametrize("dots", [8, 12])
def test_demo_tags_when_rasterised_in_one_bit_then_every_symbol_says_what_it_should(demo: Told, hanging, dots: int):
    for lot in hanging:
        page = symbols(demo.folder / f"tag-{lot['code']}.pdf", dots)
        assert page == [{"Code 128": lot["code"], "QR Code": _link(lot["name"], lot["code"])}]


@pytest.mark.parametrize("dots", [8, 12])
def test_tag_when_printed_for_a_printer_of_so_many_dots_then_its_symbols_decode_at_them(demo: Told, hanging, tmp_path, dots: int):
    for lot in hanging:
        file = tmp_path / f"{lot['code']}.pdf"
        demo.hand("tag", lot["code"], "--output", str(file), "--dots-per-mm", str(dots))
        assert symbols(file, dots) == [{"Code 128": lot["code"], "QR Code": _link(lot["name"], lot["code"])}]


@pytest.mark.parametrize("dots", [8, 12])
def test_demo_sale_labels_when_rasterised_in_one_bit_then_every_symbol_says_what_it_should(demo: Told, dots: int):
    printed = (("neck_packs", "Pork neck", GTINS["Pork neck"], 5), ("duck_packs", "Duck breast", DUCK_NUMBER, 2))
    for name, product, number, packs in printed:
        lot = demo.codes[name][0]
        assert symbols(demo.folder / f"sale-labels-{lot}.pdf", dots) == [
            {"EAN-13": number, "QR Code": _link(product, lot, str(unit))} for unit in range(1, packs + 1)
        ]


def test_demo_sale_labels_when_read_then_the_words_are_what_the_ledger_says(demo: Told):
    packed = {"neck_packs": -47, "duck_packs": -92}
    today = dt.date.fromisoformat(demo.hand.sealed()[-1]["body"]["day"])
    told = {
        "neck_packs": ("Dry-cured pork neck", [120, 121, 119, 120, 120], NECK_SAYS, "Once open, eat within 5 days.", READY),
        "duck_packs": ("Cured duck breast", [258, 254], DUCK_SAYS, "", "Cook thoroughly before eating"),
    }
    for name, (food, weights, ingredients, opened, eating) in told.items():
        lot = demo.codes[name][0]
        best_before = today + dt.timedelta(days=packed[name] + 150)
        for page, weight in zip(words(demo.folder / f"sale-labels-{lot}.pdf"), weights, strict=True):
            for said in (food, f"{weight} g", f"best before {_said(best_before)}", f"L {lot}", OPERATOR, ingredients, eating,
                         f"Keep refrigerated at or below 5 °C. {opened}"):  # fmt: skip
                assert closed_up(said) in page


def test_demo_sale_labels_when_the_quantity_of_meat_is_declared_then_it_is_the_sum_by_hand(demo: Told):
    # Neck: 1480 g of meat in 971 g; 12 g trimmed: 1480 x 959 / 971 = 1461.7 g, in 955 g after 4 g dried: 153.06 per 100 g.
    # Duck: 382 + 375 = 757 g of meat in 512 g of packs: 147.85 per 100 g.
    for name, animal, grams in (("neck_packs", "pork", 153), ("duck_packs", "duck", 148)):
        said = closed_up(f"Made with {grams} g of {animal} per 100 g of finished product")
        assert all(said in page for page in words(demo.folder / f"sale-labels-{demo.codes[name][0]}.pdf"))


def test_demo_tags_when_read_then_target_basis_and_not_before_are_the_sums_by_hand(demo: Told):
    # Third neck: 1292 - 15 = 1277 g; 35 % off: 830.05, with its string 845 g. First round: 2152 - 15 = 2137; 38 % off: 1324.94,
    # with its string 1340 g. Second round: 2081 - 15 = 2066: 1280.92, 1296 g. The late ducks: 388 - 4 = 384: 268.8, 273 g;
    # 375 - 4 = 371: 259.7, 264 g. Not before: 45, 40 and 10 days after they were strung, 101 and 9 days ago.
    today = dt.date.fromisoformat(demo.hand.sealed()[-1]["body"]["day"])
    codes = demo.codes
    expected = {
        codes["necks"][2]: ("Pork neck", 845, "35 % off the hang weight of 1277 g", -101 + 45, "mustard"),
        codes["rounds"][0]: ("Beef round", 1340, "38 % off the hang weight of 2137 g", -101 + 40, "none recorded"),
        codes["rounds"][1]: ("Beef round", 1296, "38 % off the hang weight of 2066 g", -101 + 40, "none recorded"),
        codes["more_breasts"][0]: ("Duck breast", 273, "30 % off the hang weight of 384 g", -9 + 10, "mustard"),
        codes["more_breasts"][1]: ("Duck breast", 264, "30 % off the hang weight of 371 g", -9 + 10, "mustard"),
    }
    for code, (product, stop_at, basis, not_before, allergens) in expected.items():
        page = words(demo.folder / f"tag-{code}.pdf")[0]
        for said in (code[:7], code[7:], product, f"{stop_at} g", basis, _said(today + dt.timedelta(days=not_before)), allergens):
            assert closed_up(said) in page


def test_demo_when_a_green_weight_was_corrected_then_the_first_label_stays_and_is_superseded(demo: Told):
    # Before: the second neck's 1329 g of meat, the first one's 543.36 g: 151 g per 100 g; with 1392 g it would be 155 g.
    label = demo.hand("lot", demo.codes["mixed_packs"][1], "--json").json["labels"][0]
    assert label["superseded"] is True
    assert label["content"]["elements"]["quantity_statement"] == "Made with 151\u00a0g of pork per 100\u00a0g of finished product"


def test_sale_label_when_printed_twice_then_the_same_bytes_and_no_second_fact(demo: Told, tmp_path):
    lot = demo.codes["neck_packs"][0]
    facts = demo.hand.facts()
    again = demo.hand("sale-label", lot, "--output", str(tmp_path / "again.pdf"), "--json").json
    assert (tmp_path / "again.pdf").read_bytes() == (demo.folder / f"sale-labels-{lot}.pdf").read_bytes()
    assert demo.hand.facts() == facts
    assert again["codes"] == demo.codes["neck_packs"][1:]


@pytest.mark.parametrize(("weight", "shown"), [("1000 g", "1 kg"), ("1050 g", "1.05 kg"), ("2375 g", "2.375 kg")])
def test_sale_label_when_the_pack_weighs_a_kilogram_or_more_then_six_millimetre_figures_fit(hand, tmp_path, weight, shown):
    cards_by_commands(hand)
    pig, _ = goods_by_commands(hand)
    piece = hand.typed(f'cut {pig} --piece "Pork neck=4 kg" --at {day(99)}')[0]
    hand("string", piece, "4 kg", "--place", "Room 1", "--yes", "--at", day(98))
    hand("release", piece, "--by", "Ada", "--at", day(30))
    pack = ["pack", "--from", f"{piece}=1 kg", "--pack", weight, "--session", "s", "--market", "eu", "--language", "en"]
    code = hand(*pack, "--form", "prepacked", "--yes", "--at", day(29), "--json").json["codes"][0]
    hand("sale-label", code, "--output", str(tmp_path / "label.pdf"))
    assert closed_up(shown) in closed_up(words(tmp_path / "label.pdf")[0])
