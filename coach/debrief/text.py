"""The page as plain text: 78 columns, in the order of the talk, the learner first."""

from __future__ import annotations

from textwrap import wrap

from coach.debrief import sentences, tape
from coach.debrief.page import Debrief
from coach.debrief.phrases import BY_HAND, HANDOVER, moment, pause
from coach.measure.findings import Finding
from coach.text import one_line

WIDTH = 78
GAPS_SHOWN = 8


def as_text(page: Debrief) -> str:
    """The whole page, with a newline at the end."""
    lines = [*_head(page)]
    for title, block in _blocks(page):
        if block:
            lines += ["", _rule(title), *block]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _rule(title: str) -> str:
    return f"── {title} ".ljust(WIDTH, "─")


def _para(text: str, indent: int = 2, hang: int = 0) -> list[str]:
    return wrap(
        one_line(text),
        WIDTH,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hang),
        break_on_hyphens=False,
    )


def _head(page: Debrief) -> list[str]:
    return [line for said in sentences.head(page) for line in _para(said, 0, 2)]


def _blocks(page: Debrief) -> list[tuple[str, list[str]]]:
    blank = "." * (WIDTH - 14)
    confirm = [one for one in page.judgement.findings if one.to_confirm]
    found = [one for one in page.judgement.findings if not one.to_confirm]
    return [
        ("First, in the learner's own words", [f"  {what:<12}{blank}" for what in ("It felt", "Went well", "Change")]),
        ("To keep", _para(page.judgement.strength)),
        ("The tape, one cell a second", _tape(page)),
        ("What was keyed, and when", _milestones(page)),
        ("Hands off the chest", _gaps(page)),
        ("Analysis and shock", _shocks(page)),
        ("Rhythm", [line for said in sentences.rhythm(page) for line in _para(said, 2, 2)]),
        ("By eye", [line for said in sentences.by_eye(page) for line in _para(said, 2, 2)]),
        ("Steps", [line for status, said in sentences.steps(page) for line in _beside(status, said, 14)]),
        ("For the assessor to confirm first", [line for one in confirm for line in _finding(one)]),
        ("Findings", [line for one in found for line in _finding(one)]),
        ("At the limit, so no finding", [line for said in sentences.at_the_limit(page) for line in _para(said, 2, 2)]),
        ("One thing, again now", [*_one_thing(page), *(f"  {what:<12}{blank}" for what in ("Again", "Take home"))]),
        ("Handover", _handover(page)),
        ("Read with care", [*_para(f"On record: {sentences.record(page)}."), *_para(" ".join(page.cautions))]),
    ]


def _beside(label: str, said: str, width: int) -> list[str]:
    """A label and, beside it, a text that keeps to its own column."""
    first, *more = wrap(one_line(said), WIDTH - 2 - width, break_on_hyphens=False) or [""]
    return [f"  {label:<{width}}{first}", *(" " * (2 + width) + line for line in more)]


def _tape(page: Debrief) -> list[str]:
    lines, line = tape.rows(page.tape), ""
    for sign in tape.legend(page.tape):
        if len(line) + len(sign) + 2 > WIDTH - 6:
            lines.append(" " * 6 + line.rstrip())
            line = ""
        line += f"{sign}  "
    return [*lines, " " * 6 + line.rstrip()] if line else lines


def _milestones(page: Debrief) -> list[str]:
    lines = [f"  {name:<31}{at:>6}  {after}" for name, at, after in sentences.milestones(page)]
    return [*lines, f"  {BY_HAND}."]


def _gaps(page: Debrief) -> list[str]:
    lines = _para(sentences.share(page))
    gaps = sentences.by_length(page)
    for gap in gaps[:GAPS_SHOWN]:
        lines += _beside(
            f"{pause(gap.length, page.beats):>7} at {moment(gap.start):>5}", sentences.gap_for(gap, page.beats), 18
        )
    if len(gaps) > GAPS_SHOWN:
        longest = pause(gaps[GAPS_SHOWN].length, page.beats)
        lines.append(f"  and {len(gaps) - GAPS_SHOWN} more, none over {longest}")
    return lines


def _shocks(page: Debrief) -> list[str]:
    lines = [
        line
        for one in page.measures.shocks
        for line in _para(f"Shock at {moment(one.at)}: {sentences.shock(page, one)}.", 2, 2)
    ]
    lines += _para(sentences.touches(page))
    if page.pads is not None:
        lines += _para(f"Pads for this casualty: {sentences.pads(page)}", 2, 2)
    return lines


def _finding(one: Finding) -> list[str]:
    at = "" if one.at is None else f" at {moment(one.at)}"
    lines = _para(f"{one.severity}{at}: {one.say}", 2, 2)
    if one.ask:
        lines += _para(f"? {one.ask}", 4, 2)
    return lines


def _one_thing(page: Debrief) -> list[str]:
    thing = page.judgement.one_thing
    lines = _para(thing.say if thing.finding else f"Keep this: {thing.say}")
    return [*lines, "  (to be confirmed by the assessor first)"] if thing.to_confirm else lines


def _handover(page: Debrief) -> list[str]:
    told = page.judgement.handover
    lines = _para(sentences.handover(page), 2, 2)
    for item, said in told.true_version.items():
        mark = "said" if item in told.said else "-"
        lines += _beside(f"{mark:<5}{HANDOVER[item]}", said, 33)
    return lines
