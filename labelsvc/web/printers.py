"""The workshop's printers: the list and its form, the one of this station, and how it stands with what was sent."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, session, url_for
from werkzeug.wrappers import Response

from labelsvc.errors import ConflictError, LabelsvcError, NotFoundError, PrinterError
from labelsvc.labels.layout import Purpose
from labelsvc.ledger.printers import KnownPrinter
from labelsvc.operations import issuing, printers
from labelsvc.operations.issuing import Issued, Stock
from labelsvc.operations.tray import OnItsWay
from labelsvc.web import station
from labelsvc.web.errors import status_of, told
from labelsvc.web.forms import Field, Form, problem_of, shown, typed
from labelsvc.web.people import onward

pages = Blueprint("printers", __name__)

PURPOSES: dict[str, Purpose] = {"tag": "hanging_tag", "sale-label": "sale_label"}  # by kind of label
_NONE = ("", "No printer: the PDF opens")
_ADD = Form(
    "printer",
    "Printers",
    (
        Field("name", "What do you call it?", hint="Such as: tags at the tub."),
        Field("uri", "Its address", hint="Such as ipp://192.0.2.7/ipp/print"),
    ),
    "Keep it",
    when=False,
)


@pages.route("/printers", methods=["GET", "POST"])
def overview() -> Response | str | tuple[str, int]:
    """Show the printers, each as it says it is, and keep a new one."""
    at, problem, status = station.station(), None, 200
    if request.method == "POST":
        back = typed(_ADD, request.form, station.units())
        layouts = tuple(request.form.getlist("layouts"))
        try:
            kept = printers.add(at.ledger, str(back.given.get("name", "")), str(back.given.get("uri", "")), layouts, at.layouts)
            flash(f"{kept.name} is kept. Try it: a test label shows whether it comes out as it should.", "did")
            return redirect(url_for("printers.overview"))
        except LabelsvcError as error:
            problem, status = problem_of(error, back.places), status_of(error)
    page = render_template(
        "printers.html", form=_ADD, parts=shown(_ADD, request.form, station.units(), problem), problem=problem, asked="",
        draft="printer", card_names={}, suggestions={}, lot=None, printers=_as_they_say(printers.known(at.ledger)),
        stock=_stock_choices(), chosen=request.form.getlist("layouts"), sendings=at.tray.latest(),
    )  # fmt: skip
    return page, status


@pages.post("/printers/<int:number>/remove")
def remove(number: int) -> Response:
    """Forget a printer."""
    gone = printers.remove(station.ledger(), _numbered(number).name)
    flash(f"{gone.name} is removed. What it printed stays in the record.", "did")
    return redirect(url_for("printers.overview"))


@pages.post("/printers/<int:number>/try")
def try_out(number: int) -> Response:
    """Print a test label."""
    one = _numbered(number)
    try:
        for sent in printers.try_out(station.ledger(), one, station.station().layouts):
            flash(sent.in_words, "note" if sent.state.reasons else "did")
    except PrinterError as error:
        flash(told(error), "stop")
    return redirect(url_for("printers.overview"))


@pages.get("/printing/<int:number>")
def printing(number: int) -> str:
    """Show how it stands with labels that were sent: a page of its own, or the part of one that asks again."""
    found = _on_its_way(number)
    found.look()
    template = "printing_state.html" if "part" in request.args else "printing.html"
    return render_template(template, sent=found, onward=onward())


@pages.post("/printing/<name>/<int:number>/again")
def again(name: str, number: int) -> Response:
    """Print once more what did not come out; what the printer still holds is taken back first, so that it comes out once.

    Each is kept as a reprint with the reason. A second press leads to what the first one sent.
    """
    at, found = station.station(), _on_its_way(number)
    sending = found.sending
    if sending.kind != name:
        raise NotFoundError("printing", f"labels of the kind {sending.kind}", name)
    with found.turn:
        if sending.again is None:
            problem, was_unsure = sending.problem, found.is_unsure
            try:
                found.take_back()
            except (ConflictError, PrinterError) as error:
                flash(told(error), "stop")
                return redirect(url_for("printers.printing", number=number, onward=onward()))
            if was_unsure and not found.left:
                flash(f"It came out on {sending.printer.name} after all: nothing was sent again.", "did")
                return redirect(url_for("printers.printing", number=number, onward=onward()))
            why = problem or ("it did not come out" if found.left else "asked for after it was printed")
            reason = f"sent to {sending.printer.name} once more: {why}"
            facts = dict.fromkeys(one.fact for one in found.left or sending.labels)
            labels = [_reprint(sending.printer, fact, reason) for fact in facts]
            found.was_sent_again(at.tray.put(sending.printer, name, labels))
    return redirect(url_for("printers.printing", number=sending.again, onward=onward()))


def of_station(kind: str) -> KnownPrinter | None:
    """Return the printer that this station prints a kind of label on: the one chosen last, else the only one there is for it."""
    fitting = _fitting(kind)
    if _key(kind) in session:
        return next((one for one in fitting if one.name == session[_key(kind)]), None)
    return fitting[0] if len(fitting) == 1 else None


def remember(kind: str, name: str) -> None:
    """Remember the printer of this station for a kind of label; an empty name for none."""
    session[_key(kind)] = name


def choice(kind: str, words: str) -> tuple[Field, ...]:
    """Return the field that chooses the printer; none where there is no printer for this kind of label."""
    fitting = _fitting(kind)
    now = of_station(kind)
    choices = (*((one.name, one.name) for one in fitting), _NONE)
    return (Field("printer", words, "choice", choices=choices, value=now.name if now else ""),) if fitting else ()


def issued_for(printer: KnownPrinter | None, issue: Callable[[Stock], Issued], layout: str | None = None) -> Issued:
    """Issue a label for what is loaded in a printer; where no such label goes on it, for its usual stock, and say so."""
    if printer is None:
        return issue(Stock(layout))
    try:
        return issue(Stock(layout, dots_per_mm=printer.dots_per_mm, loaded=printer.layouts))
    except PrinterError as error:
        flash(told(error), "note")
        return issue(Stock(layout))


def send(printer: KnownPrinter | None, kind: str, labels: Sequence[Issued]) -> int | None:
    """Send labels that are issued; return the number to ask for them, None where there is no printer or nothing to send."""
    if printer is None or not labels:
        return None
    return station.station().tray.put(printer, kind, labels)


def sent_here() -> OnItsWay | None:
    """Return what was sent under the number in this page's address; nothing where there is none or it is forgotten."""
    return station.station().tray.find(request.args.get("sent", 0, type=int))


