"""Something typed wrong is put right or taken back, never overwritten: both stay in the record."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request
from werkzeug.wrappers import Response

from labelsvc.errors import InputError
from labelsvc.operations import looking
from labelsvc.operations.recording import Recorded
from labelsvc.web import coating, curing, cutting, goods_in, hanging, moments, selling, station, tubs, watching
from labelsvc.web.forms import Field, Form, flat
from labelsvc.web.scanning import lot_address

pages = Blueprint("correcting", __name__)

WHY = Field("reason", "Why it is put right", hint="Such as: misread the scale, wrong piece.")
_WEIGH = (Field("piece", "Piece", "lot"), Field("weight", "On the scale", "weight", unit="g"))
TAKE_BACK = Form("correct", "Take it back", (WHY,), "It never happened", when=False)


@pages.route("/fact/<int:fact>", methods=["GET", "POST"])
def put_right(fact: int) -> moments.Answer:
    """Say how a fact should have been."""
    kind, stands = looking.fact_as_it_stands(station.ledger(), fact)
    plain = _form_of(kind, stands)
    if plain is None:
        return _only_taken_back(fact, kind)
    form = replace(plain, title=f"Put fact {fact} right", parts=(*plain.parts, WHY), press="Put it right", lead="")
    own = {part.name.partition(".")[0] for part in form.parts}

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        reason = given.pop("reason", None)
        kept = {name: value for name, value in stands.items() if name not in own and name != "public"}
        instead = {**kept, **given, **({"public": True} if kind == "sell" and "customer" not in given else {})}
        body = {"fact": fact, "instead": instead, **({"reason": reason} if reason else {})}
        try:
            return moments.recording("correct")(body, confirmed)
        except InputError as error:
            raise type(error)(error.field.removeprefix("instead."), error.expected, error.got, error.hint) from None

    return moments.moment(
        form, lambda _recorded, _given: _back(f"Fact {fact} is put right."), act=act, start=flat(goods_in.as_typed(stands), form),
        template="correct.html", about=f"fact {fact}", fact=fact, take_back=TAKE_BACK,
    )  # fmt: skip


@pages.route("/fact/<int:fact>/take-back", methods=["GET", "POST"])
def take_back(fact: int) -> moments.Answer:
    """Say that a fact never happened."""

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        return moments.recording("correct")({"fact": fact, "instead": None, **given}, confirmed)

    form = replace(TAKE_BACK, title=f"Take fact {fact} back")
    done = f"Fact {fact} is taken back. It stays in the record, and what followed from it is worked out anew."
    return moments.moment(form, lambda _recorded, _given: _back(done), act=act, about=f"fact {fact} back")


def _form_of(kind: str, stands: dict[str, Any]) -> Form | None:
    """Return the form in which a fact was typed, or None for a kind that is only taken back."""
    if kind == "receive":
        return goods_in.FORMS[str(stands["kind"])]
    if kind in selling.FORMS:
        return selling.FORMS[kind]
    forms = {
        "cut": cutting.FORM,
        "cure": curing.form_for([]),
        "salt_again": tubs.SALT_AGAIN,
        "coat": coating.COAT,
        "take_out": tubs.TAKE_OUT,
        "turn": tubs.TURN,
        "split": cutting.SPLIT,
        "move": watching.MOVE,
        "count": watching.COUNT,
        "string": hanging.STRING,
        "weigh": Form("weigh", "", _WEIGH, ""),
    }
    return forms.get(kind)


def _only_taken_back(fact: int, kind: str) -> str:
    return render_template("correct_only_back.html", fact=fact, kind=kind)


def _back(said: str) -> Response:
    flash(said, "did")
    code = request.args.get("code", "")
    return redirect(lot_address(code) if code else "/")
