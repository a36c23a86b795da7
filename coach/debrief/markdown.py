"""The page as Markdown: the same order as the text, tables where they read better. Text of others stays text."""

from __future__ import annotations

from collections.abc import Sequence

from coach.debrief import sentences, tape
from coach.debrief.page import Debrief
from coach.debrief.phrases import BY_HAND, HANDOVER, moment, pause
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
    told = page.judgement.handover
    thing = page.judgement.one_thing
    shocks = [f"Shock at {moment(one.at)}: {sentences.shock(page, one)}." for one in page.measures.shocks]
    pads = [f"Pads for this casualty: {sentences.pads(page)}"] if page.pads is not None else []
    confirm = [one for one in page.judgement.findings if one.to_confirm]
    found = [one for one in page.judgement.findings if not one.to_confirm]
    first = thing.say if thing.finding else f"Keep this: {thing.say}"
    ask = ["", "To be confirmed by the assessor first."] if thing.to_confirm else []
    return [
        ("First, in the learner's own words", ["- It felt:", "- Went well:", "- Change:"]),
        ("To keep", [escape(page.judgement.strength)]),
        ("The tape, one cell a second", _tape(page)),
        (
            "What was keyed, and when",
            [*_table(("What", "When", "From recognition"), sentences.milestones(page)), "", f"{BY_HAND}."],
        ),
        ("Hands off the chest", _gaps(page)),
        ("Analysis and shock", _bullets([*shocks, sentences.touches(page), *pads])),
        ("Rhythm", _bullets(sentences.rhythm(page))),
        ("By eye", _bullets(sentences.by_eye(page))),
        (
            "Steps",
            _table(
                ("When", "Step", "How"),
                [("" if s.at is None else moment(s.at), s.title, s.status) for s in page.measures.steps],
            ),
        ),
        ("For the assessor to confirm first", _bullets([_finding(one) for one in confirm])),
        ("Findings", _bullets([_finding(one) for one in found])),
        ("At the limit, so no finding", _bullets(sentences.at_the_limit(page))),
        ("One thing, again now", [f"**{escape(first)}**", *ask, "", "- Again:", "- Take home:"]),
        (
            "Handover",
            [
                escape(sentences.handover(page)),
                "",
                *_table(
                    ("Said", "Item", "From the record"),
                    [
                        ("yes" if item in told.said else "no", HANDOVER[item], said)
                        for item, said in told.true_version.items()
                    ],
                ),
            ],
        ),
        ("Read with care", _bullets([f"On record: {sentences.record(page)}.", *page.cautions])),
    ]


def _tape(page: Debrief) -> list[str]:
    rows = tape.rows(page.tape)
    return ["```text", *rows, "```", "", escape(", ".join(tape.legend(page.tape)))] if rows else []


def _gaps(page: Debrief) -> list[str]:
    rows = [
        (pause(gap.length, page.beats), moment(gap.start), sentences.gap_for(gap, page.beats))
        for gap in sentences.by_length(page)
    ]
    return [escape(sentences.share(page)), *(["", *_table(("Length", "At", "For"), rows)] if rows else [])]


def _finding(one: Finding) -> str:
    at = "" if one.at is None else f" at {moment(one.at)}"
    ask = f" {one.ask}" if one.ask else ""
    source = f" (source: {one.source})" if one.source else ""
    return f"{one.severity}{at}: {one.say}{ask}{source}"
