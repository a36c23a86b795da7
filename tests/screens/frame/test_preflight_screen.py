"""The tests before class on the screen: a press by its stamp, a sign by when it stood there, no half result kept."""

from __future__ import annotations

import pytest
from textual import events

from coach.clock import SteppedClock
from coach.preflight import HELD_S, LAPSE_MS, STIMULI
from coach.remembered import Choices
from screens.app import KneesideApp
from screens.preflight import QUIET_MS, PreflightScreen
from tests.screens import golden
from tests.screens.frame.fake_desk import FakeDesk

WAIT_MS = 1_000


class Sitter:
    """Somebody who takes the test: the clock goes on by hand, and every tick is asked for."""

    def __init__(self, desk: FakeDesk) -> None:
        self.desk = desk
        self.clock = SteppedClock(50_000)
        self.app = KneesideApp(desk, None, self.clock)
        self.page = PreflightScreen("a1", draw=lambda low, high: WAIT_MS / 1000)

    async def wait(self, ms: int) -> None:
        self.clock.advance(ms)
        self.page._tick()
        await self.pilot.pause()

    async def press(self, key: str = "space") -> None:
        event = events.Key(key, " " if key == "space" else None)
        event.time = self.clock.mono_ms() / 1000
        await self.page.take_key(event)

    async def hold(self, repeats: int = 60, every: int = 33) -> None:
        await self.press("enter")
        await self.press()
        await self.wait(500)
        for number in range(repeats):
            await self.press()
            self.clock.advance(every + (number % 3) * 2)
        await self.wait(int(HELD_S * 1000))
        assert self.page.leaf == "let go"
        await self.press()  # still on its way: thrown away
        await self.wait(QUIET_MS)

    async def react(self, ms: int) -> None:
        await self.wait(WAIT_MS)
        assert self.page.lit and self.page.shown is not None
        self.clock.advance(ms)
        await self.press()


async def sit(sitter: Sitter) -> None:
    await sitter.app.push_screen(sitter.page)
    await sitter.pilot.pause()


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 15)])
async def test_the_whole_test(size: tuple[int, int]) -> None:
    sitter = Sitter(FakeDesk())
    async with sitter.app.run_test(size=size) as sitter.pilot:
        await sit(sitter)
        name = f"{size[0]}x{size[1]}"
        golden.check(sitter.app, f"frame/goldens/preflight-look-{name}")
        await sitter.hold()
        await sitter.wait(WAIT_MS)
        golden.check(sitter.app, f"frame/goldens/preflight-now-{name}")
        sitter.clock.advance(300)
        await sitter.press()
        for number in range(STIMULI - 1):
            await sitter.react(280 + number)
        await sitter.pilot.pause()
        golden.check(sitter.app, f"frame/goldens/preflight-result-{name}")
        ((what, who, kept),) = sitter.desk.asked
        assert (what, who) == ("test", "a1")
        assert kept.reaction_ms == pytest.approx(290, abs=2) and 0 < kept.jitter_ms < 4 and kept.sigma_ms >= 25


async def test_too_early_and_too_late_are_counted_apart() -> None:
    sitter = Sitter(FakeDesk())
    async with sitter.app.run_test() as sitter.pilot:
        await sit(sitter)
        await sitter.hold()
        await sitter.press()  # before the sign
        await sitter.wait(500)
        await sitter.wait(WAIT_MS)
        await sitter.wait(LAPSE_MS + 1)  # missed
        for _ in range(STIMULI - 2):
            await sitter.react(250)
        assert ("reaction", "250 ms, ±0 ms (18 of 20; 1 too early, 1 missed)") in sitter.page.result


async def test_a_key_that_does_not_repeat_and_no_hand_keep_nothing() -> None:
    sitter = Sitter(FakeDesk())
    async with sitter.app.run_test() as sitter.pilot:
        await sit(sitter)
        await sitter.hold(repeats=0)
        for _ in range(STIMULI):
            await sitter.wait(WAIT_MS)
            await sitter.wait(LAPSE_MS + 1)
        assert sitter.page.leaf == "result" and sitter.desk.asked == []
        assert [words for _, words in sitter.page.result] == [
            "the key did not repeat, so its scatter is not known",
            "too few presses at the sign, so it is not known",
        ]


async def test_escape_leaves_a_test_with_nothing_kept_and_then_the_page() -> None:
    sitter = Sitter(FakeDesk())
    async with sitter.app.run_test() as sitter.pilot:
        await sit(sitter)
        await sitter.hold()
        await sitter.press("escape")
        assert sitter.page.leaf == "look" and "nothing was kept" in sitter.page.notice and sitter.desk.asked == []
        await sitter.press("escape")
        await sitter.pilot.pause()
        assert sitter.app.screen is sitter.app.home


async def test_home_leads_there_for_the_assessor_of_last_time() -> None:
    desk = FakeDesk(choices=Choices(assessor="21"))
    app = KneesideApp(desk, None, SteppedClock(50_000))
    async with app.run_test() as pilot:
        await pilot.pause()
        await pilot.press("t")
        await pilot.pause()
        assert isinstance(app.screen, PreflightScreen) and app.screen.who == "21"
