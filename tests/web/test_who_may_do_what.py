"""Every page and call against every role, by a table written here from what the workshop decided, not from the program's own."""

import build
import pytest
from page_hand import Hand

from labelsvc import settings
from labelsvc.facts import KINDS
from labelsvc.ledger.database import open_ledger
from labelsvc.operations import accounts, people
from labelsvc.operations.recording import record
from labelsvc.web import create_app
from labelsvc.web.station import COOKIE

ROLES = ("reader", "bench_hand", "packer", "responsible")  # each does what those before it do, and more
STRANGER = "stranger"
# Who sees (GET) and who sends (POST), by the first role that does: what nobody below it may do.
ROUTES = """
GET anyone: static public.lot public.look accounts.sign_in accounts.first
POST anyone: public.complain accounts.sign_in accounts.first
GET at_a_bench: people.choose people.pin
POST at_a_bench: people.chosen people.pin_typed people.leave

GET reader: today.today actions.more scanning.go lots.trace lots.tag lots.sale_label recalls.recall cases.overview cases.case
GET reader: complaints.overview complaints.taken cards.overview cards.card staff.overview curing.dose curing.weigh_out
GET reader: habits.habits habits.habit lawbook.rules lawbook.product_class declarations.declaration declarations.of_product
GET reader: markers.pdf markers.printed accounts.mine labels.of_lot labels.tub layouts.shelf layouts.picture layouts.layout
GET reader: printers.overview printers.printing
GET reader: habits.volume photos.look papers.trace papers.of_case papers.letter papers.dispatch
GET reader: api.case api.cases api.complaint api.complaints api.lot api.lots api.openapi api.recall api.trace
POST reader: scanning.go habits.habit lawbook.product_class accounts.mine accounts.sign_out api.compute layouts.layout

GET POST bench_hand: goods_in.receive markers.reserve cutting.cut cutting.split curing.cure tubs.salt_again tubs.take_out
GET POST bench_hand: tubs.turn coating.coat hanging.string hanging.weigh watching.move watching.check watching.count
GET POST bench_hand: watching.clean lots.hold incidents.incident complaints.complaint correcting.put_right correcting.take_back
GET POST bench_hand: rails.string
GET POST bench_hand: rails.weigh
POST bench_hand: hanging.tag_again api.photo

GET POST packer: packing.start packing.desk packing.end declarations.decide selling.sell selling.other cases.tell
POST packer: lots.print_anew labels.again labels.void

GET POST responsible: photos.erase hanging.release lots.lift incidents.decide lawbook.figure
GET POST responsible: cases.new cases.step cases.publish cases.unpublish cases.close
GET POST responsible: staff.add staff.change accounts.password accounts.tokens
GET responsible: accounts.signed_in personal.overview
GET POST responsible: personal.erase
POST responsible: layouts.keep printers.overview printers.remove printers.try_out
POST responsible: complaints.taken staff.badge staff.no_pin accounts.end accounts.end_token

GET POST by_kind: cards.card api.record
POST by_kind: labels.issue printers.again
"""
BY_KIND = {("POST", "cards.card"), ("POST", "api.record"), ("POST", "labels.issue"), ("POST", "printers.again")}
LABEL_ROLES = """
bench_hand: tag hold-tag container-label tub-card
packer: sale-label counter-card case-label
"""
KIND_ROLES = """
bench_hand: supplier ingredient receive reserve cut cure salt_again coat turn move take_out split string weigh check count clean
bench_hand: hold incident complaint correct
packer: customer pack sell give return dispose tell issue_label reprint_label void_label
responsible: workshop product recipe figure release lift answer_complaint open_case case_step publish unpublish close_case
"""


def table(text):
    """Return what stands in a table: (words before, name) to the last word before the colon."""
    found = {}
    for line in filter(None, text.splitlines()):
        head, _, names = line.partition(":")
        *methods, role = head.split()
        for name in names.split():
            for method in methods or [""]:
                found.setdefault((method, name), role)
    return found


def allowed(role, first):
    return first == "anyone" or (role in ROLES and ROLES.index(role) >= ROLES.index(first))


