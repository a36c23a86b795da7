"""How the checker grows: classes, classes a second and memory as a made model gets more tracks, timers and injects.

Nothing is left out of a model, so that each thing added can be seen. A track has three steps, each left for the next
by an observation of its own; a timer comes with the two steps that start it and hear it; an inject waits ten seconds
for its answer, and two can be open at once. ``table`` sets the figures side by side, ``picture`` draws them as SVG.
"""

from __future__ import annotations

import math
import subprocess
import sys
import time
from typing import NamedTuple

from coach.check.states.classes import Explorer, Limit
from coach.check.states.discrete import Discrete
from coach.check.states.inputs import Gate
from coach.check.states.openfacts import Frame
from coach.engine.build import build
from coach.engine.plan import resolve
from tests.bench.figures import Figure
from tests.check.models import protocol, whole

ROWS = {"tracks": (1, 2, 3, 4, 5, 6, 7, 8, 9), "timers": (0, 1, 2, 3, 4, 5, 6), "injects": (0, 1, 2, 3, 4, 5)}
"""What grows, and how many of it; of the others there are as many as :data:`REST` says."""

REST = {"tracks": 1, "timers": 1, "injects": 0}
LIMIT = Limit(100_000, 60.0)


class Grown(NamedTuple):
    """One model explored: classes, seconds of the process's own time, and the most memory of it in MB."""

    classes: int
    seconds: float
    memory: float
    complete: bool


def body(tracks: int, timers: int, injects: int) -> str:
    """The tables of a model of so many of each."""
    lines = ["[timers]"] if timers else []
    lines += [f't{one} = {{ after = "{one + 2} s" }}' for one in range(timers)]
    for name in [*(f"o{one}" for one in range(tracks)), *(f"w{one}" for one in range(timers)), "answer"]:
        lines += [f"[observations.{name}]", f'label = "{name}"', f'verb = "{name}"', 'by = "learner"']
    for one in range(tracks):
        names = [f"a{one}", f"b{one}", f"c{one}"]
        lines += [f"[track.track_{one}]", f'start = "{names[0]}"']
        for place, step in enumerate(names):
            lines += [
                f"[track.track_{one}.step.{step}]",
                f'go = [{{ on = "o{one}", to = "{names[(place + 1) % 3]}" }}]',
            ]
    for one in range(timers):
        lines += [f"[track.clock_{one}]", f'start = "still_{one}"', f"[track.clock_{one}.step.still_{one}]"]
        lines += [f'go = [{{ on = "w{one}", to = "runs_{one}" }}]', f"[track.clock_{one}.step.runs_{one}]"]
        lines += [f'restart = "t{one}"', f'go = [{{ on = "timer:t{one}", to = "still_{one}" }}]']
    for one in range(injects):
        lines += [f"[inject.i{one}]", f'title = "i{one}"', f'play = "i{one}"', 'allowed = "answer"', 'within = "10 s"']
    return "\n".join(lines)


def explore(tracks: int, timers: int, injects: int) -> Grown:
    """Explore one model, whole, in this process."""
    authored = protocol(body(tracks, timers, injects))
    machine = build(authored, resolve(authored))
    thrown = tuple(authored.inject)
    inputs = [one for one in authored.observations if one in machine.table] + [f"inject:{one}" for one in thrown]
    frame = Frame(machine, dict(zip(machine.fact_names, machine.facts, strict=True)))
    discrete = Discrete(whole(machine, inputs), frame, Gate(machine, thrown, 2, "all"))
    began = time.process_time()
    graph = Explorer(discrete, keep_edges=False, limit=LIMIT).run()
    seconds = time.process_time() - began
    with open("/proc/self/status", encoding="ascii") as status:
        memory = int(next(line for line in status if line.startswith("VmHWM")).split()[1]) / 1024
    return Grown(len(graph.nodes), seconds, memory, graph.complete)


def _apart(**counts: int) -> Grown:
    """The same in a process of its own, since memory that was once used stays a process's own."""
    code = f"from tests.bench.bench_growth import explore\nprint(*explore(**{counts!r}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=300)
    classes, seconds, memory, complete = done.stdout.split()
    return Grown(int(classes), float(seconds), float(memory), complete == "True")


def run() -> list[Figure]:
    """Classes, classes a second and memory for each number of each."""
    figures: list[Figure] = []
    for what, numbers in ROWS.items():
        for number in numbers:
            grown = _apart(**{**REST, what: number})
            name = f"{what} {number}"
            note = "" if grown.complete else f"given up at {grown.classes} classes or {LIMIT.seconds:.0f} s"
            figures.append(Figure(f"{name}: classes", grown.classes, "", note=note))
            figures.append(Figure(f"{name}: classes a second", grown.classes / grown.seconds, "/s"))
            figures.append(Figure(f"{name}: memory", grown.memory, "MB"))
    return figures


