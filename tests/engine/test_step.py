"""The engine's meaning, rule by rule."""

from __future__ import annotations

import pytest

from coach.engine.plan import PlannedThrow
from coach.engine.step import TimeRunsBack, advance, start, step
from tests.engine.small import machine, marks, names, run

CLOCKED = """
[timers]
once = { after = "10 s" }
beat = { every = "4 s", most = 3 }
nag = { after = "10 s", every = "5 s", most = 3 }
[track.a]
start = "wait"
[track.a.step.wait]
start = ["once", "beat", "nag"]
go = [
  { on = "timer:once", add = { seen = 1 } },
  { on = "scene_checked", to = "rest" },
]
[track.a.step.rest]
[counters]
seen = { max = 9 }
"""


def test_timers_fire_at_their_deadline_however_late_anybody_asks() -> None:
    made = machine(CLOCKED)
    state, _ = start(made)
    state, effects = advance(made, state, 60_000)
    assert names(list(effects), "timer") == [
        (4_000, "beat"),
        (8_000, "beat"),
        (10_000, "once"),
        (10_000, "nag"),
        (12_000, "beat"),
        (15_000, "nag"),
        (20_000, "nag"),
    ]
    assert state.timers == ()


def test_an_event_at_the_very_deadline_comes_after_the_timer() -> None:
    made = machine(CLOCKED)
    state, effects, _ = run(made, (10_000, "scene_checked"))
    assert [effect.kind for effect in effects if effect.e == 10_000] == ["timer", "timer", "step"]
    assert state.counters[0] == 1


def test_leaving_a_step_stops_the_timers_it_started() -> None:
    made = machine(CLOCKED)
    state, _, _ = run(made, (5_000, "scene_checked"))
    assert state.timers == ()


def test_kept_timers_outlive_their_step() -> None:
    made = machine(CLOCKED.replace("[track.a.step.wait]", '[track.a.step.wait]\nkeep = ["once"]'))
    state, _, _ = run(made, (5_000, "scene_checked"))
    assert [made.timers[entry[1]].name for entry in state.timers] == ["once"]


def test_time_never_runs_back() -> None:
    made = machine(CLOCKED)
    state, _, _ = run(made, (5_000, "scene_checked"))
    with pytest.raises(TimeRunsBack):
        step(made, state, "scene_checked", 4_999)
    with pytest.raises(TimeRunsBack):
        advance(made, state, 4_999)


STARTS = """
[timers]
limit = { after = "10 s" }
[track.a]
start = "only"
[track.a.step.only]
go = [
  { on = "scene_checked", start = ["limit"] },
  { on = "call_made", restart = ["limit"] },
  { on = "unit_on", stop = ["limit"] },
]
"""


@pytest.mark.parametrize(("second", "deadline"), [("scene_checked", 11_000), ("call_made", 15_000), ("unit_on", None)])
def test_start_leaves_a_running_timer_restart_does_not(second: str, deadline: int | None) -> None:
    made = machine(STARTS)
    state, _, _ = run(made, (1_000, "scene_checked"), (5_000, second))
    assert [entry[0] for entry in state.timers] == ([] if deadline is None else [deadline])


SINCE = """
[timers]
hands = { after = "10 s", every = "5 s", since = "last_push" }
[track.a]
start = "only"
[track.a.step.only]
go = [{ on = "hands_off", start = ["hands"] }, { on = "hands_on", stop = ["hands"] }]
"""


def test_a_reminder_reckons_from_the_last_push() -> None:
    made = machine(SINCE)
    state, _, _ = run(made, (1_000, "compression"), (1_500, "compression"))
    state, more = advance(made, state, 20_000)
    assert names(list(more), "emit") == [(3_500, "hands_off")]
    assert names(list(more), "timer") == [(3_500, "hands:silence"), (11_500, "hands"), (16_500, "hands")]


def test_marks_end_a_run_at_the_mark() -> None:
    made = machine(SINCE, counting="marks")
    state, _, outcomes = run(made, (1_000, "hands_placed"), (2_000, "hands_placed"), (30_000, "hands_lifted"))
    assert outcomes == ["taken", "not expected", "taken"]
    assert [entry[0] for entry in state.timers] == [40_000]


