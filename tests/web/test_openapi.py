"""The document of the HTTP interface: valid by an outside judge, complete, and true to what is sent and answered."""

import re

import build
import pytest
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from labelsvc.facts import KINDS
from labelsvc.operations.computing import COMPUTATIONS


@pytest.fixture
def document(bench):
    return bench.client.get("/api/v1/openapi.json").get_json()


def judge(document, schema):
    """Return a validator of a schema that points into the document."""
    return Draft202012Validator({"components": document["components"], **schema})


def asked(document, path):
    return document["paths"][f"/api/v1/{path}"]["post"]["requestBody"]["content"]["application/json"]["schema"]


def answered(document, path, status="200", method="get"):
    return document["paths"][f"/api/v1/{path}"][method]["responses"][status]["content"]["application/json"]["schema"]


def test_the_document_when_judged_from_outside_then_it_is_openapi_3_1(document):
    assert document["openapi"].startswith("3.1")
    OpenAPIV31SpecValidator(document).validate()


def test_the_document_when_compared_with_the_routes_then_each_is_there(app, document):
    there = {(re.sub(r"\{.*?\}", "*", path), method) for path, one in document["paths"].items() for method in one}
    for rule in app.url_map.iter_rules():
        if not rule.endpoint.startswith("api."):
            continue
        path = str(rule)
        paths = [path.replace("<kind>", kind) for kind in KINDS] if "<kind>" in path else [path]
        paths = [one.replace("<name>", name) for one in paths for name in COMPUTATIONS] if "<name>" in path else paths
        for one in paths:
            for method in rule.methods - {"HEAD", "OPTIONS"}:
                assert (re.sub(r"<.*?>", "*", one), method.lower()) in there, one


@pytest.mark.parametrize("kind", KINDS)
def test_a_fact_when_valid_then_its_schema_says_so_and_refuses_another_field(document, kind):
    schema = judge(document, asked(document, f"record/{kind}"))
    schema.validate({**build.body(kind), "at": "2026-03-02", "who": "Ada"})
    assert not schema.is_valid({**build.body(kind), "soap": "1"})


@pytest.mark.parametrize(
    ("path", "good", "bad"),
    [
        ("record/weigh", dict(piece="P", weight="900 g"), dict(piece="P", weight=900)),
        ("record/receive", build.body("receive", temperature_c="2.5"), build.body("receive", temperature_c=2.5)),
        ("record/cut", build.body("cut"), build.body("cut", pieces=[])),
        ("record/correct", dict(fact=1, instead=None, reason="slip"), dict(fact=1, reason="slip")),
        ("compute/water", dict(finished_water_percent="50", finished_salt_percent="5"), dict(finished_water_percent="50")),
        ("compute/gs1", dict(human_readable="(10)A"), dict(human_readable="(10)A", scan="]C110A")),
        ("compute/drying", dict(hang_weight="1 kg", target_loss_percent="30", weighings=[dict(day=0, weight="1 kg")]),
         dict(hang_weight="1 kg", target_loss_percent="30", weighings=[dict(day="noon", weight="1 kg")])),
    ],
)  # fmt: skip
def test_a_request_when_good_or_bad_then_the_schema_tells_them_apart(document, path, good, bad):
    schema = judge(document, asked(document, path))
    schema.validate(good)
    assert not schema.is_valid(bad)


def test_an_answer_when_given_then_it_fits_its_schema(bench, document):
    lot, one, _ = bench.packed("330 g", "340 g")
    bench.shop.sell(one)
    for path, asked_for in (("trace/{code}", f"trace/{one}"), ("lots/{code}", f"lots/{lot}"), ("lots", "lots"),
                            ("recall", f"recall?lot={lot}")):  # fmt: skip
        judge(document, answered(document, path)).validate(bench.client.get(f"/api/v1/{asked_for}").get_json())
    wrong = bench.client.post("/api/v1/record/weigh", json=dict(piece=one, weight="x"))
    judge(document, answered(document, "record/weigh", str(wrong.status_code), "post")).validate(wrong.get_json())
    right = bench.client.post("/api/v1/record/customer", json=dict(name="Quay Deli"))
    judge(document, answered(document, "record/customer", "200", "post")).validate(right.get_json())


def test_a_computation_when_answered_then_it_fits_its_schema(bench, document):
    for name, given in (
        ("lot-code", dict(code="P26112501V")),
        ("gs1", dict(human_readable="(01)09521234543213(10)H14")),
        ("water", dict(finished_water_percent="50", finished_salt_percent="5")),
        ("drying", dict(hang_weight="1 kg", target_loss_percent="30", weighings=[])),
    ):
        answer = bench.client.post(f"/api/v1/compute/{name}", json=given)
        judge(document, answered(document, f"compute/{name}", method="post")).validate(answer.get_json())
