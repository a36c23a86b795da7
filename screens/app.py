"""The app: which page follows which, who gets a key first, and how the program ends.

Every page but home is imported when it is opened: home is painted before the coach's rooms are loaded.
"""

from __future__ import annotations

import asyncio
import os
import signal
import sys
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from textual import events
from textual.app import App

from coach.clock import Clock, SystemClock
from screens.desk import Desk, DeskError
from screens.home import HomeScreen
from screens.input_bytes import driver_class
from screens.keyboard import route
from screens.page import Page
from screens.theme import VARIABLE_DEFAULTS, install

if TYPE_CHECKING:
    from textual.screen import Screen

    from coach.drill.session import Drill
    from coach.rehearse.wishes import Wishes
    from screens.demo import Demo

MISUSE = 2
CRASHED = 70
CUT_OFF = 130
SHUTDOWN_S = 2.0
"""How long (seconds) a shutdown asked for by a signal may take. Our own choice: closing needs a tenth of it."""


@dataclass(frozen=True, slots=True)
class Start:
    """Where the program opens: at home, in the briefing (of a protocol), at the debrief of a log, with a demo,
    rehearsing (as wished), or at the bench."""

    page: Literal["home", "briefing", "debrief", "demo", "rehearse", "bench"] = "home"
    protocol: str = ""
    wishes: Wishes | None = None
    log: Path | None = None
    file: Path | None = None
    """What is put on the bench; None to pick one."""
    shipped: bool = False
    demo: Demo | None = None


