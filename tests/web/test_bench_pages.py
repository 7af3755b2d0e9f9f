"""Each moment of the work as a page: where a scan leads, what a press records, and how errors and questions come back."""

import re

import pytest

from labelsvc.operations.looking import cards
from labelsvc.operations.tracing import trace


def codes(page, letter):
    return list(dict.fromkeys(re.findall(rf"{letter}[0-9]{{6}}[0-9A-Z]{{3}}", page.text)))


# --- who ------------------------------------------------------------------------------------------------------------
def test_a_page_when_nobody_said_who_then_it_asks_and_leads_back(stranger):
    page = stranger.get("/weigh?piece=X")
    assert "Who is there?" in page.words
    assert "Ada" in page.words  # seen in the facts
    assert stranger.post("/who", name="Ada", onward="/cut", follow=False).where == "/cut"


@pytest.mark.parametrize("elsewhere", ["https://example.com/", "//example.com", "/\\example.com"])
def test_who_when_led_elsewhere_then_today(stranger, elsewhere):
    assert stranger.post("/who", name="Ada", onward=elsewhere, follow=False).where == "/"


def test_who_when_no_name_then_it_says_so(stranger):
    page = stranger.post("/who", other="  ")
    assert page.status == 400
    assert "type one" in page.words


def test_every_fact_when_recorded_on_a_page_then_it_says_who(bench):
    piece = bench.shop.hanging_piece()
    bench.post("/weigh", piece=piece, weight="900")
    assert "weighed 900 g, 880 g Ada" in bench.get(f"/lot/{piece}").words


# --- empty states ---------------------------------------------------------------------------------------------------
def test_today_when_nothing_is_recorded_then_it_says_where_to_begin(empty):
    assert "Begin with the workshop" in empty.get("/").words


@pytest.mark.parametrize("page", ["goods-in", "cut", "cure", "string", "weigh", "pack", "sell", "complaint", "recall", "cards"])
def test_a_page_when_nothing_is_recorded_then_it_opens(empty, page):
    assert empty.get(f"/{page}").status == 200


def test_the_workshop_when_written_down_then_every_page_bears_its_name(empty):
    says = dict(name="Thistle Yard", address="2 Thistle Yard", country="FR", timezone="Europe/Paris", standing="registered")
    empty.post("/cards/workshop", **says)
    assert "<title>Today · Thistle Yard</title>" in empty.get("/").text


def test_a_pack_lot_when_shown_then_its_grams_are_those_in_its_packs(bench):
    lot, one, _ = bench.packed("330 g", "340 g")
    assert "670 g in 2 of 2 packs" in bench.get(f"/lot/{lot}").words.replace("\u00a0", " ")
    bench.shop.sell(one)
    assert "340 g in 1 of 2 packs" in bench.get(f"/lot/{lot}").words.replace("\u00a0", " ")
    assert bench.client.get(f"/api/v1/lots/{lot}").get_json()["lot"]["grams_here"] == "340"


@pytest.mark.parametrize(("species", "is_asked"), [("duck", False), ("pig", True), ("cattle", False), ("mirefowl", True)])
def test_trichinella_when_the_animal_cannot_carry_it_then_nothing_is_said(bench, species, is_asked):
    animal = bench.shop.receive(name="half a one", species=species)
    assert ("Trichinella" in bench.get(f"/lot/{animal}").words) is is_asked


# --- the scan box ---------------------------------------------------------------------------------------------------
def test_a_scan_when_of_each_lot_then_its_next_step_opens(bench):
    shop = bench.shop
    animal = shop.receive(identity="FR 12 345")
    green = shop.cut(animal, "1000 g")[0]
    cured = shop.cut(animal, "900 g")[0]
    shop.cure([cured], (shop.ingredient(), "25 g"), tub="tub 2")
    hanging = shop.hanging_piece()
    ready = shop.hanging_piece()
    shop.weigh(ready, "700 g", at="2026-05-01")  # 680 g net of 980 g: 30.6 % of the 30 % wanted
    lot, *packs = bench.packed("330 g", "340 g")
    leads = {
        "fr-12345": "/cut", green: "/cure", cured: "/string", "TUB 2": "/string", hanging: "/weigh", ready: "/release",
        lot: "/sell", packs[1]: "/sell", f"https://labels.example.com/lot/{lot}/2": "/sell",
        f"https://elsewhere.example.com/01/09521234543213/10/{lot}/21/2": "/sell", f"]C1{hanging}": "/weigh",
    }  # fmt: skip
    assert {text: bench.get(f"/go?code={text}").where.partition("?")[0] for text in leads} == leads


