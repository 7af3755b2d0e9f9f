"""The whole HTTP interface against requests that nobody thought of: never an error of ours, every answer as it is described.

Right and wrong requests are made by schemathesis from our own OpenAPI document, and each goes through every door: from this
machine before any account is made, and with a token of each role.
"""

import datetime as dt
import warnings

import build
import pytest
from hypothesis import HealthCheck, given, settings

from labelsvc import settings as shipped
from labelsvc.operations import accounts, people
from labelsvc.web import create_app
from labelsvc.web.api import RECALL_ASKS
from labelsvc.web.openapi import document

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import schemathesis
    from schemathesis.checks import not_a_server_error
    from schemathesis.specs.openapi.checks import (
        content_type_conformance,
        response_schema_conformance,
        status_code_conformance,
    )

ROLES = ("reader", "bench_hand", "packer", "responsible")
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
TRIES = 8  # of each operation; each goes through every door
OPERATIONS = {one.ok().label: one.ok() for one in schemathesis.openapi.from_dict(document(RECALL_ASKS)).get_all_operations()}


@pytest.fixture(scope="module")
def doors(tmp_path_factory):
    """Return a client of a workshop without an account, and one with, and what each door sends along."""
    folder = tmp_path_factory.mktemp("fuzzed")
    made, headers = {}, {}
    for name in ("open", "shut"):
        shop = build.new_shop(str(folder / f"{name}.db"))
        shop.sell(shop.packed("350 g", "340 g")[1], at="2026-05-22")
        made[name] = create_app(str(folder / f"{name}.db"), shipped.layouts(), "for the tests only", lambda: build.NOW)
        if name == "shut":
            ada = people.add_person(shop.ledger, "Ada", "responsible")
            accounts.set_password(shop.ledger, ada.number, "quite a long one", build.NOW)
            today, end = build.NOW.date(), build.NOW.date() + dt.timedelta(days=30)
            for role in ROLES:
                token = accounts.make_token(shop.ledger, role, role, end, made_by="Ada", now=build.NOW, today=today)
                headers[role] = {"Authorization": f"Bearer {token.text}"}
        shop.ledger.close()
    yield [(made["open"], {}), *((made["shut"], headers[role]) for role in ROLES)]
    for app in made.values():
        app.extensions["labelsvc"].ledger.close()


@pytest.mark.parametrize("label", OPERATIONS)
def test_operation_when_asked_anything_then_no_error_of_ours_and_an_answer_as_described(doors, label):
    operation = OPERATIONS[label]

    @settings(max_examples=TRIES, database=None, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
    @given(case=operation.as_strategy())
    def asked(case):
        for app, headers in doors:
            case.validate_response(case.call(app=app, headers=headers), checks=CHECKS)

    asked()
