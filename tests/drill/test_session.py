"""A live drill: keys, undoing, pauses, stops, ends."""

from __future__ import annotations

from itertools import combinations

import pytest

from coach.observations import SETUP_OBSERVATIONS
from coach.protocol.reading import read_scenario
from tests.drill.made import SHIPPED, Played


def begun() -> Played:
    return Played().go().keys("j u e n", gap=2).push(5)


def test_go_is_the_moment_of_the_key_and_a_press_is_one_line() -> None:
    played = Played().go().keys("u", gap=6)
    assert played.of("go")[0]["t"] == 0
    (key,) = played.of("key")
    assert (key["key"], key["meant"], key["outcome"], key["t"]) == ("u", "response_checked", "taken", 6_000)


def test_j_logs_the_next_setup_step_and_says_so_before() -> None:
    played = Played().go()
    assert played.view().next_label == "scene checked"
    played.keys("j j j j", gap=3)
    assert [line["meant"] for line in played.of("key")] == [
        "scene_checked",
        "response_checked",
        "call_made",
        "not_breathing",
    ]
    assert all(line["via"] == "J" for line in played.of("key"))


def test_a_forgotten_call_stays_within_reach_of_j() -> None:
    played = Played().go().keys("j u n", gap=3).push(5)
    assert played.view().next_label == "call made"
    played.keys("j")
    assert played.of("key")[-1]["input"] == "call_made" and played.of("key")[-1]["outcome"] == "taken"


def test_an_unmapped_key_is_logged_without_its_character() -> None:
    played = begun().keys("ö")
    line = played.lines[-1]
    assert line["key"] == "unmapped" and line["outcome"] == "not mapped" and "ö" not in str(played.lines)


def test_bounces_are_dropped_and_a_held_key_counts_once() -> None:
    played = begun()
    before = played.view().pushes
    played.keys("space", 0.5).keys("space", 0.4).keys(" ".join(["space"] * 40), 0.03)
    outcomes = [line["outcome"] for line in played.of("key")[-42:]]
    assert outcomes[:3] == ["taken", "taken", "dropped"] and set(outcomes[3:]) == {"held"}
    (void,) = played.of("void")
    assert void["by"] == "hold"
    assert played.view().pushes == before + 1
    assert "held" in played.view().notice


def test_backspace_voids_the_last_mapped_key_but_no_push_and_nothing_is_erased() -> None:
    played = begun().keys("t").push(3)
    assert played.view().would_void == "touch seen"
    played.keys("backspace")
    (void,) = played.of("void")
    assert played.lines[void["voids"]]["meant"] == "touch"
    assert played.view().would_void == "not breathing normally"
    assert played.view().last_key == "voided: touch seen"
    assert "touch" not in [entry.input.event for entry in played.drill.timeline.entries]


def test_a_voided_step_takes_its_effects_back_in_a_line_of_its_own() -> None:
    played = Played().go().keys("j u e", gap=3).keys("backspace", gap=1)
    (superseded,) = played.of("superseded")
    assert {played.lines[seq]["kind"] for seq in superseded["lines"]} == {"step", "cue"}
    assert played.step() == "call"


def test_a_nudge_moves_by_half_a_second_and_refolds() -> None:
    played = Played().go().keys("j u e n", gap=3).keys("comma comma full_stop", gap=1)
    nudges = played.of("nudge")
    assert [line["to_e"] for line in nudges] == [11_500, 11_000, 11_500]
    assert played.drill.timeline.entries[-1].input.e == 11_500


@pytest.mark.parametrize(
    ("keys", "why"),
    [
        ("u full_stop", "now"),
        ("p p u comma", "a pause"),
    ],
)
def test_a_nudge_never_crosses_a_wall(keys: str, why: str) -> None:
    played = Played().go().wait(5).keys(keys, gap=0.3)
    assert played.lines[-1]["outcome"] == "refused" and played.drill.last_key[0].endswith(f"not across {why}")


def test_nothing_is_nudged_before_go_or_across_a_verdict() -> None:
    played = Played().go().keys("u", gap=0.2).keys("comma", gap=0.3)
    assert played.drill.last_key[0].endswith("not across go")
    played = begun().keys("o r l a", gap=2).keys("v", gap=6).keys("c", gap=0.3).keys("comma", gap=0.3)
    assert played.drill.last_key[0].endswith("not across a verdict")


def test_a_key_stamped_before_the_last_repaint_lands_in_its_place() -> None:
    played = Played().go().keys("j u e n", gap=3)
    played.wait(9.9)
    stamp = played.clock.mono_ms()
    played.wait(0.4)
    assert [line["name"] for line in played.of("timer")] == ["remind_start"]
    played.drill.press("space", stamp)
    assert played.step() == "pushing"
    (superseded,) = played.of("superseded")
    assert "timer" in {played.lines[seq]["kind"] for seq in superseded["lines"]}


