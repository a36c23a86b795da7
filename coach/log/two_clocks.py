"""Two clocks: ``t`` never stops; ``e`` is ``t`` less closed pauses and holes, and stands still in an open one."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(slots=True)
class Stretch:
    """One pause or hole, in ms since go; ``t_to`` is None while it is open."""

    kind: str
    t_from: int
    t_to: int | None = None


@dataclass(slots=True)
class TwoClocks:
    """The pauses of one drill, in order, and the arithmetic between ``t`` and ``e``."""

    stretches: list[Stretch] = field(default_factory=list)

    def open(self, kind: str, t: int) -> None:
        """A pause begins at ``t`` (ms)."""
        self.stretches.append(Stretch(kind, t))

    def close(self, t: int) -> None:
        """The open pause ends at ``t`` (ms)."""
        self.stretches[-1].t_to = t

    @property
    def paused(self) -> Stretch | None:
        """The open pause, if there is one."""
        last = self.stretches[-1] if self.stretches else None
        return last if last is not None and last.t_to is None else None

    def e_at(self, t: int) -> int:
        """The engine's time at ``t`` (ms)."""
        lost = 0
        for stretch in self.stretches:
            if stretch.t_from >= t:
                break
            end = t if stretch.t_to is None or stretch.t_to > t else stretch.t_to
            lost += end - stretch.t_from
        return t - lost

    def t_at(self, e: int) -> int:
        """The first ``t`` (ms) whose engine time is ``e``."""
        lost = 0
        for stretch in self.stretches:
            if stretch.t_to is None or e <= stretch.t_from - lost:
                break
            lost += stretch.t_to - stretch.t_from
        return e + lost
