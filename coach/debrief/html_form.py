"""The page as one HTML file: no script, nothing fetched, light and dark, one printed sheet, figures that lead to lines.

What it says is put together here; how it looks stands in ``page.html.jinja``, which escapes every text.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, partial
from typing import TYPE_CHECKING, NamedTuple

from coach.debrief import sentences
from coach.debrief.drawing import Bar, TapeRow, bars_of, row_seconds, tape_rows
from coach.debrief.page import Debrief
from coach.debrief.pair import named
from coach.debrief.phrases import PARTS, moment, pause
from coach.debrief.tape import legend
from coach.debrief.trace import Stretch, ends, stretches, told
from coach.debrief.wording import words
from coach.measure.findings import Finding
from coach.measure.gaps import Gap
from coach.measure.handover import SET_UP
from coach.measure.milestones import NAMES
from coach.measure.shocks import Shock
from coach.text import one_line
from coach.units import clock

if TYPE_CHECKING:
    from jinja2 import Template

GAPS_SHOWN = 12
FINDINGS_SHOWN = 20
STRETCHES_SHOWN = 8
"""Stretches of lines named beside one figure before they are named as one, from the first to the last."""
TEMPLATE = "page.html.jinja"


class Said(NamedTuple):
    """A text, the lines that it rests on, and the same text in the page's second language ("" for none)."""

    text: str
    refs: tuple[Stretch, ...] = ()
    also: str = ""


class Reached(NamedTuple):
    """A milestone: its name, when, and how long after recognition."""

    name: Said
    at: str
    since: str
    refs: tuple[Stretch, ...]


class Stop(NamedTuple):
    """A gap with its bar; ``title`` says in words what the bar shows."""

    length: str
    at: str
    said: str
    refs: tuple[Stretch, ...]
    bars: tuple[Bar, ...]
    title: str


class Found(NamedTuple):
    """A finding, or what is to be confirmed before it is one. ``ask`` is ``None`` too where the one before it asks the
    same; ``source`` is a letter of the list of sources."""

    grave: str
    say: Said
    ask: Said | None
    source: str


class Told(NamedTuple):
    """One thing that a crew wants to hear."""

    item: str
    said: bool
    true: Said


class Note(NamedTuple):
    """A line, or lines next to one another, in the list at the end."""

    anchor: str
    numbers: str
    at: str
    what: str


@dataclass
class _Citing:
    """Gathers every stretch of lines that some figure names."""

    page: Debrief
    cited: dict[str, Stretch] = field(default_factory=dict)

    def __call__(self, seqs: Iterable[int]) -> tuple[Stretch, ...]:
        found = stretches(seqs, self.page.trace)
        if len(found) > STRETCHES_SHOWN:
            found = [Stretch(tuple(line for stretch in found for line in stretch.lines))]
        for stretch in found:
            self.cited.setdefault(stretch.anchor, stretch)
        return tuple(found)

    def notes(self) -> list[Note]:
        """The list at the end, in order of time."""
        order = sorted(self.cited.values(), key=lambda one: (one.lines[0].e, one.lines[0].seq, len(one.lines)))
        return [Note(one.anchor, one.numbers, one.at, told(one, self.page.language)) for one in order]


def as_html(page: Debrief, also: Debrief | None = None) -> str:
    """The whole page. ``also`` is the same drill's page in a second language: headings, the strength, findings and the
    one thing then stand in both."""
    other = also if also is not None and also.language != page.language else None
    return template(TEMPLATE).render(view_of(page, other)) + "\n"


@cache
def template(name: str) -> Template:
    """A template of this room, compiled once. Every text is escaped, and cleaned once more."""
    from importlib.resources import files

    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    def finalize(value: object) -> object:
        return one_line(value) if isinstance(value, str) and not isinstance(value, Markup) else value

    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, finalize=finalize
    )
    text = files("coach.debrief").joinpath(name).read_text(encoding="utf-8")
    return environment.from_string(text)


