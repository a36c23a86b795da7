"""The band: the one big thing on the screen, told apart by word, by shape and by inversion.

Hands on, it is slate with a number and beads. Hands off, it turns over: dark on sand, with seconds. Past the
protocol's limit it grows, brightens and says so. While the unit reads, after signs of life and before anybody was
found not breathing it stays calm. Paused and stopped have words of their own in block letters.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from coach.drill.view import View
from screens.keyboard import Caps
from screens.widgets.beads import beads, beads_width
from screens.widgets.digits import HEIGHT, big, big_width
from screens.widgets.ink import Glyphs, Line, clock, countdown, cut, fill, plain, wrap

Kind = Literal["ready", "on", "calm", "off", "loud", "paused", "stopped", "clock"]

PROBE_TAPS = 12
"""Taps that a probe asks for."""


@dataclass(frozen=True, slots=True)
class Band:
    """What the band says: ``big`` in block characters, ``words`` beside it (the first the most important), ``done`` of
    ``of`` beads where pushes are counted. ``chip`` is the index of the word that is set in a box of its own."""

    kind: Kind
    big: str
    words: tuple[str, ...]
    done: int = 0
    of: int = 0
    chip: int = -1


def seconds(ms: int) -> str:
    """Hands-off time: tenths up to 9.9, then whole seconds, rounded down, minutes after 999."""
    if ms < 10_000:
        return f"{ms // 1000}.{ms % 1000 // 100}"
    return f"{ms // 1000}" if ms < 1_000_000 else clock(ms)


def limit_words(ms: int) -> str:
    """A limit as people say it: 10 s, 2.5 s."""
    return f"{ms / 1000:g} s"


def band_of(view: View, caps: Caps) -> Band:
    """The band that a view calls for."""
    if view.phase == "ready":
        return Band("ready", "READY", (f"{caps.cap('go')} starts the clock", "at the moment of collapse"))
    if view.phase == "paused":
        return Band("paused", "PAUSE", ("Paused to teach.", f"{caps.cap('pause')} goes on", "this time is left out"))
    if view.phase == "stopped":
        pause, end, stop = caps.cap("pause"), caps.cap("end"), caps.cap("stop")
        return Band("stopped", "STOP", (f"Stopped. {pause} goes on", f"{end} {end} ends", f"{stop}: real emergency"))
    if view.mode == "test":
        return Band("clock", clock(view.t), ("since go",))
    if view.off_ms is not None:
        return _off(view, view.off_ms, caps)
    if view.hands == "on":
        return _on(view)
    return Band("calm", clock(view.t), ("since go", plain(view.off_what) or "no hands on the chest yet"))


def _off(view: View, off_ms: int, caps: Caps) -> Band:
    owner = {"rescuer": "the rescuer's time", "unit": "the unit's time"}.get(view.off_owner, "")
    words = [plain(view.off_what) or "hands off the chest"]
    chip = -1
    if view.loud:
        chip = 1
        words.append(f"longer than {limit_words(view.off_limit_ms)}" if view.off_limit_ms else "too long")
    if view.armed:
        words.append(f"armed: {caps.cap('shock_pressed')} is the shock")
    if owner:
        words.append(owner)
    # Nobody's time (before recognition, after signs of life) and the unit's are calm; only the rescuer's turns over.
    calm = view.analysing or view.off_owner != "rescuer"
    kind: Kind = "loud" if view.loud else "calm" if calm else "off"
    return Band(kind, seconds(off_ms), tuple(words), chip=chip)


def _on(view: View) -> Band:
    words = [f"run {view.run}, hands on"]
    if view.counting == "probe" and view.probe:
        words += ["Tap along with each push.", f"{view.pushes} of {PROBE_TAPS} taps"]
        return Band("on", str(view.pushes), tuple(words), view.pushes, PROBE_TAPS, chip=1)
    if view.rate is not None:
        words.append(f"{view.rate:.0f} a minute (last five)")
    if view.counting in ("each", "counter"):
        if view.run_of and view.pushes > view.run_of:
            words.append(f"{view.pushes - view.run_of} past {view.run_of}")
        return Band("on", str(view.pushes), tuple(words), view.pushes, view.run_of or 0)
    if view.period_ms is not None:
        return Band("on", countdown(view.period_ms), (*words, "to the rhythm check"))
    return Band("on", clock(view.t), (*words, "since go"))


def paint(band: Band, width: int, height: int, marks: Glyphs, roomy: bool = True) -> list[Line]:
    """The band as ``height`` lines of ``width`` cells. A loud band fills them all; others leave the first and the last.
    Not ``roomy``: two lines fewer, and no band is higher than another.

    Needs 7 lines or more; from 12 lines and 100 cells on, the characters are twice the size.
    """
    scale = 2 if height >= 2 * HEIGHT + 2 and width >= 100 and big_width(band.big, 2) <= width // 2 else 1
    rows = height if band.kind == "loud" and roomy else height - 2
    inner = _inner(band, width, rows, scale, marks)
    if rows == height or not roomy:
        return inner
    return [[(" " * width, "")], *inner, [(" " * width, "")]]


def _inner(band: Band, width: int, rows: int, scale: int, marks: Glyphs) -> list[Line]:
    figure = big(band.big, marks, scale)
    margin = 4 if width >= 60 else 1
    top = (rows - len(figure)) // 2
    columns: list[Line] = [[(" " * margin, band.kind)] for _ in range(rows)]
    for row, text in enumerate(figure):
        columns[top + row].append((text, f"{band.kind}-big"))
    used = margin + big_width(band.big, scale)
    spread = 1 if scale == 1 else 3
    if band.of:
        gap = 2 if width >= 110 else 1
        size = beads_width(band.of, gap)
        # Two digits keep the beads in one place; only a hundredth push moves them.
        indent = max(margin + big_width("00", scale), used) + 5
        if indent + size + 18 <= width:
            for row, line in enumerate(beads(band.done, band.of, marks, ("on-bead", "on-hollow"), gap)):
                at = columns[top + row * (1 + spread) + (1 if scale == 2 else 0)]
                at += [(" " * (indent - used), band.kind), *line]
            used = indent
            used_to = indent + size
        else:
            used_to = used
    else:
        used_to = used
    lines = _words(band, width - used_to - 6, rows, spread)
    for row, line in lines.items():
        at = columns[row]
        at.append((" " * max(0, used_to + 5 - _width(at)), band.kind))
        at += line
    return [fill(line, width, band.kind, marks.more) for line in columns]


def _words(band: Band, room: int, rows: int, spread: int) -> dict[int, Line]:
    """Row -> what stands there: a blank between the words where there is height, none inside a wrapped one."""
    if room < 8:
        return {}
    groups: list[list[Line]] = []
    for index, word in enumerate(band.words):
        role = f"{band.kind}-strong" if index == 0 else f"{band.kind}-word"
        if index == band.chip:
            groups.append([[(f" {cut([(word, '')], room - 2)[0][0]} ", f"{band.kind}-chip")]])
        else:
            groups.append([[(text, role)] for text in wrap(word, room, 2)])
    most = HEIGHT if spread == 1 else rows
    size = sum(map(len, groups))
    air = 1 if size + len(groups) - 1 <= most else 0
    row = max(0, (rows - (size + air * (len(groups) - 1))) // 2)
    placed: dict[int, Line] = {}
    for group in groups:
        for line in group:
            if row < rows:
                placed[row] = line
            row += 1
        row += air
    return placed


def _width(line: Line) -> int:
    return sum(len(text) for text, _ in line)
