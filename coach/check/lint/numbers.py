"""Lint of numbers: targets that exclude each other, cycles against minutes, units mistaken, what only an eye sees."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from coach.check.lint.sheet import Sheet
from coach.check.lint.truth import TESTS
from coach.check.lint.wording import NUMBER_WORDS, worded
from coach.measure.targets import bound
from coach.protocol.guards import Compare
from coach.protocol.guards import tests as tests_of
from coach.protocol.positions import Path
from coach.units import MS_PER, duration_text, held, parse_quantity, quantity_text

BREATHS_MS = 5_000
"""From the last push of one run to the first of the next, with two breaths between (common practice, no source)."""

DEFAULT_RATE = 110
"""Pushes a minute where the file has no target: the middle of 100 to 120 (second-hand from the guidance of 2025)."""

CYCLE_TOLERANCE = 0.1
"""How far cycles and minutes may lie apart, as a share of the minutes (a choice of this program)."""


def lint_numbers(sheet: Sheet) -> None:
    """Report what arithmetic alone shows."""
    _bounds(sheet)
    _share(sheet)
    _cycles(sheet)
    _by_eye(sheet)
    _facts(sheet)
    _guards(sheet)
    _times(sheet)
    _targets(sheet)
    _published(sheet)
    _limits(sheet)


# --- targets against each other ---------------------------------------------------------------------------------------


def _bounds(sheet: Sheet) -> None:
    for name, target in sheet.protocol.targets.items():
        low, high, aim = (bound(value, target.unit) for value in (target.from_, target.to, target.value))
        path: Path = ("targets", name)
        if low is not None and high is not None and low > high:
            what = f"the target `{name}` begins at {target.from_} and ends at {target.to}"
            sheet.add("target-empty", (*path, "from"), what, "write the smaller bound as from", side="value")
        elif aim is not None and ((low is not None and aim < low) or (high is not None and aim > high)):
            what = f"the target `{name}` aims at {target.value}, outside of its own bounds"
            sheet.add("target-empty", (*path, "value"), what, "mend the aim or the bounds", side="value")


class Cycle(NamedTuple):
    """Runs of pushes with breaths between, after the file's own targets: pushes a run, breaths, pushes a minute."""

    pushes: float
    breaths: float
    rate: float

    @property
    def run_ms(self) -> float:
        """From the first push of a run to its last."""
        return (self.pushes - 1) * 60_000 / self.rate

    @property
    def told(self) -> str:
        """The run in words, with its arithmetic."""
        seconds = self.run_ms / 1_000
        return f"{self.pushes - 1:.0f} x 60/{self.rate:.0f} = {seconds:.1f} s"

    @property
    def ratio(self) -> str:
        """30:2"""
        return f"{self.pushes:.0f}:{self.breaths:.0f}"


def cycle_of(sheet: Sheet) -> Cycle | None:
    """The cycle that a file teaches; None where it has no breaths."""
    targets = sheet.protocol.targets
    pushes, breaths = _aim(sheet, "run_length"), _aim(sheet, "breaths_per_gap")
    if not pushes or not breaths:
        return None
    rate: float = DEFAULT_RATE
    if "compression_rate" in targets:
        wanted = targets["compression_rate"]
        limits = [bound(value, wanted.unit) for value in (wanted.from_, wanted.to)]
        known = [limit for limit in limits if limit]
        rate = _aim(sheet, "compression_rate") or (sum(known) / len(known) if known else DEFAULT_RATE)
    return Cycle(pushes, breaths, rate)


def _aim(sheet: Sheet, name: str) -> float | None:
    target = sheet.protocol.targets.get(name)
    return bound(target.value, target.unit) if target is not None else None


def _share(sheet: Sheet) -> None:
    target, cycle = sheet.protocol.targets.get("hands_on_share"), cycle_of(sheet)
    if target is None or cycle is None:
        return
    ceiling = cycle.run_ms / (cycle.run_ms + BREATHS_MS)
    for key, value in (("from", target.from_), ("value", target.value)):
        wanted = bound(value, target.unit)
        if wanted is not None and wanted > ceiling:
            what = (
                f"a share of {wanted:.0%} with {cycle.ratio} at {cycle.rate:.0f}/min and 5 s for the breaths: "
                f"it can reach {ceiling:.0%}"
            )
            whole = (cycle.run_ms + BREATHS_MS) / 1_000
            witness = [
                f"a run lasts {cycle.told}",
                f"{cycle.run_ms / 1_000:.1f} of every {whole:.1f} s is {ceiling:.0%}",
            ]
            help_ = f"write {ceiling * 100:.0f} % or less"
            sheet.add("unattainable-target", ("targets", "hands_on_share", key), what, help_, witness, side="value")