def view_of(page: Debrief, also: Debrief | None) -> dict[str, object]:
    """Everything that the template lays out."""
    say = partial(words, page.language)
    cite = _Citing(page)
    found, judged = page.measures, page.judgement
    title, *head = sentences.head(page)
    gaps = sentences.by_length(page)
    confirm = [one for one in judged.findings if one.to_confirm]
    stand = [one for one in judged.findings if not one.to_confirm]
    sources = _sources([*confirm[:FINDINGS_SHOWN], *stand[:FINDINGS_SHOWN]])
    view: dict[str, object] = {
        "language": page.language,
        "also_language": "" if also is None else also.language,
        "say": say,
        "head": lambda ident: Said(
            say(f"head:{ident}"), (), "" if also is None else words(also.language, f"head:{ident}")
        ),
        "title": title,
        "heads": head,
        "own": {name: page.own.get(name, "") for name in ("felt", "plus", "change", "again", "take")},
        "strength": Said(
            judged.strength, cite(judged.strength_events), "" if also is None else also.judgement.strength
        ),
        "tape": _tape(page),
        "reached": _reached(page, also, cite),
        "recognised": cite(line for name, line in found.milestones.lines.items() if name == "recognised"),
        "share": Said(sentences.share(page), cite(_runs(page))),
        "stops": _stops(page, gaps, cite),
        "kinds": _kinds(page, gaps),
        "more_stops": _more(page, gaps),
        "shocks": [Said(sentences.shock_at(page, one), cite(_around(page, one))) for one in found.shocks],
        "touches": Said(sentences.touches(page), cite(sentences.looked_for_touches(page))),
        "pads": Said(sentences.pads(page), cite([SET_UP] if page.pads is not None else [])),
        "rhythm": _rhythm(page, cite),
        "eye": _eye(page, cite),
        "steps": _steps(page, cite),
        "confirm": [_found(page, one, also, cite, sources) for one in _asking_once(confirm[:FINDINGS_SHOWN])],
        "findings": [_found(page, one, also, cite, sources) for one in stand[:FINDINGS_SHOWN]],
        "sources": sources,
        "more_found": max(len(confirm) - FINDINGS_SHOWN, 0) + max(len(stand) - FINDINGS_SHOWN, 0),
        "limit": _limit(page, cite),
        "one": Said(sentences.one_thing(page), (), "" if also is None else sentences.one_thing(also)),
        "seen": _seen(page, also, cite),
        "unsure": judged.one_thing.to_confirm,
        "handover": sentences.handover(page),
        "told": [
            Told(say(f"item:{item}"), item in judged.handover.said, Said(true, cite(judged.handover.rests[item])))
            for item, true in judged.handover.true_version.items()
        ],
        "signed": Said(
            sentences.signed(page), cite(() if page.happened.signed is None else (page.happened.signed.seq,))
        ),
        "signoff": [Said(one.say, cite(one.events)) for one in sentences.signoff(page)],
        "record": Said(sentences.record(page), cite(_changed(page))),
        "cautions": page.cautions,
        "program": page.program,
    }
    view["notes"] = cite.notes()
    view["size"] = f"{print_size(view, len(tape_rows(page))):.2f}pt"
    return view


def _tape(page: Debrief) -> dict[str, object]:
    rows = tape_rows(page)
    say = partial(words, page.language)
    on = ", ".join(f"{clock(run.first)}–{clock(run.last)}" for run in page.measures.runs[:40])
    marks = ", ".join(f"{moment(at)} {what}" for at, what in _marks(page, rows))
    seconds = row_seconds(page.happened.end_e)
    return {
        "rows": rows,
        "seconds": seconds,
        "title": say("page:tape", end=clock(page.happened.end_e), row=seconds),
        "desc": say("page:tape-said", on=on or say("page:nothing"), marks=marks or say("page:nothing")),
        "legend": [sign.split(" ", 1) for sign in legend(page.tape, page.language) if sign[0] not in "#·"],
    }


def _marks(page: Debrief, rows: Sequence[TapeRow]) -> list[tuple[int, str]]:
    return [
        (mark.at, words(page.language, f"tape:{mark.sign}")) for row in rows for mark in row.marks if mark.sign != "o"
    ]


def _runs(page: Debrief) -> list[int]:
    return [seq for run in page.measures.runs for seq in run.seqs]


