"""One drill, live or from a script: keys in, log lines out.

The order for every key: stamp, judge whether it is a press at all, fix what it means, write the line, fold. Nothing
here reads a clock on its own: stamps come in, and so does "now".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from coach.clock import Clock, SuspendWatch
from coach.drill.floor_now import FloorNow, Moment, floor_now
from coach.drill.ledger import NEVER_NUDGED, VERDICTS, Ledger, barrier
from coach.drill.looks import target
from coach.drill.meaning import PUSHING, Meaning, meaning
from coach.drill.presses import EXEMPT, Bounce
from coach.drill.record import Scribe
from coach.drill.setup import Setup
from coach.drill.view import Phase
from coach.engine.digest import digest
from coach.engine.machine import Machine
from coach.engine.plan import Plan
from coach.engine.state import Effect, State
from coach.log.history import History
from coach.log.recover import Hole
from coach.log.timeline import Input, Timeline
from coach.log.two_clocks import TwoClocks
from coach.log.writing import Log
from coach.observations import OBSERVATIONS, label

NUDGE_MS = 500
END_WITHIN_MS = 1_500
URGENT = VERDICTS | {"shock_pressed", "shock_delivered"}
CHORDS = {
    "ctrl+c": "Z Z ends the drill",
    "ctrl+q": "Z Z ends the drill",
    "alt": "Alt and a key mean nothing",
}
"""Unmapped keys that are logged by name, and what is said to them; of all others not even the character is kept."""


class Running:
    """A drill from the briefing to its last line. Not thread safe: one loop presses, ticks and looks.

    ``phase`` is what screens branch on; ``timeline`` is the fold; ``log`` is where the lines go. All stamps are
    milliseconds of :meth:`coach.clock.Clock.mono_ms`.
    """

    def __init__(self, setup: Setup, plan: Plan, machine: Machine, clock: Clock, log: Log, drill_id: str = "") -> None:
        self.setup = setup
        self.lead_in: tuple[str, ...] = ()
        self.plan = plan
        self.machine = machine
        self.clock = clock
        self.log = log
        self.id = drill_id
        self.phase: Phase = "ready"
        self.clocks = TwoClocks()
        self.timeline = Timeline(machine)
        self.scribe = Scribe(log, machine, self.clocks, setup.mode, setup.language)
        self.keys_muted = False
        self.focused = True
        self.now_t = 0
        self.notice: tuple[str, int] = ("", -1)
        self.last_key: tuple[str, int] = ("", -1)
        self.plan_shown_at: int | None = None
        self.ended = ""
        self.version = 0
        self.concern = False
        self.ledger = Ledger()
        self._floor = FloorNow()
        self._floor_version = -1
        self._bounce = Bounce()
        self._go_mono = 0
        self._end_asked: int | None = None
        self._sleep = SuspendWatch(clock)
        self._slept = 0

    # --- the floor --------------------------------------------------------------------------------------------------

    def floor(self) -> FloorNow:
        """The floor as it stands: read anew when an event was added, voided or moved."""
        if self.version != self._floor_version:
            moments = [Moment(entry.input.e, entry.input.event, entry.outcome) for entry in self.timeline.entries]
            moments += [
                Moment(effect.e, effect.name, "taken")
                for effect, _ in self.scribe.written
                if effect.kind == "emit" and effect.name in OBSERVATIONS
            ]
            moments.sort(key=lambda moment: moment.e)
            breaks = [self.clocks.e_at(stretch.t_from) for stretch in self.clocks.stretches]
            self._floor = floor_now(moments, self.plan.counting in ("each", "counter"), breaks)
            self._floor_version = self.version
        return self._floor

    @property
    def look(self) -> str:
        """Where to look in this run: the id of a target."""
        return target(max(self.floor().run, 1), self.plan.facts.get("breaths", True) is True)

    # --- time -------------------------------------------------------------------------------------------------------

    def t_of(self, stamp_ms: int) -> int:
        """Milliseconds since go of a stamp, never below 0."""
        return max(stamp_ms - self._go_mono + self._slept, 0)

    def e_now(self) -> int:
        """The engine's clock at the last tick or key."""
        return self.clocks.e_at(self.now_t)

    def state_now(self) -> State:
        """The machine's state now, a throw-away."""
        return self.timeline.at(self.e_now())[0]

    def go(self, stamp_ms: int) -> None:
        """The moment of collapse: ``stamp_ms`` is t = 0."""
        if self.phase != "ready":
            return
        self._go_mono, self.now_t, self._slept = stamp_ms, 0, 0
        self._sleep = SuspendWatch(self.clock)
        self.phase = "running"
        self.scribe.line("go", 0, 0, urgent=True, digest=digest(self.timeline.last))
        self._settle(0)
        for event in self.lead_in:
            self._begin_with(event)

    def _begin_with(self, event: str) -> None:
        """Something that a drill begun at a step has behind it: a line of its own kind, and nobody's key."""
        place = self.timeline.put(Input(0, self.log.seq, event))
        outcome = self.timeline.entries[place].outcome
        self.scribe.line("begun", 0, 0, input=event, via="start", outcome=outcome, digest=digest(self.timeline.last))
        self._settle(place)

    def take_up(self, history: History, lines: Sequence[Mapping[str, Any]], hole: Hole) -> None:
        """Stand where an interrupted drill stood and mark the stretch that nobody saw; see
        :func:`coach.drill.opening.resume_drill`."""
        self.timeline, self.clocks = history.timeline, history.clocks
        self.scribe = Scribe(self.log, self.machine, self.clocks, self.setup.mode, self.setup.language)
        self.scribe.take_up(self.timeline, lines, history.end_e)
        self.ledger = Ledger.of(history, lines)
        if not any(line["kind"] == "go" for line in lines):
            return
        self._go_mono = self.clock.mono_ms() - hole.t_to
        self.now_t = hole.t_to
        if self.clocks.paused is not None:
            self.clocks.close(hole.t_from)
        self.clocks.open("hole", hole.t_from)
        self.clocks.close(hole.t_to)
        self.phase = "running"
        self._hole(hole.t_from, hole.t_to, hole.machine_restarted)
        self.scribe.line("recovered", hole.t_to, self.clocks.e_at(hole.t_to), urgent=True)
        self.version += 1

    def tick(self, now_ms: int) -> None:
        """Time has passed: write and show what became due. The history does not depend on how often this is called."""
        if self.phase in ("ready", "ended", "card"):
            return
        self._look_for_sleep()
        self.now_t = max(self.now_t, self.t_of(now_ms))
        if self.phase == "running":
            self._settle(len(self.timeline.entries))

    def _look_for_sleep(self) -> None:
        """A suspended machine: its boot-time clock ran on while the stamps' clock stood still."""
        if self.clocks.paused is not None:
            return
        slept = self._sleep.slept_ms()
        if not slept:
            return
        start = self.now_t
        self._slept += slept
        self.clocks.open("hole", start)
        self.clocks.close(start + slept)
        self.now_t = start + slept
        self._hole(start, self.now_t, False)
        self.tell(f"the machine slept for {slept // 1000} s: that stretch is nobody's")

    def _hole(self, t_from: int, t_to: int, restarted: bool) -> None:
        members: dict[str, Any] = {"from": t_from, "to": t_to, "machine_restarted": restarted}
        self.scribe.line("hole", t_from, self.clocks.e_at(t_from), **members)

    # --- what comes from outside ------------------------------------------------------------------------------------

    def focus(self, lost: bool, stamp_ms: int) -> None:
        """The terminal lost or got back the keyboard."""
        self.focused = not lost
        self._aside("focus", stamp_ms, lost=lost)

    def paste(self, length: int, stamp_ms: int) -> None:
        """Something was pasted: its length is kept, its text never."""
        self._aside("paste", stamp_ms, length=length)
        self.tell("a paste does nothing here")

    def _aside(self, kind: str, stamp_ms: int, **members: Any) -> None:
        if self.phase in ("ended", "card"):
            return
        t = self._t_logged(stamp_ms)
        self.scribe.line(kind, t, self.clocks.e_at(t), **members)
        self.version += 1

    def _t_logged(self, stamp_ms: int) -> int:
        return 0 if self.phase == "ready" else self.t_of(stamp_ms)

    def press(self, key: str, stamp_ms: int, lag_ms: float = 0.0, via: str = "key") -> None:
        """One raw key. ``key`` is its name in the key map's spelling; ``stamp_ms`` the event's own time, ``lag_ms`` how
        much later the handler ran. Every press makes one line, whatever comes of it."""
        if self.phase in ("ended", "card"):
            return
        self._look_for_sleep()
        t = self._t_logged(stamp_ms)
        self.now_t = max(self.now_t, t)
        ident = self.setup.keys.get(key)
        stroke: dict[str, Any] = {
            "key": key if ident is not None else "unmapped",
            "meant": ident,
            "outcome": "not mapped",
            "via": via,
            "lag": round(lag_ms, 1),
        }
        if self.phase == "running":
            self._settle(len(self.timeline.entries))
        verdict, began = self._bounce.judge(key, stamp_ms, ident is None or ident in EXEMPT)
        if ident is None:
            self._write_key(t, {**stroke, "key": key if key in CHORDS else "unmapped"})
            self.tell(CHORDS.get(key, "that key means nothing"))
        elif verdict != "press":
            self._write_key(t, {**stroke, "outcome": verdict})
            if began:
                self.tell(f"{label(ident)}: key held, only the first press counts")
                if self._bounce.repeated(key):
                    self._void_last_of(ident, t)
        elif self.phase == "running":
            self._act(ident, key, t, stroke)
        else:
            self._act_at_rest(ident, t, stroke)

    def script_input(self, event: str, kind: str, stamp_ms: int) -> None:
        """An input that a key script names outright (``inject NAME``, ``advice shock``); ``kind`` is the line's."""
        t = self.t_of(stamp_ms)
        self.now_t = max(self.now_t, t)
        self._settle(len(self.timeline.entries))
        self._feed(kind, t, event, {"meant": event, "via": "script"})

    # --- keys -------------------------------------------------------------------------------------------------------

    def _act_at_rest(self, ident: str, t: int, stroke: dict[str, Any]) -> None:
        """A key before go, in a teaching pause or in a safety stop: only these mean anything."""
        if self.phase == "ready":
            self._write_key(t, {**stroke, "outcome": "refused"}, kind="before")
        elif ident in ("stop", "stop_too"):
            if self.phase == "stopped":
                self._write_key(t, {**stroke, "outcome": "taken", "card": True}, kind="stop", urgent=True)
                self.phase = "card"
            else:
                self._stop(t, stroke)
        elif ident == "pause":
            self.clocks.close(t)
            self.phase = "running"
            self._write_key(t, {**stroke, "outcome": "taken"}, kind="resume", urgent=True)
        elif ident == "end":
            self._end(t, stroke)
        else:
            self._write_key(t, {**stroke, "outcome": "refused"})

    def _act(self, ident: str, key: str, t: int, stroke: dict[str, Any]) -> None:
        e = self.clocks.e_at(t)
        state = self.timeline.state_before(e, self.log.seq)
        meant = meaning(ident, self.setup.protocol, self.machine, self.plan, state)
        stroke["meant"] = meant.meant
        if ident == "next" and meant.event:
            stroke["via"] = "J"
        if meant.event:
            self._feed("key", t, meant.event, stroke)
        elif ident in ("stop", "stop_too"):
            self._stop(t, stroke)
        elif ident == "end":
            self._end(t, stroke)
        elif ident == "pause":
            self._write_key(t, {**stroke, "outcome": "taken"}, kind="pause", urgent=True)
            self.clocks.open("teaching", t)
            self.phase = "paused"
        else:
            self._note_down(ident, meant, state, t, stroke)

    def _note_down(self, ident: str, meant: Meaning, state: State, t: int, stroke: dict[str, Any]) -> None:
        """Controls that change the record and not the machine."""
        taken = {**stroke, "outcome": "taken"}
        if ident in ("pin_fault", "pin_good", "something_else"):
            which = {"pin_fault": "fault", "pin_good": "good"}.get(ident, "other")
            self.ledger.note(self._write_key(t, {**taken, "which": which}, kind="pin"), ident)
        elif ident in ("concern", "no_concern"):
            self._look(ident == "concern", t, taken)
        elif ident == "prompted":
            expected_now = meaning("next", self.setup.protocol, self.machine, self.plan, state).event
            seq = self._write_key(t, {**taken, "step": expected_now or None}, kind="prompted")
            self.ledger.prompts.append((seq, t, expected_now))
            self.ledger.note(seq, ident)
        elif ident == "void":
            self._void(t, stroke)
        elif ident in ("earlier", "later"):
            self._nudge(-NUDGE_MS if ident == "earlier" else NUDGE_MS, t, stroke)
        elif ident == "plan":
            self.plan_shown_at = t
            self._write_key(t, taken)
        elif ident in ("help", "audience"):
            self._write_key(t, taken)
        else:
            words = {"next": "nothing now"}.get(ident, "nothing to answer or throw")
            self._write_key(t, {**stroke, "outcome": "nothing"}, words=words)

    def _look(self, concern: bool, t: int, stroke: dict[str, Any]) -> None:
        """K or M at the look target shown; K opens a concern, and again closes it."""
        about = {**stroke, "target": self.look, "concern": concern}
        if concern and "concern" in self.machine.layout.timers:
            self.concern = not self.concern
            event = "concern_opened" if self.concern else "concern_closed"
            self._feed("looked", t, event, {**about, "concern": self.concern})
        else:
            self.ledger.note(self._write_key(t, about, kind="looked"), str(stroke["meant"]))

    def _feed(self, kind: str, t: int, event: str, stroke: dict[str, Any]) -> None:
        e = self.clocks.e_at(t)
        item = Input(e, self.log.seq, event)
        place = self.timeline.put(item)
        self.ledger.inputs[item.seq] = item
        outcome = self.timeline.entries[place].outcome
        self._write_key(
            t,
            {**stroke, "outcome": outcome, "input": event, "digest": digest(self.timeline.last)},
            kind=kind,
            urgent=event in URGENT,
        )
        self.ledger.note(item.seq, event)
        if event in ("shock_pressed",) and outcome == "not armed":
            self.tell("not armed: no shock to give")
        self._settle(place)

    def _write_key(
        self, t: int, stroke: dict[str, Any], kind: str = "key", urgent: bool = False, words: str | None = None
    ) -> int:
        seq = self.log.seq
        self.scribe.line(kind, t, self.clocks.e_at(t), urgent=urgent, **stroke)
        if stroke["outcome"] not in ("dropped", "held") and stroke.get("meant"):
            told = words if words is not None else str(stroke["outcome"])
            name = self._label(str(stroke["meant"]))
            self.last_key = (name if told == "taken" else f"{name}: {told}", t)
        self.version += 1
        return seq

    def _label(self, ident: str) -> str:
        if ident.startswith("inject_"):
            name = self.plan.digits.get(int(ident.removeprefix("inject_")), "")
            if name:
                return self.scribe.words(self.setup.protocol.inject[name].title)
        for prefix in ("inject:", "answered:", "wrong:"):
            if ident.startswith(prefix):
                return self.scribe.words(self.setup.protocol.inject[ident.removeprefix(prefix)].title)
        own = self.setup.protocol.observations.get(ident)
        return self.scribe.words(own.label) if own is not None else label(ident)

    # --- taking back and moving -------------------------------------------------------------------------------------

    def would_void(self) -> str:
        """What Backspace would void, in words; "" for nothing."""
        found = self.ledger.last(PUSHING)
        return self._label(found[1]) if found is not None else ""

    def _void(self, t: int, stroke: dict[str, Any]) -> None:
        found = self.ledger.last(PUSHING)
        if found is None:
            self._write_key(t, {**stroke, "outcome": "nothing"}, words="nothing to void")
            return
        self._void_line(found[0], t, stroke)
        self.last_key = (f"voided: {self._label(found[1])}", t)

    def _void_last_of(self, ident: str, t: int) -> None:
        """A held key: the press that the repeat began with was none."""
        found = self.ledger.last(among=PUSHING if ident == "compression" else frozenset({ident}))
        if found is not None:
            self._void_line(found[0], t, {"by": "hold", "outcome": "taken"})

    def _void_line(self, seq: int, t: int, stroke: dict[str, Any]) -> None:
        fed = self.ledger.strike(seq)
        place = self.timeline.take(seq) if fed else len(self.timeline.entries)
        self.scribe.line(
            "void",
            t,
            self.clocks.e_at(t),
            **{**stroke, "outcome": "taken", "voids": seq, "digest": digest(self.timeline.last)},
        )
        self.version += 1
        self._settle(place, past=True)

    def _nudge(self, by_ms: int, t: int, stroke: dict[str, Any]) -> None:
        found = self.ledger.last(NEVER_NUDGED)
        item = self.ledger.inputs.get(found[0]) if found is not None else None
        if found is None or item is None:
            self._write_key(t, {**stroke, "outcome": "nothing"}, words="nothing to move")
            return
        to_e = item.e + by_ms
        why = barrier(item, to_e, self.e_now(), self.timeline, self.clocks)
        if why:
            self._write_key(t, {**stroke, "outcome": "refused"}, words=f"not across {why}")
            return
        place = self.timeline.move(item.seq, to_e)
        self.ledger.inputs[item.seq] = item._replace(e=to_e)
        self._write_key(
            t,
            {**stroke, "outcome": "taken", "nudges": item.seq, "to_e": to_e, "digest": digest(self.timeline.last)},
            kind="nudge",
        )
        self.last_key = (
            f"{self._label(found[1])}: {'half a second earlier' if by_ms < 0 else 'half a second later'}",
            t,
        )
        self._settle(place, past=True)

    # --- stopping and ending ----------------------------------------------------------------------------------------

    def _stop(self, t: int, stroke: dict[str, Any]) -> None:
        if self.clocks.paused is not None:
            self.clocks.close(t)
        self.clocks.open("safety", t)
        self.phase = "stopped"
        self._end_asked = None
        self._write_key(t, {**stroke, "outcome": "taken"}, kind="stop", urgent=True)

    def _end(self, t: int, stroke: dict[str, Any]) -> None:
        if self._end_asked is not None and t - self._end_asked <= END_WITHIN_MS:
            asked, self._end_asked = self._end_asked, None
            reason = "safety" if self.phase == "stopped" else "ended"
            self._finish(reason, asked, t, {**stroke, "outcome": "taken"})
            return
        self._end_asked = t
        self._write_key(t, {**stroke, "outcome": "nothing"}, words="once more ends the drill")
        self.tell("Z again ends the drill")

    def _finish(self, reason: str, end_t: int, t: int, stroke: dict[str, Any]) -> None:
        """End: the drill's last moment is ``end_t``, the first of the two strokes; the line is written at ``t``."""
        self.ended = reason
        self.scribe.line(
            "end",
            t,
            self.clocks.e_at(t),
            urgent=True,
            **stroke,
            reason=reason,
            end_t=end_t,
            end_e=self.clocks.e_at(end_t),
        )
        self.phase = "ended"
        self.version += 1

    def close(self, reason: str = "interrupted") -> None:
        """The program ends, or the screen goes away: a drill that still runs is closed with ``reason``; from the card,
        as stopped for safety. The log's file is let go."""
        if self.phase in ("running", "paused", "stopped", "card"):
            stopped = self.phase in ("stopped", "card")
            self._finish("safety" if stopped else reason, self.now_t, self.now_t, {})
        self.log.close()

    def say_after(self, ids: list[str], stamp_ms: int) -> None:
        """Which items of the handover the learner said: a line that may follow the end."""
        t = self._t_logged(stamp_ms)
        self.scribe.line("said", t, self.clocks.e_at(t), handover=ids)

    # --- telling ----------------------------------------------------------------------------------------------------

    def tell(self, words: str) -> None:
        """Say something that must be read, for some seconds; it is not logged."""
        self.notice = (words, self.now_t)
        self.version += 1

    def _settle(self, place: int, past: bool = False) -> None:
        """Write what the machine says from entry ``place`` on; what was written and no longer holds is superseded."""
        if self.scribe.settle(self.timeline, place, self.e_now(), past):
            self.version += 1

    def effects(self) -> list[tuple[Effect, int]]:
        """All effects up to now, with the line that each comes from."""
        return self.timeline.told(0, self.e_now())
