"""Two versions run as one: their common discrete state, what each does in it, and where they begin to differ.

A pair of states is a :class:`Spot` that holds both; a timer that runs alike in both has one clock, else one for each.
So the classes of the pair are explored as those of one machine are, and stay as few as one's while both are alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from coach.check.compare.aligned import Aligned, Spotted
from coach.check.states.classes import Heard, MindState
from coach.check.states.discrete import COUNTED, NEVER, Discrete, Outcome, Pair, Spot, Stand
from coach.check.states.inputs import Gate
from coach.check.states.openfacts import Frame, Known
from coach.check.states.reads import Reads
from coach.check.states.sight import Sight, Token
from coach.check.states.slicing import Part
from coach.engine.machine import Move
from coach.engine.state import Effect

BOTH, OLD, NEW = 0, 1, 2
"""Whose clock it is: clocks are numbered three for a timer, in this order."""

_APART = 1_000_000
_MOST = 20_000
"""A timer with different firings left in each: both, packed into one number beyond any real one."""


class Grow(Exception):
    """More has to be looked at: ``differs`` are parts of the state that can differ, ``keeps`` parts that must be seen
    to tell, ``events`` that are emitted by one only, ``shown`` events of which it matters whether anything takes
    them."""

    def __init__(
        self,
        differs: Reads | None = None,
        keeps: Reads | None = None,
        events: Iterable[str] = (),
        shown: Iterable[str] = (),
    ) -> None:
        super().__init__()
        self.differs = differs or Reads()
        self.keeps = keeps or Reads()
        self.events = frozenset(events)
        self.shown = frozenset(shown)


class Puzzled(Exception):
    """The two differ in a way that is not followed; the message says which."""


class Look(NamedTuple):
    """What is looked at for the time being: ``suspects`` are the places at which they may act differently, ``differs``
    the parts of the state that may differ, ``events`` and ``shown`` as in :class:`Grow`. ``armed``: whether a shock is
    possible may differ."""

    suspects: frozenset[Spotted]
    differs: Reads
    events: frozenset[str]
    shown: frozenset[str]
    armed: bool


class End(NamedTuple):
    """Where one version comes to: its state, where its clocks come from by timer, and its last push."""

    spot: Spot
    sources: Mapping[int, tuple[int, int]]
    pushed: tuple[int, int]


class Watch:
    """A mind that waits for the first moment at which what is seen differs."""

    def start(self, truth: int, faults: bool) -> Heard:
        return Heard((), (), bool(truth))

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        return Heard((), (), bool(truth))

    def ran_out(self, state: MindState, clocks: tuple[int, ...], clock: int) -> Heard:
        raise AssertionError("it has no clocks")


class Twin(Discrete):
    """The discrete behaviour of both versions. Raises :class:`Grow` or :class:`Puzzled` where it must. ``untimed``
    timers, which must run alike in both, have no clock."""

    def __init__(
        self,
        aligned: Aligned,
        parts: tuple[Part, Part],
        frame: Frame,
        gates: tuple[Gate, Gate],
        sights: tuple[Sight, Sight],
        look: Look,
        untimed: frozenset[int],
    ) -> None:
        super().__init__(parts[0], frame, gates[0], (), frozenset(3 * timer for timer in untimed))
        one, two = (Discrete(part, frame, gate, (), untimed) for part, gate in zip(parts, gates, strict=True))
        self.sides = (one, two)
        self.push_limit = max(side.push_limit for side in self.sides)
        self.aligned = aligned
        self.sights = sights
        self.look = look
        self.kept = parts[0].kept.common(parts[1].kept)
        self.sure = _less(self.kept, untimed, self._moving)
        self.events = tuple(
            dict.fromkeys((*parts[0].inputs, *parts[1].inputs, *(["shock_pressed"] if look.armed else [])))
        )
        self.width = len(self.machine.marks)
        self.size = (len(self.machine.tracks), len(self.machine.counters))
        self._seen: dict[tuple[int, str], tuple[Token, ...]] = {}

    # --- what the explorer asks ---------------------------------------------------------------------------------------

    def begin(self) -> tuple[Outcome, ...]:
        """The states at go."""
        starts = tuple(track.start for side in self.sides for track in side.machine.tracks)
        spot = Spot(starts, (0,) * (2 * self.size[1]), 0, (), NEVER, ())
        return self._forked(spot, None, "go")

    def inputs(self, spot: Spot, number: int) -> tuple[tuple[str, Outcome], ...]:
        """Every input that can come in either."""
        found = self._inputs.get(number)
        if found is None:
            out: list[tuple[str, Outcome]] = []
            for event in self.events:
                if not self._waits(event, spot.steps):
                    continue
                ways = self._forked(spot, None, event)
                if any(not way.idle or way.truth for way in ways):
                    out.extend((event, way) for way in ways)
            found = self._inputs[number] = tuple(out)
        return found

    def _waits(self, event: str, steps: tuple[int, ...]) -> bool:
        """Whether some arrow of either waits for an event in these steps; facts and marks apart."""
        if event == "shock_pressed":
            return True
        for side, first in zip(self.sides, (0, self.size[0]), strict=True):
            for track, by_step in side.machine.table.get(event, ()):
                if by_step[steps[first + track]]:
                    return True
        return False

    def event_of(self, timer: int) -> str:
        """The event that a clock's timer makes when it runs out."""
        return self.machine.timers[timer // 3].event

    # --- one way ------------------------------------------------------------------------------------------------------

    def run(self, spot: Spot, known: Known, cuts: dict[int, bool], timer: int | None, event: str) -> Outcome | None:
        """Both versions at once; ``timer`` is a clock."""
        clocks = [clock for clock in self.timed(spot) if clock != timer]
        outs: list[Outcome | None] = []
        trails: list[list[Stand]] = []
        befores = self.split(spot)
        for side, each in enumerate(self.sides):
            moved = timer is None or timer % 3 in (BOTH, side + 1)
            here = befores[side]
            outs.append(
                each.run(here, known, cuts, timer // 3 if timer is not None else None, event) if moved else None
            )
            trails.append(each.trail if moved and outs[side] is not None else [])
        if timer is None and outs == [None, None] and event != "shock_pressed":
            return None
        truth = self._compare(befores, outs, trails, timer, event)
        ends = [self.end_of(side, out, befores[side]._replace(known=known), clocks) for side, out in enumerate(outs)]
        pairs = outs[0].pairs if outs[0] is not None else ()
        return self.made(spot, ends, clocks, cuts, pairs, truth, timer is None)

    def end_of(self, side: int, out: Outcome | None, before: Spot, clocks: Sequence[int]) -> End:
        """Where one version comes to, its clocks told by the pair's; ``out`` is None where it stays."""
        own = [place for place, clock in enumerate(clocks, 1) if clock % 3 in (BOTH, side + 1)]
        push = len(clocks) + 1
        if out is None:
            after, moves = before, [(place, 0) for place in own]
            pushed = (push, 0)
        else:
            after = out.spot
            moves = [
                (push if place > len(own) else own[place - 1] if place else 0, more) for place, more in out.sources
            ]
            pushed = moves.pop() if after.push == COUNTED else (push, 0)
        return End(after, dict(zip(self.sides[side].timed(after), moves, strict=True)), pushed)

    def made(
        self,
        spot: Spot,
        ends: Sequence[End],
        clocks: Sequence[int],
        cuts: Mapping[int, bool],
        pairs: tuple[Pair, ...],
        truth: bool,
        outside: bool,
    ) -> Outcome:
        """The outcome for the pair."""
        one, two = ends
        counted = one.spot.push == COUNTED and one.pushed != two.pushed
        if one.spot.push != two.spot.push or one.spot.known != two.spot.known or counted:
            raise Puzzled("pushes or facts count differently in the two")
        after, joined = self._join(one, two)
        apart = {entry[1] // 3 for entry in after.timers if entry[1] % 3 != BOTH}
        if not apart <= self.look.differs.timers:
            raise Grow(differs=Reads(timers=apart))
        if after.push == COUNTED:
            joined.append(one.pushed)
        before = len(clocks) + (spot.push == COUNTED)
        same = self.timed(after) == list(clocks) and after.push == spot.push
        steady = same and len(joined) == before and all(source == (place, 0) for place, source in enumerate(joined, 1))
        return Outcome(
            after,
            self.number(after),
            tuple(joined),
            tuple(sorted(cuts.items())),
            pairs,
            int(truth),
            False,
            outside and steady and after == spot,
            steady,
        )

    def split(self, spot: Spot) -> tuple[Spot, Spot]:
        """The states of both that a pair's state holds."""
        tracks, counters = self.size
        out = []
        for side in (0, 1):
            timers = tuple(
                (0, clock // 3, _left(left, side)) for _, clock, left in spot.timers if clock % 3 in (BOTH, side + 1)
            )
            out.append(
                Spot(
                    spot.steps[side * tracks : (side + 1) * tracks],
                    spot.counters[side * counters : (side + 1) * counters],
                    spot.marks >> side * self.width & (1 << self.width) - 1,
                    timers,
                    spot.push,
                    spot.known,
                )
            )
        return out[0], out[1]

    def _join(self, old: End, new: End) -> tuple[Spot, list[tuple[int, int]]]:
        """A pair's state, and where each of its clocks comes from."""
        one, two, sources = old.spot, new.spot, (old.sources, new.sources)
        lefts = [{entry[1]: entry[2] for entry in each.timers} for each in (one, two)]
        timers: list[tuple[int, int, int]] = []
        out: list[tuple[int, int]] = []
        for timer in sorted(lefts[0].keys() | lefts[1].keys()):
            running = timer in lefts[0] and timer in lefts[1]
            if running and sources[0].get(timer) == sources[1].get(timer):
                timers.append((0, 3 * timer, _packed(lefts[0][timer], lefts[1][timer])))
                if timer in sources[0]:
                    out.append(sources[0][timer])
                continue
            for side in (0, 1):
                if timer in lefts[side]:
                    timers.append((0, 3 * timer + side + 1, lefts[side][timer]))
                    if timer in sources[side]:
                        out.append(sources[side][timer])
        marks = one.marks | two.marks << self.width
        spot = Spot(one.steps + two.steps, one.counters + two.counters, marks, tuple(timers), one.push, one.known)
        return spot, out

    # --- what differs -------------------------------------------------------------------------------------------------

    def _compare(
        self,
        befores: tuple[Spot, Spot],
        outs: Sequence[Outcome | None],
        trails: Sequence[Sequence[Stand]],
        timer: int | None,
        event: str,
    ) -> bool:
        """Whether what is seen differs. Raises :class:`Grow` where what is looked at is too little to go on."""
        taken = [self.suspected(out.pairs if out is not None else ()) for out in outs]
        deeds = [[(event, move.track, self._deed(side, move)) for event, move in taken[side]] for side in (0, 1)]
        seen = [self.told(side, taken[side], timer) for side in (0, 1)]
        outside = timer is None and event != "go"
        if seen[0] != seen[1] or (outside and self._outcome(befores, outs, taken, event)):
            return True
        if deeds[0] != deeds[1]:
            self.follow(taken, event)
        stands = [
            [stand(out.spot)] if out is not None else [stand(before)] for out, before in zip(outs, befores, strict=True)
        ]
        if [stand.event for stand in trails[0]] == [stand.event for stand in trails[1]]:
            for side in (0, 1):
                stands[side] += trails[side]
        elif max(map(len, trails)) > 1 and deeds[0] != deeds[1]:  # what one event leaves is seen in the end alone
            self.follow(taken, event, every=True)
        found = Reads()
        for old, new in zip(*stands, strict=True):
            found.add(self.differing(old, new))
        if not found.within(self.look.differs):
            raise Grow(differs=found)
        return False

    def suspected(self, pairs: Iterable[Pair]) -> list[Pair]:
        """The moves made at places at which the two may act differently, as the whole machines have them."""
        found = []
        for event, move in pairs:
            if event == "go" or (event, move.track, move.source) in self.look.suspects:
                whole = self.aligned.moves.get(move.arrow)
                if whole is not None:
                    found.append((event, whole))
        return found

    def _tokens(self, side: int, move: Move) -> tuple[Token, ...]:
        key = (side, move.arrow)
        found = self._seen.get(key)
        if found is None:
            effects = tuple(Effect(0, *said) for said in move.says)
            found = self._seen[key] = self.sights[side].tokens(effects, "")
        return found

    def _deed(self, side: int, move: Move) -> tuple[Any, ...]:
        return deed(move, self._tokens(side, move))

    def told(self, side: int, taken: Iterable[Pair], timer: int | None) -> list[Token]:
        """What is seen of the moves at such places, and of a step that became late."""
        found = [token for _, move in taken for token in self._tokens(side, move)]
        if timer is not None and timer % 3 in (BOTH, side + 1):
            machine = self.sides[side].machine
            info = machine.timers[timer // 3]
            if info.late:
                effects = [Effect(0, "late", info.step, info.track)]
                if f"late:{info.step}" in machine.cues:
                    effects.append(Effect(0, "cue", f"late:{info.step}", info.track, info.step))
                found.extend(self.sights[side].tokens(tuple(effects), ""))
        return sorted(found)

    def _outcome(
        self,
        befores: tuple[Spot, Spot],
        outs: Sequence[Outcome | None],
        taken: Sequence[Sequence[Pair]],
        event: str,
    ) -> bool:
        """Whether an input is judged differently: taken, not expected, or no shock possible."""
        if event == "shock_pressed":
            armed = [side.machine.is_armed(before.steps) for side, before in zip(self.sides, befores, strict=True)]
            if armed[0] != armed[1]:
                return True
        if event in self.look.shown:
            first = [any(one == event for one, _ in out.pairs) if out is not None else False for out in outs]
            return first[0] != first[1]
        suspected = [any(one == event for one, _ in each) for each in taken]
        if suspected[0] != suspected[1]:
            raise Grow(shown=[event])
        return False

    def follow(self, taken: Sequence[Sequence[Pair]], event: str, every: bool = False) -> None:
        """Look at what the moves write: what they write differently has to be kept; ``every``: it may differ."""
        one, two = (writes(each) for each in taken)
        keeps, events = Reads(), set[str]()
        for key in one.keys() | two.keys():
            if one.get(key) == two.get(key):
                continue
            kind, what = key
            if kind == "emit":
                events.add(str(what))
            elif kind == "push":
                raise Puzzled("pushes count differently in the two")
            else:
                keeps.add(part_of(kind, int(what)))
        emitted = [
            sorted(str(what) for kind, what in each for _ in each[kind, what] if kind == "emit") for each in (one, two)
        ]
        if events and emitted[0] == emitted[1]:
            raise Puzzled(f"on {event} they emit the same in another order")
        heard = {name for name in events if any(name in whole.table for whole in self.aligned.machines)}
        if every and not keeps.within(self.look.differs):
            raise Grow(keeps, keeps, heard)
        if not keeps.within(self.sure) or not heard <= self.look.events:
            raise Grow(None, keeps, heard)

    def differing(self, old: Stand, new: Stand) -> Reads:
        """The kept parts in which two states differ."""
        kept = self.kept
        timers = [{entry[1]: entry[2] for entry in each.timers} for each in (old, new)]
        return Reads(
            {track for track in kept.tracks if old.steps[track] != new.steps[track]},
            {counter for counter in kept.counters if old.counters[counter] != new.counters[counter]},
            (old.marks ^ new.marks) & kept.marks,
            {timer for timer in kept.timers if timers[0].get(timer) != timers[1].get(timer)},
        )


def _less(kept: Reads, timers: Iterable[int], counters: Iterable[int]) -> Reads:
    """What is kept, without some timers and counters."""
    return Reads(kept.tracks, kept.counters - set(counters), kept.marks, kept.timers - set(timers), set(), kept.push)


def stand(spot: Spot) -> Stand:
    """How a state stands in the end."""
    return Stand("", spot.steps, spot.counters, spot.marks, spot.timers)


def _packed(one: int, two: int) -> int:
    return one if one == two else _APART + (one + 1) * _MOST + two + 1


def _left(left: int, side: int) -> int:
    if left < _APART:
        return left
    return (divmod(left - _APART, _MOST)[side]) - 1


def part_of(kind: str, place: int) -> Reads:
    """The one part of the state that :func:`writes` tells of so."""
    match kind:
        case "track":
            return Reads({place})
        case "counter":
            return Reads(set(), {place})
        case "mark":
            return Reads(marks=1 << place)
    return Reads(timers={place})


def deed(move: Move, tokens: tuple[Token, ...]) -> tuple[Any, ...]:
    """All that a move does, equal for moves that do the same."""
    return (
        move.to,
        move.clear & ~move.mark,
        move.mark,
        tuple(sorted(move.counts, key=lambda one: one.counter)),
        tuple(sorted(move.timing, key=lambda one: one[1])),
        move.emits,
        tokens,
        move.pushed,
    )


def writes(taken: Iterable[Pair]) -> dict[tuple[str, int | str], list[Any]]:
    """What moves write, by what they write to, each with its event and track."""
    found: dict[tuple[str, int | str], list[Any]] = {}
    for event, move in taken:
        at = (event, move.track)
        if move.to >= 0:
            found.setdefault(("track", move.track), []).append((at, move.to))
        for place in range((move.clear | move.mark).bit_length()):
            if (move.clear | move.mark) >> place & 1:
                found.setdefault(("mark", place), []).append((at, move.mark >> place & 1))
        for count in move.counts:
            found.setdefault(("counter", count.counter), []).append((at, count))
        for what, timer in move.timing:
            found.setdefault(("timer", timer), []).append((at, what))
        for name in move.emits:
            found.setdefault(("emit", name), []).append(at)
        if move.pushed:
            found.setdefault(("push", 0), []).append(at)
    return found
