"""Printing the labels of each moment: the tag at stringing, the sale label at packing, the cards and tags of the workshop."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict
from typing import Any

from labelsvc import choices
from labelsvc.codes.link import base_address, batch_link
from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import BlockedError, ConflictError, LabelsvcError
from labelsvc.labels.content import LabelContent
from labelsvc.labels.layout import Purpose
from labelsvc.labels.shelf import Shelf
from labelsvc.ledger import issued, read
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.effective import kind_and_target, standing_in
from labelsvc.ledger.read import LotRow
from labelsvc.ledger.state import LotState
from labelsvc.operations.case_label import case_printouts
from labelsvc.operations.content import Said, all_sale_said, product_of, sale_said, tag_language, tag_said, workshop_of
from labelsvc.operations.issuing import (
    USUAL,
    Issued,
    Press,
    Printout,
    Stock,
    as_issued,
    issue,
    issue_in_chunks,
    press,
    title_of,
)
from labelsvc.operations.recording import record, zone_of
from labelsvc.operations.sale_forms import as_layout_asks, sale_printout
from labelsvc.operations.workshop_labels import container_printout, hold_printout, tag_printout, tub_printout
from labelsvc.rules.finding import Finding

TAG = "hanging_tag_60x120"
NOT_FOR_SALE = "not_for_sale_tag_60x120"
HOLD = "hold_tag_60x120"
SALE_LABEL = "sale_label_70x100"
US_SALE_LABEL = "sale_label_us_70x100"
US_TO_COOK = "sale_label_us_to_cook_100x150"
DIRECT_CARD = "direct_sale_card_105x74"
LOOSE_CARD = "loose_counter_card_105x74"
TUB_CARD = "tub_card_105x148"
CONTAINER = "container_label_70x50"
CASE = "case_label_148x105"
MARKER = "marker_strip_100x20"
TAG_AHEAD = "tag_ahead_60x120"


def tag(
    ledger: Ledger,
    text: str,
    *,
    layouts: Shelf,
    now: dt.datetime,
    who: str = "",
    language: str | None = None,
    stock: Stock = USUAL,
) -> Issued:
    """Return the hanging tag of a piece; a workshop that does not sell gets the one that says so in large letters.

    Args:
        ledger: where.
        text: the piece's code or marker.
        layouts: the layouts at hand.
        now: the present.
        who: who prints it.
        language: of its words; that of the product's labels if left out.
        stock: layout, sheet and dots of the printer; the usual ones if left out.

    Raises:
        NotFoundError, ConflictError: no such piece, or it is not strung.
        LayoutError: something does not fit; says which layout would do.
    """
    with ledger.reading() as connection:
        piece, workshop = read.find(connection, text), workshop_of(connection)
        said = tag_said(connection, piece, language)
        language = language or tag_language(product_of(connection, piece.state), workshop)
    is_for_sale = choices.standing(workshop.standing) != "not_for_sale"
    with_press = press(layouts, stock, TAG if is_for_sale else NOT_FOR_SALE, language)
    return issue(ledger, [tag_printout(said, workshop, now)], with_press, now=now, who=who)


def sale_label(ledger: Ledger, text: str, *, layouts: Shelf, now: dt.datetime, who: str = "", stock: Stock = USUAL) -> Issued:
    """Return the sale label of a pack, or those of all packs of a pack lot.

    Args: as of ``tag``.

    Raises:
        BlockedError: held, not released, not for sale, or over a limit; there is no override.
        LayoutError: something does not fit; says which layout would do.
    """
    printouts, with_press = _sale_printouts(ledger, text, layouts, now, stock)
    return issue(ledger, printouts, with_press, now=now, who=who)


def sale_labels(
    ledger: Ledger,
    text: str,
    *,
    layouts: Shelf,
    now: dt.datetime,
    who: str = "",
    stock: Stock = USUAL,
    progress: Callable[[int], None] = lambda done: None,
) -> Iterator[Issued]:
    """Yield the sale labels of a pack lot in documents of a bounded size, so that thousands need no more memory than a few.

    Args: as of ``tag``; ``progress`` hears how many labels are done.

    Raises:
        BlockedError, LayoutError: as of ``sale_label``.
    """
    printouts, with_press = _sale_printouts(ledger, text, layouts, now, stock)
    yield from issue_in_chunks(ledger, printouts, with_press, now=now, who=who, progress=progress)


def _sale_printouts(ledger: Ledger, text: str, layouts: Shelf, now: dt.datetime, stock: Stock) -> tuple[list[Printout], Press]:
    with ledger.reading() as connection:
        said = _sale_said(connection, text, now)
        market, language = (said[0].lot.market or "eu").lower(), (said[0].lot.language or "en").lower()
        with_press = press(layouts, stock, _usual_sale_label(connection, said[0].lot), language, market)
        today = _today(connection, now)
        return [sale_printout(connection, one, with_press.layout, today) for one in said], with_press


def usual_sale_label(ledger: Ledger, lot: LotState) -> str:
    """Return the layout of a pack's sale label where none was chosen: in the United States that of its block, if it needs one."""
    with ledger.reading() as connection:
        return _usual_sale_label(connection, lot)


