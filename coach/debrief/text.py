"""The page as plain text: 78 columns, in the order of the talk, the learner first."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from textwrap import wrap

from coach.debrief import sentences, tape
from coach.debrief.page import Debrief
from coach.debrief.phrases import moment, pause
from coach.debrief.wording import words
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
    say = partial(words, page.language)
    confirm = [one for one in page.judgement.findings if one.to_confirm]
    found = [one for one in page.judgement.findings if not one.to_confirm]

    signoff = [one.say for one in sentences.signoff(page)]

    def hung(texts: Iterable[str]) -> list[str]:
        return [line for said in texts for line in _para(said, 2, 2)]

    return [
        (say("head:own"), [*_own(page, "felt"), *_own(page, "plus"), *_own(page, "change")]),
        (say("head:keep"), _para(page.judgement.strength)),
        (say("head:tape"), _tape(page)),
        (say("head:milestones"), _milestones(page)),
        (say("head:gaps"), _gaps(page)),
        (say("head:shocks"), _shocks(page)),
        (say("head:rhythm"), hung(sentences.rhythm(page))),
        (say("head:eye"), hung(sentences.by_eye(page))),
        (say("head:steps"), [line for status, said in sentences.steps(page) for line in _beside(status, said, 14)]),
        (say("head:confirm"), [line for one in confirm for line in _finding(page, one)]),
        (say("head:findings"), [line for one in found for line in _finding(page, one)]),
        (say("head:limit"), hung(sentences.at_the_limit(page))),
        (say("head:one"), [*_one_thing(page), *_own(page, "again"), *_own(page, "take")]),
        (say("head:handover"), _handover(page)),
        (say("head:signoff"), hung(one for one in (sentences.signed(page), *signoff) if one)),
        (say("head:care"), [*_para(sentences.record(page)), *_para(" ".join(page.cautions))]),
    ]


def _own(page: Debrief, what: str) -> list[str]:
    """What the learner said, or a dotted line to write it on."""
    return _beside(words(page.language, f"own:{what}"), page.own.get(what, "") or "." * (WIDTH - 14), 12)


def _beside(label: str, said: str, width: int) -> list[str]:
    """A label and, beside it, a text that keeps to its own column, save where a long label reaches into it."""
    first = "  " + f"{label} ".ljust(width)
    lines = wrap(
        one_line(said), WIDTH, initial_indent=first, subsequent_indent=" " * (2 + width), break_on_hyphens=False
    )
    return lines or [first.rstrip()]


def _tape(page: Debrief) -> list[str]:
    lines, line = tape.rows(page.tape), ""
    for sign in tape.legend(page.tape, page.language):
        if len(line) + len(sign) + 2 > WIDTH - 6:
            lines.append(" " * 6 + line.rstrip())
            line = ""
        line += f"{sign}  "
    return [*lines, " " * 6 + line.rstrip()] if line else lines


def _milestones(page: Debrief) -> list[str]:
    lines = [f"  {name:<31}{at:>6}  {after}" for name, at, after in sentences.milestones(page)]
    return [*lines, f"  {words(page.language, 'by-hand')}."]


def _gaps(page: Debrief) -> list[str]:
    lines = _para(sentences.share(page))
    gaps = sentences.by_length(page)
    for gap in gaps[:GAPS_SHOWN]:
        at = words(page.language, "at", what=f"{pause(gap.length, page.beats):>7}", at=f"{moment(gap.start):>5}")
        lines += _beside(at, sentences.gap_for(page, gap), len(at) + 2)
    if len(gaps) > GAPS_SHOWN:
        longest = pause(gaps[GAPS_SHOWN].length, page.beats)
        lines += _para(words(page.language, "more-gaps", count=len(gaps) - GAPS_SHOWN, longest=longest))
    return lines


def _shocks(page: Debrief) -> list[str]:
    lines = [line for one in page.measures.shocks for line in _para(sentences.shock_at(page, one), 2, 2)]
    lines += _para(sentences.touches(page))
    if page.pads is not None:
        lines += _para(sentences.pads(page), 2, 2)
    return lines


def _finding(page: Debrief, one: Finding) -> list[str]:
    lines = _para(sentences.finding(page, one), 2, 2)
    if one.ask:
        lines += _para(f"? {one.ask}", 4, 2)
    return lines


def _one_thing(page: Debrief) -> list[str]:
    lines = [*_para(sentences.one_thing(page)), *_para(sentences.one_seen(page))]
    confirm = f"  ({words(page.language, 'one:confirm')})"
    return [*lines, confirm] if page.judgement.one_thing.to_confirm else lines


def _handover(page: Debrief) -> list[str]:
    told = page.judgement.handover
    lines = _para(sentences.handover(page), 2, 2)
    for item, said in told.true_version.items():
        mark = words(page.language, "said:yes") if item in told.said else "-"
        lines += _beside(f"{mark:<6}{words(page.language, f'item:{item}')}", said, 38)
    return lines
