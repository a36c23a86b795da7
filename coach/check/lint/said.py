"""Lint of numbers that a text says, against those that the file has where the text stands."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from coach.check.lint.sheet import Sheet
from coach.check.lint.wording import NUMBER_WORDS, worded
from coach.measure.targets import bound
from coach.protocol import guards
from coach.protocol.expr import And, Expr
from coach.protocol.guards import Compare
from coach.protocol.model import Arrow, Wording
from coach.protocol.names import PlacedArrow
from coach.protocol.positions import Path

_SMALL = {
    "en": {"a": 1, "one": 1, "two": 2},
    "es": {"un": 1, "una": 1, "uno": 1, "dos": 2},
}
"""Words that are numbers only before a unit: elsewhere they are articles, and "both" is two."""

_UNITS = {
    "s": ("s", "sec", "secs", "second", "seconds", "segundo", "segundos"),
    "min": ("min", "minute", "minutes", "minuto", "minutos"),
    "kg": ("kg", "kilo", "kilos"),
    "lb": ("lb", "lbs", "pound", "pounds", "libra", "libras"),
    "year": ("year", "years", "año", "años"),
    "month": ("month", "months", "mes", "meses"),
    "other": ("cm", "m", "in", "%", "percent", "centimetres", "centímetros"),
}
_UNIT = {word: unit for unit, words in _UNITS.items() for word in words}
_MS = {"s": 1_000, "min": 60_000}
_RATIO = re.compile(r"\b(\d+):(\d+)\b")


class Said(NamedTuple):
    """A number in a text: its value, its unit in one word ("" for a bare one), and where it begins."""

    number: float
    unit: str
    at: int

    @property
    def ms(self) -> float | None:
        """The time that it is, in milliseconds; None where it is none."""
        return self.number * _MS[self.unit] if self.unit in _MS else None


_WORD = re.compile(r"\d+(?:[.,]\d+)?|[^\W\d_]+|%")


def said_in(text: str, language: str) -> list[Said]:
    """The numbers that a text says, in digits or in words; a ratio such as 30:2 is none."""
    code = language.partition("-")[0]
    plain = _RATIO.sub(lambda found: "·" * len(found[0]), text)
    words = [(found[0].casefold(), found.start()) for found in _WORD.finditer(plain)]
    found: list[Said] = []
    for place, (word, at) in enumerate(words):
        unit = _UNIT.get(words[place + 1][0], "") if place + 1 < len(words) else ""
        number: float | None = NUMBER_WORDS.get(code, {}).get(word)
        if word[0].isdigit():
            number = float(word.replace(",", "."))
        elif number is None and unit in ("s", "min", "year", "month"):
            number = _SMALL.get(code, {}).get(word)
        if number is not None:
            found.append(Said(number, unit, at))
    return found


def lint_said(sheet: Sheet) -> None:
    """Report limits, counts, times left and ratios that a text says otherwise than the file has them."""
    _injects(sheet)
    _arrows(sheet)
    _steps(sheet)
    _findings(sheet)
    _rules(sheet)
    _ratios(sheet)


def _tell(sheet: Sheet, path: Path, language: str, at: int, what: str) -> None:
    sheet.add("number-said", (*path, language), what, "mend the text, or the number", (), "value", at)


# --- times ------------------------------------------------------------------------------------------------------------


def _times(sheet: Sheet, path: Path, wording: Wording, limits: dict[str, int], first: bool = False) -> None:
    """Times in a text of which none of the file's is one. With ``first`` only one that the text begins with counts."""
    if not limits:
        return
    for language, text in wording.items():
        for one in said_in(text, language):
            ms = one.ms
            begins = len(re.findall(r"\w+", text[: one.at])) <= 1  # "Va un minuto", "That was a minute" does not
            if ms is None or ms in limits.values() or (first and not begins):
                continue
            told = ", ".join(f"{name} {_short(limit)}" for name, limit in limits.items())
            what = f"the text says {_short(ms)}, and the file has {told}"
            _tell(sheet, path, language, one.at, what)


def _short(ms: float) -> str:
    return f"{ms / 60_000:g} min" if ms >= 60_000 and ms % 60_000 == 0 else f"{ms / 1_000:g} s"


def _injects(sheet: Sheet) -> None:
    for name, inject in sheet.protocol.inject.items():
        if inject.late is None or inject.within is None:
            continue
        for key in ("say", "again"):
            path: Path = ("inject", name, "late", key)
            _times(sheet, path, getattr(inject.late, key), {"within": inject.within})


def _steps(sheet: Sheet) -> None:
    for track_name, track in sheet.protocol.track.items():
        for name, step in track.step.items():
            path: Path = ("track", track_name, "step", name)
            if step.within is not None:
                _times(sheet, (*path, "late_cue"), step.late_cue, {"within": step.within})
            ways = [one.arrow for one in sheet.arrows if one.track == track_name and one.arrow.to == name]
            timers: dict[str, int] = {}
            for arrow in ways:
                timers |= _timers(sheet, arrow)
            _times(sheet, (*path, "cue"), step.cue, timers, first=True)


