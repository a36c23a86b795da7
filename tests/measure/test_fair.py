"""Fairness to the learner: what has no order, what must be confirmed, whose it was, and what an answer changes."""

from __future__ import annotations

from typing import Any

import pytest

from coach.log.happened import Answered, Chosen
from coach.measure.findings import Finding
from coach.measure.owners import no_order_ms
from coach.measure.report import Judgement, Measures, conclude, measure
from coach.observations import default_keys
from coach.protocol.model import Protocol
from tests.measure.story import Story, protocol


def judged(
    story: Story, end: float = 100, file: Protocol | None = None, answers: tuple[Answered, ...] = (), **more: Any
) -> tuple[Measures, Judgement]:
    chosen = more.pop("chosen", None)
    header = {**story.header, "keys": default_keys(), **more}
    file = file or protocol()
    happened = story.happened(end, answers=answers, chosen=chosen)
    found = measure(happened, file, header)
    return found, conclude(found, happened, file, header)


def rules(judgement: Judgement) -> set[str]:
    return {one.rule for one in judgement.findings}


def only(judgement: Judgement, rule: str) -> Finding:
    (one,) = [one for one in judgement.findings if one.rule == rule]
    return one


def with_findings(*tables: dict[str, Any], **more: Any) -> Protocol:
    return protocol(finding=list(tables), **more)


GOOD = {5: "response_checked", 8: "call_made", 12: "not_breathing", 18: "compression"}


def drill(events: dict[float, str], counting: str = "each") -> Story:
    story = Story(counting)
    for moment, name in events.items():
        story.at(moment, name)
    return story


# --- no order ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("reaction", "window"), [(0, 2_000), (700, 2_000), (1_000, 2_000), (1_400, 2_800)])
def test_the_window_widens_with_a_slow_reaction_only(reaction: float, window: int) -> None:
    assert no_order_ms(reaction) == window


@pytest.mark.parametrize(
    ("between", "reaction", "out_of_order"),
    [(1.99, 0, False), (2.0, 0, True), (2.5, 1_400, False), (2.8, 1_400, True)],
)
def test_two_steps_closer_than_the_window_have_no_order(between: float, reaction: int, out_of_order: bool) -> None:
    story = drill({5: "response_checked", 8: "not_breathing", 8 + between: "call_made", 18: "compression"})
    found, judgement = judged(story, 19, reaction_ms=reaction)
    status = {step.id: step.status for step in found.steps}["call"]
    assert (status == "out of order") is out_of_order
    assert ("out-of-order" in rules(judgement)) is out_of_order


def touched_file() -> Protocol:
    table = protocol().model_dump(by_alias=True)["track"]
    fault = {"id": "shock-touched", "severity": "critical", "say": "Touched after clear."}
    table["rescuer"]["step"]["clear"]["go"] = [
        {"on": "clear_called", "mark": "clear_said", "unmark": "was_touched"},
        {"on": "touch", "mark": "was_touched"},
    ]
    table["rescuer"]["step"]["shock"]["go"] = [
        {"on": "shock_pressed", "when": "was_touched", "to": "resume", "fault": fault}
    ]
    return protocol(track=table)


@pytest.mark.parametrize(
    ("touches", "asks"),
    [((93.0, 94.0), "no order"), ((91.0,), "no order"), ((96.0,), "no order"), ((93.5,), "slip"), ((93, 93.5), "slip")],
)
def test_a_touch_near_the_clear_or_the_shock_asks_for_the_order(touches: tuple[float, ...], asks: str) -> None:
    """Clear at 90, shock at 97: a touch is between them for sure only where it is 2 s from both."""
    story = drill({**GOOD, 80: "analysis_begins", 88: "shock_advised", 90: "clear_called", 97: "shock_pressed"})
    for moment in touches:
        story.at(moment, "touch")
    if touches == (93.0, 94.0):  # a slow assessor, so the window is 8 s
        _, judgement = judged(story.fault(97, "shock-touched"), 110, touched_file(), reaction_ms=4_000)
    else:
        _, judgement = judged(story.fault(97, "shock-touched"), 110, touched_file())
    one = only(judgement, "shock-touched")
    assert one.to_confirm and one.rests_on == "mark" and asks in one.ask


