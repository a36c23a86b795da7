"""Findings, the one thing, strengths, limits with their uncertainty, and the handover."""

from __future__ import annotations

from typing import Any

import pytest

from coach.log.happened import Look, Pin
from coach.measure.findings import Finding
from coach.measure.report import Judgement, conclude, measure
from coach.measure.targets import Reading, bound, standing, verdict_of
from coach.observations import default_keys
from coach.protocol.model import Protocol
from tests.measure.story import Story, protocol


def concluded(story: Story, end: float, file: Protocol | None = None, language: str = "en", **more: Any) -> Judgement:
    header = {**story.header, "keys": default_keys(), **more}
    file = file or protocol()
    happened = story.happened(end)
    return conclude(measure(happened, file, header, language), happened, file, header, language)


def setup(story: Story | None = None) -> Story:
    story = story or Story()
    story.at(5, "response_checked").at(8, "call_made").at(12, "not_breathing")
    return story


def shocked(story: Story, clear: float | None = 92) -> Story:
    story.at(80, "analysis_begins").at(88, "shock_advised").at(93, "shock_pressed").at(95, "compression")
    return story if clear is None else story.at(clear, "clear_called")


def by_rule(judgement: Judgement, rule: str) -> Finding:
    (finding,) = [one for one in judgement.findings if one.rule == rule]
    return finding


@pytest.mark.parametrize(
    ("value", "margin", "verdict"),
    [
        (9_000, 2_000, "inside"),
        (10_000, 2_000, "inside"),
        (10_001, 2_000, "at the limit"),
        (12_000, 2_000, "at the limit"),
        (12_001, 2_000, "over"),
        (10_100, 100, "at the limit"),
        (10_101, 100, "over"),
    ],
)
def test_a_time_is_over_only_by_more_than_its_uncertainty(value: int, margin: int, verdict: str) -> None:
    assert verdict_of(Reading(value, margin, None), None, 10_000) == verdict


@pytest.mark.parametrize(
    ("rate", "verdict"),
    [(121.2, "at the limit"), (121.4, "over"), (98.8, "at the limit"), (98.6, "under"), (110, "inside")],
)
def test_a_rate_is_outside_only_by_more_than_its_uncertainty(rate: float, verdict: str) -> None:
    assert verdict_of(Reading(rate, 1.3, None), 100, 120) == verdict


@pytest.mark.parametrize(
    ("rate", "standing_at"),
    [
        (110, "inside"),
        (119, "at the limit"),
        (121, "at the limit"),
        (101, "at the limit"),
        (123, "outside"),
        (90, "outside"),
    ],
)
def test_a_rate_whose_uncertainty_crosses_a_limit_is_neither_in_nor_out(rate: float, standing_at: str) -> None:
    assert standing(rate, 1.3, 100, 120) == standing_at


@pytest.mark.parametrize(
    ("value", "unit", "read"),
    [
        ("10 s", "", 10_000),
        (10, "s", 10_000),
        ("2 min", "", 120_000),
        (60, "%", 0.6),
        (100, "/min", 100),
        (None, "s", None),
    ],
)
def test_bounds_are_read_in_the_quantity_that_is_measured(value: Any, unit: str, read: float | None) -> None:
    assert bound(value, unit) == read


def test_a_fault_told_is_a_finding_with_its_words_and_source() -> None:
    story = shocked(setup(), clear=None).fault(93, "no-clear", "rescuer", "shock")
    finding = by_rule(concluded(story, 100), "no-clear")
    assert finding.severity == "critical" and finding.at == 93000 and finding.safety
    assert finding.say == "Shock without a clear call."
    assert finding.source == "Adult basic life support"
    spanish = by_rule(concluded(story, 100, language="es"), "no-clear")
    assert spanish.say == "Descarga sin aviso."


