"""Photographs of papers, goods and complaints: known by what is in the file, not by its name; kept beside the sealed chain.

A picture is drawn anew before it is kept: what a camera writes into it about place, time and owner is gone, and so is anything
that only looked like a picture.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io

from labelsvc.errors import InputError, NotFoundError
from labelsvc.ledger import attachments
from labelsvc.ledger.attachments import Attachment
from labelsvc.ledger.database import Ledger
from labelsvc.operations.when import instant

MOST_BYTES = 12 * 1024 * 1024  # a telephone's picture is 3 to 8 MB
MOST_PIXELS = 80_000_000
LONGEST_SIDE = 2400  # pixels kept: a delivery note of A4 stays readable at about 200 dots an inch
_QUALITY = 85
_EXPECTED = "a photo as JPEG or PNG, or a PDF"


def keep_photo(ledger: Ledger, content: bytes, *, now: dt.datetime, who: str = "", field: str = "photos") -> str:
    """Keep a photo or paper and return its hash, by which a fact names it.

    Args:
        ledger: where.
        content: the file as it came.
        now: the present.
        who: who took it.
        field: how an error names it.

    Raises:
        InputError: too large, or neither JPEG, PNG nor PDF by its content.
    """
    if len(content) > MOST_BYTES:
        said = f"at most {MOST_BYTES // 1024**2} MB"
        raise InputError(field, said, f"{len(content) / 1024**2:.1f} MB", "Take it with a lower resolution.")
    media_type, kept = ("application/pdf", content) if _is_pdf(content) else _drawn_anew(content, field)
    digest = hashlib.sha256(kept).hexdigest()
    with ledger.writing() as connection:
        attachments.put_attachment(connection, digest, media_type, kept, kept_at=instant(now), kept_by=who)
    return digest


def photo(ledger: Ledger, digest: str) -> Attachment:
    """Return a photo by its hash; one that was erased has no content.

    Raises:
        NotFoundError: none of that hash was ever here.
    """
    with ledger.reading() as connection:
        found = attachments.attachment(connection, digest)
    if found is None:
        raise NotFoundError("photo", "the hash of a photo that was kept", digest)
    return found


def erase_photo(ledger: Ledger, digest: str, today: dt.date) -> None:
    """Erase a photo; the facts that name it stay as they are, and the record says when it was erased.

    Raises:
        NotFoundError: none of that hash was ever here.
    """
    photo(ledger, digest)
    with ledger.writing() as connection:
        attachments.erase_attachment(connection, digest, today)


def _is_pdf(content: bytes) -> bool:
    import pypdfium2

    if not content.startswith(b"%PDF-"):
        return False
    try:
        document = pypdfium2.PdfDocument(content)
        pages = len(document)
        document.close()
    except pypdfium2.PdfiumError:
        return False
    return pages > 0


def _drawn_anew(content: bytes, field: str) -> tuple[str, bytes]:
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(content), formats=("JPEG", "PNG")) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                most = f"at most {MOST_PIXELS // 1_000_000} million pixels"
                raise InputError(field, most, f"{picture.width} × {picture.height}")
            kind = str(picture.format)
            upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, SyntaxError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(field, _EXPECTED, "a file that is none of these, or is damaged") from None
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    plain = Image.new("RGB", upright.size)
    plain.paste(upright)  # nothing but the dots goes along
    out = io.BytesIO()
    plain.save(out, kind, **({"quality": _QUALITY} if kind == "JPEG" else {"optimize": True}))
    return f"image/{kind.lower()}", out.getvalue()
