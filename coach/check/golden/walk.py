"""Walking a protocol with no clock: press what can be seen, let time pass, go back; or follow a story.

It stands on the drill's own engine: what a walk shows is what a drill would do.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from coach.check.findings import Where
from coach.check.golden.coverage import Counts
from coach.check.places import Places
from coach.check.proof.story import Story, fact_text, key_map
from coach.check.states.inputs import Gate, inputs_of
from coach.check.states.openfacts import Frame
from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import Plan, resolve
from coach.engine.state import Effect, FactValue, State
from coach.engine.step import advance, choose, feed, start
from coach.observations import label
from coach.protocol.model import Protocol
from coach.protocol.names import arrow_ids, arrows
from coach.protocol.overlay import Effective
from coach.protocol.reading import read_scenario
from coach.text import one_line


@dataclass(frozen=True, slots=True)
class Pressable:
    """Something that can come from outside now: its key ("" for none), the engine's event, its name for people, and
    whether some track would take it."""

    key: str
    event: str
    name: str
    taken: bool


@dataclass(frozen=True, slots=True)
class Fired:
    """One thing that happened in a deed: words, and where the arrow stands that made it (None for none)."""

    what: str
    where: Where | None


@dataclass(frozen=True, slots=True)
class _Stand:
    state: State
    effects: tuple[Effect, ...]
    what: str
    place: int


class Walk:
    """A protocol being walked; ``story`` is one to follow. ``name``, ``text`` and ``folder`` as for Places."""

    def __init__(
        self,
        whole: Effective,
        name: str,
        text: str,
        folder: Path | None = None,
        story: Story | None = None,
    ) -> None:
        self.protocol: Protocol = whole.protocol
        self.name = name
        self.story = story
        plan = resolve(self.protocol) if story is None else _plan(self.protocol, story)
        self._machine: Machine = Counts().listening(build(self.protocol, plan))
        self._classes = Frame(self._machine, {}).classes
        self._gate = Gate(self._machine, self.protocol.inject, len(self.protocol.inject))
        self._keys = key_map(self.protocol)
        places = Places(whole, name, text, folder)
        ids = arrow_ids(self.protocol)
        self._arrows = {ids[id(placed.arrow)]: places.at(placed.path) for placed in arrows(self.protocol)}
        self._past: list[_Stand] = []
        self._begin()

    def _begin(self) -> None:
        """To go."""
        counting = self._machine.facts[self._machine.layout.facts["counting"][0]]
        self._inputs = inputs_of(self.protocol, self._machine, str(counting), self.protocol.inject)
        state, effects = start(self._machine)
        self._past = [_Stand(state, effects, "go", 0)]

    @property
    def state(self) -> State:
        """Where the walk stands."""
        return self._past[-1].state

    @property
    def what(self) -> str:
        """The last deed in words."""
        return self._past[-1].what

    @property
    def deeds(self) -> int:
        """How many deeds lie behind, go not counted."""
        return len(self._past) - 1

    def facts(self) -> list[tuple[str, str]]:
        """The facts of the casualty, the unit and the way of counting, each with its value in an author's words."""
        named = self._machine.layout.facts
        return [
            (name, fact_text(named[name][1].unit, value))
            for name, value in zip(self._machine.fact_names, self._machine.facts, strict=True)
        ]

    def turn_fact(self, name: str) -> None:
        """The next value of a fact that guards tell from this one; the walk begins anew, since facts never change."""
        index, fact = self._machine.layout.facts[name]
        choices: list[FactValue] = list(self._classes[index])
        if fact.kind == "script":
            choices = [(str(word),) for word in choices]
        now = self._machine.facts[index]
        place = choices.index(now) + 1 if now in choices else 0
        facts = list(self._machine.facts)
        facts[index] = choices[place % len(choices)]
        # The built-in hands track is another one for each way of counting.
        counting = str(facts[self._machine.layout.facts["counting"][0]])
        machine = Counts().listening(build(self.protocol, resolve(self.protocol, counting=counting)))
        self._machine = replace(machine, facts=tuple(facts))
        self._begin()

    def press(self, event: str) -> None:
        """Something is seen, now."""
        state, effects, outcome = feed(self._machine, self.state, event, self.state.e)
        beside = "" if outcome == "taken" else f": {outcome}"
        self._go_to(state, effects, f"{self.name_of(event)}{beside}")

    def ahead(self, ms: int) -> None:
        """Let time pass."""
        state, effects = advance(self._machine, self.state, self.state.e + ms)
        self._go_to(state, effects, f"{ms / 1000:g} s later")

    def to_next_timer(self) -> bool:
        """Let time pass until the next timer has run out; False where none runs."""
        if not self.state.timers:
            return False
        self.ahead(self.state.timers[0][0] - self.state.e)
        return True

    def back(self) -> bool:
        """Undo the last deed; False at go."""
        if len(self._past) == 1:
            return False
        self._past.pop()
        return True

    def follow(self) -> bool:
        """The next event of the story; after the last, time passes to its end. False once it is over."""
        if self.story is None:
            return False
        place = self._past[-1].place
        if place < len(self.story.events):
            e, event = self.story.events[place]
            state, before = advance(self._machine, self.state, max(e, self.state.e))
            state, effects, _ = feed(self._machine, state, event, state.e)
            self._go_to(state, before + effects, self.name_of(event), place + 1)
            return True
        if self.state.e >= self.story.end:
            return False
        state, effects = advance(self._machine, self.state, self.story.end)
        self._go_to(state, effects, "the end of the story", place)
        return True

    @property
    def whole(self) -> int:
        """How many deeds the story has, the time that passes to its end one of them; 0 where there is none."""
        if self.story is None:
            return 0
        last = self.story.events[-1][0] if self.story.events else 0
        return len(self.story.events) + (self.story.end > last)

    @property
    def followed(self) -> int:
        """How many of the story's deeds are done."""
        if self.story is None:
            return 0
        place = self._past[-1].place
        return self.whole if place == len(self.story.events) and self.state.e >= self.story.end else place

    def _go_to(self, state: State, effects: tuple[Effect, ...], what: str, place: int | None = None) -> None:
        self._past.append(_Stand(state, effects, what, self._past[-1].place if place is None else place))

    # --- what there is to see -----------------------------------------------------------------------------------------

    def name_of(self, event: str) -> str:
        """What people call an event."""
        kind, colon, name = event.partition(":")
        if colon:
            inject = self.protocol.inject.get(name)
            title = name if inject is None else one_line(inject.title.get("en") or name)
            done = {"inject": "throw", "answered": "answered", "wrong": "answered wrongly"}.get(kind, kind)
            return f"{done}: {title}"
        own = self.protocol.observations.get(event)
        return one_line(own.label.get("en") or event) if own is not None else label(event)

    def steps(self) -> list[tuple[str, str]]:
        """Each track of the protocol and its step; injects that stand open too."""
        shown = []
        for track, at in zip(self._machine.tracks, self.state.steps, strict=True):
            own = track.name in self.protocol.track
            if own or (track.name.startswith("inject:") and at):
                shown.append((track.name, track.steps[at]))
        return shown

    def marks(self) -> list[str]:
        """The marks that are set."""
        return [name for bit, name in enumerate(self._machine.marks) if self.state.marks >> bit & 1]

    def counters(self) -> list[tuple[str, int]]:
        """The counters that are not at nought."""
        return [(name, n) for name, n in zip(self._machine.counters, self.state.counters, strict=True) if n]

    def timers(self) -> list[tuple[str, int]]:
        """The timers that run, with the ms left, the next first."""
        return [(self._machine.timers[index].name, due - self.state.e) for due, index, _ in self.state.timers]

    def fired(self) -> list[Fired]:
        """What the last deed did, in order."""
        found: list[Fired] = []
        for effect in self._past[-1].effects:
            where = self._arrows.get(effect.arrow)
            if effect.kind == "step" and effect.track in self.protocol.track:
                was = f"{effect.was} → " if effect.was else ""
                found.append(Fired(f"{effect.track}: {was}{effect.name}", where))
            elif effect.kind in ("cue", "voice"):
                words = (self._machine.cues if effect.kind == "cue" else self._machine.voices)[effect.name]
                said = one_line(words.get("en") or next(iter(words.values()), ""))
                found.append(Fired(f"{effect.kind}: {said}", where))
            elif effect.kind == "fault":
                found.append(Fired(f"fault: {effect.name}", where))
            elif effect.kind == "late":
                found.append(Fired(f"late: {effect.name}", None))
            elif effect.kind == "timer":
                found.append(Fired(f"timer: {effect.name}", None))
            elif effect.kind == "ignored":
                found.append(Fired("no track takes it here", None))
            elif effect.kind == "emit" and where is not None:
                name = effect.name
                found.append(Fired(f"arrow {effect.arrow}" if name.startswith("arrow:") else f"emits {name}", where))
        told = {one.where for one in found if one.where is not None and not one.what.startswith("arrow ")}
        return [one for one in found if not one.what.startswith("arrow ") or one.where not in told]

    def pressable(self) -> list[Pressable]:
        """What can come from outside now: what the file's own tracks take first, then what only the built-in ones do,
        each group in the vocabulary's order."""
        state = self.state
        found: list[tuple[int, Pressable]] = []
        for event in self._inputs:
            if not self._gate.allows(event, state.steps, state.facts):
                continue
            moves = choose(self._machine, state, event, state.facts)
            own = any(not self._machine.tracks[move.track].built_in for move in moves)
            one = Pressable(self._keys.get(event, ""), event, self.name_of(event), bool(moves))
            found.append((0 if own else 1 if moves else 2, one))
        return [one for _, one in sorted(found, key=lambda ranked: ranked[0])]


def _plan(protocol: Protocol, story: Story) -> Plan:
    scenario = read_scenario(story.scenario, "the story's scenario")
    return resolve(protocol, scenario, unit=story.unit, counting=story.counting)
