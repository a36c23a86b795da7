"""From a debrief to the leaves of its page: the sentences are the debrief's own, only laid out."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from coach.debrief import sentences
from coach.debrief.page import Debrief
from coach.debrief.pair import from_step, named
from coach.debrief.phrases import moment, pause
from coach.debrief.wording import known, words
from coach.log.reading import Record
from coach.measure.findings import Finding
from coach.units import clock
from screens.desk import Choice, HandoverPart, LineCard, LookBack, PinCard, Question, Section
from screens.signing import basis, results

GAPS_SHOWN = 8
"""The longest gaps that the page shows; files hold all."""

ENDED = {
    "ended": "Ended at {}.",
    "safety": "Stopped for safety at {}: never scored, and it uses up no attempt.",
    "interrupted": "The record was cut off at {}: what came later is not known.",
}


UNSAVED = "NOT SAVED: no folder took this drill. It is in memory until the program ends."

PINS = {"fault": "something wrong", "good": "something good", "other": "something else"}


def look_back(page: Debrief, pair: Sequence[str] = (), held: bool = False) -> LookBack:
    """All leaves of a debrief; ``pair`` says what became of the one thing of the drill before; ``held`` that its record
    is in memory only."""
    judged = page.judgement
    thing = judged.one_thing
    told = judged.handover
    confirm = "To be confirmed first: the assessor says whether it happened." if thing.to_confirm else ""
    found = named(page)
    at = f"At {moment(found.at)}." if found and found.at else ""
    longest = next(iter(sentences.by_length(page)), None)
    start = from_step(page)
    return LookBack(
        head=_head(page),
        ended=ENDED.get(page.happened.ended, ENDED["ended"]).format(clock(page.happened.end_e)),
        tape=page.tape,
        sections=tuple(section for section in _sections(page) if section.rows),
        one_thing=sentences.one_thing(page),
        why=" ".join(part for part in (at, sentences.one_seen(page), confirm) if part),
        strength=judged.strength,
        handover=tuple(
            HandoverPart(item, words(page.language, f"item:{item}"), true) for item, true in told.true_version.items()
        ),
        said=tuple(told.said),
        cautions=(*((UNSAVED,) if held else ()), sentences.record(page), *page.cautions),
        unsaved=UNSAVED if held else "",
        assessor=page.assessor,
        longest=None if longest is None else (longest.start // 1000, longest.end // 1000),
        questions=tuple(
            Question(one.id, f"{'' if one.at is None else moment(one.at) + '  '}{one.say}", one.ask)
            for one in judged.findings
            if one.to_confirm
        ),
        pins=tuple(
            PinCard(pin.seq, moment(pin.e), PINS.get(pin.which, pin.which), pin.label) for pin in page.happened.pins
        ),
        choices=_choices(page),
        again_from=None if start is None else Choice(*start),
        pair=tuple(pair),
        own=page.own,
        results=results(page),
        basis=basis(page),
        signed=sentences.signed(page),
    )


def _choices(page: Debrief) -> tuple[Choice, ...]:
    """What could be the one thing instead: the other findings, gravest first, then the strength to keep."""
    judged = page.judgement
    others = [
        one for one in judged.findings if not (one.rule == judged.one_thing.finding and one.say == judged.one_thing.say)
    ]
    keep = (
        [] if judged.one_thing.finding is None else [Choice("", words(page.language, "one:keep", say=judged.strength))]
    )
    return (*(Choice(one.id, one.say) for one in others), *keep)


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


def line_cards(page: Debrief, record: Record) -> tuple[LineCard, ...]:
    """The lines that hands made, voided ones too, in order of their adjusted times."""
    standing = {seen.seq: seen for seen in page.happened.seen}
    voided, added = frozenset(page.adjusted.voided), frozenset(page.adjusted.added_later)
    cards = []
    for line in record.lines:
        seq = line["seq"]
        seen = standing.get(seq)
        if seq not in page.trace or ("key" not in line and "input" not in line and line["kind"] != "pin"):
            continue
        outcome = str(line.get("outcome", "taken")) if seen is None else seen.outcome
        notes = ["" if outcome == "taken" or seq in voided else outcome]
        notes.append("voided" if seq in voided else "")
        notes.append("added later" if seq in added else "")
        if seen is not None and seen.e_pressed is not None:
            notes.append(f"pressed at {clock(seen.e_pressed)}")
        what = page.trace[seq].what.partition(",")[0] if seen is not None else page.trace[seq].what
        cards.append(
            LineCard(seq, page.trace[seq].e, what, ", ".join(note for note in notes if note), seen is not None)
        )
    return tuple(sorted(cards, key=lambda card: (card.e, card.line)))
