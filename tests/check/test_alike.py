"""Two versions decided exactly: against a slow search of both at every millisecond, and replayed in the engine."""

from __future__ import annotations

import random
from collections import Counter, deque
from collections.abc import Iterator

import pytest

from coach.check.compare import alike
from coach.check.compare.alike import decide
from coach.check.compare.arrows import arrow_names
from coach.check.compare.parts import Differences, differences_of
from coach.check.compare.runs import compare_runs
from coach.check.states.classes import Limit
from coach.check.states.sight import Sight
from coach.engine.build import build
from coach.engine.plan import resolve
from coach.engine.state import Effect, State
from coach.engine.step import advance, feed, start
from coach.protocol.model import Protocol
from coach.protocol.reading import read_protocol
from tests.check.models import HEAD, INPUTS, random_body, relative
from tests.mutants.making import changed, mutants

BOUND = Limit(20_000, 30.0)


def _body(seed: int) -> str:
    """A random model; every third has a fact, an inject that opens an obligation, and events that it emits itself."""
    draw = random.Random(seed)
    if seed % 3:
        return random_body(seed, 3)
    answer, late = draw.choice(INPUTS), draw.randint(1, 3)
    lines = [
        random_body(seed, 1),
        "[facts]",
        'wet = { kind = "flag", default = false }',
        "[inject.jolt]",
        'title = "Jolt"',
        f'allowed = "{answer}"',
        f'within = "{late} ms"',
    ]
    if draw.random() < 0.5:
        lines.append(f'emit = "{draw.choice(INPUTS)}"')
    lines += ["[track.three]", 'start = "calm"', "[track.three.step.calm]", "[[track.three.step.calm.go]]"]
    lines += [f'on = "{draw.choice(("inject:jolt", "closed:jolt", *INPUTS))}"', 'to = "stirred"', 'emit = "rattle"']
    lines += [f'when = "{draw.choice(("wet", "not wet or m_one", "m_two or not wet", "n < 2"))}"']
    lines += ["[track.three.step.stirred]"]
    lines += [f'go = [{{ on = "rattle", mark = "m_one" }}, {{ on = "{draw.choice(INPUTS)}", to = "calm" }}]']
    lines += ["[track.four]", 'start = "still"', "[track.four.step.still]"]
    lines += [f'go = [{{ on = "rattle", when = "m_two", unmark = "m_two", restart = "t{draw.randint(0, 2)}" }}]']
    return "\n".join(lines)


def _pairs(first: int, count: int, each: int) -> Iterator[tuple[str, Protocol, Protocol, Differences]]:
    """Random models, each with some of its mutants that differ in what runs."""
    seed = first
    while count:
        seed += 1
        text = HEAD + _body(seed)
        try:
            old = read_protocol(text)
        except ValueError:
            continue
        count -= 1
        every = mutants(text)
        random.Random(seed).shuffle(every)
        given = 0
        for mutant in every:
            try:
                new = read_protocol(changed(text, mutant))
            except ValueError:
                continue
            found = differences_of(old, new)
            if not found.alike:
                yield f"seed {seed}: {mutant}", old, new, found
                given += 1
            if given == each:
                break


Both = tuple[State, State]


def _brute(old: Protocol, new: Protocol, found: Differences, most: int = 4_000) -> str:
    """Whether any run of the engine at whole milliseconds shows a difference; "" where there are too many states."""
    plans = [resolve(each, counting="marks") for each in (old, new)]
    machines = [build(each, plan) for each, plan in zip((old, new), plans, strict=True)]
    step_of = {now: was for was, now in found.renamed.items()}
    sights = (
        Sight(machines[0], {}, {}, None),
        Sight(machines[1], arrow_names(old, new, list(found.pairs)), step_of, machines[0]),
    )
    far = max((info.first for each in machines for info in each.timers if info.since_push), default=0) + 1
    inject = [f"{kind}:jolt" for kind in ("inject", "wrong") if "jolt" in old.inject]
    inputs = [*INPUTS, "hands_placed", "hands_lifted", "swapped", *inject]
    events = [event for event in inputs if any(event in each.table for each in machines)]

    def told(results: list[tuple[State, tuple[Effect, ...], str]]) -> tuple[Both, bool]:
        one, two = (sight.tokens(effects, said) for sight, (_, effects, said) in zip(sights, results, strict=True))
        return (results[0][0], results[1][0]), one != two

    wet = plans[0].facts.get("wet", False), True
    waiting: deque[Both] = deque()
    seen = set()
    for fact in dict.fromkeys(wet):
        begun = []
        for machine in machines:
            state, effects = start(machine)
            at = machine.fact_names.index("wet") if "wet" in machine.fact_names else None
            facts = tuple(fact if place == at else value for place, value in enumerate(state.facts))
            begun.append((state._replace(facts=facts), effects, ""))
        both, parted = told(begun)
        if parted:
            return "differ"
        waiting.append(both)
    while waiting:
        both = waiting.popleft()
        e = both[0].e
        nexts = [told([feed(machine, state, event, e) for machine, state in zip(machines, both, strict=True)])
                 for event in events]  # fmt: skip
        later = [advance(machine, state, e + 1) for machine, state in zip(machines, both, strict=True)]
        nexts.append(told([(state, effects, "") for state, effects in later]))
        for after, parted in nexts:
            if parted:
                return "differ"
            key = (after[0].facts, *(relative(state, far) for state in after))
            if key not in seen:
                seen.add(key)
                waiting.append(after)
        if len(seen) > most:
            return ""
    return "same"


@pytest.mark.parametrize("quick", [alike.QUICK, 2])
def test_what_is_decided_is_what_every_millisecond_shows(quick: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """``quick`` 2: nearly everything is asked of the look that takes in more than can be first."""
    monkeypatch.setattr(alike, "QUICK", quick)
    tally: Counter[tuple[str, str]] = Counter()
    for what, old, new, found in _pairs(quick, 9, 6):
        truth = _brute(old, new, found)
        if not truth:
            continue
        decision = decide(old, new, found, limit=BOUND)
        tally[truth, decision.kind] += 1
        assert (truth, decision.kind) not in (("same", "differ"), ("differ", "same")), what
        if decision.kind == "differ":
            runs = compare_runs(old, new, found, exact=BOUND)
            assert runs.kind == "differ" and runs.parting is not None and runs.parting.shortest, what
    assert tally["same", "same"] > 12 and tally["differ", "differ"] > 12
    assert tally["same", "open"] + tally["differ", "open"] < 3
