"""Our graph searches against networkx: what is reached, what goes round for ever, what every way passes."""

from __future__ import annotations

import functools
import random
from datetime import date

import networkx as nx
import pytest

from coach.check.lint.file import lint
from coach.check.proof import liveness
from coach.check.proof.prove import Prover, Scope
from coach.check.proof.rules import read_rules
from coach.check.states.classes import BOUND, Edge, Explorer, Graph
from coach.check.states.inputs import EACH
from coach.engine.build import arrows_from
from coach.protocol.library import load_protocol
from coach.protocol.model import Protocol
from tests.check.models import classes, random_models
from tests.mutants.making import changed, mutants

SHIPPED = ("erc-2025/adult-one-rescuer", "erc-2025/child-one-rescuer", "aha-2025/adult-two-rescuers")
UNIT_MS = 4
TODAY = date(2026, 11, 25)
ROUTES = ("arrow removed", "arrow led", "arrow stays")
"""Mutants that change where arrows lead; of the others the step graphs stay as they are."""


@functools.cache
def explored(ident: str) -> tuple[Prover, Graph]:
    """The classes that the rule about clear and shock rests on in a shipped protocol, with every edge."""
    protocol, text = load_protocol(ident)
    rules = [rule for rule in read_rules(protocol, text) if rule.id == "clear-before-shock"]
    prover = Prover(protocol, EACH, Scope(fixed=(("unit", "floor"),)), BOUND)
    return prover, Explorer(prover.ready(rules)[0].discrete).run()


def drawn(graph: Graph) -> nx.MultiDiGraph:
    """The classes as a graph of theirs; go is -1."""
    out = nx.MultiDiGraph()
    out.add_nodes_from(range(len(graph.nodes)))
    for edge in graph.first:
        out.add_edge(-1, edge.target, of=edge)
    for at, edges in enumerate(graph.edges):
        for edge in edges:
            out.add_edge(at, edge.target, of=edge)
    return out


def taken(edge: Edge, event: str) -> bool:
    return any(name == event for name, _ in edge.outcome.pairs)


@pytest.mark.parametrize("ident", SHIPPED)
def test_every_class_is_reached_and_the_ways_are_shortest(ident: str) -> None:
    graph = explored(ident)[1]
    assert graph.complete
    steps = nx.single_source_shortest_path_length(drawn(graph), -1)
    assert steps.keys() - {-1} == set(range(len(graph.nodes)))
    assert [len(graph.way(at)) for at in range(len(graph.nodes))] == [steps[at] for at in range(len(graph.nodes))]


@pytest.mark.parametrize("ident", SHIPPED)
def test_every_way_to_a_shock_passes_a_verdict(ident: str) -> None:
    """Dominators: between the classes stand the moments; one at which the verdict came stands before every shock."""
    graph = explored(ident)[1]
    moments = nx.DiGraph()
    shocks, verdicts = set(), set()
    for number, (at, to, edge) in enumerate(drawn(graph).edges(data="of")):
        moment = ("moment", number)
        moments.add_edges_from([(at, moment), (moment, to)])
        if taken(edge, "shock_pressed"):
            shocks.add(moment)
        if taken(edge, "shock_advised"):
            verdicts.add(moment)
    assert shocks
    without = moments.subgraph(set(moments) - verdicts)
    assert not shocks & nx.descendants(without, -1)
    contracted = nx.DiGraph(without)
    contracted.add_edges_from((at, "verdict") for moment in verdicts for at in moments.predecessors(moment))
    contracted.add_edges_from(("verdict", to) for moment in verdicts for to in moments.successors(moment))
    above = nx.immediate_dominators(contracted, -1)
    for shock in shocks:
        chain, at = [shock], shock
        while above.get(at, at) not in (at, None):
            at = above[at]
            chain.append(at)
        assert "verdict" in chain


@pytest.mark.parametrize("ident", SHIPPED)
def test_from_where_each_step_stays_possible(ident: str) -> None:
    prover, graph = explored(ident)
    backwards = drawn(graph).reverse()
    both = set()
    for (track, _), step in sorted(prover.machine.layout.steps.items()):
        place = prover.machine.layout.tracks[track]
        stands = [node.spot.steps[place] == step for node in graph.nodes]
        able = nx.multi_source_dijkstra_path_length(backwards, goals) if (goals := set(_true(stands))) else {}
        bad, _ = liveness.stuck(graph, stands, lambda edge: False)
        assert bad == next((at for at in range(len(graph.nodes)) if at not in able), None)
        both.add(bad is None)
    assert both == {True, False}


def _true(flags: list[bool]) -> list[int]:
    return [at for at, flag in enumerate(flags) if flag]


@pytest.mark.parametrize("first", [20, 40])
def test_what_goes_round_is_the_same_in_random_models(first: int) -> None:
    parted = 0
    for _, tried in random_models(6, UNIT_MS, first):
        graph = classes(tried.machine, tried.inputs)
        ours = liveness.components(graph.edges, list(range(len(graph.nodes))))
        theirs = nx.strongly_connected_components(drawn(graph).subgraph(range(len(graph.nodes))))
        assert {frozenset(one) for one in ours} == {frozenset(one) for one in theirs}
        parted += len(ours) > 1
    assert parted > 1


@pytest.mark.parametrize("ident", SHIPPED)
def test_what_goes_round_is_the_same_in_shipped_protocols(ident: str) -> None:
    graph = explored(ident)[1]
    ours = liveness.components(graph.edges, list(range(len(graph.nodes))))
    theirs = nx.strongly_connected_components(drawn(graph).subgraph(range(len(graph.nodes))))
    assert {frozenset(one) for one in ours} == {frozenset(one) for one in theirs}


def unreached(protocol: Protocol) -> set[tuple[str, str]]:
    """The steps that no arrow of their track leads to from where it starts, by networkx."""
    found = set()
    for name, track in protocol.track.items():
        steps = nx.DiGraph()
        steps.add_nodes_from(track.step)
        for step in track.step:
            steps.add_edges_from((step, arrow.to) for arrow, _ in arrows_from(track, step) if arrow.to)
        found |= {(name, step) for step in set(steps) - {track.start} - nx.descendants(steps, track.start)}
    return found


@pytest.mark.parametrize("ident", SHIPPED)
def test_unreachable_steps_of_mutants_are_those_that_nothing_leads_to(ident: str) -> None:
    """Where no guard is impossible, the lint's unreachable steps are those of the bare step graph."""
    _, text = load_protocol(ident)
    routed = [one for one in mutants(text) if one.kind.startswith(ROUTES)]
    cut = 0
    for mutant in random.Random(ident).sample(routed, 25):
        found = lint(changed(text, mutant), "mutant.toml", today=TODAY)
        if found.protocol is None or any(one.code == "guard-never" for one in found.findings):
            continue
        named = {one.about for one in found.findings if one.code == "unreachable-step"}
        expected = {f"track.{track}.step.{step}" for track, step in unreached(found.protocol)}
        assert named == expected, mutant
        cut += bool(expected)
    assert cut
