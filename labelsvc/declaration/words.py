"""The words of a label language and the trade's names for allergens and animals, read from packaged data."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

from labelsvc.errors import InputError

LANGUAGES = ("en", "fr", "de", "it", "es")
Words = Mapping[str, Any]


@cache
def words_of(language: str) -> Words:
    """Return the tables of one language file.

    Args:
        language: ``en``, ``fr``, ``de``, ``it`` or ``es``.

    Raises:
        InputError: a language we have no words for.
    """
    if language not in LANGUAGES:
        raise InputError("language", f"one of {', '.join(LANGUAGES)}", language)
    return _read(f"words/{language}.toml")


@cache
def vocabulary() -> Words:
    """Return what a person may write for an allergen or an animal."""
    return _read("vocabulary.toml")


def allergen_key(text: str, field: str = "allergens") -> str:
    """Return our key of an allergen.

    Args:
        text: as a person writes it, such as ``"spelt"``, ``"pistachio"`` or the law's name.
        field: how an error names it.

    Raises:
        InputError: not one of the law's substances, or too wide a name (``"nuts"``).

    >>> allergen_key("Khorasan")
    'wheat'
    """
    name = text.strip().casefold()
    if name in vocabulary()["too_wide"]:
        raise InputError(field, vocabulary()["too_wide"][name], text)
    if name in vocabulary()["allergens"]:
        return name
    for key, names in vocabulary()["allergens"].items():
        if name in names:
            return str(key)
    raise InputError(field, "a substance of the allergen list, such as wheat, milk, mustard or celery", text)


def declared_key(name: str, language: str) -> str:
    """Return our key of an allergen as a label names it: by the law's name in its language, else as a person writes it.

    >>> declared_key("Senf", "de")
    'mustard'

    Raises:
        InputError: no substance of the list; a language we have no words for.
    """
    named = (key for key, row in words_of(language)["allergens"].items() if row["name"] == name)
    return next(named, None) or allergen_key(name)


def species_key(text: str) -> str:
    """Return our key of an animal (``"pork"`` is ``pig``); an animal we do not know stays as written."""
    name = text.strip().casefold()
    for key, names in vocabulary()["species"].items():
        if name in names:
            return str(key)
    return name


@cache
def naming_pattern(language: str, key: str) -> re.Pattern[str]:
    """Return the pattern of the words that already say an allergen inside an ingredient's name."""
    return _pattern(tuple(words_of(language)["allergens"][key]["words"]))


@cache
def telling_pattern(key: str) -> re.Pattern[str]:
    """Return the pattern of all words that tell of an allergen: in every language of ours, and those that only hint at it.

    A card is written in one language and its labels in several: the mustard of "Senf" is in the English label too.
    """
    said = [word for language in LANGUAGES for word in words_of(language)["allergens"][key]["words"]]
    return _pattern((*said, *(() if key == "sulphites" else vocabulary()["hints"].get(key, ()))))


@cache
def sulphite_hints() -> re.Pattern[str]:
    """Return the pattern of foods that often bring sulphites, such as wine: a reason to ask, not to declare."""
    return _pattern(tuple(vocabulary()["hints"]["sulphites"]))


def meant(name: str) -> str:
    """Return a name without the words that would tell of an allergen and mean something else, such as cream of tartar."""
    return _not_meant().sub(" ", name)


@cache
def _not_meant() -> re.Pattern[str]:
    return _pattern(tuple(vocabulary()["not_meant"]["names"]))


def number_text(value: str, words: Words) -> str:
    """Return plain digits with the language's decimal mark."""
    return value.replace(".", words["decimal_mark"])


def _pattern(names: tuple[str, ...]) -> re.Pattern[str]:
    # the longest first, so that "pistachio nuts" is taken whole
    choices = "|".join(re.escape(name).replace(r"\*", r"\w*") for name in sorted(names, key=len, reverse=True))
    return re.compile(rf"(?<!\w)(?:{choices})(?!\w)", re.IGNORECASE)


def _read(name: str) -> Words:
    text = (resources.files("labelsvc.declaration") / name).read_text(encoding="utf-8")
    return tomllib.loads(text)
