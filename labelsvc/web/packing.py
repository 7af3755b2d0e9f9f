"""Packing: scan the tag once, then each weight gives a label; the session remembers the rest."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from flask import Blueprint, flash, redirect, request, session, url_for
from werkzeug.wrappers import Response

from labelsvc.errors import InputError, LabelsvcError
from labelsvc.operations import labelling, looking, packing
from labelsvc.operations.batch import batch_record
from labelsvc.operations.issuing import Issued, Stock
from labelsvc.operations.recording import Recorded
from labelsvc.units import grams_text
from labelsvc.web import moments, printers, station
from labelsvc.web.forms import Field, Form, Rows, said

pages = Blueprint("packing", __name__)

MARKETS = (("eu", "European Union"), ("gb", "Great Britain"), ("us", "United States"))
LANGUAGES = (("en", "English"), ("fr", "French"), ("de", "German"), ("it", "Italian"), ("es", "Spanish"))
_FORMS = (
    ("prepacked", "Prepacked"),
    ("direct", "Packed for direct sale"),
    ("loose", "Loose"),
    ("bulk", "In bulk to trade"),
)
REMEMBERED = ("market", "language", "form", "slicer", "things", "country", "layout")
_SEVERAL = re.compile(r"([0-9]{1,3})\s*[x×]\s*(.+)", re.ASCII)
MOST_EQUAL = 200  # packs of one press

START = Form(
    "pack",
    "Pack",
    (
        Field("from", "Pieces", "codes", hint="Scan the tag; several pieces into mixed packs go one a line."),
        Field("first", "First pack", "weight", unit="g", hint="Net weight. Equal packs: 5 x 120 g."),
        Field("market", "Sold in", "choice", choices=MARKETS),
        Field("language", "Language of the label", "choice", choices=LANGUAGES),
        Field("form", "How it is sold", "choice", choices=_FORMS),
        Field("session", "Session", hint="A germ on a slicer is one session."),
        Field("slicer", "Slicer", required=False),
        Field("things", "Other machines", "list", required=False, hint="Netting or vacuum machine, board: with commas between."),
        Field("may_contain", "Allergens to warn of", "list", required=False, hint="Only if something else was there before."),
        Field("country", "Country of sale", required=False, hint="Two capitals, such as FR; your own if left empty."),
        Field("product", "Product of mixed packs", "card", required=False, card="product"),
    ),
    "Weigh and label the first pack",
)
NEXT = Form(
    "pack",
    "Next pack",
    (Field("weight", "On the scale", "weight", unit="g", hint="Net weight. Equal packs: 5 x 120 g."),),
    "Label it",
    when=False,
)
FINISH = Form(
    "pack",
    "End the session",
    (
        Rows(
            "from",
            "What is left",
            (
                Field("piece", "Piece", carried=True),
                Field("rest", "Rest", "weight", required=False, unit="g"),
                Field("trim", "Trimmed away", "weight", required=False, unit="g"),
            ),
            "",
            start=0,
            hint="Nothing left: leave the rest empty.",
        ),
    ),
    "End the session",
    "What is neither packed, left nor trimmed has dried since the last weighing; that is posted by itself.",
    when=False,
)


@pages.route("/pack", methods=["GET", "POST"])
def start() -> moments.Answer:
    """Begin a session with its first pack."""
    asked = request.args.getlist("from")
    lot = moments.lot_head(asked[0]) if asked else None
    day = looking.today(station.ledger(), station.now())
    name = f"{lot.lot.name if lot else 'packing'}, {day.isoformat()}"
    first = {"form": "prepacked", "session": name, "from": "\n".join(asked), **_remembered(lot)}
    if lot and "whole" in request.args:
        first["first"] = f"{grams_text(lot.lot.milligrams)} g"
    released = [one for one in looking.standings(station.ledger()) if one.next_step == "pack"]
    return moments.moment(
        _with_stock(START), _begun, act=_begin, start=first, template="pack.html",
        about=",".join(asked), lot=lot, released=released,
    )  # fmt: skip


@pages.route("/pack/<int:fact>", methods=["GET", "POST"])
def desk(fact: int) -> moments.Answer:
    """Weigh one pack after the other."""
    at = packing.session_of(station.ledger(), fact)

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        weights = _weights(given.get("weight", ""), "weight")
        try:
            return packing.add_packs(
                station.ledger(),
                fact,
                weights,
                now=station.now(),
                who=station.who(),
                confirmed=confirmed,
                once=station.once_key(),
            )
        except InputError as error:
            raise type(error)("weight", error.expected, error.got, error.hint) from None

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        added = len(_weights(given["weight"], "weight"))
        return _labelled(fact, recorded.codes[-added:])

    return moments.moment(
        NEXT, done, act=act, template="desk.html", about=str(fact), at=at, label=request.args.getlist("label"),
        sent=printers.sent_here(),
        lot=looking.standing_of(station.ledger(), at.pieces[0].code),
    )  # fmt: skip


@pages.route("/pack/<int:fact>/end", methods=["GET", "POST"])
def end(fact: int) -> moments.Answer:
    """Say what is left, and end the session."""
    at = packing.session_of(station.ledger(), fact)

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        left = given.get("from") or [{"piece": piece.code} for piece in at.pieces]
        return packing.finish(
            station.ledger(), fact, left, now=station.now(), who=station.who(), confirmed=confirmed, once=station.once_key()
        )

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        flash(f"The session is ended: {len(at.packs)} packs of {at.code}.", "did")
        changed = [label for label in batch_record(station.ledger(), at.code)["labels"] if label["superseded"]]
        if changed:
            codes = sorted({code for label in changed for code in label["lots"]})
            flash(f"{len(codes)} labels would say something else now: print them again.", "stop")
        return redirect(f"/lot/{at.code}?show=labels")

    rows = {f"from-{place}-piece": piece.code for place, piece in enumerate(at.pieces)}
    return moments.moment(FINISH, done, act=act, start=rows, template="pack_end.html", about=f"{fact}:end", at=at)


def _remembered(lot: looking.Standing | None) -> dict[str, str]:
    """Return what this station packed with last; market and language as far as the product is made for them."""
    last = {field: str(session[field]) for field in REMEMBERED if session.get(field)}
    for field, several, usual in (("market", "markets", "eu"), ("language", "languages", "en")):
        made_for = moments.card_named("product", lot.lot.product or "").get(several, ()) if lot else ()
        if made_for and last.get(field) not in made_for:
            last[field] = str(made_for[0])
        last.setdefault(field, usual)
    return last


def _with_stock(form: Form) -> Form:
    """Return the form with the label layouts at hand to choose from."""
    sizes = ((layout.name, layout.title) for layout in station.station().layouts.for_purpose("sale_label"))
    stock = Field("layout", "Label stock", "choice", choices=(("", "The usual one"), *sizes))
    return replace(form, parts=(*form.parts, stock, *printers.choice("sale-label", "Print the labels on")))


def _begin(given: dict[str, Any], confirmed: bool) -> Recorded:
    fields = {name: value for name, value in given.items() if name not in ("first", "from", "layout", "printer")}
    weights = _weights(given.get("first", ""), "first")
    body = {**fields, "from": [{"piece": code} for code in given.get("from", [])], "packs": [{"weight": one} for one in weights]}
    try:
        return packing.begin(
            station.ledger(), body, now=station.now(), who=station.who(), confirmed=confirmed, once=station.once_key()
        )
    except InputError as error:
        field = "first" if error.field.startswith("packs") else error.field
        raise type(error)(field, error.expected, error.got, error.hint) from None


def _begun(recorded: Recorded, given: dict[str, Any]) -> Response:
    for name in REMEMBERED:
        session[name] = said(given.get(name))
    if "printer" in request.form:
        printers.remember("sale-label", given.get("printer", ""))
    return _labelled(recorded.fact, recorded.codes[1:])


def _labelled(fact: int, packs: tuple[str, ...]) -> Response:
    """Print the labels of new packs; a pack without one says why, and is there all the same."""
    at = station.station()
    printer = printers.of_station("sale-label")
    issued = []
    for code in packs:

        def issue(stock: Stock, code: str = code) -> Issued:
            return labelling.sale_label(at.ledger, code, layouts=at.layouts, now=at.now(), who=station.who(), stock=stock)

        try:
            issued.append(printers.issued_for(printer, issue, session.get("layout") or None))
        except LabelsvcError as error:
            flash(f"{code} is packed, but has no label: {error.message}", "stop")
            break
    printed = [code for one in issued for code in one.lots]
    return redirect(url_for("packing.desk", fact=fact, label=printed, sent=printers.send(printer, "sale-label", issued)))


def _weights(text: str, field: str) -> list[str]:
    """Read ``5 x 120 g`` as five weights, anything else as one."""
    match = _SEVERAL.fullmatch(text.strip())
    if match is None:
        return [text] if text else _none(field)
    times, weight = int(match.group(1)), match.group(2)
    if not 1 <= times <= MOST_EQUAL:
        raise InputError(field, f"1 to {MOST_EQUAL} equal packs", text)
    return [weight if re.search(r"[a-z]", weight, re.IGNORECASE) else f"{weight} {station.units()['g']}"] * times


def _none(field: str) -> list[str]:
    raise InputError(field, "the weight of the pack", "nothing")