# --- cycles and minutes -----------------------------------------------------------------------------------------------

_COUNT = NUMBER_WORDS["en"] | NUMBER_WORDS["es"]
_CYCLES = re.compile(rf"\b(\d+|{'|'.join(_COUNT)})\s+(?:cycles|ciclos)\b", re.IGNORECASE)


def _cycles(sheet: Sheet) -> None:
    cycle, period = cycle_of(sheet), _period(sheet)
    if cycle is None or period is None:
        return
    said: list[tuple[Path, float, Any]] = []
    for name, target in sheet.protocol.targets.items():
        if "cycle" in name and (aim := bound(target.value, target.unit)) is not None:
            said.append((("targets", name, "value"), aim, -1))
    for path, expr in sheet.all_guards():
        for test in tests_of(expr):
            if isinstance(test, Compare) and "cycle" in test.name and test.name in sheet.protocol.counters:
                said.append((path, test.value, test.value_at))
    for one in worded(sheet.protocol):
        for language, text in one.texts.items():
            for found in _CYCLES.finditer(text):
                word = found[1].casefold()
                said.append(((*one.path, language), float(_COUNT.get(word) or word), found.start()))
    for path, count, offset in said:
        lasts = count * (cycle.run_ms + BREATHS_MS)
        if abs(lasts - period) > CYCLE_TOLERANCE * period:
            what = (
                f"{count:.0f} cycles of {cycle.ratio} at {cycle.rate:.0f}/min with 5-s gaps last "
                f"{lasts / 1_000:.0f} s, not {period / 1_000:.0f}"
            )
            witness = [f"{count:.0f} x ({cycle.told} + 5 s) = {lasts / 1_000:.0f} s"]
            sheet.add("cycle-arithmetic", path, what, "say one of the two", witness, "value", offset)


def _period(sheet: Sheet) -> float | None:
    """The two minutes as the file has them: the target, else the timer ``period``; ms."""
    target, timer = sheet.protocol.targets.get("period"), sheet.protocol.timers.get("period")
    if target is not None and (aim := bound(target.value, target.unit)) is not None:
        return aim if target.unit != "" or isinstance(target.value, str) else aim * 1_000
    return None if timer is None else timer.after


# --- by eye -----------------------------------------------------------------------------------------------------------

EYE = {"depth", "release", "recoil", "leaning", "chest_rise", "hand_position", "pad_position"}
"""What no key sees; anything in centimetres is too."""


def _by_eye(sheet: Sheet) -> None:
    protocol = sheet.protocol
    seen = EYE | {name for name, target in protocol.targets.items() if target.unit == "cm"}
    for index, row in enumerate(protocol.finding):
        for key, value in row.items():
            name = value.get("target") if isinstance(value, dict) else None
            if name in seen:
                what = f"the finding `{row.get('id', '')}` judges `{name}`, which nobody measures"
                path = ("finding", index, key, "target")
                sheet.add("by-eye-criterion", path, what, "take the finding out", side="value")
    for key, value in protocol.pass_.items():
        words = re.findall(r"\w+", str(value)) if key not in ("say", "source") else []
        named = sorted(seen & {key, *words})
        if key == "by_eye" and value != "never":
            what = "a pass that rests on what an eye judges"
            sheet.add("by-eye-criterion", ("pass", key), what, 'write by_eye = "never"', side="value")
        elif key == "critical_faults" and value != 0:
            what = f"a pass in spite of {value} critical faults"
            sheet.add("pass-lenient", ("pass", key), what, "write critical_faults = 0", side="value")
        elif key == "critical_steps" and value != "independent":
            what = f"a pass with critical steps `{value}`, and they count only where they were independent"
            sheet.add("pass-lenient", ("pass", key), what, 'write critical_steps = "independent"', side="value")
        elif named:
            what = f"a pass that rests on `{named[0]}`, which nobody measures"
            sheet.add("by-eye-criterion", ("pass", key), what, "take it out", side="value")


