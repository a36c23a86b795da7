"""What the shipped protocols do on the engine: no forgotten key stops a drill, no slip hides a fault."""

from __future__ import annotations

from itertools import combinations

import pytest

from coach.drill.meaning import expected
from coach.observations import OBSERVATIONS, SETUP_OBSERVATIONS
from tests.content.shipped import EVERY, PROTOCOLS, SETUP, TO_PADS, Bench, good_drill, protocol, pushes, scenarios

ONE = tuple(ident for ident in PROTOCOLS if "one" in ident)
TWO = tuple(ident for ident in PROTOCOLS if "two" in ident)


def ready_to_shock(ident: str, unit: str = "floor") -> Bench:
    """A drill that stands at an advised shock, 89 s after go."""
    verdict = [(82.0, "analysis_begins"), (89.0, "shock_advised")]
    return Bench(ident, unit=unit).play([*SETUP, *pushes(20, 110), *TO_PADS, *verdict])


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_good_drill_has_no_fault_and_leaves_nothing_unexpected(ident: str) -> None:
    bench = Bench(ident).play(good_drill())
    assert bench.faults == []
    spurned = {event for event, outcome in bench.outcomes if outcome != "taken"}
    assert spurned <= {"helper_sent"}  # one rescuer with nobody to send
    assert (bench.counter("analyses"), bench.counter("shocks")) == (1, 1)
    assert bench.step("rescuer") == "pushing"
    assert bench.step("period") == "period_runs"


@pytest.mark.parametrize("ident", EVERY)
def test_no_one_or_two_forgotten_setup_keys_stop_the_drill(ident: str) -> None:
    pushed = [entry for entry in good_drill() if entry[1] == "compression"]
    events = [entry for entry in good_drill() if entry not in pushed or entry in pushed[::3]]  # still under 2 s apart
    there = sorted({event for _, event in events} & SETUP_OBSERVATIONS)
    assert len(there) == 10
    for dropped in [*combinations(there, 1), *combinations(there, 2)]:
        bench = Bench(ident)
        for seconds, event in events:
            if event in dropped:
                continue
            bench.at(seconds, event)
            if event == "compression" and seconds == 20.0:
                assert bench.step("rescuer") == "pushing", dropped
            if event == "clear_called":
                assert bench.armed, dropped
        assert bench.counter("shocks") == 1, dropped
        assert bench.faults == [], dropped
        assert bench.step("rescuer") == "pushing", dropped


@pytest.mark.parametrize("ident", EVERY)
def test_with_every_setup_key_forgotten_it_still_shocks(ident: str) -> None:
    bench = Bench(ident).play([entry for entry in good_drill() if entry[1] not in SETUP_OBSERVATIONS])
    assert bench.counter("shocks") == 1
    assert bench.faults == []


@pytest.mark.parametrize("ident", PROTOCOLS)
@pytest.mark.parametrize("counting", ["probe", "marks"])
def test_marks_of_hands_are_enough(ident: str, counting: str) -> None:
    bench = Bench(ident, counting=counting).play(
        [
            *SETUP,
            (20, "hands_placed"),
            (37, "hands_lifted"),
            (38, "breath"),
            (39, "breath"),
            (41, "hands_placed"),
            *TO_PADS,
            (81, "hands_lifted"),
            (82, "analysis_begins"),
            (89, "shock_advised"),
            (92, "clear_called"),
            (94, "shock_pressed"),
            (97, "hands_placed"),
        ]
    )
    assert bench.faults == []
    assert bench.step("rescuer") == "pushing"
    assert bench.step("period") == "period_runs"


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_hands_off_mark_forgotten_in_probe_counting_does_not_hold_the_drill_up(ident: str) -> None:
    bench = Bench(ident, counting="probe").play(
        [*SETUP, (20, "hands_placed"), *TO_PADS, (82, "analysis_begins"), (89, "no_shock_advised"), (92, "probe_tap")]
    )
    assert bench.step("rescuer") == "pushing"
    assert bench.step("period") == "period_runs"


