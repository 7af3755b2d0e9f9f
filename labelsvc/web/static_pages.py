"""The buyer's pages as files, for any host that only serves files: at the same paths as the links in the QR codes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labelsvc.ledger.database import Ledger
from labelsvc.operations.buyer import maker_of, pages_of
from labelsvc.web.buyers_page import pack_page, unknown_page

_PARTS = ("lot", "01")  # the folders of our links: nothing else in the folder is touched
NOT_FOUND = "404.html"  # what most hosts of files show where there is none


@dataclass
class Written:
    """What an export came to.

    Args:
        written: files that are new or say something else than before.
        unchanged: files left as they were.
        removed: pages of packs that the record knows no more.
    """

    written: int = 0
    unchanged: int = 0
    removed: int = 0


def export_pages(ledger: Ledger, folder: Path) -> Written:
    """Write the page of every pack and pack lot that ever had a sale label, and a page for a code that leads nowhere.

    A page that says the same as the file already does is not touched, so that only what changed need be sent to the host.

    Args:
        ledger: where.
        folder: becomes what the base address in the QR codes points to; made if missing.
    """
    done = Written()
    old = {file for part in _PARTS for file in (folder / part).glob("**/index.html")}
    for paths, seen in pages_of(ledger):
        page = pack_page(seen, None)
        for path in paths:
            file = folder / path.removeprefix("/") / "index.html"
            old.discard(file)
            _put(file, page, done)
    for file in old:
        file.unlink()
        done.removed += 1
    _put(folder / NOT_FOUND, unknown_page("", maker_of(ledger), None), done)
    return done


def _put(file: Path, page: str, done: Written) -> None:
    if file.is_file() and file.read_bytes() == page.encode():
        done.unchanged += 1
        return
    file.parent.mkdir(parents=True, exist_ok=True)
    beside = file.with_suffix(".new")  # whoever reads meanwhile gets the old page or the new one, never half of one
    beside.write_bytes(page.encode())
    beside.replace(file)
    done.written += 1
