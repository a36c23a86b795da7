"""The first line of a log: everything needed to read the rest without any other file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from coach.log.lines import FORMAT, is_text, is_whole, shown

T = TypeVar("T")

MODES = frozenset({"teach", "practise", "test"})
COUNTINGS = frozenset({"each", "probe", "marks", "counter"})
UNITS = frozenset({"floor", "laptop"})


@dataclass(frozen=True, slots=True)
class ProtocolText:
    """The protocol as it was in force: ``text`` is the whole file, ``approval`` its state in one word."""

    id: str
    version: str
    guidance: str
    digest: str
    approval: str
    text: str


@dataclass(frozen=True, slots=True)
class ScenarioText:
    """The scenario as it was played."""

    id: str
    title: str
    digest: str
    text: str


@dataclass(frozen=True, slots=True)
class PadsText:
    """The pads rules that were in force."""

    guidance: str
    text: str


@dataclass(frozen=True, slots=True)
class Header:
    """The header, checked. ``mono`` is the monotonic ms beside ``wall`` (UTC, ISO 8601); ``sigma_ms`` the error of a
    tap, ``reaction_ms`` the assessor's own tested reaction (0: not tested); learner and assessor are ids, never names;
    ``class_`` is the member ``class``."""

    program: str
    engine: int
    drill: str
    protocol: ProtocolText
    scenario: ScenarioText | None
    plan: Mapping[str, Any]
    mode: str
    counting: str
    unit: str
    wall: str
    mono: int
    zone: str = "UTC"
    language: str = "en"
    learner: str = ""
    assessor: str = ""
    role: str = ""
    reason: str = ""
    keys: Mapping[str, str] = field(default_factory=dict)
    pads: PadsText | None = None
    sigma_ms: float = 25
    reaction_ms: float = 0
    metronome: bool = False
    class_: str = ""
    slot: str = ""
    station: str = ""
    manikin: str = ""
    kit_unit: str = ""
    attempt: int = 1
    starts_from: str = ""

    @classmethod
    def from_dict(cls, line: Mapping[str, Any]) -> Header:
        """The header from its line. ValueError names the member that is missing or wrong; unknown ones are let be."""
        take = _Taker(line)
        return cls(
            program=take.text("program"),
            engine=take.whole("engine"),
            drill=take.text("drill"),
            protocol=take.part("protocol", _protocol),
            scenario=take.part_or_none("scenario", _scenario),
            plan=take.table("plan"),
            mode=take.word("mode", MODES),
            counting=take.word("counting", COUNTINGS),
            unit=take.word("unit", UNITS),
            wall=take.text("wall"),
            mono=take.whole("mono"),
            zone=take.text("zone", "UTC"),
            language=take.text("language", "en"),
            learner=take.text("learner", ""),
            assessor=take.text("assessor", ""),
            role=take.text("role", ""),
            reason=take.text("reason", ""),
            keys=take.texts("keys"),
            pads=take.part_or_none("pads", _pads),
            sigma_ms=take.number("sigma_ms", 25),
            reaction_ms=take.number("reaction_ms", 0),
            metronome=take.flag("metronome"),
            class_=take.text("class", ""),
            slot=take.text("slot", ""),
            station=take.text("station", ""),
            manikin=take.text("manikin", ""),
            kit_unit=take.text("kit_unit", ""),
            attempt=take.whole("attempt", 1),
            starts_from=take.text("starts_from", ""),
        )

    def to_dict(self) -> dict[str, Any]:
        """The line, without ``seq`` and ``h``, members in the order that every log has."""
        protocol, scenario, pads = self.protocol, self.scenario, self.pads
        return {
            "kind": "header",
            "format": FORMAT,
            "program": self.program,
            "engine": self.engine,
            "drill": self.drill,
            "protocol": {
                "id": protocol.id,
                "version": protocol.version,
                "guidance": protocol.guidance,
                "digest": protocol.digest,
                "approval": protocol.approval,
                "text": protocol.text,
            },
            "scenario": scenario
            and {"id": scenario.id, "title": scenario.title, "digest": scenario.digest, "text": scenario.text},
            "plan": dict(self.plan),
            "mode": self.mode,
            "counting": self.counting,
            "unit": self.unit,
            "language": self.language,
            "learner": self.learner,
            "assessor": self.assessor,
            "role": self.role,
            "reason": self.reason,
            "keys": dict(self.keys),
            "pads": pads and {"guidance": pads.guidance, "text": pads.text},
            "wall": self.wall,
            "mono": self.mono,
            "zone": self.zone,
            "sigma_ms": self.sigma_ms,
            "reaction_ms": self.reaction_ms,
            "metronome": self.metronome,
            "class": self.class_,
            "slot": self.slot,
            "station": self.station,
            "manikin": self.manikin,
            "kit_unit": self.kit_unit,
            "attempt": self.attempt,
            "starts_from": self.starts_from,
        }


class _Taker:
    """Takes members out of a table that nobody has checked yet."""

    def __init__(self, table: Mapping[str, Any], inside: str = "") -> None:
        self._table = table
        self._inside = inside

    def _take(self, name: str, fits: Callable[[Any], bool], a: str, default: Any) -> Any:
        full = f"{self._inside}{name}"
        if name not in self._table:
            if default is None:
                raise ValueError(f"the header's member '{full}' is missing")
            return default
        value = self._table[name]
        if not fits(value):
            raise ValueError(f"the header's member '{full}' must be {a}, not {shown(value)}")
        return value

    def text(self, name: str, default: str | None = None) -> str:
        return str(self._take(name, is_text, "text", default))

    def whole(self, name: str, default: int | None = None) -> int:
        return int(self._take(name, is_whole, "a whole number", default))

    def number(self, name: str, default: float) -> float:
        value: float = self._take(name, lambda v: type(v) in (int, float) and v >= 0, "a number", default)
        return value

    def flag(self, name: str) -> bool:
        return bool(self._take(name, lambda v: isinstance(v, bool), "true or false", False))

    def word(self, name: str, words: frozenset[str]) -> str:
        return str(self._take(name, lambda v: isinstance(v, str) and v in words, " or ".join(sorted(words)), None))

    def table(self, name: str, default: dict[str, Any] | None = None) -> dict[str, Any]:
        return dict(self._take(name, lambda v: isinstance(v, dict), "a table", default))

    def texts(self, name: str) -> dict[str, str]:
        table = self.table(name, {})
        if not all(isinstance(v, str) for v in table.values()):
            raise ValueError(f"the header's member '{name}' must hold text only")
        return table

    def part(self, name: str, make: Callable[[_Taker], T]) -> T:
        return make(_Taker(self.table(name), f"{name}."))

    def part_or_none(self, name: str, make: Callable[[_Taker], T]) -> T | None:
        return None if self._table.get(name) is None else self.part(name, make)


def _protocol(take: _Taker) -> ProtocolText:
    return ProtocolText(
        take.text("id"),
        take.text("version"),
        take.text("guidance"),
        take.text("digest"),
        take.text("approval"),
        take.text("text"),
    )


def _scenario(take: _Taker) -> ScenarioText:
    return ScenarioText(take.text("id"), take.text("title"), take.text("digest"), take.text("text"))


def _pads(take: _Taker) -> PadsText:
    return PadsText(take.text("guidance"), take.text("text"))
