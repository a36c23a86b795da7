"""A part of a machine on a grid of time: searched here state by state, and written as Promela for SPIN to search.

On the grid every input comes at a multiple of the tick, and so does every timer. The state is what decides: steps,
counters, marks, ticks left of each timer and firings left. A tick lets time pass, then fires what is due, in the
engine's order; an input is one move to completion.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

from coach.check.states.inputs import Gate
from coach.check.states.slicing import Part
from coach.engine.machine import RESTART, START, Machine, Move
from coach.engine.step import choose
from coach.protocol.guards import And, Choice, Compare, Expr, InStep, Name, Not, Or, Running, Unknown


class Cell(NamedTuple):
    """A state on the grid; ``timers`` are (ticks left, timer, firings left) sorted by timer."""

    steps: tuple[int, ...]
    counters: tuple[int, ...]
    marks: int
    timers: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True, slots=True)
class Searched:
    """What a search found: states, transitions, and the depth of the nearest bad state (None: there is none)."""

    states: frozenset[Cell]
    transitions: int
    bad_at: int | None


class Grid:
    """The part of a machine on a grid of ``tick_ms``, with the facts that the machine was built with."""

    def __init__(self, part: Part, tick_ms: int) -> None:
        self.part = part
        self.machine: Machine = part.machine
        self.tick = tick_ms
        self.gate = Gate(self.machine, (), 2, "all")
        assert not part.kept.push, "a grid has no clock for the last push"

    def ticks(self, ms: int) -> int:
        """A time in ticks; every timer must be a multiple."""
        assert ms % self.tick == 0, ms
        return ms // self.tick

    # --- one by one ---------------------------------------------------------------------------------------------------

    def first(self) -> Cell:
        machine = self.machine
        steps = tuple(track.start for track in machine.tracks)
        cell = Cell(steps, (0,) * len(machine.counters), 0, ())
        queue: list[str] = []
        cell = self._apply(cell, [track.entries[track.start] for track in machine.tracks], queue)
        return self._drain(cell, queue)

    def inputs(self, cell: Cell) -> list[Cell]:
        """What each input that can come and is taken leads to."""
        out = []
        for event in self.part.inputs:
            if self.gate.allows(event, cell.steps, self.machine.facts):
                moves = choose(self.machine, cell, event, self.machine.facts)
                if moves:
                    queue: list[str] = []
                    out.append(self._drain(self._apply(cell, moves, queue), queue))
        return out

    def later(self, cell: Cell) -> Cell:
        """One tick later."""
        cell = cell._replace(timers=tuple((left - 1, timer, more) for left, timer, more in cell.timers))
        while due := [entry for entry in cell.timers if entry[0] == 0]:
            _, timer, more = due[0]
            info = self.machine.timers[timer]
            rest = [entry for entry in cell.timers if entry[1] != timer]
            if info.every and more != 1:
                rest.append((self.ticks(info.every), timer, more - 1 if more > 0 else more))
            cell = cell._replace(timers=tuple(sorted(rest, key=lambda entry: entry[1])))
            assert not info.late, "late marks are read by nothing here"
            cell = self._drain(cell, [info.event])
        return cell

    def _drain(self, cell: Cell, queue: list[str]) -> Cell:
        for event in queue:  # grows while it is read
            moves = choose(self.machine, cell, event, self.machine.facts)
            if moves:
                cell = self._apply(cell, moves, queue)
        return cell

    def _apply(self, cell: Cell, moves: list[Move], queue: list[str]) -> Cell:
        steps, counters, marks = list(cell.steps), list(cell.counters), cell.marks
        timers = {timer: (left, more) for left, timer, more in cell.timers}
        for move in moves:
            if move.to >= 0:
                steps[move.track] = move.to
            marks = (marks & ~move.clear) | move.mark
            for index, put, value, most in move.counts:
                counters[index] = min(value if put else counters[index] + value, most)
            for what, timer in move.timing:
                running = timer in timers
                if what != START:
                    timers.pop(timer, None)
                if what == RESTART or (what == START and not running):
                    info = self.machine.timers[timer]
                    timers[timer] = (self.ticks(info.first), info.most)
            queue.extend(move.emits)
        entries = tuple((left, timer, more) for timer, (left, more) in sorted(timers.items()))
        return Cell(tuple(steps), tuple(counters), marks, entries)

    def search(self, bad: Callable[[Cell], bool]) -> Searched:
        """Breadth first over all states."""
        first = self.first()
        depth = {first: 0}
        waiting = deque([first])
        transitions = 0
        bad_at = None
        while waiting:
            cell = waiting.popleft()
            if bad_at is None and bad(cell):
                bad_at = depth[cell]
            for following in (*self.inputs(cell), self.later(cell)):
                transitions += 1
                if following not in depth:
                    depth[following] = depth[cell] + 1
                    waiting.append(following)
        return Searched(frozenset(depth), transitions, bad_at)

    # --- Promela ------------------------------------------------------------------------------------------------------

    def promela(self, bad: Expr | None) -> str:
        """The same as a Promela model: one ``d_step`` for each input and for the tick. ``bad`` is asserted never to
        hold."""
        return _Promela(self, bad).text()


class _Promela:
    """The text of the model. SPIN keeps and searches the states; a move is a C function, one ``d_step`` an option."""

    def __init__(self, grid: Grid, bad: Expr | None) -> None:
        self.grid = grid
        self.machine = grid.machine
        self.kept = grid.part.kept
        self.bad = bad
        self.events = {event: number for number, event in enumerate(self.machine.table, 1)}
        self.timers = sorted(self.kept.timers)

    def text(self) -> str:
        kept = self.kept
        first = self.grid.first()
        running = {timer: (left, more) for left, timer, more in first.timers}
        out = [f"byte s{track} = {first.steps[track]};" for track in sorted(kept.tracks)]
        out += [f"byte c{counter} = {first.counters[counter]};" for counter in sorted(kept.counters)]
        out += [f"byte m{bit} = {first.marks >> bit & 1};" for bit in self._marks()]
        for timer in self.timers:
            left, more = running.get(timer, (0, 0))
            out.append(f"byte r{timer} = {left};")  # ticks left, 0 while it does not run
            if self._counted(timer):
                out.append(f"byte f{timer} = {more};")
        out += ["c_code {", "static int queue[64], head, tail;", "static void grid_run(int event);"]
        out += ["static void grid_drain(void) { while (head < tail) grid_run(queue[head++]); head = tail = 0; }"]
        out += ["static void grid_run(int event) { int pick[64] = {0}; switch (event) {"]
        out += [f"  case {number}: {self._event(event)} break;" for event, number in self.events.items()]
        out += ["} }", "static int grid_can(int event) { switch (event) {"]
        out += [f"  case {self.events[event]}: return {self._taken(event)};" for event in self.grid.part.inputs]
        out += ["} return 0; }", f"static void grid_tick(void) {{ {self._tick()} }}"]
        out += [f"static int grid_bad(void) {{ return {self._expr(self.bad) if self.bad is not None else '0'}; }}"]
        out.append("}")
        names = [
            f"\\#define GRIDCAN{self.events[event]} grid_can({self.events[event]})" for event in self.grid.part.inputs
        ]
        out[-1:] = ["\\#define GRIDBAD grid_bad()", *names, "}"]  # SPIN takes a call in an expression for a side effect
        out += ["active proctype drill() {", "  do"]
        for event in self.grid.part.inputs:
            number = self.events[event]
            move = f"queue[tail++] = {number}; grid_drain();"
            out.append(f"  :: d_step {{ c_expr {{ GRIDCAN{number} }} -> c_code {{ {move} }}; {self._check()} }}")
        out.append(f"  :: d_step {{ true -> c_code {{ grid_tick(); }}; {self._check()} }}")
        out += ["  od", "}"]
        return "\n".join(out) + "\n"

    def _marks(self) -> list[int]:
        return [bit for bit in range(len(self.machine.marks)) if self.kept.marks >> bit & 1]

    def _counted(self, timer: int) -> bool:
        info = self.machine.timers[timer]
        return bool(info.every) and info.most > 0

    def _check(self) -> str:
        return "if :: c_expr { GRIDBAD } -> assert(false) :: else -> skip fi"

    def _taken(self, event: str) -> str:
        """That the input can come and that some track takes it."""
        ways = []
        for track, by_step in self.machine.table[event]:
            for step, moves in enumerate(by_step):
                if moves:
                    guards = " || ".join(self._guard(move) for move in moves)
                    ways.append(f"({self._at(track, step)} && ({guards}))")
        taken = " || ".join(dict.fromkeys(ways)) or "0"
        if event == "shock_pressed":
            armed = " || ".join(self._at(track, step) for track, step in sorted(self.machine.armed))
            return f"(({armed}) && ({taken}))"
        return f"({taken})"

    def _at(self, track: int, step: int) -> str:
        return f"(now.s{track} == {step})" if track in self.kept.tracks else "1"

    def _event(self, event: str) -> str:
        """Choose in every track from one snapshot, then apply in order."""
        chosen, applied, number = [], [], 0
        for track, by_step in self.machine.table[event]:
            steps = range(len(by_step)) if track in self.kept.tracks else [self.machine.tracks[track].start]
            for step in steps:
                chain = []
                for move in by_step[step]:
                    number += 1
                    chain.append(f"if ({self._guard(move)}) pick[{track}] = {number};")
                    applied.append(f"if (pick[{track}] == {number}) {{ {self._effect(move)} }}")
                if chain:
                    chosen.append(f"if ({self._at(track, step)}) {{ {' else '.join(chain)} }}")
        return " ".join((*chosen, *applied))

    def _guard(self, move: Move) -> str:
        return "1" if move.guard is None else f"({self._expr(self.machine.guards[move.guard])})"

    def _begin(self, timer: int, ms: int, more: int) -> str:
        counted = f" now.f{timer} = {more};" if self._counted(timer) else ""
        return f"now.r{timer} = {-(-ms // self.grid.tick)};{counted}"

    def _effect(self, move: Move) -> str:
        out = []
        if move.to >= 0:
            out.append(f"now.s{move.track} = {move.to};")
        for bit in self._marks():
            if move.mark >> bit & 1:
                out.append(f"now.m{bit} = 1;")
            elif move.clear >> bit & 1:
                out.append(f"now.m{bit} = 0;")
        for index, put, value, most in move.counts:
            total = str(value) if put else f"now.c{index} + {value}"
            out.append(f"now.c{index} = ({total} > {most}) ? {most} : {total};")
        for what, timer in move.timing:
            info = self.machine.timers[timer]
            begin = self._begin(timer, info.first, info.most)
            if what == RESTART:
                out.append(begin)
            elif what == START:
                out.append(f"if (!now.r{timer}) {{ {begin} }}")
            else:
                out.append(f"now.r{timer} = 0;" + (f" now.f{timer} = 0;" if self._counted(timer) else ""))
        out += [f"queue[tail++] = {self.events[event]};" for event in move.emits]
        return " ".join(out)

    def _tick(self) -> str:
        """Time passes by one; what ran out is 255 and is fired in order of declaration, unless an earlier one has
        stopped it or started it anew in the same tick."""
        out = [
            f"if (now.r{timer} == 1) now.r{timer} = 255; else if (now.r{timer}) now.r{timer}--;"
            for timer in self.timers
        ]
        for timer in self.timers:
            info = self.machine.timers[timer]
            again = f"now.r{timer} = 0;"
            if info.every and self._counted(timer):
                more = self._begin(timer, info.every, 0).replace(f"now.f{timer} = 0;", f"now.f{timer}--;")
                again = f"if (now.f{timer} > 1) {{ {more} }} else {{ now.r{timer} = 0; now.f{timer} = 0; }}"
            elif info.every:
                again = self._begin(timer, info.every, info.most)
            event = f"queue[tail++] = {self.events[info.event]}; grid_drain();" if info.event in self.events else ""
            out.append(f"if (now.r{timer} == 255) {{ {again} {event} }}")
        return " ".join(out)

    def _expr(self, expr: Expr) -> str:
        layout = self.machine.layout
        match expr:
            case Not(item):
                return f"!({self._expr(item)})"
            case And(items):
                return " && ".join(f"({self._expr(item)})" for item in items)
            case Or(items):
                return " || ".join(f"({self._expr(item)})" for item in items)
            case Name(name) if name in layout.terms:
                return self._expr(layout.terms[name])
            case Name(name) if name in layout.marks:
                return f"(now.m{layout.marks[name]} == 1)"
            case InStep(track, step):
                return self._at(layout.tracks[track], layout.steps[track, step])
            case Running(timer):
                return f"(now.r{layout.timers[timer]} != 0)"
            case Compare(name, op, value) if name in layout.counters:
                return f"(now.c{layout.counters[name]} {op} {value})"
            case Name() | Compare() | Choice() | Unknown():
                return self._settled(expr)
        raise AssertionError(expr)

    def _settled(self, expr: Expr) -> str:
        """A test of facts: they are all settled, so it is a constant. Scripts have one entry for ever."""
        from coach.protocol.guards import compile_guard

        state: Any = self.grid.first()
        return "1" if compile_guard(expr, self.machine.layout)(state, self.machine.facts) else "0"
