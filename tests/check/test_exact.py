"""State classes against slow exact searches: the same discrete states, none missed and none invented."""

from __future__ import annotations

import pytest

from coach.check.states.classes import Explorer
from coach.check.states.discrete import Discrete, Spot
from coach.check.states.inputs import Gate
from coach.check.states.openfacts import Frame
from coach.check.states.reads import Interest
from coach.check.states.slicing import Part, cut
from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import resolve
from tests.check.models import Shape, classes, protocol, random_models, shape, stepwise

UNIT_MS = 4


@pytest.mark.parametrize("part", range(8))
def test_random_models_have_the_same_states_as_the_engine_at_every_millisecond(part: int) -> None:
    pushes = lates = tried = 0
    for seed, model in random_models(25, UNIT_MS, first=1_000 * part):
        brute = stepwise(model.machine, model.inputs, 1)
        if brute is None:
            continue
        tried += 1
        found = {shape(node.spot) for node in classes(model.machine, model.inputs).nodes}
        assert found == brute, f"seed {seed}: {len(found - brute)} invented, {len(brute - found)} missed"
        pushes += any(info.since_push for info in model.machine.timers)
        lates += any(info.late for info in model.machine.timers)
    assert tried >= 15
    assert pushes > 1
    assert lates > 5


def test_dropping_classes_inside_others_loses_no_state() -> None:
    for seed, model in random_models(20, UNIT_MS, first=50_000):
        kept = {shape(node.spot) for node in classes(model.machine, model.inputs).nodes}
        dropped = {shape(node.spot) for node in classes(model.machine, model.inputs, keep=False).nodes}
        assert kept == dropped, f"seed {seed}"


def _projected(part: Part, spot: Spot) -> object:
    kept = part.kept
    return (
        tuple(spot.steps[track] for track in sorted(kept.tracks)),
        tuple(spot.counters[counter] for counter in sorted(kept.counters)),
        spot.marks & kept.marks,
        tuple((timer, left) for _, timer, left in spot.timers if timer in kept.timers),
    )


def test_a_part_behaves_as_the_whole_and_a_loose_look_takes_in_more() -> None:
    """Each track of random models alone: what is left out changes no state of what is kept; without clocks for its
    timers no state is lost."""
    smaller = 0
    for seed, model in random_models(60, UNIT_MS, first=90_000):
        machine = model.machine
        fixed = dict(zip(machine.fact_names, machine.facts, strict=True))
        nodes = classes(machine, model.inputs, keep=False).nodes
        for track in range(3):
            part = cut(machine, Interest(tracks=frozenset({track})), model.inputs, (), True)
            smaller += len(part.kept.tracks) < 3
            frame, gate = Frame(machine, fixed), Gate(machine, (), 2, "all")
            graph = Explorer(Discrete(part, frame, gate), keep_edges=False).run()
            found = {_projected(part, node.spot) for node in graph.nodes}
            assert found == {_projected(part, node.spot) for node in nodes}, f"seed {seed}, track {track}"
            loose = Discrete(part, frame, gate, (), frozenset(part.kept.timers))
            more = {_projected(part, node.spot) for node in Explorer(loose, keep_edges=False).run().nodes}
            assert found <= more, f"seed {seed}, track {track}"
    assert smaller > 60


def nogrid(rounds: int, unit_ms: int) -> str:
    """A model whose goal needs ``rounds`` different moments within one unit, each later than the last.

    Round by round: T runs out, then P, which starts T anew; a key starts P anew before Q runs out. T is declared after
    P, so that the key has to come strictly later within the unit than P ran out.
    """
    lines = ["[timers]", *(f'{name} = {{ after = "{unit_ms} ms" }}' for name in ("p", "q", "t"))]
    lines += ["[track.a]", 'start = "before"', "[track.a.step.failed]", "[track.a.step.goal]"]
    lines += [
        "[track.a.step.before]",
        'start = "t"',
        'keep = "t"',
        'go = [{ on = "touch", to = "second", restart = "p" }]',
    ]
    lines += ["[track.a.step.second]", 'go = [{ on = "touch", to = "wait_t0", restart = "q" }]']
    for n in range(rounds):
        after = "goal" if n == rounds - 1 else f"wait_t{n + 1}"
        fail = [f'{{ on = "timer:{name}", to = "failed" }}' for name in ("p", "q", "t")]
        for step, on, to, again in (
            (f"wait_t{n}", "timer:t", f"wait_p{n}", ""),
            (f"wait_p{n}", "timer:p", f"key{n}", ', restart = "t"'),
            (f"key{n}", "touch", f"wait_q{n}", ', restart = "p"'),
            (f"wait_q{n}", "timer:q", after, ', restart = "q"'),
        ):
            others = ", ".join(one for one in fail if f'"{on}"' not in one)
            lines += [f"[track.a.step.{step}]", f'go = [{{ on = "{on}", to = "{to}"{again} }}, {others}]']
    return "\n".join(lines)


def _reaches(states: set[Shape] | None, machine: Machine) -> bool:
    assert states is not None
    return any(state[0][0] == machine.layout.steps["a", "goal"] for state in states)


def test_what_no_coarse_clock_finds_is_found() -> None:
    """Twelve rounds of the family: on 1, 2, 4 or 8 steps a unit the goal is not there, in milliseconds it is."""
    authored = protocol(nogrid(12, 1_000))
    machine = build(authored, resolve(authored))
    found = {shape(node.spot) for node in classes(machine, ("touch",)).nodes}
    assert _reaches(found, machine)
    for steps in (1, 2, 4, 8):
        assert not _reaches(stepwise(machine, ("touch",), 1_000 // steps), machine), steps


def test_one_more_round_than_there_are_milliseconds_is_out_of_reach() -> None:
    for rounds, expected in ((3, True), (4, True), (5, False), (6, False)):
        authored = protocol(nogrid(rounds, 6))
        machine = build(authored, resolve(authored))
        found = {shape(node.spot) for node in classes(machine, ("touch",)).nodes}
        brute = stepwise(machine, ("touch",), 1)
        assert found == brute
        assert _reaches(found, machine) is expected, rounds
