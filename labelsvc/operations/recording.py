"""Recording a fact: checked, worked out, asked about where unusual, sealed and posted in one transaction."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

from labelsvc import facts
from labelsvc.errors import BlockedError, ConfirmationNeeded, ConflictError, InputError, as_json
from labelsvc.ledger.append import NewFact, append, canonical, next_in_chain
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.derive.bench import THE_WORKSHOP
from labelsvc.ledger.derive.happening import Derived, Happening
from labelsvc.ledger.derive.new_lots import new_lots
from labelsvc.ledger.effective import Standing, kind_and_target, said_of, standing_in
from labelsvc.ledger.once import answer_before, keep_answer
from labelsvc.ledger.personal import put_apart
from labelsvc.ledger.read import END_OF_TIME, last_before
from labelsvc.ledger.settle import LaterIssue, put_changed, put_correction, put_new, states_of, work_out
from labelsvc.ledger.state import Issue
from labelsvc.operations.by_the_spoon import in_grams, spoons_apart
from labelsvc.operations.clock import also
from labelsvc.operations.cross_contact import question
from labelsvc.operations.doubts import day_before_stringing, old_correction, old_day, unlike_weights
from labelsvc.operations.handed_out import codes_for, codes_in, given_out
from labelsvc.operations.leaving import at_the_door
from labelsvc.operations.unreached import unreached
from labelsvc.operations.when import bounds, happened, instant, is_bare_day
from labelsvc.rules.finding import Finding
from labelsvc.shape import Shape

# Beside a kind's own fields every fact may say when, by whom, yes to questions, and that someone is there to be asked.
ENVELOPE = ("at", "who", "confirmed", "ask")


@dataclass(frozen=True)
class Recorded:
    """What came of recording.

    Args:
        fact: the number of the fact.
        codes: the codes it gave out; a pack lot's is followed by its packs'.
        notes: what the person should hear of.
        later: what later facts have to say after a correction or a late entry.
    """

    fact: int
    codes: tuple[str, ...]
    notes: tuple[Issue, ...] = ()
    later: tuple[LaterIssue, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return the contract's answer."""
        notes = [sentence(issue) for issue in self.notes]
        later = [{"fact": one.fact, "kind": one.kind, "message": sentence(one.issue)} for one in self.later]
        return {
            "fact": self.fact,
            "codes": list(self.codes),
            **({"notes": notes} if notes else {}),
            **({"later": later} if later else {}),
        }


def record(
    ledger: Ledger,
    kind: str,
    given: object,
    *,
    now: dt.datetime,
    who: str = "",
    confirmed: bool = False,
    is_at_bench: bool = False,
    once: str = "",
) -> Recorded:
    """Record a fact.

    Args:
        ledger: where.
        kind: one of ``facts.KINDS``.
        given: the JSON object, with ``at``, ``who``, ``confirmed`` and ``ask`` beside the kind's own fields.
        now: the present, with a time zone.
        who: who says so, where the object does not.
        confirmed: whether the person has said yes to what is unusual.
        is_at_bench: whether someone is there to be asked about what is only unlike the usual (``doubts``), and about allergens
            left on tubs and machines; else the label of such packs waits for that decision. The object's ``ask`` says so too.
        once: a key under which it is recorded once however often it is sent; none if empty.

    Returns:
        The number of the fact, the codes given out and what should be heard of.

    Raises:
        InputError: a field that cannot be; ConfirmationNeeded: unusual, ask once; ConflictError, NotFoundError, BlockedError.
        StorageError: the database cannot be written now.
    """
    facts.read(kind, _envelope(kind, given, who, confirmed).fields)  # what cannot be read need not wait for the only writer
    with ledger.writing() as connection:
        return within_once(
            connection,
            once,
            [kind, given],
            lambda: record_within(connection, kind, given, now=now, who=who, confirmed=confirmed, is_at_bench=is_at_bench),
        )


