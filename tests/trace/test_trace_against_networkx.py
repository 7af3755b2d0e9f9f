"""Trace and recall against an independent walk: networkx over the rows of ``export postings``, amounts as exact fractions."""

from collections import defaultdict
from fractions import Fraction
from functools import cache

import networkx as nx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from random_ledgers import story

from labelsvc.operations.exporting import rows_of
from labelsvc.operations.recalling import Suspicion, recall
from labelsvc.operations.tracing import trace

LOTS = {"animal", "part", "ingredient", "piece", "pack"}
SEEDS = range(100)
HALF_A_HUNDREDTH = Fraction(1, 200)
HALF_A_STEP = Fraction(1, 2000)  # grams are printed to a milligram, so half of one may be lost to rounding


class Graph:
    """The graph of a ledger: an edge for each flow from each lot that gives to each that receives, in whole milligrams."""

    def __init__(self, seed):
        rows = list(rows_of(story(seed).shop.ledger, "postings"))
        self.walk = nx.MultiDiGraph()
        self.came_in = defaultdict(int)
        self.flows = flows = defaultdict(list)
        for fact, flow, _, account, kind, milligrams in rows:
            flows[fact, flow].append((account, kind, milligrams))
            if kind in LOTS:
                self.walk.add_node(account)
        for lines in flows.values():
            self._add(lines)

    def _add(self, lines):
        givers = [(account, kind, -milligrams) for account, kind, milligrams in lines if milligrams < 0]
        for account, kind, milligrams in lines:
            if kind not in LOTS or milligrams < 0:
                continue
            if not {"customer", "gift"} & {giver_kind for _, giver_kind, _ in givers}:  # what comes back went in before
                self.came_in[account] += milligrams
            for (giver, giver_kind, _), share in zip(givers, shares(milligrams, [g[2] for g in givers]), strict=True):
                if giver_kind in LOTS:
                    self.walk.add_edge(giver, account, milligrams=share)

    def balance(self, affected):
        """What came into some lots by the flows that added to them, and by kind what left by the others; milligrams."""
        into, out = 0, defaultdict(int)
        for lines in self.flows.values():
            net = sum(milligrams for account, _, milligrams in lines if account in affected)
            into += max(net, 0)
            for account, kind, milligrams in lines if net < 0 else ():
                out[kind] += milligrams if account not in affected else 0
        return into, {kind: milligrams for kind, milligrams in out.items() if milligrams}

    def here(self, affected):
        """What is left of each of some lots; milligrams."""
        left = dict.fromkeys(affected, 0)
        for lines in self.flows.values():
            for account, _, milligrams in lines:
                if account in affected:
                    left[account] += milligrams
        return left

    def percent(self, lot, grams):
        """How much of all that ever came into a lot so many grams are, in percent."""
        came_in = self.came_in[lot]
        return min(grams * 100_000 / came_in, Fraction(100)) if came_in else Fraction(100)

    def amounts(self, root, *, is_forward):
        """How much of the root is in each lot ahead of it, or of each lot behind it in the root; grams."""
        graph = self.walk if is_forward else self.walk.reverse(copy=False)
        reached = (nx.descendants if is_forward else nx.ancestors)(self.walk, root) | {root}
        amounts = defaultdict(Fraction, {root: Fraction(self.came_in[root])})
        for lot in nx.topological_sort(graph.subgraph(reached)):
            for _, far, milligrams in graph.out_edges(lot, data="milligrams"):
                amounts[far] += amounts[lot] * Fraction(milligrams, max(self.came_in[lot], 1))
        return {lot: amounts[lot] / 1000 for lot in reached - {root}}


def shares(total, parts):
    """Largest remainder, the earlier one first where remainders are equal."""
    exact = [Fraction(total * part, sum(parts)) for part in parts]
    floors = [int(share) for share in exact]
    order = sorted(range(len(parts)), key=lambda i: floors[i] - exact[i])
    for i in order[: total - sum(floors)]:
        floors[i] += 1
    return floors


@cache
def graph_of(seed):
    return Graph(seed)


def lots_of(seed):
    return sorted(graph_of(seed).walk.nodes)


def agree(answer, expected):
    found = {one["code"]: Fraction(one["grams"]) for one in answer}
    assert found.keys() == expected.keys()
    for code, grams in expected.items():
        assert abs(found[code] - grams) <= HALF_A_STEP, code


