"""What is chosen before go, and the header that a log begins with."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from coach import __version__
from coach.clock import Clock
from coach.engine.machine import SEMANTICS
from coach.engine.plan import Plan
from coach.log.header import Header, PadsText, ProtocolText, ScenarioText
from coach.observations import default_keys
from coach.protocol.approval import ApprovalState
from coach.protocol.approval import approval_state as judged
from coach.protocol.model import Pads, Protocol, Scenario, Wording

MODES = ("teach", "practise", "test")


@dataclass(frozen=True, slots=True)
class Setup:
    """Everything chosen for one drill. Ids only, never names. ``keys`` maps a key's name to an id.

    ``protocol_text`` and ``scenario_text`` are the files as they were read, whole. ``reason`` is what was typed where
    a protocol that nobody approved is used in a test. ``sigma_ms`` is the scatter of this assessor's taps and
    ``reaction_ms`` their tested reaction (0: not tested).
    """

    protocol: Protocol
    protocol_text: str
    scenario: Scenario | None = None
    scenario_text: str = ""
    mode: str = "teach"
    counting: str = "each"
    unit: str = "floor"
    language: str = "en"
    learner: str = "none"
    assessor: str = ""
    role: str = ""
    reason: str = ""
    keys: dict[str, str] = field(default_factory=default_keys)
    seed: int | None = None
    pads: Pads | None = None
    pads_text: str = ""
    pads_guidance: str = ""
    kit: tuple[str, ...] = ("adult", "paediatric")
    sigma_ms: int = 25
    reaction_ms: int = 0
    metronome: bool = False
    group: str = ""
    slot: str = ""
    station: str = ""
    manikin: str = ""
    kit_unit: str = ""
    attempt: int = 1
    starts_from: str = ""
    emergency_number: str = ""
    address: str = ""
    real_unit: str = ""


def words_of(wording: Wording, language: str) -> str:
    """The text in the drill's language, else in English, else in whatever there is."""
    return wording.get(language) or wording.get("en") or next(iter(wording.values()), "")


def wall_text(wall: datetime) -> str:
    """The moment as a log writes it: UTC to the second."""
    return wall.strftime("%Y-%m-%dT%H:%M:%SZ")


def approval_state(setup: Setup, today: date) -> ApprovalState:
    """How the approval of the protocol in force stands on a day, as screens and records show it."""
    return judged(setup.protocol, setup.protocol_text, today)


def header(setup: Setup, plan: Plan, clock: Clock, drill_id: str, digest: str, scenario_digest: str) -> dict[str, Any]:
    """The first line of the log (without ``seq`` and ``h``)."""
    protocol, scenario = setup.protocol, setup.scenario
    table = Header(
        program=__version__,
        engine=SEMANTICS,
        drill=drill_id,
        protocol=ProtocolText(
            protocol.id,
            protocol.version,
            protocol.guidance,
            digest,
            approval_state(setup, clock.wall().date()).word,
            setup.protocol_text,
        ),
        scenario=None
        if scenario is None
        else ScenarioText(scenario.id, words_of(scenario.title, setup.language), scenario_digest, setup.scenario_text),
        plan=plan.as_json(),
        mode=setup.mode,
        counting=setup.counting,
        unit=setup.unit,
        wall=wall_text(clock.wall()),
        mono=clock.mono_ms(),
        zone=clock.zone(),
        language=setup.language,
        learner=setup.learner,
        assessor=setup.assessor,
        role=setup.role,
        reason=setup.reason,
        keys=setup.keys,
        pads=PadsText(setup.pads_guidance, setup.pads_text),
        sigma_ms=setup.sigma_ms,
        reaction_ms=setup.reaction_ms,
        metronome=setup.metronome,
        class_=setup.group,
        slot=setup.slot,
        station=setup.station,
        manikin=setup.manikin,
        kit_unit=setup.kit_unit,
        attempt=setup.attempt,
        starts_from=setup.starts_from,
    ).to_dict()
    table["pads"]["kit"] = list(setup.kit)
    return table
