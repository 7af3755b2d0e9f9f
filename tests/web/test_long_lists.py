"""Pages that may hold thousands of lots show the first of them, say how many more there are, and lead to the rest."""

from labelsvc.web import hanging, recalls, today


def test_a_wide_recall_when_searched_then_the_page_counts_and_shows_the_first_lots(bench, monkeypatch):
    lot, one, two = bench.packed("330 g", "340 g")
    bench.shop.sell(one, document="note 7")
    whole = bench.get(f"/recall?reason=other&lot={lot}")
    assert "note 7" in whole.words
    monkeypatch.setattr(recalls, "MOST", 1)
    page = bench.get(f"/recall?reason=other&lot={lot}")
    for words in (
        "2 lots affected", "Hold these 1", "330 g in 1 pack, 2026-05-22", "pack, in stock 1 340 g", "pack, sold 1",
        "The first 1 of them, the oldest first.",
    ):  # fmt: skip
        assert words in page.words, words
    assert f'value="{two}"' in page.text  # what the press holds
    assert f"/api/v1/recall?lot={lot}&amp;reach=mass" in page.text


def test_a_long_list_when_shown_today_then_it_leads_to_the_rest(bench, monkeypatch):
    bench.packed("230 g", "240 g", "220 g")
    monkeypatch.setattr(today, "MOST_LINES", 2)
    page = bench.get("/")
    assert "and 1 more" in page.words
    assert page.text.count("best before") == 2
    assert bench.get("/?show=packs").text.count("best before") == 3


def test_weighing_when_many_hang_then_the_first_are_offered_and_a_scanned_one_comes_without_their_names(bench, monkeypatch):
    pieces = [bench.shop.hanging_piece() for _ in range(3)]
    monkeypatch.setattr(hanging, "MOST_LINES", 1)
    page = bench.get("/weigh")
    assert "and 2 more: all that hang" in page.words
    assert 'id="l-hanging"' in page.text
    assert 'id="l-hanging"' not in bench.get(f"/weigh?piece={pieces[0]}").text