class KneesideApp(App[object]):
    """The program on a full screen."""

    TITLE = "kneeside"
    CSS_PATH: ClassVar[list[str | PurePath]] = ["theme.tcss", "page.tcss"]
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, desk: Desk, start: Start | None = None, clock: Clock | None = None) -> None:
        super().__init__(driver_class=driver_class())
        self.desk = desk
        self.clock = clock or SystemClock()
        self.opening = start or Start()
        self.home = HomeScreen()
        self.drill: Drill | None = None
        """The drill that runs, from its go until its screen is left."""
        self.home.notice = install(self, desk.settings.theme)

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Our style sheets load whatever theme is in force while the app starts."""
        return VARIABLE_DEFAULTS

    def get_default_screen(self) -> Screen[Any]:
        """Home lies under everything."""
        return self.home

    async def on_mount(self) -> None:
        """The start page comes over home."""
        self._heed_signals()
        if self.opening.page == "briefing":
            await self.brief(self.opening.protocol)
        elif self.opening.page == "debrief" and self.opening.log is not None:
            await self.look_back(self.opening.log)
        elif self.opening.page == "demo" and self.opening.demo is not None:
            await self.run_drill(self.opening.demo.drill, self.opening.demo)
        elif self.opening.page == "rehearse":
            await self.rehearse(self.opening.wishes)
        elif self.opening.page == "bench":
            await self.bench(self.opening.file, self.opening.shipped)

    async def bench(self, path: Path | None = None, shipped: bool = False) -> None:
        """To the bench with a protocol file; without one, to the list to pick from. ``shipped``: not to be changed."""
        from screens.bench import BenchScreen
        from screens.bench_pages import PickScreen

        def left(_: object) -> None:
            self.desk.reread()

        await self.push_screen(PickScreen() if path is None else BenchScreen(path, shipped), left)

    async def rehearse(self, wishes: Wishes | None = None) -> None:
        """To the rehearsal of one learner alone."""
        from screens.rehearse import RehearseScreen

        await self.push_screen(RehearseScreen(wishes))

    async def brief(self, protocol: str = "") -> None:
        """To the briefing, which begins a drill or leads back."""
        from screens.briefing import BriefingScreen

        await self.push_screen(BriefingScreen(protocol))

    async def on_event(self, event: events.Event) -> None:
        """Keys are handled here, one after the other, and not in the queue of the screen that was in front.

        So what is typed while a screen opens reaches that screen, and no binding or focus swallows a drill's keys.
        """
        if route(self, event):
            return
        if isinstance(event, events.Key) and not event.is_forwarded and self.focused is None and self.screen_stack:
            page = self.screen
            if isinstance(page, Page) and await page.take_key(event):
                return
        await super().on_event(event)

    async def run_drill(self, drill: Drill, demo: Demo | None = None) -> None:
        """Put a drill on screen, over the briefing that it came from, so that not one key falls between the two."""
        from screens.drill import DrillScreen

        self.drill = drill
        screen = DrillScreen(drill, on_live_key=demo.take_over if demo is not None else None)
        await self.push_screen(screen, self._drilled)
        if demo is not None:
            demo.run(self, screen)

    async def _drilled(self, _: object) -> None:
        """A drill has ended: its briefing is over too, and the talk begins."""
        from screens.briefing import BriefingScreen

        path = None
        if self.drill is not None:
            log = self.drill.log
            self.drill.close()
            path = log.path
            if path is not None and not log.saved:
                self.desk.hold(path, log.content)
        self.drill = None
        if isinstance(self.screen, BriefingScreen):
            await self.pop_screen()
        if path is not None:
            await self.look_back(path)

    async def look_back(self, path: Path) -> None:
        """The debrief of a log; where it cannot be read, the word for it at home."""
        try:
            debrief = self.desk.debrief(path)
        except DeskError as error:
            self.home.tell(str(error))
        else:
            from screens.debrief import DebriefScreen

            await self.push_screen(DebriefScreen(path, debrief))

    async def show(self, shelf: str) -> None:
        """One of the quieter pages."""
        from screens.shelf import SHELVES, DrillsScreen, ShelfPage

        await self.push_screen(DrillsScreen() if shelf == "drills" else ShelfPage(*SHELVES[shelf]))

    def leave(self, code: int = 0) -> None:
        """End the program; a drill that still runs is closed as interrupted, so that its log says so."""
        if self.drill is not None:
            self.drill.close("interrupted")
        self.exit(code, return_code=code)

    async def action_quit(self) -> None:
        """Ctrl+Q: ends the program, but never a drill."""
        self.action_help_quit() if self.drill is not None else self.leave()

    def action_help_quit(self) -> None:
        """Ctrl+C: says how to leave."""
        words = "Z Z ends the drill" if self.drill is not None else "Q at home ends the program, and Ctrl+Q anywhere"
        self.notify(words, markup=False, timeout=3)

    def _heed_signals(self) -> None:
        """The terminal window closes, or the machine shuts down: the log gets its last line."""
        if sys.platform == "win32":
            return
        loop = asyncio.get_running_loop()
        for number in (signal.SIGHUP, signal.SIGTERM):
            loop.add_signal_handler(number, self._cut_off)

    def _cut_off(self) -> None:
        """End at once. Where the terminal is gone the stock shutdown waits for ever to write to it, so it gets a limit;
        the log has its last line by then."""
        self.leave(CUT_OFF)
        limit = threading.Timer(SHUTDOWN_S, os._exit, (CUT_OFF,))
        limit.daemon = True
        limit.start()


def refusal(environ: Mapping[str, str] = os.environ, terminal: bool | None = None) -> str:
    """Why there can be no full screen here, with what to do instead; "" where there can."""
    if terminal is None:
        terminal = sys.stdin.isatty() and sys.stdout.isatty()
    if not terminal:
        return "this is no terminal. Try --plain, which only prints."
    if environ.get("TERM", "") == "dumb":
        return "this terminal cannot draw (TERM=dumb). Try --plain, which only prints."
    return ""


def run_app(desk: Desk, start: Start | None = None) -> int:
    """Run the program on a full screen and return its exit code (70 after a crash, 130 when it was cut off)."""
    why = refusal()
    if why:
        sys.stderr.write(f"kneeside: {why}\n")
        return MISUSE
    app = KneesideApp(desk, start)
    app.run()
    if app.return_code == 1:
        return _crashed(app)
    return app.return_code or 0


def _crashed(app: KneesideApp) -> int:
    """Textual has printed what went wrong; the terminal is set right and the person told where their drill is."""
    if app.drill is not None:
        app.drill.close("interrupted")
        words = f"The drill up to here is kept: {app.drill.log.path}"
    else:
        words = "Every drill that was kept is whole."
    # Leave the alternate screen, mouse reports, the Kitty keyboard protocol and bracketed paste; show the cursor.
    sys.stdout.write("\x1b[?1049l\x1b[?1000l\x1b[?1003l\x1b[?1006l\x1b[<u\x1b[?2004l\x1b[?25h\x1b[0m\n")
    sys.stdout.flush()
    sys.stderr.write(f"kneeside: this is our mistake, not yours. {words}\n")
    return CRASHED
