"""Packs leave: sold, given away, eaten here, destroyed; and packs come back."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, request, session, url_for
from werkzeug.wrappers import Response

from labelsvc.operations import looking
from labelsvc.operations.looking import Standing
from labelsvc.operations.recording import Recorded
from labelsvc.web import moments, station
from labelsvc.web.forms import Field, Form

pages = Blueprint("selling", __name__)

COUNTER = "over the counter"
_PACKS = Field("packs", "Packs", "codes", hint="Scan each; a pack lot stands for all its packs in stock.")
_HOW = (("destroyed", "Thrown away"), ("own_use", "Eaten here or at home"), ("sample", "Taken as a sample"))
FORMS = {
    "sell": Form(
        "sell",
        "Sell",
        (
            _PACKS,
            Field("customer", "To", "card", card="customer", required=False, hint="Leave empty for over the counter."),
            Field("document", "Delivery note or invoice", required=False),
        ),
        "Record the sale",
    ),
    "give": Form(
        "give",
        "Give away",
        (_PACKS, Field("to", "To", hint="Whom to tell if something is wrong with it.")),
        "Record the gift",
    ),
    "return": Form(
        "return",
        "It came back",
        (_PACKS, Field("from", "From", suggest="holders", hint="A shop's packs are held; a consumer's are destroyed.")),
        "Record the return",
    ),
    "dispose": Form(
        "dispose",
        "Used here or thrown away",
        (
            Field("lot", "Lot", "lot", hint="Scan it, or type its code or marker."),
            Field("how", "What happened", "choice", choices=_HOW),
            Field("weight", "How much", "weight", required=False, unit="g", hint="Leave empty for all of it."),
        ),
        "Record it",
    ),
}


@pages.route("/sell", methods=["GET", "POST"])
def sell() -> moments.Answer:
    """Sell packs to a customer, or over the counter."""

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        body = given if "customer" in given else {**given, "public": True}
        return moments.recording("sell")(body, confirmed)

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        session["customer"] = given.get("customer", "")
        flash(f"Sold {', '.join(given['packs'])} to {given.get('customer') or 'the public, ' + COUNTER}.", "did")
        return redirect(url_for("selling.sell"))

    start = {"customer": session.get("customer", ""), **_asked()}
    return moments.moment(
        FORMS["sell"], done, act=act, start=start, template="sell.html", stock=_stock(), last_customer=session.get("customer", "")
    )


@pages.route("/<any(give, return, dispose):what>", methods=["GET", "POST"])
def other(what: str) -> moments.Answer:
    """Give away, take back, or use up."""
    form = FORMS[what]

    def done(recorded: Recorded, given: dict[str, Any]) -> Response:
        codes = given.get("packs") or [given["lot"]]
        flash(f"{form.title}: {', '.join(codes)}.", "did")
        return redirect(f"/lot/{codes[0]}")

    holders = [str(card["name"]) for card in looking.cards(station.ledger(), "customer")]
    return moments.moment(
        form, done, start=_asked(), template="sell.html", about=what, stock=_stock() if what == "give" else [],
        suggestions={"holders": [*holders, "public"]},
    )  # fmt: skip


def _asked() -> dict[str, str]:
    asked = request.args.getlist("packs")
    return {"packs": "\n".join(asked), **{name: request.args[name] for name in ("lot", "from", "how") if name in request.args}}


def _stock() -> list[Standing]:
    """Packs that may leave."""
    return [one for one in looking.standings(station.ledger()) if one.next_step == "sell"][:200]