def test_a_fault_that_rests_on_a_missing_mark_is_to_be_confirmed() -> None:
    story = shocked(setup(), clear=None).fault(93, "no-clear", "rescuer", "shock")
    finding = by_rule(concluded(story, 100), "no-clear")
    assert finding.to_confirm and finding.rests_on == "missing"
    assert finding.ask.startswith("No mark of it: clear called.")


def test_a_clear_within_two_seconds_after_the_shock_asks_whether_it_was_pressed_late() -> None:
    story = shocked(setup(), clear=94.9).fault(93, "no-clear", "rescuer", "shock")
    assert "pressed late" in by_rule(concluded(story, 100), "no-clear").ask
    story = shocked(setup(), clear=95.1).fault(93, "no-clear", "rescuer", "shock")
    assert "pressed late" not in by_rule(concluded(story, 100), "no-clear").ask


def test_a_fallthrough_after_a_guarded_arrow_rests_on_a_missing_mark_too() -> None:
    table = protocol().model_dump(by_alias=True)["track"]
    fault = {"id": "no-clear", "severity": "critical", "say": "No clear."}
    table["rescuer"]["step"]["shock"]["go"] = [
        {"on": ["shock_pressed"], "when": "clear_said", "to": "resume"},
        {"on": ["shock_pressed"], "to": "resume", "fault": fault},
        {"on": ["recovery"], "to": "resume", "fault": {**fault, "id": "left"}},
    ]
    story = shocked(setup(), clear=None).fault(93, "no-clear", "rescuer", "shock").at(97, "recovery")
    judgement = concluded(story.fault(97, "left", "rescuer", "shock"), 100, protocol(track=table))
    assert by_rule(judgement, "no-clear").to_confirm
    left = by_rule(judgement, "left")
    assert left.rests_on == "mark" and "slip of the key" in left.ask and not left.safety


@pytest.mark.parametrize("moment", [79.5, 80.9, 87.1, 88.9])
def test_a_touch_at_the_edge_of_an_analysis_is_no_fault(moment: float) -> None:
    story = shocked(setup()).at(moment, "touch").fault(moment, "touched", "rescuer", "shock")
    assert "touched" not in {one.rule for one in concluded(story, 100).findings}


def test_a_single_touch_inside_is_to_be_confirmed_and_two_are_one_finding() -> None:
    story = shocked(setup()).at(84, "touch").fault(84, "touched", "rescuer", "shock")
    assert by_rule(concluded(story, 100), "touched").to_confirm
    story.at(85, "touch").fault(85, "touched", "rescuer", "shock")
    finding = by_rule(concluded(story, 100), "touched")
    assert not finding.to_confirm and len(finding.events) == 2 and finding.at == 84000


def test_a_wrong_answer_to_an_inject_is_a_major_finding_in_words() -> None:
    story = setup().at(20, "inject:vomit").at(24, "wrong:vomit")
    story.fault(24, "vomit-wrong", "inject:vomit", "vomit:open")
    finding = by_rule(concluded(story, 60), "vomit-wrong")
    assert (finding.severity, finding.say) == ("major", "Vomit: answered wrongly.")


def test_an_omitted_step_is_to_be_confirmed_with_its_own_severity() -> None:
    story = Story().at(5, "response_checked").at(12, "not_breathing").at(18, "compression")
    finding = by_rule(concluded(story, 19), "omitted")
    assert finding.severity == "critical" and finding.to_confirm and finding.step == "call" and finding.at is None
    assert finding.say.startswith("Call: ")


def test_a_step_out_of_order_is_one_grade_milder() -> None:
    story = Story().at(5, "response_checked").at(8, "not_breathing").at(12, "call_made").at(18, "compression")
    finding = by_rule(concluded(story, 19), "out-of-order")
    assert finding.severity == "major" and not finding.to_confirm and finding.at == 12000
    assert finding.say == "Call: Marked out of order. (Check breathing)"


def gap_drill(gap: float) -> Story:
    story = setup()
    last = story.push(18, 30)
    story.push(last + gap, 30)
    return story


