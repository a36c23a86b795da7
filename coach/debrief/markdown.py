"""The page as Markdown: the same order as the text, tables where they read better. Text of others stays text."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from coach.debrief import sentences, tape
from coach.debrief.page import Debrief
from coach.debrief.phrases import moment, pause
from coach.debrief.wording import words
from coach.measure.findings import Finding
from coach.text import one_line

_SPECIAL = frozenset("\\`*_{}[]#|~!<>&$")


def escape(text: str) -> str:
    """The text cleaned, on one line, with every sign escaped that Markdown or HTML could take for its own."""
    return "".join(f"\\{sign}" if sign in _SPECIAL else sign for sign in one_line(text))


def as_markdown(page: Debrief) -> str:
    """The whole page, with a newline at the end."""
    first, *more = sentences.head(page)
    lines = [f"# {escape(first)}", ""]
    lines += [f"{escape(line)}  " for line in more]
    for title, block in _blocks(page):
        if block:
            lines += ["", f"## {title}", "", *block]
    return "\n".join(lines) + "\n"


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    def line(cells: Sequence[str]) -> str:
        return f"| {' | '.join(cells)} |"

    return [line(head), line(["---"] * len(head)), *(line([escape(cell) for cell in row]) for row in rows)]


def _bullets(texts: Sequence[str]) -> list[str]:
    return [f"- {escape(text)}" for text in texts]


def _blocks(page: Debrief) -> list[tuple[str, list[str]]]:
    say = partial(words, page.language)
    told = page.judgement.handover
    shocks = [sentences.shock_at(page, one) for one in page.measures.shocks]
    pads = [sentences.pads(page)] if page.pads is not None else []
    confirm = [one for one in page.judgement.findings if one.to_confirm]
    found = [one for one in page.judgement.findings if not one.to_confirm]
    ask = ["", say("one:confirm-long")] if page.judgement.one_thing.to_confirm else []
    signoff = [one.say for one in sentences.signoff(page)]
    seen = ["", escape(sentences.one_seen(page))] if sentences.one_seen(page) else []
    reached = _table((say("col:what"), say("col:when"), say("col:since")), sentences.milestones(page))
    steps = [("" if s.at is None else moment(s.at), s.title, say(f"status:{s.status}")) for s in page.measures.steps]
    parts = [
        (say("yes" if item in told.said else "no"), say(f"item:{item}"), said)
        for item, said in told.true_version.items()
    ]
    return [
        (say("head:own"), _own(page, "felt", "plus", "change")),
        (say("head:keep"), [escape(page.judgement.strength)]),
        (say("head:tape"), _tape(page)),
        (say("head:milestones"), [*reached, "", f"{say('by-hand')}."]),
        (say("head:gaps"), _gaps(page)),
        (say("head:shocks"), _bullets([*shocks, sentences.touches(page), *pads])),
        (say("head:rhythm"), _bullets(sentences.rhythm(page))),
        (say("head:eye"), _bullets(sentences.by_eye(page))),
        (say("head:steps"), _table((say("col:when"), say("col:step"), say("col:how")), steps)),
        (say("head:confirm"), _bullets([_finding(page, one) for one in confirm])),
        (say("head:findings"), _bullets([_finding(page, one) for one in found])),
        (say("head:limit"), _bullets(sentences.at_the_limit(page))),
        (say("head:one"), [f"**{escape(sentences.one_thing(page))}**", *seen, *ask, "", *_own(page, "again", "take")]),
        (
            say("head:handover"),
            [
                escape(sentences.handover(page)),
                "",
                *_table((say("col:said"), say("col:item"), say("col:true")), parts),
            ],
        ),
        (say("head:signoff"), _bullets([one for one in (sentences.signed(page), *signoff) if one])),
        (say("head:care"), _bullets([sentences.record(page), *page.cautions])),
    ]


def _own(page: Debrief, *whats: str) -> list[str]:
    """What the learner said, or room for it."""
    said = ((words(page.language, f"own:{what}"), escape(page.own.get(what, ""))) for what in whats)
    return [f"- {label}: {text}".rstrip() for label, text in said]


def _tape(page: Debrief) -> list[str]:
    rows = tape.rows(page.tape)
    return ["```text", *rows, "```", "", escape(", ".join(tape.legend(page.tape, page.language)))] if rows else []


def _gaps(page: Debrief) -> list[str]:
    rows = [
        (pause(gap.length, page.beats), moment(gap.start), sentences.gap_for(page, gap))
        for gap in sentences.by_length(page)
    ]
    head = tuple(words(page.language, f"col:{name}") for name in ("length", "at", "for"))
    return [escape(sentences.share(page)), *(["", *_table(head, rows)] if rows else [])]


def _finding(page: Debrief, one: Finding) -> str:
    ask = f" {one.ask}" if one.ask else ""
    source = words(page.language, "source", source=one.source) if one.source else ""
    return f"{sentences.finding(page, one)}{ask}{source}"
