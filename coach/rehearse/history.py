"""What was rehearsed, on the learner's own machine and for nobody else: one file of lines, mode 0600.

::

    {"kind":"header","rehearsal":1,"program":"0.1.0"}
    {"kind":"sitting","day":…,"at":…,"drill":3,"protocol":…,"version":…,"digest":…,"seed":…}
    {"kind":"review","day":…,"item":…,"name":…,"critical":…,"rating":1..4,"right":…,"sure":…,"ms":…,"limit":…,
     "hint":…,"answer":…,"drill":3,"s":stability,"d":difficulty,"due":…}
    {"kind":"tempo","day":…,"rate":…,"plus_minus":…,"taps":30,"counted":28,"pace":0,"drill":3}

A file that is damaged, or of another format, is set aside under a name that is told, never overwritten; what can be
read of a damaged one is carried over. Nothing of it enters a class's records.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from coach import __version__
from coach.rehearse.schedule import SURENESS, Standing
from coach.rehearse.wording import Saying, told
from coach.text import clean, one_line

FORMAT = 1
NAME = "history.jsonl"
MAX_BYTES = 64 * 1024 * 1024
"""Largest history read: two hundred thousand reviews. Our own choice."""


class Unkept(Exception):
    """A history that cannot be read or written, in words."""


class Review(NamedTuple):
    """One answer that counted."""

    day: date
    item: str
    name: str
    critical: bool
    rating: int
    right: bool
    sure: str
    ms: int
    limit: int
    hint: bool
    answer: str
    drill: int
    family: str


@dataclass(frozen=True, slots=True)
class TempoTaken:
    """One run of taps without hands: a minute's rate, its ± and what was counted; ``pace`` 0 without a beat."""

    day: date
    rate: float
    plus_minus: float
    taps: int
    counted: int
    pace: int
    drill: int


@dataclass(frozen=True, slots=True)
class SittingHeld:
    """One sitting: its number and the protocol it was on."""

    day: date
    drill: int
    protocol: str
    digest: str
    seed: int


