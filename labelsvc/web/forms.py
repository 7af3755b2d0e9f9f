"""A form as data: fields and lists of rows become HTML with labels and units, and what is typed becomes the JSON of a fact.

Rows left empty are left out; ``Typed.places`` remembers where on the page each part of the JSON was typed, so that an
error such as ``pieces[1].weight`` stands beside that very field.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from labelsvc.codes.scanned import lot_code_in
from labelsvc.errors import ConfirmationNeeded, LabelsvcError
from labelsvc.web.errors import told

_BARE = re.compile(r"-?[0-9]+(?:[.,][0-9]+)?", re.ASCII)
_COMMA = re.compile(r"-?[0-9]+,[0-9]+", re.ASCII)
MOST_ROWS = 200


@dataclass(frozen=True)
class Field:
    """One field.

    Args:
        name: of the fact's field; a dot stands for a field inside (``additive.function``).
        label: as the trade says it.
        kind: text, long, weight, decimal, count, day, time, choice, card, flag, list, codes, lot, secret, password, photos,
            hidden.
        required: whether it must be filled in.
        hint: a line under the label.
        unit: of a bare number: g or kg for a weight; else only shown (%, °C).
        choices: value and words of a choice.
        card: the kind of card whose names are chosen from.
        suggest: the name of the list of suggestions.
        carried: does not make a row of its own (it is filled in beforehand).
        value: filled in beforehand.
    """

    name: str
    label: str
    kind: str = "text"
    required: bool = True
    hint: str = ""
    unit: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    card: str = ""
    suggest: str = ""
    carried: bool = False
    value: str = ""


@dataclass(frozen=True)
class Rows:
    """A list of parts, one row each.

    Args:
        name: of the fact's field.
        label: heading of the list.
        fields: of each row; a single field named ``""`` makes a list of bare values.
        add: words on the button for one more row.
        start: rows shown at first.
        hint: a line under the heading.
        titles: a line above each of the first rows.
    """

    name: str
    label: str
    fields: tuple[Field, ...]
    add: str
    start: int = 3
    hint: str = ""
    titles: tuple[str, ...] = ()


@dataclass(frozen=True)
class Form:
    """A form for one kind of fact.

    Args:
        kind: the kind of fact, also the name of its draft.
        title: what is being done.
        parts: fields and rows in order.
        press: words on the button.
        lead: one line under the title, optional.
        when: whether an earlier day may be given.
    """

    kind: str
    title: str
    parts: tuple[Field | Rows, ...]
    press: str
    lead: str = ""
    when: bool = True


@dataclass(frozen=True)
class Typed:
    """What was typed, as the JSON of a fact.

    Args:
        given: the JSON object.
        places: for each path in it, the name of the input it was typed in.
    """

    given: dict[str, Any]
    places: Mapping[str, str]


@dataclass(frozen=True)
class Problem:
    """What is wrong or asked, and beside which input it stands.

    Args:
        message: the sentence.
        beside: name of the input, or nothing for the head of the form.
        is_question: whether yes records it all the same.
        findings: of what is blocked.
    """

    message: str
    beside: str
    is_question: bool = False
    findings: Sequence[Mapping[str, Any]] = field(default_factory=tuple)


AT = Field("at", "On an earlier day", "day", required=False, hint="Leave empty for now.")


def parts_of(form: Form) -> tuple[Field | Rows, ...]:
    """Return the parts of a form with the day, where it may be given."""
    return (*form.parts, AT) if form.when else form.parts


def typed(form: Form, values: Mapping[str, str], units: Mapping[str, str]) -> Typed:
    """Return what was typed as the JSON of a fact.

    Args:
        form: the form.
        values: name and text of each input.
        units: for g and kg, the unit a bare number is taken in.
    """
    given: dict[str, Any] = {}
    places: dict[str, str] = {}
    for part in parts_of(form):
        if isinstance(part, Rows):
            found = _rows_typed(part, values, units, places)
            if found:
                given[part.name] = found
            places.setdefault(part.name, f"{part.name}-0-{part.fields[0].name}")
        else:
            _put(given, part.name, _value(part, values.get(part.name, ""), units))
            places[part.name] = part.name
    return Typed(given, places)


def problem_of(error: LabelsvcError, places: Mapping[str, str]) -> Problem:
    """Return an error as it stands on the page: beside its field, or the nearest around it, or at the head."""
    path = getattr(error, "field", "") or ""
    while path and path not in places:
        path = re.sub(r"(\.[^.\[\]]*|\[[0-9]+\])$", "", path) if re.search(r"(\.[^.\[\]]*|\[[0-9]+\])$", path) else ""
    is_question = isinstance(error, ConfirmationNeeded)
    message = told(error, "Is that right? Expected" if is_question else "Expected")
    return Problem(message, places.get(path, ""), is_question, tuple(getattr(error, "findings", ())))


def shown(
    form: Form, values: Mapping[str, str], units: Mapping[str, str], problem: Problem | None = None, more: str = ""
) -> list[dict[str, Any]]:
    """Return the form for the template: every input with its value and, where it is the one, the problem.

    Args:
        form: the form.
        values: what stands in the inputs.
        units: as of ``typed``.
        problem: what is wrong.
        more: the name of a list that is to have one more row.
    """
    return [
        _rows_shown(part, values, units, problem, part.name == more)
        if isinstance(part, Rows)
        else _field_shown(part, part.name, values, units, problem)
        for part in parts_of(form)
    ]


def flat(given: Mapping[str, Any], form: Form) -> dict[str, str]:
    """Return the inputs' values that say a JSON object: the reverse of ``typed``, to fill a form in beforehand."""
    values: dict[str, str] = {}
    for part in parts_of(form):
        if isinstance(part, Rows):
            for place, row in enumerate(given.get(part.name) or ()):
                for one in part.fields:
                    value = _get(row, one.name) if one.name else row
                    values[f"{part.name}-{place}-{one.name}"] = said(value)
        else:
            value = _get(given, part.name)
            is_answer = part.kind == "choice" and isinstance(value, bool)
            values[part.name] = str(value).lower() if is_answer else said(value)
    return {name: value for name, value in values.items() if value}