def _reached(page: Debrief, also: Debrief | None, cite: _Citing) -> list[Reached]:
    lines = page.measures.milestones.lines
    return [
        Reached(
            Said(name, (), "" if also is None else words(also.language, f"milestone:{ident}")),
            at,
            since,
            cite([lines[ident]] if ident in lines else []),
        )
        for ident, (name, at, since) in zip(NAMES, sentences.milestones(page), strict=True)
    ]


def _stops(page: Debrief, gaps: Sequence[Gap], cite: _Citing) -> list[Stop]:
    longest = gaps[0].length if gaps else 1
    found = []
    for gap in gaps[:GAPS_SHOWN]:
        bars = bars_of(page, gap, longest)
        title = " + ".join(f"{bar.length} {bar.whose}" for bar in bars)
        said = sentences.gap_for(page, gap)
        refs = cite(gap.events)
        found.append(Stop(pause(gap.length, page.beats), moment(gap.start), said, refs, tuple(bars), title))
    return found


def _kinds(page: Debrief, gaps: Sequence[Gap]) -> list[str]:
    """The kinds of part that the bars show, in their order."""
    there = {bar.kind for gap in gaps[:GAPS_SHOWN] for bar in bars_of(page, gap, gaps[0].length)}
    return [kind for kind in (*PARTS, "own") if kind in there]


def _more(page: Debrief, gaps: Sequence[Gap]) -> str:
    if len(gaps) <= GAPS_SHOWN:
        return ""
    longest = pause(gaps[GAPS_SHOWN].length, page.beats)
    return words(page.language, "more-gaps", count=len(gaps) - GAPS_SHOWN, longest=longest)


def _around(page: Debrief, shock: Shock) -> list[int]:
    """The last compression before a shock, its clear call, the shock, and the first compression after it."""
    found = [shock.seq]
    floor = page.measures.floor
    edges = {shock.at - (shock.pre or 0), shock.at + (shock.post or 0)} - {shock.at}
    clear = None if shock.clear_before is None else shock.at - shock.clear_before
    for event in floor.events:
        if (event.e in edges and event.name in _EDGES) or (event.e == clear and event.name == "clear_called"):
            found.append(event.seq)
    return found


_EDGES = frozenset({"compression", "hands_placed", "hands_lifted", "breath", "probe_tap"})


def _rhythm(page: Debrief, cite: _Citing) -> list[Said]:
    found = page.measures
    rated = [seq for run, rate in zip(found.runs, found.run_rates, strict=True) if rate is not None for seq in run.seqs]
    said = [Said(sentences.rate(page), cite(rated if found.rate is not None else []))]
    shape = sentences.shape(page)
    if shape:
        said.append(Said(shape, cite(_runs(page))))
    for period, text in zip(found.periods, sentences.periods(page), strict=True):
        inside = found.floor.inside(period.start, period.start + period.length)
        said.append(Said(text, cite(ends([event.seq for event in inside]))))
    return said


def _eye(page: Debrief, cite: _Citing) -> list[Said]:
    texts = sentences.by_eye(page)
    if not page.looks:
        return [Said(text) for text in texts]
    return [
        Said(text, cite(look.seq for look in page.happened.looks if one_line(look.target) == one.target))
        for text, one in zip(texts, page.looks, strict=True)
    ]


def _steps(page: Debrief, cite: _Citing) -> list[tuple[str, list[Said]]]:
    lines = []
    for status in sentences.STATUSES:
        named = [
            Said(step.title if step.at is None else f"{moment(step.at)} {step.title}", cite(step.events))
            for step in page.measures.steps
            if step.status == status
        ]
        if named:
            lines.append((words(page.language, f"status:{status}"), named))
    return lines


def _sources(findings: Sequence[Finding]) -> dict[str, str]:
    """A letter for each source that a finding names."""
    named = dict.fromkeys(one.source for one in findings if one.source)
    return {source: _letter(number) for number, source in enumerate(named)}


