"""How far a recall reaches against an independent computation: networkx over ``export postings`` and ``export contacts``."""

from itertools import combinations

import networkx as nx
import pytest
from random_ledgers import story

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
MACHINES = {"slicer", "machine"}  # the random stories clean tubs only, so what was ever on one of these met


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


def who_met(ledger):
    """The graph of who was at the same thing at the same time; each edge knows the kinds of things."""
    met, stays = nx.MultiGraph(), {}
    for lot, thing, kind, begins, ends in rows_of(ledger, "contacts"):
        stays.setdefault((kind, thing), []).append((lot, begins, ends or "9999"))
    for (kind, _), there in stays.items():
        for (one, begins, ends), (other, others_begin, others_end) in combinations(there, 2):
            if one != other and (kind in MACHINES or (others_begin <= ends and begins <= others_end)):
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


def test_random_ledgers_hold_meetings_of_every_kind():
    kinds = {kind for seed in SEEDS for _, _, kind in who_met(story(seed).shop.ledger).edges(data="kind")}
    assert {"tub", "room", "session"} <= kinds
    said = {kind for seed in SEEDS for kind, _ in story(seed).given.values()}
    assert {"split", "return", "move", "salt_again"} <= said
