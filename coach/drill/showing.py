"""From a drill to the one frozen value that screens paint."""

from __future__ import annotations

from typing import Literal

from coach.drill.floor_now import FloorNow
from coach.drill.looks import TARGETS
from coach.drill.meaning import ADVICE, expected, expected_in, inject_status
from coach.drill.record import NOT_SHOWN
from coach.drill.running import Running
from coach.drill.setup import approval_state, words_of
from coach.drill.view import Hands, InjectView, PadsView, View
from coach.engine.never import never_thrown
from coach.engine.plan import draw
from coach.engine.state import Effect, State
from coach.measure.tape import tape
from coach.observations import OBSERVATIONS
from coach.protocol.model import Protocol, Target, Wording
from coach.units import exact, parse_duration

Owner = Literal["", "rescuer", "unit"]

LAST_KEY_MS = 1_000
NOTICE_MS = 4_000
PLAN_MS = 3_000
CUE_MS = 8_000
VOICE_MS = 6_000
PROBE_TAPS = 12
PROBE_FROM_MS, PROBE_TO_MS = 3_000, 9_000
"""A probe is asked for at a drawn moment in this stretch of a run, so that it is not always the fresh start."""
TAPE_CELLS = 240
CAUTION = "Training only. In a real collapse call the emergency number."

_STATUS = {"idle": "at hand", "open": "open", "closed": "answered", "late": "late"}


