"""The briefing: three keys to go, every answer in one or two keys, nothing typed by mistake starts a drill."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from textual.pilot import Pilot

from coach.keys import KeyClash
from coach.remembered import Choices
from screens.app import KneesideApp
from screens.briefing import SAFETY, BriefingScreen
from screens.debrief import DebriefScreen
from screens.desk import Unsound
from screens.drill import DrillScreen
from screens.home import HomeScreen
from tests.screens import golden
from tests.screens.drill.fake import VIEWS, FakeDrill
from tests.screens.frame.fake_desk import ADULT, BACK, CHILD, STALL, TWO, FakeDesk
from tests.screens.frame.test_home import HOSTILE, LOG, SIZES

LAST = Choices(ADULT.id, STALL.id, "07", "", "lead", "practise", "each", "floor", "both")


def drilling(**changes: Any) -> tuple[FakeDesk, FakeDrill]:
    drill = FakeDrill(VIEWS["ready"])
    return FakeDesk(choices=LAST, open_with=lambda: drill, **changes), drill


def briefing(app: KneesideApp) -> BriefingScreen:
    assert isinstance(app.screen, BriefingScreen)
    return app.screen


@pytest.mark.parametrize("size", SIZES)
async def test_both_leaves(size: str) -> None:
    app = KneesideApp(FakeDesk(choices=LAST))
    async with app.run_test(size=SIZES[size]) as pilot:
        await pilot.press("d")
        await pilot.pause()
        golden.check(app, f"frame/goldens/briefing-{size}")
        await pilot.press("enter")
        await pilot.pause()
        golden.check(app, f"frame/goldens/ready-{size}")


async def test_three_keys_and_the_third_is_zero() -> None:
    desk, drill = drilling()
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d", "enter")
        assert drill.told == []
        await pilot.press("enter", "u")
        assert desk.opened == [(LAST, "")]
        assert [entry[0] for entry in drill.told] == ["go", "press"]
        assert isinstance(app.screen, DrillScreen)


async def test_after_the_drill_comes_the_talk() -> None:
    desk, drill = drilling()
    drill.log = SimpleNamespace(path=LOG, saved=True)  # type: ignore[attr-defined]
    desk.debriefs = {LOG: BACK}
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d", "enter", "enter")
        drill.now = replace(VIEWS["on"], phase="ended")
        await pilot.press("u")
        await pilot.pause()
        assert isinstance(app.screen, DebriefScreen)
        assert drill.told[-1][0] == "close"
        assert app.drill is None
        await pilot.press("escape")
        assert isinstance(app.screen, HomeScreen)


async def test_no_key_falls_between_briefing_and_drill() -> None:
    desk, drill = drilling()
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d", "enter")
        keys = ["enter", *"unuenu"]
        await pilot.press(*keys)
        assert [entry[0] for entry in drill.told] == ["go", *["press"] * 6]


async def test_go_is_the_moment_of_the_press() -> None:
    desk, drill = drilling()
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d", "enter")
        before = app.clock.mono_ms()
        await pilot.press("enter")
        after = app.clock.mono_ms()
        stamp = drill.told[0][1]
        assert isinstance(stamp, int)
        assert before <= stamp <= after


async def test_nothing_was_remembered() -> None:
    desk, drill = drilling()
    desk.choices = Choices()
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d", "enter", "enter")
        assert [entry[0] for entry in drill.told] == ["go"]
        assert desk.opened[0][0] == Choices(ADULT.id, STALL.id)


async def choose(pilot: Pilot[object], *keys: str) -> Choices:
    app = pilot.app
    assert isinstance(app, KneesideApp)
    await pilot.press("d", *keys)
    chosen = briefing(app).choices
    await pilot.press("escape")
    return chosen


@pytest.mark.parametrize(
    ("keys", "changed"),
    [
        (["m"], {"mode": "test"}),
        (["m", "m"], {"mode": "teach"}),
        (["m", "left"], {"mode": "practise"}),
        (["c"], {"counting": "probe"}),
        (["u"], {"unit": "laptop"}),
        (["k"], {"kit": "adult"}),
        (["r"], {"role": "second"}),
        (["s", "s"], {"scenario": "none"}),
        (["s"], {"scenario": CHILD.id}),
        (["p"], {"protocol": TWO.id}),
        (["down", "down", "down", "down", "space"], {"mode": "test"}),
        (["up", "right"], {"assessor": "01"}),
        (["a", "2", "1"], {"assessor": "21"}),
        (["1", "2"], {"learner": "12"}),
        (["9"], {"learner": "09"}),
        (["1", "2", "3"], {"learner": "03"}),
        (["1", "2", "backspace"], {"learner": ""}),
        (["l", "right"], {"learner": "08"}),
        (["l", "left"], {"learner": "06"}),
    ],
)
async def test_every_answer_is_one_or_two_keys_away(keys: list[str], changed: dict[str, str]) -> None:
    app = KneesideApp(FakeDesk(choices=LAST))
    async with app.run_test() as pilot:
        assert await choose(pilot, *keys) == replace(LAST, **changed)


async def test_choices_are_kept_when_they_are_accepted_not_before() -> None:
    desk = FakeDesk(choices=LAST)
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await choose(pilot, "c")
        assert desk.choices.counting == "each"
        await pilot.press("d", "c", "enter")
        assert desk.choices.counting == "probe"


async def test_a_protocol_that_is_gone_is_said() -> None:
    app = KneesideApp(FakeDesk(choices=replace(LAST, protocol="local/gone")))
    async with app.run_test() as pilot:
        await pilot.press("d")
        assert "not here any more: local/gone" in golden.text(app)
        assert briefing(app).choices.protocol == ADULT.id


async def test_no_protocol_at_all() -> None:
    app = KneesideApp(FakeDesk(protocol_cards=(), scenario_cards=()))
    async with app.run_test() as pilot:
        await pilot.press("d", "enter")
        assert "no protocol to drill with" in golden.text(app)
        assert briefing(app).leaf == "choose"


async def test_damaged_choices_are_said() -> None:
    app = KneesideApp(FakeDesk(notice="the file is kept as last-time.damaged-1.json"))
    async with app.run_test() as pilot:
        await pilot.press("d")
        assert "last-time.damaged-1.json" in golden.text(app)


async def test_a_file_that_changed_under_the_briefing_asks_for_its_reason_after_all() -> None:
    desk, drill = drilling()
    desk.choices = replace(LAST, mode="test", protocol=TWO.id)
    app = KneesideApp(desk)
    opened = desk.open_with

    def refuse() -> None:
        desk.protocol_cards = (replace(TWO, approval="changed since approved", sound=False),)
        desk.open_with = opened
        raise Unsound("The protocol's file is not as it was: changed since approved")

    desk.open_with = refuse
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("d", "enter", "enter")
        await pilot.pause()
        assert drill.told == []
        assert "is not as it was" in golden.text(app) and "needs a reason" in golden.text(app)
        await pilot.press(*"course day", "enter", "enter")
        assert desk.opened[-1][1] == "course day" and drill.told[0][0] == "go"


@pytest.mark.parametrize("size", [(80, 24), (40, 15)])
async def test_what_must_be_safe_is_on_screen_before_go_without_scrolling(size: tuple[int, int]) -> None:
    long = replace(STALL, story="A long story. " * 40)
    app = KneesideApp(FakeDesk(choices=LAST, scenario_cards=(long,)))
    async with app.run_test(size=size) as pilot:
        await pilot.press("d", "enter")
        await pilot.pause()
        shown = " ".join(golden.text(app).split())
        assert all(words in shown.replace("▁", " ") for words in SAFETY[:1])
        assert all(words.split()[-1] in shown for words in SAFETY)
        assert "more lines" in shown
        await pilot.press("pagedown")
        await pilot.pause()
        assert "A long story." in golden.text(app)


async def test_a_key_clash_is_said_at_once() -> None:
    app = KneesideApp(FakeDesk(choices=LAST, key_error=KeyClash("the key F would mean both")))
    async with app.run_test() as pilot:
        await pilot.press("d")
        assert "the key F would mean both" in golden.text(app)
        await pilot.press("m")
        assert "the key F" not in golden.text(app)
        await pilot.press("p")
        assert "the key F would mean both" in golden.text(app)


async def test_a_key_clash_is_said_before_go() -> None:
    app = KneesideApp(FakeDesk(choices=LAST, key_error=KeyClash("the key F would mean both")))
    async with app.run_test() as pilot:
        await pilot.press("d", "enter")
        assert "the key F would mean both" in golden.text(app)
        assert briefing(app).leaf == "choose"


async def test_a_folder_that_cannot_be_written_is_said_and_nothing_runs() -> None:
    app = KneesideApp(FakeDesk(choices=LAST))
    async with app.run_test() as pilot:
        await pilot.press("d", "enter", "enter")
        assert "the folder for logs cannot be written" in golden.text(app)
        assert app.drill is None


async def test_a_test_is_somebodys() -> None:
    desk, drill = drilling()
    desk.choices = replace(LAST, learner="", mode="test", protocol=TWO.id)
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d", "enter")
        assert "type the learner's two digits" in golden.text(app)
        await pilot.press("0", "7", "enter", "enter")
        assert desk.opened[0][0].learner == "07"
        assert drill.told[0][0] == "go"


async def test_a_draft_asks_for_its_reason_in_test_mode_only() -> None:
    desk, drill = drilling()
    desk.choices = replace(LAST, mode="test")
    app = KneesideApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("d", "enter")
        await pilot.pause()
        golden.check(app, "frame/goldens/reason-80x24")
        await pilot.press("enter")
        assert "A few words, please" in golden.text(app)
        await pilot.press(*"course day", "enter")
        await pilot.pause()
        assert "course day" in golden.text(app)
        assert drill.told == []
        await pilot.press("enter")
        assert desk.opened == [(desk.choices, "course day")]
        assert drill.told[0][0] == "go"


async def test_a_sound_protocol_asks_nothing() -> None:
    desk, drill = drilling()
    desk.choices = replace(LAST, mode="test", protocol=TWO.id)
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d", "enter", "enter")
        assert drill.told[0][0] == "go"


async def test_leaving_the_reason_leads_back_and_asks_again() -> None:
    desk, drill = drilling()
    desk.choices = replace(LAST, mode="test")
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d", "enter", *"abc", "escape")
        assert briefing(app).leaf == "choose"
        await pilot.press("enter")
        assert "needs a reason" in golden.text(app)
        await pilot.press("escape", "escape")
        assert isinstance(app.screen, HomeScreen)
        assert drill.told == []


async def test_a_withdrawn_protocol_asks_for_a_reason_that_says_so() -> None:
    desk, drill = drilling()
    desk.choices = replace(LAST, mode="test")
    desk.protocol_cards = (replace(ADULT, approval="withdrawn, 1 rule relaxed", sound=False),)
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d", "enter")
        assert "WITHDRAWN: this protocol is not to be taught any more" in " ".join(golden.text(app).split())
        await pilot.press(*"why", "enter")
        assert "Nothing was taken" in golden.text(app) and drill.told == []
        await pilot.press(*", withdrawn", "enter")
        assert "WITHDRAWN: " not in golden.text(app)
        await pilot.press("enter")
        assert drill.told[0][0] == "go"


async def test_a_sensitive_story_says_so_first_and_is_never_the_first_choice() -> None:
    desk = FakeDesk(scenario_cards=(CHILD, STALL))
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d")
        assert briefing(app).choices.scenario == STALL.id
        await pilot.press("s", "s", "enter")
        assert briefing(app).choices.scenario == CHILD.id
        assert "anyone may sit it out" in golden.text(app)


async def test_hostile_words_are_text() -> None:
    protocol = replace(ADULT, title=HOSTILE, guidance=HOSTILE, approval=HOSTILE, about=HOSTILE)
    story = replace(STALL, title=HOSTILE, story=HOSTILE, casualty=HOSTILE, present=(HOSTILE,), kit=(HOSTILE,))
    app = KneesideApp(FakeDesk(protocol_cards=(protocol,), scenario_cards=(story,)))
    async with app.run_test(size=(200, 50)) as pilot:
        await pilot.press("d")
        assert golden.text(app).count("[/nope] list [1, 2]") == 4
        await pilot.press("enter")
        assert golden.text(app).count("[/nope] list [1, 2]") == 7


async def test_the_rhythm_plan_is_nowhere() -> None:
    app = KneesideApp(FakeDesk(choices=LAST))
    async with app.run_test(size=(120, 60)) as pilot:
        await pilot.press("d")
        first = golden.text(app)
        await pilot.press("enter")
        assert "shockable" not in first + golden.text(app)


async def test_ctrl_c_and_ctrl_q_never_end_a_drill() -> None:
    desk, drill = drilling()
    app = KneesideApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("d", "enter", "enter", "ctrl+q", "ctrl+c")
        assert isinstance(app.screen, DrillScreen)
        assert ("close", "interrupted") not in drill.told
