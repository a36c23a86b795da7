"""Timers that a file leads to one millisecond: found where their order matters, and only there."""

from __future__ import annotations

import re
from datetime import date

import pytest

from coach.check.compare.alike import decide_orders
from coach.check.compare.ties import candidates, confirmed
from coach.check.findings import Finding
from coach.check.lint.graph import lint_ties
from coach.check.lint.sheet import Sheet
from coach.check.states.classes import Limit
from coach.engine.build import build
from coach.engine.plan import resolve
from coach.protocol.library import find_protocol
from coach.protocol.overlay import effective
from coach.protocol.positions import locate
from coach.protocol.reading import read_protocol
from tests.check.models import HEAD, random_body

LIMIT = Limit(20_000, 20.0)

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


def _ties(text: str, limit: Limit = LIMIT) -> list[Finding]:
    whole = effective(text, "ties.toml")
    sheet = Sheet(whole.protocol, whole.text, "ties.toml", whole.root, locate(text), date(2026, 11, 25))
    lint_ties(sheet, limit)
    return sheet.findings


def test_a_finding_names_both_with_a_run() -> None:
    text = _text('after = "7 s"', 'after = "4 s"', 'start = ["a", "c"]')
    (found,) = _ties(text)
    assert (found.code, found.where.line) == ("timer-tie", text[: text.index("b = {")].count("\n") + 1)
    assert "`a` and `b`" in found.what and any("00:08.000" in line for line in found.witness)


def test_every_tie_of_random_models_is_one_in_the_engine() -> None:
    """Models whose steps start two timers at once."""
    tally = {"differ": 0, "same": 0, "open": 0}
    for seed in range(30):
        body = re.sub(r'restart = "t(\d)"', r'restart = ["t\1", "t2"]', random_body(seed, 500).replace('"t2"', '"t1"'))
        try:
            protocol = read_protocol(HEAD + body)
        except ValueError:
            continue
        pairs = candidates(build(protocol, resolve(protocol, counting="marks")))
        for pair, decision in decide_orders(protocol, pairs, Limit(600, 5.0)):
            tally[decision.kind] += 1
            if decision.run is not None:
                assert confirmed(protocol, pair, decision.run), f"seed {seed}: {pair}"
    assert tally["differ"] > 2 and tally["same"] > 10, tally


@pytest.mark.parametrize("ident", ["erc-2025/adult-one-rescuer", "aha-2025/infant-two-rescuers"])
def test_no_shipped_protocol_hangs_on_a_tie(ident: str) -> None:
    entry = find_protocol(ident)
    assert _ties(entry.text(), Limit(500, 5.0)) == []
