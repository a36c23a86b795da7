"""The debrief page: nothing measured before the learner has spoken, then one leaf a key."""

from __future__ import annotations

from dataclasses import replace

import pytest
from textual.pilot import Pilot

from screens.app import KneesideApp, Start
from screens.debrief import LEAVES, DebriefScreen
from screens.desk import Choice, HandoverPart, PinCard, Question, Result, Section
from screens.home import HomeScreen
from tests.screens import golden
from tests.screens.frame.fake_desk import BACK, FakeDesk
from tests.screens.frame.test_home import HOSTILE, LOG, SIZES


def opened(**changes: object) -> tuple[KneesideApp, FakeDesk]:
    desk = FakeDesk(debriefs={LOG: replace(BACK, **changes)})  # type: ignore[arg-type]
    return KneesideApp(desk, Start("debrief", log=LOG)), desk


TURNS = {"words": ["escape"], "take": ["escape"], "confirm": ["1", "1"], "pins": ["1", "0"]}
"""Keys that leave a leaf where Enter alone does not."""


async def forward(pilot: Pilot[object], leaf: str) -> None:
    """From the first leaf to ``leaf``."""
    for passed in LEAVES[: LEAVES.index(leaf)]:  # type: ignore[arg-type]
        await pilot.press(*TURNS.get(passed, ["enter"]))
    await pilot.pause()


def written(desk: FakeDesk) -> list[tuple[object, ...]]:
    """What was asked of the desk, less the answers and names of the leaves in between."""
    return [one for one in desk.asked if one[:2] not in (("note", "confirmed"), ("note", "classify"))]


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
        assert desk.asked == [("say", LOG, {"plus": "quick start", "change": "the pads"})]
        await pilot.press("1", "1", "1", "0")
        await pilot.pause()
        shown = golden.text(app)
        assert shown.index("“quick start”") < shown.index("“the pads”") < shown.index("one cell a second")


async def test_skipping_the_words_is_one_key_and_writes_nothing() -> None:
    app, desk = opened()
    async with app.run_test() as pilot:
        await forward(pilot, "words")
        await pilot.press("escape")
        assert isinstance(app.screen, DebriefScreen)
        assert app.screen.leaf == "confirm"
        await pilot.press("left", "enter", "enter")
        assert app.screen.leaf == "confirm"
        assert desk.asked == []


async def test_the_true_handover_waits_for_the_spoken_one() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "ask")
        assert "One, at 1:44" not in golden.text(app)
        await pilot.press("1", "4", "4", "8", "enter")
        await pilot.pause()
        assert written(desk) == [("ticks", LOG, ("who_where", "needed"))]
        assert "2 of 8 said" in golden.text(app)
        assert "One, at 1:44" in golden.text(app)
        await pilot.press("left", "enter")
        assert len(written(desk)) == 1


async def test_one_key_writes_the_files_and_shows_where() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("x", "w", "v")
        assert desk.asked == []
        await forward(pilot, "tape")
        await pilot.press("x")
        await pilot.pause()
        assert written(desk) == [("export", LOG)]
        assert "(html, txt, md, json, csv, xapi.json)" in " ".join(golden.text(app).split())
        await pilot.press("w")
        await pilot.pause()
        assert written(desk)[1:] == [("page", LOG)]
        assert f"The page: {LOG.with_suffix('.html')}" in golden.text(app)


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
        questions=(Question("q", HOSTILE, HOSTILE),),
        pins=(PinCard(7, "0:48", HOSTILE, ""),),
        choices=(Choice("c", HOSTILE),),
        again_from=Choice("s", HOSTILE),
        pair=(HOSTILE,),
        own={"plus": HOSTILE, "change": HOSTILE, "again": HOSTILE},
        results=(Result("pass", HOSTILE, HOSTILE),),
        basis=(HOSTILE,),
        signed=HOSTILE,
    )
    counts = {"confirm": 2, "pins": 1, "tape": 5, "figures": 3, "one": 3, "again": 4, "take": 0}
    counts |= {"ask": 1, "true": 2, "sign": 4, "cautions": 1}
    async with app.run_test(size=(220, 40)) as pilot:
        await forward(pilot, "confirm")
        for leaf, count in counts.items():
            assert isinstance(app.screen, DebriefScreen) and app.screen.leaf == leaf
            assert golden.text(app).count("[/nope] list [1, 2]") == count, leaf
            await pilot.press(*{"confirm": ["1"], "pins": ["1"], "take": ["escape"]}.get(leaf, ["enter"]))
            await pilot.pause()


