"""What the learner sees and hears of a version at one moment, in names that two versions share."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coach.engine.machine import Machine
from coach.engine.state import Effect
from coach.observations import OBSERVATIONS, label

Token = tuple[Any, ...]
"""One thing seen: its kind and its names."""


class Sight:
    """What the learner sees of one version, in names that both share."""

    def __init__(
        self, machine: Machine, arrow_of: Mapping[str, str], step_of: Mapping[str, str], first: Machine | None
    ) -> None:
        self._machine = machine
        self._steps = step_of
        shared = first or machine
        by_text = {_frozen(wording): key for key, wording in reversed(list(shared.cues.items()))}
        by_text_voice = {_frozen(wording): key for key, wording in reversed(list(shared.voices.items()))}
        self._cues = {
            **{
                ("cue", key): self._name(key, text, by_text, arrow_of, shared.cues)
                for key, text in machine.cues.items()
            },
            **{
                ("voice", key): self._name(key, text, by_text_voice, arrow_of, shared.voices)
                for key, text in machine.voices.items()
            },
        }

    def _name(
        self,
        key: str,
        text: Mapping[str, str],
        by_text: Mapping[Any, str],
        arrow_of: Mapping[str, str],
        shared: Mapping[str, Mapping[str, str]],
    ) -> str:
        """A wording under the name that the old version has for it: that of the same text, else of the same place."""
        if _frozen(text) in by_text:
            return by_text[_frozen(text)]
        kind, _, rest = key.partition(":")
        there = f"{kind}:{arrow_of.get(rest, '') if kind == 'arrow' else self._steps.get(rest, rest)}"
        if there in shared:
            return by_text.get(_frozen(shared[there]), there)
        return f"new {key}"

    def tokens(self, effects: tuple[Effect, ...], outcome: str) -> tuple[Token, ...]:
        """What is seen at one moment, whatever the order within it."""
        found: list[Token] = [("outcome", outcome)] if outcome else []
        for effect in effects:
            if effect.kind == "step" and effect.track != "hands":
                found.append(("step", effect.track, self._steps.get(effect.name, effect.name)))
            elif effect.kind in ("cue", "voice"):
                found.append((effect.kind, self._cues[effect.kind, effect.name]))
            elif effect.kind == "fault":
                found.append(("fault", effect.name, self._machine.faults[effect.name].severity))
            elif effect.kind == "late":
                found.append(("late", self._steps.get(effect.name, effect.name)))
            elif effect.kind == "emit" and effect.name in OBSERVATIONS:
                found.append(("seen", effect.name))
        return tuple(sorted(found))


def _frozen(wording: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    return tuple(sorted(wording.items()))


def words_said(machine: Machine, effects: tuple[Effect, ...], outcome: str) -> tuple[str, ...]:
    """What a version says at one moment, for people."""
    said: list[str] = [outcome] if outcome not in ("", "taken") else []
    for effect in effects:
        if effect.kind == "step" and effect.track != "hands":
            said.append(f"{effect.track}: {effect.name}")
        elif effect.kind in ("cue", "voice"):
            words = (machine.cues if effect.kind == "cue" else machine.voices)[effect.name]
            said.append(f"“{words.get('en') or next(iter(words.values()), '')}”")
        elif effect.kind == "fault":
            said.append(f"{machine.faults[effect.name].severity} fault {effect.name}")
        elif effect.kind == "late":
            said.append(f"late in {effect.name}")
        elif effect.kind == "emit" and effect.name in OBSERVATIONS:
            said.append(label(effect.name))
    return tuple(said)