def _timers(sheet: Sheet, arrow: Arrow) -> dict[str, int]:
    """The times of the timers that an arrow waits for."""
    found: dict[str, int] = {}
    for event in arrow.on:
        kind, _, name = event.partition(":")
        if kind == "timer" and name in sheet.protocol.timers:
            timer = sheet.protocol.timers[name]
            if timer.after is not None:
                found[f"`{name}`"] = timer.after
            if timer.every is not None:
                found[f"`{name}` every"] = timer.every
    return found


# --- arrows -----------------------------------------------------------------------------------------------------------


def _arrows(sheet: Sheet) -> None:
    for placed in sheet.arrows:
        arrow, path = placed.arrow, placed.path
        timers = _timers(sheet, arrow)
        if arrow.fault is not None:
            limits = dict(timers)
            within = sheet.protocol.track[placed.track].step[placed.step].within if placed.step else None
            if within is not None:
                limits["within"] = within
            for key in ("say", "again"):
                _times(sheet, (*path, "fault", key), getattr(arrow.fault, key), limits)
        for key in ("cue", "voice"):
            wording: Wording = getattr(arrow, key)
            _times(sheet, (*path, key), _without_left(wording), timers, first=True)
            _left(sheet, placed, (*path, key), wording)
            _counts(sheet, arrow, (*path, key), wording)
    _runs(sheet)


_LEFT = {
    "en": re.compile(r"\bseconds?\s+(?:left|to go|more)\b", re.IGNORECASE),
    "es": re.compile(r"\b(?:quedan?|faltan?)\b", re.IGNORECASE),
}


def _is_left(text: str, language: str) -> bool:
    pattern = _LEFT.get(language.partition("-")[0])
    return pattern is not None and pattern.search(text) is not None


def _without_left(wording: Wording) -> Wording:
    return {language: text for language, text in wording.items() if not _is_left(text, language)}


def _left(sheet: Sheet, placed: PlacedArrow, path: Path, wording: Wording) -> None:
    """Seconds left, said on one timer of a step, against the other one that the same arrows start."""
    mine = [event.partition(":")[2] for event in placed.arrow.on if event.startswith("timer:")]
    if len(mine) != 1 or not placed.step:
        return
    timers = sheet.protocol.timers
    here = [arrow for arrow in sheet.protocol.track[placed.track].step[placed.step].go if arrow.to]
    ends = {event.partition(":")[2] for arrow in here for event in arrow.on if event.startswith("timer:")} - {*mine}
    ends = {name for name in ends if name in timers and _together(sheet, mine[0], name)}
    own = timers[mine[0]].after if mine[0] in timers else None
    if len(ends) != 1 or own is None:
        return
    (end,) = ends
    over = timers[end].after
    if over is None or over <= own:
        return
    for language, text in wording.items():
        for one in said_in(text, language):
            if _is_left(text, language) and one.ms is not None and one.ms != over - own:
                what = (
                    f"the text says {_short(one.ms)} left, and from `{mine[0]}` to `{end}` it is {_short(over - own)}"
                )
                _tell(sheet, path, language, one.at, what)


def _together(sheet: Sheet, one: str, other: str) -> bool:
    """Whether whatever starts either of two timers starts both."""
    starts = [{*placed.arrow.start, *placed.arrow.restart} for placed in sheet.arrows]
    starts += [{*step.start, *step.restart} for track in sheet.protocol.track.values() for step in track.step.values()]
    return any(one in some for some in starts) and all((one in some) == (other in some) for some in starts)


# --- counts -----------------------------------------------------------------------------------------------------------


def _bare(wording: Wording) -> Iterator[tuple[str, Said]]:
    for language, text in wording.items():
        yield from ((language, one) for one in said_in(text, language) if not one.unit)


def _equal(expr: Expr | None) -> dict[str, int]:
    """The counters that a guard asks to be equal to a number, where it holds at all."""
    if isinstance(expr, And):
        return {name: value for item in expr.items for name, value in _equal(item).items()}
    return {expr.name: expr.value} if isinstance(expr, Compare) and expr.op == "==" and not expr.unit else {}


def _reached(sheet: Sheet, arrow: Arrow) -> dict[str, set[int]]:
    """What counters stand at once the arrow was taken, by its guard and by what it writes: two numbers where the two
    differ, or where it counts nothing itself."""
    known = {name: at for name, at in _equal(sheet.guards.get(id(arrow))).items() if name in sheet.protocol.counters}
    found: dict[str, set[int]] = {name: {value} for name, value in arrow.set.items()}
    for name, at in known.items():
        if name in arrow.set:
            if arrow.set[name]:
                found[name].add(at + 1)
        elif name in arrow.add:
            found[name] = {at + arrow.add[name]}
    return found