def test_a_teaching_pause_stops_the_clock_and_means_nothing_else() -> None:
    played = begun()
    e = played.view().e
    played.keys("p", gap=0).wait(20)
    played.keys("t space u")
    assert [line["outcome"] for line in played.of("key")[-3:]] == ["refused"] * 3
    assert played.view().phase == "paused" and played.view().e == e and played.view().t > e + 20_000
    played.keys("p", gap=0)
    assert played.view().phase == "running" and played.view().e == e
    assert played.wait(1).view().e == e + 1_000


@pytest.mark.parametrize("key", ["escape", "tab"])
def test_a_safety_stop_freezes_at_once_and_p_goes_on(key: str) -> None:
    played = begun().keys(key)
    assert played.view().phase == "stopped" and played.of("stop")
    e = played.view().e
    assert played.wait(30).view().e == e
    assert played.keys("p").view().phase == "running"


def test_stopped_for_safety_and_ended_there() -> None:
    played = begun().keys("escape").keys("z z", gap=0.4)
    (end,) = played.of("end")
    assert end["reason"] == "safety" and played.view().phase == "ended"


def test_the_second_esc_is_the_card_and_no_key_is_logged_after_it() -> None:
    played = begun().keys("escape escape", gap=0.3)
    assert played.view().phase == "card"
    count = len(played.lines)
    played.keys("u p a z z escape", gap=0.3)
    assert len(played.lines) == count
    played.drill.close()
    assert played.of("end")[0]["reason"] == "safety"


def test_the_end_takes_two_strokes_and_is_the_first_of_them() -> None:
    played = begun().keys("z", gap=1)
    assert "Z again" in played.view().notice and played.view().phase == "running"
    played.keys("z", gap=2)
    assert played.view().phase == "running", "too slow: asked again"
    first = played.clock.mono_ms() - 500_000
    played.keys("z", gap=1)
    (end,) = played.of("end")
    assert end["end_t"] == first and end["reason"] == "ended" and end["t"] == first + 1_000


def test_ctrl_c_says_how_to_end() -> None:
    played = begun().keys("ctrl+c")
    assert played.view().notice == "Z Z ends the drill" and played.view().phase == "running"


def test_enter_is_only_a_shock_while_one_is_armed() -> None:
    played = begun().keys("enter")
    assert played.lines[-1]["outcome"] == "not armed"
    played.keys("o r l a", gap=2).keys("v", gap=6)
    assert played.view().armed
    played.keys("c enter", gap=1)
    assert played.of("key")[-1]["outcome"] == "taken" and not played.view().armed


def test_a_shock_without_a_clear_is_taken_and_named() -> None:
    played = begun().keys("o r l a", gap=2).keys("v", gap=6).keys("enter", gap=2)
    faults = played.of("fault")
    assert [line["severity"] for line in faults] == ["critical"]
    assert played.view().shocks == 1 and played.step() == "hands_back"


def test_i_marks_the_step_that_j_names() -> None:
    played = Played().go().keys("j u i", gap=2)
    assert played.of("prompted")[0]["step"] == "call_made"


def test_test_mode_shows_no_cue_and_writes_none() -> None:
    played = Played(mode="test").go().keys("j u e n", gap=2).wait(30)
    assert played.of("cue") == [] and played.view().cue == ""
    assert played.of("timer"), "the reminders are still in the record"


def test_practise_shows_late_cues_only() -> None:
    played = Played(mode="practise").go().wait(60)
    names = {line["name"] for line in played.of("cue")}
    assert all(name.startswith("late:") for name in names)


def test_a_machine_that_slept_leaves_a_hole() -> None:
    played = begun()
    e = played.view().e
    played.clock.suspend(60_000)
    played.wait(0.2)
    (hole,) = played.of("hole")
    assert hole["to"] - hole["from"] == 60_000
    assert played.view().e == e + 200 and played.view().t == e + 60_200


def test_a_wall_clock_set_back_changes_nothing() -> None:
    played = begun()
    played.clock.set_wall(played.clock.wall().replace(year=2020))
    assert played.wait(1).of("hole") == []


def test_a_paste_and_a_lost_focus_are_logged() -> None:
    played = begun()
    played.drill.paste(12, played.clock.mono_ms())
    played.drill.focus(True, played.clock.mono_ms())
    assert played.of("paste")[0]["length"] == 12 and played.of("focus")[0]["lost"] is True
    assert "elsewhere" in played.view().notice


def test_a_probe_is_asked_for_inside_the_run_and_taps_make_a_rate() -> None:
    played = Played(counting="probe").go().keys("j u e n space", gap=2)
    assert played.view().hands == "on" and not played.view().probe
    played.wait(9)
    assert played.view().probe
    played.push(12)
    assert played.view().pushes == 12 and not played.view().probe
    assert {line["meant"] for line in played.of("key")[-12:]} == {"probe_tap"}
    played.keys("d")
    assert played.view().hands == "off"


def test_marks_know_no_count_and_no_rate() -> None:
    played = Played(counting="marks").go().keys("j u e n space", gap=2).keys("space", gap=1)
    assert played.lines[-1]["outcome"] == "not expected" and played.view().rate is None and played.view().pushes == 0


