"""What a role may do: the one table of kinds of facts and pages. Each role may do all that those before it may.

Pure: the guard asks it before a view runs. A page that has no line here is for the responsible person alone, and a test says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

READER, BENCH_HAND, PACKER, RESPONSIBLE = ROLES = ("reader", "bench_hand", "packer", "responsible")
ANYONE = "anyone"  # a buyer, a stranger, someone about to sign in
AT_A_BENCH = "at a bench"  # whoever stands at a bench that is signed in, not yet known by name

# Who may record a kind of fact.
KINDS: Mapping[str, str] = {
    **dict.fromkeys(("workshop", "product", "recipe", "figure"), RESPONSIBLE),
    **dict.fromkeys(("supplier", "ingredient"), BENCH_HAND),
    "customer": PACKER,
    **dict.fromkeys(("receive", "reserve", "cut", "cure", "salt_again", "coat", "turn", "move", "take_out", "split"), BENCH_HAND),
    **dict.fromkeys(("string", "weigh", "check", "count", "clean", "hold", "incident", "complaint"), BENCH_HAND),
    **dict.fromkeys(("release", "lift", "answer_complaint"), RESPONSIBLE),
    **dict.fromkeys(("pack", "sell", "give", "return", "dispose", "tell"), PACKER),
    **dict.fromkeys(("issue_label", "reprint_label", "void_label"), PACKER),
    **dict.fromkeys(("open_case", "case_step", "publish", "unpublish", "close_case"), RESPONSIBLE),
    "correct": BENCH_HAND,  # of what they recorded themselves, and may record; the responsible person of everything
}

# Who may print a kind of label.
LABELS: Mapping[str, str] = {
    **dict.fromkeys(("tag", "hold-tag", "container-label", "tub-card"), BENCH_HAND),
    **dict.fromkeys(("sale-label", "counter-card", "case-label"), PACKER),
}


@dataclass(frozen=True)
class Page:
    """Who may see a page, and who may send what is typed on it.

    Args:
        see: the first role that may look (GET).
        send: the first role that may send (POST); ``<kind>`` stands for who may record, or print, what stands
            there in the address.
    """

    see: str
    send: str = RESPONSIBLE


def _records(kind: str) -> Page:
    return Page(KINDS[kind], KINDS[kind])


_READ = Page(READER)
PAGES: Mapping[str, Page] = {
    # for everyone: what a label says, and the way in
    **dict.fromkeys(("static", "public.lot", "public.look", "public.complain"), Page(ANYONE, ANYONE)),
    **dict.fromkeys(("accounts.sign_in", "accounts.first"), Page(ANYONE, ANYONE)),
    **dict.fromkeys(("people.choose", "people.chosen", "people.pin", "people.pin_typed"), Page(AT_A_BENCH, AT_A_BENCH)),
    "people.leave": Page(AT_A_BENCH, AT_A_BENCH),
    # for everyone who works here: looking, computing, the own account
    **dict.fromkeys(("accounts.mine", "accounts.sign_out", "scanning.go", "api.compute"), Page(READER, READER)),
    **dict.fromkeys(("habits.habit", "lawbook.product_class"), Page(READER, READER)),
    **dict.fromkeys(("today.today", "actions.more", "lots.trace", "lots.tag", "lots.sale_label", "recalls.recall"), _READ),
    **dict.fromkeys(("cases.overview", "cases.case", "complaints.overview", "cards.overview", "staff.overview"), _READ),
    **dict.fromkeys(("curing.dose", "curing.weigh_out", "habits.habits", "lawbook.rules"), _READ),
    **dict.fromkeys(("declarations.declaration", "declarations.of_product", "markers.pdf", "markers.printed"), _READ),
    **dict.fromkeys(("api.case", "api.cases", "api.complaint", "api.complaints", "api.lot", "api.lots"), _READ),
    **dict.fromkeys(("api.openapi", "api.recall", "api.trace"), _READ),
    **dict.fromkeys(("labels.of_lot", "labels.tub", "layouts.shelf", "layouts.picture", "habits.volume", "photos.look"), _READ),
    **dict.fromkeys(("papers.trace", "papers.of_case", "papers.letter", "papers.dispatch"), _READ),
    "printers.printing": _READ,
    "printers.overview": Page(READER),
    "layouts.layout": Page(READER, READER),
    "cards.card": Page(READER, "<kind>"),
    "complaints.taken": Page(READER, KINDS["answer_complaint"]),
    "api.record": Page(READER, "<kind>"),
    # at the bench
    "goods_in.receive": _records("receive"),
    "markers.reserve": _records("reserve"),
    "cutting.cut": _records("cut"),
    "cutting.split": _records("split"),
    "curing.cure": _records("cure"),
    "tubs.salt_again": _records("salt_again"),
    "tubs.take_out": _records("take_out"),
    "tubs.turn": _records("turn"),
    "coating.coat": _records("coat"),
    "hanging.string": _records("string"),
    "rails.string": _records("string"),
    "rails.weigh": _records("weigh"),
    "api.photo": Page(BENCH_HAND, BENCH_HAND),
    "hanging.tag_again": Page(BENCH_HAND, BENCH_HAND),
    "hanging.weigh": _records("weigh"),
    "watching.move": _records("move"),
    "watching.check": _records("check"),
    "watching.count": _records("count"),
    "watching.clean": _records("clean"),
    "lots.hold": _records("hold"),
    "incidents.incident": _records("incident"),
    "complaints.complaint": _records("complaint"),
    "correcting.put_right": _records("correct"),
    "correcting.take_back": _records("correct"),
    # packing and selling
    **dict.fromkeys(("packing.start", "packing.desk", "packing.end", "declarations.decide"), _records("pack")),
    **dict.fromkeys(("labels.issue", "printers.again"), Page(READER, "<name>")),
    "labels.again": _records("reprint_label"),
    "labels.void": _records("void_label"),
    "lots.print_anew": _records("issue_label"),
    "selling.sell": _records("sell"),
    "selling.other": Page("<what>", "<what>"),
    "cases.tell": _records("tell"),
    # the responsible person
    "hanging.release": _records("release"),
    "lots.lift": _records("lift"),
    **dict.fromkeys(("incidents.decide", "photos.erase", "personal.overview", "personal.erase"), Page(RESPONSIBLE)),
    "lawbook.figure": _records("figure"),
    "cases.new": _records("open_case"),
    "cases.step": _records("case_step"),
    "cases.publish": _records("publish"),
    "cases.unpublish": _records("unpublish"),
    "cases.close": _records("close_case"),
    "layouts.keep": Page(RESPONSIBLE),
    **dict.fromkeys(("staff.add", "staff.change", "staff.badge", "staff.no_pin", "accounts.password"), Page(RESPONSIBLE)),
    **dict.fromkeys(("accounts.signed_in", "accounts.end", "accounts.tokens", "accounts.end_token"), Page(RESPONSIBLE)),
    **dict.fromkeys(("printers.remove", "printers.try_out"), Page(RESPONSIBLE)),
}


def needed(endpoint: str | None, method: str, said: Mapping[str, Any]) -> str:
    """Return the first role that may do this, ANYONE or AT_A_BENCH.

    Args:
        endpoint: of the page; None where there is no such page, which anyone may hear.
        method: of HTTP.
        said: what stands in the address, by name.
    """
    if endpoint is None:
        return ANYONE
    page = PAGES.get(endpoint, Page(RESPONSIBLE))
    wanted = page.see if method in ("GET", "HEAD", "OPTIONS") else page.send
    if not wanted.startswith("<"):
        return wanted
    what = str(said.get(wanted.strip("<>"), ""))
    return LABELS.get(what) or KINDS.get(what.replace("-", "_"), READER)  # of an unknown kind the view says so


def may(role: str, wanted: str) -> bool:
    """Tell whether a role, or none (empty), may do what the first role needed may."""
    if wanted == ANYONE:
        return True
    return role in ROLES and wanted in ROLES and ROLES.index(role) >= ROLES.index(wanted)


def in_words(role: str) -> str:
    """Return a role as a sentence says it."""
    return {READER: "a reader", BENCH_HAND: "a bench hand", PACKER: "a packer", RESPONSIBLE: "the responsible person"}[role]
