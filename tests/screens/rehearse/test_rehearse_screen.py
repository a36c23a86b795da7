"""The rehearsal's page: one key from home, every state in words at every size, keys only, stamps of the keys."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from textual.pilot import Pilot

from coach.clock import SteppedClock
from coach.rehearse.history import History, read_history
from coach.rehearse.matter import Matter, load_matter
from coach.rehearse.wishes import Wishes
from coach.rehearse.wording import Saying
from screens.app import KneesideApp
from screens.home import HomeScreen
from screens.rehearse import RehearseScreen
from screens.shelf import ShelfPage
from screens.tempo import TempoScreen
from tests.screens import golden
from tests.screens.frame.fake_desk import FakeDesk

SIZES = {"80x24": (80, 24), "120x40": (120, 40), "40x15": (40, 15)}
WALL = datetime(2026, 1, 5, 18, 30, tzinfo=UTC)


@pytest.fixture
def load(tmp_path: Path) -> Callable[[], tuple[Matter, History]]:
    """The shipped matter and a history of one's own."""
    return lambda: (
        load_matter("erc-2025/adult-one-rescuer", "ERC 2025"),
        read_history(tmp_path / "h" / "history.jsonl"),
    )


async def opened(app: KneesideApp, pilot: Pilot[object], load: Callable[[], tuple[Matter, History]]) -> RehearseScreen:
    """The rehearsal, its files read."""
    screen = RehearseScreen(load=load)
    await app.push_screen(screen)
    await app.workers.wait_for_complete()
    await pilot.pause()
    assert screen.leaf == "entry", screen.notice
    return screen


class KeysNow(SteppedClock):
    """A stepped clock on which each key is pressed now, whenever the terminal made it."""

    def from_event_time(self, seconds: float) -> int:
        """Now."""
        return self.mono_ms()


def new_app(stamped: bool = False) -> tuple[KneesideApp, SteppedClock]:
    """The program on a stepped clock; ``stamped`` takes the times that the keys bear."""
    clock = SteppedClock(wall=WALL) if stamped else KeysNow(wall=WALL)
    return KneesideApp(FakeDesk(), clock=clock), clock


@pytest.mark.parametrize("size", SIZES)
async def test_what_a_sitting_looks_like(size: str, load: Callable[[], tuple[Matter, History]]) -> None:
    app, _ = new_app()
    async with app.run_test(size=SIZES[size]) as pilot:
        screen = await opened(app, pilot, load)
        golden.check(app, f"rehearse/goldens/entry-{size}")
        await pilot.press("enter")
        golden.check(app, f"rehearse/goldens/sure-{size}")
        await pilot.press("s")
        golden.check(app, f"rehearse/goldens/answer-{size}")
        assert screen.sitting is not None and screen.sitting.question is not None
        options = screen.sitting.question.options
        wrong = next(place for place, (action, _) in enumerate(options, 1) if action == "recovery" or place == 1)
        await pilot.press(str(wrong))
        golden.check(app, f"rehearse/goldens/told-{size}")
        await pilot.press("escape")
        await pilot.press("escape")
        golden.check(app, f"rehearse/goldens/over-{size}")


async def test_no_colour_leaves_every_state_in_words(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, load: Callable[[], tuple[Matter, History]]
) -> None:
    app, _ = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, load)
        await pilot.press("enter", "s")
        coloured = golden.text(app)
    monkeypatch.setenv("NO_COLOR", "1")
    app, _ = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, lambda: (load()[0], History(tmp_path / "history")))
        await pilot.press("enter", "s")
        assert golden.text(app) == coloured


async def test_one_key_from_home_and_esc_back(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path))
    app, _ = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("r")
        assert isinstance(app.screen, RehearseScreen)
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert app.screen.leaf == "entry"
        await pilot.press("escape")
        assert isinstance(app.screen, HomeScreen)


async def test_a_whole_sitting_by_keys(load: Callable[[], tuple[Matter, History]]) -> None:
    app, clock = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await opened(app, pilot, load)
        await pilot.press("enter")
        for _ in range(120):
            sitting = screen.sitting
            assert sitting is not None
            clock.advance(1_000)
            if screen.leaf == "over":
                break
            if sitting.phase == "sure":
                await pilot.press("t")
            elif sitting.phase == "told":
                await pilot.press("enter")
            elif sitting.phase == "handover":
                await pilot.press("1", "space", "4", "enter")
            else:
                assert sitting.question is not None
                actions = [action for action, _ in sitting.question.options]
                await pilot.press(str(actions.index(sitting._right()) + 1))
        assert screen.leaf == "over" and sitting.given and "right at the first try" in golden.text(app)
        assert len(read_history(sitting.history.path).reviews) == len(sitting.given) == 8
        await pilot.press("h")
        assert isinstance(app.screen, ShelfPage) and "Chance to know it in a week" in golden.text(app)
        await pilot.press("escape", "enter")
        assert screen.leaf == "entry" and "8 of 12 done" in golden.text(app)


