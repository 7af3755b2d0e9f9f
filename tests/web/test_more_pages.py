"""The further moments as pages: tubs, splitting, looking after, incidents, markers printed ahead, labels printed anew."""

import re

import pypdfium2
import pytest
import zxingcpp

from labelsvc.operations import looking
from labelsvc.web.actions import MORE


def codes(page, letter):
    return list(dict.fromkeys(re.findall(rf"{letter}[0-9]{{6}}[0-9A-Z]{{3}}", page.words.replace(" ", ""))))


def in_tub(shop):
    """Two pieces in the blue tub and the salt they lie in."""
    one, two = shop.cut(shop.receive(), "1200 g", "1000 g")
    salt = shop.ingredient()
    shop.cure([one, two], (salt, "55 g"), tub="blue tub")
    return one, two, salt


@pytest.mark.parametrize(
    "page",
    ["more", "salt-again", "coat", "take-out", "turn", "split", "move", "check", "check?what=laboratory", "count", "clean",
     "incident", "incident?by=lots", "markers", "rules", "rules?market=us&about=", "figure", "habits", "habits/equal_volumes",
     "habits/by_the_spoon", "habits/days_in_cure", "habits/weeks_hanging"],
)  # fmt: skip
def test_a_further_page_when_nothing_is_recorded_then_it_opens(empty, page):
    assert empty.get(f"/{page}").status == 200


def test_more_when_opened_then_every_page_it_names_opens(bench):
    links = re.findall(r'<li><a href="([^"]+)"', bench.get("/more").text)
    assert len(links) == len(MORE)
    assert {bench.get(link).status for link in links} == {200}


# --- in the tub -----------------------------------------------------------------------------------------------------
def test_salt_again_when_for_a_tub_then_its_pieces_stand_there_and_the_sum_counts(bench):
    one, two, salt = in_tub(bench.shop)
    page = bench.get("/salt-again?tub=blue+tub")
    assert f"{one}\n{two}" in page.text
    bench.post("/salt-again", pieces=f"{one}\n{two}", mix__0__lot=salt, mix__0__weight="22")
    assert bench.shop.state(one).put_on_milligrams == 42_000  # 12/22 of 55 g + 22 g


def test_salt_again_when_over_the_limit_then_it_says_so_at_once(bench):
    one, two, _ = in_tub(bench.shop)
    curing = bench.shop.ingredient("curing salt")
    page = bench.post("/salt-again", pieces=f"{one}\n{two}", mix__0__lot=curing, mix__0__weight="200")
    assert 'class="told stop"' in page.text  # 1200 mg of nitrite on 2.2 kg


def test_take_out_when_one_row_is_cleared_then_that_piece_stays_in(bench):
    one, two, _ = in_tub(bench.shop)
    assert f'value="{two}"' in bench.get("/take-out?tub=blue+tub").text
    page = bench.post("/take-out", pieces__0__code=one, pieces__0__weight="1215", pieces__1__code="", pieces__1__weight="")
    assert "Out of the tub" in page.words
    assert bench.shop.state(one).phase == "out of cure"
    assert bench.shop.state(two).phase == "in cure"


def test_take_out_when_the_piece_is_not_in_cure_then_it_stands_beside_its_row(bench):
    piece = bench.shop.hanging_piece()
    page = bench.post("/take-out", pieces__0__code=piece)
    assert page.status == 409
    assert "in cure" in page.beside("pieces-0-code")


def test_turn_when_pressed_then_the_record_of_what_lay_there_says_so(bench):
    one, _, _ = in_tub(bench.shop)
    bench.post("/turn?tub=blue+tub", tub="blue tub")
    assert "turned" in bench.get(f"/lot/{one}").words


