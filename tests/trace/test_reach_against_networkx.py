"""How far a recall reaches against an independent computation: networkx over ``export postings`` and ``export contacts``."""

import json
from itertools import combinations

import networkx as nx
import pytest
from random_ledgers import story
from sqlalchemy import select

from labelsvc.ledger import around
from labelsvc.ledger.tables import effective, lots
from labelsvc.operations.exporting import rows_of
from labelsvc.operations.recalling import Suspicion, recall

LOTS = {"animal", "part", "ingredient", "piece", "pack"}
SEEDS = range(100)
KINDS = {
    "mass": set(),
    "tub": {"tub"},
    "slicer": {"tub", "slicer", "machine", "session"},
    "room": {"tub", "slicer", "machine", "session", "room"},
}
MACHINES = {"slicer", "machine"}  # what was on one of these between the same two cleanings met


def made_of(ledger):
    """The graph of what went into what, and the lots that are pieces."""
    graph, flows, pieces = nx.DiGraph(), {}, set()
    for fact, flow, _, account, kind, milligrams in rows_of(ledger, "postings"):
        if kind in LOTS:
            graph.add_node(account)
            flows.setdefault((fact, flow), []).append((account, milligrams))
            pieces |= {account} if kind == "piece" else set()
    for lines in flows.values():
        givers = [account for account, milligrams in lines if milligrams < 0]
        graph.add_edges_from((giver, account) for account, milligrams in lines if milligrams > 0 for giver in givers)
    return graph, pieces


def cleanings(ledger):
    """When each thing was cleaned, by the facts as they stand."""
    with ledger.reading() as connection:
        rows = connection.execute(select(effective.c.at, effective.c.body).where(effective.c.kind == "clean")).all()
    found = {}
    for at, body in rows:
        if body is not None:
            found.setdefault(json.loads(body)["thing"], []).append(at)
    return found


def who_met(ledger):
    """The graph of who was at the same thing at the same time; each edge knows the kinds of things."""
    met, stays, cleaned = nx.MultiGraph(), {}, cleanings(ledger)
    for lot, thing, kind, begins, ends in rows_of(ledger, "contacts"):
        runs = sum(at <= begins for at in cleaned.get(thing, ()))
        stays.setdefault((kind, thing), []).append((lot, begins, ends or "9999", runs))
    for (kind, _), there in stays.items():
        for (one, begins, ends, run), (other, others_begin, others_end, others_run) in combinations(there, 2):
            together = run == others_run if kind in MACHINES else others_begin <= ends and begins <= others_end
            if one != other and together:
                met.add_edge(one, other, kind=kind)
    return met


def downstream(graph, lots):
    return lots.union(*(nx.descendants(graph, lot) for lot in lots))


def expected(graph, pieces, met, code, reach):
    if reach == "mass":
        return downstream(graph, {code})
    start = {code} | (nx.ancestors(graph, code) & pieces)
    own = downstream(graph, start)
    beside = {other for lot in own if lot in met for _, other, kind in met.edges(lot, data="kind") if kind in KINDS[reach]}
    return downstream(graph, start | beside)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_reach_of_a_random_ledger_is_what_networkx_finds(seed):
    ledger = story(seed).shop.ledger
    (graph, pieces), met = made_of(ledger), who_met(ledger)
    for code in sorted(graph)[:: max(len(graph) // 3, 1)]:
        for reach in KINDS:
            answer = recall(ledger, Suspicion(lots=(code,), reach=reach))
            assert {one["code"] for one in answer["affected"]} == expected(graph, pieces, met, code, reach), (code, reach)


@pytest.mark.parametrize(("at_once", "looks"), [(500, 4), (1, 1), (2, 2)])
@pytest.mark.parametrize("seed", range(0, 100, 4))
def test_what_was_in_the_others_at_a_thing_is_what_networkx_finds_however_many_are_looked_at_first(
    seed, at_once, looks, monkeypatch
):
    monkeypatch.setattr(around, "_AT_ONCE", at_once)
    monkeypatch.setattr(around, "_LOOKS", looks)
    ledger, wanted = story(seed).shop.ledger, {"salt", "pepper", "curing salt"}
    graph, _ = made_of(ledger)
    stays = list(rows_of(ledger, "contacts"))
    with ledger.reading() as connection:
        rows = connection.execute(select(lots.c.id, lots.c.code, lots.c.ingredient_key)).all()
        named = {code: name for _, code, name in rows if name in wanted}
        for thing in ("blue", "red", "the slicer"):
            there = [stay for stay in stays if stay[1] == thing and stay[2] in around.THINGS]  # a room may have the name of a tub
            moments = sorted(begins for _, _, _, begins, _ in there)
            for since, until in (("", "9999"), (moments[len(moments) // 2], moments[-1])) if moments else ():
                own = {number for number, code, _ in rows if there and code == there[0][0]}
                others = {
                    lot for lot, _, _, begins, ends in there
                    if begins <= until and (ends is None or ends >= since) and lot != there[0][0]
                }  # fmt: skip
                expected = {named[code] for lot in others for code in {lot, *nx.ancestors(graph, lot)} if code in named}
                assert around.ingredients_at(connection, thing, since, until, own, wanted) == expected


def test_random_ledgers_hold_meetings_of_every_kind():
    kinds = {kind for seed in SEEDS for _, _, kind in who_met(story(seed).shop.ledger).edges(data="kind")}
    assert {"tub", "room", "session", "slicer"} <= kinds
    assert sum("the slicer" in cleanings(story(seed).shop.ledger) for seed in SEEDS) > 20
    said = {kind for seed in SEEDS for kind, _ in story(seed).given.values()}
    assert {"split", "return", "move", "salt_again"} <= said
