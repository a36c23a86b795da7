"""Pages to lay out, from drills written by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from coach.debrief.page import Debrief, build
from coach.log.happened import Look
from coach.measure.findings import Finding
from coach.observations import default_keys
from coach.protocol.pads import PadsDecision
from tests.measure.story import Story, protocol

PADS = PadsDecision(
    size="adult",
    placement="right-and-left",
    rule="adult-weight",
    why="25 kg or more: adult pads.",
    other_rule=None,
    disagrees=False,
    sources=(),
    advice="",
)


def header(story: Story, **more: Any) -> dict[str, Any]:
    return {
        **story.header,
        "drill": "20260103-101500-ab12",
        "protocol": {
            "id": "erc-2025/small",
            "version": "1",
            "guidance": "ERC 2025",
            "digest": "d9",
            "approval": "draft",
            "text": "",
        },
        "scenario": {"id": "brackhaven/fruit-stall", "title": "Fruit stall", "digest": "", "text": ""},
        "mode": "test",
        "unit": "floor",
        "learner": "07",
        "assessor": "a1",
        "role": "only rescuer",
        "keys": default_keys(),
        "attempt": 2,
        **more,
    }


def page(
    story: Story,
    end: float,
    ended: str = "ended",
    language: str = "en",
    pads: PadsDecision | None = PADS,
    happened: dict[str, Any] | None = None,
    **more: Any,
) -> Debrief:
    return build(story.happened(end, ended, **(happened or {})), protocol(), header(story, **more), pads, language)


def good_drill(counting: str = "each") -> Story:
    """Recognised at 14 s, pushing from 22 s at 600 ms (100/min), one gap of 5 s, one of 34 s = 20 + 8 + 3 + 3."""
    story = Story(counting).at(8, "response_checked").at(11, "call_made").at(14, "not_breathing")
    last = story.push(22, 30, 0.6)  # to 39.4
    story.at(last + 1.5, "breath").at(last + 3, "breath")
    last = story.push(last + 5, 30, 0.6)  # 44.4 to 61.8
    story.at(50, "inject:arrives").tell(50, "emit", "unit_arrived").at(63, "unit_on")
    story.at(70, "pad_right").at(78, "pad_left").at(last + 20, "analysis_begins").at(last + 28, "shock_advised")
    story.at(last + 29, "clear_called").at(last + 31, "shock_pressed")
    last = story.push(last + 34, 30, 0.6)  # 95.8 to 113.2
    story.looks += [Look(5, 25_000, "recoil", True), Look(6, 47_000, "recoil", False), Look(7, 99_000, "hands", False)]
    story.at(114, "handover")
    story.extra.update(voided=(3,), nudged=(4, 9), dropped=2, handover_said=("shocks", "now"))
    return story


LONG = "Kardiopulmonalreanimationsübungsleiterin"
"""A word of forty letters."""


def worst(language: str = "en") -> Debrief:
    """A page that asks for more room than any drill should: twelve gaps and more, twenty findings, words of forty
    letters, ten minutes."""
    story = Story().at(8, "response_checked").at(11, "call_made").at(14, "not_breathing")
    start = 22.0
    for number in range(14):
        last = story.push(start, 30, 0.56)
        story.at(last + 1.5, "breath").at(last + 3, "breath")
        if number % 3 == 2:
            story.at(last + 4, "swapped").at(last + 6, "analysis_begins").at(last + 13, "shock_advised")
            story.at(last + 14, "clear_called").at(last + 17, "shock_pressed")
            start = last + 21 + number / 10
        else:
            start = last + 6 + number / 10
    story.at(50, "inject:arrives").tell(50, "emit", "unit_arrived").at(63, "unit_on")
    story.at(70, "pad_right").at(78, "pad_left")
    story.looks = [Look(5 + n, 25_000 + n * 9_000, target, n % 2 == 0) for n, target in enumerate(("hands", LONG) * 4)]
    story.at(580, "handover")
    story.extra.update(voided=(3, 90, 200), nudged=(4, 9), dropped=12, handover_said=("shocks", "now"))
    own = {name: f"{LONG} and {LONG}, said in some few words" for name in ("felt", "plus", "change", "again", "take")}
    made = page(
        story, 590, language=language, learner=LONG, assessor=LONG, role=f"{LONG} {LONG}", scenario={"title": LONG}
    )
    seqs = [one.seq for one in made.happened.seen]
    findings = tuple(
        Finding(
            f"rule-{number}",
            ("critical", "major", "minor")[number % 3],  # type: ignore[arg-type]
            (30 + number * 25) * 1000,
            tuple(seqs[number * 20 : number * 20 + 3]),
            f"{LONG}: {'dicho así' if language == 'es' else 'said like this'} {number}, over by 12 s (≤ 10 s).",
            f"{LONG} 2025",
            to_confirm=number % 4 == 0,
            ask="Seen and not pressed, did it not happen, or were you not looking?" if number % 4 == 0 else "",
        )
        for number in range(20)
    )
    steps = tuple(replace(made.measures.steps[0], id=f"s{number}", title=f"{LONG} {number}") for number in range(6))
    judged = replace(made.judgement, findings=findings)
    return replace(made, judgement=judged, measures=replace(made.measures, steps=made.measures.steps + steps), own=own)