def _usual_sale_label(connection: Connection, lot: LotState) -> str:
    if (lot.market or "eu").lower() != "us":
        return SALE_LABEL
    product = product_of(connection, lot)
    is_ready = product.eaten == "as_is" or "safe_handling" in product.on_stock
    return US_SALE_LABEL if is_ready else US_TO_COOK


def counter_card(ledger: Ledger, text: str, *, layouts: Shelf, now: dt.datetime, who: str = "", stock: Stock = USUAL) -> Issued:
    """Return the card beside a pack lot on the counter: for food packed for direct sale, or loose.

    Args: as of ``tag``.

    Raises:
        BlockedError: as of ``sale_label``.
    """
    with ledger.reading() as connection:
        said = _sale_said(connection, text, now)[0]
        usual = LOOSE_CARD if choices.form_of_sale(said.lot.form or "direct") == "loose" else DIRECT_CARD
        with_press = press(layouts, stock, usual, (said.lot.language or "en").lower(), said.lot.market)
        one = sale_printout(connection, said, with_press.layout, _today(connection, now), is_card=True)
    return issue(ledger, [one], with_press, now=now, who=who)


def hold_tag(ledger: Ledger, text: str, *, layouts: Shelf, now: dt.datetime, who: str = "", stock: Stock = USUAL) -> Issued:
    """Return the tag of a lot that is held. Args: as of ``tag``.

    Raises:
        ConflictError: nothing holds it.
    """
    with ledger.reading() as connection:
        one = hold_printout(connection, read.find(connection, text))
    return issue(ledger, [one], press(layouts, stock, HOLD, "en"), now=now, who=who)


def tub_card(ledger: Ledger, tub: str, *, layouts: Shelf, now: dt.datetime, who: str = "", stock: Stock = USUAL) -> Issued:
    """Return the card of a tub.

    Args: as of ``tag``; ``tub`` is its name.

    Raises:
        ConflictError: nothing is in cure in it.
    """
    with ledger.reading() as connection:
        one = tub_printout(connection, tub)
    return issue(ledger, [one], press(layouts, stock, TUB_CARD, "en"), now=now, who=who)


def container_label(
    ledger: Ledger, text: str, *, layouts: Shelf, now: dt.datetime, who: str = "", stock: Stock = USUAL
) -> Issued:
    """Return the label for the container of an ingredient lot. Args: as of ``tag``.

    Raises:
        ConflictError: no ingredient.
    """
    with ledger.reading() as connection:
        one = container_printout(connection, read.find(connection, text))
    return issue(ledger, [one], press(layouts, stock, CONTAINER, "en"), now=now, who=who)


def case_label(
    ledger: Ledger, packs: Sequence[str], *, layouts: Shelf, now: dt.datetime, who: str = "", stock: Stock = USUAL
) -> Issued:
    """Return the labels of shipping cases with these packs: one a pack lot, because a code holds one lot.

    Args: as of ``tag``; ``packs`` are the codes of packs or pack lots in the cases.

    Raises:
        BlockedError: as of ``sale_label``.
    """
    with ledger.reading() as connection:
        said = [one for code in packs for one in _sale_said(connection, code, now)]
        with_press = press(layouts, stock, CASE, (said[0].lot.language or "en").lower(), said[0].lot.market)
        printouts = case_printouts(connection, said, with_press.layout, with_press.dots_per_mm)
    return issue(ledger, printouts, with_press, now=now, who=who)


def markers(ledger: Ledger, count: int, *, layouts: Shelf, now: dt.datetime, who: str = "", stock: Stock = USUAL) -> Issued:
    """Return blank markers, printed ahead: their codes are reserved, and each waits for the piece it will hang on.

    Args:
        ledger: where.
        count: how many.
        layouts: the layouts at hand.
        now: the present.
        who: who prints them.
        stock: sheet, layout and dots of the printer; the usual ones if left out.

    Raises:
        InputError: not 1 to 500.
    """
    with_press = press(layouts, stock, MARKER, "en")
    done = record(ledger, "reserve", {"count": count}, now=now, who=who)
    placed = with_press.place(_markers_said(ledger, done.codes, with_press))
    pdf = with_press.draw(placed, title_of(with_press.layout, done.codes))
    return Issued(pdf, done.fact, done.codes, (), with_press.prove(pdf, placed))


