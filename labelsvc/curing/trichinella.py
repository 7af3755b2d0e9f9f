"""Trichinella: whether meat may be eaten as it is, by the animal, and by what is known of its examination or freezing.

Curing and drying are never counted here: the tool does not know a process that a workshop has validated.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from labelsvc.curing.advice import advice
from labelsvc.facts import Trichinella, trichinella_status
from labelsvc.rules.finding import Finding
from labelsvc.rules.load import MARKETS, Rule, all_rules, rules_of

# Rules of findings that say what nobody knows: whether the animal carries it, and whether the freezing was enough.
UNLISTED_ANIMAL, UNCHECKED_FREEZING = "curing.trichinella_animal", "curing.trichinella_freezing"
_CAUTIOUS = "eu"  # where no market of ours is named
_SAID = {
    "unknown": "is not known",
    "controlled_housing": "rests on controlled housing",
    "frozen": "rests on freezing",
    "frozen_unchecked": "rests on freezing of which thickness, temperature and time are not recorded",
    "frozen_too_little": "rests on freezing that was too warm or too short for its thickness",
}


def status_at_receipt(given: Trichinella | str | None, on: dt.date) -> str:
    """Return what is known of Trichinella at goods in.

    Args:
        given: as it was recorded.
        on: the day whose table of freezing counts.

    Returns:
        tested, controlled_housing, unknown, or frozen as far as it was checked: frozen (as the table asks),
        frozen_unchecked (something is not recorded) or frozen_too_little.
    """
    status = trichinella_status(given)
    if status != "frozen":
        return status
    if not isinstance(given, Trichinella) or given.temperature_c is None:
        return "frozen_unchecked"
    hours = _hours(given.start, given.end)
    is_core = "core" in (given.method or "").casefold()
    if hours is None or (given.thickness_cm is None and not is_core):
        return "frozen_unchecked"
    rows = _rule_on(_CAUTIOUS, "freezing_core" if is_core else "freezing", on).table
    is_enough = any(_fits(row, given, is_core) and hours >= row["hours"] for row in rows)
    return "frozen" if is_enough else "frozen_too_little"


def check_trichinella(species: str, status: str | None, eaten: str, market: str, on: dt.date) -> list[Finding]:
    """Return what the law says to eating the meat as it is; nothing for an animal that does not carry Trichinella.

    Args:
        species: the animal, as the workshop calls it.
        status: of ``status_at_receipt``, or None for what is no meat.
        eaten: as_is or cooked.
        market: eu, gb, us; any other is checked as the European Union.
        on: the day whose law counts.
    """
    place = market.lower() if market.lower() in MARKETS else _CAUTIOUS
    rule = _rule_on(place, "hosts", on)
    row = _row(rule, species)
    if status in (None, "tested") or (row is not None and not row["carries"]):
        return []
    if row is None:
        said = f"Whether {species} can carry Trichinella is unchecked: the animal is on none of our lists"
        return [advice(UNLISTED_ANIMAL, said, severity="warn")] if eaten == "as_is" else []
    clears = row["clears"]
    if status is None or status in clears:
        return []
    if status == "frozen_unchecked" and "frozen" in clears and eaten == "as_is":
        said = f"Trichinella {_SAID[status]}: unchecked, and the product is eaten as it is ({row['group']})"
        return [advice(UNCHECKED_FREEZING, said, severity="warn")]
    if eaten != "as_is":
        return [advice("curing.trichinella_cooked", f"Trichinella {_SAID[status]}: it must be cooked through, the label says so")]
    return [rule.found(status, _stopped(row, status), exceeded=True, severity="stop")]


def may_carry(species: str | None, on: dt.date) -> bool:
    """Tell whether meat may carry Trichinella: yes also where the animal is not known, or on none of our lists."""
    row = _row(_rule_on(_CAUTIOUS, "hosts", on), species or "")
    return row is None or bool(row["carries"])


def _rule_on(market: str, what: str, on: dt.date) -> Rule:
    """The rule of a day; a day before it began is judged by it all the same, since the worm is older than the law."""
    name = f"{market}.trichinella.{what}"
    return rules_of(market, on).get(name) or next(rule for rule in all_rules(market) if rule.id == name)


def _stopped(row: Mapping[str, Any], status: str) -> str:
    cannot = f"; freezing does not clear {row['group']}" if status.startswith("frozen") and "frozen" not in row["clears"] else ""
    way = "with the result of the examination" if row["clears"] == ["tested"] else "with the examination or freezing"
    return (
        f"Trichinella {_SAID[status]}{cannot}, and the product is eaten as it is ({row['group']}): held until the receipt is"
        f" corrected {way}"
    )


def _row(rule: Rule, species: str) -> Mapping[str, Any] | None:
    """The row whose name stands in the words; of several the most dangerous: of "pig and beef" pig, of "wild pig" game."""
    words = " ".join(species.casefold().split())
    named = [row for row in rule.table if any(re.search(rf"\b{re.escape(name)}s?\b", words) for name in row["names"])]
    return max(named, key=lambda row: (row["carries"], -len(row.get("clears", ()))), default=None)


def _fits(row: Mapping[str, Any], given: Trichinella, is_core: bool) -> bool:
    is_cold = given.temperature_c is not None and given.temperature_c <= row["at_most_c"]
    return is_cold and (is_core or (given.thickness_cm is not None and given.thickness_cm <= row["up_to_cm"]))


def _hours(start: str | None, end: str | None) -> Decimal | None:
    """Hours between two moments; of bare days only the whole ones between count. None where one cannot be read."""
    try:
        begins, ends = dt.datetime.fromisoformat(start or ""), dt.datetime.fromisoformat(end or "")
        spent = ends - begins
    except (ValueError, TypeError):
        return None
    if len((start or "").strip()) == len("2026-03-02"):
        spent -= dt.timedelta(days=1)  # it may have gone in at the end of that day
    return Decimal(int(spent.total_seconds())) / 3600
