"""A protocol as SCXML, the W3C's open standard for state machines, so that other programs can run and draw it.

Each track is a region of one ``<parallel>``, with everything that an arrow does in its transition, entering the next
step included: so the order of actions and of raised events is the engine's. A timer is a delayed ``<send>`` of
``due.NAME``; a region of its own, the first, makes ``timer.NAME`` of it and sends it anew where it repeats. Marks are
0 or 1, facts are settled by the plan (unknown: -1 or ""), cues and faults are ``<log>``.

What SCXML cannot say stands in a comment at the head: which of two sends due at one moment comes first, a time that
counts from the last push, that an event which nothing takes is told to the instructor, and pauses.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree as xml

from coach.engine.machine import RESTART, START, Count, Machine, Move, Said
from coach.protocol.guards import And, Choice, Compare, Expr, InStep, Name, Not, Or, Running, Unknown
from coach.protocol.model import Wording
from coach.text import clean, one_line

NAMESPACE = "http://www.w3.org/2005/07/scxml"

CANNOT = (
    "Written from a training protocol; facts as settled for one drill. SCXML has no word for these, so that a run can"
    " differ in them: 1. two delayed events due at the same moment come in the order of the timers here; 2. the delay"
    " of a timer that counts from the last push is its whole time (marked: since the last push); 3. an event that no"
    " transition takes is lost here, and told to the instructor there; 4. delays stand still in a pause there; 5. two"
    " presses within 120 ms are one press there."
)

_TURNED = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}


def as_scxml(machine: Machine, language: str = "en") -> str:
    """The document as text. ``machine`` is a protocol built with the plan that settles its facts; cues are in
    ``language``, else in English."""
    root = _Writer(machine, language).document()
    xml.indent(root, "  ")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{xml.tostring(root, encoding="unicode")}\n'


def event_id(name: str) -> str:
    """An event's name in the document: a dot for each colon."""
    return name.replace(":", ".")


def state_id(machine: Machine, track: int, step: int) -> str:
    """A step's id in the document."""
    info = machine.tracks[track]
    return f"{event_id(info.name)}.{event_id(info.steps[step])}"


def counter_id(name: str) -> str:
    """A counter's datum."""
    return f"c_{_word(name)}"


def mark_id(name: str) -> str:
    """A mark's datum, 0 or 1."""
    return f"m_{_word(name)}"


def timer_id(name: str) -> str:
    """A timer's datum: firings left, -1 without a bound, 0 while it does not run."""
    return f"t_{_word(name)}"


def _word(name: str) -> str:
    return name.replace(":", "_").replace(".", "_")