def _letter(number: int) -> str:
    """a to z, then aa, ab …"""
    return (_letter(number // 26 - 1) if number >= 26 else "") + chr(ord("a") + number % 26)


def _asking_once(findings: Sequence[Finding]) -> list[Finding]:
    """The same findings; a question that the one before them asks is not asked again."""
    before = ("", *(one.ask for one in findings))
    return [replace(one, ask="") if one.ask == asked else one for one, asked in zip(findings, before, strict=False)]


def _found(page: Debrief, one: Finding, also: Debrief | None, cite: _Citing, sources: Mapping[str, str]) -> Found:
    other = _same(one, also)
    grave = words(page.language, f"severity:{one.severity}")
    at = "" if one.at is None else f" {moment(one.at)}"
    say = Said(one.say, cite(_rests(page, one)), "" if other is None else other.say)
    ask = Said(one.ask, (), "" if other is None else other.ask) if one.ask else None
    return Found(f"{grave}{at}", say, ask, sources.get(one.source, ""))


def _rests(page: Debrief, one: Finding) -> Sequence[int]:
    """The lines that a finding rests on: its own; else those of its moment; else, about a whole drill, all runs. A step
    that was left out rests on none."""
    if one.events or one.step:
        return one.events
    return _runs(page) if one.at is None else [event.seq for event in page.measures.floor.inside(one.at, one.at)]


def _same(one: Finding, also: Debrief | None) -> Finding | None:
    """The same finding on the page in the other language."""
    if also is None:
        return None
    key = (one.rule, one.at, one.events, one.step)
    return next(
        (other for other in also.judgement.findings if (other.rule, other.at, other.events, other.step) == key), None
    )


def _limit(page: Debrief, cite: _Citing) -> list[Said]:
    at = [one for one in page.judgement.judged if one.verdict == "at the limit"]
    return [Said(text, cite(one.reading.events)) for text, one in zip(sentences.at_the_limit(page), at, strict=True)]


def _seen(page: Debrief, also: Debrief | None, cite: _Citing) -> Said:
    """What was seen that makes the one thing it, with its lines; no text where the one thing says that itself."""
    thing = page.judgement.one_thing
    rests: Iterable[int] = page.judgement.strength_events
    if thing.finding is not None:
        found = named(page)
        looks = (one.seq for one in page.happened.looks if thing.finding == f"look-{one_line(one.target)}")
        rests = tuple(looks) if found is None else _rests(page, found)
    return Said(sentences.one_seen(page), cite(rests), "" if also is None else sentences.one_seen(also))


def _changed(page: Debrief) -> tuple[int, ...]:
    changed = page.adjusted
    return (*changed.voided, *changed.nudged, *changed.added_later)


LARGEST, SMALLEST = 9.0, 4.5
"""Sizes of print in points: what is read with ease, and what a sheet that must hold everything may come down to."""
SHEET_MM = 265.0
"""Height of print on the shorter sheet: Letter, 279 mm, less margins."""
FREE = 0.07
"""Share of it kept free, for fonts that run wider than those of the machine where the sizes were fitted."""
ROW_MM = 7.8
"""Height of a row of the tape in print: 25 units of 640 over the width of the sheet."""
AREA = 0.00065
"""Height in mm of sheet that one character takes at 1 pt squared: the largest of 0.00059 to 0.00065 that were found on
seven pages in headless Chromium with DejaVu Sans, a wide font."""


def print_size(view: dict[str, object], rows: int) -> float:
    """The size of print at which one sheet holds the page: the area of a text grows with the square of its size."""
    room = (SHEET_MM - ROW_MM * rows) * (1 - FREE)
    return max(SMALLEST, min(LARGEST, math.sqrt(room / (AREA * max(_weight(view), 1.0)))))


def _weight(value: object) -> float:
    """How much room a view asks for, in characters: its texts, and for each a part of a line that stays empty."""
    if isinstance(value, str):
        return len(value) + 6.0 if value else 0.0
    if isinstance(value, Stretch):
        return len(value.numbers) * 0.7 + 1
    if isinstance(value, Bar | TapeRow) or callable(value):
        return 0.0
    if isinstance(value, dict):
        return sum(_weight(name) * (len(name) > 20) + _weight(one) for name, one in value.items())
    if isinstance(value, list | tuple):
        return sum(_weight(one) for one in value)
    return 0.0
