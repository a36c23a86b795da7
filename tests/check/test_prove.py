"""Every sentence form on small models: holds, broken with a story, vacuous; as taught and as noticed."""

from __future__ import annotations

import pytest

from coach.check.proof.verdicts import RuleVerdict
from coach.check.states.classes import Limit
from coach.protocol.problems import FileProblems
from tests.check.models import prove

BASE = """
[facts.weight]
kind = "number"
unit = "kg"
from = 2
to = 200
may_be_unknown = true

[timers]
nag = { after = "10 s", every = "5 s", most = 3 }

[track.unit]
start = "idle"
[track.unit.step.idle]
go = [{ on = "analysis_begins", to = "reads" }]
[track.unit.step.reads]
unmark = "clear_said"
go = [{ on = "shock_advised", to = "waits" }, { on = "no_shock_advised", to = "rests" }]
[track.unit.step.waits]
armed = true
go = [
  { on = "clear_called", mark = "clear_said" },
  { id = "good", on = "shock_pressed", when = "clear_said", to = "rests" },
  { id = "bad", on = "shock_pressed", to = "rests", fault = { id = "no-clear", severity = "major", say = "none" } },
]
[track.unit.step.rests]
go = [{ on = "analysis_begins", to = "reads" }]

[track.hand_over]
start = "waiting"
[track.hand_over.step.waiting]
go = [{ on = "handover", to = "given" }]
[track.hand_over.step.given]

[track.rescuer]
start = "looks"
[track.rescuer.step.looks]
go = [{ on = "not_breathing", to = "begins" }, { on = "touch", when = "weight < 25 kg", to = "asks" }]
[track.rescuer.step.begins]
restart = "nag"
go = [{ on = "timer:nag", cue = "Push." }, { on = "call_made", to = "pushes" }]
[track.rescuer.step.asks]
[track.rescuer.step.pushes]
"""
RULE = '[[rule]]\nid = "r"\nsay = "It must hold."\nsource = "made-up"\n'


def verdict(rule: str, base: str = BASE, **how: object) -> RuleVerdict:
    return prove(f"{base}\n{RULE}{rule}", **how).verdict("r")


def events(one: RuleVerdict) -> list[str]:
    assert one.story is not None
    return [event for _, event in one.story.events]


SAFE = 'never = { on = "shock_pressed" }\nunless_since = { mark = "clear_said", after = { on = "analysis_begins" } }'


def test_what_only_a_fault_breaks_holds_as_taught_and_as_noticed() -> None:
    found = verdict(SAFE)
    assert (found.taught.kind, found.noticed.kind) == ("holds", "holds")
    assert found.taught.classes > 5


def test_a_shock_without_a_clear_call_that_is_no_fault_is_broken_by_the_shortest_story() -> None:
    unsafe = BASE.replace(', fault = { id = "no-clear", severity = "major", say = "none" }', "")
    found = verdict(SAFE, unsafe)
    assert found.kind == "broken"
    assert events(found) == ["analysis_begins", "shock_advised", "shock_pressed"]
    assert found.story is not None
    assert "rule broken here" in found.story.text()
    assert "advice shock" in found.story.script


def test_a_mark_that_outlives_its_verdict_is_found() -> None:
    forgetful = BASE.replace('unmark = "clear_said"\n', "")
    found = verdict(SAFE, forgetful)
    assert found.kind == "broken"
    assert events(found)[-4:] == ["shock_pressed", "analysis_begins", "shock_advised", "shock_pressed"]


def test_an_event_comes_before_what_it_does_in_one_moment() -> None:
    rule = 'never = { step = "waits" }\nunless_since = { on = "%s", after = { on = "analysis_begins" } }'
    assert verdict(rule % "shock_advised").kind == "holds"
    assert verdict(rule % "clear_called").kind == "broken"
    other = 'never = { on = "shock_advised" }\nunless_since = { on = "shock_advised", after = { on = "clear_called" } }'
    assert verdict(other).kind == "broken"  # of two events in one moment neither is first


def test_never_step_names_a_witness_weight() -> None:
    found = verdict('never = { step = "asks" }')
    assert found.kind == "broken"
    assert found.story is not None
    assert found.story.rests_on == ("weight",)
    assert dict(found.story.facts)["weight"] == "2 kg"
    assert 'weight = "2.000 kg"' in found.story.scenario


def test_never_under_a_guard_that_no_fact_meets_holds() -> None:
    assert verdict('never = { step = "asks", when = "weight >= 25 kg" }').kind == "holds"


def test_scope_opens_and_closes() -> None:
    opened = 'never = { on = "shock_pressed" }\nscope = { after = { on = "clear_called" } }'
    assert events(verdict(opened))[-2:] == ["clear_called", "shock_pressed"]
    closed = (
        'never = { on = "shock_pressed" }\nscope = { after = { on = "handover" }, until = { on = "analysis_begins" } }'
    )
    found = verdict(closed)
    assert events(found) == ["analysis_begins", "shock_advised", "clear_called", "handover", "shock_pressed"]


