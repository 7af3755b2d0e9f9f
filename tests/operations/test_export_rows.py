"""Exports: who got what, once each, whatever was returned, given away or eaten; and no cell that a spreadsheet would run."""

from build import Shop

from labelsvc.operations.exporting import HEADERS, plain_cells, rows_of


def _sales(shop: Shop) -> list[dict[str, object]]:
    return [dict(zip(HEADERS["sales"], row, strict=True)) for row in rows_of(shop.ledger, "sales")]


def test_sales_when_sold_given_and_eaten_then_one_row_each(shop: Shop):
    _, first, second, third = shop.packed("200 g", "210 g", "220 g")
    shop.sell(first, document="note 1", at="2026-05-22")
    shop.record("give", to="the fire brigade", packs=[second], at="2026-05-23")
    shop.record("dispose", lot=third, how="own_use", at="2026-05-24")
    assert [(row["date"], row["code"], row["how"], row["name"], row["grams"], row["document"]) for row in _sales(shop)] == [
        ("2026-05-22", first, "customer", "Corner Shop", "200", "note 1"),
        ("2026-05-23", second, "gift", "the fire brigade", "210", ""),
        ("2026-05-24", third, "own use", "own use", "220", ""),
    ]


def test_sales_when_a_pack_comes_back_then_a_row_out_and_a_row_in(shop: Shop):
    _, pack = shop.packed("600 g")
    shop.sell(pack, at="2026-05-22")
    shop.record("return", from_="Corner Shop", packs=[pack], at="2026-05-25")
    assert [(row["date"], row["code"], row["how"]) for row in _sales(shop)] == [
        ("2026-05-22", pack, "customer"), ("2026-05-25", pack, "return")]  # fmt: skip


def test_sales_when_a_document_looks_like_a_formula_then_a_spreadsheet_does_not_run_it(shop: Shop):
    _, pack = shop.packed("600 g")
    shop.sell(pack, document='=HYPERLINK("https://example.com")', at="2026-05-22")
    (row,) = [plain_cells(row) for row in rows_of(shop.ledger, "sales")]
    assert dict(zip(HEADERS["sales"], row, strict=True))["document"] == '\'=HYPERLINK("https://example.com")'
    assert plain_cells(["-1 g", "@x", "\tx", -5, "x"]) == ["'-1 g", "'@x", "'\tx", -5, "x"]


def test_postings_when_exported_then_each_flow_is_zero_and_kinds_are_the_contracts(shop: Shop):
    _, pack = shop.packed("600 g")
    shop.sell(pack, at="2026-05-22")
    rows = [dict(zip(HEADERS["postings"], row, strict=True)) for row in rows_of(shop.ledger, "postings")]
    flows: dict[tuple[object, object], int] = {}
    for row in rows:
        flows[row["fact"], row["flow"]] = flows.get((row["fact"], row["flow"]), 0) + int(row["milligrams"])
    assert set(flows.values()) == {0}
    assert {row["kind"] for row in rows} <= {
        "animal", "part", "ingredient", "piece", "pack", "supplier", "customer", "drying", "drip and brine"}  # fmt: skip