class Door:
    """A workshop with an account of each role; every request comes on a device that was just signed in."""

    def __init__(self, database):
        self.shop = build.Shop(open_ledger(database))
        build.record_cards(self.shop)
        self.app = create_app(database, settings.layouts(), "for the tests only", lambda: build.NOW)
        self.app.config["TESTING"] = True
        self.lot = self.shop.packed("330 g", "340 g")[0]
        self.pack = self.shop.last.fact
        self.shop.day = "2026-05-22"
        self.reserved = self.shop.record("reserve", count=3).fact
        self.incident = self.shop.record("incident", what="power cut", lots=[self.lot]).fact
        self.complaint = self.shop.record("complaint", text="It tastes of soap.").fact
        self.case = self.shop.record("open_case", what="mock", reason="exercise", lots=[self.lot]).fact
        self.people, self.own = {}, {}
        for role in ("responsible", *ROLES[:3]):
            self.people[role] = people.add_person(self.shop.ledger, f"the {role}", role)
            fields = dict(thing="slicer", allergen_clean=True)
            self.own[role] = record(self.shop.ledger, "clean", fields, now=build.NOW, who=f"the {role}").fact
        accounts.set_password(self.shop.ledger, self.people["responsible"].number, "four green apples", build.NOW)

    def client(self, role, is_station=False):
        client = self.app.test_client()
        if role != STRANGER:
            text = accounts.begin_sign_in(self.shop.ledger, self.people[role], "a test", is_station, build.NOW)
            client.set_cookie(COOKIE, text)
        return Hand(client, self.shop)

    def address(self, rule, role, **said):
        facts = {"declarations": self.pack, "packing": self.pack, "markers": self.reserved, "incidents": self.incident}
        numbers = {"cases": self.case, "complaints": self.complaint}
        numbers["api"] = self.case if rule.endpoint == "api.case" else self.complaint
        part = rule.endpoint.partition(".")[0]
        names = {"api": "lot-code", "habits": "spoon", "layouts": "hanging_tag", "labels": "tag", "printers": "tag"}
        values = {
            "code": self.lot, "unit": 1, "gtin": "09521234543213", "tub": "blue", "digest": "0" * 64,
            "filename": "bench.css", "kind": "supplier",
            "fact": facts.get(part, self.own.get(role, self.own["responsible"])), "number": numbers.get(part, 1),
            "name": names.get(part, ""), "what": {"cases": "note", "papers": "recall"}.get(part, "give"), **said,
        }  # fmt: skip
        return rule.build({name: values[name] for name in rule.arguments})[1]

    def answer(self, role, method, path, is_station=False):
        """Return status and where it leads; a form is sent empty, with the token that stands in it."""
        client = self.client(role, is_station).client
        if method == "GET":
            found = client.get(path)
        elif path.startswith("/api/"):
            found = client.post(path, json={})
        else:
            with client.session_transaction() as session:
                session["csrf"] = "a token"
            found = client.post(path, data={"csrf": "a token"})
        found.get_data()
        found.close()
        return found.status_code, found.headers.get("Location") or ""


@pytest.fixture(scope="module")
def door(tmp_path_factory):
    made = Door(str(tmp_path_factory.mktemp("door") / "workshop.db"))
    yield made
    made.app.extensions["labelsvc"].ledger.close()
    made.shop.ledger.close()


def routes(app):
    return [(rule, method) for rule in app.url_map.iter_rules() for method in sorted(rule.methods - {"HEAD", "OPTIONS"})]


def outcome(answer):
    """Return in, out (nobody we know) or refused (known, and may not)."""
    status, where = answer
    if status == 401 or (status == 302 and where.startswith("/sign-in?onward=")):
        return "out"
    return "refused" if status == 403 else "in"


def test_every_route_when_listed_then_it_has_its_line_and_the_table_has_no_other(door):
    there = {(method, rule.endpoint) for rule, method in routes(door.app)}
    listed = {key for key, role in table(ROUTES).items() if role != "by_kind"} | BY_KIND
    assert there - listed == set(), "a new page needs a line here and in labelsvc/web/permissions.py"
    assert listed - there == set()


@pytest.mark.parametrize("role", [STRANGER, *ROLES])
def test_every_route_when_asked_for_by_a_role_then_as_the_table_says(door, role):
    wrong = []
    for rule, method in routes(door.app):
        first = table(ROUTES).get((method, rule.endpoint), "by_kind")
        if first in ("by_kind", "at_a_bench"):
            continue
        path = door.address(rule, role)
        answer = door.answer(role, method, path)
        expected = "in" if allowed(role, first) else "out" if role == STRANGER else "refused"
        status = answer[0]
        is_fine = status in (200, 302, 401, 403) or (expected == "in" and 400 <= status < 500)  # 4xx: the view's own answer
        if outcome(answer) != expected or not is_fine:
            wrong.append((method, path, status, outcome(answer), expected))
    assert wrong == []


