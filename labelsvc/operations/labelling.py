"""Printing a tag or sale label: said from the ledger, laid out, drawn, proved, and kept as a fact of what left the printer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from labelsvc import choices
from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import BlockedError, ConflictError, LabelsvcError, NotFoundError
from labelsvc.labels.content import LabelContent
from labelsvc.labels.draw import draw, lay_out
from labelsvc.labels.layout import Layout, read_layout
from labelsvc.labels.proof import Proof, prove
from labelsvc.ledger import read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.effective import kind_and_target, standing_in
from labelsvc.ledger.read import LotRow
from labelsvc.operations.content import Said, sale_said, tag_said, workshop_of
from labelsvc.operations.recording import record, zone_of
from labelsvc.rules.finding import Finding

TAG = "hanging_tag_60x120"
SALE_LABEL = "sale_label_70x100"
MARKER = "marker_strip_100x20"


@dataclass(frozen=True)
class Issued:
    """A label that was proved and may leave the printer.

    Args:
        pdf: one page a label.
        fact: the fact that keeps what it says; an earlier one where nothing has changed since.
        lots: the codes, one a page.
        findings: what the person should hear of.
        proof: what was measured.
    """

    pdf: bytes
    fact: int
    lots: tuple[str, ...]
    findings: tuple[Finding, ...]
    proof: Proof


def tag(
    ledger: Ledger,
    text: str,
    *,
    layouts: Path,
    now: dt.datetime,
    who: str = "",
    language: str = "en",
    dots_per_mm: float | None = None,
) -> Issued:
    """Return the hanging tag of a piece.

    Args:
        ledger: where.
        text: the piece's code or marker.
        layouts: the folder of layouts.
        now: the present.
        who: who prints it.
        language: of its words.
        dots_per_mm: of the printer; the layout's own if None.

    Raises:
        NotFoundError, ConflictError: no such piece, or it is not strung.
        LayoutError: something does not fit.
    """
    with ledger.reading() as connection:
        said = [tag_said(connection, read.find(connection, text), language)]
    return _issue(ledger, said, layouts / f"{TAG}.toml", language, now, who, dots_per_mm)


def sale_label(
    ledger: Ledger, text: str, *, layouts: Path, now: dt.datetime, who: str = "", dots_per_mm: float | None = None
) -> Issued:
    """Return the sale label of a pack, or those of all packs of a pack lot.

    Args: as of ``tag``.

    Raises:
        BlockedError: held, not released, not for sale, or over a limit; there is no override.
    """
    with ledger.reading() as connection:
        said = _sale_said(connection, text, now)
    language = (said[0].lot.language or "en").lower()
    return _issue(ledger, said, layouts / f"{SALE_LABEL}.toml", language, now, who, dots_per_mm)


def markers(
    ledger: Ledger, count: int, *, layouts: Path, now: dt.datetime, who: str = "", dots_per_mm: float | None = None
) -> Issued:
    """Return blank markers, printed ahead: their codes are reserved, and each waits for the piece it will hang on.

    Args:
        ledger: where.
        count: how many.
        layouts: the folder of layouts.
        now: the present.
        who: who prints them.
        dots_per_mm: of the printer; the layout's own if None.

    Raises:
        InputError: not 1 to 500.
    """
    done = record(ledger, "reserve", {"count": count}, now=now, who=who)
    placed, pdf = _drawn_markers(done.codes, layouts, dots_per_mm)
    return Issued(pdf, done.fact, done.codes, (), prove(pdf, placed, dots_per_mm))


def markers_again(ledger: Ledger, fact: int, *, layouts: Path) -> bytes:
    """Return the markers of a reservation once more, for the printer; nothing is recorded.

    Raises:
        NotFoundError, ConflictError: as of ``reserved_by``.
    """
    return _drawn_markers(reserved_by(ledger, fact), layouts, None)[1]


def reserved_by(ledger: Ledger, fact: int) -> tuple[str, ...]:
    """Return the codes that a reservation gave out.

    Raises:
        NotFoundError: no such fact; ConflictError: it was taken back, or reserves nothing.
    """
    with ledger.reading() as connection:
        kind, _ = kind_and_target(connection, fact)
        happening = standing_in(connection, fact).happening if kind == "reserve" else None
    if happening is None:
        raise ConflictError("fact", "a reservation of markers that stands", f"fact {fact}, which is none or was taken back")
    return tuple(happening.codes)


def _drawn_markers(codes: Sequence[str], layouts: Path, dots_per_mm: float | None) -> tuple[Any, bytes]:
    layout = read_layout(layouts / f"{MARKER}.toml")
    said = []
    for code in codes:
        day, serial = LotCode.parse(code).spoken
        said.append(LabelContent({"lot_code_day": day, "lot_code_serial": serial, "code128": code}))
    placed = lay_out(layout, said, dots_per_mm=dots_per_mm, language="en")
    return placed, draw(placed, title=f"{layout.title} {codes[0]}", language="en")


def tag_as_issued(ledger: Ledger, text: str, *, layouts: Path) -> bytes:
    """Return the tag of a piece as it was last printed; nothing is recorded.

    Raises:
        NotFoundError: no such piece, or it has no tag yet.
    """
    with ledger.reading() as connection:
        return _as_issued(connection, [read.find(connection, text).code], TAG, layouts)


def sale_label_as_issued(ledger: Ledger, text: str, *, layouts: Path, now: dt.datetime) -> bytes:
    """Return the sale labels of a pack or pack lot as they were last printed; nothing is recorded.

    Raises:
        NotFoundError: none was printed.
        BlockedError: none may be printed now, as of ``sale_label``.
    """
    with ledger.reading() as connection:
        codes = [one.lot.code for one in _sale_said(connection, text, now)]
        return _as_issued(connection, codes, SALE_LABEL, layouts)


def _as_issued(connection: Connection, codes: Sequence[str], name: str, layouts: Path) -> bytes:
    """Draw what the last label of each lot says; a lot without one is left out."""
    found = {}
    for code in codes:
        mine = (one for one in read.labels_of(connection, code) if one["layout"] == name and code in one["content"])
        last = next(mine, None)
        if last is not None:
            found[code] = last
    if not found:
        raise NotFoundError("code", "a lot with a label that was printed", codes[0], "Print it first.")
    language = str(next(iter(found.values())).get("language") or "en")
    layout = read_layout(layouts / f"{name}.toml")
    placed = lay_out(layout, [LabelContent.from_json(one["content"][code]) for code, one in found.items()], language=language)
    return draw(placed, title=f"{layout.title} {next(iter(found))}", language=language)


def issued_labels(connection: Connection, lot: LotRow) -> list[dict[str, Any]]:
    """Return the labels issued for a lot, newest first; one is superseded where it would say something else today."""
    return [
        {
            "fact": label["fact"],
            "day": label["day"],
            "layout": label["layout"],
            "lots": label["lots"],
            "content": label["content"].get(lot.code),
            "superseded": _content_today(connection, lot, label) != label["content"].get(lot.code),
        }
        for label in read.labels_of(connection, lot.code)
        if lot.code in label["content"]
    ]


def _content_today(connection: Connection, lot: LotRow, label: dict[str, Any]) -> dict[str, Any] | None:
    """Return what the label would say today, or None where it could not be issued."""
    try:
        if label["layout"] == TAG:
            return tag_said(connection, lot, label["language"]).content.as_json()
        return sale_said(connection, lot, lot.state.packed_on or lot.state.born).content.as_json()
    except LabelsvcError:
        return None


def _sale_said(connection: Connection, text: str, now: dt.datetime) -> list[Said]:
    """What the sale labels of a pack or pack lot say today, where they may be printed."""
    units = read.units_of(connection, read.find(connection, text))
    today = now.astimezone(zone_of(connection)).date()
    _may_be_labelled(connection, units)
    said = [sale_said(connection, unit, today) for unit in units]
    stops = [finding for one in said for finding in one.stops]
    if stops:
        raise BlockedError(
            f"code: no sale label for {text}: {stops[0].message}", [asdict(finding) for finding in dict.fromkeys(stops)]
        )
    return said


def _may_be_labelled(connection: Connection, units: Sequence[LotRow]) -> None:
    for unit in units:
        state = unit.state
        if state.kind != "pack":
            raise ConflictError("code", "a pack or pack lot", f"{state.code}, of kind {state.kind}", "Pack it first.")
        legal = [held.finding for held in state.held_for if held.finding is not None]
        if legal:
            raise BlockedError(f"code: no sale label for {state.code}: {legal[0]['message']}", legal)
        reason = _why_not(connection, unit)
        if reason:
            finding = Finding(
                "workshop.may_be_sold",
                "stop",
                True,
                None,
                state.code,
                None,
                None,
                None,
                "read",
                "the workshop's own records",
                reason,
            )
            raise BlockedError(f"code: no sale label for {state.code}: {reason}", [asdict(finding)])


def _why_not(connection: Connection, unit: LotRow) -> str:
    if unit.state.is_held:
        return f"it is held ({unit.state.held_for[-1].reason}); lift the hold first"
    if unit.state.released_by is None:
        return "it is not released; release the lot first"
    if choices.standing(workshop_of(connection).standing) == "not_for_sale":
        return "the workshop does not sell; tags say NOT FOR SALE"
    return ""


def _issue(
    ledger: Ledger, said: Sequence[Said], file: Path, language: str, now: dt.datetime, who: str, dots_per_mm: float | None
) -> Issued:
    layout = read_layout(file)
    placed = lay_out(layout, [one.content for one in said], dots_per_mm=dots_per_mm, language=language)
    codes = tuple(one.lot.code for one in said)
    pdf = draw(
        placed, title=f"{layout.title} {codes[0]}{f' and {len(codes) - 1} more' if len(codes) > 1 else ''}", language=language
    )
    proof = prove(pdf, placed, dots_per_mm)
    fact = _keep(ledger, said, layout, file.stem, language, proof, now, who)
    findings = tuple(dict.fromkeys(finding for one in said for finding in one.findings))
    return Issued(pdf, fact, codes, findings, proof)


def _keep(
    ledger: Ledger, said: Sequence[Said], layout: Layout, name: str, language: str, proof: Proof, now: dt.datetime, who: str
) -> int:
    """Record what the labels say, unless the last issue of each says just the same: then it is a reprint of that."""
    content = {one.lot.code: one.content.as_json() for one in said}
    with ledger.reading() as connection:
        last = read.labels_of(connection, said[0].lot.code)
    if last and last[0]["layout_digest"] == layout.digest and last[0]["content"] == content:
        return int(last[0]["fact"])
    given = {
        "lots": list(content),
        "layout": name,
        "layout_digest": layout.digest,
        "content": content,
        "market": said[0].lot.market,
        "language": language,
        "rules": sorted({finding.rule for one in said for finding in one.findings}),
        "allergens": sorted({allergen for one in said for allergen in one.allergens}),
        "proof": {"dots_per_mm": f"{proof.dots_per_mm:g}", "pages": [proof_said(page) for page in proof.pages]},
    }
    return record(ledger, "issue_label", {key: value for key, value in given.items() if value is not None}, now=now, who=who).fact


def proof_said(page: Any) -> dict[str, Any]:
    """Return the figures of one page's proof as text: what was decoded and measured."""
    return {
        "symbols": [f"{identifier} {data.decode('ascii')}" for identifier, data in page.symbols],
        "module_mm": {name: f"{value:.3f}" for name, value in page.module_mm.items()},
        "bar_height_mm": {name: f"{value:.2f}" for name, value in page.bar_height_mm.items()},
        "ink_in_hole": page.ink_in_hole,
        "ink_in_quiet_zones": page.ink_in_quiet_zones,
        "smallest_x_mm": None if page.smallest_x_mm is None else f"{page.smallest_x_mm:.3f}",
        "notes": list(page.notes),
    }