def record_all(
    ledger: Ledger,
    acts: Sequence[tuple[str, dict[str, Any]]],
    *,
    now: dt.datetime,
    who: str = "",
    confirmed: bool = False,
    once: str = "",
) -> list[Recorded]:
    """Record several facts of one decision: all of them or none.

    Args:
        ledger: where.
        acts: kind and JSON object of each, in order.
        now: the present.
        who: who says so.
        confirmed: whether the person has said yes to what is unusual.
        once: as of ``record``.

    Returns:
        What came of each.

    Raises:
        As ``record``; then none of them is recorded.
    """
    with ledger.writing() as connection:

        def act(kind: str, given: dict[str, Any]) -> Recorded:
            return record_within(connection, kind, given, now=now, who=who, confirmed=confirmed)

        return [
            within_once(connection, once and f"{once}.{place}", [kind, given], partial(act, kind, given))
            for place, (kind, given) in enumerate(acts)
        ]


def within_once(connection: Connection, key: str, asked: object, act: Callable[[], Recorded]) -> Recorded:
    """Record something once under a key, in a writer's transaction that is open already.

    Args:
        connection: the writer's.
        key: new for each request; empty for none.
        asked: what the request says, as JSON: the same key with something else is a mistake.
        act: records it.

    Returns:
        What came of it, now or the first time.

    Raises:
        ConflictError: the key stands for another request.
    """
    if not key:
        return act()
    said = canonical(asked)
    before = answer_before(connection, key, said)
    if before is not None:
        return msgspec.json.decode(before, type=Recorded)
    recorded = act()
    keep_answer(connection, key, said, recorded.fact, msgspec.json.encode(recorded).decode())
    return recorded


def record_within(
    connection: Connection,
    kind: str,
    given: object,
    *,
    now: dt.datetime,
    who: str = "",
    confirmed: bool = False,
    is_at_bench: bool = False,
) -> Recorded:
    """Record a fact in a writer's transaction that is open already: what was read in it still stands.

    Args and raises: as of ``record``, with the writer's connection in the place of the ledger.
    """
    said = _envelope(kind, given, who, confirmed)
    yes, fields, is_at_bench = said.yes, said.fields, is_at_bench or said.ask
    body = facts.read(kind, fields)
    if isinstance(body, facts.Cure | facts.SaltAgain | facts.Coat):
        fields = in_grams(connection, fields)
        body = facts.read(kind, fields)
    zone = zone_of(connection)
    today = now.astimezone(zone).date()
    moment, day = _moment(connection, said.at, now, zone)
    asked = question(connection, body, moment, is_at_bench=is_at_bench) if isinstance(body, facts.Pack) else []
    if asked and yes and is_at_bench:  # yes means that nothing is warned of: that answer stands in the fact
        fields = {**fields, "may_contain": []}
        body = facts.read(kind, fields)
    new = NewFact(kind, moment, instant(now), said.who, fields, day)
    if isinstance(body, facts.Correct):
        return _correct(connection, body, new, yes, now, zone, is_at_bench)

    def unusual(happening: Happening, derived: Derived) -> list[Issue]:
        door = at_the_door(connection, happening, derived, today, is_at_bench=is_at_bench)
        if not is_at_bench:
            return [*asked, *door]
        return [*asked, *door, *old_day(kind, day, today), *unlike_weights(connection, happening, derived)]

    try:
        recorded = _record_new(connection, body, new, yes, today, unusual)
    except InputError as error:
        raise (error if said.at else also(error, connection, now)) from None
    return replace(recorded, notes=(*recorded.notes, *unreached(connection, body, recorded.fact)))


def _moment(connection: Connection, at: str | None, now: dt.datetime, zone: ZoneInfo) -> tuple[str, dt.date]:
    """Return instant and day of a fact; a bare past day stands after what is known of that day."""
    moment, day = happened(at, now, zone)
    if at is not None and is_bare_day(at) and day < now.astimezone(zone).date():
        moment = last_before(connection, *bounds(day, zone)) or moment
    return moment, day


