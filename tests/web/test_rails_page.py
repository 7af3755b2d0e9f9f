"""A counted lot over several rails, on its page: one form, a tag for each rail; errors stand beside their rail."""

import re


def breasts(bench):
    shop = bench.shop
    animal = shop.receive(kind="part", name="duck breasts", species="duck", weight="4 kg")
    lot = shop.record("cut", from_=animal, pieces=[dict(product="Cured duck breast", weight="3600 g", count=12)]).codes[0]
    shop.cure([lot], (shop.ingredient(), "90 g"))
    return lot


def test_rails_when_recorded_then_each_has_its_tag(bench):
    lot = breasts(bench)
    assert "String its 12 pieces over several rails" in bench.get(f"/string?piece={lot}").words
    rows = dict(rails__0__count="8", rails__0__weight="2440", rails__1__count="4", rails__1__weight="1220")
    page = bench.post(f"/rails?from={lot}", from_=lot, place="Drying room", **rows)
    tags = list(dict.fromkeys(re.findall(r"/tag/(P[0-9]{6}[0-9A-Z]{3})\.pdf", page.text)))
    assert len(tags) == 2
    assert [bench.shop.state(code).place for code in tags] == ["Drying room, rail 1 of 2", "Drying room, rail 2 of 2"]
    assert bench.client.get(f"/tag/{tags[1]}.pdf").mimetype == "application/pdf"


def test_rails_when_they_hold_other_numbers_then_it_stands_beside_the_first(bench):
    lot = breasts(bench)
    before = bench.shop.facts()
    rows = dict(rails__0__count="8", rails__0__weight="2440", rails__1__count="5", rails__1__weight="1220")
    page = bench.post(f"/rails?from={lot}", from_=lot, place="Drying room", **rows)
    assert "got 13" in page.beside("rails-0-count")
    assert bench.shop.facts() == before