# --- what J means -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_the_next_key_alone_leads_from_go_to_the_pads(ident: str) -> None:
    bench = Bench(ident)
    seen: list[str] = []
    for second in range(1, 40):
        event = expected(protocol(ident), bench.machine, bench.state)
        if not event and seen[-1:] != ["not_breathing"]:
            break
        if event:
            seen.append(event)
            bench.at(second, event)
        else:
            bench.at(second, "compression", "inject:unit_here")
            seen.append("-")
    sent = [] if ident in ONE else ["helper_sent"]
    assert seen == [
        "scene_checked",
        "response_checked",
        *sent,
        "call_made",
        "not_breathing",
        "-",
        "unit_on",
        "chest_bared",
        "pad_right",
        "pad_left",
    ]
    assert not any(OBSERVATIONS[name].timed for name in seen if name != "-")


@pytest.mark.parametrize("ident", EVERY)
@pytest.mark.parametrize("before", [[], ["unit_arrived"], ["unit_arrived", "unit_on"], ["unit_on", "chest_bared"]])
def test_pads_go_on_in_either_order_and_the_left_alone_is_not_both(ident: str, before: list[str]) -> None:
    bench = Bench(ident).play([*SETUP, *pushes(20, 3)]).at(60, *before, "pad_left")
    assert bench.step("unit") == "other_pad"
    assert expected(protocol(ident), bench.machine, bench.state) == "pad_right"
    assert bench.at(65, "pad_right").step("unit") == "unit_ready"
    other = Bench(ident).play([*SETUP, *pushes(20, 3)]).at(60, *before, "pad_right")
    assert expected(protocol(ident), other.machine, other.state) == "pad_left"
    assert other.at(65, "pad_left").step("unit") == "unit_ready"


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_forgotten_call_is_still_what_the_next_key_means_while_pushing(ident: str) -> None:
    bench = Bench(ident).play([(2, "scene_checked"), (5, "response_checked"), (15, "not_breathing"), *pushes(20, 3)])
    first = expected(protocol(ident), bench.machine, bench.state)
    assert first == "call_made"
    bench.at(25, first)
    assert expected(protocol(ident), bench.machine, bench.state) != "call_made"


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_the_next_key_never_names_clear_or_shock(ident: str) -> None:
    bench = ready_to_shock(ident)
    assert expected(protocol(ident), bench.machine, bench.state) == ""
    bench.at(92, "clear_called")
    assert expected(protocol(ident), bench.machine, bench.state) == ""


def test_the_skin_is_asked_for_where_the_scenario_has_it() -> None:
    bench = Bench("erc-2025/adult-one-rescuer", scenarios()["brackhaven/ferry-deck"])
    bench.play([*SETUP, *pushes(20, 3), (60, "unit_arrived"), (63, "unit_on"), (65, "chest_bared")])
    assert expected(protocol("erc-2025/adult-one-rescuer"), bench.machine, bench.state) == "chest_dried"
    dry = bench.at(68, "chest_dried", "pad_right", "pad_left")
    assert dry.faults == []
    wet = Bench("erc-2025/adult-one-rescuer", scenarios()["brackhaven/ferry-deck"])
    wet.play([*SETUP, *pushes(20, 3), *TO_PADS])
    assert wet.faults == ["pad-on-wet-chest"]
    patch = Bench("aha-2025/adult-two-rescuers", scenarios()["brackhaven/net-loft"])
    patch.play([*SETUP, *pushes(20, 3), *TO_PADS])
    assert patch.faults == ["pad-with-patch-left"]