def zone_of(connection: Connection) -> ZoneInfo:
    """Return the workshop's time zone; UTC until a workshop is recorded."""
    workshop = AsOf(connection, END_OF_TIME).card("workshop", THE_WORKSHOP)
    return ZoneInfo(workshop.timezone if isinstance(workshop, facts.Workshop) else "UTC")


def sentence(issue: Issue) -> str:
    """Return an issue as one sentence."""
    return InputError(issue.field, issue.expected, issue.got, issue.hint).message


@dataclass(frozen=True)
class _Said:
    """What stands beside a kind's own fields, and these."""

    at: str | None
    who: str
    yes: bool
    ask: bool
    fields: dict[str, Any]


def _envelope(kind: str, given: object, who: str, confirmed: bool) -> _Said:
    if not isinstance(given, dict):
        raise InputError(kind, "one JSON object", as_json(given))
    at, by = given.get("at"), given.get("who", who)
    if at is not None and not isinstance(at, str):
        raise InputError("at", "a day or time in quotes", as_json(at))
    if not isinstance(by, str):
        raise InputError("who", "a name", as_json(by))
    flags = {name: given.get(name, False) for name in ("confirmed", "ask")}
    for name, flag in flags.items():
        if not isinstance(flag, bool):
            raise InputError(name, "true or false", as_json(flag))
    fields = {key: value for key, value in given.items() if key not in ENVELOPE}
    fields = spoons_apart(fields)
    if isinstance(fields.get("instead"), dict):
        fields["instead"] = spoons_apart(fields["instead"])
    return _Said(at, by, flags["confirmed"] or confirmed, flags["ask"], fields)


def _record_new(
    connection: Connection,
    body: Shape,
    new: NewFact,
    yes: bool,
    today: dt.date,
    unusual: Callable[[Happening, Derived], Sequence[Issue]],
) -> Recorded:
    seq, previous, last_happened = next_in_chain(connection)
    codes = codes_for(connection, new_lots(body), today)
    happening = Happening(seq, new.kind, new.happened_at, new.day, body, codes, said=said_of(new.given, body))
    derived, lookup = work_out(connection, happening, codes_in(new.given))
    issues = [*derived.issues, *day_before_stringing(connection, body, derived), *unusual(happening, derived)]
    answered = _answered(issues, yes)
    given = put_apart(connection, new.kind, new.given, seq)
    append(connection, replace(new, given=given, codes=codes, read_as=derived.read_as, confirmed=answered), seq, previous)
    later = put_new(connection, happening, derived, lookup, is_last=happening.at >= last_happened)
    _refuse_contradiction(later)
    return Recorded(seq, given_out(codes, derived), _notes(issues), tuple(later))


def _correct(
    connection: Connection, body: facts.Correct, new: NewFact, yes: bool, now: dt.datetime, zone: ZoneInfo, is_at_bench: bool
) -> Recorded:
    kind, target = kind_and_target(connection, body.fact)
    if kind == "correct" and body.instead is not None:  # another correction of what it corrected
        kind = kind_and_target(connection, target)[0]
        body = msgspec.structs.replace(body, fact=target, instead=_bare(body.instead))
        new = replace(new, given={**new.given, "fact": target})
    seq, previous, _ = next_in_chain(connection)
    old = standing_in(connection, target).happening
    stands = None if body.instead is None else _instead(connection, body, kind, now, zone)
    derived = work_out(connection, stands, is_current=False)[0] if stands else None
    asked: list[Issue] = []
    today, before = now.astimezone(zone).date(), states_of(connection, target)
    if stands and derived:
        asked += at_the_door(connection, stands, derived, today, is_at_bench=is_at_bench, before=before)
    if is_at_bench:
        asked += [*old_day("correct", new.day, today), *old_correction(old, stands, today)]
        if stands and derived:
            asked += unlike_weights(connection, stands, derived, before)
    answered = _answered([*asked, *(derived.issues if derived else ())], yes)
    instead = None if body.instead is None else put_apart(connection, kind, body.instead, seq)
    sealed = replace(
        new,
        given={**new.given, "instead": instead},
        codes=stands.codes if stands else (),
        read_as=derived.read_as if derived else {},
        confirmed=(answered or ("yes",)) if yes else (),
        stands={"at": stands.at, "day": stands.day.isoformat()} if stands else None,
    )
    append(connection, sealed, seq, previous)
    put_correction(connection, seq, new.happened_at, body.fact)
    derived, later = put_changed(connection, standing_in(connection, target))
    issues = derived.issues if derived else []
    _answered(issues, yes)
    _refuse_contradiction(later)
    return Recorded(seq, given_out(stands.codes, derived) if stands and derived else (), _notes(issues), tuple(later))