KINDS = ("classes", "classes a second", "memory")


def table(figures: list[Figure]) -> str:
    """The figures of :func:`run`, a line for each model."""
    values = {figure.name: figure.value for figure in figures}
    rest = ", ".join(f"{what} {number}" for what, number in REST.items())
    lines = [f"what does not grow: {rest}", "", f"{'':10}{'classes':>9}{'classes a second':>18}{'memory, MB':>12}"]
    for what, numbers in ROWS.items():
        for number in numbers:
            some = [values[f"{what} {number}: {kind}"] for kind in KINDS]
            lines.append(f"{f'{what} {number}':10}{some[0]:9,.0f}{some[1]:18,.0f}{some[2]:12,.1f}")
    return "\n".join([*lines, *(f"* {figure.name}: {figure.note}" for figure in figures if figure.note)])


# --- the plot ---------------------------------------------------------------------------------------------------------

WIDTH, HEIGHT, LEFT, TOP, GAP = 300, 220, 70, 40, 110
DASHES = {"tracks": "", "timers": "6 4", "injects": "2 3"}


def picture(figures: list[Figure]) -> str:
    """The figures of :func:`run` as SVG: three panels, a line for what grows in each, both axes from the figures."""
    values = {figure.name: figure.value for figure in figures}
    panels = tuple((kind, kind != "memory") for kind in KINDS)
    whole_width = LEFT + len(panels) * (WIDTH + GAP)
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{whole_width}" height="{TOP + HEIGHT + 50}"'
        ' font-family="sans-serif" font-size="12">',
        '<rect width="100%" height="100%" fill="white"/>',
    ]
    for place, (kind, by_powers) in enumerate(panels):
        lines = {
            what: [(number, values[f"{what} {number}: {kind}"]) for number in numbers] for what, numbers in ROWS.items()
        }
        out += _panel(LEFT + place * (WIDTH + GAP), kind + (", MB" if kind == "memory" else ""), lines, by_powers)
    return "\n".join([*out, "</svg>"]) + "\n"


def _panel(left: int, title: str, lines: dict[str, list[tuple[int, float]]], by_powers: bool) -> list[str]:
    most_x = max(x for points in lines.values() for x, _ in points)
    ys = [max(y, 1.0) for points in lines.values() for _, y in points]
    marks = _powers(ys) if by_powers else _rounds(max(ys))

    def height(y: float) -> float:
        low, high = (math.log10(one) if by_powers else one for one in (marks[0], marks[-1]))
        return TOP + HEIGHT * (1 - ((math.log10(max(y, 1.0)) if by_powers else y) - low) / (high - low))

    def across(x: float) -> float:
        return left + WIDTH * x / most_x

    out = [f'<text x="{left}" y="{TOP - 16}" font-size="14">{title}</text>']
    for mark in marks:
        out.append(f'<path d="M{left} {height(mark):.1f}h{WIDTH}" stroke="#ccc" fill="none"/>')
        out.append(f'<text x="{left - 6}" y="{height(mark) + 4:.1f}" text-anchor="end">{mark:,.0f}</text>')
    for x in range(most_x + 1):
        out.append(f'<text x="{across(x):.1f}" y="{TOP + HEIGHT + 18}" text-anchor="middle">{x}</text>')
    for what, points in lines.items():
        path = "L".join(f"{across(x):.1f} {height(y):.1f}" for x, y in points)
        out.append(f'<path d="M{path}" stroke="black" stroke-dasharray="{DASHES[what]}" stroke-width="2" fill="none"/>')
        x, y = points[-1]
        beside = "end" if what == "injects" else "start"  # it ends close to the timers, left of them
        out.append(f'<text x="{across(x):.1f}" y="{height(y) - 8:.1f}" text-anchor="{beside}">{what}</text>')
    return out


def _powers(values: list[float]) -> list[float]:
    """Powers of ten around some values, at least two of them."""
    low, high = math.floor(math.log10(min(values))), math.ceil(math.log10(max(values)))
    return [10.0**power for power in range(low, max(high, low + 1) + 1)]


def _rounds(most: float) -> list[float]:
    """Round numbers from nothing past a value, five steps of one size."""
    size = 10.0 ** math.floor(math.log10(most))
    step = next(size * part / 5 for part in (1, 2, 2.5, 5, 10) if size * part >= most)
    return [step * number for number in range(6)]
