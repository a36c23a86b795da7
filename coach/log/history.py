"""From a log back to what happened: the lines folded again, by the machine that the header describes.

Replay, measures, recovery and a second judgement all read a log through here, so that none of them can see another
drill than the rest.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from coach.engine.build import build
from coach.engine.digest import digest
from coach.engine.machine import Machine
from coach.engine.plan import Plan
from coach.log.happened import Answered, Break, Chosen, Happened, Look, Pin, Seen, Signed, Told
from coach.log.reading import Record
from coach.log.timeline import Input, Timeline
from coach.log.two_clocks import TwoClocks
from coach.protocol.model import Protocol
from coach.protocol.reading import read_protocol

PROMPT_MS = 10_000
"""How long a prompt counts for the step that it named (a tool's choice)."""

_seen = tuple.__new__
"""Makes the named tuple without its keyword machinery: a drill has some thousand."""

BREAKS = {"pause": "teaching", "stop": "safety"}


@dataclass(frozen=True, slots=True)
class Differs:
    """The first line whose digest is not that of the fold: its number, what it says and what the fold gives."""

    seq: int
    logged: str
    folded: str


@dataclass(slots=True)
class History:
    """A log folded line by line. ``inputs`` are the standing inputs by line; ``differs`` the first wrong digest."""

    machine: Machine
    timeline: Timeline
    clocks: TwoClocks = field(default_factory=TwoClocks)
    inputs: dict[int, Input] = field(default_factory=dict)
    strokes: dict[int, Mapping[str, Any]] = field(default_factory=dict)
    prompts: list[tuple[int, int, str]] = field(default_factory=list)
    voided: list[int] = field(default_factory=list)
    nudged: list[int] = field(default_factory=list)
    looks: dict[int, Look] = field(default_factory=dict)
    pins: dict[int, Pin] = field(default_factory=dict)
    away: list[tuple[int, int]] = field(default_factory=list)
    lost_at: int | None = None
    dropped: int = 0
    added_later: list[int] = field(default_factory=list)
    relabelled: list[int] = field(default_factory=list)
    answers: dict[str, Answered] = field(default_factory=dict)
    chosen: Chosen | None = None
    signed: Signed | None = None
    as_pressed: bool = False
    """True: keys stand where they were pressed, whatever was moved or named otherwise since."""
    compare: bool = True
    said: tuple[str, ...] = ()
    ended: str = ""
    end_t: int = 0
    end_e: int = 0
    end_seq: int = -1
    checked: int = 0
    differs: Differs | None = None

    def read(self, line: Mapping[str, Any]) -> None:
        """Fold one line."""
        kind, seq, t, e = line["kind"], line["seq"], line["t"], line["e"]
        if not self.ended and "because" not in line:
            if t > self.end_t:
                self.end_t = t
            if e > self.end_e:
                self.end_e = e
        if "input" in line:
            self._input(line)
            if kind == "key":  # most of a log: nothing else can be told by it
                self._compare(line)
                return
        if line.get("outcome") in ("dropped", "held"):
            self.dropped += 1
        if kind == "looked" and line["outcome"] == "taken":
            self.looks[seq] = Look(seq, e, line["target"], line["concern"])
        elif "input" in line or line.get("outcome") in ("refused", "nothing", "dropped", "held", "not mapped"):
            pass
        elif kind == "void":
            self._void(line["voids"])
        elif kind == "nudge":
            self.nudged.append(line["nudges"])
            self._move(line["nudges"], line["to_e"])
        elif kind == "retime":
            self.nudged.append(line["line"])
            self._move(line["line"], line["to_e"])
        elif kind == "relabel":
            self._relabel(line["line"], line["to"])
        elif kind == "confirmed":
            said = Answered(seq, line["finding"], line["answer"], line["who"], str(line.get("why", "")))
            self.answers[said.finding] = said
        elif kind == "chosen":
            self.chosen = Chosen(seq, line["finding"], line["who"], str(line.get("why", "")))
        elif kind in BREAKS and not line.get("card"):  # the card stands over a stop that is open already
            if self.clocks.paused is not None:
                self.clocks.close(t)
            self.clocks.open(BREAKS[kind], t)
        elif kind == "resume":
            self.clocks.close(t)
        elif kind == "hole":
            if self.clocks.paused is not None:
                self.clocks.close(line["from"])
            self.clocks.open("hole", line["from"])
            self.clocks.close(line["to"])
        elif kind == "pin":
            self.pins[seq] = Pin(seq, e, line["which"])
        elif kind == "prompted":
            self.prompts.append((seq, t, line["step"] or ""))
        elif kind == "classify" and line["pin"] in self.pins:
            pin = self.pins[line["pin"]]
            self.pins[line["pin"]] = Pin(pin.seq, pin.e, pin.which, line["label"])
        elif kind == "signoff":
            self.signed = Signed(seq, line["who"], str(line.get("result", "")), str(line.get("reason", "")))
        elif kind == "focus":
            self._focus(line["lost"], e)
        elif kind == "said":
            self.said = tuple(line["handover"])
        elif kind == "end":
            self.ended = line["reason"]
            self.end_t, self.end_e = line.get("end_t", t), line.get("end_e", e)
            self.end_seq = seq
        self._compare(line)

    def _compare(self, line: Mapping[str, Any]) -> None:
        """Hold the state to the digest that a line has, if it has one."""
        logged = line.get("digest")
        if self.compare and logged is not None and line["kind"] != "note":
            self.checked += 1
            found = digest(self.timeline.last)
            if found != logged and self.differs is None:
                self.differs = Differs(line["seq"], logged, found)

    def _input(self, line: Mapping[str, Any]) -> None:
        item = Input(line["e"], line["seq"], line["input"])
        self.timeline.put(item)
        self.inputs[item.seq] = item
        self.strokes[item.seq] = line
        if line["kind"] == "added_later":
            self.added_later.append(item.seq)

    def _void(self, seq: int) -> None:
        self.voided.append(seq)
        self.prompts = [prompt for prompt in self.prompts if prompt[0] != seq]
        self.looks.pop(seq, None)
        self.pins.pop(seq, None)
        if self.inputs.pop(seq, None) is not None:
            self.timeline.take(seq)

    def _relabel(self, seq: int, event: str) -> None:
        if seq in self.inputs and not self.as_pressed:
            self.relabelled.append(seq)
            self.timeline.take(seq)
            self.inputs[seq] = self.inputs[seq]._replace(event=event)
            self.timeline.put(self.inputs[seq])

    def _move(self, seq: int, e: int) -> None:
        if seq in self.inputs and not self.as_pressed:
            self.timeline.move(seq, e)
            self.inputs[seq] = self.inputs[seq]._replace(e=e)

    def _focus(self, lost: bool, e: int) -> None:
        if lost:
            self.lost_at = e if self.lost_at is None else self.lost_at
        elif self.lost_at is not None:
            self.away.append((self.lost_at, e))
            self.lost_at = None

    def happened(self) -> Happened:
        """What happened, as measures read it."""
        end_e = self.end_e
        entries = [entry for entry in self.timeline.entries if entry.input.e <= end_e]
        prompted = self._prompted(entry.input for entry in entries) if self.prompts else set()
        seen, states = [], []
        for entry in entries:
            e, seq, event = entry.input
            stroke = self.strokes[seq]
            pressed = stroke["e"]
            seen.append(
                _seen(
                    Seen,
                    (
                        seq,
                        e,
                        stroke["t"] + e - pressed,
                        event,
                        entry.outcome,
                        stroke.get("via", "script"),
                        stroke.get("key", ""),
                        "instructor",
                        pressed if e != pressed else None,
                        seq in prompted,
                        entry.before,
                    ),
                )
            )
            states.append(entry.after)
        told, cause = [], 0
        for effect, because in self.timeline.told(0, end_e):
            cause = because if because >= 0 else cause
            if effect.e <= end_e:
                told.append(Told(effect, cause))
        breaks = tuple(
            Break(
                stretch.kind,
                self.clocks.e_at(stretch.t_from),
                stretch.t_from,
                stretch.t_to if stretch.t_to is not None else self.end_t,
                stretch.t_to is None,
            )
            for stretch in self.clocks.stretches
        )
        away = list(self.away)
        if self.lost_at is not None:
            away.append((self.lost_at, end_e))
        return Happened(
            seen=tuple(seen),
            told=tuple(told),
            end_e=end_e,
            end_t=self.end_t,
            ended=self.ended or "interrupted",
            breaks=breaks,
            looks=tuple(self.looks.values()),
            pins=tuple(self.pins.values()),
            away=tuple(away),
            shortened=tuple(
                entry.input.e for entry in entries if entry.input.event == "period_cut" and entry.outcome == "taken"
            ),
            voided=tuple(self.voided),
            nudged=tuple(self.nudged),
            dropped=self.dropped,
            added_later=tuple(self.added_later),
            relabelled=tuple(self.relabelled),
            answers=tuple(self.answers.values()),
            chosen=self.chosen,
            signed=self.signed,
            handover_said=self.said,
            states=tuple(states),
            end_seq=self.end_seq,
        )

    def _prompted(self, inputs: Iterable[Input]) -> set[int]:
        """Lines of the steps that the instructor prompted: the one named, within ten seconds; else the next seen."""
        open_prompts = list(self.prompts)
        found: set[int] = set()
        for item in inputs:
            t = self.strokes[item.seq]["t"]
            for prompt in list(open_prompts):
                _, asked, event = prompt
                if asked <= t <= asked + PROMPT_MS and event in ("", item.event):
                    found.add(item.seq)
                    open_prompts.remove(prompt)
        return found


def begin(header: Mapping[str, Any], protocol: Protocol | None = None) -> History:
    """An empty history under the header's own protocol and plan, or under another ``protocol`` (a second judgement).

    Raises :class:`coach.protocol.problems.FileProblems` where the header's protocol text cannot be read.
    """
    if protocol is None:
        protocol = read_protocol(
            header["protocol"]["text"], name=f"the protocol in the log ({header['protocol']['id']})"
        )
    machine = build(protocol, Plan.from_json(header["plan"]))
    return History(machine, Timeline(machine))


def fold(
    record: Record, protocol: Protocol | None = None, *, as_pressed: bool = False, compare: bool = True
) -> History:
    """The whole log, folded; ``as_pressed`` with every key where, and as what, it was pressed. Without ``compare`` the
    states are not held to the digests in the log: replay does that, and a page need not again."""
    history = begin(record.header, protocol)
    history.as_pressed, history.compare = as_pressed, compare
    for line in record.lines:
        history.read(line)
    return history


def happened(record: Record, protocol: Protocol | None = None) -> Happened:
    """What happened in a log."""
    return fold(record, protocol).happened()
