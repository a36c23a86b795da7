"""From a log to its page: read again, judged under the protocol that the log carries, with the pads rules beside it."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from coach.debrief.page import Debrief, build
from coach.debrief.signoff import verdict_of
from coach.debrief.wording import words
from coach.drill.choosing import pads_decision
from coach.drill.opening import setup_from
from coach.engine.plan import Plan
from coach.log.history import fold
from coach.log.lines import LogProblem
from coach.log.places import read_words
from coach.log.reading import Record
from coach.protocol.pads import PadsRefused


def debrief_of(record: Record, language: str = "") -> Debrief:
    """The page of a log, in the language of its drill or in ``language``.

    Raises :class:`coach.protocol.problems.FileProblems` where a file that the log carries does not read.
    """
    setup = setup_from(record.header)
    plan = Plan.from_json(record.header["plan"])
    try:
        pads = pads_decision(setup, plan)
    except PadsRefused:  # the scenario's own age or weight is out of the rules' range: no decision to compare with
        pads = None
    try:
        own = read_words(record.path)
    except (LogProblem, ValueError):  # what people typed is a thing apart: a page does without it
        own = None
    happened = fold(record, setup.protocol, compare=False).happened()
    page = build(
        happened,
        setup.protocol,
        record.header,
        pads,
        language or setup.language,
        record.lines,
        None if own is None else own.words,
    )
    if happened.nudged or happened.relabelled:
        as_pressed = fold(record, setup.protocol, as_pressed=True, compare=False).happened()
        flipped = flips(page, build(as_pressed, setup.protocol, record.header, pads, page.language))
        page = replace(page, flipped=flipped, cautions=(*page.cautions, *flipped))
    reason = "" if happened.signed is None else happened.signed.reason
    return replace(page, verdict=verdict_of(page, setup.protocol, record.header, reason))


def flips(page: Debrief, as_pressed: Debrief) -> tuple[str, ...]:
    """Every critical verdict that hangs on a mark moved or renamed by hand: as it stands, and as it was pressed."""
    say = partial(words, page.language)
    said = []
    now, then = _critical(page), _critical(as_pressed)
    for name in dict.fromkeys((*now, *then)):
        if now.get(name) != then.get(name):
            nothing = say("flip:none")
            said.append(say("flip", what=name, now=now.get(name, nothing), then=then.get(name, nothing)))
    return tuple(said)


def _critical(page: Debrief) -> dict[str, str]:
    """The critical verdicts of a page in words, by what they are about."""
    say = partial(words, page.language)
    steps = {step.title: say(f"status:{step.status}") for step in page.measures.steps if step.severity == "critical"}
    faults = {
        one.say: say("flip:confirm" if one.to_confirm else "flip:found")
        for one in page.judgement.findings
        if one.severity == "critical" and not one.step
    }
    return {**steps, **faults}
