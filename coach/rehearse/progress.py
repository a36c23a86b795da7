"""What was learned over weeks: items by strength, when they come back, the weakest decisions, right answers by week."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from textwrap import wrap

from coach.drill.setup import words_of
from coach.rehearse.history import History
from coach.rehearse.matter import Matter
from coach.rehearse.schedule import overdue, strength
from coach.rehearse.tempo import row_of
from coach.rehearse.wording import count, words
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
                name, words(language, f"family:{one.family}"), one.critical, share, word, standing.due.isoformat(),
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
    tempos = [f"{taken.day.isoformat()}  {row_of(taken, language, counted=True)}" for taken in history.tempos[-8:]]
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


def due_words(first: date, last: date, language: str) -> str:
    """When the answers of a sitting come back."""
    ident = "back:one" if first == last else "back:two"
    return words(language, ident, first=first.isoformat(), last=last.isoformat())


def when(days: int, language: str) -> str:
    """A due date in words."""
    return words(language, "due:now" if days == 0 else "due:past" if days < 0 else "due:in", days=abs(days))


def chart(progress: Progress, width: int = 78, language: str = "en") -> list[str]:
    """The page as lines of text, at most ``width`` columns."""

    def say(ident: str, **values: object) -> str:
        return words(language, ident, **values)

    sittings = count(language, "chart:sittings", progress.drills)
    heads = (
        say("chart:head", title=progress.title, guidance=progress.guidance, day=progress.day),
        say("chart:counts", sittings=sittings, met=len(progress.items), new=len(progress.new), due=progress.due_today),
    )
    lines = [line for head in heads for line in wrap(head, width)]
    room = max(width - 42, 10)
    if progress.weakest:
        lines += ["", say("chart:weakest")]
        for row in progress.weakest:
            sure = say("chart:sure and wrong")
            said = " " + (sure if row.sure_and_wrong else say("chart:wrong", lapses=row.lapses, reviews=row.reviews))
            lines.append(_cut(f"  {row.name}", width - len(said)).ljust(width - len(said)) + said)
    if progress.items:
        lines += ["", say("chart:chance")]
    for row in progress.items:
        mark = "!" if row.critical else " "
        name, word = _cut(row.name, room).ljust(room), say(f"word:{row.word}")
        back = when(row.days, language)
        lines.append(f"{mark} {name} {bar(row.strength, 12)} {row.percent:>3} % {word:<6} {back}".rstrip())
    if any(row.critical for row in progress.items):
        lines.append(say("chart:critical"))
    if progress.weeks:
        lines += ["", say("chart:weeks")]
        for week in progress.weeks:
            of = say("chart:of", asked=week.asked)
            lines.append(f"  {week.week}  {bar(week.right / week.asked, 20)} {week.percent:>3} %  {of}")
    if progress.tempos:
        lines += ["", say("chart:tempo"), *(_cut(f"  {text}", width) for text in progress.tempos)]
    if progress.new:
        lines += ["", count(language, "chart:new", len(progress.new)), *_wrapped(progress.new, width)]
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