@pytest.mark.parametrize("role", [STRANGER, *ROLES])
def test_every_kind_of_fact_when_recorded_by_a_role_then_as_the_table_says(door, role):
    kinds = {name: first for (_, name), first in table(KIND_ROLES).items()}
    assert set(kinds) == set(KINDS), "a new kind of fact needs a line here and in labelsvc/web/permissions.py"
    wrong = []
    for kind, first in kinds.items():
        paths = [f"/api/v1/record/{kind}", f"/api/v1/record/{kind.replace('_', '-')}"]
        paths += [f"/cards/{kind}"] if kind in ("workshop", "supplier", "customer", "ingredient", "product", "recipe") else []
        paths += [f"/{kind}"] if kind in ("give", "return", "dispose") else []
        expected = "in" if allowed(role, first) else "out" if role == STRANGER else "refused"
        wrong += [(path, expected) for path in paths if outcome(door.answer(role, "POST", path)) != expected]
    for (_, name), first in table(LABEL_ROLES).items():
        expected = "in" if allowed(role, first) else "out" if role == STRANGER else "refused"
        paths = [f"/labels/{name}/soap", f"/printing/{name}/1/again"]
        wrong += [(path, expected) for path in paths if outcome(door.answer(role, "POST", path)) != expected]
    assert wrong == []


def test_a_bench_when_nobody_stands_there_then_it_only_asks_who(door):
    for rule, method in routes(door.app):
        path = door.address(rule, "responsible")
        status, where = door.answer("responsible", method, path, is_station=True)
        first = table(ROUTES).get((method, rule.endpoint), "by_kind")
        if first in ("anyone", "at_a_bench") and rule.endpoint != "public.lot":
            assert status in (200, 302, 400, 404), path
        elif path.startswith("/api/"):
            assert status == 401, path
        else:
            assert (status, where.partition("?")[0]) == (302, "/who"), path


@pytest.mark.parametrize("role", ["bench_hand", "packer", "responsible"])
def test_a_correction_when_of_what_another_recorded_then_only_the_responsible_person_makes_it(door, role):
    mine, others = door.own[role], door.own["packer" if role == "bench_hand" else "bench_hand"]
    own_pack = record(
        door.shop.ledger, "customer", dict(name=f"Buyer of {role}"), now=build.NOW, who=f"the {role}"
    ).fact  # a kind that a bench hand may not record
    for fact, is_in in ((mine, True), (others, role == "responsible"), (own_pack, role != "bench_hand")):
        expected = "in" if is_in else "refused"
        assert outcome(door.answer(role, "GET", f"/fact/{fact}")) == expected
        assert outcome(door.answer(role, "POST", f"/fact/{fact}/take-back")) == expected
        for number in (fact, str(fact), f"{fact}.0", f"{fact}e0"):
            given = dict(fact=number, instead=None)  # a reason is missing, so nothing is recorded
            answer = door.client(role).client.post("/api/v1/record/correct", json=given)
            assert answer.status_code == (400 if is_in else 403), answer.get_json()
    assert "recorded" in answer.get_json()["error"]["message"] or is_in


def test_a_fact_when_said_to_be_anothers_then_only_the_responsible_person_may_say_so(door):
    given = dict(thing="table", allergen_clean=False, who="the responsible")
    answer = door.client("bench_hand").client.post("/api/v1/record/clean", json=given)
    assert answer.status_code == 403
    assert answer.get_json()["error"]["field"] == "who"
    assert answer.get_json()["error"]["expected"] == "yourself, the bench_hand"
    assert (
        door.client("bench_hand").client.post("/api/v1/record/clean", json={**given, "who": "the bench_hand"}).status_code == 200
    )
    assert door.client("responsible").client.post("/api/v1/record/clean", json={**given, "who": "the packer"}).status_code == 200


def test_a_page_when_a_role_may_not_open_it_then_no_link_leads_there(door):
    text = door.client("reader").get("/").text
    assert 'href="/recall"' in text
    for path in ("/goods-in", "/cut", "/pack", "/sell", "/complaint"):
        assert f'href="{path}"' not in text
    more = door.client("reader").get("/more").text
    assert 'href="/rules"' in more
    assert 'href="/hold"' not in more
    lot = door.client("reader").get(f"/lot/{door.lot}").text
    assert "Trace both ways" in lot
    assert "Hold it" not in lot


def test_who_may_not_when_refused_then_the_page_says_who_may(door):
    words = door.client("bench_hand").get("/release").words
    assert "Expected the responsible person; got the bench_hand, a bench hand." in words
