"""The world that goes on: one casualty on the drill's engine, moved by answers and by time, with nobody to key it.

A :class:`Walk` leads from the start of a story to the decisions that are wanted: what is not asked is done rightly and
told in a word, what comes from outside (the unit, a bystander, waking up) happens where it makes the decision real.
"""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import Plan
from coach.engine.state import Effect, State
from coach.engine.step import advance, feed, start
from coach.log.happened import Happened, Seen, Told
from coach.protocol.model import Wording
from coach.rehearse.items import NO_SHOCK, Listing
from coach.rehearse.moments import Judged, Moment, Moments, Scene
from coach.rehearse.temptations import TEMPTATIONS
from coach.rehearse.verbs import AGAIN, FIRST, FRONT, PUSH

TAKES_MS = {
    "scene_checked": 3_000, "response_checked": 5_000, "call_made": 6_000, "not_breathing": 7_000, "helper_sent": 3_000,
    "breath": 1_000, "hands_lifted": 500, "unit_on": 2_000, "chest_bared": 4_000, "chest_dried": 4_000,
    "hair_removed": 8_000, "patch_removed": 6_000, "pad_right": 4_000, "pad_left": 4_000, "clear_called": 2_000,
    "shock_pressed": 500, "swapped": 3_000, "rolled": 6_000, "recovery": 8_000, "handover": 10_000,
}  # fmt: skip
"""How long a deed takes in a rehearsal, in ms: plausible times of our own choice, nobody's measure."""

OTHER_MS = 4_000
RUN = 30
A_PUSH_MS = 60_000 / 110
"""Pushes before two breaths where a file names no length of a run; the time of one at 110 a minute (arithmetic)."""
FIRST_BREATHS = 5
"""Most breaths that are given before the first push: as many as a file counts, and five are the most of any body."""

BUSY = frozenset(
    {
        "response_checked", "not_breathing", "unit_on", "chest_bared", "chest_dried", "hair_removed", "patch_removed",
        "pad_right", "pad_left", "rolled", "mouth_cleared", "recovery", "shock_pressed",
    }
)  # fmt: skip
"""What one rescuer alone cannot do while pushing."""

PREPARES = frozenset({"chest_bared", "chest_dried", "hair_removed", "patch_removed", "pad_right", "pad_left"})
"""What gets a chest ready for the unit."""
ENDS_UNIT = frozenset({"inject:no_pads"})
"""What leaves the unit useless, though the file lets it go on: it is the last thing that a story asks."""
AFTER_BREATHS = frozenset({"breath_blocked"})
"""What can happen only while somebody breathes for the casualty."""

LONGEST_CHARGE_MS = 9_000
"""As long as the unit's getting ready is waited for before a clear call is asked: inside the usual limit of ten
seconds."""

PATIENCE_MS = 420_000
"""As long as an end of the story waits for decisions that have not come: three periods of two minutes and more."""

