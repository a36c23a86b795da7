"""The four to six actions to choose among: one of them right, none impossible, none also right, shuffled by seed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from coach.engine.plan import draw
from coach.rehearse.moments import Moment
from coach.rehearse.temptations import TEMPTATIONS
from coach.rehearse.world import Walk

FEWEST, MOST = 4, 6

T = TypeVar("T")


def shuffled(entries: Sequence[T], seed: int, purpose: str) -> list[T]:
    """The entries in an order that the seed and the purpose fix."""
    left = list(entries)
    made: list[T] = []
    for number in range(len(left)):
        made.append(left.pop(draw(seed, purpose, number, 0, len(left) - 1)))
    return made


def wrong_ones(walk: Walk, moment: Moment) -> tuple[list[str], list[str]]:
    """What could be done here and would be wrong: by the protocol (dangerous first), then what people do instead."""
    judged = [(action, walk.judge(moment, action)) for action in walk.moments.actions]
    danger = [action for action, one in judged if one.worth == "danger"]
    faulty = [action for action, one in judged if one.worth == "wrong" and one.fault is not None]
    others = [action for action, one in judged if one.worth == "wrong" and one.fault is None]
    if "rolled" in moment.right:  # nobody could tell the two apart in words
        danger, faulty = ([a for a in some if a != "recovery"] for some in (danger, faulty))
    tempting = [name for name, one in TEMPTATIONS.items() if one.needs <= moment.tags and not one.bars & moment.tags]
    return danger + faulty, others + tempting


def choices(
    walk: Walk, moment: Moment, seed: int, purpose: str, without: frozenset[str] = frozenset()
) -> tuple[str, ...]:
    """The actions to show, shuffled. ``without`` leaves out what was tried at this moment before, while four remain."""
    telling, plain = wrong_ones(walk, moment)
    telling = shuffled(telling, seed, f"{purpose}:telling")
    plain = shuffled(plain, seed, f"{purpose}:plain")
    # What would be a fault at any time is offered at every other question only, or nobody would read it.
    rare = [action for action in telling if walk.moments.everywhere(walk.state, action)]
    shy = draw(seed, f"{purpose}:rare", 0, 0, 1) == 0
    first = [action for action in telling if action not in rare or not shy]
    pool = [*first[:2], *plain, *first[2:], *(action for action in telling if action not in first)]
    fresh = [action for action in pool if action not in without]
    if len(fresh) >= FEWEST - 1:
        pool = fresh
    count = draw(seed, f"{purpose}:count", 0, FEWEST, MOST)
    return tuple(shuffled([moment.right[0], *pool[: count - 1]], seed, f"{purpose}:order"))
