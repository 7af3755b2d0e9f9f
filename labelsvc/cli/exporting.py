"""``export``: everything out in open formats, and the buyer's pages as files."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import IO, Any

import click

from labelsvc.cli.options import as_json, database, now, opened, show_json
from labelsvc.errors import InputError
from labelsvc.ledger.database import Ledger

_ROWS = ("postings", "contacts", "facts", "sales")


@click.command()
@click.argument("what", type=click.Choice([*_ROWS, "epcis", "pages", "workbook"]))
@click.option("--output", type=click.Path(dir_okay=False, writable=True), help="Write to this file instead of standard output.")
@click.option("--folder", type=click.Path(file_okay=False, path_type=Path), help="For pages: the folder that a host serves.")
@as_json
@database
def export(what: str, output: str | None, folder: Path | None, as_json: bool, database: str) -> None:
    """Export postings, contacts or sales as CSV, or with --json as one JSON object a line; the sealed facts always so.

    workbook is all of that in one XLSX file (--output), text kept as text. epcis is an EPCIS 2.0 document (JSON-LD) of what
    happened to every lot, corrections declared as errors. pages are what buyers see behind the QR, as files for any host
    (--folder), at the same paths as the links; only what changed is written.
    """
    ledger = opened(database)
    if (what == "pages") != (folder is not None):
        raise InputError("folder", "a folder for pages, and for nothing else", "none" if folder is None else str(folder))
    if folder is not None:
        _pages(ledger, folder, as_json)
        return
    if what == "workbook":
        _workbook(ledger, output)
        return
    if what == "epcis":
        _epcis(ledger, output)
        return
    with click.open_file(output or "-", "w", encoding="utf-8") as file:
        _rows(ledger, what, file, as_json)


def _pages(ledger: Ledger, folder: Path, as_json: bool) -> None:
    from labelsvc.web.static_pages import export_pages

    done = export_pages(ledger, folder)
    if as_json:
        show_json(vars(done))
        return
    click.echo(f"{folder}: {done.written} files written, {done.unchanged} said the same already, {done.removed} removed.")


def _workbook(ledger: Ledger, output: str | None) -> None:
    from labelsvc.exchange.spreadsheet import write_workbook
    from labelsvc.operations.exporting import sheets_of

    if output is None:
        raise InputError("output", "a file for the workbook", "nothing", "Give --output everything.xlsx")
    write_workbook(Path(output), sheets_of(ledger))
    click.echo(f"{output}: facts, postings, contacts, sales and lots.")


def _epcis(ledger: Ledger, output: str | None) -> None:
    from labelsvc.operations.interchange import epcis_document

    parts = epcis_document(ledger, now())
    first = next(parts)  # what cannot be exported is said before a file is touched
    with click.open_file(output or "-", "wb") as file:
        file.write(first)
        for part in parts:
            file.write(part)


def _rows(ledger: Ledger, what: str, file: IO[Any], as_json: bool) -> None:
    from labelsvc.operations.exporting import HEADERS, plain_cells, rows_of

    rows = rows_of(ledger, what)
    if what == "facts" or as_json:
        for row in rows:
            one = row if what == "facts" else dict(zip(HEADERS[what], row, strict=True))
            file.write(json.dumps(one, ensure_ascii=False) + "\n")
        return
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(HEADERS[what])
    writer.writerows(map(plain_cells, rows))
