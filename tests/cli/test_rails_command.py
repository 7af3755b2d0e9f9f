"""A counted lot over several rails, by command: the same as the page records."""

PRODUCT = (
    "product", "Cured duck breast", "--species", "duck", "--cut", "breast", "--class", "non_heat_treated", "--market", "eu",
    "--language", "en", "--shelf-life-days", "30", "--storage", "Keep cold", "--eaten", "cooked",
)  # fmt: skip


def test_rails_by_command_when_strung_then_each_has_its_code_or_the_rail_is_named(hand):
    hand("supplier", "Meadow Farm")
    hand(*PRODUCT)
    part = hand.codes("receive", "part", "breasts", "--supplier", "Meadow Farm", "--species", "duck", "--weight", "4 kg")[0]
    lot = hand.codes("cut", part, "--piece", "Cured duck breast=3600 g==12")[0]
    wrong = hand.ask("rails", lot, "--place", "Room 1", "--rail", "8=2440 g", "--rail", "four=1220 g", "--yes")
    assert wrong.err.strip() == 'rails[1]: expected how many and what weight, such as "8=2440 g", got "four=1220 g"'
    codes = hand.codes("rails", lot, "--place", "Room 1", "--rail", "8=2440 g=40 g", "--rail", "4=1220 g=20 g", "--yes")
    assert [hand("lot", code, "--json").json["lot"]["place"] for code in codes] == ["Room 1, rail 1 of 2", "Room 1, rail 2 of 2"]


def test_rails_by_command_when_sent_twice_for_an_earlier_day_then_they_hang_since_that_day_once(hand):
    hand("supplier", "Meadow Farm")
    hand(*PRODUCT)
    bought = ("--supplier", "Meadow Farm", "--species", "duck", "--weight", "4 kg", "--at", "2026-03-02")
    part = hand.codes("receive", "part", "breasts", *bought)[0]
    lot = hand.codes("cut", part, "--piece", "Cured duck breast=3600 g==12", "--at", "2026-03-02")[0]
    rails = ("rails", lot, "--place", "Room 1", "--rail", "8=2440 g=40 g", "--rail", "4=1220 g=20 g")
    said = ("--yes", "--at", "2026-03-05", "--once", "rails of the fifth")
    first, again = hand.codes(*rails, *said), hand.codes(*rails, *said)
    assert first == again
    assert [fact["happened_at"][:10] for fact in hand.sealed()[4:]] == ["2026-03-05"] * 3  # one split, two rails
    other = hand.refused(*rails, "--yes", "--at", "2026-03-06", "--once", "rails of the fifth")
    assert other.code == 1
