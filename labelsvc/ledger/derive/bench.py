"""The bench one fact is worked out on: it finds lots and cards, moves mass between accounts, and notes issues."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any, NoReturn, TypeVar
from zoneinfo import ZoneInfo

import msgspec

from labelsvc.codes.lot_code import LotCode
from labelsvc.errors import CodeError, InputError, NotFoundError
from labelsvc.facts import KINDS, Workshop
from labelsvc.ledger.derive.happening import Derived, Happening
from labelsvc.ledger.derive.lookup import FREE, Lookup
from labelsvc.ledger.derive.new_lots import printed_ahead
from labelsvc.ledger.state import COUNT, End, Issue, LotState, Posting
from labelsvc.rules.finding import Finding
from labelsvc.shape import Shape
from labelsvc.units import grams_text

Account = LotState | End
INSTANT = "%Y-%m-%dT%H:%M:%S.%fZ"  # fixed width, so that text order is time order
THE_WORKSHOP = ""  # there is one workshop in a ledger, whatever its name becomes
Card = TypeVar("Card", bound=Shape)


class Bench:
    """One fact being worked out; the functions of the sibling modules call its methods in order."""

    def __init__(self, happening: Happening, lookup: Lookup) -> None:
        self.fact = happening
        self._lookup = lookup
        self._lots: dict[str, LotState] = {}
        self._cards: dict[tuple[str, str], Shape] = {}
        self._touched: set[str] = set()
        self._mentions: set[str] = set()
        self._postings: list[Posting] = []
        self._issues: list[Issue] = []
        self._reserved: dict[str, str] = {}
        self._read_as: dict[str, str] = dict(happening.read_as)
        self._flows = 0

    # --- finding ---------------------------------------------------------------------------------------------------
    def lot(self, ref: str, field: str) -> LotState:
        """Return the lot that a code or alias names, as it stands now.

        Raises:
            CodeError: neither a well-formed code nor a known alias.
            NotFoundError: no such lot at that time.
        """
        code = self._code(ref, field)
        if code not in self._lots:
            state = self._lookup.lot(code)
            if state is None:
                code, state = self._tagged(code, ref, field)
            self._lots.setdefault(code, state)
        self._mentions.add(lot_subject(code))
        return self._lots[code]

    def _tagged(self, code: str, ref: str, field: str) -> tuple[str, LotState]:
        """Return the lot that a tag printed ahead was hung on."""
        codes = self._lookup.alias(code)
        state = self._lookup.lot(codes[0]) if codes else None
        if state is None:
            self._refuse_unknown(code, ref, field)
        self._read_as[ref] = state.code
        return state.code, state

    def _refuse_unknown(self, code: str, ref: str, field: str) -> NoReturn:
        began = self._lookup.began(code)
        if began is not None and self.fact.at < began:
            born, given = self._said(began), self._said(self.fact.at)
            length = len("2026-03-02") if born[:10] != given[:10] else None
            raise InputError("at", f"a time after {born[:length]}, when {code} came into being", given[:length])
        raise NotFoundError(field, "the code of a lot", ref, "No such lot: read the code again.")

    def lot_of(self, ref: str, field: str, *kinds: str) -> LotState:
        """Return the lot, which must be of one of these kinds.

        Raises:
            InputError: another kind of lot.
        """
        lot = self.lot(ref, field)
        if lot.kind not in kinds:
            raise InputError(field, f"the code of {_a(' or '.join(kinds))}", f"{lot.code}, {_a(lot.kind)}")
        return lot

    def units_of(self, ref: str, field: str) -> list[LotState]:
        """Return the unit a code names, or all units of the pack lot it names.

        Raises:
            InputError: not a pack.
        """
        lot = self.lot_of(ref, field, "pack")
        if not lot.units:
            return [lot]
        codes = [f"{lot.code}/{number}" for number in range(1, lot.units + 1)]
        self._lookup.ready(codes)
        return [self.lot(code, field) for code in codes]

    def all_named(self, refs: Sequence[str]) -> list[LotState]:
        """Return the lots of a field ``lots``, each once; a pack lot brings its packs along."""
        named: dict[str, LotState] = {}
        for place, ref in enumerate(refs):
            lot = self.lot(ref, f"lots[{place}]")
            for each in (lot, *(self.units_of(ref, f"lots[{place}]") if lot.units else ())):
                named[each.code] = each
        return list(named.values())

    def instant(self, text: str, field: str, of_day: dt.time) -> str:
        """Return a moment that a person gave, in UTC; a bare day means the given time of that day in the workshop.

        Raises:
            InputError: no day or time.
        """
        try:
            moment = dt.datetime.fromisoformat(text.strip())
        except ValueError:
            raise InputError(field, "a day such as 2026-03-02 or a time such as 2026-03-02T08:15", text) from None
        if not 1900 <= moment.year <= 9000:
            raise InputError(field, "a day of this century", text)
        if len(text.strip()) == len("2026-03-02"):
            moment = dt.datetime.combine(moment.date(), of_day)
        return (moment if moment.tzinfo else moment.replace(tzinfo=self._zone())).astimezone(dt.UTC).strftime(INSTANT)

    def _zone(self) -> ZoneInfo:
        workshop = self._lookup.card("workshop", THE_WORKSHOP)
        return ZoneInfo(workshop.timezone if isinstance(workshop, Workshop) else "UTC")

    def _said(self, instant: str) -> str:
        """An instant as people in the workshop say it."""
        return dt.datetime.strptime(instant, INSTANT).replace(tzinfo=dt.UTC).astimezone(self._zone()).strftime("%Y-%m-%d %H:%M")

    def there(self, place: str, begins: str, ends: str | None) -> list[LotState]:
        """Return the lots that were in a room, rack or tub between two instants, as they stand now."""
        return [self.lot(code, "place") for code in self._lookup.there(place, begins, ends)]

    def made_of(self, givers: Sequence[LotState], since: str, entered_after: int = 0) -> list[LotState]:
        """Return what was made of some lots (see ``Lookup.made_of``), as it stands now; with packs comes their pack lot."""
        made = self._lookup.made_of([lot.code for lot in givers], since, entered_after)
        codes = list(dict.fromkeys(part for code in made for part in (code.partition("/")[0], code)))
        self._lookup.ready(codes)
        return [self.lot(code, "place") for code in codes]

    def watch(self, place: str) -> None:
        """Let the fact be worked out again when what was at the place changes."""
        self._mentions.add(watch_subject(place))

    def marker(self, marker: str | None, piece: str, field: str, source: str = "") -> tuple[str, ...]:
        """Return the aliases a marker gives a piece: none where it bears its code, printed ahead; one of its source goes over."""
        code = printed_ahead(marker)
        if marker is not None and code is None:
            self._wear(marker, piece, field, source)
            return (marker,)
        if marker is not None and code is not None:
            self._free(code, marker, field)
        return ()

    def _wear(self, number: str, piece: str, field: str, source: str = "") -> None:
        """Refuse a number that hangs on another piece here: nobody could tell any more which of them is meant."""
        key, of_this = alias_key(number), self.fact.codes
        worn_by = self._reserved.get(key) or self._lookup.reserved_for(key)
        if worn_by not in (None, piece, source):
            self._mentions.add(lot_subject(worn_by))
            other = self._lookup.lot(worn_by)
            if worn_by in of_this or (other is not None and other.milligrams):
                named = f"piece {of_this.index(worn_by) + 1} of these" if worn_by in of_this else worn_by
                self.issue("refuse", field, "a number that no other piece here bears", f"{number}, which is on {named}")
        self._reserved[key] = piece
        self._mentions.add(reserved_subject(key))

    def hang_tag(self, tag: str | None, lot: LotState, field: str) -> None:
        """Let the number of a tag that is hung on a lot lead to it; one printed ahead is free no more."""
        code = printed_ahead(tag)
        if tag is None or code == lot.code:
            return
        if code is not None:
            self._free(code, tag, field)
            self._mentions.add(lot_subject(code))  # a piece cut earlier may turn out to have it
            self._reserved[code] = lot.code
        else:
            self._wear(tag, lot.code, field)
        self.change(lot, aliases=tuple(dict.fromkeys((*self.now(lot).aliases, code or tag))))

    def _free(self, code: str, given: str, field: str) -> None:
        hangs_on = self._lookup.reserved_for(code)
        if hangs_on is None:
            raise InputError(field, "the number of one printed ahead, or another number", given, "That code was not reserved.")
        if self._lookup.lot(code) is not None or hangs_on != FREE:
            on = f", {hangs_on}" if hangs_on != FREE else ""
            self.issue("conflict", field, "a number printed ahead that is free", f"{code}, which is on another piece{on}")
        self._mentions.add(reserved_subject(code))

    def reserve(self, code: str) -> None:
        """Keep a code for a marker or tag printed ahead."""
        self._reserved[code] = FREE

    def card(self, kind: type[Card], name: str, field: str) -> Card:
        """Return the card of that name.

        Raises:
            InputError: no such card at that time.
        """
        word = next(word for word, shape in KINDS.items() if shape is kind)
        found = self._cards.get((word, card_key(name))) or self._lookup.card(word, name)
        self._mentions.add(card_subject(word, name))
        if not isinstance(found, kind):
            raise InputError(field, f"the name of {_a(word)} recorded before", name, f"Record the {word} first.")
        return found

    def find_card(self, kind: type[Card], name: str) -> Card | None:
        """Return the card of that name, or None where there is none."""
        word = next(word for word, shape in KINDS.items() if shape is kind)
        found = self._lookup.card(word, name)
        self._mentions.add(card_subject(word, name))
        return found if isinstance(found, kind) else None

    def keep(self, name: str) -> None:
        """Keep the fact's body under a name of its kind, so that later facts find it."""
        self._cards[(self.fact.kind, card_key(name))] = self.fact.body
        self._mentions.add(card_subject(self.fact.kind, name))

    def keep_numbered(self) -> None:
        """Keep the fact's body under its own number, and let it be found among all of its kind."""
        self.keep(str(self.fact.seq))
        self._mentions.add(numbered_subject(self.fact.kind))

    def _code(self, ref: str, field: str) -> str:
        if ref in self._read_as:
            return self._read_as[ref]
        try:
            return str(LotCode.parse(ref, field))
        except CodeError as error:
            codes = self._lookup.alias(ref)
            if len(codes) == 1:
                self._read_as[ref] = codes[0]
                return codes[0]
            if codes:
                several = f"{ref}, which leads to {', '.join(codes)}"
                raise InputError(field, "a code or number that leads to one lot", several) from None
            raise error

    # --- changing --------------------------------------------------------------------------------------------------
    def begin(self, code: str, **known: Any) -> LotState:
        """Put a new lot on the bench."""
        return self._put(LotState(code=code, born=self.fact.day, **known))

    def change(self, lot: LotState, **changes: Any) -> LotState:
        """Return the lot with these changes, kept on the bench."""
        return self._put(msgspec.structs.replace(self._lots[lot.code], **changes))

    def now(self, lot: LotState) -> LotState:
        """Return the lot as it stands after the moves so far."""
        return self._lots[lot.code]

    def touch(self, lot: LotState) -> None:
        """Let the fact stand in the lot's record without changing it."""
        self._touched.add(lot.code)

    def flow(self, *lines: tuple[Account, int]) -> None:
        """Move mass: one flow, whose lines sum to zero; every lot that gives goes into every lot that receives.

        Args:
            lines: account and whole milligrams, negative for what gives. Lines of 0 are left out.
        """
        moved = [(account, milligrams) for account, milligrams in lines if milligrams]
        if not moved:
            return
        if sum(milligrams for _, milligrams in moved):
            raise ValueError(f"a flow sums to zero, got {moved}")
        self._flows += 1
        for account, milligrams in moved:
            if isinstance(account, End):
                self._postings.append(Posting(self._flows, account.name, account.kind, milligrams))
            else:
                self._postings.append(Posting(self._flows, account.code, account.kind, milligrams))
                self.change(account, milligrams=self._lots[account.code].milligrams + milligrams)

    def cover(self, lot: LotState, needed: int, field: str, level: str) -> LotState:
        """Let a lot give more than its balance: the gap comes out of the count difference, with an issue."""
        gap = needed - lot.milligrams
        if gap > 0:
            self.issue(
                level, field, f"at most the {grams_text(lot.milligrams)} g there are of {lot.code}", f"{grams_text(needed)} g",
                "A weighing is off, or a receipt is missing.",
            )  # fmt: skip
            self.flow((COUNT, -gap), (lot, gap))
        return self.now(lot)

    def not_held(self, lot: LotState, field: str, *, while_lacking: bool = False) -> None:
        """Note that a held lot blocks the fact: what the law stops is named first.

        Args:
            lot: the lot.
            field: the field that names it.
            while_lacking: whether the work goes on while only a measured value or a figure is lacking.
        """
        holds = [held for held in lot.held_for if not (while_lacking and held.is_lack)]
        for held in sorted(holds, key=lambda held: held.is_stop)[-1:]:
            expected = f"a lot that is not held ({held.reason})"
            self._issues.append(Issue("blocked", field, expected, lot.code, held.way_out, held.finding))

    def issue(self, level: str, field: str, expected: str, got: str, hint: str = "", finding: Finding | None = None) -> None:
        """Note an issue of the fact; one that follows from a rule brings its finding."""
        self._issues.append(Issue(level, field, expected, str(got), hint, finding.as_json() if finding else None))

    def _put(self, lot: LotState) -> LotState:
        self._lots[lot.code] = lot
        self._touched.add(lot.code)
        self._mentions.add(lot_subject(lot.code))
        return lot

    def derived(self) -> Derived:
        """Return what the work came to."""
        lots = {code: _settled(self._lots[code]) for code in sorted(self._touched)}
        return Derived(self._postings, lots, self._cards, self._mentions, self._issues, self._read_as, self._reserved)