SNAPSHOT = """
[track.a]
start = "one"
[track.a.step.one]
go = [{ on = "scene_checked", to = "two", mark = ["moved"] }]
[track.a.step.two]
[track.b]
start = "three"
[track.b.step.three]
go = [
  { on = "scene_checked", when = "moved or in_step(a, two)", to = "five" },
  { on = "scene_checked", to = "four", emit = ["unit_arrived"] },
]
[track.b.step.four]
go = [{ on = "unit_arrived", to = "five" }]
[track.b.step.five]
"""


def test_guards_of_all_tracks_read_one_snapshot_and_emits_come_after() -> None:
    made = machine(SNAPSHOT)
    _, effects, _ = run(made, (1_000, "scene_checked"))
    assert names(effects, "step")[-3:] == [(1_000, "two"), (1_000, "four"), (1_000, "five")]


def test_the_order_of_arrows_is_the_order_of_trying() -> None:
    made = machine(
        """
        [track.a]
        start = "one"
        go = [{ on = "scene_checked", to = "three" }]
        [track.a.step.one]
        go = [{ on = "scene_checked", when = "unit == laptop", to = "two" }]
        [track.a.step.two]
        [track.a.step.three]
        """
    )
    assert names(run(made, (1, "scene_checked"))[1], "step")[-1] == (1, "three")


SPINE = """
[track.a]
start = "scene"
spine = ["scene", "response", "call"]
[track.a.step.scene]
done = "scene_checked"
go = [{ on = "scene_checked", to = "response" }]
[track.a.step.response]
done = "response_checked"
go = [{ on = "response_checked", to = "call" }]
[track.a.step.call]
done = "call_made"
go = [{ on = "call_made", to = "after", mark = ["called"] }, { on = "handover", to = "scene" }]
[track.a.step.after]
"""


def test_a_step_of_the_spine_is_entered_from_anywhere_earlier() -> None:
    made = machine(SPINE)
    state, effects, outcomes = run(made, (1, "call_made"))
    assert outcomes == ["taken"] and marks(made, state) == {"called"}
    last = effects[-1]
    assert (last.name, last.was, last.arrow) == ("after", "scene", "call.call_made")


def test_the_spine_lends_only_a_steps_own_observation_and_only_forwards() -> None:
    made = machine(SPINE)
    assert run(made, (1, "handover"))[2] == ["not expected"]
    assert run(made, (1, "call_made"), (2, "response_checked"))[2] == ["taken", "not expected"]


def test_within_makes_late_and_moves_nothing() -> None:
    made = machine(
        """
        [track.a]
        start = "one"
        [track.a.step.one]
        within = "10 s"
        late_cue = "Come on."
        go = [{ on = "scene_checked", to = "two" }, { on = "call_made", to = "one" }]
        [track.a.step.two]
        go = [{ on = "unit_on", when = "late.one", mark = ["was_late"] }]
        """
    )
    state, effects, _ = run(made, (10_000, "unit_on"))
    assert names(effects, "late") == [(10_000, "one")] and names(effects, "cue") == [(10_000, "late:one")]
    assert marks(made, state) == {"late.one"}
    state, effects, _ = run(made, (10_001, "call_made"), (12_000, "scene_checked"), (99_000, "unit_on"))
    assert marks(made, state) == set(), "entering again begins anew, leaving stops the limit"
    state, _, _ = run(made, (10_001, "scene_checked"), (10_002, "unit_on"))
    assert marks(made, state) == {"late.one", "was_late"}


ARMED = """
[track.unit]
start = "resting"
[track.unit.step.resting]
go = [{ on = "shock_advised", to = "ready", unmark = ["clear_said"] }]
[track.unit.step.ready]
armed = true
go = [
  { on = "clear_called", mark = ["clear_said"] },
  { on = "shock_pressed", when = "clear_said", to = "resting" },
  { on = "shock_pressed", to = "resting", fault = { id = "no-clear", severity = "critical", say = "No clear call." } },
]
"""


