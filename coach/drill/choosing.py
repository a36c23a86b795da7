"""From names to a set-up: the files read, the pads rules of the protocol's body beside them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from coach.drill.setup import Setup
from coach.drill.view import PadsView
from coach.engine.plan import Plan, PlanProblem, resolve
from coach.keys import merge, protocol_choices
from coach.protocol.library import NotFound, list_protocols, load_pads, load_protocol, load_scenario
from coach.protocol.model import Pads, Protocol, Scenario
from coach.protocol.pads import PadsDecision, PadsRefused, decide

DEFAULT_PROTOCOL = "erc-2025/adult-one-rescuer"


def setup_for(protocol: str = "", scenario: str = "", folder: Path | None = None) -> Setup:
    """The set-up for a protocol and a scenario by name ("" for the default and for none), all else at its default.

    Nothing in it depends on a person's settings, so that a script gives the same log everywhere. Raises
    :class:`coach.protocol.library.NotFound`, :class:`coach.protocol.problems.FileProblems` or
    :class:`coach.keys.KeyClash`.
    """
    if not protocol:
        known = [entry.id for entry in list_protocols(folder)]
        protocol = DEFAULT_PROTOCOL if DEFAULT_PROTOCOL in known or not known else known[0]
    return setup_with(*load_protocol(protocol, folder), scenario, folder)


def setup_with(authored: Protocol, text: str, scenario: str = "", folder: Path | None = None) -> Setup:
    """The set-up for a protocol that is read already, ``text`` being the whole of it; else as :func:`setup_for`."""
    played, played_text = load_scenario(scenario, folder, authored) if scenario else (None, "")
    pads, pads_text = _pads(authored.pads or authored.guidance, folder)
    return Setup(
        protocol=authored,
        protocol_text=text,
        scenario=played,
        scenario_text=played_text,
        pads=pads,
        pads_text=pads_text,
        pads_guidance=pads.guidance if pads is not None else "",
        keys=merge(protocol_choices(authored), (), frozenset(authored.observations)),
    )


def suits_of(protocol: Protocol, scenarios: Iterable[Scenario]) -> frozenset[str]:
    """The ids of the scenarios that suit a protocol: that name it or nothing; where none names it, that name the
    nearest base it stands over. One that throws what a local file took away suits it no more."""
    known = list(scenarios)
    names = (protocol.id, *(pin.id for pin in protocol.made_from))
    named = next((name for name in names if any(name in one.suits for one in known)), "")
    return frozenset(one.id for one in known if (not one.suits or named in one.suits) and _fits(protocol, one))


def _fits(protocol: Protocol, scenario: Scenario) -> bool:
    try:
        resolve(protocol, scenario)
    except PlanProblem:
        return False
    return True


def _pads(guidance: str, folder: Path | None) -> tuple[Pads | None, str]:
    try:
        return load_pads(guidance, folder)
    except NotFound:
        return None, ""


def pads_decision(setup: Setup, plan: Plan) -> PadsDecision | None:
    """Which pads for this casualty, from the facts ``age`` and ``weight``; None where no rules are at hand.

    A pair that the rules ask to have confirmed is the scenario's own and stands as it was written. Raises
    :class:`coach.protocol.pads.PadsRefused` for a value out of the rules' range.
    """
    if setup.pads is None:
        return None
    age, weight = plan.facts.get("age"), plan.facts.get("weight")
    return decide(
        setup.pads,
        age if isinstance(age, int) else None,
        weight if isinstance(weight, int) else None,
        setup.kit,
        confirmed=True,
        language=setup.language,
    )


def pads_view(setup: Setup, plan: Plan) -> PadsView | None:
    """The same as a screen shows it, a refusal in words."""
    try:
        found = pads_decision(setup, plan)
    except PadsRefused as refused:
        return PadsView("", "", str(refused))
    if found is None:
        return None
    return PadsView(found.size or "", found.placement or "", found.why if not found.advice else found.advice)
