"""Which items a sitting asks, and why: sure-and-wrong first, families that waited longest, what is due, what is new."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Literal, NamedTuple

from coach.engine.plan import draw
from coach.rehearse.history import History
from coach.rehearse.items import Item
from coach.rehearse.schedule import overdue, strength

A_DAY = 12
"""Most items a day (decided for this program: a quarter of an hour, not an evening)."""
A_SITTING = 8
LEAST = 2
"""A sitting of fewer would not keep the families coming round."""
OF_A_FAMILY = 3
"""Most items of one family in a sitting, so that kinds of decision alternate."""
WAITING_FAMILIES = 2
"""The families that waited longest have a place in each sitting: with up to twelve of them, each comes once in six."""

Reason = Literal["sure and wrong", "waited longest", "critical, due", "due", "new", "weakest"]


class Picked(NamedTuple):
    """An item of today and why it was picked."""

    item: str
    reason: Reason


def left_today(history: History, day: date) -> int:
    """How many items may still count today."""
    left = A_DAY - history.reviewed_on(day)
    return left if left >= LEAST else 0


def pick(
    items: Mapping[str, Item], history: History, protocol: str, day: date, seed: int, most: int | None = None
) -> tuple[Picked, ...]:
    """Today's items, the most pressing first."""
    room = min(left_today(history, day), A_SITTING) if most is None else min(left_today(history, day), most)
    standings = {item: history.standings[item] for item in items if item in history.standings}
    picked: dict[str, Reason] = {}
    counts: dict[str, int] = {}

    def add(item: str, reason: Reason, most_of_family: int = OF_A_FAMILY) -> None:
        family = items[item].family
        if item not in picked and len(picked) < room and counts.get(family, 0) < most_of_family:
            picked[item] = reason
            counts[family] = counts.get(family, 0) + 1

    def chance(item: str) -> int:
        return draw(seed, f"pick:{item}", 0, 0, 1_000_000)

    new = sorted((item for item in items if item not in standings), key=lambda i: (not items[i].critical, chance(i)))
    weak = {item: strength(item, standing, day) for item, standing in standings.items()}

    for item in sorted(standings, key=lambda i: (standings[i].last, i)):
        if standings[item].sure_and_wrong and len(picked) < max(room - WAITING_FAMILIES, 1):
            add(item, "sure and wrong", A_SITTING)
    families = sorted({one.family for one in items.values()}, key=lambda f: (history.family_seen(protocol, f), f))
    for family in families[:WAITING_FAMILIES]:
        mine = [item for item in items if items[item].family == family]
        due = [item for item in mine if item in standings and overdue(standings[item], day) >= 0]
        fresh = [item for item in new if items[item].family == family]
        rest = sorted((item for item in mine if item in standings), key=lambda i: (weak[i], i))
        for item in (*sorted(due, key=lambda i: (not items[i].critical, weak[i], i)), *fresh, *rest):
            if item not in picked:
                add(item, "waited longest", A_SITTING)
                break
    for item in sorted(standings, key=lambda i: (not items[i].critical, weak[i], i)):
        if overdue(standings[item], day) >= 0:
            add(item, "critical, due" if items[item].critical else "due")
    for turn in range(OF_A_FAMILY):  # new ones in turn from each family
        for family in sorted({items[item].family for item in new}, key=lambda f: draw(seed, f"family:{f}", 0, 0, 999)):
            mine = [item for item in new if items[item].family == family]
            if turn < len(mine):
                add(mine[turn], "new")
    if len(picked) < LEAST:
        for item in sorted(weak, key=lambda i: (weak[i], i)):
            if len(picked) < LEAST:
                add(item, "weakest")
    return tuple(Picked(item, reason) for item, reason in picked.items())


def pick_pads(
    items: Mapping[str, Item], history: History, protocol: str, day: date, seed: int, most: int | None = None
) -> tuple[Picked, ...]:
    """A set of quick fire: what is due first, then whatever there is; beyond today's twelve as practice only."""
    mine = {item: one for item, one in items.items() if one.kind == "pads"}
    room = min(left_today(history, day) or A_SITTING, most or A_SITTING)
    found = list(pick(mine, history, protocol, day, seed, room))
    known = {one.item for one in found}
    left = sorted((item for item in mine if item not in known), key=lambda i: draw(seed, f"more:{i}", 0, 0, 1_000_000))
    return tuple(found + [Picked(item, "weakest") for item in left][: max(room - len(found), 0)])
