"""Sign-off by the rule of the file, fair to the learner: what comes first, what fails, what fails nobody."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from coach.debrief.afterwards import NotSaid, sign
from coach.debrief.from_log import debrief_of
from coach.debrief.page import build
from coach.debrief.sentences import signoff
from coach.debrief.signoff import Verdict, verdict_of
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.happened import Answered, Look, Pin
from coach.log.reading import read_log
from coach.protocol.model import Protocol
from coach.resources import data_dir
from tests.debrief.pages import header
from tests.measure.story import Story, protocol

PASS = {"critical_steps": "independent", "critical_faults": 0, "by_eye": "never", "say": {"en": "Order seen."}}
TAUGHT: dict[float, str] = {
    5: "response_checked",
    8: "call_made",
    12: "not_breathing",
    18: "compression",
    80: "analysis_begins",
    88: "shock_advised",
    91: "clear_called",
    94: "shock_pressed",
    97: "compression",
}


def file(**more: Any) -> Protocol:
    return protocol(**{"pass": PASS, **more})


def story_of(events: dict[float, str]) -> Story:
    story = Story()
    for moment, name in events.items():
        story.at(moment, name)
    return story


def judged(
    story: Story,
    made: Protocol | None = None,
    ended: str = "ended",
    reason: str = "",
    happened: Any = None,
    **more: Any,
) -> Verdict:
    made = made or file()
    head = header(story, **more)
    page = build(story.happened(98.5, ended, **(happened or {})), made, head, None)
    return verdict_of(page, made, head, reason)


def without(moment: float) -> dict[float, str]:
    return {at: name for at, name in TAUGHT.items() if at != moment}


def said(finding: str, answer: str) -> dict[str, Any]:
    return {"answers": (Answered(90, finding, answer, "a1"),)}


def test_a_drill_as_taught_passes_and_claims_no_more_than_was_seen() -> None:
    verdict = judged(story_of(TAUGHT))
    assert verdict == Verdict("pass", says="Order seen.")


def test_a_missing_critical_mark_is_confirmed_before_it_counts() -> None:
    story = story_of(without(8))
    waiting = judged(story)
    assert waiting.result is None and [one.id for one in waiting.confirm] == ["omitted:call"]
    assert judged(story, happened=said("omitted:call", "saw")).result == "pass"
    failed = judged(story, happened=said("omitted:call", "did-not-happen"))
    assert failed.result == "not-yet" and failed.not_yet == ("Call: it did not happen",)
    again = judged(story, happened=said("omitted:call", "not-looking"))
    assert again.result is None and again.again == ("Call",) and again.not_yet == ()


def test_a_second_observer_may_answer_where_the_assessor_was_not_looking() -> None:
    story = story_of(without(8))
    both = (Answered(90, "omitted:call", "saw", "a2"),)  # the history keeps the last answer to each question
    assert judged(story, happened={"answers": both}).result == "pass"


@pytest.mark.parametrize(("answer", "result"), [("saw", "not-yet"), ("did-not-happen", "pass"), ("not-looking", None)])
def test_one_press_never_fails_anybody_unconfirmed(answer: str, result: str | None) -> None:
    story = story_of({**TAUGHT, 84: "touch"}).fault(84, "touched", "rescuer", "shock")
    waiting = judged(story)
    assert waiting.result is None and [one.rule for one in waiting.confirm] == ["touched"]
    assert judged(story, happened=said(waiting.confirm[0].id, answer)).result == result


def test_prompted_and_cued_steps_are_not_there_yet() -> None:
    story = story_of(without(8)).at(8, "call_made", prompted=True)
    assert judged(story).not_yet == ("Call: prompted",)
    cued = story_of(TAUGHT).tell(6, "late", "call", "rescuer")
    table = file().model_dump(by_alias=True)["track"]
    table["rescuer"]["step"]["call"]["late_cue"] = {"en": "Phone now."}
    assert judged(cued, file(track=table), mode="practise").not_yet == ("Call: cued",)


def test_out_of_order_is_done_unless_the_file_calls_it_critical() -> None:
    events = {**without(8), 14.5: "call_made"}
    assert judged(story_of(events)).result == "pass"
    grave = [{"id": "order", "out_of_order": {"severity": "critical"}, "say": "Out of order."}]
    assert judged(story_of(events), file(finding=grave)).not_yet == ("Call: out of order",)
    mild = [{"id": "order", "out_of_order": {"severity": "minor"}, "say": "Out of order."}]
    assert judged(story_of(events), file(finding=mild)).result == "pass"


def test_a_team_s_fault_fails_nobody_and_a_role_with_nothing_to_hold_signs_nothing() -> None:
    table = file().model_dump(by_alias=True)["track"]
    for ident, step in table["rescuer"]["step"].items():
        step["roles"] = ["second"] if ident == "call" else ["lead"]
    made = file(track=table)
    two = {"plan": {"facts": {"rescuers": 2}}}
    story = story_of(without(8))
    assert judged(story, made, role="lead", **two).result == "pass"
    assert [one.id for one in judged(story, made, role="second", **two).confirm] == ["omitted:call"]
    assert "this learner's to hold" in judged(story, made, role="breaths", **two).never


def test_impressions_and_pins_change_nothing() -> None:
    story = story_of(TAUGHT)
    plain = judged(story)
    story.looks += [Look(50 + n, 20_000 + n, "depth", True) for n in range(5)]
    story.pins += [Pin(60, 30_000, "fault", "depth")]
    assert judged(story) == plain


def test_stops_and_modes() -> None:
    story = story_of(without(8))
    assert judged(story, ended="safety").result == "safety"
    assert judged(story_of(TAUGHT), ended="interrupted").never.startswith("The record was interrupted")
    assert judged(story_of(TAUGHT), mode="teach").never == "A teach drill signs nobody off."
    assert "no [pass]" in judged(story_of(TAUGHT), protocol()).never


def test_a_step_that_was_never_called_for_is_not_asked_for() -> None:
    """Off the spine and never reached: no shock was advised."""
    table = file().model_dump(by_alias=True)["track"]
    table["rescuer"]["spine"] = ["response", "call", "breathing", "push"]
    events = {at: name for at, name in TAUGHT.items() if at <= 18}
    story = story_of({**events, 80: "analysis_begins", 88: "no_shock_advised", 90: "compression"})
    story.tell(0, "step", "response", "rescuer").tell(18, "step", "push", "rescuer", "breathing")
    assert judged(story, file(track=table)).result == "pass"
    # On the spine it was due, and the drill ended before it.
    assert "Clear: not reached" in judged(story_of(events)).not_yet


def major(rests: bool) -> list[dict[str, Any]]:
    if rests:
        return [{"id": "no-breath", "missing_before": {"this": "breath", "than": "clear_called"}, "severity": "major"}]
    return [{"id": "unit-first", "earlier": {"this": "response_checked", "than": "compression"}, "severity": "major"}]


def test_a_typed_reason_stands_for_one_missing_mark_that_is_not_critical() -> None:
    rule = {**PASS, "major_faults": 0}
    made = file(**{"pass": rule, "finding": major(True)})
    waiting = judged(story_of(TAUGHT), made)
    assert [one.rule for one in waiting.confirm] == ["no-breath"]
    answered = said(waiting.confirm[0].id, "did-not-happen")
    assert judged(story_of(TAUGHT), made, happened=answered).result == "not-yet"
    assert judged(story_of(TAUGHT), made, happened=answered, reason="No mask at hand.").result == "pass"
    marked = file(**{"pass": rule, "finding": major(False)})
    assert judged(story_of(TAUGHT), marked, reason="Because.").result == "not-yet"


def test_a_target_counts_where_the_rule_names_it() -> None:
    rule = {**PASS, "targets": ["hands_off"]}
    assert judged(story_of(TAUGHT)).result == "pass"
    assert judged(story_of(TAUGHT), file(**{"pass": rule})).not_yet == (
        "Your own time without compressions: past its limit",
    )


def test_a_published_rule_counts_where_the_file_names_it() -> None:
    for name, said in (
        ("cheskes-2011", "cheskes-2011 (pauses before and around each shock): not met"),
        ("hansen-2019", "hansen-2019 (count and rate of the first three cycles; depth and breaths not measured): "),
        ("made-up", "made-up: no such published rule"),
    ):
        verdict = judged(story_of(TAUGHT), file(**{"pass": {**PASS, "criteria": [name]}}))
        assert verdict.result == "not-yet" and verdict.not_yet[0].startswith(said)


def test_a_verdict_that_hangs_on_a_moved_mark_wants_a_reason() -> None:
    story = story_of(TAUGHT)
    made = file()
    page = replace(build(story.happened(98.5), made, header(story), None), flipped=("Call: moved.",))
    waiting = verdict_of(page, made, header(story))
    assert waiting.result is None and waiting.reason == ("Call: moved.",)
    assert verdict_of(page, made, header(story), "The video shows it.").result == "pass"
    with pytest.raises(NotSaid, match="a reason is needed"):
        sign(page, waiting, None)


def test_a_drill_rebuilt_from_a_video_wants_a_reason() -> None:
    story = story_of(TAUGHT)
    lines = tuple(range(1, 10))
    assert "Reconstructed" in judged(story, happened={"added_later": lines}).reason[0]
    assert judged(story, happened={"added_later": lines}, reason="Filmed from the side.").result == "pass"


def test_a_person_may_sign_less_than_the_rule_gives_and_never_more() -> None:
    story = story_of(TAUGHT)
    page = build(story.happened(98.5), file(), header(story), None)
    verdict = verdict_of(page, file(), header(story))
    assert sign(page, verdict, None)["result"] == "pass"
    assert sign(page, verdict, "not-yet")["result"] == "not-yet"
    with pytest.raises(NotSaid):
        sign(page, verdict, "safety")
    with pytest.raises(NotSaid, match="Call: it did not happen"):
        sign(page, Verdict("not-yet", ("Call: it did not happen",)), "pass")


def test_a_drill_that_ended_before_any_analysis_is_no_pass(tmp_path: Path) -> None:
    keys = ["0 go", "3 j", "6 u", "9 e", "13 n", *(f"{18 + place * 0.55:.2f} space" for place in range(12))]
    script = read_script("\n".join(["# mode: test", "# reason: trying", *keys, "27 z", "27.4 z"]))
    setup = setup_of(script, setup_for)
    record = read_log(play(script, setup, tmp_path))
    page = debrief_of(record)
    verdict = verdict_of(page, setup.protocol, record.header)
    assert verdict.result != "pass" and any("too short" in why for why in verdict.not_yet)


@pytest.mark.parametrize(
    ("name", "told"), [("long-stop", ["1 major finding stands beside it: read it before you sign."]), ("good", [])]
)
def test_a_pass_with_major_findings_says_how_many_stand_beside_it(name: str, told: list[str], tmp_path: Path) -> None:
    path = data_dir("protocols") / "erc-2025" / "scripts" / "adult-one-rescuer" / f"{name}.txt"
    script = read_script(path.read_text(encoding="utf-8"))
    page = debrief_of(read_log(play(script, setup_of(script, setup_for), tmp_path)))
    assert page.verdict is not None and page.verdict.result == "pass"
    assert [one.say for one in signoff(page) if "beside it" in one.say] == told