def _bare(instead: dict[str, Any] | None) -> dict[str, Any] | None:
    """Return what stands in the place of the fact, also where the correction is said in full: fact, instead, reason."""
    return _bare(instead["instead"]) if instead is not None and "instead" in instead else instead


def _instead(connection: Connection, body: facts.Correct, kind: str, now: dt.datetime, zone: ZoneInfo) -> Happening:
    """Return the happening that takes the place of the one corrected, under the same codes as far as they fit."""
    old = _last_standing(standing_in(connection, body.fact))
    fields = {key: value for key, value in (body.instead or {}).items() if key not in ENVELOPE}
    try:
        shape = facts.read(kind, fields)
        at = (body.instead or {}).get("at")
        moment, day = (old.at, old.day) if at is None else _moment(connection, at, now, zone)
    except InputError as error:
        raise error.within("instead") from None
    codes = codes_for(connection, new_lots(shape), now.astimezone(zone).date(), kept=old.codes)
    return Happening(body.fact, kind, moment, day, shape, codes)


def _last_standing(standing: Standing) -> Happening:
    if standing.happening is None:
        raise ConflictError(
            "fact", "a fact that stands", f"fact {standing.seq}, taken back by fact {standing.corrected_by}",
            f"Take back fact {standing.corrected_by} first (instead: null), or record it anew.",
        )  # fmt: skip
    return standing.happening


def _answered(issues: Sequence[Issue], yes: bool) -> list[str]:
    """Raise what stops the fact; return the questions that were answered with yes."""
    blocked = [issue for issue in issues if issue.level == "blocked"]
    if blocked:
        raise stopped_by(blocked)
    for issue in issues:
        if issue.level in ("refuse", "conflict"):
            raise (InputError if issue.level == "refuse" else ConflictError)(issue.field, issue.expected, issue.got, issue.hint)
    questions = [issue for issue in issues if issue.level == "ask"]
    if questions and not yes:
        first = questions[0]
        more = "".join(f" Also {sentence(issue).rstrip('.')}." for issue in questions[1:])
        hint = f"{first.hint} " if first.hint else ""
        raise ConfirmationNeeded(
            first.field, first.expected, first.got, f"{hint}Unusual but possible: say yes to record it so.{more}"
        )
    return [sentence(issue) for issue in questions]


def stopped_by(blocked: Sequence[Issue]) -> BlockedError:
    """Return the error that says what blocks a fact: the first in words, each with its finding."""
    findings = [issue.finding or _finding(issue).as_json() for issue in blocked]
    return BlockedError(sentence(blocked[0]), findings, blocked[0].field, blocked[0].expected, blocked[0].got)


def _finding(issue: Issue) -> Finding:
    rule = "workshop.released" if "released" in issue.expected else "workshop.not_held"
    return Finding(rule, "stop", True, None, issue.got, None, None, None, "read", "the workshop's own decision", sentence(issue))


def _refuse_contradiction(later: Sequence[LaterIssue]) -> None:
    for one in later:
        if one.issue.level == "conflict":
            raise ConflictError(
                "at", f"something that fact {one.fact} ({one.kind}) can still follow", f"one after which {sentence(one.issue)}",
                f"Correct fact {one.fact} first.",
            )  # fmt: skip


def _notes(issues: Sequence[Issue]) -> tuple[Issue, ...]:
    return tuple(issue for issue in issues if issue.level == "note")
