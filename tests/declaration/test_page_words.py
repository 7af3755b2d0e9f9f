"""The words of the buyer's page: every language says all of it, with the same places for what is filled in."""

import re

import pytest

from labelsvc.declaration.page_words import page_words
from labelsvc.declaration.words import LANGUAGES


def flat(words, head=""):
    for name, value in words.items():
        if isinstance(value, dict):
            yield from flat(value, f"{head}{name}.")
        elif name != "unconfirmed":
            yield f"{head}{name}", sorted(re.findall(r"{[a-z]+}", value))


@pytest.mark.parametrize("language", LANGUAGES)
def test_page_words_when_read_then_every_language_says_all_that_english_says(language):
    assert dict(flat(page_words(language))) == dict(flat(page_words("en")))


@pytest.mark.parametrize("language", LANGUAGES)
def test_page_words_when_unconfirmed_then_they_are_named(language):
    words = page_words(language)
    assert set(words["unconfirmed"]) <= set(words)
    assert (words["unconfirmed"] == []) == (language == "en")


def test_page_words_when_the_language_is_none_of_ours_then_they_are_english():
    assert page_words("pt") == page_words("en")
