"""Workbooks and CSV: everything is in them, and no text is ever a formula; read back by another library."""

import csv
import io
import zipfile

import pytest
from click.testing import CliRunner
from python_calamine import CalamineWorkbook

from labelsvc.cli.group import labelsvc as command
from labelsvc.exchange.spreadsheet import write_workbook

EVIL = '=HYPERLINK("http://example.com","x")'


@pytest.fixture
def sold(shop):
    shop.record("customer", name=EVIL)
    _, one, _ = shop.packed("330 g", "340 g")
    shop.day = "2026-05-22"
    shop.sell(one, customer=EVIL, document="+note")
    return shop


def test_a_workbook_when_read_back_then_everything_is_in_it_and_text_is_text(sold, tmp_path, monkeypatch):
    from labelsvc.operations.exporting import sheets_of

    write_workbook(tmp_path / "all.xlsx", sheets_of(sold.ledger))
    book = CalamineWorkbook.from_path(tmp_path / "all.xlsx")
    assert book.sheet_names == ["facts", "postings", "contacts", "sales", "lots"]
    sales = book.get_sheet_by_name("sales").to_python()
    assert (sales[1][3], sales[1][5]) == (EVIL, "+note")
    assert len(book.get_sheet_by_name("facts").to_python()) == sold.facts() + 1
    grams = [row[5] for row in book.get_sheet_by_name("postings").to_python()[1:]]
    assert sum(grams) == 0
    assert sales[1][4] == 330.0  # a number: the column can be sorted and added up
    with zipfile.ZipFile(tmp_path / "all.xlsx") as parts:
        sheets = [parts.read(name) for name in parts.namelist() if name.startswith("xl/worksheets/sheet")]
    assert len(sheets) == 5
    assert all(b"<autoFilter ref=" in sheet and b"<f>" not in sheet for sheet in sheets)


def test_a_table_longer_than_a_sheet_when_written_then_it_goes_on_in_the_next(tmp_path, monkeypatch):
    monkeypatch.setattr("labelsvc.exchange.spreadsheet._MOST_ROWS", 2)
    write_workbook(tmp_path / "long.xlsx", [("rows", ("n",), [(n,) for n in range(5)])])
    book = CalamineWorkbook.from_path(tmp_path / "long.xlsx")
    assert book.sheet_names == ["rows", "rows 2", "rows 3"]
    assert book.get_sheet_by_name("rows 3").to_python() == [["n"], [4.0]]


def test_csv_when_a_name_looks_like_a_formula_then_a_quote_stands_before_it(file_shop):
    file_shop.record("customer", name=EVIL)
    _, one, _ = file_shop.packed("330 g", "340 g")
    file_shop.day = "2026-05-22"
    file_shop.sell(one, customer=EVIL)
    for what, column in (("sales", 3), ("postings", 3)):
        done = CliRunner().invoke(command, ["export", what, "--database", file_shop.url], catch_exceptions=False)
        cells = [row[column] for row in csv.reader(io.StringIO(done.output))]
        assert f"'{EVIL}" in cells
        assert EVIL not in cells
