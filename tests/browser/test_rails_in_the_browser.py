"""All rails of a counted lot weighed in one form, led to from any one of them; a tag printed ahead hung by scanning it."""

import re


def test_rails_when_weighed_then_one_form_takes_all_of_them(bench):
    shop = bench.shop
    animal = shop.receive(kind="part", name="duck breasts", species="duck", weight="4 kg")
    lot = shop.record("cut", from_=animal, pieces=[dict(product="Cured duck breast", weight="3600 g", count=12)]).codes[0]
    shop.cure([lot], (shop.ingredient(), "90 g"))
    bench.open(f"/rails?from={lot}")
    bench.fill("place", "Drying room")
    for row, (count, weight) in enumerate([("8", "2440"), ("4", "1220")]):
        bench.fill(f"rails-{row}-count", count)
        bench.fill(f"rails-{row}-weight", weight)
    bench.press("Record and print a tag for each rail")
    bench.sees("Tag of")
    rail = re.findall(r"P[0-9]{6}[0-9A-Z]{3}", bench.page.url)[0]
    bench.scan(rail)
    bench.sees("Weigh all rails")
    bench.press("Weigh all rails")
    bench.sees("rail 2 of 2 · 4 pieces")
    assert not bench.is_wide()
    bench.fill("rails-0-weight", "2340")
    bench.fill("rails-1-weight", "heavy")
    bench.press("Record the weights")
    bench.sees("got heavy")
    assert bench.page.locator('[name="rails-0-weight"]').input_value() == "2340"
    bench.fill("rails-1-weight", "1170")
    bench.press("Record the weights")
    bench.sees("2 of 2 rails are weighed.")


def test_a_free_tag_when_scanned_and_hung_at_stringing_then_it_leads_to_the_piece(bench):
    shop = bench.shop
    (tag,) = shop.record("reserve", count=1).codes
    piece = shop.green_piece()
    shop.cure([piece], (shop.ingredient(), "30 g"))
    bench.scan(tag)
    bench.sees("It hangs on a piece that is strung up now")
    bench.press("It hangs on a piece that is strung up now")
    bench.sees("Tag printed ahead")
    for name, text in (("piece", piece), ("weight", "1010"), ("place", "room 1")):
        bench.fill(name, text)
    bench.press("Record and print the tag")
    bench.sees(f"The tag of {piece} is ready")
    bench.scan(tag)
    bench.page.wait_for_url(f"**/weigh?piece={piece}")