def said(value: Any) -> str:
    """Return a JSON value as an input shows it."""
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, (list, tuple)):
        return ", ".join(str(one) for one in value)
    return "" if value is None else str(value)


def _get(given: Any, name: str) -> Any:
    for step in name.split("."):
        given = given.get(step) if isinstance(given, Mapping) else None
    return given


def _put(given: dict[str, Any], name: str, value: Any) -> None:
    """Set a field, the ones around it made as they are needed; nothing typed sets nothing."""
    if value is None:
        return
    *outer, last = name.split(".")
    for step in outer:
        given = given.setdefault(step, {})
    given[last] = value


def _value(one: Field, raw: str, units: Mapping[str, str]) -> Any:
    text = raw.strip()
    if one.kind == "flag":
        return True if text else None
    if not text:
        return None
    if one.kind == "weight" and _BARE.fullmatch(text):
        return f"{text} {units.get(one.unit, one.unit)}"
    if one.kind == "count" and text.isascii() and text.isdigit():
        return int(text)
    if one.kind == "decimal" and _COMMA.fullmatch(text):
        return text.replace(",", ".")
    if one.kind in ("list", "codes", "photos"):
        words = [word.strip() for word in re.split(r"[\n,;]+", text) if word.strip()]
        return [lot_code_in(word) for word in words] if one.kind == "codes" else words
    if one.kind == "lot":
        return lot_code_in(text)
    return text


def _row_numbers(part: Rows, values: Mapping[str, str]) -> list[int]:
    pattern = re.compile(rf"{re.escape(part.name)}-([0-9]{{1,3}})-")
    found = {int(match.group(1)) for name in values if (match := pattern.match(name))}
    return sorted(number for number in found if number < MOST_ROWS)


def _rows_typed(part: Rows, values: Mapping[str, str], units: Mapping[str, str], places: dict[str, str]) -> list[Any]:
    found: list[Any] = []
    for number in _row_numbers(part, values):
        texts = {one.name: values.get(f"{part.name}-{number}-{one.name}", "") for one in part.fields}
        if not any(texts[one.name].strip() for one in part.fields if not one.carried):
            continue
        row: dict[str, Any] = {}
        place = f"{part.name}[{len(found)}]"
        places[place] = f"{part.name}-{number}-{part.fields[0].name}"
        for one in part.fields:
            _put(row, one.name, _value(one, texts[one.name], units))
            places[f"{place}.{one.name}" if one.name else place] = f"{part.name}-{number}-{one.name}"
        found.append(row if part.fields[0].name else row.get(""))
    return found


def _rows_shown(
    part: Rows, values: Mapping[str, str], units: Mapping[str, str], problem: Problem | None, more: bool
) -> dict[str, Any]:
    numbers = _row_numbers(part, values)
    count = max(part.start, numbers[-1] + 1 if numbers else 0) + (1 if more else 0)
    rows = [
        [_field_shown(one, f"{part.name}-{number}-{one.name}", values, units, problem) for one in part.fields]
        for number in range(min(count, MOST_ROWS))
    ]
    titles = (*part.titles, *[""] * len(rows))
    said = {"name": part.name, "label": part.label, "add": part.add, "hint": part.hint}
    return {"is_rows": True, **said, "titles": titles, "rows": rows}


def _field_shown(
    one: Field, name: str, values: Mapping[str, str], units: Mapping[str, str], problem: Problem | None
) -> dict[str, Any]:
    return {
        "is_rows": False,
        "name": name,
        "label": one.label,
        "kind": one.kind,
        "required": one.required,
        "hint": one.hint,
        "unit": units.get(one.unit, one.unit),
        "choices": one.choices,
        "card": one.card,
        "suggest": one.suggest,
        "value": "" if one.kind in ("secret", "password") else values.get(name, one.value),
        "problem": problem if problem and problem.beside == name else None,
    }
