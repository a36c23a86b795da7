"""The home page: every place in one key, a drill that was cut off first, and nothing that a hostile name could do."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from textual.pilot import Pilot

from screens.app import KneesideApp
from screens.briefing import BriefingScreen
from screens.debrief import DebriefScreen
from screens.desk import DrillCard
from screens.home import HomeScreen
from screens.shelf import DrillsScreen, ShelfPage
from tests.screens import golden
from tests.screens.frame.fake_desk import BACK, FakeDesk

LOG = Path("/home/kim/drills/20260103-101500-ab12.jsonl")
ENDED = DrillCard(LOG, LOG.stem, "Adult, one rescuer", "07", "3 Jan 10:15", "ended")
CUT = DrillCard(LOG, LOG.stem, "Adult, one rescuer", "07", "today 10:15, at 1:32", "interrupted")
SIZES = {"80x24": (80, 24), "120x40": (120, 40), "40x15": (40, 15)}
HOSTILE = "[bold]Kim[/] [@click=app.quit]x[/] [/nope] list [1, 2]"


async def settled(app: KneesideApp, pilot: Pilot[object]) -> None:
    """Wait until home has looked around."""
    await pilot.pause()
    await app.workers.wait_for_complete()
    await pilot.pause()


@pytest.mark.parametrize("size", SIZES)
async def test_home(size: str) -> None:
    app = KneesideApp(FakeDesk(drill_cards=(ENDED,)))
    async with app.run_test(size=SIZES[size]) as pilot:
        await settled(app, pilot)
        golden.check(app, f"frame/goldens/home-{size}")


@pytest.mark.parametrize("size", SIZES)
async def test_a_drill_that_was_cut_off_comes_first(size: str) -> None:
    app = KneesideApp(FakeDesk(cut_off=CUT, drill_cards=(CUT,)))
    async with app.run_test(size=SIZES[size]) as pilot:
        await settled(app, pilot)
        golden.check(app, f"frame/goldens/home-cut-off-{size}")
        await pilot.press("enter")
        assert "its protocol is not readable any more" in golden.text(app)
        await pilot.press("x")
        await pilot.pause()
        assert "Closed as interrupted." in golden.text(app)
        assert "cut off" not in golden.text(app)


@pytest.mark.parametrize(
    ("key", "screen"),
    [
        ("d", BriefingScreen),
        ("e", DebriefScreen),
        ("l", DrillsScreen),
        ("p", ShelfPage),
        ("k", ShelfPage),
        ("question_mark", ShelfPage),
        ("s", ShelfPage),
    ],
)
async def test_one_key_leads_there_and_esc_back(key: str, screen: type) -> None:
    app = KneesideApp(FakeDesk(drill_cards=(ENDED,), debriefs={LOG: BACK}))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(key)
        assert isinstance(app.screen, screen)
        await pilot.press("escape")
        assert isinstance(app.screen, HomeScreen)
        await pilot.press("escape")
        assert isinstance(app.screen, HomeScreen)


async def test_q_ends_the_program_and_ctrl_q_too() -> None:
    for key in ("q", "ctrl+q"):
        app = KneesideApp(FakeDesk())
        async with app.run_test() as pilot:
            await pilot.press(key)
        assert app.return_code == 0


async def test_no_drill_yet_is_said() -> None:
    app = KneesideApp(FakeDesk())
    async with app.run_test() as pilot:
        await pilot.press("e")
        assert "no drill to look back on" in golden.text(app)


async def test_a_debrief_that_cannot_be_read_is_said() -> None:
    app = KneesideApp(FakeDesk(drill_cards=(ENDED,)))
    async with app.run_test() as pilot:
        await pilot.press("e")
        assert isinstance(app.screen, HomeScreen)
        assert "line 3 does not fit" in golden.text(app)


async def test_hostile_names_are_text() -> None:
    card = replace(ENDED, what=HOSTILE, learner="[b]", state=HOSTILE)
    app = KneesideApp(FakeDesk(drill_cards=(card,), cut_off=replace(CUT, what=HOSTILE)))
    async with app.run_test(size=(160, 40)) as pilot:
        await settled(app, pilot)
        assert golden.text(app).count("[bold]Kim[/] [@click=app.quit]x[/] [/nope] list [1, 2]") >= 2
        await pilot.press("l")
        await pilot.pause()
        assert HOSTILE in golden.text(app)


async def test_drills_are_picked_with_arrows() -> None:
    other = replace(ENDED, path=Path("/home/kim/drills/other.jsonl"), what="Adult, two rescuers", state="interrupted")
    app = KneesideApp(FakeDesk(drill_cards=(ENDED, other), debriefs={other.path: BACK}))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("l", "down", "down")
        await pilot.pause()
        golden.check(app, "frame/goldens/drills-80x24")
        await pilot.press("enter")
        assert isinstance(app.screen, DebriefScreen)
        assert app.screen.path == other.path


@pytest.mark.parametrize("shelf", ["protocols", "keys", "settings"])
async def test_shelves(shelf: str) -> None:
    app = KneesideApp(FakeDesk())
    async with app.run_test(size=(80, 50)) as pilot:
        await pilot.press(shelf[0])
        await pilot.pause()
        golden.check(app, f"frame/goldens/{shelf}-80x50")


@pytest.mark.parametrize("size", [(1, 1), (5, 3), (20, 5)])
async def test_the_smallest_terminals_do_not_break_it(size: tuple[int, int]) -> None:
    app = KneesideApp(FakeDesk(drill_cards=(ENDED,), cut_off=CUT, debriefs={LOG: BACK}))
    async with app.run_test(size=size) as pilot:
        await settled(app, pilot)
        for key in ("d", "escape", "e", "enter", "escape", "enter", "enter", "escape", "k", "escape"):
            await pilot.press(key)
        assert isinstance(app.screen, HomeScreen)
