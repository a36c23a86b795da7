"""Timers that a file leads to one millisecond: found where their order matters, and only there."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from datetime import date
from itertools import permutations

import pytest

from coach.check.compare.alike import decide_orders
from coach.check.compare.parts import differences_of
from coach.check.compare.runs import compare_runs
from coach.check.compare.ties import candidates, confirmed, swaps
from coach.check.findings import Finding
from coach.check.lint.graph import lint_ties, tied_pairs, tied_runs
from coach.check.lint.sheet import Sheet
from coach.check.proof.witness import Run
from coach.check.states.classes import Limit
from coach.engine.build import build
from coach.engine.plan import resolve
from coach.protocol.model import Protocol
from coach.protocol.overlay import effective
from coach.protocol.positions import locate
from coach.protocol.reading import read_protocol
from tests.check.models import HEAD, INPUTS, random_body

LIMIT = Limit(20_000, 20.0)

UNIT_MS = 500
"""Every timer of a random model takes a multiple of it."""

TWO = """
[timers]
a = {{ {a} }}
b = {{ {b} }}
c = {{ after = "3 s" }}
[track.main]
start = "idle"
[track.main.step.idle]
go = [{{ on = "touch", to = "busy", {started} }}]
[track.main.step.busy]
go = [{on_a}, {on_b}, {{ on = "timer:c", restart = "b" }}, {{ on = "call_made", restart = "b" }}]
[track.main.step.one]
[track.main.step.two]
"""

TO_ONE = '{ on = "timer:a", to = "one", stop = ["a", "b", "c"] }'
TO_TWO = '{ on = "timer:b", to = "two", stop = ["a", "b", "c"] }'


def _text(a: str, b: str, started: str, on_a: str = TO_ONE, on_b: str = TO_TWO) -> str:
    return HEAD + TWO.format(a=a, b=b, started=started, on_a=on_a, on_b=on_b)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (_text('after = "5 s"', 'after = "5 s"', 'start = ["a", "b"]'), "differ"),
        (_text('after = "5 s"', 'after = "6 s"', 'start = ["a", "b"]'), ""),
        # the second round of one, and a chain that adds up
        (_text('after = "10 s"', 'every = "5 s"', 'start = ["a", "b"]',
               on_b='{ on = "timer:b", when = "not m", mark = "m" }, ' + TO_TWO), "differ"),
        (_text('after = "7 s"', 'after = "4 s"', 'start = ["a", "c"]'), "differ"),
        (_text('after = "8 s"', 'after = "4 s"', 'start = ["a", "c"]'), ""),
        # the order changes nothing that is ever seen
        (_text('after = "5 s"', 'after = "5 s"', 'start = ["a", "b"]', '{ on = "timer:a", mark = "m", to = "one" }',
               '{ on = "timer:b", unmark = "m" }'), "same"),
        (_text('after = "5 s"', 'after = "5 s"', 'start = ["a", "b"]', '{ on = "timer:a", mark = "m" }',
               '{ on = "timer:b", unmark = "m" }'), "same"),
        # they meet only if a key falls on that very millisecond
        (_text('after = "5 s"', 'after = "5 s"', 'start = "a"'), ""),
        (_text('after = "5 s"', 'after = "5 s"', 'start = "a"', f'{TO_ONE}, {{ on = "touch", restart = "b" }}'),
         "same"),
    ],
)  # fmt: skip
def test_a_tie_counts_where_the_file_makes_it_and_the_order_matters(text: str, kind: str) -> None:
    protocol = read_protocol(text)
    machine = build(protocol, resolve(protocol))
    pair = (machine.layout.timers["a"], machine.layout.timers["b"])
    assert (pair in candidates(machine)) is bool(kind)
    if kind:
        ((_, decision),) = decide_orders(protocol, [pair], LIMIT)
        assert decision.kind == kind
        assert (decision.run is not None and confirmed(protocol, pair, decision.run)) is (kind == "differ")


def _ties(text: str) -> list[Finding]:
    whole = effective(text, "ties.toml")
    sheet = Sheet(whole.protocol, whole.text, "ties.toml", whole.root, locate(text), date(2026, 11, 25))
    lint_ties(sheet, tied_runs(whole.protocol, tied_pairs(sheet)))
    return sheet.findings


def test_a_finding_names_both_with_a_run() -> None:
    text = _text('after = "7 s"', 'after = "4 s"', 'start = ["a", "c"]')
    (found,) = _ties(text)
    assert (found.code, found.where.line) == ("timer-tie", text[: text.index("b = {")].count("\n") + 1)
    assert "`a` and `b`" in found.what and any("00:08.000" in line for line in found.witness)


def _tied_models() -> Iterator[tuple[int, Protocol]]:
    """Models whose steps start two timers at once, by seed."""
    for seed in range(30):
        body = re.sub(
            r'restart = "t(\d)"', r'restart = ["t\1", "t2"]', random_body(seed, UNIT_MS).replace('"t2"', '"t1"')
        )
        try:
            yield seed, read_protocol(HEAD + body)
        except ValueError:
            continue


def _meeting(protocol: Protocol) -> list[tuple[int, int]]:
    return candidates(build(protocol, resolve(protocol, counting="marks")))


def test_every_tie_of_random_models_is_one_in_the_engine() -> None:
    tally = {"differ": 0, "same": 0, "open": 0}
    for seed, protocol in _tied_models():
        for pair, decision in decide_orders(protocol, _meeting(protocol), Limit(600, 5.0)):
            tally[decision.kind] += 1
            if decision.run is not None:
                assert confirmed(protocol, pair, decision.run), f"seed {seed}: {pair}"
    assert tally["differ"] > 2 and tally["same"] > 10, tally


def test_no_random_run_tells_an_order_from_another_where_none_matters() -> None:
    """No key meets a timer by chance in these: what runs out together, the file has led there."""
    runs, told = 0, 0
    for seed, protocol in _tied_models():
        plan = resolve(protocol, counting="marks")
        draw = random.Random(seed)
        pairs = [(one, two) for one, two in _meeting(protocol) if two == one + 1]  # no third goes between
        for pair, decision in decide_orders(protocol, pairs, Limit(600, 5.0)):
            for _ in range(40):
                apart = draw.sample(range(1, UNIT_MS), draw.randint(2, 8))  # no two keys and no go a round time apart
                times = sorted(draw.randint(1, 20) * UNIT_MS + ms for ms in apart)
                events = [(e, draw.choice((*INPUTS, "hands_placed"))) for e in times]
                parts = confirmed(protocol, pair, Run(tuple(events), times[-1] + 6_001, plan, ()))
                assert decision.kind != "same" or not parts, f"seed {seed}: {pair}"
                runs, told = runs + 1, told + parts
    assert runs > 500 and told > 10, (runs, told)


@pytest.mark.parametrize("names", list(permutations("abcd")))
def test_neighbours_that_change_places_lead_to_any_order(names: tuple[str, ...]) -> None:
    now = list("abcd")
    for order, place in swaps("abcd", names):
        assert list(order) == now
        now[place], now[place + 1] = now[place + 1], now[place]
    assert tuple(now) == names


TIED = _text('after = "5 s"', 'after = "5 s"', 'start = ["a", "b"]')


@pytest.mark.parametrize(
    ("text", "kind"), [(TIED, "differ"), (TIED.replace('b = { after = "5 s"', 'b = { after = "6 s"'), "same")]
)
def test_timers_in_another_order_are_a_difference_where_the_file_makes_them_meet(text: str, kind: str) -> None:
    lines = [line for line in text.split("\n") if re.match("[ab] = ", line)]
    turned = read_protocol(text.replace("\n".join(lines), "\n".join(reversed(lines))))
    protocol = read_protocol(text)
    runs = compare_runs(protocol, turned, differences_of(protocol, turned))
    assert runs.kind == kind
    assert (runs.parting is not None and runs.parting.lines[-1].e >= 5_000) is (kind == "differ")