def test_a_scan_when_a_released_piece_then_packing_opens(bench):
    piece = bench.shop.hanging_piece()
    bench.shop.release(piece, at="2026-05-20")
    assert bench.get(f"/go?code={piece.lower()}").where == f"/pack?from={piece}"


def test_a_scan_when_held_or_sold_then_its_record_opens(bench):
    _, *packs = bench.packed("330 g", "340 g")
    bench.shop.sell(packs[0])
    bench.shop.record("hold", lots=[packs[1]], reason="mould")
    assert bench.get(f"/go?code={packs[0]}").where == f"/lot/{packs[0]}"
    assert "HELD: mould" in bench.get(f"/go?code={packs[1]}").words


@pytest.mark.parametrize(("text", "status"), [("P26030203X", 400), ("soap", 400), ("", 200)])
def test_a_scan_when_it_is_no_code_then_it_says_so(bench, text, status):
    assert bench.get(f"/go?code={text}").status == status


# --- moments --------------------------------------------------------------------------------------------------------
def test_goods_in_when_a_bare_number_then_kilograms(bench):
    page = bench.post("/goods-in", kind="animal", supplier="Meadow Farm", name="half pig", species="pig", weight="42,6")
    animal = codes(page, "A")[0]
    assert bench.shop.state(animal).made_milligrams == 42_600_000
    assert "42600" not in page.where


def test_goods_in_when_an_ingredient_then_the_label_of_its_container_is_one_press_away(bench):
    page = bench.post("/goods-in", kind="ingredient", supplier="Meadow Farm", name="salt", weight="5")
    (code,) = codes(page, "N")
    assert f'href="/labels/{code}"' in page.text
    assert "Container label" in bench.get(f"/labels/{code}").text


def test_goods_in_when_the_supplier_is_missing_then_it_stands_beside_it(bench):
    page = bench.post("/goods-in", kind="animal", name="half pig", species="pig", weight="42.6")
    assert page.status == 400
    assert "This must be filled in." in page.beside("supplier")
    assert 'value="42.6"' in page.text


def test_cut_when_a_row_is_empty_then_it_is_left_out_and_errors_keep_their_row(bench):
    animal = bench.shop.receive()
    rows = dict(pieces__0__product="Cured neck", pieces__0__weight="1200", pieces__1__product="Cured neck", pieces__1__weight="",
                pieces__2__product="Cured neck", pieces__2__weight="0")  # fmt: skip
    page = bench.post("/cut", from_=animal, **rows)
    assert page.status == 400
    assert "above 0 g" in page.beside("pieces-2-weight")
    assert "problem" not in page.beside("pieces-0-weight")
    page = bench.post("/cut", from_=animal, **{**rows, "pieces__2__weight": "1 lb 4 oz"})
    assert len(codes(page, "P")) == 2
    assert page.where.startswith("/cure?pieces=P")


def test_cut_when_one_more_row_is_asked_without_script_then_what_was_typed_stays(bench):
    page = bench.post("/cut", from_="A", pieces__0__weight="1200", more="pieces")
    assert 'name="pieces-3-weight"' in page.text
    assert 'value="1200"' in page.text


def test_cure_when_over_the_limit_then_it_says_so_at_once(bench):
    piece = bench.shop.green_piece()
    salt = bench.shop.ingredient("curing salt")
    page = bench.post("/cure/tub", tub="blue", pieces=piece, method="dry", mix__0__lot=salt, mix__0__weight="100")
    assert 'class="told stop"' in page.text  # 600 mg of nitrite on a kilogram


