"""Photos that come with a form, and photos looked at or erased; the batch record leads here."""

from __future__ import annotations

from collections.abc import Iterator

from flask import Blueprint, Flask, Response, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from labelsvc.errors import InputError
from labelsvc.operations import photos
from labelsvc.web import station
from labelsvc.web.forms import Form, Problem, problem_of

pages = Blueprint("photos", __name__)
MOST_AT_ONCE = 4  # photos of one form
BODY_LIMIT = MOST_AT_ONCE * photos.MOST_BYTES + 1024**2  # bytes of a form with photos
_WITH_PHOTOS = ("goods_in.receive", "complaints.complaint", "api.photo")


def install(app: Flask) -> None:
    """Let the forms that take photos be large; every other stays small."""
    app.before_request(_let_be_large)


def received(form: Form) -> tuple[dict[str, str], Problem | None]:
    """Return what was typed with the photos that came along by their hashes, and what is wrong with one of them."""
    values = request.form.to_dict()
    field = next((part.name for part in form.parts if getattr(part, "kind", "") == "photos"), "")
    if not field:
        return values, None
    kept = [one for one in values.get(field, "").split(",") if one]
    try:
        for content in _contents(field):
            kept.append(photos.keep_photo(station.ledger(), content, now=station.now(), who=station.who(), field=field))
    except InputError as error:
        return {**values, field: ",".join(kept)}, problem_of(error, {field: field})
    return {**values, field: ",".join(dict.fromkeys(kept))}, None


@pages.get("/photo/<digest>")
def look(digest: str) -> Response | str:
    """Show a photo, or say when it was erased."""
    found = photos.photo(station.ledger(), digest)
    if found.content is None:
        return render_template("photo.html", photo=found)
    ending = found.media_type.partition("/")[2]
    headers = {"Content-Disposition": f'inline; filename="{digest[:12]}.{ending}"'}
    return Response(found.content, mimetype=found.media_type, headers=headers)


@pages.route("/photo/<digest>/erase", methods=["GET", "POST"])
def erase(digest: str) -> str | BaseResponse:
    """Ask, then erase a photo."""
    if request.method == "GET":
        return render_template("photo.html", photo=photos.photo(station.ledger(), digest), is_asked=True)
    photos.erase_photo(station.ledger(), digest, station.today())
    flash("The photo is erased; the record says when.", "did")
    return redirect(url_for("photos.look", digest=digest))


def _contents(field: str) -> Iterator[bytes]:
    files = [file for file in request.files.getlist(f"{field}-file") if file.filename]
    if len(files) > MOST_AT_ONCE:
        raise InputError(field, f"at most {MOST_AT_ONCE} photos at once", str(len(files)))
    for file in files:
        yield file.read(photos.MOST_BYTES + 1)
        file.close()


def _let_be_large() -> None:
    if request.endpoint in _WITH_PHOTOS:
        request.max_content_length = BODY_LIMIT