class _Writer:
    def __init__(self, machine: Machine, language: str) -> None:
        self.machine = machine
        self.language = language
        self.facts = dict(zip(machine.fact_names, machine.facts, strict=True))

    def document(self) -> xml.Element:
        machine = self.machine
        head = {"xmlns": NAMESPACE, "version": "1.0", "datamodel": "ecmascript", "initial": "drill"}
        root = xml.Element("scxml", {**head, "name": machine.protocol})
        root.append(xml.Comment(f" {CANNOT} "))
        data = xml.SubElement(root, "datamodel")
        for ident, value in self._data():
            xml.SubElement(data, "data", {"id": ident, "expr": _literal(value)})
        drill = xml.SubElement(root, "parallel", {"id": "drill"})
        entered = xml.SubElement(drill, "onentry")
        for track in machine.tracks:
            self._content(entered, track.entries[track.start])
        self._timers(drill)
        for place in range(len(machine.tracks)):
            self._track(drill, place)
        return root

    # --- data ---------------------------------------------------------------------------------------------------------

    def _data(self) -> Iterator[tuple[str, Any]]:
        machine = self.machine
        for name in machine.counters:
            yield counter_id(name), 0
        for name in machine.marks:
            yield mark_id(name), 0
        for info in machine.timers:
            yield timer_id(info.name), 0
        for name, (_, fact) in machine.layout.facts.items():
            value = self.facts[name]
            if isinstance(value, tuple):
                for place, word in enumerate(value, 1):
                    yield f"f_{name}_{place}", word
            elif value is None:
                yield f"f_{name}", "" if fact.kind == "choice" else -1
            else:
                yield f"f_{name}", int(value) if isinstance(value, bool) else value

    # --- regions ------------------------------------------------------------------------------------------------------

    def _timers(self, drill: xml.Element) -> None:
        region = xml.SubElement(drill, "state", {"id": "timers", "initial": "timers.all"})
        state = xml.SubElement(region, "state", {"id": "timers.all"})
        for info in self.machine.timers:
            due, left = event_id(f"due:{info.name}"), timer_id(info.name)
            if info.every:
                again = xml.SubElement(state, "transition", {"event": due, "cond": f"{left} != 1"})
                if info.most > 0:
                    xml.SubElement(again, "assign", {"location": left, "expr": f"{left} - 1"})
                self._send(again, info.name, info.every)
                xml.SubElement(again, "raise", {"event": event_id(info.event)})
            last = xml.SubElement(state, "transition", {"event": due})
            xml.SubElement(last, "assign", {"location": left, "expr": "0"})
            if info.late:
                self._assign_marks(last, info.late, 1)
                self._log(last, Said("late", info.step, info.track))
                if f"late:{info.step}" in self.machine.cues:
                    self._log(last, Said("cue", f"late:{info.step}", info.track))
            else:
                xml.SubElement(last, "raise", {"event": event_id(info.event)})

    def _track(self, drill: xml.Element, track: int) -> None:
        machine = self.machine
        info = machine.tracks[track]
        region = xml.SubElement(
            drill, "state", {"id": event_id(info.name), "initial": state_id(machine, track, info.start)}
        )
        for step in range(len(info.steps)):
            state = xml.SubElement(region, "state", {"id": state_id(machine, track, step)})
            for event, row in machine.table.items():
                for place, by_step in row:
                    if place == track:
                        for move in by_step[step]:
                            self._transition(state, event, move)

    def _transition(self, state: xml.Element, event: str, move: Move) -> None:
        machine = self.machine
        asked = [] if move.guard is None else [self._condition(machine.guards[move.guard], True)]
        if event == "shock_pressed":
            armed = [f"In('{state_id(machine, *place)}')" for place in sorted(machine.armed)]
            asked.append(_joined(armed, "||"))
        table = {"event": event_id(event)}
        if asked:
            table["cond"] = _joined(asked, "&&")
        if move.to >= 0:
            table["target"] = state_id(machine, move.track, move.to)
        self._content(xml.SubElement(state, "transition", table), move)

    # --- what a move does ---------------------------------------------------------------------------------------------

    def _content(self, into: xml.Element, move: Move) -> None:
        self._assign_marks(into, move.clear & ~move.mark, 0)
        self._assign_marks(into, move.mark, 1)
        for count in move.counts:
            self._count(into, count)
        for what, timer in move.timing:
            self._timing(into, what, timer)
        for said in move.says:
            self._log(into, said)
        for event in move.emits:
            xml.SubElement(into, "raise", {"event": event_id(event)})

    def _assign_marks(self, into: xml.Element, bits: int, value: int) -> None:
        for place, name in enumerate(self.machine.marks):
            if bits >> place & 1:
                xml.SubElement(into, "assign", {"location": mark_id(name), "expr": str(value)})

    def _count(self, into: xml.Element, count: Count) -> None:
        ident = counter_id(self.machine.counters[count.counter])
        if count.put:
            xml.SubElement(into, "assign", {"location": ident, "expr": str(min(count.value, count.most))})
            return
        chosen = xml.SubElement(into, "if", {"cond": f"{ident} + {count.value} < {count.most}"})
        xml.SubElement(chosen, "assign", {"location": ident, "expr": f"{ident} + {count.value}"})
        xml.SubElement(chosen, "else")
        xml.SubElement(chosen, "assign", {"location": ident, "expr": str(count.most)})

    def _timing(self, into: xml.Element, what: int, timer: int) -> None:
        info = self.machine.timers[timer]
        left = timer_id(info.name)
        if what == START:
            into = xml.SubElement(into, "if", {"cond": f"{left} == 0"})
        else:
            xml.SubElement(into, "cancel", {"sendid": event_id(info.name)})
        if what in (START, RESTART):
            xml.SubElement(into, "assign", {"location": left, "expr": str(info.most)})
            if info.since_push:
                into.append(xml.Comment(" since the last push "))
            self._send(into, info.name, info.first)
        else:
            xml.SubElement(into, "assign", {"location": left, "expr": "0"})

    def _send(self, into: xml.Element, name: str, ms: int) -> None:
        ident = event_id(name)
        xml.SubElement(into, "send", {"event": f"due.{ident}", "id": ident, "delay": f"{ms}ms"})

    def _log(self, into: xml.Element, said: Said) -> None:
        machine = self.machine
        if said.kind in ("cue", "voice"):
            wording = (machine.cues if said.kind == "cue" else machine.voices)[said.name]
            text = self._text(wording)
        elif said.kind == "fault":
            fault = machine.faults[said.name]
            text = f"{fault.severity} {said.name}: {self._text(fault.say)}"
        elif said.kind == "late":
            text = said.name
        else:
            return  # steps and raised events are the document's own
        xml.SubElement(into, "log", {"label": said.kind, "expr": _literal(one_line(clean(text)))})

    def _text(self, wording: Wording) -> str:
        return wording.get(self.language) or wording.get("en") or next(iter(wording.values()), "")

    # --- conditions ---------------------------------------------------------------------------------------------------

    def _condition(self, expr: Expr, wanted: bool) -> str:
        """What is true exactly where a guard is ``wanted``; without "!", which not every reader knows."""
        match expr:
            case And(items):
                return _joined([self._condition(item, wanted) for item in items], "&&" if wanted else "||")
            case Or(items):
                return _joined([self._condition(item, wanted) for item in items], "||" if wanted else "&&")
            case Not(item):
                return self._condition(item, not wanted)
            case InStep(track, step):
                inside = f"In('{event_id(track)}.{event_id(step)}')"
                return inside if wanted else f"{inside} == false"
            case Running(timer):
                return f"{timer_id(timer)} {'!=' if wanted else '=='} 0"
            case Unknown(fact):
                return f"f_{fact} {'==' if wanted else '!='} {self._unknown(fact)}"
            case Compare(name, op, value):
                return self._compare(name, op if wanted else _TURNED[op], value, wanted)
            case Choice(name, op, words):
                return self._choice(name, words, (op != "!=") is wanted, wanted)
            case Name(name):
                if name in self.machine.layout.terms:
                    return self._condition(self.machine.layout.terms[name], wanted)
                if name in self.machine.layout.facts:
                    return f"f_{name} {'==' if wanted else '!='} 1"
                return f"{mark_id(name)} == {int(wanted)}"
        raise AssertionError(expr)

    def _unknown(self, fact: str) -> str:
        return "''" if self.machine.layout.facts[fact][1].kind == "choice" else "-1"

    def _compare(self, name: str, op: str, value: int, wanted: bool) -> str:
        if name in self.machine.layout.counters:
            return f"{counter_id(name)} {op} {value}"
        known = f"f_{name} {'!=' if wanted else '=='} -1"
        return _joined([known, f"f_{name} {op} {value}"], "&&" if wanted else "||")

    def _choice(self, name: str, words: tuple[str, ...], among: bool, wanted: bool) -> str:
        if name.startswith("this_") and name not in self.machine.layout.facts:
            return self._script(name.removeprefix("this_"), words, among)
        known = f"f_{name} {'!=' if wanted else '=='} ''"
        return _joined([known, _among(f"f_{name}", words, among)], "&&" if wanted else "||")

    def _script(self, name: str, words: tuple[str, ...], among: bool) -> str:
        """The entry of a script that its counter points at: the first up to 1, the last from its end on."""
        entries = self.facts[name]
        assert isinstance(entries, tuple)
        counter = counter_id(self.machine.layout.facts[name][1].counter)
        cases = []
        for place in range(1, len(entries) + 1):
            first, last = place == 1, place == len(entries)
            op = None if first and last else "<=" if first else ">=" if last else "=="
            case = [f"{counter} {op} {place}"] if op else []
            cases.append(_joined([*case, _among(f"f_{name}_{place}", words, among)], "&&"))
        return _joined(cases, "||")


def _among(ident: str, words: tuple[str, ...], among: bool) -> str:
    return _joined([f"{ident} {'==' if among else '!='} '{word}'" for word in words], "||" if among else "&&")


def _joined(parts: list[str], word: str) -> str:
    return parts[0] if len(parts) == 1 else f"({f' {word} '.join(parts)})" if parts else "false"


def _literal(value: Any) -> str:
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace("'", "\\'")
        return f"'{escaped}'"
    return str(value)