class Showing:
    """Makes views of one drill; keeps what changes only with a key."""

    def __init__(self, drill: Running, pads: PadsView | None) -> None:
        self.drill = drill
        self.pads = pads
        self._never = never_thrown(drill.setup.protocol, drill.plan)
        self.limit_ms = limit_ms(drill.setup.protocol, "hands_off")
        self._run_of = run_of(drill.setup.protocol)
        self._approval = approval_state(drill.setup, drill.clock.wall().date()).word
        self._tape: tuple[int, int, str] = (-1, -1, "")

    def tape(self, e: int) -> str:
        """The last cells of the tape, one a second."""
        key = (self.drill.version, e // 1000)
        if self._tape[:2] != key:
            drill = self.drill
            breaks = [drill.clocks.e_at(stretch.t_from) for stretch in drill.clocks.stretches]
            cells = tape(self.drill.floor().moments, e, drill.plan.counting, breaks, TAPE_CELLS)
            self._tape = (*key, cells)
        return self._tape[2]

    # --- the view ---------------------------------------------------------------------------------------------------

    def view(self, now_ms: int) -> View:
        """The drill at ``now_ms`` (the clock's monotonic ms)."""
        drill = self.drill
        setup, machine = drill.setup, drill.machine
        running = drill.phase == "running"
        t = max(drill.now_t, drill.t_of(now_ms)) if drill.phase not in ("ready", "ended", "card") else drill.now_t
        e = drill.clocks.e_at(t)
        state = drill.timeline.at(e)[0]
        floor = self.drill.floor()
        hands = self._hands(state, floor)
        off_ms = e - floor.last_hands if hands == "off" and floor.last_hands is not None else None
        what, owner = self._off(state, floor)
        period = self._period(state, e)
        test = setup.mode == "test"
        return View(
            phase=drill.phase,
            mode=setup.mode,
            counting=setup.counting,
            unit=setup.unit,
            title=words_of(setup.protocol.title, setup.language),
            guidance=f"after {setup.protocol.guidance}, not endorsed",
            approval=self._approval,
            learner=setup.learner,
            t=t,
            e=e,
            shocks=floor.shocks,
            hands=hands,
            run=floor.run,
            pushes=len(floor.beats) or len(floor.taps),
            run_of=self._run_of if drill.plan.facts.get("breaths", True) is True else None,
            breaths=floor.breaths,
            off_ms=off_ms,
            off_what=what if off_ms is not None else "",
            off_owner=owner if off_ms is not None else "",
            off_limit_ms=self.limit_ms,
            loud=off_ms is not None and self._loud(floor, e),
            rate=floor.rate(),
            now=self._title(state),
            cue="" if test else self._cue(state, e),
            voice=self._voice(e),
            next_label=self._next_label(state) if running else "",
            armed=running and machine.is_armed(state.steps),
            analysing=floor.analysing,
            period_ms=period,
            period_warning=period is not None and period <= self._warning_ms(),
            swap_due=self._swap_due(floor),
            pads=self.pads,
            look=words_of(TARGETS[drill.look], setup.language) if drill.look else "",
            concern_open=drill.concern,
            tape=self.tape(e),
            last_key=drill.last_key[0] if t - drill.last_key[1] <= LAST_KEY_MS else "",
            would_void=drill.would_void(),
            injects=self._injects(state, e),
            notice=self._notice(t, e),
            saved=drill.log.saved,
            probe=running and self._probe(hands, floor, e),
            plan=self._plan(t),
            focus=drill.focused,
            caution=CAUTION,
        )

    def _hands(self, state: State, floor: FloorNow) -> Hands:
        if floor.last_hands is None:
            return "none"
        on = self.drill.machine.step_name(state.steps, "hands") == "hands_on_chest"
        # A pause or a hole ends a run, and the machine's track of hands knows of neither.
        return "on" if on and not floor.run_over else "off"

    def _off(self, state: State, floor: FloorNow) -> tuple[str, Owner]:
        if floor.analysing:
            return "the unit is reading", "unit"
        if floor.alive:
            return "signs of life", ""
        if self.drill.machine.is_armed(state.steps):
            return "a shock is ready", "rescuer"
        if floor.breaths:
            return "one breath so far" if floor.breaths == 1 else f"{floor.breaths} breaths so far", "rescuer"
        return "no hands on the chest", "rescuer"

    def _loud(self, floor: FloorNow, e: int) -> bool:
        """Past the limit in the rescuer's own time: never in an analysis, nor while signs of life last."""
        since = floor.rescuers_since
        if self.limit_ms is None or since is None or floor.analysing or floor.alive:
            return False
        return e - since > self.limit_ms

    def _title(self, state: State) -> str:
        """What the learner is at: the step that waits for what J names, else the step of the first track."""
        protocol = self.drill.setup.protocol
        track = expected_in(protocol, self.drill.machine, state)[0] or next(iter(protocol.track))
        step = self.drill.machine.step_name(state.steps, track)
        wording = self.drill.setup.protocol.track[track].step[step].title
        return words_of(wording, self.drill.setup.language) or step.replace("_", " ")

    def _cue(self, state: State, e: int) -> str:
        """The last cue that was shown, while its step lasts; one that a reminder made, for some seconds."""
        machine = self.drill.machine
        for effect, seq in reversed(self.drill.scribe.written):
            if effect.kind != "cue" or seq == NOT_SHOWN:
                continue
            stays = effect.name.startswith("step:") and machine.step_name(state.steps, effect.track) == effect.was
            if stays or e - effect.e <= CUE_MS:
                return self._words(machine.cues[effect.name])
            return ""
        return ""

    def _voice(self, e: int) -> str:
        for effect, _ in reversed(self.drill.scribe.written):
            if e - effect.e > VOICE_MS:
                return ""
            if effect.kind == "voice":
                return self._words(self.drill.machine.voices[effect.name])
        return ""

    def _words(self, wording: Wording) -> str:
        return words_of(wording, self.drill.setup.language)

    def _next_label(self, state: State) -> str:
        protocol = self.drill.setup.protocol
        event = expected(protocol, self.drill.machine, state)
        if not event:
            return ""
        if event in protocol.observations:
            return self._words(protocol.observations[event].label)
        return OBSERVATIONS[event].label

    def _period(self, state: State, e: int) -> int | None:
        index = self.drill.machine.layout.timers.get("period")
        return next((entry[0] - e for entry in state.timers if entry[1] == index), None)

    def _warning_ms(self) -> int:
        timers = self.drill.machine.layout.timers
        if "period" not in timers or "period_warning" not in timers:
            return 0
        infos = self.drill.machine.timers
        return infos[timers["period"]].first - infos[timers["period_warning"]].first

    def _swap_due(self, floor: FloorNow) -> bool:
        """The time to change has come (timers ``swap_after`` and ``period``), and nobody changed since."""
        if self.drill.setup.protocol.facts.get("rescuers") is None or self.drill.plan.facts.get("rescuers") == 1:
            return False
        over = next(
            (
                effect.e
                for effect, _ in reversed(self.drill.scribe.written)
                if effect.kind == "timer" and effect.name in ("period", "swap_after")
            ),
            None,
        )
        return over is not None and floor.last.get("swapped", -1) < over - 10_000

    def _injects(self, state: State, e: int) -> tuple[InjectView, ...]:
        drill = self.drill
        machine = drill.machine
        views = []
        for digit, name in drill.plan.digits.items():
            inject = drill.setup.protocol.inject[name]
            status = _STATUS[inject_status(machine, state, name)]
            if state.counters[machine.layout.counters[f"thrown:{name}"]] >= inject.times and status == "at hand":
                status = "used up"
            if digit in self._never:
                status = "not here"
            due = None
            for number, throw in enumerate(drill.plan.throws):
                if throw.name == name:
                    index = machine.layout.timers.get(f"throw:{number}")
                    due = next((entry[0] - e for entry in state.timers if entry[1] == index), None)
            due = None if digit in self._never else due
            views.append(InjectView(digit, self._words(inject.title), status, self._words(inject.play), due))  # type: ignore[arg-type]
        return tuple(views)

    def _notice(self, t: int, e: int) -> str:
        drill = self.drill
        words, at = drill.notice
        words = words if t - at <= NOTICE_MS else ""
        if not drill.log.saved:  # nothing hides that; what else must be read stands beside it for its moment
            return f"NOT SAVED. {words}" if words else drill.log.alarm
        if not drill.focused:
            return "The keyboard is elsewhere: click into this window."
        return self._concern(e) or self._thrown(e) or words or drill.log.alarm

    def _thrown(self, e: int) -> str:
        """What the scenario has just thrown in by itself: the instructor has to act it."""
        named = {f"inject:{name}": inject for name, inject in self.drill.setup.protocol.inject.items()}
        for effect, _ in reversed(self.drill.scribe.written):
            if e - effect.e > CUE_MS:
                return ""
            inject = named.get(effect.name)
            if inject is not None and effect.kind == "emit" and self._taken(effect):
                return ": ".join(part for part in (self._words(inject.title), self._words(inject.play)) if part)
        return ""

    def _taken(self, thrown: Effect) -> bool:
        """A throw that came too late (the unit is there already) opens and brings nothing."""
        return any(effect.e == thrown.e and effect.track == thrown.name for effect, _ in self.drill.scribe.written)

    def _concern(self, e: int) -> str:
        """The reminder of an open concern, to the instructor and in teach mode only: it rests on the eye."""
        drill = self.drill
        if not drill.concern or drill.setup.mode != "teach":
            return ""
        fired = [effect.e for effect, _ in drill.scribe.written if effect.kind == "timer" and effect.name == "concern"]
        if not fired or e - fired[-1] > CUE_MS:
            return ""
        return f"Look again: {words_of(TARGETS[drill.look], drill.setup.language)}" if drill.look else "Look again."

    def _probe(self, hands: Hands, floor: FloorNow, e: int) -> bool:
        plan = self.drill.plan
        if plan.counting != "probe" or hands != "on" or floor.run_began is None or len(floor.taps) >= PROBE_TAPS:
            return False
        return e - floor.run_began >= draw(plan.seed, "probe", floor.run, PROBE_FROM_MS, PROBE_TO_MS)

    def _plan(self, t: int) -> str:
        drill = self.drill
        if drill.plan_shown_at is None or t - drill.plan_shown_at > PLAN_MS:
            return ""
        words = drill.plan.facts.get(drill.plan.script)
        if not isinstance(words, tuple):
            return "no rhythm plan"
        return ", ".join("shock" if ADVICE.get(word) == "shock_advised" else "no shock" for word in words) + ", …"


def limit_ms(protocol: Protocol, name: str) -> int | None:
    """The upper bound of a target of time, in ms; None where the protocol has none."""
    bound = protocol.targets.get(name)
    return _ms(bound.to, bound) if bound is not None and bound.to is not None else None


def _ms(value: float | str, bound: Target) -> int:
    return parse_duration(value if isinstance(value, str) else f"{value:g} {bound.unit or 's'}")


def run_of(protocol: Protocol) -> int | None:
    """Pushes that a run should have, by the protocol's target ``run_length``."""
    bound = protocol.targets.get("run_length")
    if bound is None or bound.value is None:
        return None
    return int(exact(bound.value)) if not isinstance(bound.value, str) else int(bound.value.split()[0])
