"""What there is to decide in a state of the machine: what is right, also right, wrong, dangerous or impossible.

Everything is read off the engine's own moves. Only what a body can do at all (no pads before the unit is there, no
second wiping of a dry chest) stands here as a table, because no protocol says it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from coach.engine.machine import Machine, Move
from coach.engine.state import State
from coach.engine.step import choose
from coach.observations import OBSERVATIONS
from coach.protocol import guards
from coach.protocol.model import Fault
from coach.protocol.names import HANDS_TRACK, arrow_ids, arrows
from coach.rehearse.items import NO_SHOCK, PUSHES, Listing
from coach.rehearse.temptations import TEMPTATIONS
from coach.rehearse.verbs import PUSH

Worth = Literal["right", "also", "wrong", "danger", "impossible"]

ONCE = frozenset(
    {
        "scene_checked", "call_made", "helper_sent", "unit_on", "chest_bared", "chest_dried", "hair_removed",
        "patch_removed", "pad_right", "pad_left", "handover",
    }
)  # fmt: skip
"""What is done once and then is done."""

WITH_UNIT = frozenset({"unit_on", "chest_bared", "pad_right", "pad_left", "clear_called", "shock_pressed"})
MOUTH = frozenset({"rolled", "mouth_cleared"})
ACTIONS = tuple(
    ident
    for ident, entry in OBSERVATIONS.items()
    if entry.by == "learner" and ident not in ("compression", "touch", "probe_tap")
)


@dataclass(frozen=True, slots=True)
class Moment:
    """A decision that is due: its item, what answers it (the first is the one offered) and what is right besides.

    ``tags`` say what is so, for temptations. Both last members are empty until :meth:`Moments.complete` fills them.
    """

    item: str
    right: tuple[str, ...]
    also: frozenset[str]
    tags: frozenset[str]


@dataclass(frozen=True, slots=True)
class Judged:
    """What an answer is worth, and the fault of its arrow, if it has one; ``jump`` where it passes a step over."""

    worth: Worth
    fault: Fault | None = None
    jump: bool = False


@dataclass(frozen=True, slots=True)
class Scene:
    """What a state of the machine does not hold: what was done, whether thirty pushes are behind, the last verdict."""

    state: State
    done: frozenset[str] = frozenset()
    thirty: bool = False
    verdict: str = ""


class Moments:
    """Reads moments off one machine."""

    def __init__(self, listing: Listing, machine: Machine) -> None:
        self.listing = listing
        self.machine = machine
        self.protocol = listing.protocol
        ids = arrow_ids(self.protocol)
        self.home = {ids[id(one.arrow)]: (one.track, one.step) for one in arrows(self.protocol)}
        """Where each arrow's own step is; "" for a track's list."""
        self.into = {ids[id(one.arrow)]: (one.track, one.arrow.to) for one in arrows(self.protocol) if one.arrow.to}
        """Where each arrow leads that leads anywhere."""
        self.places = {info.name: place for place, info in enumerate(machine.tracks)}
        self.tracks = tuple(self.protocol.track)
        self.actions = (*ACTIONS, *(name for name in self.protocol.observations if listing.by_learner(name)))
        self.obliging: list[tuple[str, int, frozenset[int]]] = []
        """Injects with an obligation: name, track, and the steps (by index) in which it waits."""
        for name, inject in self.protocol.inject.items():
            if inject.allowed or inject.forbidden:
                place = self.places[f"inject:{name}"]
                ends = [step.rpartition(":")[2] for step in machine.tracks[place].steps]
                self.obliging.append((name, place, frozenset(i for i, e in enumerate(ends) if e in ("open", "late"))))
        self.fact_events: dict[str, list[str]] = {}
        for fact in listing.facts:
            for one in listing.arrows:
                if one.arrow.fault is None and listing.facts_in(one.arrow.when)[:1] == (fact,):
                    self.fact_events.setdefault(one.track, []).extend(one.arrow.on)
        self._when = {
            (track, name): guards.compile_guard(guards.parse(step.when), machine.layout)
            for track, steps in self.protocol.track.items()
            for name, step in steps.step.items()
            if step.when
        }
        """What must be so for a step to be anybody's: a call where there is a phone."""
        self.unit_away = next(
            (
                (track, name)
                for track, steps in self.protocol.track.items()
                for name, step in steps.step.items()
                if "unit_arrived" in step.done
            ),
            ("", ""),
        )

    # --- reading a state --------------------------------------------------------------------------------------------

    def step(self, state: State, track: str) -> str:
        """The step that a track is in."""
        place = self.places[track]
        return self.machine.tracks[place].steps[state.steps[place]]

    def hands_on(self, state: State) -> bool:
        """Whether hands are on the chest."""
        return self.step(state, HANDS_TRACK) == "hands_on_chest"

    def unit_here(self, state: State) -> bool:
        """Whether a unit is beside the casualty."""
        track, away = self.unit_away
        return bool(track) and self.step(state, track) != away

    def armed(self, state: State) -> bool:
        """Whether a shock can be given now."""
        return self.machine.is_armed(state.steps)

    def fact(self, state: State, name: str) -> object:
        """A fact of the casualty; None where the protocol has none of that name."""
        place = self.machine.layout.facts.get(name)
        return None if place is None else state.facts[place[0]]

    def open_injects(self, state: State) -> list[str]:
        """Injects that wait for an answer, in file order."""
        return [name for name, place, waiting in self.obliging if state.steps[place] in waiting]

    def moves(self, state: State, event: str) -> list[Move]:
        """The moves an event would make."""
        return choose(self.machine, state, event, state.facts)

    def leads(self, arrow: str) -> tuple[str, str]:
        """The track and step in which an arrow ends."""
        return self.into.get(arrow) or self.home.get(arrow, ("", ""))

    def holds(self, state: State, guard: str) -> bool:
        """Whether a guard of the file holds now."""
        return not guard or bool(guards.compile_guard(guards.parse(guard), self.machine.layout)(state, state.facts))

    def stuck(self, state: State) -> bool:
        """Whether something waits for a pad that was stuck on once and came loose."""
        return any({"pad_right", "pad_left"} & set(self.protocol.inject[n].allowed) for n in self.open_injects(state))

    def asked_of(self, state: State, track: str) -> str:
        """The step whose decision it is: the one that the track is in, or the next of the spine that is for this
        casualty at all."""
        name = self.step(state, track)
        spine = self.protocol.track[track].spine
        if name not in spine:
            return name
        for later in spine[spine.index(name) :]:
            if (track, later) not in self._when or self._when[track, later](state, state.facts):
                return later
        return name

    def is_jump(self, state: State, move: Move) -> bool:
        """Whether a move is a later step's own arrow, taken from an earlier step of the spine."""
        track, step = self.home.get(move.arrow, ("", ""))
        info = self.machine.tracks[move.track]
        if not step or track != info.name or step == info.steps[move.source]:
            return False
        if step == self.asked_of(state, track):
            return False
        pair = {step, info.steps[move.source]}
        return not any(pair <= set(group) for group in self.protocol.track[track].either_order)

    def _progress(self, state: State, move: Move) -> bool:
        if move.fault or self.is_jump(state, move):
            return False
        info = self.machine.tracks[move.track]
        if info.built_in:
            return info.name.startswith("inject:") and move.to >= 0 and info.steps[move.to].endswith(":closed")
        marked = move.mark & ~(state.marks & ~move.clear)
        return (move.to >= 0 and move.to != move.source) or bool(marked)

    # --- what can be done at all ------------------------------------------------------------------------------------

    def possible(self, scene: Scene, action: str) -> bool:
        """Whether somebody could do it here, right or wrong."""
        state = scene.state
        if action in TEMPTATIONS:
            return True
        if action in ONCE and action in scene.done:
            # A loose pad is stuck again, a second unit switched on again.
            return any(action in self.protocol.inject[name].allowed for name in self.open_injects(state)) or (
                action in ("unit_on", "pad_right", "pad_left")
                and any(self._progress(state, move) for move in self.moves(state, action))
            )
        if action in WITH_UNIT and not self.unit_here(state):
            return False
        if action in self.protocol.observations and not self._named(state, action):
            return False  # a deed that only this file knows makes no sense but where it is asked for
        checks = {
            "shock_pressed": lambda: self.armed(state),
            "pad_right": lambda: "chest_bared" in scene.done,
            "pad_left": lambda: "chest_bared" in scene.done,
            "chest_dried": lambda: self.fact(state, "chest") in ("wet", "damp") and "chest_bared" in scene.done,
            "hair_removed": lambda: self.fact(state, "hair") is True and "chest_bared" in scene.done,
            "patch_removed": lambda: self.fact(state, "patch") is True and "chest_bared" in scene.done,
            "helper_sent": lambda: self._several(state) and not self.unit_here(state),
            "swapped": lambda: self._rescuers(state) >= 2 and state.last_push >= 0,
            "hands_lifted": lambda: self.hands_on(state),
            "handover": lambda: self._crew(state),
        }
        if action in MOUTH:
            return any(action in self.protocol.inject[name].allowed for name in self.open_injects(state))
        return checks[action]() if action in checks else True

    def _named(self, state: State, action: str) -> bool:
        waits = (self.protocol.inject[name] for name in self.open_injects(state))
        return any(
            action in one.allowed or any(action in forbidden.on for forbidden in one.forbidden) for one in waits
        ) or any(self._progress(state, move) for move in self.moves(state, action))

    def _rescuers(self, state: State) -> int:
        count = self.fact(state, "rescuers")
        return count if isinstance(count, int) else 1

    def _several(self, state: State) -> bool:
        return (
            self.fact(state, "bystander") is True
            or self._rescuers(state) >= 2
            or "helper_here" in (self.open_injects(state))
        )

    def _crew(self, state: State) -> bool:
        return any(
            "handover" in track.step[step].done
            for name, track in self.protocol.track.items()
            for step in (self.step(state, name),)
        )

    # --- what is due ------------------------------------------------------------------------------------------------

    def due(self, scene: Scene) -> Moment | None:
        """The decision that is due, the most pressing of all tracks; None where the world has to move first."""
        state = scene.state
        for name in self.open_injects(state):
            answers = [self._push(event) for event in self.protocol.inject[name].allowed]
            right = tuple(
                dict.fromkeys(
                    action
                    for action in answers
                    if self.listing.by_learner(action)
                    and self.possible(scene, action)
                    and not self._harms(state, action)
                )
            )
            if right:
                return self._moment(f"{self.protocol.id}:inject:{name}", right)
        main = self.listing.main
        found: list[tuple[int, Moment]] = []
        for track in self.tracks:
            step_name = self.asked_of(state, track)
            step = self.protocol.track[track].step[step_name]
            if (main, step_name) in self.listing.quiet and track == main:
                if self.hands_on(state):
                    found.append((0, self._moment(self._id(track, step_name), ("hands_lifted",))))
                continue
            rights = self._step_rights(scene, track)
            if rights:
                optional = track == main and not step.done
                if not optional or scene.thirty:
                    item = self._id(track, self._variant(scene, track, step_name), rights)
                    found.append((2 if optional else 0 if track == main else 1, self._moment(item, rights)))
            elif (
                track != main
                and self.listing.holds(track, step_name)
                and not self.hands_on(state)
                and self.pushes_fit(state)
            ):
                found.append((1, self._moment(self._id(track, step_name), (PUSH,))))
        return min(found, key=lambda entry: entry[0])[1] if found else None

    def _step_rights(self, scene: Scene, track: str) -> tuple[str, ...]:
        state = scene.state
        name = self.asked_of(state, track)
        step = self.protocol.track[track].step[name]
        if track != self.listing.main and not step.done and not step.cue:
            return self._facts_due(scene, track)
        found: dict[str, bool] = {}
        index = self.machine.layout.tracks[track]
        for event in (*step.done, *self.listing.own_answers(track, name)):
            action = self._push(event)
            if not self.listing.by_learner(event) or action in found or not self.possible(scene, action):
                continue
            for move in self.moves(state, action):
                own = move.track == index and self.home.get(move.arrow, ("", ""))[1] == name
                if own and (self._progress(state, move) or self._first_breaths(scene, action, name)):
                    found[action] = event in step.done
        done = tuple(action for action, is_done in found.items() if is_done)
        asked = [self._push(event) for event in step.done if self.listing.by_learner(event)]
        if asked and not any(self.possible(scene, action) for action in asked):
            return ()  # what the step asks for cannot be done yet: a shock before the unit is ready
        # "Two breaths" is one decision: after it only pushing is left, though the file counts the breath as done.
        if "breath" in done and PUSH in found and not self._first_breaths(scene, "breath", name):
            return (PUSH,)
        return done or tuple(found)[:1]

    def _first_breaths(self, scene: Scene, action: str, step: str) -> bool:
        """Whether breaths are due before any push, and none were given: their step goes on with the pushes only."""
        main = self.protocol.track[self.listing.main]
        first = step in main.spine and "breath" in main.step[step].done and scene.state.last_push < 0
        return action == "breath" and first and "breath" not in scene.done

    def breaths_first(self, state: State) -> bool:
        """Whether the main track asks for breaths before any push."""
        main = self.protocol.track[self.listing.main]
        name = self.asked_of(state, self.listing.main)
        return name in main.spine and "breath" in main.step[name].done

    def _facts_due(self, scene: Scene, track: str) -> tuple[str, ...]:
        """What the skin asks for now, in file order: one decision at a time."""
        index = self.machine.layout.tracks[track]
        for event in self.fact_events.get(track, ()):
            if self.possible(scene, event):
                taken = [move for move in self.moves(scene.state, event) if move.track == index]
                if any(self._progress(scene.state, move) for move in taken):
                    return (event,)
        return ()

    def _variant(self, scene: Scene, track: str, step: str) -> str:
        """The name of the step with what makes it another decision."""
        stem = f"{self.protocol.id}:step:{track}.{step}@"
        if f"{stem}{NO_SHOCK}" in self.listing.items and scene.verdict == NO_SHOCK:
            return f"{step}@{NO_SHOCK}"
        for fact in self.protocol.facts:
            if f"{stem}{fact}" in self.listing.items and self.fact(scene.state, fact) is True:
                return f"{step}@{fact}"
        return step

    def _id(self, track: str, step: str, rights: tuple[str, ...] = ()) -> str:
        ident = f"{self.protocol.id}:step:{track}.{step}"
        if ident in self.listing.items or not rights:
            return ident
        for fact, item in self.listing.facts.items():
            for one in self.listing.arrows:
                if one.track == track and rights[0] in one.arrow.on and fact in self.listing.facts_in(one.arrow.when):
                    return item
        return ident

    def _moment(self, item: str, right: tuple[str, ...]) -> Moment:
        return Moment(item, right, frozenset(), frozenset())

    def complete(self, scene: Scene, moment: Moment) -> Moment:
        """The moment with what is right besides and what is so: worked out only where somebody is asked."""
        right = moment.right
        also = frozenset(action for action in self.actions if action not in right and self.also(scene, action))
        return replace(moment, also=also, tags=self.tags(scene))

    def also(self, scene: Scene, action: str) -> bool:
        """Whether something else than the answer would be right too, so that it may not stand among the wrong ones."""
        state = scene.state
        if not self.possible(scene, action):
            return False
        if self._harms(state, action):
            return False
        if action == "breath" and any(MOUTH & set(self.protocol.inject[n].allowed) for n in self.open_injects(state)):
            return False  # what is in the mouth comes out first
        if action == "clear_called":  # said once too often does no harm while the unit reads or is ready
            return self.armed(state) or self._unit_reads(state)
        if self.armed(state):
            return False
        if action == PUSH and self._first_breaths(scene, "breath", self.asked_of(state, self.listing.main)):
            return False  # nobody is blamed for it, but the breaths were the decision
        moves = self.moves(state, action)
        if any(self.is_jump(state, move) for move in moves):
            return False
        if any(self._progress(state, move) for move in moves):
            return True
        if self._excused(state, action):
            return True
        if self.family(state) == "life" and action in ("response_checked", "not_breathing"):
            return True
        if any(self._endorsed(state, move) for move in moves):
            return True
        if action in ONCE and self._overdue(state, action):
            return True
        if action == PUSH:
            return state.last_push >= 0 and self.pushes_fit(state)
        # Doing a thing again that the drill would not mind, where the answer is the very same deed under another name.
        return action == "hands_lifted" and not self.pushes_fit(state)

    def _excused(self, state: State, action: str) -> bool:
        """Whether the present step calls it a fault, but not for this casualty: a breath first for one who drowned."""
        here = (self.listing.main, self.step(state, self.listing.main))
        return any(
            one.arrow.fault is not None and (one.track, one.step) == here and action in one.arrow.on
            for one in self.listing.arrows
        )

    def _endorsed(self, state: State, move: Move) -> bool:
        """An arrow of the main track's present step that stays, and has a word to say for itself."""
        here = (self.listing.main, self.step(state, self.listing.main))
        said = any(one.kind == "cue" for one in move.says)
        return said and not move.fault and move.to < 0 and self.home.get(move.arrow) == here

    def family(self, state: State) -> str:
        """The family of the decision that the main track's step stands for; "" for none."""
        main = self.listing.main
        item = self.listing.items.get(f"{self.protocol.id}:step:{main}.{self.step(state, main)}")
        return item.family if item is not None else ""

    def _overdue(self, state: State, action: str) -> bool:
        """Whether an earlier step, or this one, had a place for it: done late, it is still good to do."""
        names = list(self.protocol.track[self.listing.main].step)
        here = names.index(self.step(state, self.listing.main))
        return any(action in self.listing.own_answers(self.listing.main, name) for name in names[: here + 1])

    def _unit_reads(self, state: State) -> bool:
        """Whether pushing now would be a fault because the unit reads."""
        return (self.listing.main, self.step(state, self.listing.main)) in self.listing.quiet

    def pushes_fit(self, state: State) -> bool:
        """Whether hands belong on the chest now."""
        if self.family(state) == "shock":
            return False
        return not self._harms(state, PUSH) and not self._unit_reads(state) and not self.armed(state)

    def _harms(self, state: State, action: str) -> bool:
        return action not in TEMPTATIONS and any(move.fault for move in self.moves(state, action))

    def _push(self, event: str) -> str:
        return PUSH if event in PUSHES else event

    def tags(self, scene: Scene) -> frozenset[str]:
        """What is so now, in the words that temptations use."""
        state, main = scene.state, self.listing.main
        step = self.step(state, main)
        spine = self.protocol.track[main].spine
        family = self.family(state)
        before, asked = step in spine and state.last_push < 0, self._answers(main, step)
        told = {
            "lay": self.protocol.audience == "lay",
            "scene": bool(spine) and step == spine[0],
            "before": before,
            "check": family == "after" or (before and ("not_breathing" in scene.done or "not_breathing" in asked)),
            "alive": family == "life",
            "reading": self._unit_reads(state) and family != "life",
            "armed": self.armed(state),
            "hands_back": family == "after",
            "wet": self.fact(state, "chest") in ("wet", "damp"),
            "wet_or_metal": self.fact(state, "chest") in ("wet", "damp") or self.fact(state, "metal") is True,
            "unit_work": self.unit_here(state) and not {"pad_right", "pad_left"} <= scene.done,
            "pads_on": {"pad_right", "pad_left"} <= scene.done and self.unit_here(state),
            "loose": self.stuck(state),
            "crew": self._crew(state),
            "late": family == "life" or self._crew(state),
        }  # fmt: skip
        return frozenset(name for name, so in told.items() if so)

    def _answers(self, track: str, step: str) -> tuple[str, ...]:
        return tuple(self.protocol.track[track].step[step].done)

    # --- judging ----------------------------------------------------------------------------------------------------

    def everywhere(self, state: State, action: str) -> bool:
        """Whether what makes an action a fault holds in any step of its track: no question turns on it alone."""
        faulty = [move for move in self.moves(state, action) if move.fault] if action not in TEMPTATIONS else []
        return bool(faulty) and all(self.home.get(move.arrow, ("", "-"))[1] == "" for move in faulty)

    def judge(self, scene: Scene, moment: Moment, action: str) -> Judged:
        """What an action is worth as the answer at this moment: dangerous where its arrow has a critical fault."""
        if action in TEMPTATIONS:
            return Judged("wrong")
        if not self.possible(scene, action):
            return Judged("impossible")
        moves = self.moves(scene.state, action)
        # An inject knows the circumstances: its word on a fault comes before the general one.
        moves = sorted(moves, key=lambda move: not self.machine.tracks[move.track].built_in)
        faults = [self.machine.faults[move.fault] for move in moves if move.fault]
        worst = next((fault for fault in faults if fault.severity == "critical"), faults[0] if faults else None)
        if worst is not None:
            return Judged("danger" if worst.severity == "critical" else "wrong", worst)
        if action in moment.right:
            return Judged("right")
        if action in moment.also:
            return Judged("also")
        return Judged("wrong", None, any(self.is_jump(scene.state, move) for move in moves))