def test_pushing_on_for_three_seconds_past_an_analysis_asks_whether_it_was_one() -> None:
    story = drill({5: "response_checked", 8: "call_made", 12: "not_breathing"})
    story.push(18, 30)  # to 33.8
    story.at(30, "analysis_begins").at(40, "no_shock_advised")
    for moment in (31.1, 32.2):
        story.at(moment, "compression").fault(moment, "touched")
    one = only(judged(story, 60)[1], "touched")
    assert one.to_confirm and "had the unit begun" in one.ask and len(one.events) == 2
    story = drill({5: "response_checked", 8: "call_made", 12: "not_breathing"})
    story.push(18, 26)  # to 31.6, 1.6 s into the analysis
    story.at(30, "analysis_begins").at(40, "no_shock_advised")
    for moment in (31.1, 31.5):
        story.at(moment, "compression").fault(moment, "touched")
    assert not only(judged(story, 60)[1], "touched").to_confirm


# --- answers ----------------------------------------------------------------------------------------------------------


def omitted() -> Story:
    return drill({5: "response_checked", 12: "not_breathing", 18: "compression"})


@pytest.mark.parametrize(
    ("answer", "status", "stands"),
    [("saw", "independent", False), ("did-not-happen", "omitted", True), ("not-looking", "not observed", False)],
)
def test_an_answer_about_a_missing_mark_settles_the_step(answer: str, status: str, stands: bool) -> None:
    said = Answered(90, "omitted:call", answer, "a1")
    found, judgement = judged(omitted(), 19, answers=(said,))
    assert {step.id: step.status for step in found.steps}["call"] == status
    assert ("omitted" in rules(judgement)) is stands
    if stands:
        one = only(judgement, "omitted")
        assert not one.to_confirm and one.answer == answer and one.id == "omitted:call"
    else:
        (one,) = judgement.settled
        assert (one.id, one.answer, one.to_confirm) == ("omitted:call", answer, False)


@pytest.mark.parametrize(("answer", "stands"), [("saw", True), ("did-not-happen", False), ("not-looking", False)])
def test_an_answer_about_one_press_says_whether_that_happened(answer: str, stands: bool) -> None:
    story = drill({**GOOD, 80: "analysis_begins", 88: "shock_advised", 84: "touch"}).fault(84, "touched")
    waiting = only(judged(story, 100)[1], "touched")
    assert waiting.to_confirm and waiting.rests_on == "mark"
    _, judgement = judged(story, 100, answers=(Answered(90, waiting.id, answer, "a1"),))
    assert ("touched" in rules(judgement)) is stands
    assert bool(judgement.settled) is not stands


def test_an_answer_to_nothing_that_asks_changes_nothing() -> None:
    story = drill({5: "response_checked", 8: "not_breathing", 12: "call_made", 18: "compression"})
    said = Answered(90, "out-of-order:call", "saw", "a1")
    assert judged(story, 19, answers=(said,))[1] == judged(story, 19)[1]


def test_the_assessor_may_choose_another_one_thing_and_the_rule_s_is_kept() -> None:
    story = omitted()
    last = story.push(20, 30)
    story.push(last + 20, 5)
    chosen = Chosen(90, "hands-off-over", "a1", "more use to them today")
    _, judgement = judged(story, 70, chosen=chosen)
    assert judgement.one_thing.finding == "hands-off-over"
    assert judgement.by_rule is not None and judgement.by_rule.finding == "omitted"
    _, strength = judged(story, 70, chosen=Chosen(91, "", "a1"))
    assert strength.one_thing.finding is None and strength.one_thing.say == strength.strength
    _, gone = judged(story, 70, chosen=Chosen(91, "no-such", "a1"))
    assert gone.one_thing == gone.by_rule


# --- whose it was -----------------------------------------------------------------------------------------------------


def two_rescuers(role: str) -> dict[str, Any]:
    return {"role": role, "plan": {"facts": {"rescuers": 2}}}


@pytest.mark.parametrize(
    ("more", "owner"),
    [({}, "learner"), (two_rescuers("caller"), "learner"), (two_rescuers("lead"), "team"), (two_rescuers(""), "team")],
)
def test_with_several_rescuers_a_step_is_the_learner_s_where_they_held_its_role(
    more: dict[str, Any], owner: str
) -> None:
    table = protocol().model_dump(by_alias=True)["track"]
    table["rescuer"]["step"]["call"]["roles"] = ["caller"]
    _, judgement = judged(omitted(), 19, protocol(track=table), **more)
    assert only(judgement, "omitted").owner == owner


