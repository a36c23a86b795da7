"""Counts that an arrow asks for and that never come about where it is tried."""

from __future__ import annotations

import pytest

from tests.check.models import HEAD
from tests.check.test_lint import Slip, line_of, linted, names_it

OWN = """
[counters]
n = { max = 9 }
[track.t]
start = "a"
[track.t.step.a]
go = [
  { on = "breath", when = "n == 4", set = { n = 5 }, to = "b" },
  { on = "breath", add = { n = 1 } },
  { on = "touch", when = "%s", to = "b" },
]
[track.t.step.b]
go = [{ on = "touch", when = "n == 5", to = "a", set = { n = 0 } }]
"""
OTHER = """
[counters]
n = { max = 9 }
[track.t]
start = "a"
[track.t.step.a]
go = [
  { on = "breath", when = "n == 4", to = "b" },
  { on = "touch", when = "%s", to = "b" },
]
[track.t.step.b]
go = [{ on = "touch", when = "n == 0", to = "a" }, { on = "breath" }]
[track.u]
start = "c"
[track.u.step.c]
go = [
  { on = "breath", when = "in_step(t, a)", add = { n = 1 } },
  { on = "rolled", set = { n = 0 } },
]
"""


def told(body: str) -> list[tuple[int, str]]:
    every = linted(HEAD + body).findings
    return [(one.where.line, one.what) for one in every if one.code == "count-never"]


@pytest.mark.parametrize("body", [OWN, OTHER], ids=["counted by the track itself", "counted by another track"])
def test_a_count_at_which_the_step_is_left_is_never_met_in_it(body: str) -> None:
    text = body % "n == 5"
    ((line, what),) = told(text)
    assert line == line_of(HEAD + text, '{ on = "touch", when = "n == 5", to = "b"')
    assert what == "`n` never comes to 5 where this arrow is tried: it is 0 to 4 there"
    assert [line for line, _ in told(body % "n >= 5")] == [line]


@pytest.mark.parametrize("guard", ["n == 4", "n >= 1", "n < 5", "n != 5", "n == 0"])
def test_a_count_that_comes_about_is_no_finding(guard: str) -> None:
    assert told(OWN % guard) == [] == told(OTHER % guard)


def test_a_step_that_comes_back_later_with_another_count_is_seen() -> None:
    kept = OWN.replace(', to = "a", set = { n = 0 }', ', to = "a"')
    assert told(kept % "n == 5") == []


SLIPS = {
    "counting in the wrong arrow": Slip(
        "count-never",
        'on = "compression"\nadd = { pushes = 1 }',
        'on = "compression"\nset = { pushes = 1 }',
        'when = "breaths and pushes == 29"',
        "it is 0 to 1 there",
    ),
}


@pytest.mark.parametrize("slip", SLIPS.values(), ids=SLIPS.keys())
def test_each_slip_is_named_at_its_line(slip: Slip) -> None:
    names_it(slip)
