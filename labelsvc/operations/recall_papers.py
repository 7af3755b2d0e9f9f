"""The papers of a case, ready to send: report, letters to customers, notice at the point of sale, facts for the authority.

They say nothing that the ledger does not know; what is missing stands there as missing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from labelsvc import facts
from labelsvc.declaration.page_words import page_words
from labelsvc.declaration.words import words_of
from labelsvc.errors import InputError
from labelsvc.exchange.paper import Block, Heading, Lines, Pairs, Paper, Rows, Said
from labelsvc.ledger import flows, read
from labelsvc.ledger.asof import AsOf
from labelsvc.ledger.database import Connection, Ledger
from labelsvc.ledger.derive.bench import card_key
from labelsvc.operations.buyer import Seen, seen_by_buyer
from labelsvc.operations.cases import case_of
from labelsvc.operations.content import workshop_of
from labelsvc.operations.papers import balance_rows, grams, heading_of
from labelsvc.units import grams_text

_NAMES = {"withdrawal": "Withdrawal", "recall": "Recall", "mock": "MOCK exercise"}
_MOCK = "MOCK: an exercise, not a real recall"


_NOT_IN_AN_EXERCISE = (
    "Set what is left apart and cold, marked so that nobody takes it. Do not throw it away before we have spoken.",
    "If you sold or gave it on to another business, tell them the same today, and tell us who they are.",
)
_ASKED = {  # what a letter is, and what it asks first
    "withdrawal": ("withdrawal", "This is a withdrawal. Please stop selling and using these packs at once."),
    "recall": ("recall", "This is a recall. Please stop selling and using these packs at once."),
    "mock": (
        "exercise",
        "This is an exercise: nothing is wrong with these packs, and they may be sold. Please look for them as if they were"
        " withdrawn, and answer below.",
    ),
}


def recall_paper(ledger: Ledger, number: int, now: dt.datetime) -> Paper:
    """Return the report of a case: clock, who was told, where every gram is, and every lot.

    Args:
        ledger: where.
        number: of the case.
        now: the present.

    Raises:
        NotFoundError: no such case.
    """
    case = case_of(ledger, number, now)
    effect = case["effectiveness"]
    told = [
        (one["name"], one["contact"] or "", grams(one["grams"]), grams(one["back"]), _grams_or(one["still_there"]), one["state"])
        for one in case["to_tell"]
    ]
    lots = [(one["code"], one["name"], one["state"], one["place"] or "", grams(one["grams_here"])) for one in case["affected"]]
    blocks: tuple[Block, ...] = (
        Pairs((
            ("Why", case["reason"]),
            ("Known since", _time(case["known_since"])),
            ("Opened", ", ".join(filter(None, (_time(case["opened"]["at"]), case["opened"]["by"])))),
            ("Closed", f"{_time(case['closed']['at'])}: {case['closed']['outcome']}" if case["closed"] else "still open"),
            ("Clock", f"{case['minutes'] // 60} h {case['minutes'] % 60:02} min"),
            ("It starts from", ", ".join(case["lots"])),
            ("Told", f"{effect['told']} of {effect['to_tell']}"),
            ("Accounted for", f"{effect['accounted_percent'] or 0} % of {grams(effect['out'])} g that had left"),
            ("Back or destroyed", f"{effect['secured_percent'] or 0} %"),
        )),
        Heading("Those who have it"),
        Rows(("Who", "How to reach", "Got, g", "Back, g", "Still there, g", ""), told, (2, 3, 4), "Nobody: nothing left."),
        Heading("Of what had left"),
        Rows(("", "g"), [(name.replace("_", " "), grams(effect[name])) for name in _SUMS], (1,)),
        Heading("Where the grams went"),
        balance_rows(case["balance"]),
        Heading("Every lot"),
        Rows(("Lot", "What", "State", "Where", "Here, g"), lots, (4,)),
        Heading("What was done"),
        Rows(("When", "What", "By"), [(_time(step["at"]), _step_said(step), step["by"]) for step in case["steps"]]),
    )  # fmt: skip
    return _paper(ledger, case, f"{_NAMES[case['what']]} {number}: report", blocks, now)


_SUMS = ("out", "back", "destroyed_there", "still_there", "used_or_sold_on", "not_known")


def letter(ledger: Ledger, number: int, customer: str, now: dt.datetime) -> Paper:
    """Return the letter to one who has something of it: stop, set aside, tell whom you sold it to, answer.

    Args:
        ledger: where.
        number: of the case.
        customer: the name.
        now: the present.

    Raises:
        NotFoundError: no such case; InputError: they got nothing of it.
    """
    case = case_of(ledger, number, now)
    entry = next((one for one in case["to_tell"] if card_key(one["name"]) == card_key(customer)), None)
    if entry is None:
        raise InputError("customer", "someone who got something of it", customer)
    with ledger.reading() as connection:
        contact = _contact(connection)
        rows = _pack_rows(connection, entry["packs"])
    kind, asked = _ASKED[case["what"]]
    blocks: tuple[Block, ...] = (
        Said(", ".join(part for part in (entry["name"], entry["address"], entry["contact"]) if part)),
        Said(asked, is_strong=True),
        Pairs((("Why", case["reason"]), ("Delivered", ", ".join(entry["dates"])), ("Document", ", ".join(entry["documents"])))),
        Heading("Which packs"),
        Rows(("What", "Lot and pack", "Date on it", "g"), rows, (3,)),
        Heading("What we ask of you"),
        *(Said(words) for words in _NOT_IN_AN_EXERCISE if kind != "exercise"),
        Said("Fill in below and send it back to us, also if nothing is left."),
        Lines((
            "We still have (packs, g)", "Used or sold to consumers (g)", "Passed on to", "Destroyed here (g), shown by",
            "Name, day, signature",
        )),
        Said(f"Reach us, day and night: {contact}", is_strong=True),
    )  # fmt: skip
    band = "" if case["what"] == "mock" else "URGENT: " + kind
    return _paper(ledger, case, f"{kind.capitalize()} {number}: to {entry['name']}", blocks, now, band=band)


def notice(ledger: Ledger, number: int, now: dt.datetime) -> Paper:
    """Return the notice at the point of sale; it quotes what the buyer sees: product, lot and date.

    What is not published yet is a draft: telling the public is a decision of its own.

    Args:
        ledger: where.
        number: of the case.
        now: the present.

    Raises:
        NotFoundError: no such case; InputError: nothing of it was packed.
    """
    case = case_of(ledger, number, now)
    published = list(case["published"])
    codes = list(dict.fromkeys(code.partition("/")[0] for code in published or case["packs"]))
    if not codes:
        raise InputError("case", "a case of which something was packed", str(number))
    seen = [seen_by_buyer(ledger, code) for code in codes]
    language = seen[0].language
    words = page_words(language)
    warned = [warning for code in published[:1] for warning in seen_by_buyer(ledger, code).warned]
    reasons = [_reason(words, warning, language) for warning in warned] or [case["reason"]]
    with ledger.reading() as connection:
        contact = _contact(connection)
    blocks: tuple[Block, ...] = (
        Said(words["recall"]["headline"], is_strong=True, is_large=True),
        *(Said(reason, is_strong=True) for reason in reasons),
        Rows(("", words["lines"]["date"], "L"), [_seen_row(one) for one in seen]),
        Said(words["recall"]["advice"]),
        Said(contact, is_strong=True),
    )
    band = "" if published or case["what"] == "mock" else "DRAFT: nobody has decided to publish this"
    return _paper(ledger, case, words["recall"]["headline"], blocks, now, band=band, language=language, is_poster=True)


def authority_paper(ledger: Ledger, number: int, now: dt.datetime) -> Paper:
    """Return the facts that an authority asks for: Regulation (EC) 178/2002 Art 18 and 19, (EU) 931/2011, 9 CFR 418.2 and 320.1.

    Args:
        ledger: where.
        number: of the case.
        now: the present.

    Raises:
        NotFoundError: no such case.
    """
    case = case_of(ledger, number, now)
    effect = case["effectiveness"]
    with ledger.reading() as connection:
        workshop = workshop_of(connection)
        made = _made_rows(connection, case)
        sources = _source_rows(connection, case)
        contact = _contact(connection)
    out = [
        (
            one["name"], one["address"] or "", ", ".join(one["packs"]), ", ".join(one["dates"]), ", ".join(one["documents"]),
            grams(one["grams"]),
        )
        for one in case["to_tell"]
    ]  # fmt: skip
    blocks: tuple[Block, ...] = (
        Pairs((
            ("Business", f"{workshop.name}, {workshop.address}"),
            ("Approval number", workshop.approval_number or "none"),
            ("To be reached at", contact),
            ("Type of the problem", case["reason"]),
            ("Known since", _time(case["known_since"])),
            ("Amount that left", f"{grams(effect['out'])} g"),
            ("Amount still here", f"{_here(case)} g"),
            ("Origin and destination", "in the tables below"),
        )),
        Heading("What it is: description, lot, quantity"),
        Rows(("What", "Lot", "Made on", "Date on it", "Packs", "g"), made, (4, 5), "Nothing of it was packed."),
        Heading("Origin: one step back"),
        Rows(("Supplier", "Address", "What", "Lot, their lot", "Received", "g"), sources, (5,), "No supplier is recorded."),
        Heading("Destination: one step forward"),
        Rows(("Who", "Address", "Packs", "Days", "Documents", "g"), out, (5,), "Nobody: nothing left the workshop."),
        Heading("What was done"),
        Rows(("When", "What", "By"), [(_time(step["at"]), _step_said(step), step["by"]) for step in case["steps"]]),
        Said(_measures(case)),
    )  # fmt: skip
    return _paper(ledger, case, f"{_NAMES[case['what']]} {number}: facts for the authority", blocks, now)


# What needs no more than its case, by the name it is asked for under.
OF_CASE: Mapping[str, Callable[[Ledger, int, dt.datetime], Paper]] = {
    "recall": recall_paper,
    "notice": notice,
    "authority": authority_paper,
}


def _paper(
    ledger: Ledger, case: Mapping[str, Any], title: str, blocks: Sequence[Block], now: dt.datetime, *, band: str = "",
    language: str = "en", is_poster: bool = False,
) -> Paper:  # fmt: skip
    with ledger.reading() as connection:
        said = heading_of(connection, now)
    band = _MOCK if case["what"] == "mock" else band
    return Paper(title, blocks=blocks, band=band, language=language, is_poster=is_poster, **said)


def _contact(connection: Connection) -> str:
    workshop = workshop_of(connection)
    return ", ".join(part for part in (workshop.name, workshop.address, workshop.contact) if part)


def _pack_rows(connection: Connection, codes: Sequence[str]) -> list[tuple[str, ...]]:
    rows = [read.find(connection, code).state for code in codes]
    return [
        (one.name, one.code, one.best_before.isoformat() if one.best_before else "", grams(grams_text(one.made_milligrams)))
        for one in rows
    ]


def _made_rows(connection: Connection, case: Mapping[str, Any]) -> list[tuple[str, ...]]:
    """Return each printed lot with its day, the date on it, how many packs and how much."""
    grouped: dict[str, list[Any]] = {}
    for one in case["affected"]:
        if one["kind"] == "pack":
            grouped.setdefault(one["code"].partition("/")[0], []).append(read.find(connection, one["code"]).state)
    return [
        (
            packs[0].name, code, packs[0].born.isoformat(), packs[0].best_before.isoformat() if packs[0].best_before else "",
            str(len(packs)), grams(grams_text(sum(one.made_milligrams for one in packs))),
        )
        for code, packs in grouped.items()
    ]  # fmt: skip


def _source_rows(connection: Connection, case: Mapping[str, Any]) -> list[tuple[str, ...]]:
    """Return what the affected lots were made of, as it was received: supplier, address, what, lot, day, quantity."""
    numbers = [read.find(connection, one["code"]).number for one in case["affected"]]
    behind = {link.giver for link in flows.links_back(connection, numbers)} | set(numbers)
    received = [row.state for row in read.lots_of(connection, behind) if row.state.supplier and row.state.kind != "piece"]
    lookup = AsOf(connection, read.END_OF_TIME)
    rows: list[tuple[str, ...]] = []
    for one in received:
        card = lookup.card("supplier", one.supplier or "")
        address = card.address if isinstance(card, facts.Supplier) else None
        theirs = ", ".join((one.code, *one.aliases))
        weight = grams(grams_text(one.made_milligrams))
        rows.append((one.supplier or "", address or "", one.name, theirs, one.born.isoformat(), weight))
    return rows


def _here(case: Mapping[str, Any]) -> str:
    return grams(grams_text(sum(int(1000 * Decimal(one["grams_here"])) for one in case["affected"])))


def _measures(case: Mapping[str, Any]) -> str:
    held, told = len(case["held"]), case["effectiveness"]
    public = "The public is warned on the page of each pack." if case["published"] else "The public has not been told."
    return f"{held} lots are held. {told['told']} of {told['to_tell']} were told. {public}"


def _reason(words: Mapping[str, Any], warning: Any, language: str) -> str:
    name = words_of(language)["allergens"][warning.allergen]["name"] if warning.allergen else ""
    return f"{words['recall']['reason']}: {words['reasons'][warning.risk].format(allergen=name)} {warning.words}".strip()


def _seen_row(seen: Seen) -> tuple[str, str, str]:
    lines = dict(seen.lines)
    return seen.food_name, lines.get("date", ""), seen.code


def _step_said(step: Mapping[str, Any]) -> str:
    said = {
        "tell": f"{step.get('customer')} {step.get('how')}: {'told' if step.get('reached', True) else 'not reached'}",
        "publish": "the public was warned",
        "unpublish": f"the warning was taken back: {step.get('reason')}",
        "close_case": f"closed: {step.get('outcome')}",
    }
    answer = f", “{step['answer']}”" if step.get("answer") else ""
    had = f", still had {step['still_had']}" if step.get("still_had") else ""
    other = f"{str(step.get('what')).replace('_', ' ')}: {step.get('words')}"
    return f"{said.get(step['kind'], other)}{answer}{had}"


def _grams_or(text: str | None) -> str:
    return "not known" if text is None else grams(text)


def _time(text: str) -> str:
    return text.replace("T", " ")[:16]