def test_string_when_recorded_then_the_tag_is_there_and_the_room_is_remembered(bench):
    shop = bench.shop
    one, two = shop.cut(shop.receive(), "1000 g", "900 g")
    shop.cure([one, two], (shop.ingredient(), "55 g"), tub="blue")
    page = bench.post(f"/string?piece={one}", piece=one, weight="1010", place="room 1", tare="20")
    assert f"The tag of {one} is ready" in page.words
    assert bench.client.get(f"/tag/{one}.pdf").data.startswith(b"%PDF")
    assert 'value="room 1"' in bench.get(f"/string?piece={two}").text


def test_weigh_when_unusual_then_it_asks_once_and_a_yes_counts_only_for_what_was_asked(bench):
    piece = bench.shop.hanging_piece()
    page = bench.post("/weigh", piece=piece, weight="350")
    assert page.status == 400
    assert "Is that right?" in page.beside("weight")
    asked = re.search(r'name="asked" value="([0-9a-f]+)"', page.text).group(1)
    other = bench.post("/weigh", piece=piece, weight="340", confirmed="yes", asked=asked)
    assert "Is that right?" in other.words
    assert "350 g on the scale" in bench.post("/weigh", piece=piece, weight="350", confirmed="yes", asked=asked).words


def test_weigh_when_pressed_twice_then_it_is_recorded_once(bench):
    piece = bench.shop.hanging_piece()
    before = bench.shop.facts()
    for _ in range(2):
        assert bench.post("/weigh", piece=piece, weight="900", once="the same form").status == 200
    assert bench.shop.facts() == before + 1


def test_weigh_when_the_target_is_reached_then_the_release_is_asked(bench):
    piece = bench.shop.hanging_piece()
    assert bench.post("/weigh", piece=piece, weight="700").where == f"/release?lot={piece}"


def test_weigh_when_on_an_earlier_day_then_it_stands_there(bench):
    piece = bench.shop.hanging_piece()
    bench.post("/weigh", piece=piece, weight="900", at="2026-05-11")  # fourteen days back
    assert "2026-05-11 weighed 900 g" in bench.get(f"/lot/{piece}").words
    page = bench.post("/weigh", piece=piece, weight="890", at="2026-05-10")
    assert "Is that right? Expected a day of the last 14 days; got 2026-05-10, 15 days ago." in page.beside("at")
    asked = re.search(r'name="asked" value="([0-9a-f]+)"', page.text)[1]
    bench.post("/weigh", piece=piece, weight="890", at="2026-05-10", asked=asked, confirmed="yes")
    assert "2026-05-10 weighed 890 g" in bench.get(f"/lot/{piece}").words


def test_a_form_when_its_token_is_foreign_then_nothing_is_recorded(bench):
    piece = bench.shop.hanging_piece()
    before = bench.shop.facts()
    assert bench.post("/weigh", piece=piece, weight="900", token="another").status == 400
    assert bench.shop.facts() == before


# --- packing --------------------------------------------------------------------------------------------------------
def released(shop):
    piece = shop.hanging_piece(hung="720 g")
    shop.release(piece, at="2026-05-20")
    return piece


def first_pack(bench, piece, weight="120", **more):
    fields = dict(first=weight, market="eu", language="en", form="prepacked", session="neck", **more)
    return bench.post("/pack", from_=piece, **fields)


def test_packing_when_pack_by_pack_then_one_lot_grows_and_nothing_dries_meanwhile(bench):
    piece = released(bench.shop)
    page = first_pack(bench, piece)
    lot = codes(page, "K")[0]
    page = bench.post(page.where, weight="130")
    assert f"{lot}/2" in page.text
    assert bench.shop.state(piece).milligrams == 450_000  # 700 g - 120 g - 130 g
    assert "drying" not in trace(bench.shop.ledger, lot)["balance"]["out"]
    desk = page.where.partition("?")[0]
    page = bench.post(f"{desk}/end", from__0__piece=piece, from__0__rest="440")
    assert "The session is ended: 2 packs" in page.words
    assert bench.shop.state(piece).milligrams == 440_000


