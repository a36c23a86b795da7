"""One step of a machine without its clocks: the drill's own ``choose`` on discrete states, with open facts.

What an event does depends on the discrete part alone; only when it can come depends on the clocks. So each answer is
worked out once for a discrete state and used for every class that has it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cache
from typing import Any, NamedTuple

from coach.check.states.inputs import Gate
from coach.check.states.openfacts import Frame, Known, Unread, forget, learn
from coach.check.states.slicing import Part
from coach.check.states.zones import Zone
from coach.engine.machine import RESTART, START, Machine, Move
from coach.engine.state import tuple_of
from coach.engine.step import choose

Pair = tuple[str, Move]
"""A move and the event that it was taken on."""

NEVER, COUNTED, LONG_AGO = 0, 1, 2
"""How the last push stands: there was none (or nothing asks), a clock counts it, too long ago to matter."""


class Spot(NamedTuple):
    """The discrete part of a state. ``timers`` are (0, timer, firings left), sorted by timer; ``choose`` reads it as it
    reads the drill's own state."""

    steps: tuple[int, ...]
    counters: tuple[int, ...]
    marks: int
    timers: tuple[tuple[int, int, int], ...]
    push: int
    known: Known


class Moment(NamedTuple):
    """What rules look at: the discrete part before and after, what was taken on the way, and the event itself.

    ``before`` is None at go. ``late`` is the step whose time ran out, "" for none.
    """

    before: Any
    after: Any
    event: str
    pairs: Sequence[Pair]
    late: str
    facts: Any


Question = Callable[[Moment], bool]
"""An atom of a rule, asked of a moment."""


class Outcome(NamedTuple):
    """One way in which an event can go.

    ``sources`` says for each clock afterwards (timers as in ``spot``, then the last push if counted) which clock before
    it is (0: nought) and what is added; ``cuts`` are conditions on the last push: (``first``, True) at most that many
    ms ago, False: longer. ``truth`` has a bit for each question; ``faults`` the faults taken; ``idle`` where nothing at
    all has changed, ``steady`` where no clock has. ``number`` is the spot's in its :class:`Discrete`.
    """

    spot: Spot
    number: int
    sources: tuple[tuple[int, int], ...]
    cuts: tuple[tuple[int, bool], ...]
    pairs: tuple[Pair, ...]
    truth: int
    faults: bool
    idle: bool
    steady: bool


class Stand(NamedTuple):
    """How a discrete state stands after one of the events that one moment is made of."""

    event: str
    steps: tuple[int, ...]
    counters: tuple[int, ...]
    marks: int
    timers: tuple[tuple[int, int, int], ...]


class _Push(Exception):
    """How long ago the last push was, decides: at most ``first`` ms or longer."""

    def __init__(self, first: int) -> None:
        self.first = first


class _Live:
    """A discrete state while an event runs."""

    __slots__ = ("clocks", "counters", "cuts", "marks", "moved", "push", "pushed", "sources", "steps", "timers")

    def __init__(
        self, spot: Spot, timers: tuple[tuple[int, int, int], ...], cuts: dict[int, bool], untimed: frozenset[int]
    ) -> None:
        self.steps, self.counters, self.marks, _, self.push, _ = spot
        self.timers = timers
        self.cuts = cuts
        self.sources = {entry[1]: (0, 0) for entry in self.timers}
        self.clocks = 0
        for entry in self.timers:
            if entry[1] not in untimed:
                self.clocks += 1
                self.sources[entry[1]] = (self.clocks, 0)
        self.pushed = False
        self.moved: set[int] = set()


@cache
def _running_on(clocks: int) -> tuple[tuple[int, int], ...]:
    """The sources of so many clocks that all run on."""
    return tuple((place, 0) for place in range(1, clocks + 1))


def _faulty(pairs: Iterable[Pair]) -> bool:
    return any([move.fault for _, move in pairs])


def _stirs(move: Move, marks: int) -> bool:
    """Whether a move changes anything where those marks are set."""
    return (
        move.to >= 0
        or bool(move.counts or move.timing or move.emits or move.pushed)
        or (marks & ~move.clear) | move.mark != marks
    )