def _key(kind: str) -> str:
    return f"printer of {kind}"


def _fitting(kind: str) -> list[KnownPrinter]:
    shelf = station.station().layouts
    return [one for one in printers.known(station.ledger()) if printers.fits(one, shelf, PURPOSES[kind])]


def _stock_choices() -> list[tuple[str, str]]:
    shelf = station.station().layouts
    return [(one.name, one.title) for purpose in PURPOSES.values() for one in shelf.all_for(purpose)]


def _as_they_say(known: list[KnownPrinter]) -> list[dict[str, Any]]:
    said = printers.all_said(station.ledger(), known)
    return [{**about, "number": one.number} for one, about in zip(known, said, strict=True)]


def _numbered(number: int) -> KnownPrinter:
    found = next((one for one in printers.known(station.ledger()) if one.number == number), None)
    if found is None:
        raise NotFoundError("printer", "a printer that is kept", f"number {number}", "Look at the list of printers.")
    return found


def _reprint(printer: KnownPrinter, fact: int, reason: str) -> Issued:
    at, dots = station.station(), printer.dots_per_mm
    made = issuing.reprint(at.ledger, fact, reason, layouts=at.layouts, now=at.now(), who=station.who(), dots=dots)
    return replace(made, fact=fact)  # what issued it, by which it may be printed once more


def _on_its_way(number: int) -> OnItsWay:
    found = station.station().tray.find(number)
    if found is None:
        raise NotFoundError(
            "printing", "labels that were sent lately", f"number {number}",
            "Look at the printer. The label is in its record: open the PDF there, or print it again.",
        )  # fmt: skip
    return found