_STEPS = ("received", "mixed", "green", "in cure", "out of cure", "hanging")


def _settled(lot: LotState) -> LotState:
    """A piece or raw lot with nothing left is used up, whatever it was before."""
    if lot.milligrams == 0 and lot.made_milligrams and lot.phase in _STEPS:
        return msgspec.structs.replace(lot, phase="used up", tub=None, place=None)
    return lot


def percent_of(part: int, whole: int) -> Decimal:
    """Return part of whole in percent, to a tenth, for messages."""
    return (Decimal(part) * 100 / Decimal(whole)).quantize(Decimal("0.1")) if whole else Decimal(0)


def lot_subject(code: str) -> str:
    """Return the timeline subject of a lot."""
    return f"lot/{code}"


def card_subject(kind: str, name: str) -> str:
    """Return the timeline subject of a card."""
    return f"{kind}/{card_key(name)}"


def numbered_subject(kind: str) -> str:
    """Return the timeline subject of all facts of a kind that others name by number."""
    return f"every/{kind}"


def watch_subject(place: str) -> str:
    """Return the timeline subject of the facts that look at what is at a place."""
    return f"watch/{card_key(place)}"


def reserved_subject(code: str) -> str:
    """Return the timeline subject of a code kept for a marker."""
    return f"reserved/{code}"


def card_key(name: str) -> str:
    """Return the name as it is compared: without regard to case and spacing."""
    return " ".join(name.casefold().split())


def alias_key(text: str) -> str:
    """Return a marker or number as it is compared: letters and digits only, without regard to case."""
    return "".join(character for character in text.casefold() if character.isalnum())


def _a(noun: str) -> str:
    return f"{'an' if noun[:1] in 'aeiou' else 'a'} {noun}"
