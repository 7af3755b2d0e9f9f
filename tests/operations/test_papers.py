"""The papers hold every item of the clauses that ask for them; read back from the PDF by an outside reader."""

import datetime as dt

import build
import pypdfium2
import pytest

from labelsvc.errors import InputError
from labelsvc.operations.papers import dispatch_paper, drawn, trace_paper
from labelsvc.operations.recall_papers import authority_paper, letter, notice, recall_paper

NOW = dt.datetime(2026, 5, 23, 12, tzinfo=dt.UTC)


def words(paper):
    """Everything that stands on the pages of a paper, in reading order."""
    document = pypdfium2.PdfDocument(drawn(paper))
    return " ".join(" ".join(page.get_textpage().get_text_bounded() for page in document).split())


@pytest.fixture
def out(shop):
    """Packs of 300 g and 100 g with the Corner Shop under note 7, 200 g given away; a case of all of them."""
    shop.record("workshop", **build.body("workshop", contact="555 0100", approval_number="IE 1234"), at="2026-03-01")
    shop.lot, *shop.packs = shop.packed("300 g", "100 g", "200 g", "50 g")
    shop.day = "2026-05-22"
    shop.sell(*shop.packs[:2], document="note 7")
    shop.record("give", to="Mrs Example", packs=[shop.packs[2]])
    given = {"what": "recall", "reason": "Glass in a pack", "lots": [shop.lot], "at": "2026-05-23T10:00"}
    shop.case = shop.record("open_case", **given).fact
    return shop


def test_dispatch_when_drawn_then_the_eight_items_of_931_2011_stand_on_it(out):
    """Implementing Regulation (EU) No 931/2011, Art 3(1): (a) to (h)."""
    text = words(dispatch_paper(out.ledger, "corner shop", NOW, document="note 7"))
    for item, said in {
        "a description": "Cured neck; pig, neck; ready to eat",
        "b quantity": "2 400",  # packs, and 300 g with 100 g
        "c dispatched by": "Dispatched by Thistle Yard, 2 Thistle Yard, Exampleton, approval number IE 1234",
        "d owner": "Owner, if another the same",
        "e received by": "Received by Corner Shop, 1 Market Square, Exampleton",
        "f consignee": "Consignee, if another the same",
        "g lot": out.lot,
        "h day": "Day of dispatch 2026-05-22",
    }.items():
        assert said in text, item


def test_dispatch_when_the_workshop_is_in_the_us_then_method_and_carrier_are_to_be_filled_in(out):
    """9 CFR 320.1(b)(1): method of shipment and carrier are nothing that we know."""
    out.record("workshop", **build.body("workshop", country="US"), at="2026-03-01")
    text = words(dispatch_paper(out.ledger, "Corner Shop", NOW, document="note 7"))
    assert "Method of shipment" in text
    assert "Carrier" in text
    assert "Keep this record until 2028-12-31" in text  # 9 CFR 320.3(a): 2 years after 31 December of 2026


def test_dispatch_when_nothing_was_sold_like_that_then_it_says_so(out):
    with pytest.raises(
        InputError, match="customer: expected someone to whom something was sold, got Corner Shop, 2026-05-01: nothing"
    ):
        dispatch_paper(out.ledger, "Corner Shop", NOW, day=dt.date(2026, 5, 1))
    with pytest.raises(InputError):
        dispatch_paper(out.ledger, "Mrs Example", NOW, day=dt.date(2026, 5, 22))  # a gift is no sale


def test_the_facts_for_the_authority_when_drawn_then_one_step_back_and_forward_stand_on_it(out):
    """Regulation (EC) No 178/2002 Art 18 (2) and (3) and 19; 9 CFR 418.2: type, amount, origin, destination."""
    out.record("case_step", case=out.case, what="authority_told", words="office, by telephone", at="2026-05-23T11:00")
    text = words(authority_paper(out.ledger, out.case, NOW))
    for item, said in {
        "business": "Thistle Yard, 2 Thistle Yard, Exampleton",
        "type": "Type of the problem Glass in a pack",
        "amount": "Amount that left 600 g",
        "amount here": "Amount still here 50 g",
        "supplier": "Meadow Farm Meadow Lane 4, Exampleton",
        "what was received": "pig 12",
        "description and lot": f"Cured neck {out.lot} 2026-05-21 2026-07-20 4 650",
        "destination": "Corner Shop 1 Market Square, Exampleton",
        "quantity": "400",
        "gift": "Mrs Example",
        "measure": "authority told: office, by telephone",
    }.items():
        assert said in text, item