@dataclass
class History:
    """The file in memory. ``said`` is what the person must be told of it, None for nothing."""

    path: Path
    standings: dict[str, Standing] = field(default_factory=dict)
    tempos: list[TempoTaken] = field(default_factory=list)
    sittings: list[SittingHeld] = field(default_factory=list)
    said: Saying | None = None
    names: dict[str, str] = field(default_factory=dict)
    families: dict[str, int] = field(default_factory=dict)
    """The last drill in which each family was asked."""
    today: dict[date, int] = field(default_factory=dict)
    """Reviews of each day."""
    _reviews: list[Review] = field(default_factory=list, repr=False)
    _raw: list[dict[str, Any]] = field(default_factory=list, repr=False)
    """Lines read and not yet made into reviews: a sitting needs the standings only."""
    _last: dict[str, list[Any]] = field(default_factory=dict, repr=False)

    def words(self, language: str) -> str:
        """What the person must be told of the file; "" for nothing."""
        return told(language, self.said) if self.said is not None else ""

    @property
    def drills(self) -> int:
        """How many sittings there were."""
        return max((held.drill for held in self.sittings), default=0)

    def reviewed_on(self, day: date) -> int:
        """How many answers counted on a day."""
        return self.today.get(day, 0)

    def family_seen(self, protocol: str, family: str) -> int:
        """The last drill on a protocol, or on its pads rules, in which a family was asked; 0 for never."""
        return self.families.get(f"{protocol}|{family}", 0)

    # --- writing ----------------------------------------------------------------------------------------------------

    def add_review(self, review: Review, standing: Standing, protocol: str) -> None:
        """Take a review in and write it. Raises :class:`Unkept`; what was taken in stays in memory."""
        self._take_review(review, standing, protocol)
        self._append(
            {
                "kind": "review",
                "day": review.day.isoformat(),
                "item": review.item,
                "name": review.name,
                "family": review.family,
                "on": protocol,
                "critical": review.critical,
                "rating": review.rating,
                "right": review.right,
                "sure": review.sure,
                "ms": review.ms,
                "limit": review.limit,
                "hint": review.hint,
                "answer": review.answer,
                "drill": review.drill,
                "s": standing.stability,
                "d": standing.difficulty,
                "due": standing.due.isoformat(),
                "last": standing.last.isoformat(),
            }
        )

    def add_sitting(self, held: SittingHeld) -> None:
        """Note that a sitting began. Raises :class:`Unkept`."""
        self.sittings.append(held)
        self._append(
            {
                "kind": "sitting",
                "day": held.day.isoformat(),
                "drill": held.drill,
                "protocol": held.protocol,
                "digest": held.digest,
                "seed": held.seed,
            }
        )

    def add_tempo(self, taken: TempoTaken) -> None:
        """Note a run of taps. Raises :class:`Unkept`."""
        self.tempos.append(taken)
        self._append(
            {
                "kind": "tempo",
                "day": taken.day.isoformat(),
                "rate": round(taken.rate, 2),
                "plus_minus": round(taken.plus_minus, 2),
                "taps": taken.taps,
                "counted": taken.counted,
                "pace": taken.pace,
                "drill": taken.drill,
            }
        )

    def _take_review(self, review: Review, standing: Standing, protocol: str) -> None:
        self.reviews.append(review)
        self.standings[review.item] = standing
        self.names[review.item] = review.name
        self.families[f"{protocol}|{review.family}"] = review.drill
        self.today[review.day] = self.today.get(review.day, 0) + 1

    def _append(self, *lines: dict[str, Any]) -> None:
        text = "".join(json.dumps(line, ensure_ascii=False, separators=(",", ":")) + "\n" for line in lines)
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0)
            fd = os.open(self.path, flags, 0o600)
            try:
                if os.fstat(fd).st_size == 0:
                    head = {"kind": "header", "rehearsal": FORMAT, "program": __version__}
                    text = json.dumps(head, separators=(",", ":")) + "\n" + text
                data = text.encode()
                while data:
                    data = data[os.write(fd, data) :]
            finally:
                os.close(fd)
        except OSError as error:
            raise Unkept(f"the history cannot be written ({error.strerror}): {clean(str(self.path))}") from error

    # --- reading ----------------------------------------------------------------------------------------------------

    def take(self, line: Any) -> None:
        """One line of the file. ValueError, KeyError or TypeError where it is none of ours."""
        kind = line["kind"]
        if kind == "review":
            self._take_line(line)
        elif kind == "sitting":
            held = SittingHeld(
                _day(line["day"]), _number(line["drill"]), _text(line["protocol"]), _text(line["digest"]),
                _number(line["seed"]),
            )  # fmt: skip
            self.sittings.append(held)
        elif kind == "tempo":
            self.tempos.append(
                TempoTaken(
                    _day(line["day"]), float(line["rate"]), float(line["plus_minus"]), _number(line["taps"]),
                    _number(line["counted"]), _number(line["pace"]), _number(line["drill"]),
                )
            )  # fmt: skip
        else:
            raise ValueError(f"an unknown kind of line: {kind!r}")

    def _take_line(self, line: dict[str, Any]) -> None:
        item, right, drill, given = line["item"], line["right"], line["drill"], line["rating"]
        if (
            line["sure"] not in SURENESS
            or given not in _RATINGS
            or right.__class__ is not bool
            or not (line["s"] > 0 and 1 <= line["d"] <= 10)
            or not (drill > 0 and line["ms"] >= 0 and line["limit"] >= 0)
        ):
            raise ValueError("no review of ours")
        if item.__class__ is not str or line["name"].__class__ is not str or drill.__class__ is not int:
            raise TypeError("no review of ours")
        day, family = _day(line["day"]), line["on"] + "|" + line["family"]
        _day(line["due"]), _day(line["last"]), line["critical"], line["hint"], line["answer"]
        kept = self._last.get(item)
        if kept is None:
            kept = self._last[item] = [line, 0, 0]
        kept[0] = line
        kept[1] += 1
        kept[2] += given == 1
        self._raw.append(line)
        self.today[day] = self.today.get(day, 0) + 1
        self.families[family] = drill
        self.names[item] = line["name"]

    def settle(self) -> None:
        """Stand where the last line of each item left it."""
        for item, (line, reviews, lapses) in self._last.items():
            self.standings[item] = Standing(
                float(line["s"]), float(line["d"]), _day(line["due"]), _day(line["last"]), reviews, lapses,
                line["right"], line["sure"], line["drill"],
            )  # fmt: skip
        self._last.clear()

    @property
    def reviews(self) -> list[Review]:
        """Every answer that counted, in order."""
        self._reviews += [_review(line) for line in self._raw]
        self._raw.clear()
        return self._reviews


