"""Leaving out of a machine what a question cannot depend on, without changing any answer.

A question names what it looks at (steps of some tracks, marks, whether events are taken, cues). Kept is whatever
decides those, and whatever decides that, to the end. What is outside has no way to reach what is inside:
every behaviour of the part is that of a whole run and the other way round. Moves that differ only in what is left out
become one, so that the guards between them are not read either.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, replace

from coach.check.states.openfacts import moving_scripts
from coach.check.states.reads import Interest, Lookups, Reads, reads_of
from coach.engine.machine import Count, GuardFunction, Machine, Move, Row, Said
from coach.engine.state import tuple_of
from coach.protocol import guards
from coach.protocol.guards import Expr
from coach.protocol.names import HANDS_TRACK

_INJECT_EVENTS = ("inject", "answered", "wrong", "due", "closed")


@dataclass(frozen=True, slots=True)
class Part:
    """A machine cut down to what a question needs. ``machine`` runs under the drill's own ``choose``; ``inputs`` are
    the events from outside that change or show anything, of those alike in every respect only the first (``alike``
    names the others); ``kept`` says what is left. ``fickle`` where each reading of a script may give another word: more
    than can be, and nothing of it is held."""

    machine: Machine
    kept: Reads
    inputs: tuple[str, ...]
    alike: Mapping[str, tuple[str, ...]]
    moving: frozenset[str]
    fickle: bool = False


Cell = tuple[tuple[GuardFunction | None, Move], ...]


class _Slicer:
    def __init__(
        self,
        machine: Machine,
        interest: Interest,
        inputs: Iterable[str],
        injects: Iterable[str],
        loose: bool,
        free: Iterable[str],
        fickle: bool,
        lookups: Lookups,
    ) -> None:
        self.whole = machine
        self.lookups = lookups
        self.fickle = fickle
        self.loose = loose
        self.interest = interest
        self.spotted = {(event, track) for event, track, _ in interest.spots}
        self.apart = interest.events | interest.shown | {event for event, _ in self.spotted}
        self.given = list(inputs)
        on = set(injects)
        off = {
            place
            for place, info in enumerate(machine.tracks)
            if info.name.startswith("inject:") and info.name.partition(":")[2] not in on
        }
        self.table: dict[str, Row] = {
            event: tuple((track, by_step) for track, by_step in row if track not in off)
            for event, row in machine.table.items()
            if not (event.partition(":")[0] in _INJECT_EVENTS and event.partition(":")[2] not in on)
        }
        for name in sorted(set(free) & on):
            if f"closed:{name}" not in machine.table:  # whoever waits for its end needs its own steps
                self._free(name)
        self.moving = moving_scripts(machine, interest.exprs)
        layout = machine.layout
        self.turning = {layout.counters[layout.facts[name][1].counter] for name in self.moving}
        self.kept = Reads(set(interest.tracks), set(), interest.marks, set(interest.timers), set())
        self.relevant: set[str] = set()
        self._found: dict[str, dict[int, tuple[Cell, ...]]] = {}
        self._looked: dict[tuple[str, int], tuple[int, ...]] = {}
        self._grown: dict[tuple[str, int], tuple[Cell, ...]] = {}
        self.own_track = {
            info.name: place for place, info in enumerate(machine.tracks) if info.name.startswith("inject:")
        }
        self.taker = {**_takers(self.table), **self.own_track}
        self.by_timer = {info.event: place for place, info in enumerate(machine.timers)}
        for expr in interest.exprs:
            self.kept.add(reads_of(expr, machine))
        for place, info in enumerate(machine.timers):
            if f"late:{info.step}" in interest.cues and info.step:
                self.kept.timers.add(place)

    def _free(self, name: str) -> None:
        """Let an inject be thrown as often as its own condition allows, open or not: more than the file does."""
        machine = self.whole
        index = next(place for place, info in enumerate(machine.tracks) if info.name == f"inject:{name}")
        event = f"inject:{name}"
        row = dict(self.table[event])
        first = next(move for moves in row[index] for move in moves)
        expr = machine.guards[first.guard] if first.guard is not None else None
        guard = None
        if isinstance(expr, guards.And):  # its bound, then its condition
            guard = guards.compile_guard(expr.items[1], machine.layout)
            machine.guards[guard] = expr.items[1]
        move = first._replace(guard=guard, to=-1, counts=(), timing=())
        row[index] = tuple((move,) for _ in row[index])
        self.table[event] = tuple(sorted(row.items()))

    # --- one move ---------------------------------------------------------------------------------------------------

    def _emits(self, move: Move) -> tuple[str, ...]:
        return tuple(event for event in move.emits if event in self.relevant) if move.emits else ()

    def _says(self, event: str, move: Move) -> tuple[Said, ...]:
        cues = self.interest.cues
        if not (cues and move.says):
            return ()
        if event in cues and any(said.kind == "cue" for said in move.says):
            return (Said("cue", event),)  # which cue it is does not matter here
        return tuple(said for said in move.says if said.kind == "cue" and said.name in cues)

    def _projected(self, event: str, move: Move) -> Move:
        """The move with everything left out that is not kept."""
        guard, arrow, track, source, to, clear, mark, counts, timing, _, _, pushed, fault = move
        kept = self.kept
        if to >= 0 and (track not in kept.tracks or (to == source and track not in self.interest.tracks)):
            to = -1
        if counts:
            counts = tuple(self._count(count) for count in counts if self._counts(count))
        if timing:
            timing = tuple(one for one in timing if one[1] in kept.timers)
        emits, says = self._emits(move), self._says(event, move)
        changes = (to, clear & kept.marks, mark & kept.marks, counts, timing, emits, says, pushed and kept.push)
        return tuple_of(Move, (guard, arrow, track, source, *changes, fault))

    def _counts(self, count: Count) -> bool:
        return count.counter in self.kept.counters and not (self.fickle and count.counter in self.turning)

    def _count(self, count: Count) -> Count:
        return count._replace(most=2) if count.counter in self.turning else count

    def _effect(self, event: str, move: Move) -> tuple[object, ...] | None:
        """What tells this (projected) move from others; None where it does nothing that matters."""
        interest = self.interest
        label: tuple[object, ...] = ()
        if (event, move.track) in interest.cells or (event, move.track, move.source) in interest.spots:
            label = (move.arrow,)
        elif event in interest.events or event in interest.shown or (interest.faults and move.fault):
            if self.taker.get(event, move.track) != move.track:
                label = (True,) if move.fault else ()  # whether it is taken is seen by another track
            elif event in interest.shown - interest.events and not (interest.faults and move.fault):
                label = ("taken",)
            else:
                label = (bool(move.fault),)
        changes = (move.to, move.clear, move.mark, move.counts, move.timing, move.emits, move.says, move.pushed)
        if changes != (-1, 0, 0, (), (), (), (), False):
            return (*changes, label)
        return label or None

    def _cell(self, event: str, moves: tuple[Move, ...]) -> Cell:
        """The moves of one event in one step, those dropped or joined that make no difference."""
        out: list[tuple[GuardFunction | None, Move, tuple[object, ...] | None]] = []
        for move in moves:
            made = self._projected(event, move)
            out.append((move.guard, made, self._effect(event, made)))
            if move.guard is None:
                break
        while out and out[-1][2] is None:
            out.pop()
        while len(out) > 1 and out[-1][0] is None and out[-2][2] == out[-1][2]:
            if not out[-2][1].fault:  # of two that are told apart by a fault alone the innocent one stays
                out[-1] = (None, out[-1][1]._replace(fault=""), out[-1][2])
            del out[-2]
        kept = [one for place, one in enumerate(out) if not self._covered(place, out)]
        return tuple((guard, move) for guard, move, _ in kept)

    def _covered(self, place: int, moves: list[tuple[GuardFunction | None, Move, tuple[object, ...] | None]]) -> bool:
        """True where a later move does the same under a guard that asks less, and nothing else stands between."""
        guard, move, effect = moves[place]
        for other, later, same in moves[place + 1 :]:
            if same != effect or (later.fault and not move.fault):
                return False
            if guard is not None and other is not None and self._parts(other) <= self._parts(guard):
                return True
        return False

    def _parts(self, guard: GuardFunction) -> frozenset[Expr]:
        expr = self.whole.guards[guard]
        return frozenset(expr.items) if isinstance(expr, guards.And) else frozenset({expr})

    # --- the whole --------------------------------------------------------------------------------------------------

    def _cells(self) -> dict[str, dict[int, tuple[Cell, ...]]]:
        """The moves that matter, by event and track. Only what the last growth can have changed is looked at again."""
        new: Set[str] | None = None
        while True:
            for event, row in self.table.items():
                for track, by_step in row:
                    if new is not None and new.isdisjoint(self.lookups.touched(event, track, by_step).emits):
                        continue  # what is emitted is all that has come to matter since
                    place = (event, track)
                    size = self._size_for(event, track, by_step)
                    if self._looked.get(place) == size:
                        continue
                    self._looked[place] = size
                    cells = self._cells_of(event, by_step) if any(size) else ()
                    if any(cells):
                        self._found.setdefault(event, {})[track] = cells
            found = {event: cells for event, cells in self._found.items() if not self._only_repeats(event, cells)}
            new = found.keys() - self.relevant
            if not new:
                return {event: self._thrown(event, cells) for event, cells in found.items()}
            self.relevant |= new

    def _cells_of(self, event: str, by_step: tuple[tuple[Move, ...], ...]) -> tuple[Cell, ...]:
        """The cell of each step; steps that have the very same moves share one."""
        made: dict[int, Cell] = {}
        for moves in by_step:
            if id(moves) not in made:
                made[id(moves)] = self._cell(event, moves)
        return tuple(made[id(moves)] for moves in by_step)

    def _thrown(self, event: str, cells: dict[int, tuple[Cell, ...]]) -> dict[int, tuple[Cell, ...]]:
        """With the inject's own track, where others hear of it: they do only when that one takes it."""
        own = self.own_track.get(event)
        if own is None or own in cells:
            return cells
        by_step = next(by_step for track, by_step in self.table[event] if track == own)
        taken = tuple(tuple((move.guard, self._projected(event, move)) for move in moves) for moves in by_step)
        return {**cells, own: taken}

    def _size_for(self, event: str, track: int, by_step: tuple[tuple[Move, ...], ...]) -> tuple[int, ...]:
        """How much of what a cell writes or shows is kept; until that grows the cell need not be looked at again."""
        place = (event, track)
        touched = self.lookups.touched(event, track, by_step)
        kept, interest = self.kept, self.interest
        shown = place in interest.cells or place in self.spotted or event in interest.events or event in interest.shown
        return (
            int(track in kept.tracks),
            len(touched.counters & kept.counters),
            (touched.marks & kept.marks).bit_count(),
            len(touched.timers & kept.timers),
            len(touched.emits & self.relevant),
            int(touched.push and kept.push),
            int(shown or event in interest.cues or bool(touched.cues & interest.cues)),
            int(interest.faults and touched.faults),
        )

    def _grow(self, cells: Mapping[str, Mapping[int, tuple[Cell, ...]]]) -> None:
        kept, machine = self.kept, self.whole
        for event, by_track in cells.items():
            if event in self.by_timer:
                kept.timers.add(self.by_timer[event])
            if event == "shock_pressed":
                kept.tracks |= {track for track, _ in machine.armed}
            if event in ("hands_placed", "probe_tap") and event in self.given and not self.loose:
                kept.tracks.add(machine.layout.tracks[HANDS_TRACK])
            for track, by_step in by_track.items():
                if self._grown.get((event, track)) is by_step:
                    continue
                self._grown[event, track] = by_step
                apart = (event, track) in self.spotted and len(by_step) > 1
                cells_of = list(
                    {id(cell): cell for cell in by_step}.values()
                )  # steps with the very same moves share one
                first = self._key(cells_of[:1])
                if apart or any(self._key((cell,)) != first for cell in cells_of[1:]):
                    kept.tracks.add(track)
                for cell in cells_of:
                    for guard, _ in cell:
                        if guard is not None:
                            kept.add(self.lookups.reads(guard))
        for place, info in enumerate(machine.timers):
            if info.late & kept.marks:
                kept.timers.add(place)
        if any(machine.timers[place].since_push for place in kept.timers):
            kept.push = True

    def part(self) -> Part:
        while True:
            before = self.kept.size()
            cells = self._cells()
            self._grow(cells)
            if self.kept.size() == before:
                break
        table: dict[str, Row] = {
            event: tuple(
                (track, tuple(tuple(move for _, move in cell) for cell in by_step))
                for track, by_step in sorted(by_track.items())
            )
            for event, by_track in cells.items()
        }
        tracks = tuple(
            replace(info, entries=tuple(self._projected("", entry) for entry in info.entries))
            for info in self.whole.tracks
        )
        inputs, alike = self._inputs(cells)
        scripts = {self.whole.layout.facts[name][0] for name in self.moving}
        fickle = self.fickle and bool(scripts & self.kept.facts)
        return Part(replace(self.whole, table=table, tracks=tracks), self.kept, inputs, alike, self.moving, fickle)

    def _inputs(
        self, cells: Mapping[str, Mapping[int, tuple[Cell, ...]]]
    ) -> tuple[tuple[str, ...], dict[str, tuple[str, ...]]]:
        first: dict[object, str] = {}
        alike: dict[str, list[str]] = {}
        for event in self.given:
            if event not in cells:
                continue
            key = (_condition(event), tuple((track, self._key(steps)) for track, steps in cells[event].items()))
            if event in self.apart:
                key = (event, key[1])
            alike.setdefault(first.setdefault(key, event), []).append(event)
        return tuple(alike), {event: tuple(others[1:]) for event, others in alike.items()}

    def _key(self, by_step: Sequence[Cell]) -> object:
        """Equal for moves that do the same under the same guards."""
        exprs = self.whole.guards
        return tuple(
            tuple(
                (exprs[guard] if guard else None, *move[4:9], move.emits, move.says, move.pushed, bool(move.fault))
                for guard, move in cell
            )
            for cell in by_step
        )

    def _only_repeats(self, event: str, cells: Mapping[int, tuple[Cell, ...]]) -> bool:
        """True for an inject that does nothing but make one observation, which may be made at any time anyway."""
        if not event.startswith("inject:") or event in self.apart:
            return False
        moves = [move for by_step in cells.values() for cell in by_step for _, move in cell]
        own = self.whole.layout.counters.get(f"thrown:{event.partition(':')[2]}")
        emitted = {move.emits for move in moves if move.emits}
        plain = all(
            (move.to, move.clear, move.mark, move.timing, move.says) == (-1, 0, 0, (), ())
            and all(count.counter == own for count in move.counts)
            for move in moves
        )
        if not plain or (event, moves[0].track) in self.interest.cells or len(emitted) != 1:
            return False
        emits = next(iter(emitted))
        return len(emits) == 1 and emits[0] in self.given and _condition(emits[0]) == "free"


