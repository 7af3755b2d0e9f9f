"""A photo of the paper goes in with the goods, is shown in the batch record, survives an error, and can be erased."""

import io
import re

import pytest
from PIL import Image

PIG = dict(
    supplier="Meadow Farm", name="half pig", species="pig", weight="40", known_as="not known", **{"trichinella.status": "tested"}
)


def jpeg(size=(200, 100)):
    out = io.BytesIO()
    Image.new("RGB", size, "white").save(out, "JPEG")
    return out.getvalue()


def sent(bench, path, content, file="paper.jpg", **fields):
    with bench.client.session_transaction() as session:
        csrf = session.setdefault("csrf", "a token")
    data = {"csrf": csrf, **fields, "photos-file": (io.BytesIO(content), file)}
    return bench.client.post(path, data=data, content_type="multipart/form-data", follow_redirects=True)


def digests(text):
    return list(dict.fromkeys(re.findall(r"[0-9a-f]{64}", text)))


def test_goods_when_taken_in_with_a_photo_then_the_record_leads_to_it(bench):
    page = sent(bench, "/goods-in?kind=animal", jpeg(), **PIG).get_data(as_text=True)
    (digest,) = digests(page)
    shown = bench.client.get(f"/photo/{digest}")
    assert shown.mimetype == "image/jpeg"
    assert Image.open(io.BytesIO(shown.data)).size == (200, 100)


def test_a_form_when_it_comes_back_then_the_photo_is_still_there(bench):
    page = sent(bench, "/goods-in?kind=animal", jpeg(), **{**PIG, "weight": "heavy"})
    assert page.status_code == 400
    text = page.get_data(as_text=True)
    (digest,) = digests(text)
    assert "1 photo kept" in text
    done = bench.post("/goods-in?kind=animal", **PIG, photos=digest)
    assert digests(done.text) == [digest]


def test_a_photo_when_it_is_none_then_it_stands_beside_the_field_and_nothing_typed_is_lost(bench):
    before = bench.shop.facts()
    page = sent(bench, "/goods-in?kind=animal", b"a letter", file="photo.jpg", **PIG)
    text = page.get_data(as_text=True)
    assert page.status_code == 400
    assert "Expected a photo as JPEG or PNG, or a PDF; got a file that is none of these, or is damaged." in text
    assert 'value="half pig"' in text
    assert bench.shop.facts() == before


def test_a_photo_when_larger_than_any_other_form_may_be_then_it_comes_in(bench):
    noise = Image.effect_noise((2000, 1500), 90).convert("RGB")
    out = io.BytesIO()
    noise.save(out, "JPEG", quality=95)
    assert len(out.getvalue()) > 1_000_000
    assert digests(sent(bench, "/goods-in?kind=animal", out.getvalue(), **PIG).get_data(as_text=True))


def test_a_complaint_when_it_has_a_photo_then_it_stands_in_the_record_of_the_lot(bench):
    lot, *_ = bench.packed("330 g", "340 g")
    sent(bench, f"/complaint?code={lot}/1", jpeg(), code=f"{lot}/1", text="It is green.")
    assert digests(bench.get(f"/lot/{lot}/1").text)


def test_a_photo_when_erased_then_the_record_says_when(bench):
    page = sent(bench, "/goods-in?kind=animal", jpeg(), **PIG)
    (digest,) = digests(page.get_data(as_text=True))
    assert "Erased is erased" in bench.get(f"/photo/{digest}/erase").words
    assert "The photo was erased on 2026-05-25" in bench.post(f"/photo/{digest}/erase").words
    assert "the photo was erased on 2026-05-25" in bench.get(page.request.path).words


def test_a_photo_when_a_stranger_asks_then_it_is_not_shown(bench, stranger):
    page = sent(bench, "/goods-in?kind=animal", jpeg(), **PIG).get_data(as_text=True)
    (digest,) = digests(page)
    assert "Who is there?" in stranger.get(f"/photo/{digest}").words


@pytest.mark.parametrize(("kind", "status"), [("image/jpeg", 200), ("application/x-www-form-urlencoded", 400)])
def test_the_interface_when_sent_a_photo_then_it_answers_the_hash_that_a_fact_names(bench, kind, status):
    answer = bench.client.post("/api/v1/photos", data=jpeg(), content_type=kind)
    assert answer.status_code == status
    if status == 200:
        given = dict(supplier="Meadow Farm", kind="animal", name="pig", weight="80 kg", photos=[answer.get_json()["photo"]])
        assert bench.client.post("/api/v1/record/receive", json=given).status_code == 200