def _review(line: dict[str, Any]) -> Review:
    return Review(
        _day(line["day"]), line["item"], line["name"], line["critical"] is True, line["rating"], line["right"],
        line["sure"], line["ms"], line["limit"], line["hint"] is True, line["answer"], line["drill"], line["family"],
    )  # fmt: skip


_RATINGS = frozenset({1, 2, 3, 4})

_DAYS: dict[str, date] = {}


def _day(value: Any) -> date:
    day = _DAYS.get(value)
    if day is None:
        day = _DAYS[value] = date.fromisoformat(value)
    return day


def _number(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise TypeError("a whole number is needed")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError("a text is needed")
    return one_line(value)


def history_path(folder: Path) -> Path:
    """The history's file below the person's own folder."""
    return folder / "rehearsal" / NAME


def read_history(path: Path) -> History:
    """The history at ``path``; an empty one where there is none. A damaged or foreign file is set aside, and said.

    Raises :class:`Unkept` where the file is there and cannot be read or moved.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except FileNotFoundError:
        return History(path)
    except OSError as error:
        raise Unkept(f"the history cannot be read ({error.strerror}): {clean(str(path))}") from error
    _make_private(path)
    if not raw:
        return History(path)
    made = History(path)
    lines = raw.split(b"\n") if len(raw) <= MAX_BYTES else []
    found = _format(lines[0]) if lines else None
    if found != FORMAT:
        aside = _set_aside(path, "damaged" if found is None else "format")
        ident = "told:unreadable" if found is None else "told:format"
        return History(path, said=Saying(ident, {"aside": aside, "format": found}))
    if _all_at_once(made, lines[1:]):
        made.settle()
        return made
    made = History(path)
    bad = 0
    for text in lines[1:]:
        if not text:
            continue
        try:
            made.take(json.loads(text))
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError, OverflowError):
            bad += 1
    made.settle()
    if not bad:
        return made
    aside = _set_aside(path, "damaged")
    _rewrite(path, lines[1:])
    made.said = Saying("told:damaged", {"aside": aside, "count": len(made.reviews)})
    return made


def _all_at_once(made: History, lines: list[bytes]) -> bool:
    """Take a whole file that is sound, in one reading; False where it is not, with ``made`` half filled."""
    try:
        for line in json.loads(b"[" + b",".join(line for line in lines if line) + b"]"):
            made.take(line)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, OverflowError):
        return False
    return True


def _format(line: bytes) -> int | None:
    try:
        head = json.loads(line)
        found = head["rehearsal"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    return found if isinstance(found, int) and not isinstance(found, bool) else None


def _make_private(path: Path) -> None:
    with contextlib.suppress(OSError):
        if path.stat().st_mode & 0o077:
            path.chmod(0o600)


def _set_aside(path: Path, why: str) -> str:
    for number in range(1, 10_000):
        aside = path.with_name(f"{path.stem}.{why}-{number}{path.suffix}")
        if not aside.exists():
            break
    try:
        path.rename(aside)
    except OSError as error:
        raise Unkept(f"the history is damaged and cannot be moved ({error.strerror}): {clean(str(path))}") from error
    return clean(aside.name)


def _rewrite(path: Path, lines: Iterable[bytes]) -> None:
    """A new file with the lines that can be read, byte for byte."""
    probe, kept = History(path), []
    for text in lines:
        try:
            probe.take(json.loads(text))
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError, OverflowError):
            continue
        kept.append(json.loads(text))
    History(path)._append(*kept)


def vanished(history: History, protocol: str, pads: str, known: Iterable[str]) -> tuple[str, ...]:
    """The names of items of a protocol or its pads rules that were once rehearsed and are there no more."""
    there = set(known)
    mine = tuple(f"{one}:" for one in (protocol, pads) if one)
    gone = {item for item in history.standings if item.startswith(mine) and item not in there}
    return tuple(sorted(one_line(history.names.get(item) or item) for item in gone))
