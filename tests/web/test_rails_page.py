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


def hung(bench):
    lot = breasts(bench)
    rows = dict(rails__0__count="8", rails__0__weight="2440", rails__1__count="4", rails__1__weight="1220")
    page = bench.post(f"/rails?from={lot}", from_=lot, place="Drying room", **rows)
    return lot, list(dict.fromkeys(re.findall(r"/tag/(P[0-9]{6}[0-9A-Z]{3})\.pdf", page.text)))


def test_rails_when_weighed_in_one_form_then_each_has_its_weight(bench):
    lot, (one, two) = hung(bench)
    assert f'href="/weigh-rails?of={lot}"' in bench.get(f"/weigh?piece={one}").text
    page = bench.get(f"/weigh-rails?of={lot}")
    assert "Drying room, rail 2 of 2 · 4 pieces · last 1220 g" in page.words
    rows = dict(rails__0__piece=one, rails__0__weight="2340", rails__1__piece=two, rails__1__weight="1170")
    assert "2 of 2 rails are weighed." in bench.post(f"/weigh-rails?of={lot}", **rows).words
    assert (bench.shop.state(one).milligrams, bench.shop.state(two).milligrams) == (2_300_000, 1_150_000)  # less 5 g a piece


def test_rails_when_one_weight_cannot_be_then_none_is_recorded_and_it_stands_beside_it(bench):
    lot, (one, two) = hung(bench)
    before = bench.shop.facts()
    rows = dict(rails__0__piece=one, rails__0__weight="2340", rails__1__piece=two, rails__1__weight="heavy")
    page = bench.post(f"/weigh-rails?of={lot}", **rows)
    assert "heavy" in page.beside("rails-1-weight")
    assert "Expected" in page.beside("rails-1-weight")
    assert 'value="2340"' in page.text
    assert bench.shop.facts() == before
    asked = "Expected the weight of one rail or more"
    assert asked in bench.post(f"/weigh-rails?of={lot}", rails__0__piece=one).words
    assert asked in bench.post(f"/weigh-rails?of={lot}").words  # no row to stand beside


def test_rails_when_strung_on_an_earlier_day_then_they_hang_since_that_day(bench):
    lot = breasts(bench)
    rows = dict(rails__0__count="8", rails__0__weight="2440", rails__1__count="4", rails__1__weight="1220")
    page = bench.post(f"/rails?from={lot}", from_=lot, place="Drying room", at="2026-05-23", **rows)
    code = re.search(r"/tag/(P[0-9]{6}[0-9A-Z]{3})\.pdf", page.text).group(1)
    assert "2026-05-23 strung, Drying room, rail 1 of 2" in bench.get(f"/lot/{code}").words
