"""``python -m tests.pictures``: make the README's pictures from the program itself, into ``demo/pictures/``.

The demo's script drives the real app on a stepped clock, so the pictures come out the same on every machine and change
only when the screens do. Look at them before committing them.
"""

from __future__ import annotations

import asyncio
import os
import re
import tempfile
from dataclasses import replace
from pathlib import Path

from coach.clock import SteppedClock
from coach.drill.choosing import setup_for
from coach.drill.opening import open_drill
from coach.drill.play import setup_of, strike
from coach.drill.script import Script, read_script
from coach.drill.session import Drill
from coach.resources import data_dir
from coach.settings import Settings
from screens.app import KneesideApp, Start
from screens.coach_desk import CoachDesk
from screens.debrief import DebriefScreen
from screens.drill import DrillScreen

PICTURES = Path(__file__).resolve().parents[1] / "demo" / "pictures"
SIZE = (80, 24)

MOMENTS_MS = {"drill-hands-on": 55_000, "drill-hands-off": 95_500}
"""Moments of the demo that show what the screen is for."""

_FONT_FROM_A_NETWORK = re.compile(r"\s*@font-face \{[^}]*\}")


def _save(app: KneesideApp, name: str) -> None:
    PICTURES.mkdir(parents=True, exist_ok=True)
    svg = _FONT_FROM_A_NETWORK.sub("", app.export_screenshot(title="kneeside"))
    (PICTURES / f"{name}.svg").write_text(svg, encoding="utf-8", newline="\n")
    print(PICTURES / f"{name}.svg")


def _until(drill: Drill, clock: SteppedClock, script: Script, start: int, begin: int, end: int) -> None:
    """Do the script's lines after ``begin`` and up to ``end`` (ms since go), and let the clock run to ``end``."""
    for stroke in script.strokes:
        if begin < stroke.at <= end or (begin < 0 and stroke.at == 0):
            clock.set(max(start + stroke.at, clock.mono_ms()))
            drill.tick(clock.mono_ms())
            strike(drill, stroke, clock.mono_ms())
    clock.set(max(start + end, clock.mono_ms()))
    drill.tick(clock.mono_ms())


async def _pictures(folder: Path) -> None:
    os.environ["KNEESIDE_DATA_DIR"] = str(folder)
    clock = SteppedClock()
    settings = Settings(folder / "settings.toml")

    app = KneesideApp(CoachDesk(settings, clock), Start(page="briefing"), clock=clock)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        _save(app, "briefing")

    script = read_script((data_dir("demo") / "first-drill.txt").read_text(encoding="utf-8"))
    setup = replace(setup_of(script, setup_for), emergency_number="112", address="Old Net Loft, Quay 4, first floor")
    drill = open_drill(setup, clock=clock, folder=folder / "drills")
    app = KneesideApp(CoachDesk(settings, clock), clock=clock)
    async with app.run_test(size=SIZE) as pilot:
        await app.run_drill(drill)
        start, begin = clock.mono_ms(), -1
        for name, moment in MOMENTS_MS.items():
            _until(drill, clock, script, start, begin, moment)
            begin = moment
            screen = app.screen
            assert isinstance(screen, DrillScreen)
            screen.paint(clock.mono_ms())
            await pilot.pause()
            _save(app, name)

    whole = open_drill(setup, clock=clock, folder=folder / "drills")
    _until(whole, clock, script, clock.mono_ms(), -1, script.strokes[-1].at)
    path = whole.log.path
    whole.close()
    assert path is not None
    app = KneesideApp(CoachDesk(settings, clock), Start(page="debrief", log=path), clock=clock)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, DebriefScreen)
        while screen.leaf != "figures":
            await pilot.press(
                "escape" if screen.leaf == "words" else "1" if screen.leaf in ("confirm", "pins") else "enter"
            )
            await pilot.pause()
        _save(app, "debrief")


def main() -> None:
    """Make all pictures."""
    with tempfile.TemporaryDirectory() as folder:
        asyncio.run(_pictures(Path(folder)))


if __name__ == "__main__":
    main()