def test_time_lost_to_a_loose_pad_is_the_kit_s_up_to_its_limit() -> None:
    """Hands off from 20 to 50 s; a pad loose from 25 s, answered at 45 s, ten seconds granted."""
    table = protocol().model_dump(by_alias=True)["inject"]
    table["loose"] = {"title": "Pad loose", "allowed": "pad_right", "within": "10 s", "owner": "kit"}
    file = protocol(inject=table)
    story = drill({**GOOD, 20: "compression", 25: "inject:loose", 45: "pad_right", 50: "compression"})
    story.tell(45, "emit", "closed:loose")
    found, judgement = judged(story, 50.5, file)
    gap = next(gap for gap in found.gaps if gap.start == 20_000)
    assert (gap.length, gap.kit, gap.rescuer) == (30_000, 10_000, 20_000)
    assert only(judgement, "hands-off-over").hands_off == 10_000
    story = drill({**GOOD, 20: "compression", 25: "inject:loose", 29: "pad_right", 50: "compression"})
    found, _ = judged(story.tell(29, "emit", "closed:loose"), 50.5, file)
    assert next(gap for gap in found.gaps if gap.start == 20_000).kit == 4_000


def test_the_unit_s_own_reading_is_not_counted_as_the_kit_s_again() -> None:
    table = protocol().model_dump(by_alias=True)["inject"]
    table["loose"] = {"title": "Pad loose", "allowed": "pad_right", "within": "20 s", "owner": "kit"}
    story = drill({**GOOD, 20: "compression", 25: "inject:loose", 28: "analysis_begins", 36: "no_shock_advised"})
    found, _ = judged(story.at(50, "compression"), 50.5, protocol(inject=table))
    gap = next(gap for gap in found.gaps if gap.start == 20_000)
    assert gap.parts is not None and gap.parts.unit == 8_000
    assert gap.kit == 12_000 and gap.rescuer == 10_000 and gap.rescuer + gap.kit + gap.parts.unit == gap.length


# --- the forms --------------------------------------------------------------------------------------------------------

OVER_SHOCK = {"id": "over-shock", "hands_on_over": {"what": "shock"}, "severity": "critical", "say": "Pushed over it."}


def test_pushing_on_over_a_shock_is_found_and_a_stop_around_it_is_none() -> None:
    story = Story()
    story.push(80, 30)  # to 95.8
    story.at(90, "shock_pressed")
    one = only(judged(story, 100, with_findings(OVER_SHOCK))[1], "over-shock")
    assert one.severity == "critical" and not one.to_confirm and one.safety and len(one.events) == 3
    late = Story()
    late.push(89, 30)  # begun 1 s before: the press of the shock may be late
    assert "over-shock" not in rules(judged(late.at(90, "shock_pressed"), 110, with_findings(OVER_SHOCK))[1])
    clear = Story()
    clear.push(94, 5, 0.6)
    clear.push(80, 5, 0.6)
    assert "over-shock" not in rules(judged(clear.at(90, "shock_pressed"), 100, with_findings(OVER_SHOCK))[1])


def test_hands_marked_on_over_an_analysis_ask_whether_the_key_was_missed() -> None:
    reading = {"id": "on-reading", "hands_on_over": {"what": "analysis"}, "severity": "major", "say": "Hands on."}
    events = {10: "hands_placed", 80: "analysis_begins", 88: "no_shock_advised"}
    one = only(judged(drill({**events, 95: "hands_lifted"}, "marks"), 100, with_findings(reading))[1], "on-reading")
    assert one.to_confirm and one.rests_on == "missing"
    assert "on-reading" not in rules(
        judged(drill({**events, 81: "hands_lifted"}, "marks"), 100, with_findings(reading))[1]
    )