def test_next_step() -> None:
    good = 'after = { on = "no_shock_advised" }\nnext_step = { track = "unit", step = "rests" }'
    assert verdict(good).kind == "holds"
    later = 'after = { on = "shock_advised" }\nnext_step = { track = "unit", step = "reads" }'
    assert events(verdict(later)) == ["analysis_begins", "shock_advised"]
    excepted = later + '\nexcept = "waits"'
    assert verdict(excepted).kind == "holds"


def test_within_counts_the_limit_itself_as_in_time() -> None:
    late = 'after = { on = "not_breathing" }\nexpect = { cue = "begins.timer:nag" }\nwithin = "LIMIT"'
    stays = BASE.replace('{ on = "call_made", to = "pushes" }', '{ on = "call_made", start = "nag" }')
    assert verdict(late.replace("LIMIT", "10 s"), stays).kind == "holds"
    found = verdict(late.replace("LIMIT", "9999 ms"), stays)
    assert found.kind == "broken"
    assert found.story is not None
    assert found.story.end - found.story.events[-1][0] == 10_000


def test_at_most_with_and_without_its_assumption() -> None:
    rule = 'while = { guard = "in_step(rescuer, begins)" }\nat_most = "LIMIT"\n'
    rule += 'assume = { follow_prompt_within = "3 s", prompts = "timer:nag" }'
    found = verdict(rule.replace("LIMIT", "13 s"))
    assert (found.kind, found.without and found.without.kind) == ("holds", "broken")
    assert verdict(rule.replace("LIMIT", "12999 ms")).kind == "broken"


def test_always_possible() -> None:
    assert verdict('always_possible = { step = "given" }').kind == "holds"
    found = verdict('always_possible = { on = "call_made" }')
    assert found.kind == "broken"
    assert found.story is not None
    assert "never happen" in found.story.note


def test_must_reach_rests_on_what_is_assumed_to_be_made() -> None:
    goal = 'must_reach = { step = "given" }'
    assert verdict(goal).kind == "broken"
    assert verdict(goal + '\nassume = { made = "handover" }').kind == "holds"
    forced = BASE.replace(
        "[track.hand_over.step.waiting]\n", '[track.hand_over.step.waiting]\nrestart = "own"\n'
    ).replace('{ on = "handover", to = "given" }', '{ on = "timer:own", to = "given" }')
    forced = forced.replace("[timers]\n", '[timers]\nown = { after = "30 s" }\n')
    assert verdict(goal, forced).kind == "holds"


def test_possible_is_a_run_that_the_engine_confirms_for_each_value_of_the_facts_named() -> None:
    found = verdict('possible = { on = "shock_pressed" }')
    assert (found.kind, found.story) == ("holds", None)
    floor_only = BASE.replace('{ on = "shock_advised", to = "waits" }', '{ on = "analysis_begins", to = "waits" }')
    assert verdict('possible = { on = "shock_pressed" }\neach = "unit"', floor_only).taught.why == (
        "it never happens, unit laptop"
    )
    unarmed = BASE.replace("armed = true\n", "")
    assert verdict('possible = { on = "shock_pressed" }', unarmed).noticed.kind == "broken"


def test_what_is_possible_only_over_a_fault_is_not_possible_as_taught() -> None:
    deaf = BASE.replace('{ on = "clear_called", mark = "clear_said" }', '{ on = "call_made", mark = "clear_said" }')
    deaf = deaf.replace('on = "call_made"', 'on = "call_made", when = "in_step(unit, idle)"', 1)
    found = verdict('possible = { on = "shock_pressed" }', deaf)
    assert (found.kind, found.taught.kind, found.noticed.kind) == ("broken", "broken", "holds")


def test_a_search_for_what_is_possible_that_gives_up_is_not_decided() -> None:
    assert verdict('possible = { on = "shock_pressed" }', limit=Limit(3, 60.0)).kind == "not decided"


def test_a_blame_excuses_nothing_where_a_rule_names_it() -> None:
    rule = 'never = { fault = "no-clear" }\nscope = { after = { on = "clear_called" }, until = { step = "rests" } }'
    assert verdict(rule).kind == "holds"
    unjust = BASE.replace('{ on = "clear_called", mark = "clear_said" }', '{ on = "clear_called" }').replace(
        '{ id = "good"', '{ on = "touch", mark = "clear_said" },\n  { id = "good"'
    )
    found = verdict(rule, unjust)
    assert (found.taught.kind, found.noticed.kind) == ("broken", "broken")
    assert events(found) == ["analysis_begins", "shock_advised", "clear_called", "shock_pressed"]


