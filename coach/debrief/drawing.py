"""What is drawn on the page: the tape in rows, and each gap as a bar cut by whose time it was. Lengths only, no ink."""

from __future__ import annotations

from typing import NamedTuple

from coach.debrief import sentences
from coach.debrief.page import Debrief
from coach.debrief.phrases import pause
from coach.debrief.wording import words
from coach.measure.floor import GAP_MS
from coach.measure.gaps import Gap

ROW_S = (60, 120, 300, 600)
"""Seconds that a row of the tape can hold."""
MOST_ROWS = 5
WIDTH = 600.0
"""Width of a row in units of the drawing."""
BAR = 100.0
"""Width of the longest gap's bar in units of the drawing."""


class Stroke(NamedTuple):
    """A stretch of a row: ``on``, ``off`` or ``longest``, from ``x``, ``width`` wide."""

    kind: str
    x: float
    width: float


class Mark(NamedTuple):
    """A sign over a row at ``x``; ``at`` in ms."""

    sign: str
    x: float
    at: int


class TapeRow(NamedTuple):
    """One row: what its beginning is called, its strokes and its marks, and how far the drill filled it."""

    label: str
    strokes: tuple[Stroke, ...]
    marks: tuple[Mark, ...]
    until: float


class Bar(NamedTuple):
    """A part of a gap: ``kind`` names its pattern, ``whose`` says what it was; ``length`` is printed."""

    kind: str
    x: float
    width: float
    length: str
    whose: str


def row_seconds(end: int) -> int:
    """Seconds a row: the fewest with which a drill of ``end`` ms fits into the rows there may be."""
    return next((row for row in ROW_S if end <= row * 1000 * MOST_ROWS), ROW_S[-1])


def tape_rows(page: Debrief) -> list[TapeRow]:
    """The tape: hands on and off to the millisecond, signs by the second."""
    row = row_seconds(page.happened.end_e) * 1000
    scale = WIDTH / row
    longest = next((gap for gap in sentences.by_length(page)), None)
    strokes = [("on", run.first, max(run.last, run.first + 200)) for run in page.measures.runs]
    for gap in page.measures.gaps:
        if gap.length >= GAP_MS:
            strokes.append(("longest" if gap is longest else "off", gap.start, gap.end))
    marks = [(sign, place * 1000) for place, sign in enumerate(page.tape) if sign not in "#· "]
    rows = []
    for start in range(0, max(page.happened.end_e, 1), row):
        end = start + row
        rows.append(
            TapeRow(
                f"{start // 60_000}:{start // 1000 % 60:02}",
                tuple(
                    Stroke(
                        kind,
                        round((max(first, start) - start) * scale, 1),
                        round((min(last, end) - max(first, start)) * scale, 1),
                    )
                    for kind, first, last in strokes
                    if first < end and last > start
                ),
                tuple(Mark(sign, round((at - start + 500) * scale, 1), at) for sign, at in marks if start <= at < end),
                round((min(page.happened.end_e, end) - start) * scale, 1),
            )
        )
    return rows


def bars_of(page: Debrief, gap: Gap, longest: int) -> list[Bar]:
    """The bar of a gap, ``longest`` ms being as wide as bars get."""
    parts = sentences.parts_of(gap, page.beats) or [("own", gap.length, pause(gap.length, page.beats))]
    bars, x = [], 0.0
    for name, length, printed in parts:
        width = length * BAR / longest
        bars.append(Bar(name, round(x, 1), round(width, 1), printed, words(page.language, f"part:{name}")))
        x += width
    return bars