def test_packing_when_equal_packs_then_each_has_its_label(bench):
    page = first_pack(bench, released(bench.shop), "3 x 120")
    lot = codes(page, "K")[0]
    assert page.words.count("Open the label of") == 3
    assert bench.client.get(f"/sale-label/{lot}/3.pdf").data.startswith(b"%PDF")


def test_packing_when_the_next_piece_then_market_and_form_are_remembered(bench):
    first_pack(bench, released(bench.shop), slicer="slicer 1")
    assert 'value="slicer 1"' in bench.get(f"/pack?from={released(bench.shop)}").text


def test_packing_when_more_than_there_is_then_it_stands_beside_the_weight(bench):
    page = first_pack(bench, released(bench.shop), "900")
    assert page.status == 400
    assert "at most the 700 g" in page.beside("first")


def test_packing_when_not_released_then_the_pack_is_there_without_a_label(bench):
    piece = bench.shop.hanging_piece(hung="720 g")
    page = first_pack(bench, piece)
    assert "has no label" in page.words
    assert "not released" in page.words


def test_packing_when_nothing_is_left_but_much_is_missing_then_it_asks(bench):
    piece = released(bench.shop)
    desk = first_pack(bench, piece).where.partition("?")[0]
    page = bench.post(f"{desk}/end", from__0__piece=piece)
    assert page.status == 400
    assert "is something left of a piece?" in page.words
    assert "Yes, record it" in page.words


def test_packing_when_it_dried_since_the_last_weighing_then_labels_that_changed_are_named(bench):
    piece = released(bench.shop)
    desk = first_pack(bench, piece, "2 x 200").where.partition("?")[0]
    page = bench.post(f"{desk}/end", from__0__piece=piece, from__0__rest="200")  # 100 g of 700 g dried: more meat in 100 g
    assert "2 labels would say something else now" in page.words


def test_packing_when_the_piece_is_sold_whole_then_its_weight_stands_there(bench):
    piece = released(bench.shop)
    assert 'value="700 g"' in bench.get(f"/pack?from={piece}&whole=yes").text


# --- selling and after ----------------------------------------------------------------------------------------------
def test_sell_when_no_customer_then_over_the_counter(bench):
    lot, *_ = bench.packed("330 g", "340 g")
    bench.post(f"/sale-label/{lot}")
    assert "to the public" in bench.post("/sell", packs=f"{lot}/1\n{lot}/2").words
    assert bench.shop.state(f"{lot}/2").holder == "public"


def test_sell_when_held_then_nothing_overrides_it(bench):
    lot, *_ = bench.packed("330 g", "340 g")
    bench.post("/hold", lots=lot, reason="mould")
    page = bench.post("/sell", packs=f"{lot}/1")
    assert page.status == 422
    assert "Yes, record it" not in page.words


def test_a_pack_when_given_or_back_or_thrown_away_then_its_record_says_so(bench):
    _, one, two = bench.packed("330 g", "340 g")
    given = dict(packs=one, to="the fire brigade")
    asked = bench.post("/give", **given)
    assert "with a label that was printed here" in asked.words
    assert "given to the fire brigade" in bench.yes(asked, "/give", **given).words
    bench.post("/sell", packs=two, customer="Corner Shop")  # of the same packing: asked once
    assert "HELD: returned by Corner Shop" in bench.post("/return", packs=two, from_="Corner Shop").words
    assert "destroyed" in bench.post("/dispose", lot=two, how="destroyed").words


def test_a_complaint_when_scanned_then_the_first_screen_says_what_and_who(bench):
    _, one, _ = bench.packed("330 g", "340 g")
    bench.shop.sell(one)
    page = bench.get(f"/complaint?code={one}")
    for words in ("Cured neck", "pig 12", "Corner Shop", "The same printed lot", "Hold these 2"):
        assert words in page.words
    bench.post(f"/complaint?code={one}", code=one, text="It tastes of soap.", contact="555")
    assert "complaint: It tastes of soap." in bench.get(f"/lot/{one}").words


