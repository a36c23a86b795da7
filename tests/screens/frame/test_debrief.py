"""The debrief page: nothing measured before the learner has spoken, then one leaf a key."""

from __future__ import annotations

from dataclasses import replace

import pytest
from textual.pilot import Pilot

from screens.app import KneesideApp, Start
from screens.debrief import LEAVES, DebriefScreen
from screens.desk import HandoverPart, Section
from screens.home import HomeScreen
from tests.screens import golden
from tests.screens.frame.fake_desk import BACK, FakeDesk
from tests.screens.frame.test_home import HOSTILE, LOG, SIZES


def opened(**changes: object) -> tuple[KneesideApp, FakeDesk]:
    desk = FakeDesk(debriefs={LOG: replace(BACK, **changes)})  # type: ignore[arg-type]
    return KneesideApp(desk, Start("debrief", log=LOG)), desk


async def forward(pilot: Pilot[object], leaf: str) -> None:
    """From the first leaf to ``leaf``."""
    for passed in LEAVES[: LEAVES.index(leaf)]:
        await pilot.press("escape" if passed == "words" else "enter")
    await pilot.pause()


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("leaf", LEAVES)
async def test_leaves(leaf: str, size: str) -> None:
    app, _ = opened()
    async with app.run_test(size=SIZES[size]) as pilot:
        await forward(pilot, leaf)
        golden.check(app, f"frame/goldens/debrief-{leaf}-{size}")


async def test_the_first_leaf_holds_the_question_and_nothing_measured() -> None:
    app, _ = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        shown = [line.strip() for line in golden.text(app).splitlines() if line.strip()]
        assert shown[0] == "How did that feel?"
        assert shown[1:] == ["Enter  on   Esc  home"]


async def test_the_learners_words_are_kept_and_come_first_on_the_tape() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 30)) as pilot:
        await forward(pilot, "words")
        await pilot.press(*"quick start", "enter", *"the pads", "enter")
        await pilot.pause()
        assert desk.asked == [("say", LOG, "quick start", "the pads")]
        assert "“quick start”" in golden.text(app)
        assert "“the pads”" in golden.text(app)


async def test_skipping_the_words_is_one_key_and_writes_nothing() -> None:
    app, desk = opened()
    async with app.run_test() as pilot:
        await forward(pilot, "words")
        await pilot.press("escape")
        assert isinstance(app.screen, DebriefScreen)
        assert app.screen.leaf == "tape"
        await pilot.press("left", "enter", "enter")
        assert app.screen.leaf == "tape"
        assert desk.asked == []


async def test_the_true_handover_waits_for_the_spoken_one() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "ask")
        assert "One, at 1:44" not in golden.text(app)
        await pilot.press("1", "4", "4", "8", "enter")
        await pilot.pause()
        assert desk.asked == [("ticks", LOG, ("who_where", "needed"))]
        assert "2 of 8 said" in golden.text(app)
        assert "One, at 1:44" in golden.text(app)
        await pilot.press("left", "enter")
        assert len(desk.asked) == 1


async def test_one_key_writes_the_files_and_shows_where() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("x")
        assert desk.asked == []
        await forward(pilot, "tape")
        await pilot.press("x")
        await pilot.pause()
        assert desk.asked == [("export", LOG)]
        assert "(txt, md, json, csv) in" in golden.text(app)


async def test_the_last_key_leads_home() -> None:
    app, _ = opened()
    async with app.run_test() as pilot:
        await forward(pilot, "cautions")
        await pilot.press("enter")
        assert isinstance(app.screen, HomeScreen)


async def test_hostile_words_are_text() -> None:
    app, _ = opened(
        head=HOSTILE,
        ended=HOSTILE,
        sections=(Section(HOSTILE, ((HOSTILE, HOSTILE),)),),
        one_thing=HOSTILE,
        why=HOSTILE,
        strength=HOSTILE,
        handover=(HandoverPart("x", HOSTILE, HOSTILE),),
        cautions=(HOSTILE,),
    )
    counts = {"tape": 2, "figures": 3, "one": 3, "ask": 1, "true": 2, "cautions": 1}
    async with app.run_test(size=(220, 40)) as pilot:
        await forward(pilot, "tape")
        for leaf, count in counts.items():
            assert golden.text(app).count("[/nope] list [1, 2]") == count, leaf
            await pilot.press("enter")
            await pilot.pause()


async def test_an_empty_drill_has_a_debrief() -> None:
    app, _ = opened(tape="", sections=(), handover=(), cautions=())
    async with app.run_test(size=(80, 24)) as pilot:
        for leaf in LEAVES:
            assert isinstance(app.screen, DebriefScreen)
            assert app.screen.leaf == leaf
            await pilot.press("escape" if leaf == "words" else "enter")
        assert isinstance(app.screen, HomeScreen)