class Discrete:
    """The discrete behaviour of a part of a machine, each answer remembered.

    ``untimed`` timers have no clock and may run out at any time while they run: more than can be. ``trail`` is how it
    stood after each of the events of the moment that was run last; ``ties`` are pairs of clocks whose order is asked.
    """

    def __init__(
        self,
        part: Part,
        frame: Frame,
        gate: Gate,
        questions: Iterable[Question] = (),
        untimed: frozenset[int] = frozenset(),
    ) -> None:
        self.untimed = untimed
        self.machine: Machine = part.machine
        self.part = part
        self.frame = frame
        self.gate = gate
        self.questions = tuple(questions)
        self._asked = tuple((1 << place, question) for place, question in enumerate(self.questions))
        self._since = {info.first for place, info in enumerate(self.machine.timers) if info.since_push}
        self.push_limit = max(self._since, default=0)
        layout = self.machine.layout
        self._moving = {
            layout.counters[layout.facts[name][1].counter]: layout.facts[name][0] for name in sorted(part.moving)
        }
        self._heard = tuple((event, self.machine.table[event]) for event in part.inputs)
        self._scripts = tuple(self._moving.values())
        self._inputs: dict[int, tuple[tuple[str, Outcome], ...]] = {}
        self._stirring: dict[int, tuple[tuple[str, Outcome], ...]] = {}
        self._fires: dict[tuple[int, int], tuple[Outcome, ...]] = {}
        self._numbers: dict[Spot, int] = {}
        self.trail: list[Stand] = []
        self.ties: frozenset[tuple[int, int]] = frozenset()

    def number(self, spot: Spot) -> int:
        """A number for a discrete state, the same each time."""
        return self._numbers.setdefault(spot, len(self._numbers))

    def begin(self) -> tuple[Outcome, ...]:
        """The states at go."""
        machine = self.machine
        steps = tuple(track.start for track in machine.tracks)
        spot = Spot(steps, (0,) * len(machine.counters), 0, (), NEVER, ())
        return self._forked(spot, None, "go")

    def inputs(self, spot: Spot, number: int) -> tuple[tuple[str, Outcome], ...]:
        """Every input that can come in a discrete state and does anything there, with each way in which it can go."""
        found = self._inputs.get(number)
        if found is None:
            out: list[tuple[str, Outcome]] = []
            steps = spot.steps
            for event, row in self._heard:
                for track, by_step in row:
                    if by_step[steps[track]]:
                        break
                else:
                    continue  # no arrow waits for it in these steps
                ways = self._forked(spot, None, event)
                for way in ways:
                    if way.pairs:
                        out.extend([(event, one) for one in ways])
                        break
            found = self._inputs[number] = tuple(out)
        return found

    def stirring(self, spot: Spot, number: int) -> tuple[tuple[str, Outcome], ...]:
        """The inputs but for those that change nothing, answer no question and take no fault."""
        found = self._stirring.get(number)
        if found is None:
            every = self.inputs(spot, number)
            found = tuple(one for one in every if not one[1].idle or one[1].truth or one[1].faults)
            self._stirring[number] = found
        return found

    def timed(self, spot: Spot) -> list[int]:
        """The running timers that have a clock, in the order of their clocks."""
        return [entry[1] for entry in spot.timers if entry[1] not in self.untimed]

    def fires(self, spot: Spot, number: int, timer: int) -> tuple[Outcome, ...]:
        """Each way in which the running out of a timer can go. Clocks before are those without that timer."""
        key = (number, timer)
        found = self._fires.get(key)
        if found is None:
            found = self._fires[key] = self._forked(spot, timer, self.event_of(timer))
        return found

    def event_of(self, timer: int) -> str:
        """The event that a timer makes when it runs out."""
        return self.machine.timers[timer].event

    def tied(self, spot: Spot, number: int, timer: int, other: int) -> tuple[Outcome, ...]:
        """Each way in which two clocks of ``ties`` that run out together can go; none where no order is asked."""
        return ()

    def links(self, spot: Spot, number: int, zone: Zone) -> tuple[tuple[int, int, int], ...]:
        """What tells whether two clocks of ``ties`` always run out together; see :func:`linked`."""
        return ()

    # --- forks ------------------------------------------------------------------------------------------------------

    def _forked(self, spot: Spot, timer: int | None, event: str) -> tuple[Outcome, ...]:
        try:
            only = self.run(spot, spot.known, {}, timer, event)
        except (Unread, _Push):
            pass
        else:
            return (only,) if only is not None else ()
        waiting: list[tuple[Known, dict[int, bool]]] = [(spot.known, {})]
        out: list[Outcome] = []
        while waiting:
            known, cuts = waiting.pop(0)
            try:
                outcome = self.run(spot, known, cuts, timer, event)
            except Unread as open_fact:
                waiting += [(learn(known, open_fact.slot, value), cuts) for value in open_fact.classes]
            except _Push as open_push:
                waiting += [(known, {**cuts, open_push.first: near}) for near in (True, False)]
            else:
                if outcome is not None:
                    out.append(outcome)
        return tuple(out)

    # --- one way ----------------------------------------------------------------------------------------------------

    def run(self, spot: Spot, known: Known, cuts: dict[int, bool], timer: int | None, event: str) -> Outcome | None:
        """The one way in which an event from outside, or the running out of ``timer``, goes with these facts known and
        the last push as in ``cuts``; None where it cannot come. Raises where it hangs on what is open."""
        machine, facts = self.machine, self.frame.facts(known)
        before: Spot | None = spot
        late = ""
        self.trail = []
        pairs: list[Pair] = []
        queue: list[str]
        if timer is not None:
            info = machine.timers[timer]
            left = next(entry[2] for entry in spot.timers if entry[1] == timer)
            rest = tuple(one for one in spot.timers if one[1] != timer)
            live = _Live(spot, rest, cuts, self.untimed)
            if info.every and left != 1:
                self._put(live, (0, timer, left - 1 if left > 0 else left), (0, info.every))
            if info.late:
                live.marks |= info.late & self.part.kept.marks
                late = info.step
            else:
                self._event(live, event, facts, pairs)
        elif event == "go":
            live = _Live(spot, spot.timers, cuts, self.untimed)
            before = None
            queue = []
            entries = [track.entries[track.start] for track in machine.tracks]
            pairs.extend(("go", entry) for entry in entries)
            self._apply(live, entries, queue)
            self.trail.append(Stand("go", live.steps, live.counters, live.marks, live.timers))
            self._drain(live, queue, facts, pairs)
        else:
            if not self.gate.allows(event, spot.steps, facts):
                return None
            moves = choose(machine, spot, event, facts)
            if not moves and known is spot.known:
                return None  # no arrow takes it, whatever is still open
            stirs = False
            for move in moves:
                pairs.append((event, move))
                stirs = stirs or _stirs(move, spot.marks)
            if not stirs:
                return self._still(spot, known, event, pairs, facts)
            live = _Live(spot, spot.timers, cuts, self.untimed)
            queue = []
            self._apply(live, moves, queue)
            self.trail.append(Stand(event, live.steps, live.counters, live.marks, live.timers))
            self._drain(live, queue, facts, pairs)
        truth = self._truth(before, live, event, pairs, late, facts)
        known = self._held(known, live.moved)
        after: Spot = tuple_of(Spot, (live.steps, live.counters, live.marks, live.timers, live.push, known))
        push = live.clocks + 1
        sources: list[tuple[int, int]] = []
        for entry in live.timers:
            if entry[1] not in self.untimed:
                source = live.sources[entry[1]]
                sources.append(source if source[0] >= 0 else (push, source[1]))
        if live.push == COUNTED:
            sources.append((0, 0) if live.pushed else (push, 0))
        clocks = push if spot.push == COUNTED else push - 1
        given = tuple(sources)
        steady = given == _running_on(clocks)
        idle = timer is None and steady and after == spot
        cut = tuple(sorted(cuts.items())) if cuts else ()
        outcome = (after, self.number(after), given, cut, tuple(pairs), truth, _faulty(pairs), idle, steady)
        return tuple_of(Outcome, outcome)

    def _still(self, spot: Spot, known: Known, event: str, pairs: list[Pair], facts: Any) -> Outcome:
        """The outcome of an event that is taken, if at all, by arrows that change nothing."""
        if pairs:
            self.trail.append(Stand(event, spot.steps, spot.counters, spot.marks, spot.timers))
        truth = self._truth(spot, spot, event, pairs, "", facts)
        known = self._held(known, ())
        after = spot if known == spot.known else spot._replace(known=known)
        clocks = len(self.timed(spot)) + (spot.push == COUNTED)
        faults, number = _faulty(pairs), self.number(after)
        outcome = (after, number, _running_on(clocks), (), tuple(pairs), truth, faults, after is spot, True)
        return tuple_of(Outcome, outcome)

    def _truth(self, before: Any, after: Any, event: str, pairs: Sequence[Pair], late: str, facts: Any) -> int:
        """The questions that a moment answers yes, as bits."""
        moment = tuple_of(Moment, (before, after, event, pairs, late, facts))
        truth = 0
        for bit, question in self._asked:
            if question(moment):
                truth |= bit
        return truth

    def _held(self, known: Known, moved: Iterable[int]) -> Known:
        """What is still known after a moment in which those scripts have moved on."""
        for index in self._scripts if self.part.fickle else moved:
            known = forget(known, index)
        return known

    def _event(self, live: _Live, event: str, facts: Any, pairs: list[Pair]) -> None:
        queue = [event]
        self._drain(live, queue, facts, pairs)

    def _drain(self, live: _Live, queue: list[str], facts: Any, pairs: list[Pair]) -> None:
        place = 0
        while place < len(queue):
            event = queue[place]
            place += 1
            moves = choose(self.machine, live, event, facts)
            if moves:
                pairs.extend((event, move) for move in moves)
                self._apply(live, moves, queue)
                self.trail.append(Stand(event, live.steps, live.counters, live.marks, live.timers))

    def _apply(self, live: _Live, moves: Iterable[Move], queue: list[str]) -> None:
        for move in moves:
            if move.pushed:
                live.push, live.pushed = COUNTED, True
            if move.to >= 0:
                live.steps = (*live.steps[: move.track], move.to, *live.steps[move.track + 1 :])
            live.marks = (live.marks & ~move.clear) | move.mark
            if move.counts:
                changed = list(live.counters)
                for index, put, value, most in move.counts:
                    if index in self._moving and changed[index] > 0 and value:
                        live.moved.add(self._moving[index])
                    total = value if put else changed[index] + value
                    changed[index] = total if total < most else most
                live.counters = tuple(changed)
            for what, timer in move.timing:
                self._time(live, what, timer)
            queue.extend(move.emits)

    def _time(self, live: _Live, what: int, timer: int) -> None:
        running = timer in live.sources
        if running and what != START:
            live.timers = tuple(one for one in live.timers if one[1] != timer)
            del live.sources[timer]
            running = False
        if what == RESTART or (what == START and not running):
            info = self.machine.timers[timer]
            pushes = info.since_push and timer not in self.untimed
            source = self._since_push(live, info.first) if pushes else (0, info.first)
            self._put(live, (0, timer, info.most), source)

    def _since_push(self, live: _Live, first: int) -> tuple[int, int]:
        if live.push == NEVER or live.pushed:
            return 0, first
        if live.push == LONG_AGO:
            return 0, 0
        if first not in live.cuts:
            raise _Push(first)
        return (-1, first) if live.cuts[first] else (0, 0)

    @staticmethod
    def _put(live: _Live, entry: tuple[int, int, int], source: tuple[int, int]) -> None:
        live.timers = tuple(sorted((*live.timers, entry)))
        live.sources[entry[1]] = source