# --- pieces ---------------------------------------------------------------------------------------------------------
def test_split_when_a_counted_lot_then_each_piece_has_a_code_and_the_rest_keeps_its_own(bench):
    lot = bench.shop.green_piece("3600 g", count=4)
    assert bench.get(f"/split?from={lot}").text.count('-weight"') >= 4
    page = bench.post("/split", from_=lot, pieces__0__weight="900", pieces__1__weight="1000", pieces__1__marker="M 9")
    assert "2 pieces: P" in page.words
    assert bench.shop.state("m9").milligrams == 1_000_000
    assert (bench.shop.state(lot).milligrams, bench.shop.state(lot).count) == (1_700_000, 2)


def test_move_when_recorded_then_it_hangs_there(bench):
    piece = bench.shop.hanging_piece()
    assert "moved to room 2" in bench.post("/move", lot=piece, place="room 2").words
    assert bench.shop.state(piece).place == "room 2"


@pytest.mark.parametrize(
    ("what", "value", "said"), [("ph", "5,6", "5.6"), ("water_activity", "0.91", "0.91"), ("laboratory", "none", "none")]
)  # fmt: skip
def test_check_when_recorded_then_value_and_method_stand_in_the_record(bench, what, value, said):
    piece = bench.shop.hanging_piece()
    page = bench.post(f"/check?what={what}", lot=piece, value=value, method="report 7")
    assert page.where.partition("?")[0] == f"/lot/{piece}"
    assert bench.shop.fact_body(bench.shop.facts())["given"] == {"lot": piece, "what": what, "value": said, "method": "report 7"}


def test_check_when_a_link_is_scanned_into_the_field_then_it_is_read_as_its_code(bench):
    piece = bench.shop.hanging_piece()
    bench.post("/check?what=ph", lot=f"https://labels.example.com/lot/{piece}", value="5.6", method="meter")
    assert bench.shop.fact_body(bench.shop.facts())["given"]["lot"] == piece


def test_check_when_the_method_is_missing_then_it_stands_beside_it(bench):
    page = bench.post("/check", lot=bench.shop.hanging_piece(), value="5.6")
    assert page.status == 400
    assert "must be filled in" in page.beside("method")


def test_count_when_far_off_then_it_asks(bench):
    salt = bench.shop.ingredient()
    page = bench.post("/count", lot=salt, weight="4000")
    assert "Is that right?" in page.beside("weight")
    bench.post("/count", lot=salt, weight="4900")
    assert bench.shop.state(salt).milligrams == 4_900_000


@pytest.mark.parametrize(("how", "is_clean"), [("no", False), ("yes", True)])
def test_clean_when_recorded_then_it_says_whether_it_was_allergen_clean(bench, how, is_clean):
    bench.post("/clean", thing="slicer 1", allergen_clean=how)
    assert bench.shop.fact_body(bench.shop.facts())["given"] == {"thing": "slicer 1", "allergen_clean": is_clean}


# --- incidents ------------------------------------------------------------------------------------------------------
def happened(bench, kind="Power cut", place="room 1", **more):
    return bench.post("/incident?by=place", kind=kind, place=place, **{"from_": "2026-05-24T08:00", **more})


def test_an_incident_when_in_a_place_then_what_hung_there_is_held_until_each_is_decided(bench):
    one, two = bench.shop.hanging_piece(), bench.shop.hanging_piece()
    away = bench.shop.hanging_piece()
    bench.shop.record("move", lot=away, place="room 2", at="2026-05-01")
    page = happened(bench, words="14 °C")
    assert "Power cut: 14 °C" in page.words
    assert "nobody can name for certain is destroyed" in page.words
    assert set(codes(page, "P")) == {one, two}
    assert not bench.shop.state(away).is_held
    assert "Power cut: 14 °C holds 2 lots" in bench.get("/").words
    decide = page.where
    rows = dict(decisions__0__code=one, decisions__0__what="lift", decisions__1__code=two, decisions__1__what="")
    assert "must be filled in" in bench.post(decide, **rows).beside("reason")
    bench.post(decide, **rows, reason="It stayed cold.")
    assert (bench.shop.state(one).is_held, bench.shop.state(two).is_held) == (False, True)
    page = bench.post(decide, decisions__0__code=two, decisions__0__what="destroyed")
    assert "Nothing is held any more" in page.words
    assert bench.shop.state(two).phase == "destroyed"
    assert "Incidents" not in bench.get("/").words