def test_a_complaint_when_there_is_no_code_then_product_shop_and_day_lead_to_it(bench):
    _, one, _ = bench.packed("330 g", "340 g")
    bench.shop.sell(one, at="2026-05-22")
    found = bench.get("/complaint?product=cured+neck&name=Corner+Shop&day=2026-05-24")
    assert codes(found, "K")
    assert "Nothing was sold like that" in bench.get("/complaint?product=Cured+neck&day=2026-06-24").words
    assert bench.get("/complaint?day=yesterday").status == 400


def test_recall_when_a_reason_is_chosen_then_it_sets_and_says_its_reach(bench):
    lot, one, _ = bench.packed("330 g", "340 g")
    bench.shop.sell(one)
    assert "A germ at slicing" in bench.get("/recall").words
    page = bench.get(f"/recall?reason=slicing&lot={lot}")
    assert "everything of the same packing session, or on the same slicer before its next cleaning" in page.words
    assert "Corner Shop" in page.words
    assert "reach=room" in page.text


def test_recall_when_the_code_is_wrong_then_it_stands_beside_it(bench):
    page = bench.get("/recall?reason=slicing&lot=soap")
    assert page.status == 400
    assert "soap" in page.beside("lot")


def test_hold_and_lift_when_pressed_then_the_record_says_who_decided(bench):
    piece = bench.shop.hanging_piece()
    assert "HELD: power cut" in bench.post("/hold", lots=piece, reason="power cut").words
    assert "hold lifted: it stayed cold" in bench.post("/lift", lots=piece, reason="it stayed cold").words


def test_a_card_when_written_anew_then_the_form_shows_how_it_stands(bench):
    page = bench.get("/cards/product?name=Cured+neck")
    assert 'value="non_heat_treated"' in page.text
    bench.post("/cards/supplier", name="Meadow Farm", contact="555", business="true")
    assert 'value="555"' in bench.get("/cards/supplier?name=Meadow+Farm").text
    assert bench.get("/cards/soap").status == 404


def test_a_card_when_written_anew_then_what_the_form_does_not_show_stays(bench):
    bench.shop.record("ingredient", name="wine", fat_percent="1")
    bench.post("/cards/ingredient", name="wine", category="water")
    assert cards(bench.shop.ledger, "ingredient")[-1] == {"name": "wine", "category": "water", "fat_percent": "1"}


def test_a_premix_when_its_parts_are_typed_then_they_are_nested_as_the_fact_has_them(bench):
    parts = {"components__0__name": "salt", "components__0__percent": "99,4", "components__1__name": "sodium nitrite",
             "components__1__percent": "0,6", "components__1__additive.e_number": "E 250",
             "components__1__additive.name": "sodium nitrite", "components__1__additive.function": "preservative"}  # fmt: skip
    bench.post("/cards/ingredient", name="premix", **parts)
    stands = next(one for one in cards(bench.shop.ledger, "ingredient") if one["name"] == "premix")
    assert [part["percent"] for part in stands["components"]] == ["99.4", "0.6"]
    assert stands["components"][1]["additive"]["e_number"] == "E 250"


def test_a_page_that_is_none_when_asked_for_then_it_says_what_to_do(bench):
    page = bench.get("/nowhere")
    assert page.status == 404
    assert "Scan or type a code" in page.words


# --- corrections ----------------------------------------------------------------------------------------------------
def test_a_fact_when_put_right_then_both_stay_and_the_weight_is_worked_out_anew(bench):
    piece = bench.shop.hanging_piece()
    bench.shop.weigh(piece, "800 g", at="2026-05-01")
    fact = bench.shop.last.fact
    assert 'value="800 g"' in bench.get(f"/fact/{fact}?code={piece}").text
    page = bench.post(f"/fact/{fact}?code={piece}", piece=piece, weight="880", reason="misread the scale")
    assert f"Fact {fact} is put right" in page.words
    assert "put right by fact" in page.words
    assert bench.shop.state(piece).milligrams == 860_000


