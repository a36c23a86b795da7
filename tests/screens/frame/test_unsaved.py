"""A drill that no folder took: one short line says so all along, and its debrief is told from memory."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.clock import SteppedClock
from coach.remembered import Choices
from coach.settings import Settings
from screens.app import KneesideApp, Start
from screens.coach_desk import CoachDesk
from screens.desk import DeskError
from screens.looking_back import UNSAVED

CHOICES = Choices("erc-2025/adult-one-rescuer", "none", "07", "a1", "lead", "test", "each", "floor", "both")


@pytest.fixture
def clock() -> SteppedClock:
    return SteppedClock(5_000)


@pytest.fixture
def desk(tmp_path: Path, clock: SteppedClock, monkeypatch: pytest.MonkeyPatch) -> CoachDesk:
    """Both folders lie below a plain file, so no disk, and no right of root's, can make them."""
    stone = tmp_path / "stone"
    stone.write_text("")
    monkeypatch.setattr("screens.coach_desk.second_dir", lambda: stone / "second")
    made = CoachDesk(Settings(tmp_path / "settings.toml", data_folder=str(stone / "data")), clock)
    monkeypatch.setattr("screens.coach_desk.for_drill", lambda *_: (25.0, 0.0))
    return made


def drilled(desk: CoachDesk, clock: SteppedClock) -> Path:
    drill = desk.open(CHOICES, "no signed file yet")
    drill.go(clock.mono_ms())
    for key, wait in (("u", 3000), ("n", 6000), *[("space", 550)] * 30, ("b", 1500), ("b", 1500)):
        clock.advance(wait)
        drill.press(key, clock.mono_ms())
    view = drill.view(clock.mono_ms())
    assert not view.saved and view.notice.startswith("NOT SAVED") and len(view.notice) <= 78
    clock.advance(500)
    drill.press("z", clock.mono_ms())
    assert drill.view(clock.mono_ms()).notice == "NOT SAVED. Z again ends the drill"
    clock.advance(400)
    drill.press("z", clock.mono_ms())
    drill.close()
    assert drill.log.path is not None and not drill.log.saved
    desk.hold(drill.log.path, drill.log.content)
    return drill.log.path


def test_its_debrief_is_told_from_memory_and_says_so(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock)
    back = desk.debrief(path)
    assert back.unsaved == UNSAVED and back.cautions[0] == UNSAVED and len(UNSAVED) <= 78
    assert "30 compressions seen" in str(back.sections) and back.tape and not path.exists()


def test_what_is_said_of_it_is_kept_in_memory_and_counts(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock)
    (call,) = [one for one in desk.debrief(path).questions if "Phone" in one.say]
    assert desk.note(path, "confirmed", "a1", "", finding=call.id, answer="saw") == ""
    assert desk.say(path, {"plus": "quick hands"}) == "" and desk.ticks(path, ("shocks",)) == ""
    back = desk.debrief(path)
    assert call.id not in {one.id for one in back.questions}
    assert back.own == {"plus": "quick hands"} and back.said == ("shocks",)
    assert desk.sign(path, "not-yet", "a1", "") == "" and "not yet" in desk.debrief(path).signed
    card = desk.latest()
    assert card is not None and card.path == path and card.state == "ended"


def test_a_page_that_cannot_be_written_is_refused_in_words(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock)
    with pytest.raises(DeskError):
        desk.page(path)


@pytest.mark.parametrize("size", [(80, 24), (40, 15)])
async def test_the_talk_shows_on_every_leaf_that_nothing_is_saved(
    size: tuple[int, int], desk: CoachDesk, clock: SteppedClock
) -> None:
    path = drilled(desk, clock)
    app = KneesideApp(desk, Start(page="debrief", log=path), clock)
    async with app.run_test(size=size) as pilot:
        for _ in range(4):
            await pilot.pause()
            notice = app.screen.query_one("#notice")
            assert notice.display and str(notice.render()).startswith("NOT SAVED")
            await pilot.press("escape" if app.focused else "right" if app.screen.leaf != "feel" else "enter")