def _takers(table: Mapping[str, Row]) -> dict[str, int]:
    """By event a track, if there is one, that takes it in every state and over no fault."""
    return {
        event: track
        for event, row in table.items()
        for track, by_step in reversed(row)
        if all(any(move.guard is None for move in moves) for moves in by_step)
        and not any(move.fault for moves in by_step for move in moves)
    }


def _condition(event: str) -> str:
    """Under what condition an input can come; inputs of different conditions are never taken for one another."""
    from coach.check.states.inputs import is_units

    if event in ("shock_pressed", "compression", "hands_placed", "probe_tap") or ":" in event:
        return event
    return "unit" if is_units(event) else "free"


def cut(
    machine: Machine,
    interest: Interest,
    inputs: Iterable[str],
    injects: Iterable[str],
    loose: bool = False,
    free: Iterable[str] = (),
    fickle: bool = False,
    lookups: Lookups | None = None,
) -> Part:
    """The part of a machine that a question needs; ``injects`` are the injects that can be thrown. ``loose`` where a
    push may come in any state, ``free`` names injects that may be thrown in any (see
    :class:`coach.check.states.inputs.Gate`), ``fickle`` where a script whose counter nothing else reads may give any
    word whenever it is read; ``lookups`` those of the machine, kept by whoever cuts it more than once."""
    known = lookups or Lookups(machine)
    return _Slicer(machine, interest, inputs, injects, loose, free, fickle, known).part()
