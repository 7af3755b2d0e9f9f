"""Commands about what went wrong: search a recall, look at cases and complaints."""

from __future__ import annotations

import datetime as dt
from typing import Any

import click

from labelsvc import settings
from labelsvc.cli.options import as_json, database, now, opened, show_json
from labelsvc.cli.saying import at_place, show_balance
from labelsvc.errors import InputError
from labelsvc.ledger.database import Ledger
from labelsvc.units import decimal

_MOST = 200  # lots that are printed; more are counted and summed


@click.command()
@click.option("--lot", "lots", multiple=True, help="A lot, marker or number to start from; repeat.")
@click.option("--supplier", help="Everything received from this supplier.")
@click.option("--ingredient", help="Every lot of this ingredient.")
@click.option("--from", "first", help="First day, such as 2026-03-02.")
@click.option("--to", "last", help="Last day.")
@click.option("--place", help="What was in this room, tub or session.")
@click.option("--undeclared", metavar="ALLERGEN", help="Packs whose label did not declare this allergen although it went in.")
@click.option("--customer", help="What this customer, or whoever it was given to, had.")
@click.option("--recipe", help="Pieces cured by this recipe.")
@click.option("--recipe-version", type=int, metavar="N", help="With --recipe: only by its version N, 1 for the first.")
@click.option("--mark", help="An ear tag, herd mark or delivery number; it may lead to several lots.")
@click.option("--rule", help="Packs whose label relied on this rule, such as eu.nitrite.non_heat_treated.")
@click.option("--dose-above", metavar="PPM", help="Pieces with more nitrite than this put on, as sodium nitrite in ppm.")
@click.option("--since-cleaning", is_flag=True, help="With --place: only what was there since it was last cleaned.")
@click.option("--reach", type=click.Choice(["mass", "tub", "slicer", "room"]), default="mass", show_default=True, help="How far.")
@click.option("--open", "what", type=click.Choice(["withdrawal", "recall", "mock"]), help="Open a case of what was found.")
@click.option("--reason", help="Why, with --open: one sentence.")
@click.option("--who", default=settings.who, show_default="LABELSVC_WHO", help="Who opens it.")
@as_json
@database
def recall(
    lots: tuple[str, ...], supplier: str | None, ingredient: str | None, first: str | None, last: str | None, place: str | None,
    undeclared: str | None, customer: str | None, recipe: str | None, recipe_version: int | None, mark: str | None,
    rule: str | None, dose_above: str | None,
    since_cleaning: bool, reach: Any, what: str | None, reason: str | None, who: str, as_json: bool, database: str,
) -> None:  # fmt: skip
    """Search a recall: every lot affected, where each gram is, and who must be told. It only searches; it holds nothing.

    A lot may be given by its code, a marker, or what a scanner sends. With several options only what fits all of them is the
    start: --ingredient salt --customer NAME are the packs of that customer with salt in them.
    """
    from labelsvc.operations.recalling import recall as search
    from labelsvc.operations.searching import Suspicion

    suspicion = Suspicion(
        lots, supplier, ingredient, _day(first, "from"), _day(last, "to"), place, undeclared, reach, customer, recipe, mark,
        rule, None if dose_above is None else decimal(dose_above, "dose_above"), since_cleaning, recipe_version,
    )  # fmt: skip
    if (what is None) != (reason is None):
        raise InputError("reason", "--open and --reason together", "one of them")
    ledger = opened(database)
    answer = search(ledger, suspicion, None if as_json else _MOST)
    if what is not None and answer["affected"]:
        answer["case"] = _opened(ledger, answer, what, reason or "", who)
    show_json(answer) if as_json else _show_recall(answer)


def _opened(ledger: Ledger, answer: dict[str, Any], what: str, reason: str, who: str) -> int:
    from labelsvc.operations.recording import record

    given = {"what": what, "reason": reason, "lots": answer["start"]}
    return record(ledger, "open_case", given, now=now(), who=who).fact


def _amount(entry: dict[str, Any]) -> str:
    if "first" in entry:
        days = dict.fromkeys((entry["first"], entry["last"]))
        return f"{entry['grams']} g in {entry['packs']} packs, {' to '.join(days)}"
    return f"{entry['grams']} g, {', '.join(entry['packs'])}, {', '.join(entry['dates'])}"


def _way(one: dict[str, Any]) -> str:
    """Say by which way a lot is reached, so that a person can judge and narrow."""
    if one["by"] == "mass":
        steps = "1 step" if one["steps"] == 1 else f"{one['steps']} steps"
        return f"{one['share_percent']} % of it, {steps}" if one["steps"] else "the start"
    return f"same {one['by']} {one['via']}".rstrip() if one["by"] else "made of what lay beside"


