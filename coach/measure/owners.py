"""Whose a fault is, and how near two marks may lie before their order counts: fairness to the learner, in one place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from coach.protocol.model import Protocol

Owner = Literal["learner", "team", "kit"]

NO_ORDER_MS = 2_000
"""Two marks by hand closer than this have no order."""


def no_order_ms(reaction_ms: float) -> int:
    """The window in which two marks have no order: 2 s, or twice the assessor's own tested reaction if greater."""
    return max(NO_ORDER_MS, round(2 * reaction_ms))


@dataclass(frozen=True, slots=True)
class Owners:
    """Who held what in one drill. With one rescuer all is the learner's. With more, a step or fault is the learner's
    where the file gives it to a role that they held; else it is the team's, which fails nobody. ``no_order_ms`` is the
    window in which two marks have no order."""

    protocol: Protocol
    rescuers: int = 1
    role: str = ""
    no_order_ms: int = NO_ORDER_MS

    def of_role(self, roles: Sequence[str]) -> Owner:
        """Whose a step with these roles is."""
        return "learner" if self.rescuers < 2 or self.role in roles else "team"


def owners_of(protocol: Protocol, header: Mapping[str, Any]) -> Owners:
    """Who held what, by the header of a drill's log."""
    facts = (header.get("plan") or {}).get("facts") or {}
    rescuers = facts.get("rescuers")
    return Owners(
        protocol,
        rescuers if isinstance(rescuers, int) else 1,
        str(header.get("role") or ""),
        no_order_ms(float(header.get("reaction_ms") or 0)),
    )