def test_an_incident_when_tags_were_lost_then_destroyed_stands_chosen(bench):
    piece = bench.shop.hanging_piece()
    page = bench.post("/incident?by=lots", kind="Lost tag", lots=piece)
    assert "So that stands chosen here" in page.words
    assert '<option value="destroyed" selected>' in page.text
    assert '<option value="destroyed" selected>' not in happened(bench, kind="Fall").text


def test_an_incident_when_something_else_holds_it_too_then_the_decision_says_so(bench):
    piece = bench.shop.hanging_piece()
    bench.shop.record("hold", lots=[piece], reason="mould")
    page = happened(bench)
    assert "also held: mould" in page.words
    bench.post(page.where, decisions__0__code=piece, decisions__0__what="lift", reason="It stayed cold.")
    assert [held.reason for held in bench.shop.state(piece).held_for] == ["mould"]
    assert "Decide: lift the hold" in bench.get(f"/lot/{piece}").words


def test_an_incident_when_nothing_was_there_then_it_says_so(bench):
    assert "Nothing is held: nothing was there in that time" in happened(bench, place="cellar").words


def test_an_incident_when_long_ago_then_it_is_asked_once_and_recorded(bench):
    piece = bench.shop.hanging_piece()
    given = dict(kind="Fall", words="from the rail", lots=piece, at="2026-05-02")
    page = bench.post("/incident?by=lots", **given)
    assert "Is that right? Expected a day of the last 14 days; got 2026-05-02, 23 days ago." in page.beside("at")
    assert "The incident is recorded." in bench.yes(page, "/incident?by=lots", **given).words


def test_an_incident_when_no_time_is_given_then_it_stands_beside_it(bench):
    page = happened(bench, from_="")
    assert page.status == 400
    assert "when it began" in page.words


def test_an_incident_when_to_a_pack_lot_then_the_lot_is_free_once_every_pack_is_decided(bench):
    lot, one, two = bench.packed("330 g", "340 g")
    decide = bench.post("/incident?by=lots", kind="Fall", lots=lot).where
    bench.post(decide, decisions__0__code=one, decisions__0__what="lift", reason="whole")
    assert [bench.shop.state(code).is_held for code in (lot, one, two)] == [True, False, True]
    bench.post(decide, decisions__0__code=two, decisions__0__what="destroyed")
    assert not bench.shop.state(lot).is_held
    assert bench.shop.state(two).phase == "destroyed"


def test_decisions_when_another_station_decided_meanwhile_then_no_row_slips(bench):
    one, two = bench.shop.hanging_piece(), bench.shop.hanging_piece()
    decide = happened(bench).where
    bench.shop.record("lift", lots=[one], reason="It stayed cold.", at="2026-05-24")
    rows = dict(decisions__0__code=one, decisions__0__what="lift", decisions__1__code=two, decisions__1__what="")
    page = bench.post(decide, **rows)  # without the reason: the form comes back
    blocks = page.text.split('class="row"')[1:]
    assert [(code in block) for code, block in zip((one, two), blocks, strict=True)] == [True, True]
    assert f"{one} · " in blocks[0]
    stranger = bench.shop.hanging_piece(place="room 2")
    assert bench.post(decide, decisions__0__code=stranger, decisions__0__what="destroyed").status == 400


def test_decisions_when_none_is_taken_then_nothing_is_recorded(bench):
    piece = bench.shop.hanging_piece()
    decide = happened(bench).where
    before = bench.shop.facts()
    assert bench.post(decide, decisions__0__code=piece, decisions__0__what="").status == 400
    assert bench.shop.facts() == before
    assert bench.get("/incident/1").status == 409


