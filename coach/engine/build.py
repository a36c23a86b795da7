"""From a protocol file and a plan to a machine: every name resolved, every arrow compiled for each step it leaves.

The built-in parts (the hands, the injects, the scenario's throws, the ``within`` limits) become ordinary tracks and
timers here, so that the engine has one mechanism only.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import lru_cache
from typing import Any

from coach.engine.machine import (
    RESTART,
    START,
    STOP,
    Count,
    GuardFunction,
    Machine,
    Move,
    Row,
    Said,
    TimerInfo,
    TrackInfo,
)
from coach.engine.plan import Plan, PlannedThrow
from coach.protocol import guards
from coach.protocol.guards import Expr, Layout
from coach.protocol.model import Arrow, Fault, Inject, Protocol, Step, Track, Wording
from coach.protocol.names import BUILT_IN_FACTS, HANDS_STEPS, HANDS_TRACK, arrow_ids
from coach.same import Same

SILENCE = "hands:silence"
SILENCE_MS = 2_000
"""A run of pushes is over after 2.0 s without one (a tool's choice; many feedback studies count a pause from 2 to 3 s,
from memory)."""


def build(protocol: Protocol, plan: Plan) -> Machine:
    """Compile ``protocol`` under ``plan``. The protocol must have been read without problems."""
    shared = _without_facts(Same(protocol), plan.throws, plan.counting in ("each", "counter"))
    facts = tuple(plan.facts[name] for name in shared.fact_names)
    return replace(shared, facts=facts, guards=dict(shared.guards))  # whoever asks more of guards adds to its own


@lru_cache(maxsize=8)
def _without_facts(protocol: Same[Protocol], throws: tuple[PlannedThrow, ...], each: bool) -> Machine:
    """The machine but for its facts, which nothing in it hangs on; plans that throw and count alike share one."""
    return _Builder(protocol.it, throws, each).machine()


def _bits(index: dict[str, int], names: Iterable[str]) -> int:
    total = 0
    for name in names:
        total |= 1 << index[name]
    return total


class _Builder:
    """``each`` where every push is an event of its own, so that silence ends a run."""

    def __init__(self, protocol: Protocol, throws: tuple[PlannedThrow, ...], each: bool) -> None:
        self.protocol = protocol
        self.throws = throws
        self.each = each
        self.facts = {**protocol.facts, **BUILT_IN_FACTS}
        self.ids = arrow_ids(protocol)
        self.moves: dict[tuple[int, int, int], Move] = {}
        self.guards: dict[GuardFunction, Expr] = {}
        self.by_text: dict[str, GuardFunction] = {}
        self.entries: dict[tuple[str, str], Move] = {}
        self.rows: dict[str, dict[int, list[list[Move]]]] = {}
        self.cues: dict[str, Wording] = {}
        self.voices: dict[str, Wording] = {}
        self.faults: dict[str, Fault] = {}
        self.tracks: list[TrackInfo] = []
        self.armed: set[tuple[int, int]] = set()
        self.counter_names = [*protocol.counters, *(f"thrown:{name}" for name in protocol.inject)]
        self.counter_most = [
            *(counter.max for counter in protocol.counters.values()),
            *(inject.times for inject in protocol.inject.values()),
        ]
        self.timers = list(self._timer_infos())
        self.timer_index = {info.name: place for place, info in enumerate(self.timers)}
        self.mark_index = {name: place for place, name in enumerate(self._mark_names())}
        self._bind_late_marks()
        self.layout = self._layout()

    # --- names and places -------------------------------------------------------------------------------------------

    def _steps(self) -> Iterator[tuple[str, str, Step]]:
        for track_name, track in self.protocol.track.items():
            for step_name, step in track.step.items():
                yield track_name, step_name, step

    def _timer_infos(self) -> Iterator[TimerInfo]:
        for name, timer in self.protocol.timers.items():
            first = timer.after if timer.after is not None else timer.every
            assert first is not None, "the reader refuses a timer without a time"
            yield TimerInfo(
                name,
                f"timer:{name}",
                first,
                timer.every or 0,
                timer.most if timer.most is not None else -1,
                timer.since == "last_push",
            )
        for track_name, step_name, step in self._steps():
            if step.within is not None:
                name = f"within:{step_name}"
                yield TimerInfo(name, name, step.within, 0, 1, False, 0, track_name, step_name)
        yield TimerInfo(SILENCE, SILENCE, SILENCE_MS, 0, 1, False)
        for name, inject in self.protocol.inject.items():
            if inject.within is not None:
                yield TimerInfo(f"inject:{name}", f"due:{name}", inject.within, 0, 1, False)
        for number, throw in enumerate(self.throws):
            delay = throw.at if throw.at is not None else throw.by
            if delay is not None:
                yield TimerInfo(f"throw:{number}", f"throw:{number}", delay, 0, 1, False)

    def _mark_names(self) -> list[str]:
        names: dict[str, None] = {}
        for _, _, step in self._steps():
            for name in (*step.mark, *step.unmark):
                names[name] = None
        for arrow in self._arrows():
            for name in (*arrow.mark, *arrow.unmark):
                names[name] = None
        for _, step_name, step in self._steps():
            if step.within is not None:
                names[f"late.{step_name}"] = None
        return list(names)

    def _arrows(self) -> Iterator[Arrow]:
        for track in self.protocol.track.values():
            yield from track.go
            for step in track.step.values():
                yield from step.go

    def _bind_late_marks(self) -> None:
        for place, info in enumerate(self.timers):
            if info.step:
                bit = 1 << self.mark_index[f"late.{info.step}"]
                self.timers[place] = TimerInfo(
                    info.name, info.event, info.first, info.every, info.most, False, bit, info.track, info.step
                )

    def _layout(self) -> Layout:
        tracks = {name: place for place, name in enumerate(self.protocol.track)}
        steps = {
            (track_name, step_name): place
            for track_name, track in self.protocol.track.items()
            for place, step_name in enumerate(track.step)
        }
        built_in = len(tracks)
        tracks[HANDS_TRACK] = built_in
        steps.update({(HANDS_TRACK, step): place for place, step in enumerate(HANDS_STEPS)})
        return Layout(
            facts={name: (place, fact) for place, (name, fact) in enumerate(self.facts.items())},
            counters={name: place for place, name in enumerate(self.counter_names)},
            marks=dict(self.mark_index),
            timers=dict(self.timer_index),
            tracks=tracks,
            steps=steps,
            terms={name: guards.parse(text) for name, text in self.protocol.terms.items()},
        )

    # --- one move ---------------------------------------------------------------------------------------------------

    def _guard(self, text: str) -> GuardFunction | None:
        if text and text not in self.by_text:
            self.by_text[text] = self._compiled(guards.parse(text))
        return self.by_text.get(text)

    def _compiled(self, expr: Expr) -> GuardFunction:
        guard = guards.compile_guard(expr, self.layout)
        self.guards[guard] = expr
        return guard

    def _owned(self, step: Step) -> list[int]:
        """Timers that leaving ``step`` stops: those that it, or an arrow that stays in it, starts."""
        names: dict[str, None] = dict.fromkeys((*step.start, *step.restart))
        for arrow in step.go:
            if not arrow.to:
                names.update(dict.fromkeys((*arrow.start, *arrow.restart)))
        return [self.timer_index[name] for name in names if name not in step.keep]

    def _entry(self, track_name: str, step_name: str) -> Move:
        """What entering a step does, as a move without an arrow."""
        if (track_name, step_name) not in self.entries:
            self.entries[(track_name, step_name)] = self._entering(track_name, step_name)
        return self.entries[(track_name, step_name)]

    def _entering(self, track_name: str, step_name: str) -> Move:
        track = self.protocol.track[track_name]
        step = track.step[step_name]
        clear = _bits(self.mark_index, step.unmark)
        timing = [(STOP, self.timer_index[name]) for name in step.stop]
        timing += [(RESTART, self.timer_index[name]) for name in step.restart]
        timing += [(START, self.timer_index[name]) for name in step.start]
        if step.within is not None:
            clear |= 1 << self.mark_index[f"late.{step_name}"]
            timing.append((RESTART, self.timer_index[f"within:{step_name}"]))
        says = [Said("step", step_name, track_name)]
        says += self._say(step.cue, step.voice, f"step:{step_name}", track_name, step_name, "")
        says += [Said("emit", event, track_name, step_name) for event in step.emit]
        if step.late_cue:
            self.cues[f"late:{step_name}"] = step.late_cue
        index = list(track.step).index(step_name)
        return Move(
            None,
            "",
            self.layout.tracks[track_name],
            index,
            index,
            clear,
            _bits(self.mark_index, step.mark),
            (),
            tuple(timing),
            tuple(step.emit),
            tuple(says),
            False,
            "",
        )

    def _say(
        self, cue: Wording, voice: Wording, key: str, track_name: str, step_name: str, arrow_id: str
    ) -> list[Said]:
        says = []
        if cue:
            self.cues[key] = cue
            says.append(Said("cue", key, track_name, step_name, arrow_id))
        if voice:
            self.voices[key] = voice
            says.append(Said("voice", key, track_name, step_name, arrow_id))
        return says

    def _move(self, track_name: str, source: str, arrow: Arrow) -> Move:
        track_index = self.layout.tracks[track_name]
        track = self.protocol.track[track_name]
        source_index = self.layout.steps[(track_name, source)]
        place = (track_index, source_index, id(arrow))
        if place in self.moves:
            return self.moves[place]
        arrow_id = self.ids[id(arrow)]
        entry = self._entry(track_name, arrow.to) if arrow.to else None
        clear, mark = _bits(self.mark_index, arrow.unmark), _bits(self.mark_index, arrow.mark)
        timing: list[tuple[int, int]] = []
        if entry is not None:
            leaving = track.step[source]
            timing += [(STOP, index) for index in self._owned(leaving)]
            if leaving.within is not None:
                timing.append((STOP, self.timer_index[f"within:{source}"]))
        timing += [(STOP, self.timer_index[name]) for name in arrow.stop]
        timing += [(RESTART, self.timer_index[name]) for name in arrow.restart]
        timing += [(START, self.timer_index[name]) for name in arrow.start]
        counts = [
            Count(self.layout.counters[name], put, value, self.counter_most[self.layout.counters[name]])
            for put, table in ((True, arrow.set), (False, arrow.add))
            for name, value in table.items()
        ]
        says: list[Said] = []
        if arrow.fault is not None:
            self.faults[arrow.fault.id] = arrow.fault
            says.append(Said("fault", arrow.fault.id, track_name, source, arrow_id))
        says += self._say(arrow.cue, arrow.voice, f"arrow:{arrow_id}", track_name, source, arrow_id)
        says += [Said("emit", event, track_name, source, arrow_id) for event in arrow.emit]
        emits = list(arrow.emit)
        if entry is not None:
            mark = (mark & ~entry.clear) | entry.mark
            clear |= entry.clear
            timing += entry.timing
            says += [said._replace(was=source, arrow=arrow_id) if said.kind == "step" else said for said in entry.says]
            emits += entry.emits
        move = Move(
            self._guard(arrow.when),
            arrow_id,
            track_index,
            source_index,
            entry.to if entry is not None else -1,
            clear,
            mark,
            tuple(counts),
            tuple(timing),
            tuple(emits),
            tuple(says),
            False,
            arrow.fault.id if arrow.fault is not None else "",
        )
        self.moves[place] = move
        return move

    # --- tracks -----------------------------------------------------------------------------------------------------

    def _listen(self, event: str, track: int, step: int, size: int, move: Move) -> None:
        self.rows.setdefault(event, {}).setdefault(track, [[] for _ in range(size)])[step].append(move)

    def _add_track(self, name: str, track: Track) -> None:
        index = self.layout.tracks[name]
        for step_index, (step_name, step) in enumerate(track.step.items()):
            for arrow, events in arrows_from(track, step_name):
                move = self._move(name, step_name, arrow)
                for event in events:
                    self._listen(event, index, step_index, len(track.step), move)
            if step.armed:
                self.armed.add((index, step_index))
        entries = tuple(self._entry(name, step_name) for step_name in track.step)
        start = list(track.step).index(track.start)
        self.tracks.append(TrackInfo(name, tuple(track.step), start, entries, False))

    def _add_built_in(self, name: str, steps: tuple[str, ...], entry: Move | None = None) -> int:
        index = len(self.tracks)
        blank = tuple(self._plain(index, place, place) for place in range(len(steps)))
        entries = blank if entry is None else (entry, *blank[1:])
        self.tracks.append(TrackInfo(name, steps, 0, entries, True))
        return index

    def _plain(self, track: int, source: int, to: int, **extra: Any) -> Move:
        fields: dict[str, Any] = {
            "guard": None,
            "arrow": "",
            "clear": 0,
            "mark": 0,
            "counts": (),
            "timing": (),
            "emits": (),
            "says": (),
            "pushed": False,
            "fault": "",
        }
        return Move(track=track, source=source, to=to, **{**fields, **extra})

    def _add_hands(self) -> None:
        index = self._add_built_in(HANDS_TRACK, HANDS_STEPS)
        silence = self.timer_index[SILENCE]

        def emit(event: str, was: str) -> dict[str, Any]:
            return {"emits": (event,), "says": (Said("emit", event, HANDS_TRACK, was),)}

        restart = ((RESTART, silence),) if self.each else ()
        begin = self._plain(index, 0, 1, timing=restart, pushed=True, **emit("hands_on", "hands_off_chest"))
        end = self._plain(
            index, 1, 0, timing=((STOP, silence),), pushed=not self.each, **emit("hands_off", "hands_on_chest")
        )
        fell_silent = self._plain(index, 1, 0, **emit("hands_off", "hands_on_chest"))
        self._listen("compression", index, 0, 2, begin)
        self._listen("compression", index, 1, 2, self._plain(index, 1, -1, timing=restart, pushed=True))
        self._listen("hands_placed", index, 0, 2, begin)
        self._listen("probe_tap", index, 1, 2, self._plain(index, 1, -1))
        for event in ("breath", "hands_lifted"):
            self._listen(event, index, 1, 2, end)
        self._listen(SILENCE, index, 1, 2, fell_silent)

    def _add_concern(self) -> None:
        """A concern that the instructor keeps open: the protocol's timer ``concern`` reminds until it is cleared."""
        timer = self.timer_index["concern"]
        index = self._add_built_in("concern", ("no_concern", "concern_open"))
        self._listen("concern_opened", index, 0, 2, self._plain(index, 0, 1, timing=((RESTART, timer),)))
        self._listen("concern_closed", index, 1, 2, self._plain(index, 1, 0, timing=((STOP, timer),)))

    def _add_inject(self, name: str, inject: Inject) -> None:
        obliged = bool(inject.allowed or inject.forbidden)
        steps = (f"{name}:idle", f"{name}:open", f"{name}:closed", f"{name}:late")
        index = self._add_built_in(f"inject:{name}", steps if obliged else steps[:1])
        size = len(steps) if obliged else 1
        thrown = self.layout.counters[f"thrown:{name}"]
        bound: Expr = guards.Compare(f"thrown:{name}", "<", inject.times)
        may = self._compiled(guards.And((bound, guards.parse(inject.when))) if inject.when else bound)

        def says(to: str, was: str, *more: Said) -> tuple[Said, ...]:
            return (Said("step", to, f"inject:{name}", was), *more)

        def fault_of(fault: Fault) -> Said:
            self.faults[fault.id] = fault
            return Said("fault", fault.id, f"inject:{name}", steps[1])

        emits = tuple(inject.emit)
        emitted = tuple(Said("emit", event, f"inject:{name}", steps[0]) for event in emits)
        deadline = self.timer_index.get(f"inject:{name}")
        open_timing = ((RESTART, deadline),) if deadline is not None else ()
        close_timing = ((STOP, deadline),) if deadline is not None else ()
        for source in range(size):
            if source == 1:
                continue
            to = 1 if obliged else -1
            self._listen(
                f"inject:{name}",
                index,
                source,
                size,
                self._plain(
                    index,
                    source,
                    to,
                    guard=may,
                    counts=(Count(thrown, False, 1, inject.times),),
                    timing=open_timing,
                    emits=emits,
                    says=(says(steps[1], steps[source]) if obliged else ()) + emitted,
                ),
            )
        if not obliged:
            return
        closed = f"closed:{name}"
        for source in (1, 3):
            for forbidden in inject.forbidden:
                move = self._plain(
                    index, source, -1, says=(fault_of(forbidden.fault),), fault=forbidden.fault.id, arrow=f"{name}-no"
                )
                for event in forbidden.on:
                    self._listen(event, index, source, size, move)
            answer = self._plain(
                index,
                source,
                2,
                timing=close_timing,
                emits=(closed,),
                says=says(steps[2], steps[source], Said("emit", closed, f"inject:{name}", steps[source])),
            )
            for event in (*inject.allowed, f"answered:{name}"):
                self._listen(event, index, source, size, answer)
            wrong = Fault(
                id=f"{name}-wrong", severity="major", say={"en": f"{inject.title.get('en', name)}: answered wrongly"}
            )
            self._listen(
                f"wrong:{name}",
                index,
                source,
                size,
                self._plain(
                    index,
                    source,
                    2,
                    timing=close_timing,
                    says=says(steps[2], steps[source], fault_of(wrong)),
                    fault=wrong.id,
                    arrow=f"{name}-wrong",
                ),
            )
        if deadline is not None:
            if "hands_placed" in inject.allowed:  # hands that were on all along make no mark: they are the answer
                on = self._compiled(guards.parse(f"in_step({HANDS_TRACK}, {HANDS_STEPS[1]})"))
                said = says(steps[2], steps[1], Said("emit", closed, f"inject:{name}", steps[1]))
                kept_on = self._plain(index, 1, 2, guard=on, emits=(closed,), says=said)
                self._listen(f"due:{name}", index, 1, size, kept_on)
            late = (fault_of(inject.late),) if inject.late is not None else ()
            fault = inject.late.id if inject.late is not None else ""
            self._listen(
                f"due:{name}",
                index,
                1,
                size,
                self._plain(index, 1, 3, says=says(steps[3], steps[1], *late), fault=fault, arrow=f"{name}-late"),
            )

    def _add_throw(self, number: int) -> None:
        throw = self.throws[number]
        if throw.at is None and throw.by is None:
            return
        name = f"throw:{number}"
        timer = self.timer_index[name]
        inject = f"inject:{throw.name}"
        emit: dict[str, Any] = {"emits": (inject,), "says": (Said("emit", inject, name, "waiting"),)}
        stop = ((STOP, timer),)
        if throw.after_on:
            index = self._add_built_in(name, ("watching", "waiting", "thrown"))
            wait = self._plain(index, 0, 1, timing=((START, timer),))
            self._listen(throw.after_on, index, 0, 3, wait)
            last = 2
        else:
            index = len(self.tracks)
            entry = self._plain(index, 0, 0, timing=((START, timer),))
            self._add_built_in(name, ("waiting", "thrown"), entry)
            last = 1
        for source in range(last):
            self._listen(inject, index, source, last + 1, self._plain(index, source, last, timing=stop))
        self._listen(name, index, last - 1, last + 1, self._plain(index, last - 1, last, **emit))

    def machine(self) -> Machine:
        for name, track in self.protocol.track.items():
            self._add_track(name, track)
        self._add_hands()
        if "concern" in self.protocol.timers:
            self._add_concern()
        for name, inject in self.protocol.inject.items():
            self._add_inject(name, inject)
        for number in range(len(self.throws)):
            self._add_throw(number)
        table: dict[str, Row] = {
            event: tuple((track, tuple(tuple(moves) for moves in by_step)) for track, by_step in sorted(tracks.items()))
            for event, tracks in self.rows.items()
        }
        return Machine(
            protocol=self.protocol.id,
            tracks=tuple(self.tracks),
            counters=tuple(self.counter_names),
            counter_most=tuple(self.counter_most),
            marks=tuple(self.mark_index),
            timers=tuple(self.timers),
            fact_names=tuple(self.facts),
            facts=(),
            table=table,
            armed=frozenset(self.armed),
            cues=self.cues,
            voices=self.voices,
            faults=self.faults,
            layout=self.layout,
            guards=self.guards,
        )


def arrows_from(track: Track, step_name: str) -> Iterator[tuple[Arrow, list[str]]]:
    """The arrows that can leave ``step_name``, in the order in which they are tried, each with its events: the step's
    own, then those that a later step of the spine lends (on its own observation), then the track's."""
    step = track.step[step_name]
    for arrow in step.go:
        yield arrow, list(arrow.on)
    if step_name in track.spine:
        for later in track.spine[track.spine.index(step_name) + 1 :]:
            done = track.step[later].done
            for arrow in track.step[later].go:
                events = [event for event in arrow.on if event in done]
                if events:
                    yield arrow, events
    for arrow in track.go:
        yield arrow, list(arrow.on)
