"""Each published case says where it comes from, has a test of its own kind, and is answered through ``compute`` as well."""

from __future__ import annotations

import json
from itertools import groupby
from operator import itemgetter

import published
import pytest
from by_hand import Hand

from labelsvc.operations.computing import COMPUTATIONS

# Kinds of case, each with the test that holds it.
TESTED = {
    "tests/curing/test_ingoing.py": {"ingoing", "cure", "mismatch"},
    "tests/curing/test_limits_of_the_law.py": {"limit"},
    "tests/curing/test_salts.py": {"expressed"},
    "tests/curing/test_dose.py": {"dose", "weigh"},
    "tests/curing/test_water.py": {"water", "brine", "anchor", "measured"},
    "tests/curing/test_drying.py": {"series", "loss", "target"},
    "tests/curing/test_habits.py": {"habit"},
    "tests/curing/test_intake.py": {"intake"},
    "tests/declaration/test_declare.py": {"quantity", "allergen", "spices", "shown", "raw_meat"},
    "tests/declaration/test_dates.py": {"date", "elsewhere"},
    "tests/declaration/test_nutrition.py": {"nutrition", "tolerance"},
    "tests/declaration/test_nutrition_us.py": {"increment"},
    "tests/declaration/test_particulars.py": {"figure_height", "tissue", "mixture", "net_quantity", "face", "panel"},
    "tests/declaration/test_label_published.py": {"label", "short_weight"},
    "tests/trace/test_record_keeping.py": {"kept"},
    "tests/operations/test_breakdown.py": {"yield"},
}
GRADES = {"A", "B", "C", "D"}


def test_vectors_then_each_kind_has_a_test_and_no_kind_is_left_over() -> None:
    assert published.kinds() == set().union(*TESTED.values())
    root = published.FOLDER.parents[1]
    for file, kinds in TESTED.items():
        text = (root / file).read_text(encoding="utf-8")
        assert [kind for kind in kinds if f'("{kind}"' not in text] == [], file


@pytest.mark.parametrize("file", published.files())
def test_vectors_then_source_edition_place_and_grade_are_given(file: str) -> None:
    content = published.files()[file]
    assert {"title", "edition", "place", "grade"} == set(content["source"])
    for kind, rows in content.items():
        for one in [] if kind == "source" else rows:
            told = {**content["source"], **one}
            assert told["grade"] in GRADES, one["id"]
            assert told["place"] != "beside the cases" or "source" in one, one["id"]


def test_vectors_then_no_id_stands_twice() -> None:
    ids = [one["id"] for kind in published.kinds() for one in published.cases(kind)]
    assert sorted(ids) == sorted(set(ids))


@pytest.mark.parametrize("name", sorted({name for name, _ in published.REQUESTS.values()}))
def test_compute_when_asked_the_published_cases_then_answers_as_the_function_that_the_cases_test(name: str, tmp_path) -> None:
    asked = [request for _, computation, request in published.requests() if computation == name]
    given = "".join(f"{json.dumps(request)}\n" for request in asked)
    answer = Hand(tmp_path / "none.db").ask("compute", name, "--lines", given=given)
    assert [json.loads(line) for line in answer.out.splitlines()] == [COMPUTATIONS[name](request) for request in asked]
    assert '"error":' not in answer.out


def test_requests_then_cover_every_kind_that_compute_answers() -> None:
    by_name = {name: len(list(rows)) for name, rows in groupby(sorted(published.requests(), key=itemgetter(1)), itemgetter(1))}
    assert by_name == {
        name: sum(len(published.cases(kind)) for kind, (computation, _) in published.REQUESTS.items() if computation == name)
        for name in by_name
    }
    assert set(by_name) == {"ingoing", "dose", "water", "declaration", "nutrition", "drying", "habit", "label", "intake"}