# --- markers printed ahead ------------------------------------------------------------------------------------------
def test_markers_when_reserved_then_they_print_again_and_one_becomes_the_code_of_a_piece(bench):
    page = bench.post("/markers", count="3")
    marker = codes(page, "P")[0]
    before = bench.shop.facts()
    pdf = pypdfium2.PdfDocument(bench.client.get(f"{page.where}.pdf").data)
    assert {found.text for found in zxingcpp.read_barcodes(pdf[0].render(scale=6).to_pil())} == {marker}
    assert len(pdf) == 3
    assert bench.shop.facts() == before
    scanned = bench.get(f"/go?code={marker}")
    assert scanned.where.startswith("/cut")
    assert f'value="{marker}"' in scanned.beside("pieces-0-marker")
    rows = dict(pieces__0__product="Cured neck", pieces__0__weight="1200", pieces__0__marker=marker)
    bench.post("/cut", from_=bench.shop.receive(), **rows)
    assert bench.shop.state(marker).green_milligrams == 1_200_000


def test_tags_when_printed_ahead_then_each_has_its_code_and_link_and_becomes_the_code_of_a_piece_split_off(bench):
    page = bench.post("/markers", count="2", layout="tag_ahead_60x120")
    first, second = codes(page, "P")[:2]
    pdf = pypdfium2.PdfDocument(bench.client.get(page.where.replace("?", ".pdf?")).data)
    assert [round(side / 72 * 25.4) for side in pdf[0].get_size()] == [60, 120]
    found = {one.text for one in zxingcpp.read_barcodes(pdf[1].render(scale=4).to_pil())}
    assert found == {second, f"https://labels.example.com/lot/{second}"}
    assert "STOP AT g, STRING INCLUDED" in pdf[0].get_textpage().get_text_range()
    assert f'value="{first}"' in bench.get("/cut").text  # offered where it is needed next
    rows = dict(pieces__0__product="Cured duck breast", pieces__0__weight="3000", pieces__0__count="10")
    animal = bench.shop.receive(kind="part", name="duck breasts", species="duck")
    lot = codes(bench.post("/cut", from_=animal, **rows), "P")[0]
    assert bench.shop.state(lot).count == 10
    bench.post("/split", from_=lot, pieces__0__weight="310", pieces__0__marker=f"https://labels.example.com/lot/{first}")
    assert bench.shop.state(first).parent == lot
    assert f'value="{first}"' not in bench.get("/cut").text


@pytest.mark.parametrize("count", ["0", "501", "many", ""])
def test_markers_when_the_number_cannot_be_then_it_stands_beside_it(bench, count):
    page = bench.post("/markers", count=count)
    assert page.status == 400
    assert "problem" in page.beside("count")


# --- labels ---------------------------------------------------------------------------------------------------------
def test_a_label_when_only_looked_at_then_nothing_is_recorded(bench):
    lot, *packs = bench.packed("330 g", "340 g")
    before = bench.shop.facts()
    assert bench.get(f"/sale-label/{lot}.pdf").status == 404
    assert bench.get(f"/tag/{bench.shop.state(packs[0]).code}.pdf").status == 404
    assert bench.shop.facts() == before


def test_a_label_when_it_would_change_then_get_shows_the_old_one_until_it_is_printed_anew(bench):
    lot, *_ = bench.packed("330 g", "340 g")
    assert "2 labels of" in bench.post(f"/sale-label/{lot}").words
    old = words_of(bench, lot)
    bench.shop.record("product", **{**product(bench), "storage": "Keep below 7 °C"})
    before = bench.shop.facts()
    assert words_of(bench, lot) == old
    assert bench.shop.facts() == before
    assert "Print anew" in bench.get(f"/lot/{lot}").words
    bench.post(f"/sale-label/{lot}")
    assert "Keep below 7" in words_of(bench, lot)


def words_of(bench, lot):
    pdf = pypdfium2.PdfDocument(bench.client.get(f"/sale-label/{lot}.pdf").data)
    assert len(pdf) == 2
    return " ".join(pdf[0].get_textpage().get_text_bounded().split())


def product(bench):
    return next(card for card in looking.cards(bench.shop.ledger, "product") if card["name"] == "Cured neck")