def test_a_pause_past_its_limit_is_a_finding_and_at_the_limit_is_none() -> None:
    finding = by_rule(concluded(gap_drill(10.2), 60), "hands-off-over")
    assert finding.say == "Your own time without compressions: past its limit. 10 s (≤ 10 s)"
    assert finding.hands_off == pytest.approx(200, abs=1)
    assert "hands-off-over" not in {one.rule for one in concluded(gap_drill(10.1), 60).findings}


def test_several_pauses_past_a_limit_are_one_finding_at_the_worst() -> None:
    story = setup()
    last = story.push(18, 10)
    last = story.push(last + 12, 10)
    worst = last
    story.push(last + 15, 10)
    finding = by_rule(concluded(story, 60), "hands-off-over")
    assert finding.say.endswith("15 s (≤ 10 s) ×2") and finding.at == pytest.approx(worst * 1000, abs=1)


def test_a_gap_with_a_teaching_pause_in_it_breaks_no_limit() -> None:
    story = gap_drill(14)
    story.pause(40, 60)
    assert "hands-off-over" not in {one.rule for one in concluded(story, 62).findings}


def test_a_last_pause_that_lasts_to_the_end_is_to_be_confirmed() -> None:
    """It may be that the drill was over, and the end was keyed late."""
    story = setup()
    last = story.push(18, 30)
    finding = by_rule(concluded(story, last + 12), "hands-off-over")
    assert finding.to_confirm and "was the drill over" in finding.ask
    story.push(last + 12, 30)
    assert not by_rule(concluded(story, last + 30), "hands-off-over").to_confirm


def test_the_units_time_is_not_the_rescuers() -> None:
    """A gap of 34 s, 8 of them the unit's: the rescuer is 16 s past the limit of 10 s."""
    story = setup().at(18, "compression").at(38, "analysis_begins").at(46, "shock_advised").at(48, "clear_called")
    story.at(49, "shock_pressed").at(52, "compression")
    assert by_rule(concluded(story, 53), "hands-off-over").hands_off == 16000


def test_a_milestone_target_and_its_two_seconds_of_grace() -> None:
    def rules(start: float) -> set[str]:
        return {one.rule for one in concluded(setup().at(start, "compression"), start + 1).findings}

    assert "first-compression-over" not in rules(24.0)
    assert "first-compression-over" in rules(24.1)


def test_a_depth_target_is_never_measured() -> None:
    judgement = concluded(gap_drill(5), 60)
    assert all(one.target != "depth" for one in judgement.judged)


FILE_RULES: list[dict[str, Any]] = [
    {"id": "gone", "omitted": {"severity": "as the step"}, "say": {"en": "Never marked.", "es": "Sin marcar."}},
    {"id": "mixed", "out_of_order": {"severity": "minor"}, "say": "Later than here."},
    {"id": "long", "over": {"target": "hands_off", "owner": "rescuer"}, "severity": "major", "say": "Hands off long."},
    {"id": "runs", "outside": {"target": "run_length", "by": 2}, "severity": "minor", "say": "Not thirty."},
    {"id": "unknown", "something_new": {"of": 1}, "say": "Not for this room."},
]


def test_the_files_own_finding_rules_decide_and_a_rule_taken_out_is_gone() -> None:
    story = Story().at(5, "response_checked").at(12, "not_breathing")
    last = story.push(18, 30)
    story.push(last + 15, 30)
    judgement = concluded(story, 66, protocol(finding=FILE_RULES))
    assert {one.rule for one in judgement.findings} == {"gone", "long"}
    assert by_rule(judgement, "long").severity == "major"
    without = concluded(story, 66, protocol(finding=[rule for rule in FILE_RULES if rule["id"] != "long"]))
    assert {one.rule for one in without.findings} == {"gone"}


@pytest.mark.parametrize(("count", "found"), [(26, True), (27, False), (33, False), (34, True)])
def test_an_aim_with_a_tolerance_and_a_miscount_of_one(count: int, found: bool) -> None:
    story = setup()
    last = story.push(18, count)
    story.at(last + 1, "breath").push(last + 4, 30)
    rules = {one.rule for one in concluded(story, 60, protocol(finding=FILE_RULES)).findings}
    assert ("runs" in rules) is found


