"""From a log to its page: read again, judged under the protocol that the log carries, with the pads rules beside it."""

from __future__ import annotations

from coach.debrief.page import Debrief, build
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
    return build(
        fold(record, setup.protocol).happened(),
        setup.protocol,
        record.header,
        pads,
        language or setup.language,
        record.lines,
        None if own is None else own.words,
    )
