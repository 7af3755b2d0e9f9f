"""The page that buyers see, in every language at once: one request, no script, no cookie; also as a static file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader
from markupsafe import Markup

from labelsvc.declaration.dates import day_said
from labelsvc.declaration.page_words import page_words
from labelsvc.declaration.words import LANGUAGES, words_of
from labelsvc.operations.buyer import Maker, Seen

LONGEST = 2000  # characters of a complaint
STYLE = (Path(__file__).parent / "static" / "buyer.css").read_text(encoding="utf-8")
_EXAMPLE = "K261125A5B/3"
_pages = Environment(loader=PackageLoader("labelsvc.web"), autoescape=True, trim_blocks=True, lstrip_blocks=True)


@dataclass(frozen=True)
class ComplaintForm:
    """The form on a page; a static page has none, and says how to reach the workshop instead.

    Args:
        action: where it is sent.
        once: a token, so that a second press records nothing.
        typed: what stands in it.
        problem: the key of what is wrong, in the words for complaints.
    """

    action: str
    once: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)
    problem: str = ""


def pack_page(seen: Seen, form: ComplaintForm | None, *, thanks: bool = False, language: str = "") -> str:
    """Return the page of a pack or piece.

    Args:
        seen: what may be known of it.
        form: to complain by, or None.
        thanks: whether a complaint was just taken.
        language: shown first; the label's own where empty.
    """
    return _page("buyer.html", language or seen.language, seen=seen, maker=seen.maker, form=form, thanks=thanks)


def unknown_page(
    text: str, maker: Maker, form: ComplaintForm | None, *, thanks: bool = False, language: str = "en", look: str = ""
) -> str:
    """Return the page for a code that leads nowhere: how to read it again, and how to complain all the same.

    Args:
        text: the code as it was typed.
        maker: the workshop.
        form: to complain by, or None.
        thanks: whether a complaint was just taken.
        language: shown first.
        look: where a code is looked up, or nothing on a static page.
    """
    return _page("no_such_code.html", language, text=text, maker=maker, form=form, thanks=thanks, look=look, example=_EXAMPLE)


def warning_words() -> list[dict[str, Any]]:
    """Return what a warning says in each language, for whoever decides on it: language, headline, reasons, is_confirmed."""
    return [
        {
            "language": words["language"],
            "headline": words["recall"]["headline"],
            "reasons": words["reasons"],
            "is_confirmed": "reasons" not in words["unconfirmed"],
        }
        for words in map(page_words, LANGUAGES)
    ]


def _page(template: str, language: str, **context: Any) -> str:
    first = language if language in LANGUAGES else "en"
    order = [*(one for one in LANGUAGES if one != first), first]  # the one shown without a choice stands last: see the style
    return _pages.get_template(template).render(
        languages={one: page_words(one) for one in order},
        names={one: page_words(one)["language"] for one in LANGUAGES},
        first=first,
        allergen=_allergen,
        day=day_said,
        most=LONGEST,
        style=Markup(STYLE),  # our own file, and the policy allows just its hash
        **context,
    )


def _allergen(key: str, language: str) -> str:
    return str(words_of(language)["allergens"][key]["name"])
