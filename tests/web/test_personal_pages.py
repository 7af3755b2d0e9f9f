"""What is kept of buyers on screen: when its time is over, what the law asks, and erasing it with a reason."""


def test_buyer_when_erased_on_screen_then_a_reason_is_asked_for_and_every_page_says_erased(bench):
    lot, *packs = bench.packed("350 g", "340 g")
    bench.shop.sell(packs[0], customer="Mrs Example")
    page = bench.get("/personal")
    assert "Mrs Example last named on 2026-05-22" in page.words
    number = page.text.split("Mrs Example")[0].rpartition("/personal/")[2].partition('"')[0]
    page = bench.get(f"/personal/{number}")
    assert "EU: 6 months after delivery, so until 2026-11-22" in page.words
    page = bench.post(f"/personal/{number}", reason="")
    assert page.status == 400
    assert "a reason for erasing before 2026-11-22" in page.beside("reason")
    page = bench.post(f"/personal/{number}", reason="she asked for it")
    assert "In its place stands: erased on 2026-05-25 (fact " in page.words
    assert "Mrs Example" not in page.words
    for where in (f"/lot/{packs[0]}", f"/trace/{packs[0]}", f"/recall?reason=lot&lot={lot}", "/cards"):
        seen = bench.get(where)
        assert "Mrs Example" not in seen.text
    assert "erased on 2026-05-25" in bench.get(f"/trace/{packs[0]}").words
    page = bench.get(f"/sell?packs={packs[1]}")
    assert "Corner Shop" in page.text
    assert "erased on" not in page.text