# --- clear, touch, shock ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ident", EVERY)
@pytest.mark.parametrize(
    ("events", "faults"),
    [
        (["clear_called", "shock_pressed"], []),
        (["shock_pressed"], ["shock-without-clear"]),
        (["clear_called", "touch", "shock_pressed"], ["shock-after-touch"]),
        (["clear_called", "compression", "shock_pressed"], ["shock-after-touch"]),
        (["clear_called", "touch", "clear_called", "shock_pressed"], []),
        (["touch", "clear_called", "shock_pressed"], []),
        (["clear_called", "shock_delivered"], []),
        (["shock_delivered"], ["shock-without-clear"]),
        (["signs_of_life", "clear_called", "shock_pressed"], ["shock-while-awake"]),
    ],
)
def test_every_shock_is_taken_only_a_clear_one_is_in_order(ident: str, events: list[str], faults: list[str]) -> None:
    bench = ready_to_shock(ident)
    for second, event in enumerate(events, 92):
        bench.at(second, event)
    assert bench.faults == faults
    assert bench.counter("shocks") == 1
    assert not bench.armed


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_clear_call_before_the_verdict_does_not_serve_for_the_shock(ident: str) -> None:
    bench = Bench(ident).play([*SETUP, *pushes(20, 110), *TO_PADS, (82, "analysis_begins"), (84, "clear_called")])
    bench.at(89, "shock_advised").at(92, "shock_pressed")
    assert bench.faults == ["shock-without-clear"]


@pytest.mark.parametrize("ident", EVERY)
def test_a_clear_call_does_not_last_to_the_second_shock(ident: str) -> None:
    bench = Bench(ident).play(good_drill())
    bench.at(215, "analysis_begins").at(222, "shock_advised").at(226, "shock_pressed")
    assert bench.faults == ["shock-without-clear"]
    assert bench.counter("shocks") == 2


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_shock_is_armed_at_a_verdict_only(ident: str) -> None:
    bench = Bench(ident)
    for seconds, event in good_drill():
        bench.at(seconds, event)
        assert bench.armed == (event in ("shock_advised", "clear_called")), (seconds, event)


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_touch_and_pushes_while_it_reads_are_noted_and_the_drill_goes_on(ident: str) -> None:
    bench = Bench(ident).play([*SETUP, *pushes(20, 110), *TO_PADS, (82, "analysis_begins")])
    bench.at(85, "touch").at(86, "compression").at(89, "no_shock_advised").at(92, "compression")
    assert bench.faults == ["touch-while-reading", "push-while-reading"]
    assert bench.step("rescuer") == "pushing"


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_verdict_key_that_slips_in_the_two_minutes_arms_nothing(ident: str) -> None:
    bench = Bench(ident).play([*good_drill(), (110, "shock_advised")])
    assert not bench.armed
    assert bench.outcomes[-1] == ("shock_advised", "not expected")
    bench = Bench(ident).play([*SETUP, *pushes(20, 20), (40, "shock_advised")])
    assert not bench.armed


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_verdict_counts_where_only_its_analysis_was_not_pressed(ident: str) -> None:
    bench = Bench(ident).play([*SETUP, *pushes(20, 110), *TO_PADS, (89, "shock_advised")])
    assert bench.armed
    assert bench.counter("analyses") == 1
    second = Bench(ident).play([*good_drill(), (230, "shock_advised")])
    assert second.armed
    assert second.counter("analyses") == 2


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_an_analysis_is_taken_whatever_the_unit_stood_at(ident: str) -> None:
    for before in ([], TO_PADS[:1], TO_PADS[:2], TO_PADS[:3], TO_PADS[:4], TO_PADS):
        bench = Bench(ident).play([*SETUP, *pushes(20, 110), *before, (82, "analysis_begins"), (89, "shock_advised")])
        assert bench.armed, before


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_bystander_must_be_sent_back_by_a_new_clear_call(ident: str) -> None:
    bad = ready_to_shock(ident).at(91, "clear_called").at(92, "inject:bystander_touch").at(94, "shock_pressed")
    assert bad.faults == ["shock-with-bystander"]
    good = ready_to_shock(ident).at(91, "clear_called").at(92, "inject:bystander_touch")
    good.at(94, "clear_called").at(96, "shock_pressed")
    assert good.faults == []
    early = Bench(ident).play(SETUP).at(18, "inject:bystander_touch")
    assert early.outcomes[-1][1] == "not expected"


