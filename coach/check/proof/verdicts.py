"""What the checker says of a rule."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

from coach.check.proof.rules import Rule
from coach.check.proof.story import Story

Kind = Literal["holds", "broken", "vacuous", "not decided"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """One verdict: ``classes`` is how many state classes (or cases) it rests on; ``story`` is there where it is broken,
    but for rules on pads and on what is possible; ``why`` says what there is to say beside it. ``pending`` marks a
    first answer that a closer look has to replace. ``longest`` is how much of its time limit a rule that holds ever
    takes, in ms."""

    kind: Kind
    classes: int
    story: Story | None = None
    why: str = ""
    pending: bool = False
    longest: int | None = None

    def as_dict(self) -> dict[str, Any]:
        """The verdict as plain values, for JSON."""
        told = self.story.as_dict() if self.story is not None else None
        return {"kind": self.kind, "classes": self.classes, "why": self.why, "story": told}


@dataclass(frozen=True, slots=True)
class RuleVerdict:
    """The verdicts on one rule: ``taught`` on all ways without fault arrows, ``noticed`` on all ways (what breaks
    it goes over a fault), ``without`` the taught one without what the rule assumes (None where it assumes nothing)."""

    rule: Rule
    taught: Verdict
    noticed: Verdict
    without: Verdict | None = None

    @property
    def kind(self) -> Kind:
        """The worse of ``taught`` and ``noticed``."""
        return max((self.taught.kind, self.noticed.kind), key=_WORSE.index)

    def is_final(self) -> bool:
        """False where one of the verdicts is still to be asked of each way of counting apart."""
        return all(one is None or not one.pending for one in (self.taught, self.noticed, self.without))

    @property
    def story(self) -> Story | None:
        """The story that matters most."""
        return self.taught.story or self.noticed.story

    def as_dict(self) -> dict[str, Any]:
        """The verdicts as plain values, for JSON."""
        without = self.without.as_dict() if self.without is not None else None
        return {
            "rule": self.rule.id,
            "form": self.rule.form,
            "verdict": self.kind,
            "as_taught": self.taught.as_dict(),
            "as_noticed": self.noticed.as_dict(),
            "without_assumption": without,
        }


_WORSE: tuple[Kind, ...] = ("holds", "vacuous", "not decided", "broken")


def joined(one: RuleVerdict, other: RuleVerdict) -> RuleVerdict:
    """The verdict on a rule from those under two ways of counting."""
    without = _worse(one.without, other.without) if one.without is not None and other.without is not None else None
    return RuleVerdict(one.rule, _worse(one.taught, other.taught), _worse(one.noticed, other.noticed), without)


def _worse(one: Verdict, other: Verdict) -> Verdict:
    order = ("broken", "not decided", "holds", "vacuous")
    first = min(one, other, key=lambda verdict: order.index(verdict.kind))
    longest = max((found.longest for found in (one, other) if found.longest is not None), default=None)
    return replace(first, classes=one.classes + other.classes, longest=longest)