MOST_MOVES = 300
"""A walk that has not come to a wanted decision after so many moves never will; far above what any file needs."""


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that happened on the way, for the telling: ``event`` as the engine has it, or a temptation's id;
    ``voice`` is what the unit said, ``ms`` time that went by with nothing to decide."""

    event: str
    voice: str = ""
    ms: int = 0


def machine_for(plan: Plan, machine: Machine) -> Machine:
    """The machine of another plan with the same unit and way of counting: only the facts differ, and building one anew
    would cost more than a frame."""
    return replace(machine, facts=tuple(plan.facts[name] for name in machine.fact_names))


class Walk:
    """One story on the engine. Nothing in it reads a clock: time is what it is told."""

    def __init__(self, listing: Listing, plan: Plan, unit_at_ms: int, machine: Machine | None = None) -> None:
        self.listing = listing
        self.plan = plan
        self.machine = machine_for(plan, machine) if machine is not None else build(listing.protocol, plan)
        self.moments = Moments(listing, self.machine)
        self.unit_at_ms = unit_at_ms
        self.front_and_back = False
        """Whether this casualty's pads go on front and back."""
        state, effects = start(self.machine)
        self.scene = Scene(state)
        self.cycle_from = 0
        self.told: list[Step] = []
        self.seen: list[Seen] = []
        self.effects: list[Told] = [Told(effect, 0) for effect in effects]
        self.run = self._run()
        """Pushes before two breaths."""
        self.asked: set[str] = set()
        self.crew_came = False
        self.since = 0
        """When the present search began: what has not come for a long time will not come."""

    def _run(self) -> int:
        """The file's length of a run, unless what it finds amiss about runs is not for this casualty or rescuer."""
        target = self.listing.protocol.targets.get("run_length")
        value = target.value if target is not None else None
        if not isinstance(value, (int, float)):
            return RUN
        for table in self.listing.protocol.finding:
            asked = [one for one in table.values() if isinstance(one, dict) and one.get("target") == "run_length"]
            if asked and not self.moments.holds(self.state, str(table.get("when", ""))):
                return RUN
        return int(value)

    @property
    def state(self) -> State:
        """Where the machine is."""
        return self.scene.state

    # --- feeding the engine -----------------------------------------------------------------------------------------

    def _note(self, effects: Iterable[Effect], because: int) -> None:
        verdict, done = self.scene.verdict, self.scene.done
        for effect in effects:
            self.effects.append(Told(effect, because))
            if effect.kind == "voice" and effect.name in self.machine.voices:
                self.told.append(Step("", effect.name))
            if effect.kind == "emit" and effect.name in ("shock_advised", NO_SHOCK):
                verdict = effect.name
            if effect.kind == "emit" and effect.name in ("analysis_begins", "shock_advised", NO_SHOCK):
                self.seen.append(Seen(len(self.seen) + 1, effect.e, effect.e, effect.name, by="unit"))
        self.scene = replace(self.scene, verdict=verdict, done=done)

    def feed(self, event: str) -> tuple[Effect, ...]:
        """One event now."""
        before = self.state
        state, effects, outcome = feed(self.machine, before, event, before.e)
        self.seen.append(Seen(len(self.seen) + 1, before.e, before.e, event, outcome, state=before))
        done = self.scene.done | {event}
        if event == "inject:unit_fault":
            done -= {"unit_on", "pad_right", "pad_left"}
        verdict = event if event in ("shock_advised", NO_SHOCK, "shock_pressed") else self.scene.verdict
        self.scene = Scene(state, done, self.scene.thirty, verdict)
        self._note(effects, len(self.seen))
        return effects

    def wait(self, ms: int) -> tuple[Effect, ...]:
        """Time passes."""
        state, effects = advance(self.machine, self.state, self.state.e + ms)
        self.scene = replace(self.scene, state=state)
        self._note(effects, len(self.seen))
        if self.moments.hands_on(state) and self.state.e - self.cycle_from >= self.run_ms:
            self.scene = replace(self.scene, thirty=self._breaths())
        return effects

    @property
    def run_ms(self) -> int:
        """How long the pushes before two breaths take, in ms."""
        return round(self.run * A_PUSH_MS)

    @property
    def run_over(self) -> bool:
        """Whether a run of pushes is behind, whether or not breaths follow it."""
        return self.moments.hands_on(self.state) and self.state.e - self.cycle_from >= self.run_ms

    def name_of(self, action: str) -> str:
        """The name under which a deed goes just now: pads front and back, a loose one again, breaths before pushes."""
        if action in AGAIN and action in self.scene.done and self.moments.stuck(self.state):
            return AGAIN[action]
        if action in FRONT and self.front_and_back:
            return FRONT[action]
        if action in FIRST and self.moments.breaths_first(self.state):
            return FIRST[action]
        return action

    def why(self, item: str) -> Wording:
        """What was last called out on entering an item's step or in it, where the step has no cue; {} for nothing."""
        one = self.listing.items[item]
        track, _, step = one.name.partition("@")[0].partition(".")
        if one.kind != "step" or self.listing.protocol.track[track].step[step].cue:
            return {}
        for told in reversed(self.effects):
            effect = told.effect
            here = self.moments.leads(effect.arrow) == (track, step)
            if here and effect.kind == "cue" and effect.name in self.machine.cues:
                return self.machine.cues[effect.name]
        return {}

    def _breaths(self) -> bool:
        return self.moments.fact(self.state, "breaths") is not False

    def perform(self, action: str) -> tuple[Effect, ...]:
        """Do a thing: hands leave the chest for it where they must, it takes its time, and the world goes on."""
        made: list[Effect] = []
        temptation = TEMPTATIONS.get(action)
        rescuers = self.moments.fact(self.state, "rescuers")
        alone = not isinstance(rescuers, int) or rescuers < 2
        if self.moments.hands_on(self.state) and (temptation is not None or (alone and action in BUSY)):
            made += self.feed("hands_lifted")
        if temptation is not None:
            self.told.append(Step(action))
            return (*made, *self.wait(temptation.ms))
        name, breaths = self.name_of(action), 2 if not self.moments.breaths_first(self.state) else FIRST_BREATHS
        made += self.wait(TAKES_MS.get(action, OTHER_MS) if action != PUSH else 500)
        self.told.append(Step(name))  # what the unit said meanwhile came before
        made += self.feed(action)
        if action == "breath":
            for _ in range(breaths - 1):
                made += self.wait(1_000)
                made += self.feed("breath")
        if action in (PUSH, "breath"):
            self.cycle_from = self.state.e
        if action in (PUSH, "breath") or not self.moments.hands_on(self.state):
            self.scene = replace(self.scene, thirty=False)
        return tuple(made)

    # --- what is due ------------------------------------------------------------------------------------------------

    def due(self) -> Moment | None:
        """The decision that is due now."""
        return self.moments.due(self.scene)

    def asked_again(self, item: str) -> Moment | None:
        """The decision that is due, whole, if it is still that of ``item``."""
        moment = self.due()
        return self.moments.complete(self.scene, moment) if moment is not None and moment.item == item else None

    def judge(self, moment: Moment, action: str) -> Judged:
        """What an action would be worth."""
        return self.moments.judge(self.scene, moment, action)

    def to_next(self, wanted: AbstractSet[str]) -> Moment | None:
        """Go on to the next wanted decision, doing rightly what is not asked; None where none comes any more."""
        self.since = self.state.e
        for _ in range(MOST_MOVES):
            left = set(wanted - self.asked)
            moment = self.due()
            if not left or (ENDS_UNIT & self.scene.done and not self.moments.open_injects(self.state)):
                return None
            thrown = self._throw(moment, left)
            if thrown is not None:
                if self.told and self.told[-1].event == "breath":
                    self.told[-1] = Step("breath@tried")  # whether it went in is what the inject says
                self.feed(f"inject:{thrown}")
                self.told.append(Step(f"inject:{thrown}"))
                moment = self.due()
            told = self._handover_due(moment, left)
            if told is not None:
                return told
            if moment is not None and moment.item in left:
                return self.moments.complete(self.scene, self._ready(moment))
            if moment is not None:
                self.perform(self._rightly(moment, left))
            elif not self._world_moves(left):
                return None
        return None

    def _handover_due(self, moment: Moment | None, left: set[str]) -> Moment | None:
        """The handover itself, once it has been chosen or would be done unasked."""
        item = f"{self.listing.protocol.id}:handover"
        due = "handover" in self.scene.done or (
            moment is not None and moment.right == ("handover",) and moment.item not in left
        )
        if item not in left or not due:
            return None
        if "handover" not in self.scene.done:
            self.perform("handover")
        return Moment(item, ("handover",), frozenset(), self.moments.tags(self.scene))

    def _ready(self, moment: Moment) -> Moment:
        """A clear call is asked for when a shock could be pressed, a few seconds after the verdict."""
        if moment.right[0] != "clear_called" or self.moments.armed(self.state):
            return moment
        for deadline, _, _ in self.state.timers:
            if deadline - self.state.e > LONGEST_CHARGE_MS:
                break
            after, _ = advance(self.machine, self.state, deadline)
            if self.moments.armed(after):
                self.wait(deadline - self.state.e)
                return self.due() or moment
        return moment

    def _rightly(self, moment: Moment, left: set[str]) -> str:
        """The right thing to do unasked; of two, the one that leads to a wanted step."""
        prefix = f"{self.listing.protocol.id}:step:"
        for action in (*moment.right, *self.moments.actions):
            for move in self.moments.moves(self.state, action):
                info = self.machine.tracks[move.track]
                if move.to < 0 or move.fault or f"{prefix}{info.name}.{info.steps[move.to]}" not in left:
                    continue
                if action in moment.right or self.moments.also(self.scene, action):
                    return action
        return moment.right[0]

    def _world_moves(self, left: set[str]) -> bool:
        """Nothing is to be decided: hands, the unit, the crew or time move. False where nothing more will happen."""
        state, moments = self.state, self.moments
        family = moments.family(state)
        if family == "life":
            return self._from_outside(left, crew_only=True)
        if not moments.hands_on(state) and moments.pushes_fit(state):
            self.perform(PUSH)
            return True
        early = moments.hands_on(state) and not self.run_over and self._before_unit(left)
        if not early and not moments.unit_here(state) and self._needs_unit(left) and self._throwable("unit_here"):
            self.wait(max(self.unit_at_ms - state.e, 0))
            return self._outside("unit_here")
        awaited = self._patient and self._wants(left, "pushing")
        if early or (moments.hands_on(state) and not self.run_over and awaited):
            due = max(self.cycle_from + self.run_ms, state.e + 1)
            while self.state.e < due and self.state.steps == state.steps:
                first = self.state.timers[0][0] if self.state.timers else due
                self.wait(max(min(first, due) - self.state.e, 1))
            return True
        if self._from_outside(left):
            return True
        if not state.timers:
            return False
        before, place = state.steps, len(self.told)
        for _ in range(40):
            if not self.state.timers:
                return False
            self.wait(max(self.state.timers[0][0] - self.state.e, 0))
            if self.state.steps != before:
                self.told.insert(place, Step("", ms=self.state.e - state.e))
                return True
        return False

    def _from_outside(self, left: set[str], crew_only: bool = False) -> bool:
        """Waking up and the crew, once nothing else is wanted that would have to come before."""
        crew = {item for item in left if self.listing.items[item].family == "crew"}
        life = {item for item in left if self._is_life(item)}
        others = left - crew - life if self._patient else set()
        ready = "pad_left" in self.scene.done or "inject:unit_fault" in self.scene.done
        hands_on, alive = self.moments.hands_on(self.state), self.moments.family(self.state) == "life"
        if life and not alive and ready and hands_on and not others and self._throwable("signs_of_life"):
            return self._outside("signs_of_life")
        if crew and not self.crew_came and not others and (crew_only or not life):
            self.crew_came = self._throwable("crew_here")
            return self.crew_came and self._outside("crew_here")
        return False

    @property
    def _patient(self) -> bool:
        """Whether a story still waits for what may never come, before it goes on to waking up and the crew."""
        return self.state.e - self.since <= PATIENCE_MS

    def _is_life(self, item: str) -> bool:
        one = self.listing.items[item]
        return one.family == "life" or (
            one.kind == "inject" and bool(set(self.listing.protocol.inject[one.name].emit) & {"life_fades"})
        )

    def _wants(self, left: set[str], family: str) -> bool:
        names = {self.listing.items[item].name for item in left}
        return any(self.listing.items[item].family == family for item in left) or any(
            (set(inject.allowed) & {"rolled", "mouth_cleared", "swapped", "helper_sent"} or name in AFTER_BREATHS)
            and name in names
            for name, inject in self.listing.protocol.inject.items()
        )

    def _needs_unit(self, left: set[str]) -> bool:
        """Whether something is wanted that comes only with the unit."""
        early = {"start", "pushing"}
        for item in left:
            one = self.listing.items[item]
            if one.family == "special" and not self._mid(one.name):
                return True
            if one.family not in early and one.family not in ("special", "crew", "change"):
                return True
        return bool(left) and not any(
            self._mid(self.listing.items[i].name) or self._wants({i}, "pushing") for i in left
        )

    def _before_unit(self, left: set[str]) -> bool:
        """Whether something is wanted that has no sense once the unit is there: somebody to send for it."""
        wanted = {self.listing.items[item].name for item in left if self.listing.items[item].kind == "inject"}
        return "helper_sent" not in self.scene.done and any(
            "helper_sent" in self.listing.protocol.inject[name].allowed and self._mid(name) for name in wanted
        )

    def _mid(self, name: str) -> bool:
        """An inject that may come at any time while somebody pushes."""
        inject = self.listing.protocol.inject.get(name)
        shock = inject is not None and any("shock_pressed" in one.on for one in inject.forbidden)
        return inject is not None and not inject.when and not shock

    def _throwable(self, name: str) -> bool:
        return name in self.listing.protocol.inject and bool(self.moments.moves(self.state, f"inject:{name}"))

    def _outside(self, name: str) -> bool:
        self.feed(f"inject:{name}")
        self.told.append(Step(f"inject:{name}"))
        return True

    def _throw(self, moment: Moment | None, left: set[str]) -> str | None:
        """The inject, if any, that is wanted and makes a real decision just here."""
        for item in sorted(left):
            one = self.listing.items[item]
            if one.kind == "inject" and self._throwable(one.name) and self._fits(one.name, moment, left):
                return one.name
        return None

    def _fits(self, name: str, moment: Moment | None, left: set[str]) -> bool:
        inject = self.listing.protocol.inject[name]
        state, moments = self.state, self.moments
        if name in moments.open_injects(state):
            return False
        if set(inject.emit) & {"life_fades"}:
            return moment is None and not moments.hands_on(state)
        forbidden = {event for one in inject.forbidden for event in one.on}
        answers = {answer for name in (self.listing.main,) for answer in self._ever(name)}
        tempting = forbidden & answers
        if tempting:
            return moment is not None and moment.right[0] in tempting
        if inject.when and set(inject.allowed) & {"not_breathing"}:
            return moment is not None and moment.right[0] in inject.allowed and moment.right[0] != PUSH
        others = {item for item in left if self.listing.items[item].family != "crew" and not self._is_life(item)}
        prepares = moment is not None and moment.right[0] in PREPARES
        if f"inject:{name}" in ENDS_UNIT:
            return prepares and len(left) == 1
        if name == "unit_fault" or "unit_on" in inject.allowed:
            return moment is None and moments.hands_on(state) and len(others) == 1
        if name in AFTER_BREATHS:
            return moment is not None and moment.right == (PUSH,) and self.told[-1:] == [Step("breath")]
        if inject.when:
            return prepares or (moment is None and moments.hands_on(state))
        if name == "object_seen" and moments.fact(state, "choking") is not True:
            return False
        if "helper_sent" in inject.allowed and ("helper_sent" in self.scene.done or moments.unit_here(state)):
            return False
        mid = moments.hands_on(state) and state.last_push >= 0 and self.run_over
        return mid and (moment is None or moment.right[0] == "breath")

    def _ever(self, track: str) -> set[str]:
        found: set[str] = set()
        for name, step in self.listing.protocol.track[track].step.items():
            found |= {a for a in self.listing.own_answers(track, name) if a in step.done or not step.done}
        unasked = {"compression", PUSH, "not_breathing", "recovery"} | (
            {"breath"} if self.listing.breathless else set()
        )
        return found - unasked

    # --- the record -------------------------------------------------------------------------------------------------

    def happened(self) -> Happened:
        """The walk as measures read a drill."""
        seen = tuple(sorted(self.seen, key=lambda one: one.e))
        return Happened(seen, tuple(self.effects), self.state.e, self.state.e, "ended")