# --- reminders --------------------------------------------------------------------------------------------------------

START = "No pushes yet: hands on the chest."
HANDS = "Hands off too long: push now."
BACK = "Still no hands on: push now."


def told(bench: Bench, words: str) -> list[float]:
    return [seconds for seconds, said in bench.cues() if said == words]


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_late_start_is_called_out_ten_seconds_after_recognition_and_never_from_go(ident: str) -> None:
    slow = Bench(ident).play(SETUP[:-1]).wait(60)
    assert told(slow, START) == []
    slow.at(60, "not_breathing").wait(200)
    # the reminder at 10 s, the late cue of the step beside it, then every 5 s, six in all
    assert sorted(set(told(slow, START))) == [70, 75, 80, 85, 90, 95]
    quick = Bench(ident).play([*SETUP, *pushes(24.9, 30)]).wait(41)
    assert told(quick, START) == []


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_stop_is_called_out_ten_seconds_after_the_last_push(ident: str) -> None:
    bench = Bench(ident).play([*SETUP, *pushes(20, 11)]).wait(60)  # the last push at 25.5 s
    assert told(bench, HANDS) == [35.5, 40.5, 45.5, 50.5, 55.5]
    again = Bench(ident).play([*SETUP, *pushes(20, 11), (28, "breath"), (30, "breath"), *pushes(33, 3)]).wait(40)
    assert told(again, HANDS) == []


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_missing_call_is_asked_for_twice_and_one_that_was_made_never(ident: str) -> None:
    words = "Has anyone phoned? Loudspeaker on, go on meanwhile."
    bare = [entry for entry in SETUP if entry[1] != "call_made"]
    assert told(Bench(ident).play([*bare, *pushes(20, 90)]).wait(70), words) == [30, 45]
    assert told(Bench(ident).play([*bare, *pushes(20, 90), (31, "call_made")]).wait(70), words) == [30]
    assert told(Bench(ident).play([*SETUP, *pushes(20, 90)]).wait(70), words) == []


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_nobody_is_told_to_push_while_the_unit_reads_or_waits_for_the_shock(ident: str) -> None:
    bench = Bench(ident).play([*SETUP, *pushes(20, 107), *TO_PADS, (79.5, "analysis_begins")])
    bench.wait(110).at(110, "shock_advised").wait(135)
    assert not [cue for cue in bench.cues(79.5) if "push" in cue[1]]
    bench.at(135, "clear_called").at(137, "shock_pressed").wait(160)
    assert told(bench, BACK)[0] == 147


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_reminders_rest_while_signs_of_life_last_and_return_when_they_fade(ident: str) -> None:
    bench = Bench(ident).play([*good_drill(), (110, "inject:signs_of_life")]).wait(200)
    assert bench.step("rescuer") == "awake"
    assert not [cue for cue in bench.cues(111) if "push" in cue[1].lower()]
    bench.at(200, "inject:life_fades").at(206, "not_breathing").wait(220)
    assert told(bench, START)
    bench.at(221, "compression")
    assert bench.step("rescuer") == "pushing"
    assert bench.faults == []


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_the_two_minutes_run_from_hands_back_on_and_never_send_hands_away(ident: str) -> None:
    bench = Bench(ident).play(good_drill())
    bench.play(pushes(100, 250))
    bench.wait(240)
    warning = [cue for cue in bench.cues(90) if cue[1].startswith("Ten seconds left")]
    assert [seconds for seconds, _ in warning] == [207]
    assert [cue[0] for cue in bench.cues(90) if cue[1] == "Two minutes: push on until it asks."] == [217]
    assert bench.step("rescuer") == "pushing"


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_at_thirty_two_breaths_are_cued_once_a_run(ident: str) -> None:
    words = "Thirty done: head back, two breaths, see it rise."
    bench = Bench(ident).play([*SETUP, *pushes(20, 34), (45, "breath"), *pushes(50, 29), *pushes(75, 29)])
    assert told(bench, words) == [round(20 + 29 * 0.55, 3)]