def _counts(sheet: Sheet, arrow: Arrow, path: Path, wording: Wording) -> None:
    reached = {name: values for name, values in _reached(sheet, arrow).items() if values != {0}}
    if len(reached) != 1:
        return
    ((name, values),) = reached.items()
    said = [*_bare(wording)]
    for language, one in said:
        alone = sum(other == language for other, _ in said) == 1
        if alone and values != {int(one.number)}:
            told = " and ".join(str(value) for value in sorted(values))
            what = f"the text says {one.number:g}, and here `{name}` comes to {told}"
            _tell(sheet, path, language, one.at, what)


def _runs(sheet: Sheet) -> None:
    """Counts of pushes that are said, of which none is the length of a run that the file aims at."""
    target = sheet.protocol.targets.get("run_length")
    aim = bound(target.value, target.unit) if target is not None else None
    if aim is None:
        return
    said = [
        (placed.path, language, one)
        for placed in sheet.arrows
        if "compression" in placed.arrow.on and (placed.arrow.set or placed.arrow.add)
        for language, one in _bare(placed.arrow.cue)
    ]
    if any(one.number == aim for _, _, one in said):
        return
    for path, language, one in said:
        what = f"the text says {one.number:g}, and the target `run_length` aims at {aim:g}"
        _tell(sheet, (*path, "cue"), language, one.at, what)


# --- findings, rules, ratios ------------------------------------------------------------------------------------------


def _findings(sheet: Sheet) -> None:
    """Numbers in what a finding says of a target, against the target's own."""
    for index, row in enumerate(sheet.protocol.finding):
        asked = [row[kind] for kind in ("over", "under", "outside") if isinstance(row.get(kind), dict)]
        name = str(asked[0].get("target", "")) if asked else ""
        target = sheet.protocol.targets.get(name)
        if target is None:
            continue
        own = {bound(value, target.unit) for value in (target.from_, target.to, target.value)} - {None}
        told = [value for value in (target.from_, target.to, target.value) if value is not None]
        for key in ("say", "again"):
            for language, one in _all(row.get(key)):
                value = one.ms if one.ms is not None else one.number / 100 if target.unit == "%" else one.number
                if one.unit in ("kg", "lb", "year", "month") or value in own:
                    continue
                has = " and ".join(f"{value} {target.unit}".strip() for value in told)
                what = f"the text says {one.number:g}, and the target `{name}` has {has}"
                _tell(sheet, ("finding", index, key), language, one.at, what)


def _all(wording: object) -> Iterator[tuple[str, Said]]:
    for language, text in (wording if isinstance(wording, dict) else {}).items():
        if isinstance(text, str):
            yield from ((language, one) for one in said_in(text, language))


SIZES = {"kg": ("kg",), "year": ("year", "years"), "month": ("month", "months")}
"""The units of an age or a weight that a text can name, as guards write them."""


def sizes(exprs: Iterable[Expr]) -> dict[str, set[float]]:
    """The ages and weights that guards compare with, by the unit that a text would name."""
    found: dict[str, set[float]] = {unit: set() for unit in SIZES}
    for expr in exprs:
        for test in guards.tests(expr):
            for unit, written in SIZES.items():
                if isinstance(test, Compare) and test.unit in written:
                    found[unit].add(test.value / (1_000 if unit != "year" else 12_000))
    return found


def _rules(sheet: Sheet) -> None:
    """Ages and weights that a rule about pads says, against its own guard."""
    for index, row in enumerate(sheet.protocol.rule):
        never = row.get("never")
        if not isinstance(never, dict) or not isinstance(never.get("when"), str):
            continue
        try:
            known = sizes([guards.parse(never["when"])])
        except guards.GuardProblem:  # told as a rule that is no sentence
            continue
        for language, one in _all(row.get("say")):
            if one.unit in SIZES and any(known.values()) and one.number not in known[one.unit]:
                has = ", ".join(f"{value:g} {unit}" for unit, values in known.items() for value in sorted(values))
                what = f"the text says {one.number:g} {one.unit}, and the rule's guard has {has}"
                _tell(sheet, ("rule", index, "say"), language, one.at, what)


def _ratios(sheet: Sheet) -> None:
    """Pushes to breaths as a text has them, against the targets."""
    targets = sheet.protocol.targets
    pair = [bound(targets[name].value, "") for name in ("run_length", "breaths_per_gap") if name in targets]
    if len(pair) != 2 or None in pair:
        return
    for one in worded(sheet.protocol):
        for language, text in one.texts.items():
            for found in _RATIO.finditer(text):
                if [int(found[1]), int(found[2])] != pair:
                    what = f"the text says {found[0]}, and the targets are {pair[0]:g} pushes and {pair[1]:g} breaths"
                    _tell(sheet, one.path, language, found.start(), what)