# --- units ------------------------------------------------------------------------------------------------------------

KG, YEAR = 1_000, 12_000
"""Held parts in a kilogram and in a year."""

_DOUBTFUL = {
    "kg": (350 * KG, "nobody on a scale weighs that: are these pounds?"),
    "year": (120 * YEAR, "nobody is that old: are these months?"),
    "month": (3 * YEAR, "that is many months: are these years, or days?"),
}
_POUNDS = {22 * KG: "10 kg", 55 * KG: "25 kg", 110 * KG: "50 kg"}
"""Weights that are round in kilograms when read as pounds."""


def _facts(sheet: Sheet) -> None:
    for name, fact in sheet.protocol.facts.items():
        if fact.kind != "number" or fact.unit not in _DOUBTFUL or fact.to is None:
            continue
        most, doubt = _DOUBTFUL[fact.unit]
        if held(fact.to, fact.unit) > most:
            what = f"`{name}` goes up to {quantity_text(held(fact.to, fact.unit), fact.unit)}: {doubt}"
            sheet.add("unit-plausible", ("facts", name, "to"), what, "write it in the unit of the fact", side="value")


def _guards(sheet: Sheet) -> None:
    """Constants that guards compare ages and weights with."""
    every = [*sheet.all_guards(), *((("terms", name), expr) for name, expr in sheet.terms.items())]
    for path, expr in every:
        for test in tests_of(expr):
            if not isinstance(test, Compare) or not test.unit:
                continue
            _outside(sheet, path, test)
            text, doubt = quantity_text(test.value, "kg" if test.unit == "kg" else "year"), ""
            if test.unit == "kg" and test.value in _POUNDS:
                doubt = f"{text} is {_POUNDS[test.value]} read in pounds"
            elif test.unit == "kg" and test.value > 200 * KG:
                doubt = f"{text}: is that in pounds?"
            elif test.unit in ("year", "years") and test.value >= 90 * YEAR:
                doubt = f"{text}: are these months? {test.value // YEAR} months are {test.value // YEAR / 12:.1f} years"
            elif test.unit in ("month", "months") and test.value > 24 * YEAR:
                doubt = f"{test.value // 1_000} months are {text}: is that meant?"
            if doubt:
                help_ = "mend the unit, or waive this and say why"
                sheet.add("unit-plausible", path, doubt, help_, (), "value", test.value_at)


def _outside(sheet: Sheet, path: Path, test: Compare) -> None:
    """A comparison that every value in the fact's range answers alike."""
    fact = sheet.protocol.facts.get(test.name)
    if fact is None or fact.from_ is None or fact.to is None:
        return
    low, high = held(fact.from_, fact.unit), held(fact.to, fact.unit)
    values = (low, high, test.value if low <= test.value <= high else low)
    answers = {bool(TESTS[test.op](value, test.value)) for value in values}
    if len(answers) == 1:
        what = f"`{test.name}` goes from {quantity_text(low, fact.unit)} to {quantity_text(high, fact.unit)}: "
        what += f"this comparison {'always holds' if answers == {True} else 'never holds'}"
        sheet.add("compare-outside", path, what, "is the unit right?", (), "value", test.value_at)


_SHORTEST, _LONGEST, _LONGEST_STAY = 1_000, 5 * 60_000, 2 * 60_000
"""A time of a drill below a second or above five minutes is more likely a slip of the unit, the stay in a step above
the two minutes of a cycle (choices of this program)."""


def _times(sheet: Sheet) -> None:
    protocol = sheet.protocol
    times: list[tuple[Path, int | None]] = []
    for name, timer in protocol.timers.items():
        times += [(("timers", name, "after"), timer.after), (("timers", name, "every"), timer.every)]
    for track_name, track in protocol.track.items():
        for step_name, step in track.step.items():
            times.append((("track", track_name, "step", step_name, "within"), step.within))
    for name, inject in protocol.inject.items():
        times.append((("inject", name, "within"), inject.within))
    for path, ms in times:
        longest = _LONGEST_STAY if path[0] == "track" else _LONGEST
        if ms is not None and not _SHORTEST <= ms <= longest:
            what = f"{duration_text(ms)} for {path[-1]}: is the unit right?"
            sheet.add("unit-plausible", path, what, "mend the unit, or waive this and say why", side="value")


