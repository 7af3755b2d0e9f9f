"""The words of the page that buyers see, by language, read from packaged data beside the words of labels."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources

from labelsvc.declaration.words import LANGUAGES, Words


@cache
def page_words(language: str) -> Words:
    """Return the words of the buyer's page.

    Args:
        language: one of ``LANGUAGES``; for any other, English.
    """
    name = language if language in LANGUAGES else "en"
    text = (resources.files("labelsvc.declaration") / f"page_words/{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
