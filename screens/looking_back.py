"""From a debrief to the leaves of its page: the sentences are the debrief's own, only laid out."""

from __future__ import annotations

from functools import partial

from coach.debrief import sentences
from coach.debrief.page import Debrief
from coach.debrief.phrases import moment, pause
from coach.debrief.wording import known, words
from coach.measure.findings import Finding
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
        handover=tuple(
            HandoverPart(item, words(page.language, f"item:{item}"), true) for item, true in told.true_version.items()
        ),
        said=tuple(told.said),
        cautions=(sentences.record(page), *page.cautions),
    )


def _head(page: Debrief) -> str:
    learner = f"learner {page.learner}" if page.learner not in ("", "none") else ""
    guidance = f"after {page.of.guidance}, not endorsed"
    parts = (
        page.of.title,
        page.scenario,
        guidance,
        page.of.approval,
        learner,
        page.mode,
        known(page.language, "counting", page.counting),
    )
    return " · ".join(part for part in parts if part)


def _sections(page: Debrief) -> list[Section]:
    judged, found = page.judgement, page.measures
    say = partial(words, page.language)
    milestones = [(name, f"{at}  {after}".rstrip()) for name, at, after in sentences.milestones(page)]
    gaps = [
        (say("at", what=pause(gap.length, page.beats), at=moment(gap.start)), sentences.gap_for(page, gap))
        for gap in sentences.by_length(page)[:GAPS_SHOWN]
    ]
    shocks = [("", sentences.shock_at(page, one)) for one in found.shocks]
    pads = [("", sentences.pads(page))] if page.pads is not None else []
    confirm = [one for one in judged.findings if one.to_confirm]
    stand = [one for one in judged.findings if not one.to_confirm]
    return [
        Section(f"{say('head:milestones')}  ({say('by-hand')})", tuple(milestones)),
        Section(say("head:gaps"), (("", sentences.share(page)), *gaps)),
        Section(say("head:shocks"), (*shocks, ("", sentences.touches(page)), *pads)),
        Section(say("head:rhythm"), tuple(("", said) for said in sentences.rhythm(page))),
        Section(say("head:eye"), tuple(("", said) for said in sentences.by_eye(page))),
        Section(say("head:steps"), tuple(sentences.steps(page))),
        Section(say("head:confirm"), tuple((say(f"severity:{one.severity}"), _asked(one)) for one in confirm)),
        Section(say("head:findings"), tuple((say(f"severity:{one.severity}"), one.say) for one in stand)),
    ]


def _asked(one: Finding) -> str:
    return f"{one.say} {one.ask}".strip()
