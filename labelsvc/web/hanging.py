"""Out of the tub and strung, weighed while it hangs, released: one scan, one weight, one press."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from flask import Blueprint, flash, redirect, request, session, url_for
from werkzeug.wrappers import Response

from labelsvc.errors import LabelsvcError
from labelsvc.ledger.printers import KnownPrinter
from labelsvc.operations import labelling, looking
from labelsvc.operations.issuing import Issued, Stock
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, printers, station
from labelsvc.web.forms import Field, Form
from labelsvc.web.scanning import lot_address
from labelsvc.web.today import MOST_LINES

pages = Blueprint("hanging", __name__)

_IS = (("gross", "With string, net and casing"), ("net", "Without"))
_TARE_HINT = "Leave empty to take the product's own."
STRING = Form(
    "string",
    "String",
    (
        Field("piece", "Piece", "lot", suggest="waiting", hint="Scan the marker, or type the code."),
        Field("weight", "On the scale", "weight", unit="g"),
        Field("place", "Hangs in", suggest="rooms"),
        Field("tare", "String, net and casing", "weight", required=False, unit="g", hint=_TARE_HINT),
        Field("weight_is", "The weight is", "choice", choices=_IS),
        Field("things", "Netting machine and the like", "list", required=False),
        Field("tag", "Tag printed ahead", "lot", required=False, hint="Only if one hangs on it: its number leads to the piece."),
    ),
    "Record and print the tag",
)


@pages.route("/string", methods=["GET", "POST"])
def string() -> moments.Answer:
    """String a piece and print its tag; a tub leads to its pieces one after the other."""
    tub = request.values.get("tub", "")
    waiting = looking.in_tub(station.ledger(), tub) if tub else _waiting()
    piece = request.values.get("piece", "") or (waiting[0].lot.code if tub and waiting else "")
    lot = moments.lot_head(piece) if piece and request.method == "GET" else moments.lot_found(piece)
    rooms = sorted({one.lot.place for one in looking.standings(station.ledger()) if one.lot.phase == "hanging" and one.lot.place})
    place = session.get("place") or (rooms[0] if len(rooms) == 1 else "")
    form = replace(STRING, parts=(*STRING.parts, *printers.choice("tag", "Print the tag on")))
    start = {"piece": piece, "place": place, "weight_is": "gross", "tag": request.args.get("ahead", "")}

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        return moments.recording("string")({name: value for name, value in given.items() if name != "printer"}, confirmed)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        session["place"] = given["place"]
        if "printer" in request.form:
            printers.remember("tag", given.get("printer", ""))
        code = looking.standing_of(station.ledger(), given["piece"]).lot.code
        return redirect(url_for("hanging.string", tub=tub or None, tag=code, sent=print_tags([code])))

    return moments.moment(
        form, done, act=act, start=start, template="string.html", about=piece, lot=lot, tub=tub, waiting=waiting,
        tags=request.args.getlist("tag"), sent=printers.sent_here(),
        suggestions={"rooms": rooms, "waiting": _named(waiting)},
    )  # fmt: skip


@pages.route("/weigh", methods=["GET", "POST"])
def weigh() -> moments.Answer:
    """Weigh a piece; one that has lost enough leads to the release."""
    piece = request.values.get("piece", "")
    lot = moments.lot_head(piece) if piece and request.method == "GET" else moments.lot_found(piece)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        after = looking.standing_of(station.ledger(), given["piece"])
        flash(f"{after.lot.code}: {after.on_scale} g on the scale, {_lost(after)}", "did")
        if after.next_step == "release":
            return redirect(url_for("hanging.release", lot=after.lot.code))
        return redirect(url_for("hanging.weigh"))

    form = Form(
        "weigh",
        "Weigh",
        (
            Field("piece", "Piece", "lot", suggest="hanging", hint="Scan the tag, or type its code or marker."),
            Field("weight", "On the scale", "weight", unit="g", hint="As it hangs, string included." if lot else ""),
        ),
        "Record the weight",
    )
    hanging = [one for one in looking.standings(station.ledger()) if one.lot.phase == "hanging"]
    return moments.moment(
        form, done, start={"piece": piece}, template="weigh.html", about=piece, lot=lot, hanging=hanging, most=MOST_LINES,
        suggestions={} if lot else {"hanging": _named(hanging)},
    )  # fmt: skip


@pages.route("/release", methods=["GET", "POST"])
def release() -> moments.Answer:
    """Record the decision that a lot may be sold."""
    asked = request.values.get("lot", "")
    lot = moments.lot_head(asked) if asked and request.method == "GET" else moments.lot_found(asked)
    form = Form(
        "release",
        "May it be sold?",
        (
            Field("lot", "Piece or pack lot", "lot"),
            Field("by", "Decided by", suggest="people"),
        ),
        "Yes, release it",
        "A decision of a person, kept with the name. Loss of weight and days of hanging prove nothing about safety.",
    )

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        after = looking.standing_of(station.ledger(), given["lot"])
        flash(f"{after.lot.code} is released by {given['by']}.", "did")
        asked: dict[str, Any] = {"from" if after.lot.kind == "piece" else "packs": after.lot.code}
        return redirect(url_for("packing.start" if after.lot.kind == "piece" else "selling.sell", **asked))

    return moments.moment(
        form, done, start={"lot": asked, "by": station.who()}, template="release.html", about=asked, lot=lot,
        suggestions={"people": looking.people(station.ledger())},
    )  # fmt: skip


@pages.post("/tag/<code>")
def tag_again(code: str) -> Response:
    """Print a tag again."""
    sent = print_tags([code])
    return redirect(f"{lot_address(code)}?show=tag{f'&sent={sent}' if sent else ''}")


def print_tags(codes: Sequence[str]) -> int | None:
    """Prove and keep tags, and send them to the printer of this station; return the number under which they are sent.

    Where that fails the piece is strung all the same, and it says what is missing.
    """
    printer = printers.of_station("tag")
    issued = [tag for code in codes if (tag := _kept_tag(code, printer)) is not None]
    return printers.send(printer, "tag", issued)


def _kept_tag(code: str, printer: KnownPrinter | None) -> Issued | None:
    at = station.station()

    def issue(stock: Stock) -> Issued:
        return labelling.tag(at.ledger, code, layouts=at.layouts, now=at.now(), who=station.who(), stock=stock)

    try:
        issued = printers.issued_for(printer, issue)
    except LabelsvcError as error:
        flash(f"Strung, but there is no tag: {error.message}", "stop")
        return None
    flash(f"The tag of {code} is ready, every symbol on it read again.", "did")
    for finding in issued.findings:
        if finding.severity != "note":
            flash(finding.message, "note")
    return issued


def _waiting() -> list[looking.Standing]:
    return [one for one in looking.standings(station.ledger()) if one.next_step == "string"]


def _named(lots: list[looking.Standing]) -> list[tuple[str, str]]:
    return [(one.lot.code, " · ".join((one.lot.name, *one.lot.aliases))) for one in lots]


def _lost(after: looking.Standing) -> str:
    if after.lost_percent is None:
        return "recorded."
    stop = f", stop at {after.stop_at} g" if after.stop_at else ""
    return f"{after.lost_percent} % lost{stop}."
