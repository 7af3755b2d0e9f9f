"""Against what other web sites could make a browser do: a token in each form, and headers that let nothing foreign in."""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets

from flask import Flask, Response, g, request, session
from flask.sessions import SecureCookieSessionInterface

from labelsvc.errors import InputError
from labelsvc.web.buyers_page import STYLE

POLICY = "default-src 'self'; object-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'self'"
_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


_A_YEAR = 365 * 24 * 3600  # seconds


class Cookies(SecureCookieSessionInterface):
    """The session's cookie goes over https only where the page came by https; a workshop's own network may have none."""

    def get_cookie_secure(self, app: Flask) -> bool:
        """Tell whether this answer goes by https."""
        return request.is_secure


# What a route of the HTTP interface takes that is no JSON; like JSON, none of it can be sent by a form of another site.
API_BODIES = {"api.photo": ("image/jpeg", "image/png", "application/pdf")}


def install(app: Flask) -> None:
    """Check every form's token and set the headers."""
    app.before_request(_check_token)
    app.after_request(_set_headers)
    app.context_processor(lambda: {"csrf": token, "once": lambda: secrets.token_urlsafe(12)})


def token() -> str:
    """Return the session's token for forms."""
    if "csrf" not in session:
        session["csrf"] = secrets.token_urlsafe(24)
    return str(session["csrf"])


def buyers_policy() -> str:
    """Return the policy of the buyer's page: its own style by its hash, no script, nothing from anywhere."""
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; base-uri 'none'; form-action 'self'"


def _check_token() -> None:
    """A page of another site cannot know the token; it can send no JSON either without being asked about first."""
    if request.method in ("GET", "HEAD", "OPTIONS") or request.endpoint == "scanning.go":
        return  # a scan changes nothing, and a badge can be sent by nobody who does not hold it
    if request.blueprint == "api":
        wanted = API_BODIES.get(request.endpoint or "", ("application/json",))
        if request.mimetype not in wanted:
            raise InputError("Content-Type", " or ".join(wanted), request.mimetype or "none")
        return
    if request.blueprint == "public":
        return  # a buyer's complaint is nobody's in particular: no cookie is needed to send one
    if not hmac.compare_digest(request.form.get("csrf", "").encode("utf-8", "replace"), token().encode()):
        raise InputError(
            "form",
            "a form of this session",
            "one that was open too long",
            "Go back, load the page again; what you typed is kept.",
        )


def _set_headers(response: Response) -> Response:
    for name, value in _HEADERS.items():
        response.headers.setdefault(name, value)
    if request.is_secure:  # once by https, never again without: a sign-in must not go in the open
        response.headers.setdefault("Strict-Transport-Security", f"max-age={_A_YEAR}")
    response.headers.setdefault("Content-Security-Policy", g.get("policy", POLICY))
    if request.endpoint != "static":
        response.headers.setdefault("Cache-Control", "no-store")
    return response
