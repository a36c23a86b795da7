"""From a debrief to the leaves of its page: the sentences are the debrief's own, only laid out."""

from __future__ import annotations

from coach.debrief import sentences
from coach.debrief.page import Debrief
from coach.debrief.phrases import BY_HAND, COUNTING, HANDOVER, moment, pause
from coach.units import clock
from screens.desk import HandoverPart, LookBack, Section

GAPS_SHOWN = 8
"""The longest gaps that the page shows; files hold all."""

ENDED = {
    "ended": "Ended at {}.",
    "safety": "Stopped for safety at {}: never scored, and it uses up no attempt.",
    "interrupted": "The record was cut off at {}: what came later is not known.",
}


def look_back(page: Debrief) -> LookBack:
    """All leaves of a debrief."""
    judged = page.judgement
    thing = judged.one_thing
    told = judged.handover
    confirm = "To be confirmed first: the assessor says whether it happened." if thing.to_confirm else ""
    found = next((one for one in judged.findings if one.rule == thing.finding), None) if thing.finding else None
    return LookBack(
        head=_head(page),
        ended=ENDED.get(page.happened.ended, ENDED["ended"]).format(clock(page.happened.end_e)),
        tape=page.tape,
        sections=tuple(section for section in _sections(page) if section.rows),
        one_thing=thing.say if thing.finding else f"Keep this: {thing.say}",
        why=" ".join(part for part in (f"At {moment(found.at)}." if found and found.at else "", confirm) if part),
        strength=judged.strength,
        handover=tuple(HandoverPart(item, HANDOVER[item], words) for item, words in told.true_version.items()),
        said=tuple(told.said),
        cautions=(f"On record: {sentences.record(page)}.", *page.cautions),
    )


def _head(page: Debrief) -> str:
    learner = f"learner {page.learner}" if page.learner not in ("", "none") else ""
    guidance = f"after {page.of.guidance}, not endorsed"
    parts = (page.of.title, page.scenario, guidance, page.of.approval, learner, page.mode, COUNTING[page.counting])
    return " · ".join(part for part in parts if part)


def _sections(page: Debrief) -> list[Section]:
    judged, found = page.judgement, page.measures
    milestones = [(name, f"{at}  {after}".rstrip()) for name, at, after in sentences.milestones(page)]
    gaps = [
        (
            f"{pause(gap.length, page.beats)} at {moment(gap.start)}",
            sentences.gap_for(gap, page.beats),
        )
        for gap in sentences.by_length(page)[:GAPS_SHOWN]
    ]
    shocks = [(f"at {moment(one.at)}", sentences.shock(page, one)) for one in found.shocks]
    pads = [("pads", sentences.pads(page))] if page.pads is not None else []
    return [
        Section(f"What was keyed, and when  ({BY_HAND})", tuple(milestones)),
        Section("Hands off the chest", (("share", sentences.share(page)), *gaps)),
        Section("Analysis and shock", (*shocks, ("touch", sentences.touches(page)), *pads)),
        Section("Rhythm", tuple(("", words) for words in sentences.rhythm(page))),
        Section("By eye", tuple(("", words) for words in sentences.by_eye(page))),
        Section("Steps", tuple(sentences.steps(page))),
        Section(
            "For the assessor to confirm first",
            tuple((one.severity, f"{one.say} {one.ask}".strip()) for one in judged.findings if one.to_confirm),
        ),
        Section("Findings", tuple((one.severity, f"{one.say}") for one in judged.findings if not one.to_confirm)),
    ]
