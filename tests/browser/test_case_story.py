"""A recall from the search to the closing, and a buyer's complaint, in a real Chromium at both widths."""


def test_a_recall_when_run_on_the_pages_then_each_step_is_a_press_and_buyers_are_warned_only_when_published(bench, browser):
    shop = bench.shop
    shop.record("customer", name="Corner Shop", address="1 Market Square, Exampleton", contact="+353 555 0100")
    lot, one, two = shop.packed("330 g", "340 g")
    shop.day = "2026-05-22"
    shop.sell(one, document="note 7")
    bench.open("/recall")
    bench.press("Glass, metal, plastic")
    bench.fill("lot", lot)
    bench.press("Search")
    bench.sees("Corner Shop")
    bench.press("Open a recall")
    bench.sees("1. Hold what is still here")
    assert bench.page.locator('a[href="tel:+3535550100"]').is_visible()
    assert not bench.is_wide()
    bench.press("Hold these")
    bench.sees("Everything that is still here is held")
    bench.fill("still_had", "330")
    bench.press("Told")
    bench.sees("Everyone was told.")
    assert "RECALLED" not in seen_by_buyer(browser, bench, one)
    bench.press("Warn whoever scans it")
    bench.choose("risk", "Glass, metal or plastic")
    bench.press("Warn whoever scans these packs")
    bench.sees("is warned first of all")
    assert seen_by_buyer(browser, bench, one).startswith("STOP\nRECALLED: do not eat this")
    bench.press("Close the case")
    bench.fill("outcome", "A jar broke; jars are banned from the packing room.")
    bench.press("Close it")
    bench.sees("jars are banned")
    assert not bench.is_wide()
    assert shop.state(two).is_held


def seen_by_buyer(browser, bench, code):
    """What a stranger reads who scans a pack with a telephone."""
    context = browser.new_context(viewport=dict(width=390, height=844))
    page = context.new_page()
    page.goto(f"{bench.address}/lot/{code}")
    told = page.locator("body").inner_text().lstrip()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    context.close()
    return told


def test_a_buyer_when_complaining_in_their_language_then_the_bench_sees_it_on_the_first_page_and_decides(bench, browser):
    _, one, _ = bench.shop.packed("330 g", "340 g")
    context = browser.new_context(viewport=dict(width=390, height=844), has_touch=True)
    page = context.new_page()
    page.goto(f"{bench.address}/lot/{one}")
    page.get_by_role("link", name="Deutsch").first.tap()
    form = page.locator("section#de form")
    form.locator("textarea").fill("Es riecht nach Seife.")
    form.get_by_role("button").tap()
    page.get_by_text("Danke. Wir haben es.").first.wait_for()
    context.close()
    bench.open("/")
    bench.page.get_by_text("Es riecht nach Seife.").click()
    bench.fill("decision", "The bag was scented.")
    bench.press("Keep the decision")
    bench.sees("Decided")
    bench.open("/")
    assert "Seife" not in bench.told
