"""The review: step through, move, name otherwise, add; each change a line with who and why."""

from __future__ import annotations

import pytest
from textual.pilot import Pilot

from screens.app import KneesideApp, Start
from screens.debrief import DebriefScreen
from screens.desk import LineCard
from screens.review import ReviewScreen
from tests.screens import golden
from tests.screens.frame.fake_desk import BACK, FakeDesk
from tests.screens.frame.test_debrief import forward, written
from tests.screens.frame.test_home import HOSTILE, LOG, SIZES


def opened() -> tuple[KneesideApp, FakeDesk]:
    desk = FakeDesk(debriefs={LOG: BACK})
    return KneesideApp(desk, Start("debrief", log=LOG)), desk


async def reviewing(pilot: Pilot[object]) -> None:
    await forward(pilot, "tape")
    await pilot.press("v")
    await pilot.pause()


@pytest.mark.parametrize("size", SIZES)
async def test_the_lines(size: str) -> None:
    app, _ = opened()
    async with app.run_test(size=SIZES[size]) as pilot:
        await reviewing(pilot)
        await pilot.press("down")
        await pilot.pause()
        golden.check(app, f"frame/goldens/review-{size}")


@pytest.mark.parametrize("key", ["comma", "l", "v"])
async def test_a_change_before_it_is_written(key: str) -> None:
    app, desk = opened()
    async with app.run_test(size=SIZES["80x24"]) as pilot:
        await reviewing(pilot)
        await pilot.press(key)
        await pilot.pause()
        golden.check(app, f"frame/goldens/review-{key}-80x24")
        await pilot.press("escape", "escape")
        assert isinstance(app.screen, DebriefScreen) and written(desk) == []


async def test_a_line_is_moved_by_half_seconds_with_who_and_why() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await reviewing(pilot)
        await pilot.press("comma", "comma", "full_stop", "enter", *"seen late", "enter")
        await pilot.pause()
        assert written(desk) == [
            ("note", "retime", {"line": 9, "to_e": 13_500, "who": "a1", "why": "seen late"}),
        ]
        assert "Written down" in golden.text(app)


async def test_a_reason_is_asked_for() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await reviewing(pilot)
        await pilot.press("comma", "enter", "enter")
        await pilot.pause()
        assert written(desk) == [] and "Who, and why" in golden.text(app)
        await pilot.press(*"late", "enter")
        assert len(written(desk)) == 1


async def test_a_line_is_named_otherwise() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await reviewing(pilot)
        await pilot.press("down", "l", "down", "down", "enter", *"slip", "enter")
        assert written(desk) == [("note", "relabel", {"line": 12, "to": "call_made", "who": "a1", "why": "slip"})]


async def test_what_a_video_shows_is_added_flagged() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await reviewing(pilot)
        await pilot.press("v", "full_stop", "up", "enter", *"on video", "enter")
        assert written(desk) == [
            ("note", "added_later", {"input": "handover", "e": 14_500, "who": "a1", "why": "on video"}),
        ]


async def test_a_voided_line_cannot_be_moved() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await reviewing(pilot)
        await pilot.press("down", "down", "comma", "l")
        await pilot.pause()
        assert isinstance(app.screen, ReviewScreen) and app.screen.doing == ""
        assert written(desk) == []


async def test_hostile_lines_are_text_and_no_lines_are_said() -> None:
    app, desk = opened()
    desk.line_cards = (LineCard(1, 0, HOSTILE, HOSTILE, True),)
    async with app.run_test(size=(220, 24)) as pilot:
        await reviewing(pilot)
        assert golden.text(app).count("[/nope] list [1, 2]") == 2
    app, desk = opened()
    desk.line_cards = ()
    async with app.run_test(size=(80, 24)) as pilot:
        await reviewing(pilot)
        assert "No key was pressed" in golden.text(app)
        await pilot.press("down", "comma", "escape", "escape")
        assert written(desk) == []
