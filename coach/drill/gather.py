"""From the names of a protocol and a scenario to a set-up: the files found and read, the keys settled."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from coach.drill.setup import Setup
from coach.keys import merge, protocol_choices
from coach.protocol.library import load_pads, load_protocol, load_scenario
from coach.settings import Settings, key_map

FIRST_PROTOCOL = "erc-2025/adult-one-rescuer"
"""What is played where a script names no protocol."""


def gather(protocol: str, scenario: str, settings: Settings | None = None, folder: Path | None = None) -> Setup:
    """A set-up for a protocol and a scenario by name or path, "" for the first protocol and for no scenario.

    ``folder`` is searched before the person's own files and the shipped ones. Without ``settings`` nothing depends on
    the person or the machine: a script gives the same log everywhere. Raises NotFound, FileProblems or KeyClash.
    """
    read, text = load_protocol(protocol or FIRST_PROTOCOL, folder)
    story, story_text = load_scenario(scenario, folder, read) if scenario else (None, "")
    pads_text = load_pads(read.pads, folder)[1] if read.pads else ""
    keys = (
        merge(protocol_choices(read), (), frozenset(read.observations)) if settings is None else key_map(read, settings)
    )
    setup = Setup(
        protocol=read,
        protocol_text=text,
        scenario=story,
        scenario_text=story_text,
        pads_text=pads_text,
        pads_guidance=read.guidance if pads_text else "",
        keys=keys,
    )
    if settings is None:
        return setup
    room = settings.room
    return replace(
        setup,
        language=settings.language,
        sigma_ms=settings.sigma_ms,
        emergency_number=room.emergency_number,
        address=room.address,
        real_unit=room.real_unit,
    )
