"""The pages: one a moment of the work, one a lot, the buyer's page behind the QR, and the same operations over HTTP.

``create_app`` is the whole assembly. Views read input, call one operation and show the result; nothing is computed here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from flask import Flask

from labelsvc.labels.shelf import Shelf
from labelsvc.ledger.database import open_ledger
from labelsvc.operations.tray import Tray
from labelsvc.web import (
    accounts,
    actions,
    api,
    cards,
    cases,
    coating,
    complaints,
    correcting,
    curing,
    cutting,
    declarations,
    errors,
    goods_in,
    guard,
    habits,
    hanging,
    incidents,
    labels,
    lawbook,
    layouts,
    lots,
    markers,
    packing,
    papers,
    people,
    personal,
    photos,
    printers,
    public,
    rails,
    recalls,
    scanning,
    security,
    selling,
    staff,
    station,
    today,
    tubs,
    watching,
    wording,
)

_PAGES = (
    today.pages, scanning.pages, lots.pages, goods_in.pages, cutting.pages, curing.pages, tubs.pages, hanging.pages, rails.pages,
    watching.pages, packing.pages, selling.pages, incidents.pages, complaints.pages, recalls.pages, cases.pages,
    cards.pages, markers.pages, labels.pages, layouts.pages, lawbook.pages, habits.pages, actions.pages, correcting.pages,
    declarations.pages, people.pages, staff.pages, accounts.pages, photos.pages, public.pages, coating.pages, papers.pages,
    personal.pages, printers.pages,
)  # fmt: skip
BODY_LIMIT = 256 * 1024  # bytes; the longest form (a hundred pieces cut at once) is a tenth of it


def utc_now() -> dt.datetime:
    """Return the present in UTC."""
    return dt.datetime.now(dt.UTC)


def create_app(
    database_url: str,
    layouts: Shelf,
    secret: str,
    now: Callable[[], dt.datetime] = utc_now,
    idle_minutes: int = 0,
) -> Flask:
    """Return the application.

    Args:
        database_url: of the ledger; its tables are made or brought up to date.
        layouts: the label layouts at hand.
        secret: what the session cookies are signed with.
        now: the clock.
        idle_minutes: how long a bench may be left alone before it asks again who is there; 0 for ever.

    Raises:
        InputError: the database cannot be opened.
    """
    app = Flask(__name__)
    app.session_interface = security.Cookies()
    app.config.update(
        SECRET_KEY=secret,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        MAX_CONTENT_LENGTH=BODY_LIMIT,
    )
    ledger = open_ledger(database_url)
    app.extensions[station.KEY] = station.Station(ledger, layouts, now, dt.timedelta(minutes=idle_minutes), Tray(ledger))
    app.json.sort_keys = False  # type: ignore[attr-defined]  # an answer keeps the order of the contract
    for part in (guard, photos, security, errors, wording, public):
        part.install(app)
    for page in _PAGES:
        app.register_blueprint(page)
    app.register_blueprint(api.pages, url_prefix="/api/v1")
    return app