def test_a_label_when_the_pack_is_held_since_then_even_the_old_one_is_not_given(bench):
    lot, one, _ = bench.packed("330 g", "340 g")
    bench.post(f"/sale-label/{lot}")
    bench.shop.record("hold", lots=[one], reason="mould")
    assert bench.get(f"/sale-label/{one}.pdf").status == 422


# --- what a lot's page offers ---------------------------------------------------------------------------------------
def test_a_lot_when_looked_at_then_what_is_likely_stands_first_and_the_rest_under_more(bench):
    one, _, salt = in_tub(bench.shop)
    hanging = bench.shop.hanging_piece()
    offered = {code: bench.get(f"/lot/{code}").text.partition('class="rest"') for code in (one, hanging, salt)}
    for code, likely, rest in (
        (one, "Salt again", "Split it"),
        (hanging, "Move it", "Something happened"),
        (salt, "Count it", "Move it"),
    ):
        first, _, more = offered[code]
        assert f">{likely}" in first
        assert f">{rest}" in more
    assert "Salt again" not in offered[hanging][0]


# --- who ------------------------------------------------------------------------------------------------------------
def test_who_when_several_stood_here_then_the_last_comes_first_and_a_buyer_is_none(bench):
    _, one, _ = bench.packed("330 g", "340 g")
    bench.shop.record("complaint", code=one, text="soap", who="a buyer")
    for name in ("Zoe", "Ben"):
        bench.post("/who", other=name)
    page = bench.post("/leave")
    assert re.findall(r'name="name" value="([^"]+)"', page.text) == ["Ben", "Zoe", "Ada"]


# --- corrections ----------------------------------------------------------------------------------------------------
def test_a_further_fact_when_put_right_then_its_form_comes_filled_in(bench):
    piece = bench.shop.hanging_piece()
    bench.shop.record("move", lot=piece, place="room 2", at="2026-05-01")
    fact = bench.shop.last.fact
    assert 'value="room 2"' in bench.get(f"/fact/{fact}?code={piece}").text
    bench.post(f"/fact/{fact}?code={piece}", lot=piece, place="room 3", reason="wrong door")
    assert bench.shop.state(piece).place == "room 3"


# --- a tag printed ahead, hung at stringing ----------------------------------------------------------------------------
def test_a_free_tag_when_scanned_then_it_can_be_hung_at_stringing_and_leads_to_the_piece(bench):
    (tag,) = bench.shop.record("reserve", count=1).codes
    piece = bench.shop.green_piece()
    bench.shop.cure([piece], (bench.shop.ingredient(), "30 g"))
    assert f'href="/string?ahead={tag}"' in bench.get(f"/go?code={tag}").text
    assert f'value="{tag}"' in bench.get(f"/string?ahead={tag}").beside("tag")
    bench.post("/string", piece=piece, weight="1010", place="room 1", tare="20", tag=tag)
    assert bench.get(f"/go?code={tag}").where == f"/weigh?piece={piece}"
    other = bench.shop.green_piece()
    bench.shop.cure([other], (bench.shop.ingredient(), "30 g"))
    page = bench.post("/string", piece=other, weight="1020", place="room 1", tag=tag)
    assert f"got {tag}, which is on another piece, {piece}." in page.beside("tag")
    assert 'value="1020"' in page.text


def test_lot_held_after_it_was_packed_offers_to_hold_its_packs_in_one_press(bench):
    _, *packs = bench.shop.packed("300 g", "340 g")
    (piece,) = bench.shop.state(packs[0]).made_from
    page = bench.post("/hold", lots=piece, reason="glass")
    assert f"2 that are free: {', '.join(packs)}" in page.words
    assert "Hold these 2 too" in page.words
    reason = f"made of {piece}: glass"
    assert f'name="reason" value="{reason}"' in page.text
    bench.post("/hold", lots=",".join(packs), reason=reason)
    assert all(bench.shop.state(pack).is_held for pack in packs)
    assert "too" not in bench.get(f"/lot/{piece}").words.split("Decide")[0]