def test_a_step_is_late_by_more_than_its_margin_only() -> None:
    late = {"id": "late", "late": {"steps": ["breathing"]}, "severity": "minor", "say": "Took long."}
    table = protocol().model_dump(by_alias=True)["track"]
    table["rescuer"]["step"]["breathing"]["within"] = 10_000
    table["rescuer"]["step"]["call"]["within"] = 900

    def told(stay: float, rule: dict[str, Any], **more: Any) -> Judgement:
        story = drill({5: "response_checked", 8: "call_made", 8 + stay: "not_breathing", 60: "compression"})
        story.tell(5, "step", "call", "rescuer", "response").tell(8, "step", "breathing", "rescuer", "call")
        story.tell(8 + stay, "step", "push", "rescuer", "breathing")
        return judged(story, 70, with_findings(rule, track=protocol_track(table), **more))[1]

    assert "late" not in rules(told(12, late))
    one = only(told(12.1, late), "late")
    assert (
        one.step == "breathing" and one.say == "Check breathing: Took long. 12 s (≤ 10 s)" and one.severity == "minor"
    )
    every = only(told(12, {**late, "late": {}}), "late")
    assert every.step == "call" and not every.to_confirm


def protocol_track(table: dict[str, Any]) -> dict[str, Any]:
    return {
        name: {
            **track,
            "step": {ident: {**step, "within": _text(step["within"])} for ident, step in track["step"].items()},
        }
        for name, track in table.items()
    }


def _text(within: int | str | None) -> str | None:
    return f"{within} ms" if isinstance(within, int) else within


def test_a_thing_seen_too_early_or_not_at_all_before_another() -> None:
    early = {"id": "unit-first", "earlier": {"this": "unit_on", "than": ["compression"]}, "say": "Unit first."}
    missing = {"id": "no-breath", "missing_before": {"this": "breath", "than": "compression"}, "say": "No breath."}
    file = with_findings(early, missing)
    _, judgement = judged(drill({15: "unit_on", 18: "compression"}), 20, file)
    assert only(judgement, "unit-first").at == 15_000
    assert only(judgement, "no-breath").to_confirm and "No mark of it: breath" in only(judgement, "no-breath").ask
    _, judgement = judged(drill({16.5: "unit_on", 18: "compression", 19: "breath"}), 20, file)
    assert "unit-first" not in rules(judgement)
    assert "pressed late" in only(judgement, "no-breath").ask
    assert rules(judged(drill({17: "breath", 18: "compression", 25: "unit_on"}), 30, file)[1]) == set()


def test_a_thing_that_does_not_come_though_hands_work_for_long() -> None:
    missing = {"id": "no-breath", "absent": {"this": "breath", "over": "30 s"}, "say": "So long", "severity": "major"}
    marks = with_findings(missing)

    def told(worked: float, *breaths: float) -> Judgement:
        story = Story("marks").at(10, "hands_placed").at(20, "hands_lifted").at(40, "hands_placed")
        story.at(30 + worked, "hands_lifted")
        for at in breaths:
            story.at(at, "breath")
        return judged(story, 200, marks)[1]

    assert "no-breath" not in rules(told(32)), "30 s, the second by hand and one of grace"
    one = only(told(33), "no-breath")
    assert (one.severity, one.at, one.to_confirm, one.say) == ("major", 200_000, True, "So long 0:33")
    assert "Seen and not pressed" in one.ask
    assert "no-breath" not in rules(told(42, 25)), "10 s before the breath, 32 after it"
    assert "no-breath" not in rules(told(74, 25, 72)), "three stretches, none too long"
    late = only(told(74, 5, 75), "no-breath")
    assert (late.at, late.say) == (75_000, "So long 0:45"), "a breath before all work does not count for it"
    awake = Story("marks").at(10, "hands_placed").at(30, "signs_of_life").at(90, "hands_lifted")
    assert "no-breath" not in rules(judged(awake, 200, marks)[1]), "hands on somebody awake do no work"


def test_a_rule_for_some_casualties_is_silent_for_others() -> None:
    early = {"id": "unit-first", "earlier": {"this": "unit_on", "than": "compression"}, "when": "drowning", "say": "x"}
    facts = {"drowning": {"kind": "flag", "default": False}}
    file = with_findings(early, facts=facts)
    story = drill({10: "unit_on", 18: "compression"})
    for drowning in (True, False):
        _, judgement = judged(story, 20, file, plan={"facts": {"drowning": drowning}})
        assert ("unit-first" in rules(judgement)) is drowning
