"""A small builder of drills by hand: seconds in, :class:`Happened` out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from coach.engine.state import Effect
from coach.log.happened import Break, Happened, Look, Pin, Seen, Told
from coach.protocol.model import Protocol


def ms(seconds: float) -> int:
    return round(seconds * 1000)


@dataclass
class Story:
    """Things seen in any order of writing; ``happened`` sorts them and gives them line numbers."""

    counting: str = "each"
    seen: list[tuple[int, str, dict[str, Any]]] = field(default_factory=list)
    told: list[tuple[int, str, str, str, str, str]] = field(default_factory=list)
    breaks: list[tuple[str, int, int, bool]] = field(default_factory=list)
    looks: list[Look] = field(default_factory=list)
    pins: list[Pin] = field(default_factory=list)
    extra: dict[str, Any] = field(default_factory=dict)

    def at(self, seconds: float, *events: str, **more: Any) -> Story:
        for event in events:
            self.seen.append((ms(seconds), event, more))
        return self

    def push(self, start: float, count: int, interval: float = 60 / 110) -> float:
        """``count`` compressions from ``start`` on; returns the moment of the last, in seconds."""
        for number in range(count):
            self.at(start + number * interval, "compression")
        return start + (count - 1) * interval

    def cycles(self, start: float, cycles: int, gap: float, count: int = 30, pace: float = 110) -> float:
        """Cycles of ``count`` compressions and two breaths, ``gap`` seconds from the last to the next first; returns
        the moment of the first compression that would follow."""
        for _ in range(cycles):
            last = self.push(start, count, 60 / pace)
            self.at(last + gap * 0.3, "breath").at(last + gap * 0.6, "breath")
            start = last + gap
        return start

    def fault(self, seconds: float, name: str, track: str = "rescuer", was: str = "", arrow: str = "") -> Story:
        self.told.append((ms(seconds), "fault", name, track, was, arrow))
        return self

    def tell(self, seconds: float, kind: str, name: str, track: str = "", was: str = "") -> Story:
        self.told.append((ms(seconds), kind, name, track, was, ""))
        return self

    def pause(self, seconds: float, length: float, kind: str = "teaching", open_: bool = False) -> Story:
        """A pause that stands at ``seconds`` of ``e``; things seen at that very moment come after it."""
        self.breaks.append((kind, ms(seconds), ms(length), open_))
        return self

    def happened(self, end: float, ended: str = "ended", **more: Any) -> Happened:
        breaks: list[Break] = []
        before = 0
        for kind, e, length, open_ in sorted(self.breaks, key=lambda one: one[1]):
            breaks.append(Break(kind, e, e + before, e + before + length, open_))
            before += length

        def t_of(e: int) -> int:
            return e + sum(one.t_to - one.t_from for one in breaks if one.e <= e and not one.open)

        seen = tuple(
            Seen(seq, e, t_of(e), event, **given)
            for seq, (e, event, given) in enumerate(sorted(self.seen, key=lambda one: one[0]), start=1)
        )
        told = tuple(
            Told(
                Effect(e, kind, name, track, was, arrow),  # type: ignore[arg-type]
                next((one.seq for one in reversed(seen) if one.e <= e), 0),
            )
            for e, kind, name, track, was, arrow in self.told
        )
        return Happened(
            seen,
            told,
            ms(end),
            t_of(ms(end)),
            ended,
            tuple(breaks),
            tuple(self.looks),
            tuple(self.pins),
            **{**self.extra, **more},
        )

    @property
    def header(self) -> dict[str, Any]:
        return {"counting": self.counting, "mode": "test", "keys": {}, "sigma_ms": 25}


def protocol(**more: Any) -> Protocol:
    """A small protocol with two tracks, targets and an inject; ``more`` replaces tables."""
    table: dict[str, Any] = {
        "format": 1,
        "id": "erc-2025/small",
        "version": "1",
        "guidance": "ERC 2025",
        "title": "Small",
        "sources": {"bls": {"title": "Adult basic life support", "grade": "second-hand"}},
        "targets": {
            "compression_rate": {"from": 100, "to": 120, "unit": "/min", "source": "bls"},
            "run_length": {"value": 30, "source": "bls"},
            "breath_gap": {"value": 5, "unit": "s", "to": "10 s", "source": "bls"},
            "hands_off": {"to": "10 s", "source": "bls"},
            "first_compression": {"to": "10 s", "source": "bls"},
            "depth": {"from": 5, "to": 6, "unit": "cm", "source": "bls"},
        },
        "track": {
            "rescuer": {
                "start": "response",
                "spine": ["response", "call", "breathing", "push", "clear", "shock", "resume"],
                "step": {
                    "response": {"title": "Check response", "done": "response_checked"},
                    "call": {"title": "Call", "done": "call_made", "severity": "critical"},
                    "breathing": {"title": "Check breathing", "done": "not_breathing"},
                    "push": {"title": "Push", "done": "compression", "severity": "critical", "source": "bls"},
                    "clear": {
                        "title": "Clear",
                        "done": "clear_called",
                        "severity": "critical",
                        "go": [{"on": "clear_called", "to": "shock", "mark": "clear_said"}],
                    },
                    "shock": {
                        "title": "Shock",
                        "done": ["shock_pressed", "shock_delivered"],
                        "severity": "critical",
                        "go": [
                            {
                                "on": "shock_pressed",
                                "when": "not clear_said",
                                "to": "resume",
                                "fault": {
                                    "id": "no-clear",
                                    "severity": "critical",
                                    "say": {"en": "Shock without a clear call.", "es": "Descarga sin aviso."},
                                    "source": "bls",
                                },
                            },
                            {
                                "on": "touch",
                                "fault": {"id": "touched", "severity": "critical", "say": "Touched during analysis."},
                            },
                        ],
                    },
                    "resume": {"title": "Hands back on", "done": "compression", "severity": "critical"},
                },
            },
            "unit": {
                "start": "fetch",
                "step": {
                    "fetch": {"title": "Unit beside them", "done": "unit_arrived"},
                    "power": {"title": "Unit on", "done": "unit_on"},
                },
            },
        },
        "inject": {
            "vomit": {"title": "Vomit", "cause": "vomit", "allowed": "rolled", "within": "10 s"},
            "arrives": {"title": "Unit comes", "emit": "unit_arrived"},
        },
    }
    return Protocol.model_validate({**table, **more})
