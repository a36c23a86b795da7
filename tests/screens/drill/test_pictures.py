"""What the drill screen shows, as text at three sizes, on a clock that stands still."""

from __future__ import annotations

import pytest

from screens.widgets.ink import ASCII
from tests.screens import golden
from tests.screens.drill.fake import STORY, VIEWS, FakeApp, FakeDrill

SIZES = {"80x24": (80, 24), "120x40": (120, 40), "40x15": (40, 15)}
STATES = (
    "ready",
    "first",
    "on",
    "off",
    "loud",
    "analysing",
    "armed",
    "paused",
    "stopped",
    "card",
    "test",
    "probe",
    "marks",
    "laptop",
    "plan",
    "not saved",
)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("state", STATES)
async def test_golden(state: str, size: str) -> None:
    app = FakeApp(FakeDrill(VIEWS[state]), story=STORY)
    async with app.run_test(size=SIZES[size]) as pilot:
        await pilot.pause()
        golden.check(app, f"drill/goldens/{size}-{state.replace(' ', '-')}")


@pytest.mark.parametrize("state", ["on", "loud", "card"])
async def test_golden_in_a_tiny_window(state: str) -> None:
    app = FakeApp(FakeDrill(VIEWS[state]))
    async with app.run_test(size=(20, 5)) as pilot:
        await pilot.pause()
        golden.check(app, f"drill/goldens/20x5-{state}")


async def test_golden_help() -> None:
    app = FakeApp(FakeDrill(VIEWS["loud"]))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("question_mark")
        golden.check(app, "drill/goldens/80x24-help")


async def test_golden_ascii() -> None:
    app = FakeApp(FakeDrill(VIEWS["armed"]), marks=ASCII)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        golden.check(app, "drill/goldens/80x24-ascii")
        assert golden.text(app).isascii()


async def test_golden_audience() -> None:
    app = FakeApp(FakeDrill(VIEWS["loud"]), audience=True)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        golden.check(app, "drill/goldens/80x24-audience")


@pytest.mark.parametrize("size", [(1, 1), (2, 40), (33, 11), (34, 12), (71, 20), (72, 20), (200, 60), (300, 5)])
async def test_every_state_at_odd_sizes_fills_the_window_exactly(size: tuple[int, int]) -> None:
    drill = FakeDrill(VIEWS["on"])
    app = FakeApp(drill, story=STORY)
    async with app.run_test(size=size) as pilot:
        for state in VIEWS:
            drill.now = VIEWS[state]
            app.drill_screen.paint(drill.clock.mono_ms())
            await pilot.pause()
            assert [strip.cell_length for strip in golden.strips(app)] == [size[0]] * size[1], state