@given(seed=st.integers(0, 2**32))
@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_every_lot_of_a_random_ledger_is_traced_and_recalled_as_networkx_walks(seed):
    graph = graph_of(seed)
    ledger = story(seed).shop.ledger
    for code in lots_of(seed):
        traced_as_networkx(graph, code, trace(ledger, code))
        recalled = recall(ledger, Suspicion(lots=(code,)))
        assert {one["code"] for one in recalled["affected"]} - {code} == nx.descendants(graph.walk, code)
        recalled_as_networkx(graph, code, recalled)


def recalled_as_networkx(graph, code, recalled):
    """Balance end by end, and the share of each lot, from the exported rows."""
    affected = {one["code"]: one for one in recalled["affected"]}
    balance = {where: Fraction(grams) * 1000 for where, grams in recalled["balance"]["out"].items()}
    into, out = graph.balance(affected)
    assert Fraction(recalled["balance"]["in"]) * 1000 == into
    assert {where: milligrams for where, milligrams in balance.items() if not where.startswith("here: ")} == out
    here = defaultdict(int)
    for lot, milligrams in graph.here(affected).items():
        here[f"here: {affected[lot]['state']}"] += milligrams
    assert {where: milligrams for where, milligrams in balance.items() if where.startswith("here: ")} == {
        where: milligrams for where, milligrams in here.items() if milligrams
    }
    assert recalled["balance"]["difference"] == "0"
    shared = {code: Fraction(graph.came_in[code], 1000), **graph.amounts(code, is_forward=True)}
    for lot, one in affected.items():
        assert one["by"] == "mass"
        assert abs(Fraction(one["shared_grams"]) - shared[lot]) <= HALF_A_STEP
        assert abs(Fraction(one["share_percent"]) - graph.percent(lot, shared[lot])) <= HALF_A_HUNDREDTH, lot


def traced_as_networkx(graph, code, answer):
    steps_back = nx.single_source_shortest_path_length(graph.walk.reverse(copy=False), code)
    steps_ahead = nx.single_source_shortest_path_length(graph.walk, code)
    assert {one["code"]: one["steps"] for one in answer["back"]} == {k: v for k, v in steps_back.items() if k != code}
    assert {one["code"]: one["steps"] for one in answer["forward"]} == {k: v for k, v in steps_ahead.items() if k != code}
    assert answer["balance"]["difference"] == "0"
    agree(answer["forward"], graph.amounts(code, is_forward=True))
    agree(answer["back"], graph.amounts(code, is_forward=False))


@pytest.mark.parametrize("seed", SEEDS)
def test_balance_of_a_recall_is_what_the_exported_postings_say(seed):
    """In, out by end and what is still here, added up from the exported rows without our own code."""
    rows = list(rows_of(story(seed).shop.ledger, "postings"))
    animals = [lot for lot in lots_of(seed) if lot.startswith("A")]
    answer = recall(story(seed).shop.ledger, Suspicion(lots=tuple(animals)))
    affected = {one["code"] for one in answer["affected"]}
    here = sum(milligrams for _, _, _, account, _, milligrams in rows if account in affected)
    balance = answer["balance"]
    stated_here = sum(Fraction(grams) for name, grams in balance["out"].items() if name.startswith("here: "))
    stated_out = sum(Fraction(grams) for name, grams in balance["out"].items() if not name.startswith("here: "))
    assert stated_here * 1000 == here
    assert Fraction(balance["in"]) == stated_out + stated_here


def test_random_ledgers_are_rich_enough_to_prove_something():
    graphs = [graph_of(seed).walk for seed in SEEDS]
    assert sum(len([lot for lot in graph if "/" in lot]) for graph in graphs) > 250
    assert max(nx.dag_longest_path_length(graph) for graph in graphs) >= 3
    assert sum(len(story(seed).corrections) for seed in SEEDS) > 150
    kinds = {kind for seed in SEEDS for kind, _ in story(seed).given.values()}
    assert {
        "receive",
        "cut",
        "cure",
        "take_out",
        "string",
        "weigh",
        "release",
        "pack",
        "sell",
        "give",
        "return",
        "dispose",
    } <= kinds
