"""Meat that may carry Trichinella is not eaten as it is: its packs are held by law until the receipt says that it was examined.

Which animals carry it, and freezing as far as it counts (Regulation (EU) 2015/1375, Annex II: up to 15 cm at -15 °C for 20 days,
at -23 °C for 10 days): as quoted by the French order of 10 July 1986; that freezing does not clear game is from memory.
"""

import datetime as dt

import pytest
from build import body

from labelsvc.curing.trichinella import check_trichinella, may_carry, status_at_receipt
from labelsvc.errors import BlockedError, ConfirmationNeeded
from labelsvc.facts import read

DEEP = dict(status="frozen", thickness_cm="15", temperature_c="-23", start="2026-02-01T08:00", end="2026-02-11T08:00")


def packed(shop, species="pig", trichinella=None, eaten="as_is", market="eu"):
    """Return the fact of the receipt and a pack."""
    shop.record("product", **{**body("product"), "species": species, "eaten": eaten, "markets": [market]})
    known = {"trichinella": trichinella} if trichinella else {}
    fields = {name: value for name, value in body("receive").items() if name != "trichinella"}
    receipt = shop.record("receive", **{**fields, "species": species, "name": "no. 12", **known})
    piece = shop.cut(receipt.codes[0], "1000 g")[0]
    shop.cure([piece], (shop.ingredient("curing salt"), "15 g"))
    shop.string(piece, "1000 g", at="2026-03-20")
    shop.release(piece, at="2026-05-20")
    return receipt.fact, shop.pack([piece], "900 g", at="2026-05-21", market=market)[1]


@pytest.mark.parametrize(
    ("species", "trichinella", "is_held"),
    [
        ("pig", None, True),
        ("pig", "not known", True),
        ("pig", "tested", False),
        ("pig", "controlled housing", False),
        ("pig", DEEP, False),
        ("pig", {**DEEP, "end": "2026-02-11T07:59"}, True),  # a minute short of 240 hours
        ("pig", {**DEEP, "temperature_c": "-22.9"}, True),
        ("pig", {**DEEP, "thickness_cm": "15.1"}, True),
        ("wild boar", "tested", False),
        ("wild boar", None, True),
        ("wild boar", DEEP, True),
        ("wild boar", "controlled housing", True),
        ("horse", DEEP, True),
        ("black bear", None, True),
        ("cattle", None, False),
        ("duck", None, False),
        ("pig", {"status": "frozen"}, True),  # frozen, but how is not recorded
        ("pig and beef", None, True),
        ("pig rind", None, True),
        ("wild hog", DEEP, True),
        ("feral swine", "controlled housing", True),
        ("Hausschwein", None, True),
        ("kangaroo", None, True),  # on none of our lists: a person decides
        ("kangaroo", "tested", False),
    ],
)
@pytest.mark.parametrize("market", ["eu", "gb"])
def test_pack_eaten_as_it_is_is_held_where_its_meat_is_not_cleared(shop, species, trichinella, is_held, market):
    assert shop.state(packed(shop, species, trichinella, market=market)[1]).is_held is is_held


def test_held_pack_cannot_be_sold_given_away_or_lifted_until_the_receipt_is_corrected(shop):
    receipt, pack = packed(shop)
    with pytest.raises(BlockedError) as stopped:
        shop.sell(pack, at="2026-05-22")
    assert stopped.value.findings[0]["rule"] == "eu.trichinella.hosts"
    assert stopped.value.findings[0]["exceeded"] is True
    with pytest.raises(BlockedError):
        shop.record("give", at="2026-05-22", to="a friend", packs=[pack])
    with pytest.raises(BlockedError, match="Nobody can lift"):
        shop.record("lift", at="2026-05-22", lots=[pack], reason="I eat it myself", by="Ada")
    shop.correct(receipt, {**body("receive"), "name": "no. 12", "species": "pig", "trichinella": "tested"})
    shop.sell(pack, at="2026-11-21", yes=True)


def test_product_that_is_cooked_is_not_held(shop):
    assert not shop.state(packed(shop, eaten="cooked")[1]).is_held


def test_animal_on_no_list_is_called_unchecked_where_it_is_released(shop):
    shop.record("product", **{**body("product"), "species": "kangaroo"})
    fields = {name: value for name, value in body("receive").items() if name != "trichinella"}
    piece = shop.cut(shop.record("receive", **{**fields, "species": "kangaroo"}).codes[0], "1000 g")[0]
    shop.cure([piece], (shop.ingredient(), "30 g"))
    shop.string(piece, "1000 g", at="2026-03-20")
    notes = [note.got for note in shop.release(piece, at="2026-05-20").notes]
    assert any("Whether kangaroo can carry Trichinella is unchecked" in note for note in notes)


def test_animal_on_no_list_is_held_until_the_responsible_person_decides(shop):
    pack = packed(shop, "kangaroo")[1]
    with pytest.raises(BlockedError, match="Put the animal's name right"):
        shop.sell(pack, at="2026-05-22", yes=True)
    shop.record("lift", at="2026-05-22", lots=[pack], reason="kangaroos eat grass", by="Ada")
    assert not shop.state(pack).is_held


def test_freezing_without_its_figures_holds_until_they_are_there_or_the_responsible_person_decides(shop):
    receipt, pack = packed(shop, trichinella={"status": "frozen"})
    with pytest.raises(BlockedError, match="Put the thickness, temperature and times"):
        shop.sell(pack, at="2026-05-22", yes=True)
    shop.correct(receipt, {**body("receive"), "name": "no. 12", "trichinella": DEEP})
    assert not shop.state(pack).is_held
    again = packed(shop, trichinella={"status": "frozen"})[1]
    shop.record("lift", at="2026-05-22", lots=[again], reason="the slaughterhouse has shown its log", by="Ada")
    assert not shop.state(again).is_held


def test_goods_in_say_at_once_what_the_unknown_status_means(shop):
    fields = {name: value for name, value in body("receive").items() if name != "trichinella"}
    done = shop.record("receive", **fields)
    assert [note.field for note in done.notes] == ["trichinella"]
    assert shop.record("receive", **{**fields, "species": "cattle"}).notes == ()
    assert shop.record("receive", **{**fields, "trichinella": "tested"}).notes == ()


def test_meat_of_a_day_before_the_rules_began_is_judged_by_the_first_of_them():
    early = dt.date(1999, 12, 31)
    deep = read("receive", {**body("receive"), "trichinella": DEEP}).trichinella
    assert [finding.rule for finding in check_trichinella("pig", "unknown", "as_is", "us", early)] == ["us.trichinella.hosts"]
    assert may_carry("pig", early)
    assert not may_carry("duck", early)
    assert status_at_receipt(deep, early) == "frozen"


def test_unexamined_pork_when_it_is_eaten_at_home_then_its_packs_are_blocked_and_the_piece_asks(shop):
    _, pack = packed(shop)
    with pytest.raises(BlockedError, match="Trichinella"):
        shop.record("dispose", lot=pack, how="own_use", at="2026-05-22", yes=True)
    piece = shop.cut(shop.receive(trichinella="not known"), "1000 g")[0]
    shop.record("dispose", lot=piece, how="own_use", weight="100 g")  # green: it goes into the pan
    shop.cure([piece], (shop.ingredient("curing salt"), "15 g"))
    with pytest.raises(ConfirmationNeeded, match="Trichinella"):
        shop.record("dispose", lot=piece, how="own_use", at="2026-03-20")