async def test_typing_a_verb(load: Callable[[], tuple[Matter, History]]) -> None:
    app, _ = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await opened(app, pilot, load)
        await pilot.press("w", "l", "enter", "s")
        assert screen.sitting is not None and screen.sitting.question is not None
        assert screen.sitting.question.typed and screen.sitting.question.limit_ms is None
        await pilot.press(*"qqq", "enter")
        assert "Not understood; it costs nothing." in golden.text(app) and not screen.sitting.given
        await pilot.press("question_mark", "enter")
        assert screen.sitting.given[0].answer == "dont_know" and "so you know" in golden.text(app)


async def test_esc_asks_before_it_leaves_a_sitting(load: Callable[[], tuple[Matter, History]]) -> None:
    app, _ = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await opened(app, pilot, load)
        await pilot.press("enter", "escape")
        assert screen.leaf == "sitting" and "Esc again leaves" in golden.text(app)
        await pilot.press("s")
        await pilot.press("escape")
        assert screen.leaf == "sitting"
        await pilot.press("escape")
        assert screen.leaf == "over"


async def test_what_cannot_be_read_is_said(tmp_path: Path) -> None:
    app, _ = new_app()

    def fails() -> tuple[Matter, History]:
        return load_matter("no-such/thing", "ERC 2025"), History(tmp_path / "x")

    async with app.run_test(size=(80, 24)) as pilot:
        screen = RehearseScreen(load=fails)
        await app.push_screen(screen)
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "no protocol is called no-such/thing" in golden.text(app)
        await pilot.press("enter")
        assert screen.sitting is None


async def test_hostile_names_stay_text(load: Callable[[], tuple[Matter, History]]) -> None:
    hostile = "[bold]x[/] [@click=app.quit]y[/] [/nope] list [1, 2]"

    def spoiled() -> tuple[Matter, History]:
        matter, history = load()
        history.said = Saying("told:unreadable", {"aside": hostile, "format": 0})
        return matter, history

    app, _ = new_app()
    async with app.run_test(size=(120, 40)) as pilot:
        await opened(app, pilot, spoiled)
        assert hostile in golden.text(app)
        await pilot.press("enter")
        assert hostile in golden.text(app)


async def test_tempo_takes_the_moment_of_each_key(load: Callable[[], tuple[Matter, History]]) -> None:
    """Keys stamped 545 ms apart, whenever they are handled; two seconds later the run is over."""
    from textual.events import Key

    app, clock = new_app(stamped=True)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, load)
        await pilot.press("t")
        page = app.screen
        assert isinstance(page, TempoScreen)
        await pilot.press("enter")
        for number in range(30):
            key = Key("space", " ")
            key.time = 100 + number * 60 / 110
            assert await page.take_key(key)
        assert "30" not in golden.text(app), "no count is shown while somebody taps"
        clock.set(100_000 + round(29 * 60_000 / 110) + 2_100)
        page._tick()
        await pilot.press("2", "9", "9", "backspace", "enter")
        shown = golden.text(app)
        assert "30 taps, 110 ± 0 a minute: inside 100 to 120." in shown and "You counted 29; they were 30." in shown
        assert [(taken.taps, taken.counted, taken.pace) for taken in page.history.tempos] == [(30, 29, 0)]
        await pilot.press("2")
        assert page.pace == 110 and "beat at 110 a minute" in golden.text(app)
        page.began = clock.mono_ms()
        page.lit = False
        page._tick()
        await pilot.pause()
        assert "PUSH" in golden.text(app), "the beat is a word and a shape"
        await pilot.press("escape", "escape")
        assert isinstance(app.screen, RehearseScreen)


async def test_what_was_wished_on_the_command_line_holds_on_the_screen(
    load: Callable[[], tuple[Matter, History]],
) -> None:
    app, _ = new_app()
    wishes = Wishes(language="es", typed=True, limits=False, seed=77, most=3)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = RehearseScreen(wishes, load=load)
        await app.push_screen(screen)
        await app.workers.wait_for_complete()
        await pilot.pause()
        shown = golden.text(app)
        assert "Ensayo a solas" in shown and "escribir un verbo" in shown and "ninguno" in shown and "borrador" in shown
        await pilot.press("enter", "enter")
        sitting = screen.sitting
        assert sitting is not None and (sitting.seed, sitting.planned, sitting.limits, sitting.typed) == (
            77,
            3,
            False,
            True,
        )
        assert "¿Cuánta seguridad tendrás?" in golden.text(app) and "solo práctica" in golden.text(app)
        await pilot.press("c")
        assert sitting.phase in ("answer", "handover") and "Type" not in golden.text(app)


async def test_sensitive_stories_are_read_only_when_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[bool] = []

    def loaded(named: str, guidance: str, folder: Path | None = None, *, sensitive: bool = False) -> Matter:
        asked.append(sensitive)
        return load_matter(named, guidance, folder, sensitive=sensitive)

    monkeypatch.setattr("screens.rehearse.load_matter", loaded)
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path))
    app, _ = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = RehearseScreen(Wishes("erc-2025/adult-one-rescuer"))
        await app.push_screen(screen)
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "sensitive ones left out" in golden.text(app)
        await pilot.press("s")
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "children, pregnancy, overdose" in golden.text(app) and asked == [False, True]