def test_whoever_gives_no_breaths_is_never_asked_for_them_nor_at_fault() -> None:
    from coach.protocol.model import Scenario

    plain = scenarios()["brackhaven/fruit-stall"]
    scenario: Scenario = plain.model_copy(update={"facts": {**plain.facts, "breaths": False}, "throw": []})
    for ident in PROTOCOLS:
        if "two" in ident:
            continue
        bench = Bench(ident, scenario).play([*SETUP, *pushes(20, 90), (80, "unit_arrived")])
        assert not [cue for cue in bench.cues() if "breaths" in cue[1].lower() and "two" in cue[1].lower()]
        assert bench.faults == []
        assert protocol(ident).track["rescuer"].step["two_breaths"].when == "breaths"


# --- life, crew, swaps, kit -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_turning_on_the_side_is_right_after_signs_of_life_and_critical_before(ident: str) -> None:
    good = Bench(ident).play([*good_drill(), (110, "signs_of_life"), (120, "recovery")])
    assert good.faults == []
    bad = Bench(ident).play([*SETUP[:4], (13, "inject:gasp"), (15, "recovery")])
    assert "gasp-taken-for-breathing" in bad.faults
    stopped = Bench(ident).play([*good_drill(), (110, "recovery")])
    assert stopped.faults == ["turned-not-breathing"]


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_the_crew_s_arrival_ends_nothing_and_a_handover_is_taken_at_any_time(ident: str) -> None:
    bench = Bench(ident).play([*good_drill(), (110, "inject:crew_here"), *pushes(111, 5)])
    assert bench.step("rescuer") == "pushing"
    assert expected(protocol(ident), bench.machine, bench.state) == "handover"
    bench.at(118, "handover").at(119, "compression")
    assert bench.step("crew") == "handing_over"
    assert bench.step("rescuer") == "pushing"
    at_once = Bench(ident).at(1, "handover")
    assert at_once.outcomes[-1] == ("handover", "taken")


@pytest.mark.parametrize("ident", TWO)
def test_changing_over_is_due_after_two_minutes_and_welcome_before(ident: str) -> None:
    due = Bench(ident).play([*SETUP, *pushes(20, 240)]).wait(155)
    assert due.step("swap") == "swap_now"
    assert expected(protocol(ident), due.machine, due.state) == "swapped"
    due.at(156, "swapped")
    assert due.step("swap") == "taking_turns"
    early = Bench(ident).play([*SETUP, *pushes(20, 100), (76, "swapped"), *pushes(78, 120)])
    assert early.faults == []
    assert early.step("swap") == "taking_turns"
    assert early.wait(197).step("swap") == "swap_now"


@pytest.mark.parametrize("ident", TWO)
def test_with_two_rescuers_pushes_go_on_while_pads_go_on(ident: str) -> None:
    stop = Bench(ident).play([*SETUP, *pushes(20, 70), (60, "unit_arrived"), (61, "unit_on")]).wait(95)
    assert stop.faults == ["stopped-for-pads"]
    on = Bench(ident).play([*SETUP, *pushes(20, 70), (60, "unit_arrived"), *pushes(60.1, 50)])
    on.at(88, "unit_on", "pad_right", "pad_left")
    assert on.faults == []


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_failed_unit_is_left_for_pushes_and_a_spare_one_starts_anew(ident: str) -> None:
    bench = Bench(ident).play([*good_drill(), (105, "inject:unit_fault"), (107, "compression")])
    assert bench.step("unit") == "unit_away"
    assert bench.faults == []
    bench.at(150, "inject:spare_unit").at(155, "unit_on").at(160, "pad_left").at(165, "pad_right")
    assert bench.step("unit") == "unit_ready"
    late = Bench(ident).play([*good_drill(), (105, "inject:unit_fault")]).wait(116)
    assert late.faults == ["stared-at-the-unit"]


