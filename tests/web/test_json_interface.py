"""The same operations as JSON: answers, errors and statuses of the contract."""

from urllib.parse import quote

import pytest


def sent(bench, path, body):
    answer = bench.client.post(f"/api/v1/{path}", json=body)
    return answer.status_code, answer.get_json()


def test_record_when_sent_then_fact_and_codes(bench):
    status, told = sent(bench, "record/receive", dict(supplier="Meadow Farm", kind="animal", name="pig", weight="80 kg"))
    assert status == 200
    assert told["codes"][0].startswith("A")


@pytest.mark.parametrize(
    ("path", "body", "status", "field"),
    [
        ("record/receive", dict(supplier="Meadow Farm", kind="animal", name="pig", weight=80.5), 400, "weight"),
        ("record/soap", {}, 400, "kind"),
        ("record/weigh", dict(piece="P26112501V", weight="900 g"), 404, "piece"),
        ("record/correct", dict(fact=1, instead=None, reason="slip", extra=1), 400, "extra"),
        ("compute/soap", {}, 400, "name"),
        ("compute/lot-code", dict(code="P26112501X"), 400, "code"),
    ],
)
def test_a_request_when_wrong_then_status_and_error_of_the_contract(bench, path, body, status, field):
    got, told = sent(bench, path, body)
    assert got == status
    assert set(told["error"]) >= {"field", "expected", "got", "message"}
    assert told["error"]["field"] == field


def test_record_when_it_cannot_follow_then_409_and_when_held_then_422_with_findings(bench):
    piece = bench.shop.hanging_piece()
    assert sent(bench, "record/string", dict(piece=piece, weight="900 g", place="room 1"))[0] == 409
    bench.shop.record("hold", lots=[piece], reason="mould")
    status, told = sent(bench, "record/release", dict(lot=piece, by="Ada"))
    assert status == 422
    assert told["error"]["findings"][0]["severity"] == "stop"


def test_record_when_it_is_unusual_then_the_question_says_how_to_answer_it(bench):
    piece = bench.shop.hanging_piece()
    status, question = sent(bench, "record/weigh", dict(piece=piece, weight="1020 g"))  # a piece that hangs gains nothing
    assert (status, question["error"]["answer"]) == (400, {"confirmed": True})
    assert sent(bench, "record/weigh", {**dict(piece=piece, weight="1020 g"), **question["error"]["answer"]})[0] == 200


def test_record_when_it_is_no_json_then_400(bench):
    answer = bench.client.post("/api/v1/record/weigh", data="piece=1", content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 400
    answer = bench.client.post("/api/v1/record/weigh", data="{", content_type="application/json")
    assert answer.get_json()["error"]["field"] == "weigh"
    assert bench.client.post("/api/v1/record/weigh", json=[1]).status_code == 400
    answer = bench.client.post("/api/v1/compute/drying", data="[" * 100_000, content_type="application/json")
    assert answer.get_json()["error"]["got"] == "text that is not JSON"


def test_a_form_when_its_token_is_no_ascii_then_it_is_refused_as_any_wrong_one(bench):
    assert bench.client.post("/hold", data={"csrf": "ü"}).status_code == 400


def test_compute_when_sent_then_as_by_command(bench):
    assert sent(bench, "compute/lot-code", dict(code="p261125-01v")) == (
        200, {"code": "P26112501V", "kind": "piece", "date": "2026-11-25"},
    )  # fmt: skip


def test_trace_lots_and_recall_when_asked_then_as_by_command(bench):
    lot, one, _ = bench.packed("330 g", "340 g")
    bench.shop.sell(one)
    get = bench.client.get
    assert get(f"/api/v1/trace/{one}").get_json()["sales"][0]["name"] == "Corner Shop"
    for scanned in (f"]C1010952123454321310{lot}", quote(f"https://example.com/01/09521234543213/10/{lot}/21/1", safe="")):
        answer = get(f"/api/v1/trace/{scanned}", follow_redirects=True).get_json()  # a link's two slashes are made one
        assert answer["lot"]["code"] in (lot, one)
    assert get(f"/api/v1/lots/{lot}").get_json()["lot"]["code"] == lot
    assert get("/api/v1/lots?state=in+stock").get_json()["lots"][0]["kind"] == "pack"
    assert get(f"/api/v1/recall?lot={lot}&reach=slicer").get_json()["customers"][0]["name"] == "Corner Shop"


@pytest.mark.parametrize("query", ["", "?soap=1", "?lot=soap", "?place=room+1&reach=moon", "?place=room+1&from=spring"])
def test_recall_when_it_cannot_be_read_then_400(bench, query):
    assert bench.client.get(f"/api/v1/recall{query}").status_code == 400


def test_a_path_when_there_is_none_then_404_in_json(bench):
    answer = bench.client.get("/api/v1/soap")
    assert answer.status_code == 404
    assert answer.get_json()["error"]["got"] == "/api/v1/soap"


def test_record_when_sent_again_under_its_key_then_once(bench):
    before = bench.shop.facts()
    body = dict(supplier="Meadow Farm", kind="animal", name="pig", weight="80 kg")
    answers = [
        bench.client.post("/api/v1/record/receive", json=body, headers={"Idempotency-Key": "delivery-1"}).get_json()
        for _ in range(2)
    ]
    assert answers[0] == answers[1]
    assert bench.shop.facts() == before + 1
    other = bench.client.post("/api/v1/record/receive", json={**body, "name": "sow"}, headers={"Idempotency-Key": "delivery-1"})
    assert other.status_code == 409
    assert other.get_json()["error"]["field"] == "once"