def test_a_run_that_a_pause_cut_in_two_is_no_miscount() -> None:
    story = setup()
    last = story.push(18, 30)
    story.at(last + 1, "breath").pause(25, 60)
    assert [run.count for run in measure(story.happened(40), protocol(), story.header).runs] != [30]
    assert "runs" not in {one.rule for one in concluded(story, 40, protocol(finding=FILE_RULES)).findings}


def test_out_of_order_takes_the_files_severity() -> None:
    story = Story().at(5, "response_checked").at(8, "not_breathing").at(12, "call_made").at(18, "compression")
    judgement = concluded(story, 19, protocol(finding=FILE_RULES))
    assert by_rule(judgement, "mixed").severity == "minor"
    assert judgement.one_thing.finding is None  # the file calls it minor, so it is not the one thing


def everything() -> Story:
    """Unsafe, a critical step missing, a long pause, too fast, recoil of concern twice."""
    story = Story().at(5, "response_checked").at(12, "not_breathing")
    last = story.push(18, 30, 60 / 130)
    story.push(last + 15, 30, 60 / 130)
    story.at(80, "analysis_begins").at(88, "shock_advised").at(93, "shock_pressed").at(94, "compression")
    story.fault(93, "no-clear", "rescuer", "shock")
    story.looks += [Look(1, 20_000, "recoil", True), Look(2, 50_000, "recoil", True), Look(3, 52_000, "hands", False)]
    return story


def test_the_one_thing_takes_the_first_that_applies() -> None:
    story = everything()
    assert concluded(story, 95).one_thing.finding == "no-clear"
    assert concluded(story, 95).one_thing.to_confirm
    story.told.clear()
    assert concluded(story, 95).one_thing.finding == "omitted"
    story.at(8, "call_made").at(92, "clear_called")
    assert concluded(story, 95).one_thing.finding == "hands-off-over"
    file = protocol(targets={"compression_rate": {"from": 100, "to": 120, "unit": "/min", "source": "bls"}})
    assert concluded(story, 95, file).one_thing.finding == "compression-rate-outside"
    bare = protocol(targets={})
    thing = concluded(story, 95, bare).one_thing
    assert (thing.finding, thing.say) == ("look-recoil", "By eye, a concern in 2 of 2 looks: recoil.")
    story.looks.pop()
    story.looks.pop()
    thing = concluded(story, 95, bare).one_thing
    assert thing.finding is None and thing.say == "Clear was called before every shock."


def test_of_two_long_pauses_the_longer_past_its_limit_is_the_one_thing() -> None:
    targets = {
        "hands_off": {"to": "10 s", "source": "bls"},
        "breath_gap": {"to": "4 s", "source": "bls"},
    }
    story = setup()
    last = story.push(18, 30)
    story.at(last + 1, "breath")
    last = story.push(last + 13, 30)
    story.push(last + 12, 5)
    # breaths: 13 s, 9 past 4; hands off: 13 s, 3 past 10
    assert concluded(story, 90, protocol(targets=targets)).one_thing.finding == "breath-gap-over"


def test_one_strength_is_always_there() -> None:
    assert concluded(Story(), 10).strength == "Took part and stayed with it."
    assert concluded(Story().at(3, "compression"), 4, protocol(targets={})).strength.startswith("Hands went on")
    named = setup()
    named.pins += [Pin(3, 9_000, "good"), Pin(4, 9_500, "good", "spoke to the bystander")]
    assert concluded(named, 20).strength == "Noticed as good: spoke to the bystander."
    quick = setup().at(17, "compression")
    assert concluded(quick, 18).strength == "From recognition to the first compression: 5 s (aim ≤ 10 s)."