# --- a unit that the laptop plays -------------------------------------------------------------------------------------


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_the_laptop_s_unit_reads_by_script_keeps_its_two_minutes_and_speaks(ident: str) -> None:
    scenario = scenarios()["brackhaven/fruit-stall" if ident in ONE else "brackhaven/net-loft"]  # a shock, then none
    bench = Bench(ident, scenario.model_copy(update={"throw": []}), unit="laptop")
    bench.play([*SETUP, *pushes(20, 100), *TO_PADS]).wait(90)
    [begun] = bench.emitted("analysis_begins")
    assert begun == 77
    assert bench.emitted("shock_advised") == [84]
    assert bench.armed
    bench.at(90, "clear_called").at(91, "shock_pressed").play(pushes(94, 220)).wait(250)
    assert bench.counter("shocks") == 1
    assert bench.emitted("analysis_begins") == [77, 211]
    assert bench.emitted("no_shock_advised") == [218]
    assert "shock-without-clear" not in bench.faults
    voices = bench.voices()
    assert voices[0] == "Practice unit awake. It cannot shock anyone."
    for words in ("Ready. Your hand, your shock.", "That was the shock. Hands on again."):
        assert voices.count(words) == 1
    assert voices.index("Two minutes for you. I keep quiet.") > voices.index("That was the shock. Hands on again.")
    assert "Two minutes over. Hands up, I read again." in voices


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_the_laptop_s_shock_runs_out_if_nobody_presses(ident: str) -> None:
    bench = Bench(ident, unit="laptop").play([*SETUP, *pushes(20, 100), *TO_PADS]).wait(140)
    assert bench.emitted("shock_lapsed") == [108]
    assert not bench.armed
    assert bench.counter("shocks") == 0
    assert "The shock ran out. Hands on again." in bench.voices()


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_shock_is_not_armed_while_the_laptop_s_unit_prepares(ident: str) -> None:
    bench = Bench(ident, unit="laptop").play([*SETUP, *pushes(20, 100), *TO_PADS]).wait(84.5)
    assert bench.step("unit") == "charging"
    bench.at(85, "clear_called").at(86, "shock_pressed")
    assert bench.outcomes[-1] == ("shock_pressed", "not armed")
    bench.at(89, "shock_pressed")
    assert bench.faults == []
    assert bench.counter("shocks") == 1


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_unit_on_the_floor_does_nothing_by_itself_and_says_nothing(ident: str) -> None:
    bench = Bench(ident).play([*SETUP, *pushes(20, 100), *TO_PADS]).wait(300)
    assert bench.emitted("analysis_begins") == []
    assert bench.voices() == []


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_a_loose_pad_stops_the_laptop_s_reading_until_it_is_pressed_down(ident: str) -> None:
    twice = scenarios()["brackhaven/sail-loft"].model_copy(update={"throw": []})  # a shock each time it reads
    if ident in TWO:
        twice = twice.model_copy(update={"facts": {**twice.facts, "rescuers": 2}})
    bench = Bench(ident, twice, unit="laptop").play([*SETUP, *pushes(20, 100), *TO_PADS]).wait(79)
    bench.at(79, "inject:pads_loose").wait(95)
    assert bench.emitted("shock_advised") == []
    assert "One pad has come loose. Rub it down." in bench.voices()
    bench.at(96, "pad_right").wait(120)
    assert bench.emitted("shock_advised") == [105]


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_the_laptop_s_unit_never_advises_a_shock_for_someone_awake(ident: str) -> None:
    bench = Bench(ident, unit="laptop").play([*SETUP, *pushes(20, 100), *TO_PADS]).wait(80)
    bench.at(80, "signs_of_life").wait(300)
    assert bench.emitted("shock_advised") == []
    assert len(bench.emitted("no_shock_advised")) == 2
    assert not any("Hands on again" in words for words in bench.voices())
