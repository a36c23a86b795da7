"""Matters of the shipped files, histories in memory or on disk, and a learner who answers."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import cache
from pathlib import Path

from coach.protocol.library import list_protocols
from coach.rehearse.history import History
from coach.rehearse.matter import Matter, load_matter
from coach.rehearse.sitting import NOTHING, Sitting

ERC, AHA = "erc-2025/adult-one-rescuer", "aha-2025/adult-one-rescuer"
SHIPPED = tuple(entry.id for entry in list_protocols() if entry.where == "shipped")
ADULT = tuple(protocol for protocol in SHIPPED if "/adult-" in protocol)
DAY = date(2026, 1, 5)


@cache
def matter(protocol: str = ERC) -> Matter:
    """The matter of a shipped protocol."""
    return load_matter(protocol, "ERC 2025")


class Unwritten(History):
    """A history that never touches the disk."""

    def _append(self, *lines: dict[str, object]) -> None:
        """Keep nothing."""


def empty() -> History:
    """A new learner's history, in memory."""
    return Unwritten(Path("nowhere"))


Answers = Callable[[Sitting], str]
"""What the learner does at a question: an action's id."""


def right(sitting: Sitting) -> str:
    """The right answer."""
    question = sitting.question
    assert question is not None
    return sitting._right()


def wrong(sitting: Sitting) -> str:
    """A wrong answer among those shown."""
    question = sitting.question
    assert question is not None
    return next(action for action, _ in question.options if action != sitting._right())


def play(
    sitting: Sitting, answers: Answers = right, sure: str = "think", thinks_ms: int = 3_000, most: int = 400
) -> list[str]:
    """Play a sitting to its end; returns the items asked, in order."""
    asked: list[str] = []
    at = 0
    sitting.begin(at)
    for _ in range(most):
        if sitting.phase == "over":
            return asked
        question = sitting.question
        assert question is not None
        if sitting.phase == "told":
            sitting.go_on(at)
            continue
        if not question.again:
            asked.append(question.item)
        if sitting.phase == "handover":
            sitting.handed_over(("who_where", "cpr_since_by", "shocks", "now", "needed", "seen"), at)
            continue
        if sitting.phase == "sure":
            sitting.sure(sure)  # type: ignore[arg-type]
        at += thinks_ms
        action = answers(sitting)
        if action == NOTHING:
            sitting.dont_know(at)
        else:
            sitting.answer(action, at)
    raise AssertionError("the sitting did not end")


def until(sitting: Sitting, item_tail: str) -> Sitting:
    """Play rightly until an item is asked."""
    at = 0
    sitting.begin(at)
    for _ in range(200):
        question = sitting.question
        assert question is not None, f"{item_tail} never came"
        if sitting.phase == "told":
            sitting.go_on(at)
        elif question.item.endswith(item_tail):
            return sitting
        elif sitting.phase == "handover":
            sitting.handed_over((), at)
        else:
            sitting.sure("think")
            sitting.answer(sitting._right(), at)
    raise AssertionError(f"{item_tail} never came")
