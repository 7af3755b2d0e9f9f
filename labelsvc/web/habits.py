"""Rules of thumb of the trade, each a page of its own: what it can mean, what it cannot tell, what is needed instead."""

from __future__ import annotations

from flask import Blueprint, abort, render_template, request

from labelsvc.curing.habits import hanging_products
from labelsvc.curing.volumes import compute_volume
from labelsvc.errors import LabelsvcError
from labelsvc.operations.habits import look_at_habit
from labelsvc.operations.looking import today
from labelsvc.web import moments, station
from labelsvc.web.errors import status_of
from labelsvc.web.forms import Field, Form, problem_of, shown, typed

pages = Blueprint("habits", __name__)

_SPOONS = (("teaspoon", "Teaspoons"), ("tablespoon", "Tablespoons"))
_GREEN = Field("green_weight", "Green weight of the piece", "weight", unit="g")
FORMS = {
    "equal_volumes": Form(
        "equal_volumes",
        "Salt and sugar by equal volumes",
        (
            Field("amount", "How much of each", "decimal"),
            Field("measure", "Measured with", "choice", choices=(("cup", "Cups"), *reversed(_SPOONS))),
            _GREEN,
        ),
        "What can that be in grams?",
        "A cup of one salt weighs more than twice a cup of another.",
        when=False,
    ),
    "by_the_spoon": Form(
        "by_the_spoon",
        "Saltpetre or curing salt by the spoon",
        (
            Field("what", "What it is", "choice", choices=(("saltpetre", "Saltpetre"), ("curing_salt", "Curing salt"))),
            Field("sodium_nitrite_percent", "Nitrite in the curing salt", "decimal", required=False, unit="%",
                  hint="As the bag states; empty for saltpetre."),
            Field("amount", "How many, such as 0.25", "decimal"),
            Field("measure", "Measured with", "choice", choices=_SPOONS),
            _GREEN,
            Field("product", "For", "card", card="product", hint="Its class and markets say which limits count."),
        ),
        "What can that be in ppm?",
        "A spoon is no scale: this says what it may have brought, not what it did.",
        when=False,
    ),
    "days_in_cure": Form(
        "days_in_cure",
        "Days in the cure by habit",
        (
            Field("weight", "Weight of the piece", "weight", unit="g"),
            Field("thickness_cm", "Thickness", "decimal", required=False, unit="cm"),
            Field("days", "Days it was meant to stay", "decimal", required=False),
            Field("offered_salt", "Salt it lies in, for a salt box", "weight", required=False, unit="g"),
        ),
        "What do the rules say?",
        "Rules of thumb differ by weeks for the same piece.",
        when=False,
    ),
    "weeks_hanging": Form(
        "weeks_hanging",
        "Weeks of hanging by habit",
        (
            Field("product", "What hangs", "choice", choices=tuple((name, name.capitalize()) for name in hanging_products())),
            Field("weeks", "Weeks", "decimal"),
            _GREEN,
            Field("salt_percent", "Salt it was given", "decimal", required=False, unit="%"),
        ),
        "What did others see?",
        "The room dries it, not the calendar.",
        when=False,
    ),
}  # fmt: skip


@pages.get("/habits")
def habits() -> str:
    """List the rules of thumb."""
    return render_template("habits.html", forms=FORMS)


@pages.get("/volume")
def volume() -> str | tuple[str, int]:
    """Show what a spoon or cup of a spice weighs by an open table."""
    asked = {name: request.args.get(name, "").strip() for name in ("name", "volume")}
    answer, problem = None, None
    if all(asked.values()):
        try:
            answer = compute_volume(asked)
        except LabelsvcError as error:
            problem = error
    page = render_template("volume.html", asked=asked, answer=answer, problem=problem)
    return page if problem is None else (page, status_of(problem))


@pages.route("/habits/<name>", methods=["GET", "POST"])
def habit(name: str) -> str | tuple[str, int]:
    """Ask about one rule of thumb, and show what there is to say."""
    form = FORMS.get(name)
    if form is None:
        abort(404)
    back = typed(form, request.form, station.units())
    answer, problem, status = None, None, 200
    if request.method == "POST":
        try:
            answer = look_at_habit(station.ledger(), {"habit": name, **back.given}, today(station.ledger(), station.now()))
        except LabelsvcError as error:
            problem, status = problem_of(error, back.places), status_of(error)
    parts = shown(form, request.form, station.units(), problem)
    page = render_template(
        "habit.html", form=form, parts=parts, problem=problem, answer=answer, lot=None, asked="", draft=f"habit:{name}",
        card_names={"product": moments.names("product")}, suggestions={},
    )  # fmt: skip
    return page, status