def test_a_handover_told_from_the_record() -> None:
    story = setup()
    story.push(18, 10)
    story.at(40, "inject:vomit").at(42, "rolled").at(44, "swapped")
    shocked(story).at(150, "handover")
    story.extra["handover_said"] = ("shocks", "now")
    facts = {"age": {"kind": "number", "unit": "year", "from": 0, "to": 110}, "implant": {"kind": "flag"}}
    handover = concluded(
        story,
        170,
        protocol(facts=facts),
        learner="07",
        plan={"facts": {"age": 58 * 12_000, "implant": True}},
        scenario={"title": {"en": "Fruit stall"}},
    ).handover
    assert handover.said == ("shocks", "now")
    assert handover.missing == ("who_where", "collapse_time", "cpr_since_by", "last_advice", "seen", "needed")
    assert handover.true_version == {
        "who_where": "58 years old, Fruit stall",
        "collapse_time": "Collapse 2:30 ago (the drill's go).",
        "cpr_since_by": "Compressions for 2:12, since 0:18, begun by learner 07; who pushes changed 1 time.",
        "shocks": "1 shock given, the last 0:57 ago.",
        "last_advice": "Last verdict: shock advised, 1:02 ago.",
        "seen": "Vomit; implant.",
        "now": "No signs of life keyed; hands off at that moment.",
        "needed": "Take over the compressions without a break; leave pads and unit on.",
    }


def test_a_handover_of_nothing_claims_nothing() -> None:
    handover = concluded(Story(), 61).handover
    assert handover.true_version["cpr_since_by"] == "No compressions were keyed."
    assert handover.true_version["shocks"] == "No shock given."
    assert handover.true_version["last_advice"] == "The unit gave no verdict."
    assert handover.true_version["seen"] == "Nothing else on record."
    assert handover.at is None and handover.said == () and len(handover.missing) == 8


def test_a_bystander_is_no_sign_of_the_casualty() -> None:
    table = protocol().model_dump(by_alias=True)["inject"]
    table["touch"] = {"title": "A bystander touches", "allowed": ["clear_called"]}
    story = setup().at(20, "inject:touch").at(30, "inject:vomit")
    assert concluded(story, 60, protocol(inject=table)).handover.true_version["seen"] == "Vomit."


def test_a_handover_to_a_person_who_woke() -> None:
    story = setup().at(18, "compression").at(60, "signs_of_life").at(90, "handover")
    handover = concluded(story, 100).handover
    assert handover.true_version["now"] == "Signs of life since 1:00."
    assert handover.true_version["needed"] == "Watch the breathing; leave pads and unit on."


def test_a_time_of_ones_own_is_told_beside_the_whole_of_it() -> None:
    """Of a long stop the unit took nine seconds: both are said, so that the figure is found in the list of stops."""
    story = setup()
    story.push(3, 12)
    story.at(25, "analysis_begins").at(34, "no_shock_advised")
    story.push(40, 12)
    gap = measure(story.happened(50), protocol(), {**story.header, "keys": default_keys()}).gaps[0]
    assert gap.length - gap.rescuer == 9_000
    say = by_rule(concluded(story, 50), "hands-off-over").say
    assert f"{gap.rescuer / 1000:.0f} s" in say and f"{gap.length / 1000:.0f} s in all" in say


def test_pushes_that_never_came_are_late_once_they_are_and_the_end_is_to_be_confirmed() -> None:
    targets = {"start_after_recognition": {"to": 10, "unit": "s", "source": "desk"}}
    file = protocol(targets=targets)
    late = by_rule(concluded(setup(), 60, file), "start-after-recognition-over")
    assert late.to_confirm and late.say.endswith("48 s (≤ 10 s; not by the end)")
    # Ended soon after the decision nobody knows, and nothing is praised either.
    soon = concluded(setup(), 20, file)
    assert not soon.findings and soon.strength == "Took part and stayed with it."
    awake = concluded(setup().at(15, "signs_of_life"), 60, file)
    assert "start-after-recognition-over" not in {one.rule for one in awake.findings}
    assert concluded(Story().at(5, "response_checked"), 60, file).findings == ()