def markers_again(ledger: Ledger, fact: int, *, layouts: Shelf, stock: Stock = USUAL) -> bytes:
    """Return the markers of a reservation once more, for the printer; nothing is recorded.

    Raises:
        NotFoundError, ConflictError: as of ``reserved_by``.
    """
    codes = reserved_by(ledger, fact)
    with_press = press(layouts, stock, MARKER, "en")
    return with_press.draw(with_press.place(_markers_said(ledger, codes, with_press)), title_of(with_press.layout, codes))


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


def _markers_said(ledger: Ledger, codes: Sequence[str], with_press: Press) -> list[LabelContent]:
    """Say the code of each marker, and the link to the record it will have where the layout has room for one."""
    base = ""
    if "qr" in with_press.layout.elements:
        with ledger.reading() as connection:
            base = workshop_of(connection).base_url or ""
    found = []
    for code in codes:
        day, serial = LotCode.parse(code).spoken
        link = {"qr": batch_link(base_address(base), LotCode.parse(code))} if base else {}
        found.append(LabelContent({"lot_code_day": day, "lot_code_serial": serial, "code128": code, **link}))
    return found


def tag_as_issued(ledger: Ledger, text: str, *, layouts: Shelf) -> bytes:
    """Return the tag of a piece as it was last printed; nothing is recorded.

    Raises:
        NotFoundError: no such piece, or it has no tag yet.
    """
    return label_as_issued(ledger, text, "hanging_tag", layouts=layouts)


def label_as_issued(ledger: Ledger, key: str, purpose: Purpose, *, layouts: Shelf) -> bytes:
    """Return the label of a lot or tub for a purpose as it was last printed; nothing is recorded.

    Args:
        ledger: where.
        key: a code, marker or number.
        purpose: tag, card or container label ...
        layouts: the layouts at hand.

    Raises:
        NotFoundError: no such lot, or no such label.
    """
    with ledger.reading() as connection:
        codes = [read.find(connection, key).code]
        return as_issued(connection, codes, lambda layout: layout.purpose == purpose, layouts)


def sale_label_as_issued(ledger: Ledger, text: str, *, layouts: Shelf, now: dt.datetime) -> bytes:
    """Return the sale labels of a pack or pack lot as they were last printed; nothing is recorded.

    Raises:
        NotFoundError: none was printed.
        BlockedError: none may be printed now, as of ``sale_label``.
    """
    with ledger.reading() as connection:
        codes = [one.lot.code for one in _sale_said(connection, text, now)]
        return as_issued(connection, codes, lambda layout: layout.purpose == "sale_label", layouts)


def issued_labels(connection: Connection, lot: LotRow) -> list[dict[str, Any]]:
    """Return the labels issued for a lot, newest first; one is superseded where it would say something else today."""
    found = []
    for label in issued.labels_of(connection, lot.code):
        content = label["content"].get(lot.code) or next(iter(label["content"].values()), None)
        told = {name: label[name] for name in ("fact", "day", "layout", "lots", "void", "reprints")}
        is_superseded = lot.code in label["content"] and not label["void"] and _says_else(connection, lot, label)
        found.append({**told, "content": content, "superseded": is_superseded})
    return found


def _says_else(connection: Connection, lot: LotRow, label: dict[str, Any]) -> bool:
    """Tell whether a label would say other words today, or could not be issued."""
    was: dict[str, Any] = label["content"][lot.code]["elements"]
    if "packs" in was:
        return False  # a case says what was in it when it was closed
    try:
        return bool(_content_today(connection, lot, was, label["language"]).as_json()["elements"] != was)
    except LabelsvcError:
        return True


def _content_today(connection: Connection, lot: LotRow, was: dict[str, Any], language: str) -> LabelContent:
    if "food_name" in was:
        pack = read.units_of(connection, lot)[0]  # a card on the counter is for the whole lot, and says what its packs say
        on = pack.state.packed_on or pack.state.born
        return as_layout_asks(connection, sale_said(connection, pack, on), was, on).content
    if "reason" in was:
        return hold_printout(connection, lot).content
    if "ingredient" in was:
        return container_printout(connection, lot).content
    return tag_said(connection, lot, language).content


def _today(connection: Connection, now: dt.datetime) -> dt.date:
    return now.astimezone(zone_of(connection)).date()


def _sale_said(connection: Connection, text: str, now: dt.datetime) -> list[Said]:
    """What the sale labels of a pack or pack lot say today, where they may be printed."""
    units = read.units_of(connection, read.find(connection, text))
    _may_be_labelled(connection, units)
    said = all_sale_said(connection, units, _today(connection, now))
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
