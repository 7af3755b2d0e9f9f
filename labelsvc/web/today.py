"""What is to be done today, and what is where."""

from __future__ import annotations

from flask import Blueprint, render_template, request

from labelsvc.operations import looking
from labelsvc.operations.cases import cases
from labelsvc.operations.complaints import complaints
from labelsvc.operations.looking import Standing
from labelsvc.web import station

pages = Blueprint("today", __name__)
MOST_COMPLAINTS = 10
MOST_LINES = 60  # of a list; the rest is a number, and one press away


@pages.get("/")
def today() -> str:
    """Show what waits for someone, then what hangs and what is in stock."""
    here = looking.standings(station.ledger())
    day = looking.today(station.ledger(), station.now())
    groups = {
        "ready": [one for one in here if one.next_step == "release" and one.lot.kind == "piece"],
        "out": [one for one in here if one.lot.phase == "in cure" and one.lot.planned_out and one.lot.planned_out <= day],
        "held": [one for one in here if one.lot.is_held],
        "green": [one for one in here if one.lot.phase == "green" and not one.lot.is_held],
        "to_string": [one for one in here if one.lot.phase == "out of cure"],
        "released": [one for one in here if one.next_step == "pack"],
        "hanging": sorted((one for one in here if one.next_step == "weigh"), key=_nearest_first),
        "packs": [one for one in here if one.lot.kind == "pack" and not one.lot.is_held],
        "to_cut": [one for one in here if one.next_step == "cut"],
    }
    tubs: dict[str, list[Standing]] = {}
    for one in here:
        if one.lot.phase == "in cure":
            tubs.setdefault(one.lot.tub or "", []).append(one)
    incidents = looking.open_incidents(station.ledger(), here)
    return render_template(
        "today.html",
        groups=groups,
        incidents=incidents,
        cases=[one for one in cases(station.ledger(), station.now()) if not one["closed"]],
        complaints=complaints(station.ledger(), is_open=True)[:MOST_COMPLAINTS],
        tubs=tubs,
        most=MOST_LINES,
        show=request.args.get("show", ""),
        day=day,
        is_empty=not here,
    )


def _nearest_first(one: Standing) -> tuple[int, int]:
    if one.stop_at is None:
        return (1, 0)
    return (0, one.lot.milligrams + one.lot.tare_milligrams - int(one.stop_at) * 1000)