def _show_recall(answer: dict[str, Any]) -> None:
    for note in answer["notes"]:
        click.echo(note)
    if not answer["affected"]:
        click.echo("Nothing is affected.")
        return
    count = answer.get("affected_count", len(answer["affected"]))
    click.echo(f"Affected: {count} lots")
    for one in answer.get("summary", ()):
        click.echo(f"  {one['lots']:>8} {one['kind']}, {one['state']}: {one['grams_here']} g here")
    for one in answer["affected"]:
        lies = f"{one['name']} ({one['kind']}), {one['state']}{at_place(one)}"
        click.echo(f"  {one['code']:14} {one['grams_here']:>12} g here  {lies}: {_way(one)}")
    if count > len(answer["affected"]):
        click.echo(f"  and {count - len(answer['affected'])} more: --json has all of them, with every pack and document")
    click.echo("Tell")
    for customer in answer["customers"]:
        reach = ", ".join(part for part in (customer["address"], customer["contact"]) if part) or "no address known"
        click.echo(f"  {customer['name']} ({reach}): {_amount(customer)}")
    for other in answer["told_otherwise"]:
        click.echo(f"  {other['how']}: {other['name']}: {_amount(other)}")
    if not answer["customers"] and not answer["told_otherwise"]:
        click.echo("  nobody: nothing left the workshop")
    show_balance(answer["balance"])
    click.echo(f"Took {answer['took_ms']} ms")
    if "case" in answer:
        click.echo(f"Case {answer['case']} is open. Next: labelsvc case {answer['case']}")


@click.command()
@click.argument("number", required=False, type=int)
@as_json
@database
def case(number: int | None, as_json: bool, database: str) -> None:
    """Show a withdrawal, recall or exercise: whom to tell next, where the grams are; without a number, all of them."""
    from labelsvc.operations.cases import case_of, cases

    ledger = opened(database)
    if number is not None:
        found = case_of(ledger, number, now())
        show_json(found) if as_json else _show_case(found)
        return
    every = cases(ledger, now())
    if as_json:
        show_json({"cases": every})
        return
    for one in every:
        click.echo(f"{_title(one)}: {one['reason']} ({'closed' if one['closed'] else 'open'}, {_clock(one['minutes'])})")
    if not every:
        click.echo("No case was opened yet. Search first: labelsvc recall --help")


def _title(one: dict[str, Any]) -> str:
    return f"{'MOCK exercise' if one['what'] == 'mock' else one['what'].capitalize()} {one['case']}"


def _clock(minutes: int) -> str:
    return f"{minutes // 60} h {minutes % 60:02} min"


def _show_case(found: dict[str, Any]) -> None:
    effect = found["effectiveness"]
    click.echo(f"{_title(found)}: {found['reason']}")
    if found["what"] == "mock":
        click.echo("MOCK: nothing is held, nothing is published.")
    click.echo(f"{_clock(found['minutes'])} {'from known to closed' if found['closed'] else 'since it was known'}")
    if found["to_hold"] and found["what"] != "mock":
        click.echo(f'Still here and not held: labelsvc hold {" ".join(found["to_hold"])} --reason "case {found["case"]}"')
    click.echo(f"Told {effect['told']} of {effect['to_tell']}")
    for one in found["to_tell"]:
        reach = ", ".join(part for part in (one["contact"], one["address"]) if part) or "no number is recorded"
        click.echo(f"  {one['state']:11} {one['name']} ({reach}): got {one['grams']} g, {', '.join(one['packs'])}")
        for call in one["calls"]:
            said = "".join(f", {words}" for words in (call.get("answer"), _had(call)) if words)
            click.echo(f"              {call['at']} {call['how']}{'' if call.get('reached', True) else ', not reached'}{said}")
    for rule in found["authority"]:
        until = f": by {rule['until']}" if rule["until"] else ""
        click.echo(f"Authority{until}. {rule['title']} ({rule['citation']}, {rule['known']})")
    click.echo(f"Buyers are warned on: {', '.join(found['published']) or 'nothing'}")
    for name in ("out", "back", "destroyed_there", "still_there", "used_or_sold_on", "not_known"):
        click.echo(f"  {effect[name]:>14} g  {name.replace('_', ' ')}")
    show_balance(found["balance"])


def _had(call: dict[str, Any]) -> str:
    return f"still had {call['still_had']}" if call.get("still_had") else ""


def _contact(one: dict[str, Any]) -> str:
    return f", reach them: {one['contact']}" if one["contact"] else ""


@click.command()
@as_json
@database
def complaints(as_json: bool, database: str) -> None:
    """Show the complaints, the newest first, what was decided, and what two of them have in common."""
    from labelsvc.operations.complaints import complaints as all_complaints

    found = all_complaints(opened(database))
    if as_json:
        show_json({"complaints": found})
        return
    for one in found:
        about = f"{one['code']}, {one['name']}" if one["code"] else "no code"
        click.echo(f"{one['complaint']}  {one['day']}  {one['text']} ({about}){_contact(one)}")
        for answer in one["answers"]:
            click.echo(f"      decided by {answer['by']}: {answer['decision']}")
        for met in one["meets"]:
            click.echo(f"      ! in common with {met['complaint']}: {met['text']}")
    if not found:
        click.echo("Nobody has complained.")


def _day(text: str | None, field: str) -> dt.date | None:
    try:
        return None if text is None else dt.date.fromisoformat(text)
    except ValueError:
        raise InputError(field, "a day such as 2026-03-02", text or "") from None