def test_a_shock_needs_an_armed_step_and_a_fault_moves_on() -> None:
    made = machine(ARMED)
    _, effects, outcomes = run(
        made,
        (1, "shock_pressed"),
        (2, "shock_advised"),
        (3, "shock_pressed"),
        (4, "shock_advised"),
        (5, "clear_called"),
        (6, "shock_pressed"),
    )
    assert outcomes == ["not armed", "taken", "taken", "taken", "taken", "taken"]
    assert names(effects, "fault") == [(3, "no-clear")]
    assert names(effects, "step")[-1] == (6, "resting")


INJECT = """
[inject.vomit]
title = "Vomit"
within = "10 s"
times = 2
allowed = ["rolled"]
forbidden = [{ on = "breath", fault = { id = "blew", severity = "major", say = "Blew." } }]
late = { id = "slow", severity = "minor", say = "Slow." }
[inject.unit_here]
title = "Unit here"
emit = ["unit_arrived"]
[track.a]
start = "one"
[track.a.step.one]
go = [{ on = "unit_arrived", to = "two" }, { on = "closed:vomit", mark = ["cleared"] }]
[track.a.step.two]
"""


def test_an_inject_is_an_obligation_with_a_deadline() -> None:
    made = machine(INJECT)
    state, effects, _ = run(made, (1_000, "inject:vomit"), (2_000, "breath"), (5_000, "rolled"), (6_000, "breath"))
    assert names(effects, "fault") == [(2_000, "blew")] and "cleared" in marks(made, state)
    _, effects, _ = run(made, (1_000, "inject:vomit"), (12_000, "rolled"))
    assert names(effects, "fault") == [(11_000, "slow")]
    assert names(effects, "step")[-2:] == [(11_000, "vomit:late"), (12_000, "vomit:closed")]
    _, effects, outcomes = run(
        made, (1, "inject:vomit"), (2, "wrong:vomit"), (3, "inject:vomit"), (4, "answered:vomit"), (5, "inject:vomit")
    )
    assert names(effects, "fault") == [(2, "vomit-wrong")]
    assert outcomes[-1] == "not expected", "thrown as often as it may be"


def test_an_inject_without_obligation_is_observed_at_once() -> None:
    assert names(run(machine(INJECT), (7, "inject:unit_here"))[1], "step")[-1] == (7, "two")


def test_the_scenario_throws_by_itself_once() -> None:
    at = machine(INJECT, throws=(PlannedThrow("unit_here", 1, 80_000),))
    _, effects, _ = run(at, (90_000, "scene_checked"))
    assert (80_000, "inject:unit_here") in names(effects, "emit") and (80_000, "two") in names(effects, "step")
    _, effects, _ = run(at, (40_000, "inject:unit_here"), (90_000, "scene_checked"))
    assert names(effects, "emit") == [(40_000, "unit_arrived")]
    after = machine(INJECT, throws=(PlannedThrow("vomit", 2, None, "unit_on", 5_000),))
    _, effects, _ = run(after, (30_000, "unit_on"), (36_000, "scene_checked"))
    assert (35_000, "vomit:open") in names(effects, "step")


def test_a_script_fact_gives_the_entry_of_this_analysis_and_repeats_the_last() -> None:
    made = machine(
        """
        [facts.rhythm]
        kind = "script"
        of = ["shockable", "not_shockable"]
        counter = "analyses"
        default = ["shockable", "not_shockable"]
        [counters]
        analyses = { max = 9 }
        shocks = { max = 9 }
        [track.a]
        start = "one"
        [track.a.step.one]
        go = [
          { on = "analysis_begins", add = { analyses = 1 }, emit = ["read"] },
          { on = "read", when = "this_rhythm == shockable", add = { shocks = 1 } },
        ]
        """
    )
    state, _, _ = run(made, *((second * 1_000, "analysis_begins") for second in range(1, 5)))
    assert state.counters[:2] == (4, 1)


def test_counters_stop_at_their_most() -> None:
    made = machine(
        CLOCKED.replace("seen = { max = 9 }", "seen = { max = 2 }").replace('after = "10 s" }', 'every = "1 s" }')
    )
    assert advance(made, start(made)[0], 60_000)[0].counters[0] == 2
