"""Which lines a log may hold, and what each must carry so that its meaning is not lost."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

FORMAT = 1
"""The log format that this program writes, and the newest that it reads."""

OUTCOMES = frozenset(
    {"taken", "not expected", "not armed", "not mapped", "dropped", "held", "refused", "nothing"},
)
"""What can become of a keystroke."""

END_REASONS = frozenset({"ended", "safety", "interrupted"})
ANSWERS = frozenset({"saw", "did-not-happen", "not-looking"})
"""What an assessor can say of a finding that is to be confirmed."""


class LogProblem(Exception):
    """A log, or one line of it, that cannot be used. The file is as it was.

    ``line`` counts from 1 as editors do (0: the file itself); ``seq`` is the number that the line should bear;
    ``what`` is wrong there, and ``todo`` is what a person can do.
    """

    def __init__(self, path: Path, line: int, what: str, todo: str, seq: int | None = None) -> None:
        self.path = path
        self.line = line
        self.seq = seq
        self.what = what
        self.todo = todo
        super().__init__(path, line, what, todo, seq)

    @property
    def where(self) -> str:
        """``file``, or ``file: line 12 (seq 11)``."""
        if not self.line:
            return str(self.path)
        return f"{self.path}: line {self.line}" + (f" (seq {self.seq})" if self.seq is not None else "")

    def __str__(self) -> str:
        return f"{self.where}: {self.what}. To do: {self.todo}."


Check = Callable[[Any], bool]


def is_whole(value: object) -> bool:
    """A whole number; JSON's ``true`` is none, though Python's is."""
    return type(value) is int


def is_text(value: object) -> bool:
    """A string."""
    return isinstance(value, str)


def is_hash(value: object) -> bool:
    """A sha256 in lower-case hex."""
    return isinstance(value, str) and re.fullmatch(r"[0-9a-f]{64}", value) is not None


def _not_negative(value: object) -> bool:
    return type(value) is int and value >= 0


def _said(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _bool(value: object) -> bool:
    return isinstance(value, bool)


def _text_or_none(value: object) -> bool:
    return value is None or isinstance(value, str)


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(v, str) for v in value)


def _wholes(value: object) -> bool:
    return isinstance(value, list) and all(_not_negative(v) for v in value)


def _reason(value: object) -> bool:
    return value in END_REASONS if isinstance(value, str) else False


def _answer(value: object) -> bool:
    return value in ANSWERS if isinstance(value, str) else False


_EFFECT: dict[str, Check] = {"because": _not_negative, "name": is_text}
_LATER: dict[str, Check] = {"who": _said, "why": is_text}

KINDS: dict[str, dict[str, Check]] = {
    "header": {},
    "before": {},
    "go": {},
    "begun": {"input": is_text},
    "key": {},
    "void": {"voids": _not_negative},
    "nudge": {"nudges": _not_negative, "to_e": _not_negative},
    "pin": {"which": is_text},
    "looked": {"target": is_text, "concern": _bool},
    "prompted": {"step": _text_or_none},
    "shortened": {},
    "pause": {},
    "resume": {},
    "stop": {},
    "end": {"reason": _reason},
    "inject": {"input": is_text},
    "advice": {"input": is_text},
    "seen": {"input": is_text},
    "focus": {"lost": _bool},
    "paste": {"length": _not_negative},
    "hole": {"from": _not_negative, "to": _not_negative, "machine_restarted": _bool},
    "recovered": {},
    "taken_over": {"dropped": _not_negative},
    "note": {"digest": is_text},
    "said": {"handover": _texts},
    "classify": {"pin": _not_negative, "label": is_text, **_LATER},
    "retime": {"line": _not_negative, "to_e": _not_negative, **_LATER},
    "relabel": {"line": _not_negative, "to": is_text, **_LATER},
    "confirmed": {"finding": _said, "answer": _answer, **_LATER},
    "chosen": {"finding": is_text, **_LATER},
    "signoff": {"who": _said},
    "added_later": {"input": is_text, **_LATER},
    "step": _EFFECT,
    "cue": _EFFECT,
    "voice": _EFFECT,
    "timer": _EFFECT,
    "late": _EFFECT,
    "fault": _EFFECT,
    "unit": _EFFECT,
    "brought": _EFFECT,
    "thrown": _EFFECT,
    "superseded": {"lines": _wholes, "because": _not_negative},
}
"""Every kind of line, and what it must carry: of a line that came from a key, only where the key was taken."""

AFTER_END = frozenset(
    {"classify", "retime", "relabel", "confirmed", "chosen", "signoff", "added_later", "note", "said", "superseded"}
)
"""The kinds that may follow ``end``: what people say of the drill afterwards, never more of the drill."""

POINTS_BACK = ("voids", "nudges", "because", "pin", "line")
"""Members that name an earlier line."""

_KEYSTROKE: dict[str, Check] = {
    "key": is_text,
    "meant": _text_or_none,
    "via": is_text,
    "outcome": lambda value: isinstance(value, str) and value in OUTCOMES,
}


class Rules:
    """What must hold from line to line. Fed every line after the header in order; says what does not fit."""

    def __init__(self) -> None:
        self.sealed = False
        self._gone = False
        self._last: dict[bool, int] = {}

    def fault_of(self, line: Mapping[str, Any]) -> str:
        """What is wrong with the next line, in words; empty where it fits."""
        kind = line.get("kind")
        if not isinstance(kind, str):
            return "the member 'kind' is missing"
        if kind not in KINDS:
            return f"unknown kind {shown(kind)}"
        t, e = line.get("t"), line.get("e")
        for member, value in (("t", t), ("e", e)):
            if not _not_negative(value):
                return f"the member {member!r} must be whole milliseconds since go, not {shown(value)}"
        wrong = self._members(kind, line)
        if wrong:
            return wrong
        if self.sealed:
            return "" if kind in AFTER_END else f"a line of kind {kind!r} after the end of the drill"
        return self._order(kind, line)

    def _members(self, kind: str, line: Mapping[str, Any]) -> str:
        keystroke = "key" in line
        asked = KINDS[kind]
        if kind == "key" or keystroke:
            wrong = _first_wrong(_KEYSTROKE, line)
            if wrong:
                return wrong
            if line["outcome"] != "taken":
                asked = {}
        wrong = _first_wrong(asked, line)
        if wrong:
            return wrong
        for member in POINTS_BACK:
            value = line.get(member)
            if type(value) is int and not 0 <= value < line["seq"]:
                return f"{member!r} names line {shown(value)}, which does not come before this one"
        return ""

    def _order(self, kind: str, line: Mapping[str, Any]) -> str:
        if kind == "header":
            return "a second header"
        if kind == "go":
            if self._gone:
                return "a second go"
            self._gone = True
        elif kind == "before" and self._gone:
            return "a line of the time before go stands after it"
        elif kind == "end":
            self.sealed = True
        if "key" not in line:
            # Effects of an adjusted history bear its times, so only what hands did must stand in order.
            return ""
        if line["e"] > line["t"]:
            return f"e ({line['e']} ms, without pauses) is greater than t ({line['t']} ms)"
        # A script that a person takes over and the person's own keys are two streams.
        stream = line["via"] == "script"
        last = self._last.get(stream, 0)
        if line["t"] < last:
            return f"time goes back: {line['t']} ms after {last} ms"
        self._last[stream] = line["t"]
        return ""


def _first_wrong(asked: Mapping[str, Check], line: Mapping[str, Any]) -> str:
    for member, fits in asked.items():
        if member not in line:
            return f"the member {member!r} is missing"
        if not fits(line[member]):
            return f"the member {member!r} cannot be {shown(line[member])}"
    return ""


def shown(value: object) -> str:
    """A value from a file as it may stand in a message: short, printable, no control characters."""
    text = ascii(value) if isinstance(value, str | int | float | bool | None) else type(value).__name__
    return text if len(text) <= 40 else text[:37] + "..."
