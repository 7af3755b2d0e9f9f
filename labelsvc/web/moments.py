"""One moment of the work as a page: show its form, record what was typed, put errors and questions beside their fields."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from flask import flash, render_template, request
from werkzeug.wrappers import Response

from labelsvc.errors import InputError, LabelsvcError
from labelsvc.ledger.personal import is_erased
from labelsvc.operations import looking
from labelsvc.operations.recording import Recorded, record, sentence
from labelsvc.web import station
from labelsvc.web.errors import status_of
from labelsvc.web.forms import Form, Problem, Typed, problem_of, shown, typed
from labelsvc.web.photos import received

Answer = Response | str | tuple[str, int]
Act = Callable[[dict[str, Any], bool], Recorded]
Done = Callable[[Recorded, dict[str, Any]], Response]


def moment(
    form: Form,
    done: Done,
    *,
    start: Mapping[str, str] | None = None,
    act: Act | None = None,
    template: str = "form.html",
    about: str = "",
    **context: Any,
) -> Answer:
    """Show a form, or record what came back of it.

    Args:
        form: the form.
        done: where to go once it is recorded.
        start: what stands in the inputs at first.
        act: how it is recorded; ``record`` of the form's kind if None.
        template: the page.
        about: the code it is about, so that drafts of two lots stay apart.
        context: what else the page shows.
    """
    context = {"form": form, "draft": f"{form.kind}:{about}", **context}
    if request.method == "GET":
        return _page(template, form, start or {}, None, context)
    values, trouble = received(form)
    if request.form.get("more"):
        return _page(template, form, values, trouble, context)
    back = typed(form, values, station.units())
    if trouble:
        return _page(template, form, values, trouble, context, back), 400
    with station.station().once(station.once_key()) as slip:
        if slip.went_to and slip.said == digest(back.given):
            return _to(slip.went_to)
        try:
            # A copy: the yes counts for what was typed, whatever the act makes of it.
            recorded = (act or recording(form.kind))(dict(back.given), _is_answered(back))
        except LabelsvcError as error:
            return _page(template, form, values, problem_of(error, back.places), context, back), status_of(error)
        tell(recorded)
        flash(context["draft"], "done")
        answer = done(recorded, back.given)
        slip.went_to, slip.said = answer.location or "/", digest(back.given)
        return answer


def recording(kind: str) -> Act:
    """Return how a kind of fact is recorded at this bench."""

    def act(given: dict[str, Any], confirmed: bool) -> Recorded:
        at = station.station()
        return record(
            at.ledger,
            kind,
            given,
            now=at.now(),
            who=station.who(),
            confirmed=confirmed,
            is_at_bench=True,
            once=station.once_key(),
        )

    return act


def tell(recorded: Recorded) -> None:
    """Say on the next page what should be heard of."""
    for issue in recorded.notes:
        flash(sentence(issue), "note")
    for one in recorded.later:
        flash(f"Since then fact {one.fact} does not fit: {sentence(one.issue)}", "note")


def names(kind: str) -> list[str]:
    """Return the names of the cards of a kind, those left out that were erased: nothing is sold to them any more."""
    return [name for name in (str(card["name"]) for card in looking.cards(station.ledger(), kind)) if not is_erased(name)]


def card_named(kind: str, name: str) -> dict[str, Any]:
    """Return a card as it was recorded; nothing where there is none of that name."""
    return next((card for card in looking.cards(station.ledger(), kind) if str(card["name"]) == name), {})


def lot_head(text: str) -> looking.Standing | None:
    """Return the lot a page is about; None where nothing is named."""
    return looking.standing_of(station.ledger(), text) if text else None


def lot_found(text: str) -> looking.Standing | None:
    """Return the lot above a form that came back: where the code cannot be read, the error stands beside it instead."""
    try:
        return lot_head(text)
    except InputError:
        return None


def digest(given: Mapping[str, Any]) -> str:
    """Return a mark of what was typed: a yes counts only for that."""
    return hashlib.sha256(json.dumps(given, sort_keys=True).encode()).hexdigest()[:16]


def _is_answered(back: Typed) -> bool:
    return request.form.get("confirmed") == "yes" and request.form.get("asked") == digest(back.given)


def _page(
    template: str,
    form: Form,
    values: Mapping[str, str],
    problem: Problem | None,
    context: dict[str, Any],
    back: Typed | None = None,
) -> str:
    parts = shown(form, values, station.units(), problem, request.form.get("more", ""))
    inputs = [part for outer in parts for row in outer.get("rows", [[outer]]) for part in row]
    if problem and problem.beside not in {part["name"] for part in inputs}:
        problem = replace(problem, beside="")  # its field is not on the page: it stands at the head, never nowhere
    cards = {part["card"] for part in inputs if part.get("card")}
    return render_template(
        template,
        parts=parts,
        problem=problem,
        asked=digest(back.given) if back and problem and problem.is_question else "",
        card_names={kind: names(kind) for kind in cards},
        **{"suggestions": {}, "lot": None, **context},
    )


def _to(address: str) -> Response:
    return Response(status=302, headers={"Location": address})
