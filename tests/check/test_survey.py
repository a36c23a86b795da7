"""What can happen at all: random learners first, then the search, and the same answer without them."""

from __future__ import annotations

from dataclasses import replace

from coach.check.proof.survey import survey
from coach.check.whole import check_file
from coach.cores import Workers
from coach.protocol.reading import read_protocol
from tests.check.models import TINY

TEXT = (
    TINY.format(name="seen")
    + """[timers.slow]
after = "30 s"
source = "own"
[timers.cut_short]
after = "20 s"
source = "own"
[timers.unheard]
after = "5 s"
source = "own"
[track.unit]
start = "idle"
[track.unit.step.idle]
source = "own"
start = ["slow", "cut_short", "unheard"]
go = [
  { on = "unit_on", to = "ready" },
  { on = "timer:slow", to = "late" },
  { on = "timer:cut_short", to = "lost" },
]
[track.unit.step.ready]
source = "own"
go = [{ on = "inject:nudge", to = "idle" }]
[track.unit.step.late]
source = "own"
[track.unit.step.lost]
source = "own"
[inject.nudge]
title = "A nudge"
source = "own"
[[rule]]
id = "never-late"
never = { step = "late" }
say = "Never late."
source = "own"
[[rule]]
id = "never-lost"
never = { step = "lost" }
say = "Never lost."
source = "own"
"""
)


def test_learners_only_save_the_search() -> None:
    protocol = read_protocol(TEXT)
    searched, watched = survey(protocol, learners=0), survey(protocol, learners=30)
    assert replace(watched, classes=0) == replace(searched, classes=0)
    assert watched.classes < searched.classes
    assert [event for _, event in searched.never] == ["timer:slow"], "the shorter timer always leads away before"
    assert ("unit", "late") not in searched.steps
    assert searched.silent == ("slow",)
    assert not searched.undecided


def test_a_timer_that_nothing_hears_is_looked_for_too() -> None:
    text = TEXT.replace('after = "5 s"', 'after = "25 s"')
    assert survey(read_protocol(text), learners=0).silent == ("slow", "unheard")
    assert survey(read_protocol(text), learners=30).silent == ("slow", "unheard")


def test_a_check_says_the_same_in_one_process_as_in_two() -> None:
    alone = check_file(TEXT, "seen.toml", injects=1)
    with Workers(2) as workers:
        beside = check_file(TEXT, "seen.toml", injects=1, workers=workers)
    assert beside.as_dict() == alone.as_dict()
    assert {one.rule.id: one.kind for one in alone.rules} == {"never-late": "holds", "never-lost": "broken"}