async def test_an_empty_drill_has_a_debrief() -> None:
    none: dict[str, object] = dict.fromkeys(("sections", "handover", "cautions", "questions", "pins", "results"), ())
    app, _ = opened(tape="", longest=None, again_from=None, choices=(), **none)
    async with app.run_test(size=(80, 24)) as pilot:
        for leaf in LEAVES:
            if leaf in ("confirm", "pins", "again", "sign"):
                continue
            assert isinstance(app.screen, DebriefScreen)
            assert app.screen.leaf == leaf
            await pilot.press("escape" if leaf in ("words", "take") else "enter")
        assert isinstance(app.screen, HomeScreen)


async def test_nothing_measured_and_no_title_before_the_learner_has_spoken() -> None:
    app, _ = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        for leaf in LEAVES[: LEAVES.index("tape")]:
            shown = golden.text(app)
            assert BACK.one_thing not in shown and "34 s" not in shown and BACK.strength not in shown, leaf
            await pilot.press(*TURNS.get(leaf, ["enter"]))
            await pilot.pause()


async def test_what_is_missing_is_confirmed_in_one_key_each() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "confirm")
        await pilot.press("2")
        await pilot.pause()
        assert "2 of 2" in golden.text(app)
        await pilot.press("3")
        await pilot.pause()
        assert isinstance(app.screen, DebriefScreen) and app.screen.leaf == "pins"
        assert desk.asked == [
            ("note", "confirmed", {"finding": "omitted:call", "answer": "did-not-happen", "who": "a1", "why": ""}),
            ("note", "confirmed", {"finding": "touched:52", "answer": "not-looking", "who": "a1", "why": ""}),
        ]


async def test_an_answer_that_cannot_be_written_is_no_answer() -> None:
    app, desk = opened()
    desk.refuses = "This was not written down: the disk is full"
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "confirm")
        await pilot.press("1")
        await pilot.pause()
        assert "1 of 2" in golden.text(app) and "the disk is full" in golden.text(app)


async def test_a_pin_is_named_in_one_key_and_none_is_forced() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "pins")
        await pilot.press("3", "0")
        await pilot.pause()
        assert isinstance(app.screen, DebriefScreen) and app.screen.leaf == "tape"
        named = [one[2] for one in desk.asked if one[1] == "classify"]
        assert [(one["pin"], one["label"]) for one in named] == [(30, "depth"), (41, "")]


async def test_one_key_puts_another_finding_in_the_place_of_the_one_thing() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "one")
        await pilot.press("o")
        await pilot.pause()
        assert "Two breaths took 7 s" in golden.text(app) and BACK.one_thing not in golden.text(app)
        assert written(desk) == []
        await pilot.press("enter")
        assert written(desk) == [("note", "chosen", {"finding": "breath-gap:40", "who": "a1", "why": ""})]


async def test_another_and_back_again_writes_nothing() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "one")
        await pilot.press("o", "o", "o", "enter")
        assert written(desk) == []


async def test_again_stands_ready_and_enter_is_its_go() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "again")
        await pilot.press("a")
        await pilot.pause()
        assert "the next Enter is go" in golden.text(app)
        await pilot.press("a", "a", "enter")
        await pilot.pause()
        assert written(desk) == [("again", LOG, "unit_on")]
        assert "the folder for logs cannot be written" in golden.text(app)
        assert isinstance(app.screen, DebriefScreen) and app.screen.leaf == "again"


async def test_what_the_learner_takes_home_is_kept() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "take")
        await pilot.press(*"both out first", "enter")
        assert written(desk) == [("say", LOG, {"take": "both out first"})]


async def test_what_cannot_be_signed_says_why_and_is_not_signed() -> None:
    app, desk = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "sign")
        await pilot.press("1")
        await pilot.pause()
        assert "pass: something critical is to be confirmed first" in golden.text(app)
        assert written(desk) == []
        await pilot.press("2")
        assert written(desk) == [("sign", LOG, "not-yet", "a1", "")]


async def test_a_pass_that_needs_a_reason_asks_for_it() -> None:
    app, desk = opened(results=(Result("pass", "pass", asks="a clear call was moved by hand"),))
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "sign")
        await pilot.press("1")
        await pilot.pause()
        assert "A reason is needed: a clear call was moved by hand" in golden.text(app)
        await pilot.press("enter")
        assert written(desk) == []
        await pilot.press(*"seen on video", "enter")
        await pilot.pause()
        assert written(desk) == [("sign", LOG, "pass", "a1", "seen on video")]
        await pilot.press("1", "escape", "enter")
        assert isinstance(app.screen, DebriefScreen) and app.screen.leaf == "cautions"
        assert len(written(desk)) == 1


async def test_the_longest_stop_is_turned_over_on_the_tape() -> None:
    app, _ = opened()
    async with app.run_test(size=(80, 24)) as pilot:
        await forward(pilot, "tape")
        row = next(strip for strip in golden.strips(app) if strip.text.lstrip().startswith("1:00"))
        loud = [
            segment.text for segment in row if segment.style is not None and segment.style.bold and segment.text.strip()
        ]
        assert "".join(loud) == BACK.tape[69:104].replace("#", "▄")