SCRIPT = [
    (4, "j"),
    (3, "u"),
    (3, "e"),
    (4, "n"),
    (6, "space"),
    (0.5, "space"),
    (0.5, "space"),
    (0.5, "space"),
    (10, "o"),
    (4, "r"),
    (4, "l"),
    (5, "a"),
    (8, "v"),
    (2, "c"),
    (1, "enter"),
    (2, "space"),
]


def _setup_keys() -> list[int]:
    return [place for place, (_, key) in enumerate(SCRIPT) if key in "juenorl"]


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("unit", ["floor", "laptop"])
def test_with_one_or_two_forgotten_setup_keys_the_drill_still_reaches_the_shock(name: str, unit: str) -> None:
    assert {"call_made", "unit_on", "pad_left"} <= SETUP_OBSERVATIONS
    for dropped in [*combinations(_setup_keys(), 1), *combinations(_setup_keys(), 2)]:
        played = Played(name, unit=unit).go()
        for place, (gap, key) in enumerate(SCRIPT):
            played.wait(gap)
            if place not in dropped:
                played.keys(key, gap=0)
        told = f"{name} {unit} without {[SCRIPT[place][1] for place in dropped]}"
        assert played.view().run >= 1, told
        assert played.view().shocks == 1, told


def test_a_concern_is_kept_open_and_reminds_twice_in_teach_mode_only() -> None:
    played = begun().keys("k")
    assert played.of("looked")[-1]["concern"] is True and played.of("looked")[-1]["target"] == "hands"
    assert played.view().concern_open
    played.push(27, gap=0.6)
    assert "Look again" in played.view().notice
    played.keys("k")
    assert not played.view().concern_open and played.of("looked")[-1]["concern"] is False
    assert [line["name"] for line in played.of("timer")].count("concern") == 1
    quiet = Played(mode="practise").go().keys("j u e n", gap=2).push(5).keys("k").push(30)
    assert quiet.view().concern_open and "Look again" not in quiet.view().notice


@pytest.mark.parametrize("unit", ["floor", "laptop"])
def test_y_goes_on_to_the_next_rhythm_check(unit: str) -> None:
    played = Played(unit=unit).go().keys("j u e n", gap=2).push(5).keys("o r l a", gap=2)
    if unit == "floor":
        played.keys("v", gap=6)
    else:
        played.wait(25)
    played.keys("c enter", gap=1).push(5)
    period = played.view().period_ms
    assert played.view().shocks == 1 and period is not None and period > 110_000
    played.keys("y")
    assert played.lines[-1] is not None and played.view().period_ms is None
    assert [line["input"] for line in played.of("key") if line["key"] == "y"] == ["period_cut"]
    if unit == "laptop":
        assert played.view().analysing
    else:
        played.keys("a v", gap=2)
        assert played.view().armed or played.view().hands == "off"


def test_now_is_the_step_that_waits_for_what_j_names() -> None:
    played = begun()
    assert played.view().now == "Thirty, then two breaths"
    played.keys("o j", gap=1)
    assert played.view().next_label == "right pad" and played.view().now == "Right pad"
    played.keys("r l", gap=2)
    assert played.view().now == "Thirty, then two breaths"


def test_what_the_scenario_throws_is_told_to_the_instructor() -> None:
    scenario = """
format = 1
id = "brackhaven/test"
title = "Test"
story = "Somebody lies on the quay."
throw = [{ name = "unit_here", digit = 1, at = "30 s" }]
"""
    played = Played(scenario=read_scenario(scenario), scenario_text=scenario).go().keys("j u e n", gap=2).push(5)
    played.wait(21)
    assert played.view().notice.startswith("The unit arrives") and played.step("unit") == "unit_beside"
    early = Played(scenario=read_scenario(scenario), scenario_text=scenario).go().keys("j u e n o", gap=2).wait(30)
    assert not early.view().notice.startswith("The unit arrives"), "it is there already"
    assert not [line for line in early.of("brought") if line["name"] == "unit_arrived"]


def test_nobody_is_told_to_push_while_the_unit_reads() -> None:
    played = Played(SHIPPED[1]).go().keys("j u n", gap=2).push(3).keys("a", gap=1).wait(40)
    cues = [line["text"] for line in played.of("cue") if line["e"] > 12_000]
    assert not [text for text in cues if "push" in text.lower()], cues


@pytest.mark.parametrize("counting", ["each", "marks", "probe"])
def test_after_a_pause_hands_are_off_until_the_next_push_says_otherwise(counting: str) -> None:
    """A pause or a hole ends the run, so the screen claims none that goes on."""
    played = Played(counting=counting).go().keys("j u e n", gap=2).push(1)
    assert (played.view().hands, played.view().run) == ("on", 1)
    played.keys("p").wait(5).keys("p")
    assert played.view().hands == "off"
    played.keys("space", 1)
    assert (played.view().hands, played.view().run) == ("on", 2)
