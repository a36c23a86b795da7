"""What a sitting is about: a protocol read for its decisions, the stories it can be told in, its body's pads rules."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path

from coach.drill.choosing import DEFAULT_PROTOCOL
from coach.engine.build import build
from coach.engine.machine import Machine
from coach.protocol.approval import approval_state
from coach.protocol.library import (
    NotFound,
    find_protocol,
    list_protocols,
    list_scenarios,
    load_pads,
    load_protocol,
    load_scenario,
)
from coach.protocol.model import Pads, Protocol, Scenario
from coach.protocol.names import guidance_folder
from coach.protocol.problems import FileProblems
from coach.rehearse.draws import askable, facts_of, plan_for, usable
from coach.rehearse.history import History, vanished
from coach.rehearse.items import Item, Listing
from coach.rehearse.quick import items_of
from coach.rehearse.wording import Saying, told, words
from coach.wording import DRAFTS, spoken


@dataclass(frozen=True, slots=True)
class Matter:
    """Everything that does not change while a learner sits. ``said`` is what they must be told of it."""

    protocol: Protocol
    text: str
    """The whole protocol in force, as it was read."""
    listing: Listing
    stories: tuple[Scenario, ...]
    pads: Pads | None
    items: dict[str, Item]
    digest: str
    machine: Machine
    said: tuple[Saying, ...] = ()

    def approval(self, day: date) -> str:
        """How the protocol's approval stands on a day, in a word."""
        return approval_state(self.protocol, self.text, day).word


def choose_protocol(named: str, guidance: str, folder: Path | None = None) -> str:
    """The protocol's id: the one named, else the first of the settings' guidance, else the usual one."""
    if named:
        return find_protocol(named, folder).id if not named.endswith(".toml") else named
    known = [entry.id for entry in list_protocols(folder)]
    usual = DEFAULT_PROTOCOL.partition("/")[2]
    wanted = f"{guidance_folder(guidance)}/{usual}"
    if wanted in known:
        return wanted
    same = [ident for ident in known if ident.startswith(f"{guidance_folder(guidance)}/")]
    return same[0] if same else DEFAULT_PROTOCOL if DEFAULT_PROTOCOL in known or not known else known[0]


def matter_of(
    protocol: Protocol,
    text: str,
    stories: tuple[Scenario, ...],
    pads: Pads | None,
    said: tuple[Saying, ...] = (),
    *,
    sensitive: bool = False,
) -> Matter:
    """The matter of a protocol that was read."""
    listing = Listing(protocol)
    fit = usable(protocol, stories, sensitive=sensitive)
    asked = askable(listing, fit)
    items = {item: one for item, one in listing.items.items() if item in asked}
    if pads is not None:
        items.update(items_of(pads))
    plan = plan_for(protocol, facts_of(protocol, fit[0] if fit else None), 0)
    digest = sha256(text.encode()).hexdigest()
    return Matter(protocol, text, listing, fit, pads, items, digest, build(protocol, plan), said)


def opening_words(matter: Matter, history: History, language: str) -> list[str]:
    """What a learner must be told before the first question: of the files, of a protocol that changed, of the past."""
    said = [words(language, "draft")] if spoken(language) in DRAFTS else []
    said += [told(language, one) for one in ([history.said] if history.said is not None else []) + list(matter.said)]
    before = next((one for one in reversed(history.sittings) if one.protocol == matter.protocol.id), None)
    if before is not None and before.digest != matter.digest:
        said.append(words(language, "told:changed"))
    pads = matter.pads.id if matter.pads is not None else ""
    gone = vanished(history, matter.protocol.id, pads, {*matter.items, *matter.listing.items})
    if gone:
        said.append(words(language, "told:gone", names="; ".join(gone)))
    return said


def load_matter(named: str, guidance: str, folder: Path | None = None, *, sensitive: bool = False) -> Matter:
    """Read everything; sensitive stories may be drawn only where they were asked for.

    Raises NotFound or FileProblems for the protocol; a bad story or pads file is only said.
    """
    protocol, text = load_protocol(choose_protocol(named, guidance, folder), folder)
    said: list[Saying] = []
    stories: list[Scenario] = []
    for entry in list_scenarios(folder):
        try:
            stories.append(load_scenario(entry.id, folder)[0])
        except (FileProblems, NotFound):
            said.append(Saying("told:scenario", {"name": entry.id}))
    pads: Pads | None = None
    try:
        pads = load_pads(protocol.pads or protocol.guidance, folder)[0]
    except (FileProblems, NotFound):
        said.append(Saying("told:pads", {"name": protocol.guidance}))
    suited = sorted(stories, key=lambda one: (protocol.id not in one.suits, one.id))
    return matter_of(protocol, text, tuple(suited), pads, tuple(said), sensitive=sensitive)
