"""From a figure back to the log: the lines that it rests on, told in a few words each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import groupby
from typing import Any, NamedTuple

from coach.debrief.wording import known, words
from coach.log.happened import Happened
from coach.measure.handover import SET_UP
from coach.measure.wording import event
from coach.text import one_line
from coach.units import clock


class Line(NamedTuple):
    """One line of the log: its number, when (ms of ``e``), what, and its place among what was seen (-1: none)."""

    seq: int
    e: int
    what: str
    place: int = -1


class Stretch(NamedTuple):
    """Lines that stand next to one another among what was seen."""

    lines: tuple[Line, ...]

    @property
    def anchor(self) -> str:
        """Its name within a page."""
        first, last = self.lines[0].seq, self.lines[-1].seq
        return f"L{first}" if first == last else f"L{first}-{last}"

    @property
    def numbers(self) -> str:
        """The number of its line, or of the first and the last."""
        first, last = self.lines[0].seq, self.lines[-1].seq
        return f"{first}" if first == last else f"{first}–{last}"

    @property
    def at(self) -> str:
        """When: m:ss, or from when to when."""
        first, last = clock(self.lines[0].e), clock(self.lines[-1].e)
        return first if first == last else f"{first}–{last}"


class Trace(Mapping[int, Line]):
    """Every line that a figure may rest on, by its number; worked out when the first one is asked for, since only a
    page with its lines asks."""

    def __init__(
        self,
        happened: Happened,
        language: str,
        lines: Iterable[Mapping[str, Any]] = (),
        titles: Mapping[str, str] | None = None,
        setup: str = "",
    ) -> None:
        self._happened = happened
        self._language = language
        self._told = tuple(lines)
        self._titles = titles or {}
        self._setup = setup

    @cached_property
    def _lines(self) -> dict[int, Line]:
        first = Line(SET_UP, 0, one_line(words(self._language, "line:setup", facts=self._setup)))
        return {SET_UP: first} | trace_of(self._happened, self._language, self._told, self._titles)

    def __getitem__(self, seq: int) -> Line:
        return self._lines[seq]

    def __iter__(self) -> Iterator[int]:
        return iter(self._lines)

    def __len__(self) -> int:
        return len(self._lines)


def trace_of(
    happened: Happened, language: str, lines: Iterable[Mapping[str, Any]], titles: Mapping[str, str]
) -> dict[int, Line]:
    """Every line that a figure may rest on. ``lines`` add what no longer stands and what was said afterwards;
    ``titles`` are what the protocol calls what is its own."""
    added = frozenset(happened.added_later)
    known_words: dict[str, str] = {}

    def called(name: str) -> str:
        if name not in known_words:
            known_words[name] = one_line(titles.get(name) or event(language, name))
        return known_words[name]

    found: dict[int, Line] = {}
    standing = {seen.seq for seen in happened.seen}
    for line in lines:
        if (
            "because" not in line and line["seq"] not in standing
        ):  # what the machine told rests on a line of its own cause
            named = line.get("input") or line.get("meant")
            what = called(str(named)) if named else one_line(known(language, "kind", str(line["kind"])))
            found[line["seq"]] = Line(line["seq"], line["e"], what)
    for look in happened.looks:
        target = known(language, "look", one_line(look.target))
        found[look.seq] = Line(look.seq, look.e, words(language, "line:looked", target=target))
    for pin in happened.pins:
        which = known(language, "pin", pin.which)
        label = known(language, "label", one_line(pin.label))
        what = words(language, "line:pin", which=f"{which}, {label}" if label else which)
        found[pin.seq] = Line(pin.seq, pin.e, what)
    for place, seen in enumerate(happened.seen):
        what = called(seen.event)
        if seen.seq in added:
            what = words(language, "line:added", what=what)
        elif seen.e_pressed is not None:
            what = words(language, "line:moved", what=what, at=clock(seen.e_pressed))
        found[seen.seq] = Line(seen.seq, seen.e, what, place)
    for seq in happened.voided:
        if seq in found:
            found[seq] = found[seq]._replace(what=words(language, "line:voided", what=found[seq].what))
    return found


def stretches(seqs: Iterable[int], trace: Mapping[int, Line]) -> list[Stretch]:
    """The lines with these numbers, those next to one another put together; numbers of no known line are left out."""
    lines = sorted({trace[seq] for seq in seqs if seq in trace}, key=lambda line: (line.e, line.seq))
    groups: list[list[Line]] = []
    for line in lines:
        if groups and line.place > 0 and groups[-1][-1].place == line.place - 1:
            groups[-1].append(line)
        else:
            groups.append([line])
    return [Stretch(tuple(group)) for group in groups]


PARTS_TOLD = 4
"""Kinds of line that a stretch names before it says that there are more."""


def told(stretch: Stretch, language: str) -> str:
    """What a stretch holds, in order: ``push, 2 × breath, push``."""
    parts = []
    for what, group in groupby(line.what for line in stretch.lines):
        number = len(list(group))
        parts.append(what if number == 1 else words(language, "line:many", count=number, what=what))
    return ", ".join(parts if len(parts) <= PARTS_TOLD else [*parts[:PARTS_TOLD], "…"])


def ends(seqs: Sequence[int]) -> tuple[int, ...]:
    """The first and the last of some lines in order."""
    return tuple(dict.fromkeys((seqs[0], seqs[-1]))) if seqs else ()
