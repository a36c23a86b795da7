"""The fold: a drill's state is what its inputs make of the machine, in order of time; nothing else.

Appending, voiding, moving and a key that arrives late all come down to one thing: change the list of inputs and fold
again from the first place that changed.
"""

from __future__ import annotations

from bisect import bisect_left
from typing import NamedTuple

from coach.engine.machine import Machine
from coach.engine.state import Effect, State
from coach.engine.step import Outcome, advance, feed, start


class Input(NamedTuple):
    """An input of the engine: its adjusted time ``e`` (ms), the log line that it stands on, and the event."""

    e: int
    seq: int
    event: str


class Folded(NamedTuple):
    """An input with what came of it: the state that it found and the one that it left, the effects of the timers that
    fired on the way (``waited``) and its own (``effects``), and the outcome."""

    input: Input
    before: State
    after: State
    waited: tuple[Effect, ...]
    effects: tuple[Effect, ...]
    outcome: Outcome


_folded = tuple.__new__
"""Makes the named tuple without its keyword machinery: a drill makes some thousand."""


class Timeline:
    """All standing inputs of a drill, folded. Not a value: it grows with the drill."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.first, self.opening = start(machine)
        self.entries: list[Folded] = []
        self._order: list[tuple[int, int]] = []

    @property
    def last(self) -> State:
        """The state after the last standing input."""
        return self.entries[-1].after if self.entries else self.first

    def put(self, item: Input) -> int:
        """Add an input at its place in time; returns the index from which the history was folded anew."""
        if not self._order or self._order[-1] < (item.e, item.seq):  # as nearly every key comes
            self._fold(item)
            return len(self.entries) - 1
        place = bisect_left(self._order, (item.e, item.seq))
        later = [entry.input for entry in self.entries[place:]]
        self._cut(place)
        self._fold(item)
        for other in later:
            self._fold(other)
        return place

    def take(self, seq: int) -> int:
        """Remove the input of line ``seq``; returns the index from which the history was folded anew.

        Raises ``KeyError`` where no standing input bears that number.
        """
        place = next((place for place, entry in enumerate(self.entries) if entry.input.seq == seq), -1)
        if place < 0:
            raise KeyError(seq)
        later = [entry.input for entry in self.entries[place + 1 :]]
        self._cut(place)
        for other in later:
            self._fold(other)
        return place

    def move(self, seq: int, e: int) -> int:
        """Put the input of line ``seq`` at time ``e`` (ms); returns the first index folded anew."""
        item = next((entry.input for entry in self.entries if entry.input.seq == seq), None)
        if item is None:
            raise KeyError(seq)
        return min(self.take(seq), self.put(item._replace(e=e)))

    def at(self, e: int) -> tuple[State, tuple[Effect, ...]]:
        """The state at ``e`` (ms) if nothing more happened, and the effects since the last input; a throw-away view.

        ``e`` before the last input stands at the last input.
        """
        last = self.last
        return advance(self.machine, last, e if e > last.e else last.e)

    def state_before(self, e: int, seq: int) -> State:
        """The state in which an input at ``e`` on line ``seq`` would find the machine."""
        place = bisect_left(self._order, (e, seq))
        before = self.entries[place - 1].after if place else self.first
        return advance(self.machine, before, e)[0]

    def told(self, place: int, e: int) -> list[tuple[Effect, int]]:
        """All effects from entry ``place`` on and up to ``e`` (ms), each with what it comes from: the line number of an
        input, 0 for go, -1 for a timer that fired earlier in the list."""
        told: list[tuple[Effect, int]] = [(effect, 0) for effect in self.opening] if place == 0 else []
        before = self.entries[place - 1].input.seq if place else 0
        for entry in self.entries[place:]:
            if entry.waited:
                told += _by_timers(entry.waited, before)
            before = entry.input.seq
            if entry.effects:
                told += [(effect, before) for effect in entry.effects if effect.kind != "ignored"]
        told += _by_timers(self.at(e)[1], before)
        return told

    def _cut(self, place: int) -> None:
        del self.entries[place:]
        del self._order[place:]

    def _fold(self, item: Input) -> None:
        before, waited = advance(self.machine, self.last, item.e)
        after, effects, outcome = feed(self.machine, before, item.event, item.e)
        self.entries.append(_folded(Folded, (item, before, after, waited, effects, outcome)))
        self._order.append((item.e, item.seq))


def _by_timers(effects: tuple[Effect, ...], before: int) -> list[tuple[Effect, int]]:
    return [(effect, before if effect.kind in ("timer", "late") else -1) for effect in effects]