_TARGETS = {"/min": (60.0, 200.0), "%": (0.2, 1.0), "cm": (2.0, 10.0), "s": (1_000.0, 900_000.0)}
"""Bounds of a target by its unit that a drill can have: pushes a minute, shares, depths, ms."""


def _targets(sheet: Sheet) -> None:
    for name, target in sheet.protocol.targets.items():
        for key, value in (("from", target.from_), ("to", target.to), ("value", target.value)):
            found = bound(value, target.unit)
            unit = "s" if isinstance(value, str) and parse_quantity(value)[1] in MS_PER else target.unit
            if found is None or unit not in _TARGETS:
                continue
            low, high = _TARGETS[unit]
            if not low <= found <= high:
                shown = value if isinstance(value, str) else f"{value} {target.unit}"
                what = f"the target `{name}` has {shown}: is the unit right?"
                sheet.add("unit-plausible", ("targets", name, key), what, "mend the unit, or waive this", side="value")


class Published(NamedTuple):
    """The widest that published guidance grants a target, in held parts, and who says so."""

    low: float | None
    high: float | None
    told: str
    by: str


_PUBLISHED = {
    "compression_rate": Published(100, 120, "100 to 120 a minute", "ERC 2025, AHA 2025 and ANZCOR 2021 alike"),
    "hands_off": Published(None, 10_000, "at most 10 s", "ERC 2015 to 2021 and AHA 2025"),
}
"""Targets on which all guidance that this program knows is of one mind (from memory and second-hand)."""


def _published(sheet: Sheet) -> None:
    for name, known in _PUBLISHED.items():
        target = sheet.protocol.targets.get(name)
        if target is None:
            continue
        for key, value in (("from", target.from_), ("to", target.to)):
            found = bound(value, target.unit)
            if found is None:
                continue
            if (known.low is not None and found < known.low) or (known.high is not None and found > known.high):
                unit = f" {target.unit}" if target.unit else ""
                what = f"the target `{name}` goes to {value}{unit}, and published is {known.told} ({known.by})"
                help_ = "mend the number, or waive this and name who decided it"
                sheet.add("target-beyond-guidance", ("targets", name, key), what, help_, side="value")


# --- limits that speak of one thing -----------------------------------------------------------------------------------

_PARTS = (
    (("breath_gap",), "hands_off"),
    (("pre_shock",), "hands_off"),
    (("post_shock",), "hands_off"),
    (("pre_shock", "post_shock"), "peri_shock"),
)
"""Targets of pauses, and the one that bounds them or their sum."""


def _limits(sheet: Sheet) -> None:
    targets = sheet.protocol.targets
    upper = {name: bound(targets[name].to, targets[name].unit) for name in targets}
    for parts, whole in _PARTS:
        given = [upper.get(name) for name in parts]
        most = upper.get(whole)
        if most is None or any(one is None for one in given):
            continue
        total = sum(one for one in given if one is not None)
        if total > most:
            grants = f"{' and '.join(parts)} together grant" if len(parts) > 1 else f"`{parts[0]}` grants"
            what = f"{grants} {_seconds(total)}, and `{whole}` {_seconds(most)}"
            sheet.add("target-conflict", ("targets", parts[-1], "to"), what, "mend one of them", side="value")
    for name, timer in sheet.protocol.timers.items():
        most = upper.get("hands_off")
        if timer.since != "last_push" or timer.after is None or most is None:
            continue
        if timer.after > most:
            what = (
                f"`{name}` speaks after {_seconds(timer.after)} without a push, and `hands_off` grants {_seconds(most)}"
            )
            sheet.add("target-conflict", ("timers", name, "after"), what, "mend one of them", side="value")
        elif most > 2 * timer.after:
            what = f"`hands_off` grants {_seconds(most)}, and `{name}` speaks after {_seconds(timer.after)} already"
            sheet.add("target-conflict", ("targets", "hands_off", "to"), what, "mend one of them", side="value")
    period, own = _period(sheet), sheet.protocol.timers.get("period")
    runs = own.after if own is not None else None
    if period is not None and runs is not None and abs(runs - period) > CYCLE_TOLERANCE * period:
        what = f"the timer `period` runs for {_seconds(runs)}, and the target `period` is {_seconds(period)}"
        sheet.add("target-conflict", ("timers", "period", "after"), what, "mend one of them", side="value")


def _seconds(ms: float) -> str:
    return f"{ms / 1_000:g} s"