def test_a_fact_when_put_right_to_a_day_long_gone_then_it_is_asked_once_and_the_answer_stays(bench):
    piece = bench.shop.hanging_piece()
    bench.shop.weigh(piece, "800 g", at="2026-05-20")
    given = dict(piece=piece, weight="800 g", reason="wrong day", at="2026-05-02")
    page = bench.post(f"/fact/{bench.shop.last.fact}", **given)
    assert "Is that right? Expected a day of the last 14 days; got 2026-05-02, 23 days ago." in page.beside("at")
    assert 'value="wrong day"' in page.text
    bench.yes(page, f"/fact/{bench.shop.last.fact}", **given)
    answered = bench.shop.fact_body(bench.shop.facts())["confirmed"]
    assert answered == ["instead.at: expected a day of the last 14 days, got 2026-05-02, 23 days ago"]


def test_a_fact_when_put_right_without_a_reason_then_it_is_asked_beside_it(bench):
    piece = bench.shop.hanging_piece()
    bench.shop.weigh(piece, "800 g", at="2026-05-01")
    page = bench.post(f"/fact/{bench.shop.last.fact}", piece=piece, weight="880")
    assert page.status == 400
    assert "must be filled in" in page.beside("reason")


def test_a_fact_when_put_right_then_what_its_form_does_not_show_stays(bench):
    animal = bench.shop.receive(carcass_number="K 7")
    fact = bench.shop.last.fact
    fields = dict(
        supplier="Meadow Farm", name="pig 12", species="pig", weight="81", known_as="group", **{"trichinella.status": "tested"}
    )
    bench.post(f"/fact/{fact}", **fields, reason="weighed again")
    assert bench.shop.state(animal).made_milligrams == 81_000_000
    assert bench.get("/go?code=k7").where == f"/cut?from={animal}"


def test_a_fact_when_taken_back_then_it_never_happened(bench):
    piece = bench.shop.hanging_piece()
    bench.shop.weigh(piece, "800 g", at="2026-05-01")
    fact = bench.shop.last.fact
    page = bench.post(f"/fact/{fact}/take-back?code={piece}", reason="wrong piece")
    assert f"Is that right? Expected a fact of the last 14 days; got fact {fact} of 2026-05-01, 24 days ago." in page.words
    assert "is taken back" in bench.yes(page, f"/fact/{fact}/take-back?code={piece}", reason="wrong piece").words
    assert bench.shop.state(piece).milligrams == 980_000
    assert bench.get(f"/fact/{fact}").status == 409
    bench.shop.release(piece, at="2026-05-20")
    assert "take it back, and record it anew" in bench.get(f"/fact/{bench.shop.last.fact}").words


def test_frozen_pig_when_taken_in_and_put_right_then_its_figures_are_kept_and_count(bench):
    figures = {"temperature_c": "-23", "thickness_cm": "15", "start": "2026-02-01T08:00", "end": "2026-02-11T08:00"}
    frozen = {f"trichinella.{name}": value for name, value in figures.items()}
    pig = dict(supplier="Meadow Farm", name="half pig", species="pig", weight="40", known_as="not known")
    taken = bench.post("/goods-in?kind=animal", **pig, **frozen, **{"trichinella.status": "frozen"})
    assert 'value="-23"' in bench.get(f"/fact/{bench.shop.facts()}").text
    assert (
        bench.shop.state(taken.where.removeprefix("/lot/").partition("?")[0]).trichinella == "frozen"
    )  # 240 hours at -23 °C for up to 15 cm (Regulation (EU) 2015/1375, Annex II)


def test_cut_when_nothing_is_named_then_it_offers_what_is_here_or_says_what_comes_first(bench):
    assert "Nothing is here to be cut. Take an animal or a part in first." in bench.get("/cut").words
    animal = bench.shop.receive()
    page = bench.get("/cut")
    assert "Nothing is here to be cut" not in page.words
    assert f'href="/cut?from={animal}"' in page.text
