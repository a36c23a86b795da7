"""The one door from the coach to the screens: opened by the commands that need a full screen, and by no import."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from threading import Lock
from typing import TYPE_CHECKING, Any, cast

from coach.commands.words import MISUSE, complain, remark

if TYPE_CHECKING:
    from coach.clock import Clock
    from coach.drill.script import Script
    from coach.drill.setup import Setup
    from coach.rehearse.wishes import Wishes
    from coach.settings import Settings
    from screens.app import Start
    from screens.desk import Desk


def screenless() -> bool:
    """Whether nothing can be drawn here: no terminal at one of the ends, or one that says so itself."""
    return not (sys.stdin.isatty() and sys.stdout.isatty()) or os.environ.get("TERM", "") == "dumb"


def home() -> int:
    """The home page."""
    if screenless():
        complain("there is no terminal here to draw in; kneeside --help lists what works without one")
        return MISUSE
    from screens.app import Start

    return _open(Start())


def drill(protocol: str) -> int:
    """The briefing, with the protocol chosen if one is named."""
    if protocol:
        from coach.protocol.library import load_protocol

        load_protocol(protocol)  # a name that nothing bears, or a file with mistakes, is told before the screen opens
    if screenless():
        complain("a drill needs a terminal; kneeside play FILE --out FOLDER plays one from a key script")
        return MISUSE
    from screens.app import Start

    return _open(Start(page="briefing", protocol=protocol))


def demo(plain: bool) -> int:
    """The demo on the live screen, or as lines of text where that is asked for or nothing can be drawn."""
    from coach.commands.drills import demo_script, tell_demo

    script, setup = demo_script()
    if plain:
        return tell_demo(script, setup)
    if screenless():
        remark("There is no terminal here to draw in, so the demo is printed.")
        return tell_demo(script, setup)
    return _play_live(script, setup)


def rehearse(wishes: Wishes) -> int:
    """Rehearsing alone, over home."""
    from coach.commands.rehearse import load_for_screen

    load_for_screen(wishes)  # a protocol with mistakes, or a history that cannot be read, is told before it opens
    from screens.app import Start

    return _open(Start(page="rehearse", wishes=wishes))


def bench(file: str) -> int:
    """The bench, with a protocol file on it if one is named."""
    from pathlib import Path

    from coach.protocol.library import find_protocol

    path, shipped = None, False
    if file:
        path = Path(file)
        if not path.exists():
            entry = find_protocol(file)  # a name that nothing bears is told before the screen opens
            path, shipped = entry.path, entry.where == "shipped"
        if not path.is_file():
            complain(f"{path}: there is no such file")
            return MISUSE
    if screenless():
        complain("the bench needs a terminal; kneeside check, scripts and coverage work without one")
        return MISUSE
    from screens.app import Start

    return _open(Start(page="bench", file=path, shipped=shipped or (path is not None and not os.access(path, os.W_OK))))


class _LateDesk:
    """The desk, loaded when first asked for anything but the settings: the first page is painted without it."""

    def __init__(self, settings: Settings, clock: Clock) -> None:
        self.settings = settings
        self._clock = clock
        self._desk: Desk | None = None
        self._one_at_a_time = Lock()  # home looks around on a thread

    def __getattr__(self, name: str) -> Any:
        with self._one_at_a_time:
            if self._desk is None:
                from screens.coach_desk import CoachDesk

                self._desk = CoachDesk(self.settings, self._clock)
        return getattr(self._desk, name)


def _open(start: Start) -> int:
    from coach.clock import SystemClock
    from coach.settings import read_settings
    from screens.app import run_app

    return run_app(cast("Desk", _LateDesk(read_settings(), SystemClock())), start)


def _play_live(script: Script, setup: Setup) -> int:
    """The demo's log goes to a folder of its own, apart from the records of people."""
    from coach.clock import SystemClock
    from coach.drill.opening import open_drill
    from coach.log.places import second_dir
    from coach.settings import read_settings
    from screens.app import Start, run_app
    from screens.coach_desk import CoachDesk
    from screens.demo import Demo

    settings, clock = read_settings(), SystemClock()
    desk = CoachDesk(settings, clock)
    room = settings.room
    setup = replace(setup, emergency_number=room.emergency_number, address=room.address, real_unit=room.real_unit)
    played = open_drill(setup, clock=clock, folder=desk.home / "demo", second=second_dir())
    return run_app(desk, Start(page="demo", demo=Demo(played, script)))
