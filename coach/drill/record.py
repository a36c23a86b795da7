"""What of a drill becomes lines: effects are written once, when they become due, and never taken back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from coach.drill.setup import words_of
from coach.engine.machine import Machine
from coach.engine.state import Effect
from coach.log.timeline import Timeline
from coach.log.two_clocks import TwoClocks
from coach.log.writing import Log
from coach.observations import OBSERVATIONS
from coach.protocol.model import Wording

NOT_SHOWN = -1
"""In place of a line number: an effect that makes no line, or a cue of the past that nobody was shown."""


_EMITTED = {"unit": "emit", "brought": "emit", "thrown": "emit"}


class Scribe:
    """Writes lines and remembers which effects stand in the log."""

    def __init__(self, log: Log, machine: Machine, clocks: TwoClocks, mode: str, language: str) -> None:
        self.log = log
        self.clocks = clocks
        self.machine = machine
        self.mode = mode
        self.language = language
        self.written: list[tuple[Effect, int]] = []
        """The effects of the fold up to the last settling, each with its line."""
        self._starts: list[int] = []
        """How many effects lie before each entry of the timeline."""
        self._entries_end = 0
        """How many effects lie before the throw-away tail behind the last entry."""

    def line(self, kind: str, t: int, e: int, urgent: bool = False, **members: Any) -> int:
        """Write one line; its number."""
        seq = self.log.seq
        self.log.write({"seq": seq, "t": t, "e": e, "kind": kind, **members}, urgent=urgent)
        return seq

    def words(self, wording: Wording) -> str:
        """The text in the drill's language."""
        return words_of(wording, self.language)

    def cue_shown(self, name: str) -> bool:
        """Whether this mode shows the cue: all in teach, late ones in practise, none in test."""
        return self.mode == "teach" or (self.mode == "practise" and name.startswith("late:"))

    def settle(self, timeline: Timeline, place: int, e: int, past: bool) -> bool:
        """Bring the lines into step with the timeline from entry ``place`` up to ``e`` (ms). ``past`` is true after a
        void or a move: cues of before now are then not shown again. True where a line was written."""
        self._count(timeline, place)
        start = (*self._starts, self._entries_end)[place] if place else 0
        old = self.written[start:]
        told = timeline.told(place, e)
        if [effect for effect, _ in old] == [effect for effect, _ in told]:
            return False
        del self.written[start:]
        before = self.log.seq
        left = list(old)
        cause = 0
        for effect, because in told:
            because = cause if because == -1 else because
            match = next((entry for entry in left if entry[0] == effect), None)
            if match is None and past and effect.kind in ("cue", "voice"):
                # A cue that only moved in time was shown, and stays as it was.
                match = next((entry for entry in left if entry[0]._replace(e=effect.e) == effect), None)
            if match is not None:
                left.remove(match)
                seq = match[1]
            else:
                seq = self._write(effect, because, past and effect.e < e)
            if effect.kind in ("timer", "late") and seq != NOT_SHOWN:
                cause = seq
            self.written.append((effect, seq))
        gone = [seq for _, seq in left if seq != NOT_SHOWN]
        if gone:
            self.line("superseded", self.clocks.t_at(e), e, lines=gone, because=before - 1)
        return self.log.seq != before

    def take_up(self, timeline: Timeline, lines: Sequence[Mapping[str, Any]], e: int) -> None:
        """Remember what an interrupted drill had written up to ``e`` (ms), so that nothing is written twice."""
        self._count(timeline, 0)
        known: dict[tuple[str, str, int], int] = {}
        for line in lines:
            if "because" in line and "name" in line:
                known[(_EMITTED.get(line["kind"], line["kind"]), line["name"], line["e"])] = line["seq"]
        self.written = [
            (effect, known.get((effect.kind, effect.name, effect.e), NOT_SHOWN)) for effect, _ in timeline.told(0, e)
        ]

    def _count(self, timeline: Timeline, place: int) -> None:
        """Count the effects before each entry, from ``place`` on."""
        del self._starts[place:]
        total = self._starts[-1] if self._starts else len(timeline.opening)
        if self._starts:
            total += _size(timeline, len(self._starts) - 1)
        for index in range(len(self._starts), len(timeline.entries)):
            self._starts.append(total)
            total += _size(timeline, index)
        self._entries_end = total

    def _write(self, effect: Effect, because: int, past: bool) -> int:
        members: dict[str, Any] = {"because": because, "name": effect.name}
        kind: str = effect.kind
        if effect.kind in ("cue", "voice"):
            if past or (effect.kind == "cue" and not self.cue_shown(effect.name)):
                return NOT_SHOWN
            table = self.machine.cues if effect.kind == "cue" else self.machine.voices
            members["text"] = self.words(table[effect.name])
        elif effect.kind == "emit":
            if effect.name in OBSERVATIONS:
                kind = "unit" if OBSERVATIONS[effect.name].by == "unit" else "brought"
                members["by"] = "unit" if kind == "unit" else "scenario"
            elif effect.name.startswith("inject:"):
                kind, members["by"] = "thrown", "scenario"
            else:
                return NOT_SHOWN
        elif effect.kind == "step":
            members |= {"track": effect.track, "was": effect.was, "arrow": effect.arrow}
        elif effect.kind == "fault":
            members |= {"arrow": effect.arrow, "severity": self.machine.faults[effect.name].severity}
        return self.line(kind, self.clocks.t_at(effect.e), effect.e, **members)


def _size(timeline: Timeline, index: int) -> int:
    entry = timeline.entries[index]
    return len(entry.waited) + sum(effect.kind != "ignored" for effect in entry.effects)
