"""Photos: known by their content, stripped of what a camera tells, limited in size, erasable while the ledger stays whole."""

import datetime as dt
import hashlib
import io

import build
import pytest
from PIL import Image

from labelsvc.errors import InputError, NotFoundError
from labelsvc.ledger.verify import verify_chain
from labelsvc.operations import photos
from labelsvc.operations.batch import batch_record

MAKE, ORIENTATION = 0x010F, 0x0112  # EXIF tags (CIPA DC-008)


def picture(kind="JPEG", size=(300, 200), **exif_of):
    """A picture with a red left half, as a camera would send it."""
    made = Image.new("RGB", size, "white")
    made.paste("red", (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    exif[MAKE] = "Camera of Ada"
    for name, value in exif_of.items():
        exif[{"orientation": ORIENTATION}[name]] = value
    out = io.BytesIO()
    made.save(out, kind, exif=exif)
    return out.getvalue()


def keep(shop, content):
    return photos.keep_photo(shop.ledger, content, now=build.NOW, who="Ada")


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_picture_when_kept_then_it_is_drawn_anew_without_what_the_camera_told(shop, kind):
    content = picture(kind)
    assert b"Camera of Ada" in content
    digest = keep(shop, content)
    kept = photos.photo(shop.ledger, digest)
    assert kept.media_type == f"image/{kind.lower()}"
    assert hashlib.sha256(kept.content).hexdigest() == digest
    assert b"Camera of Ada" not in kept.content
    seen = Image.open(io.BytesIO(kept.content))
    assert (seen.format, seen.size, dict(seen.getexif())) == (kind, (300, 200), {})


def test_a_picture_when_taken_sideways_then_it_stands_upright(shop):
    digest = keep(shop, picture(orientation=6))  # the camera was turned a quarter to the left
    seen = Image.open(io.BytesIO(photos.photo(shop.ledger, digest).content))
    assert seen.size == (200, 300)
    assert seen.getpixel((100, 10))[1] < 50  # red is on top now
    assert seen.getpixel((100, 290))[1] > 200


def test_a_picture_when_larger_than_needed_then_its_longer_side_is_cut_down(shop):
    digest = keep(shop, picture(size=(4800, 1200)))
    assert Image.open(io.BytesIO(photos.photo(shop.ledger, digest).content)).size == (2400, 600)


def test_a_paper_when_it_is_a_pdf_then_it_is_kept_as_it_is(shop):
    out = io.BytesIO()
    Image.new("RGB", (100, 100), "white").save(out, "PDF")
    kept = photos.photo(shop.ledger, keep(shop, out.getvalue()))
    assert (kept.media_type, kept.content) == ("application/pdf", out.getvalue())


@pytest.mark.parametrize(
    "content",
    [b"", b"a text", b"%PDF-1.7 and nothing else", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"\xff\xd8\xff\xe0 cut off",
     b"GIF89a" + bytes(30), picture()[:400]],
)  # fmt: skip
def test_a_file_when_it_is_none_of_these_then_it_is_refused_whatever_its_name(shop, content):
    with pytest.raises(InputError, match=r"^photos: expected a photo as JPEG or PNG, or a PDF, got a file that is none of these"):
        keep(shop, content)


def test_a_file_when_too_large_then_the_sentence_says_how_large_it_may_be(shop):
    with pytest.raises(InputError, match=r"^photos: expected at most 12 MB, got 12\.0 MB\. Take it with a lower resolution\.$"):
        keep(shop, bytes(photos.MOST_BYTES + 1))


def test_a_picture_when_it_has_too_many_pixels_then_it_is_refused_before_it_is_unpacked(shop, monkeypatch):
    monkeypatch.setattr(photos, "MOST_PIXELS", 59_999)
    with pytest.raises(InputError, match=r"got 300 × 200$"):
        keep(shop, picture())


def test_a_photo_when_named_by_a_fact_then_the_record_shows_it_and_erasing_leaves_the_ledger_whole(shop):
    digest = keep(shop, picture())
    lot = shop.receive(photos=[digest])
    steps = batch_record(shop.ledger, lot)["timeline"]
    assert steps[0]["photos"] == [{"photo": digest, "erased_on": None}]
    photos.erase_photo(shop.ledger, digest, dt.date(2026, 11, 25))
    assert photos.photo(shop.ledger, digest).content is None
    assert batch_record(shop.ledger, lot)["timeline"][0]["photos"] == [{"photo": digest, "erased_on": "2026-11-25"}]
    with shop.ledger.reading() as connection:
        verify_chain(connection)
    with pytest.raises(NotFoundError):
        photos.erase_photo(shop.ledger, "0" * 64, dt.date(2026, 11, 25))


@pytest.mark.parametrize("hash_", ["", "no hash", "A" * 64, "0" * 63])
def test_a_fact_when_its_photo_is_no_hash_then_it_is_refused(shop, hash_):
    with pytest.raises(InputError, match=r"^photos\[0\]: expected"):
        shop.receive(photos=[hash_])
