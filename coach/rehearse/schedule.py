"""When an item comes back: py-fsrs decides, fed with a rating from what was answered, how fast and how surely.

Everything is by whole days: a review counts as made at noon UTC of the learner's own day, so that the hour of a sitting
changes nothing. There is no fuzz and there are no steps within a day, so that a history gives one schedule.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from typing import Literal, NamedTuple

from fsrs import Card, Rating, Scheduler, State

Sure = Literal["sure", "think", "guess"]
SURENESS: tuple[Sure, ...] = ("sure", "think", "guess")

CRITICAL_DAYS = 60
"""Longest that a critical item stays away (decided for this program, after boxes of 1, 3, 7, 21 and 60 days)."""
OTHER_DAYS = 180
RETENTION = 0.9
"""Wanted chance of still knowing an item when it comes back: py-fsrs' own default."""

_CRITICAL = Scheduler(
    desired_retention=RETENTION, learning_steps=(), relearning_steps=(), maximum_interval=CRITICAL_DAYS,
    enable_fuzzing=False,
)  # fmt: skip
_OTHER = Scheduler(
    desired_retention=RETENTION, learning_steps=(), relearning_steps=(), maximum_interval=OTHER_DAYS,
    enable_fuzzing=False,
)  # fmt: skip


def scheduler(critical: bool) -> Scheduler:
    """The library's scheduler for an item of this weight."""
    return _CRITICAL if critical else _OTHER


class Standing(NamedTuple):
    """How an item stands: the library's figures after its last review, and that review's outcome."""

    stability: float
    difficulty: float
    due: date
    last: date
    reviews: int
    lapses: int
    right: bool
    sure: Sure
    drill: int

    @property
    def sure_and_wrong(self) -> bool:
        """Wrong last time, and sure of it: this comes first."""
        return not self.right and self.sure == "sure"


def noon(day: date) -> datetime:
    """The moment that stands for a day."""
    return datetime.combine(day, time(12), UTC)


def rating(*, right: bool, ms: int, limit_ms: int | None, hint: bool, sure: Sure) -> Rating:
    """The rating that the library is given.

    Wrong or "I don't know": Again. Right, but over the limit, with a hint or by a guess: Hard. Right within half the
    limit and sure: Easy. Else Good. Without a limit speed says nothing.
    """
    if not right:
        return Rating.Again
    if hint or sure == "guess" or (limit_ms is not None and ms > limit_ms):
        return Rating.Hard
    if sure == "sure" and limit_ms is not None and ms * 2 <= limit_ms:
        return Rating.Easy
    return Rating.Good


def card_of(item: str, standing: Standing | None, day: date) -> Card:
    """The library's card for an item as it stands; a new one for an item never met."""
    number = int.from_bytes(hashlib.sha256(item.encode()).digest()[:6], "big")
    if standing is None:
        return Card(card_id=number, due=noon(day))
    return Card(
        number, State.Review, None, standing.stability, standing.difficulty, noon(standing.due), noon(standing.last)
    )


def review(
    item: str, critical: bool, standing: Standing | None, given: Rating, day: date, *, right: bool, sure: Sure,
    drill: int, ms: int | None = None,
) -> Standing:  # fmt: skip
    """The item after a review on ``day``, as the library has it."""
    # A clock that was set back must not turn the library's intervals round.
    day = day if standing is None or day >= standing.last else standing.last
    card, _ = scheduler(critical).review_card(card_of(item, standing, day), given, noon(day), ms)
    assert card.stability is not None and card.difficulty is not None, "a reviewed card has both"
    return Standing(
        card.stability,
        card.difficulty,
        card.due.date(),
        day,
        (standing.reviews if standing else 0) + 1,
        (standing.lapses if standing else 0) + (given == Rating.Again),
        right,
        sure,
        drill,
    )


def strength(item: str, standing: Standing | None, day: date) -> float:
    """The library's chance, 0 to 1, that the item is still known on ``day``; 0 for one never met."""
    if standing is None:
        return 0.0
    return float(_OTHER.get_card_retrievability(card_of(item, standing, day), noon(max(day, standing.last))))


def overdue(standing: Standing, day: date) -> int:
    """Days past due; negative while it is not due yet."""
    return (day - standing.due).days


Standings = Mapping[str, Standing]