def test_how_much_of_a_limit_is_taken() -> None:
    rule = 'while = { guard = "in_step(rescuer, begins)" }\nat_most = "LIMIT"\n'
    rule += 'assume = { follow_prompt_within = "3 s", prompts = "timer:nag" }'
    for limit in ("13 s", "40 s", "13 min"):
        assert verdict(rule.replace("LIMIT", limit)).taught.longest == 13_000
    late = 'after = { on = "not_breathing" }\nexpect = { cue = "begins.timer:nag" }\nwithin = "30 s"'
    stays = BASE.replace('{ on = "call_made", to = "pushes" }', '{ on = "call_made", start = "nag" }')
    assert verdict(late, stays).taught.longest == 10_000


TURNS = """
[counters]
analyses = { max = 4 }
[facts.rhythm]
kind = "script"
of = ["shockable", "not_shockable"]
length = 4
counter = "analyses"
default = ["shockable", "not_shockable"]
[track.unit]
start = "idle"
[track.unit.step.idle]
go = [{ on = "analysis_begins", to = "reads", add = { analyses = 1 } }]
[track.unit.step.reads]
go = [{ on = "touch", when = "this_rhythm == shockable", to = "asks" }]
[track.unit.step.asks]
go = [
  { on = "touch", when = "this_rhythm == not_shockable", to = "changed" },
  { on = "analysis_begins", to = "asks", add = { analyses = 1 } },
]
[track.unit.step.changed]
"""


def test_a_rhythm_is_one_and_the_same_until_the_next_analysis() -> None:
    """A first look lets it change at each reading: what it finds by that is never the last word."""
    found = verdict('never = { step = "changed" }', TURNS)
    assert events(found) == ["analysis_begins", "touch", "analysis_begins", "touch"]
    once = TURNS.replace('  { on = "analysis_begins", to = "asks", add = { analyses = 1 } },\n', "")
    assert verdict('never = { step = "changed" }', once).kind == "holds"
    assert verdict('possible = { step = "changed" }', once).kind == "broken"
    assert verdict('always_possible = { step = "asks" }', once).kind == "broken"


def test_count_between() -> None:
    rule = 'count = { of = { on = "shock_pressed" }, at_most = 1 }\n'
    rule += 'between = { from = { on = "shock_advised" }, until = { on = "analysis_begins" } }'
    assert verdict(rule).kind == "holds"
    least = rule.replace("at_most = 1", "at_least = 1")
    assert events(verdict(least.replace("analysis_begins", "handover"))) == [
        "analysis_begins",
        "shock_advised",
        "handover",
    ]
    twice = BASE.replace(
        'id = "good", on = "shock_pressed", when = "clear_said", to = "rests"',
        'id = "good", on = "shock_pressed", when = "clear_said"',
    )
    assert events(verdict(rule, twice))[-2:] == ["shock_pressed", "shock_pressed"]


def test_a_trigger_that_never_comes_is_vacuous_and_no_pass() -> None:
    never = BASE.replace("armed = true\n", "")
    found = verdict(SAFE, never)
    assert found.kind == "vacuous"


def test_a_limit_is_not_decided() -> None:
    found = verdict(SAFE, limit=Limit(3, 60.0))
    assert found.kind == "not decided"
    assert "classes" in found.taught.why


@pytest.mark.parametrize(
    ("rule", "place", "what"),
    [
        ('never = { on = "shock_presed" }', "1:16", "unknown observation"),
        ('never = { on = "touch", taken = "sometimes" }', "1:33", "not allowed here"),
        ("never = { }", "1:9", "one of on, step"),
        ('never = { step = "idle", mark = "clear_said" }', "1:9", "only one"),
        ('never = { guard = "weight < 25" }', "1:29", "unit is missing"),
        ('after = { on = "touch" }', None, "no sentence"),
        ('never = { on = "touch" }\nat_most = "3 s"', "2:1", "does not go with never"),
        ('after = { on = "touch" }\nnext_step = { track = "unit", step = "begins" }', "2:38", "unknown step"),
        ('while = { guard = "clear_said" }\nat_most = "3"', "2:11", "unit"),
        ('always_possible = { cue = "nowhere" }', "1:27", "nothing says a cue"),
        ('possible = { on = "touch" }\neach = "wieght"', "2:8", "unknown fact"),
        ('possible = { on = "touch" }\neach = "weight"', "2:8", "flags or choices"),
        ('never = { fault = "no-claer" }', "1:19", "unknown fault"),
        ('possible = { fault = "no-clear" }', "1:14", "goes with never only"),
        ('never = { on = "touch", taken = "fault" }', "1:25", "can never be broken"),
    ],
)
def test_a_bad_rule_is_named_at_its_place(rule: str, place: str | None, what: str) -> None:
    with pytest.raises(FileProblems) as caught:
        verdict(rule)
    problem = caught.value.problems[0]
    assert what in problem.what
    if place is not None:
        from tests.check.models import HEAD

        before = f"{HEAD}{BASE}\n{RULE}".count("\n")
        line, column = (int(part) for part in place.split(":"))
        assert (problem.line - before, problem.column) == (line, column)