def test_a_letter_when_drawn_then_it_says_what_a_notice_must(out):
    """21 CFR 7.49 (copies): it is a recall, stop sale and use, pass it on, what to do, which product, how to answer."""
    text = words(letter(out.ledger, out.case, "Corner Shop", NOW))
    for said in (
        "URGENT: recall", "This is a recall. Please stop selling and using these packs at once.", "Glass in a pack",
        f"{out.lot}/1 2026-07-20 300", f"{out.lot}/2", "note 7", "tell them the same today", "Do not throw it away",
        "We still have", "Name, day, signature", "555 0100",
    ):  # fmt: skip
        assert said in text, said
    assert f"{out.lot}/3" not in text
    with pytest.raises(InputError, match="customer: expected someone who got something of it, got Nobody"):
        letter(out.ledger, out.case, "Nobody", NOW)


def test_a_notice_when_published_then_it_quotes_what_the_buyer_sees_and_before_that_it_is_a_draft(out):
    assert words(notice(out.ledger, out.case, NOW)).startswith("DRAFT: nobody has decided to publish this")
    out.record("publish", case=out.case, lots=[out.lot], risk="allergen", allergen="mustard", by="Ada", at="2026-05-23T11:00")
    text = words(notice(out.ledger, out.case, NOW))
    for said in ("RECALLED: do not eat this", "It contains mustard, and the label does not say so.", "Cured neck",
                 "best before 20 July 2026", out.lot, "555 0100"):  # fmt: skip
        assert said in text, said
    assert "DRAFT" not in text


def test_a_report_when_drawn_then_clock_and_balance_stand_on_it(out):
    out.record("tell", case=out.case, customer="Corner Shop", how="by telephone", still_had="100 g", at="2026-05-23T11:00")
    text = words(recall_paper(out.ledger, out.case, NOW))
    # opened at 10:00 in Paris, 8:00 UTC; 400 of 600 g are accounted for
    for said in ("Clock 4 h 00 min", "Told 1 of 2", "Accounted for 66.7 % of 600 g", "used or sold on 300", "Not explained 0"):
        assert said in text, said


def test_papers_of_an_exercise_when_drawn_then_every_page_says_mock(out):
    given = {"what": "mock", "reason": "Yearly exercise", "lots": [out.lot], "at": "2026-05-23T10:00"}
    number = out.record("open_case", **given).fact
    papers = [make(out.ledger, number, NOW) for make in (recall_paper, notice, authority_paper)]
    for paper in (*papers, letter(out.ledger, number, "Corner Shop", NOW)):
        document = pypdfium2.PdfDocument(drawn(paper))
        assert all("MOCK: an exercise, not a real recall" in page.get_textpage().get_text_bounded() for page in document)
    text = words(letter(out.ledger, number, "Corner Shop", NOW))
    assert f"Exercise {number}: to Corner Shop" in text
    assert "nothing is wrong with these packs, and they may be sold" in text
    assert "stop selling" not in text
    assert "ithdrawal" not in text


def test_a_trace_report_when_drawn_then_the_chain_stands_on_one_page_from_the_animal_to_who_has_it(out):
    document = pypdfium2.PdfDocument(drawn(trace_paper(out.ledger, out.lot, NOW)))
    assert len(document) == 1
    text = " ".join(document[0].get_textpage().get_text_bounded().split())
    for said in ("pig 12", "from Meadow Farm", "4 packs, 650 g", "Corner Shop", "Mrs Example", "Not explained 0"):
        assert said in text, said


def test_a_paper_when_drawn_twice_then_it_is_the_same_file_with_its_fonts_in_it(out):
    first, second = (drawn(recall_paper(out.ledger, out.case, NOW)) for _ in range(2))
    assert first == second
    assert b"FiraSans-Regular" in first
