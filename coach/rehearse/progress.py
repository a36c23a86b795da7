"""What was learned over weeks: items by strength, when they come back, the weakest decisions, right answers by week."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from coach.drill.setup import words_of
from coach.rehearse.history import History
from coach.rehearse.items import FAMILIES
from coach.rehearse.matter import Matter
from coach.rehearse.schedule import overdue, strength
from coach.text import one_line

FULL, EMPTY = "█", "░"
AHEAD = timedelta(days=7)
"""Strength is told for a week from now: just after an answer everybody knows it."""
STRONG, FAIR = 0.9, 0.75
"""From 0.9 on an item is strong (the schedule's own aim), from 0.75 on fair, below weak: our own words for it."""
WEAKEST = 5


@dataclass(frozen=True, slots=True)
class ItemRow:
    """One item as it stands. ``strength`` is the schedule's chance, 0 to 1, that it is still known in a week."""

    name: str
    family: str
    critical: bool
    strength: float
    word: str
    due: str
    days: int
    reviews: int
    lapses: int
    sure_and_wrong: bool

    @property
    def percent(self) -> int:
        """The strength in whole percent."""
        return round(self.strength * 100)


@dataclass(frozen=True, slots=True)
class WeekRow:
    """One ISO week: how many answers, how many right."""

    week: str
    asked: int
    right: int

    @property
    def percent(self) -> int:
        """The share that was right."""
        return round(100 * self.right / self.asked) if self.asked else 0


@dataclass(frozen=True, slots=True)
class Progress:
    """Everything on the progress page. ``new`` are the names of items never met."""

    title: str
    guidance: str
    day: str
    drills: int
    items: tuple[ItemRow, ...]
    new: tuple[str, ...]
    weakest: tuple[ItemRow, ...]
    weeks: tuple[WeekRow, ...]
    tempos: tuple[str, ...]
    due_today: int


def progress_of(matter: Matter, history: History, day: date, language: str = "en") -> Progress:
    """How the learner stands on ``day`` with one protocol and its pads rules."""
    rows: list[ItemRow] = []
    fresh: list[str] = []
    for item, one in matter.items.items():
        standing = history.standings.get(item)
        name = one_line(words_of(one.title, language)) or one.name
        if standing is None:
            fresh.append(name)
            continue
        share = strength(item, standing, day + AHEAD)
        word = "weak" if not standing.right or share < FAIR else "fair" if share < STRONG else "strong"
        rows.append(
            ItemRow(
                name, FAMILIES.get(one.family, one.family), one.critical, share, word, standing.due.isoformat(),
                -overdue(standing, day), standing.reviews, standing.lapses, standing.sure_and_wrong,
            )
        )  # fmt: skip
    rows.sort(key=lambda row: (row.word != "weak", row.strength, row.name))
    weeks: dict[str, list[int]] = {}
    for review in history.reviews:
        if review.item in matter.items:
            year, week, _ = review.day.isocalendar()
            entry = weeks.setdefault(f"{year}-W{week:02d}", [0, 0])
            entry[0] += 1
            entry[1] += review.right
    tempos = [
        f"{taken.day.isoformat()}  {taken.rate:.0f} ± {taken.plus_minus:.0f} a minute"
        f"{f', beat at {taken.pace}' if taken.pace else ''}, {taken.taps} taps, counted {taken.counted}"
        for taken in history.tempos[-8:]
    ]
    weak = sorted(rows, key=lambda row: (not row.sure_and_wrong, row.word != "weak", -row.lapses, row.strength))
    return Progress(
        one_line(words_of(matter.protocol.title, language)),
        matter.protocol.guidance,
        day.isoformat(),
        sum(held.protocol == matter.protocol.id for held in history.sittings),
        tuple(rows),
        tuple(fresh),
        tuple(row for row in weak if row.lapses or row.word == "weak")[:WEAKEST],
        tuple(WeekRow(week, asked, right) for week, (asked, right) in sorted(weeks.items())[-12:]),
        tuple(tempos),
        sum(row.days <= 0 for row in rows),
    )


def bar(share: float, width: int) -> str:
    """A bar of blocks, told apart by shape alone."""
    full = round(max(0.0, min(share, 1.0)) * width)
    return FULL * full + EMPTY * (width - full)


def counted(number: int, thing: str) -> str:
    """``1 sitting``, ``2 sittings``."""
    return f"{number} {thing}{'' if number == 1 else 's'}"


def due_words(first: date, last: date) -> str:
    """When the answers of a sitting come back."""
    if first == last:
        return f"they come back on {first.isoformat()}"
    return f"the first comes back on {first.isoformat()}, the last on {last.isoformat()}"


def when(days: int) -> str:
    """A due date in words."""
    if days <= 0:
        return "due now" if days == 0 else f"due for {-days} d"
    return f"in {days} d"


def chart(progress: Progress, width: int = 78) -> list[str]:
    """The page as lines of text, at most ``width`` columns."""
    lines = [
        f"{progress.title}, after {progress.guidance}, not endorsed. {progress.day}",
        f"{counted(progress.drills, 'sitting')}; {len(progress.items)} decisions met, {len(progress.new)} not yet;"
        f" {progress.due_today} due.",
    ]
    room = max(width - 42, 10)
    if progress.weakest:
        lines += ["", "Weakest"]
        for row in progress.weakest:
            said = " sure and wrong" if row.sure_and_wrong else f" wrong {row.lapses} of {row.reviews}"
            lines.append(_cut(f"  {row.name}", width - len(said)).ljust(width - len(said)) + said)
    if progress.items:
        lines += ["", "Chance to know it in a week, and when it comes back"]
    for row in progress.items:
        mark = "!" if row.critical else " "
        name = _cut(row.name, room).ljust(room)
        lines.append(
            f"{mark} {name} {bar(row.strength, 12)} {row.percent:>3} % {row.word:<6} {when(row.days)}".rstrip()
        )
    if any(row.critical for row in progress.items):
        lines.append("! critical: never away for longer than 60 days")
    if progress.weeks:
        lines += ["", "Right at the first try, by week"]
        lines += [
            f"  {week.week}  {bar(week.right / week.asked, 20)} {week.percent:>3} %  of {week.asked}"
            for week in progress.weeks
        ]
    if progress.tempos:
        lines += ["", "Own tempo", *(_cut(f"  {text}", width) for text in progress.tempos)]
    if progress.new:
        lines += ["", f"Not met yet: {len(progress.new)}", *_wrapped(progress.new, width)]
    return lines


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


def _wrapped(names: Sequence[str], width: int) -> list[str]:
    lines: list[str] = []
    line = " "
    for name in names:
        piece = f" {name};" if name is not names[-1] else f" {name}."
        if len(line) + len(piece) > width and line.strip():
            lines.append(line)
            line = " "
        line += _cut(piece, width - 1)
    return [*lines, line]
