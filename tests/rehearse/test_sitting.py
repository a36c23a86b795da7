"""A sitting: feedback, danger and its rewinding, time, hints, and what four sittings of a new learner come to."""

from __future__ import annotations

from datetime import timedelta

import pytest

from coach.clock import SteppedClock
from coach.rehearse.asking import with_source
from coach.rehearse.days import today_of
from coach.rehearse.history import History
from coach.rehearse.schedule import Rating
from coach.rehearse.sitting import NOTHING, Sitting
from coach.rehearse.verbs import PUSH
from tests.rehearse.made import AHA, DAY, ERC, empty, matter, play, right, until, wrong


def at(tail: str, protocol: str = ERC, history: History | None = None, **options: object) -> Sitting:
    """A sitting that stands at an item, whatever the seed that brings it."""
    for seed in range(200):
        sitting = Sitting(matter(protocol), history or empty(), day=DAY, seed=seed, **options)  # type: ignore[arg-type]
        if any(one.item.endswith(tail) for one in sitting.picked):
            return until(sitting, tail)
    raise AssertionError(f"{tail} is never picked")


def met(*tails: str, protocol: str = ERC) -> History:
    """A history in which some items were met before."""
    history = empty()
    sitting = Sitting(matter(protocol), history, day=DAY - timedelta(days=90), seed=1)
    sitting._first_met = set()
    for tail in tails:
        sitting._sure = "think"
        sitting._record(matter(protocol).items[f"{protocol}:{tail}"], True, 100, "x", "right")
    return history


def test_the_first_meeting_tells_why_at_once_with_the_source() -> None:
    sitting = at(":step:rescuer.begin")
    sitting.sure("think")
    sitting.answer(PUSH, 1_000)
    assert sitting.told is not None and sitting.told.verdict == "right"
    assert sitting.told.lines[1] == with_source(
        "Heel of hand mid-chest, other on top: begin.",
        "ERC Guidelines 2025, Adult Basic Life Support. Resuscitation 2025;215(Suppl 1):110771 (second-hand)",
        "en",
    )


def test_later_the_why_waits_until_the_end_but_danger_never_waits() -> None:
    history = met("step:rescuer.say_clear")
    sitting = at(":step:rescuer.say_clear", history=history)
    assert sitting.question is not None and not sitting.question.first
    before = sitting._walk
    assert before is not None
    state = before.state
    sitting.sure("sure")
    sitting.answer("shock_pressed", 1_000)
    assert sitting.told is not None and sitting.told.verdict == "danger"
    assert sitting.told.lines[0] == "Stop. That would be dangerous."
    assert sitting.told.lines[1].startswith(
        "A shock, and no clear call marked since the verdict. — Common practice of instructors, no source"
    )
    assert before.state == state, "rewound to just before: nothing happened"
    sitting.go_on(2_000)
    assert sitting.question is not None and sitting.question.again and sitting.question.item.endswith("say_clear")
    assert "shock_pressed" not in [action for action, _ in sitting.question.options]
    sitting.answer("clear_called", 3_000)
    assert sitting.told is not None and sitting.told.verdict == "noted"
    given = sitting.given[-1]
    assert (given.right, given.worth, given.rating) == (False, "danger", int(Rating.Again))
    assert history.standings[given.item].sure_and_wrong


def test_a_later_right_answer_is_only_noted() -> None:
    sitting = at(":step:rescuer.begin", history=met("step:rescuer.begin"))
    sitting.sure("think")
    sitting.answer(PUSH, 1_000)
    assert sitting.told is not None and sitting.told.lines == ("Noted.",)
    assert sitting.given[-1].why, "the why is kept for the end"


def test_a_harmless_wrong_turn_costs_time_and_shows_what_follows() -> None:
    sitting = at(":step:rescuer.begin")
    walk = sitting._walk
    assert walk is not None
    before = walk.state.e
    sitting.sure("guess")
    sitting.answer("ask_around", sitting.question.reading_ms if sitting.question else 0)
    assert sitting.told is not None and sitting.told.verdict == "wrong"
    assert walk.state.e == before + 15_000
    assert "Ask around what happened: 15 s gone." in sitting.told.lines
    assert "No pushes yet: hands on the chest." in sitting.told.lines, "the file's own reminder came"
    sitting.go_on(0)
    assert sitting.question is not None and sitting.question.again


def test_thinking_time_passes_in_the_story_too() -> None:
    sitting = at(":step:rescuer.begin")
    walk, question = sitting._walk, sitting.question
    assert walk is not None and question is not None
    before = walk.state.e
    sitting.sure("sure")
    sitting.answer(PUSH, question.reading_ms + 12_000)
    assert walk.state.e == before + 12_000 + 500
    assert sitting.given[-1].rating == int(Rating.Hard)
    assert sitting.told is not None and "That took 12 s beyond reading; the limit is 10 s." in sitting.told.lines


def test_without_limits_nobody_is_slow_and_the_world_waits() -> None:
    sitting = at(":step:rescuer.begin", limits=False)
    walk, question = sitting._walk, sitting.question
    assert walk is not None and question is not None and question.limit_ms is None
    before = walk.state.e
    sitting.sure("sure")
    sitting.answer(PUSH, 3_600_000)
    assert walk.state.e == before + 500
    assert sitting.given[-1].rating == int(Rating.Good)


def test_a_shock_that_ran_out_while_one_thought_is_said() -> None:
    sitting = at(":step:rescuer.press_shock")
    question = sitting.question
    assert question is not None
    sitting.sure("think")
    sitting.answer("shock_pressed", question.reading_ms + 40_000)
    assert sitting.told is not None
    assert any(line.startswith("Too late: 40 s went by") for line in sitting.told.lines)
    assert sitting.given[-1].right and sitting.given[-1].rating == int(Rating.Hard)


def test_i_dont_know_is_an_answer_and_tells_what_helps() -> None:
    sitting = at(":step:unit.unit_beside")
    sitting.dont_know(1_000)
    assert sitting.told is not None and sitting.told.verdict == "unknown"
    assert "What helps: Switch the unit on." in sitting.told.lines
    assert (sitting.given[-1].rating, sitting.given[-1].sure) == (int(Rating.Again), "guess")
    assert not sitting.history.standings[sitting.given[-1].item].sure_and_wrong
    assert sitting._walk is not None and "unit_on" in sitting._walk.scene.done, "the world goes on"


def test_a_hint_leaves_two_and_makes_it_hard() -> None:
    sitting = at(":step:rescuer.begin")
    sitting.sure("sure")
    sitting.hint()
    assert sitting.question is not None and len(sitting.question.options) == 2
    sitting.answer(PUSH, 100)
    assert sitting.given[-1].rating == int(Rating.Hard)


def test_confidence_comes_before_the_answer() -> None:
    sitting = at(":step:rescuer.begin")
    before = list(sitting.given)
    sitting.choose(0, 100)
    sitting.answer(PUSH, 100)
    assert sitting.given == before and sitting.phase == "sure"


def test_two_wrong_turns_and_the_world_does_it() -> None:
    sitting = at(":step:rescuer.begin")
    before = len(sitting.given)
    sitting.sure("think")
    for _ in range(2):
        sitting.answer(wrong_harmless(sitting), 0)
        sitting.go_on(0)
    assert len(sitting.given) == before + 1
    assert sitting._walk is not None and sitting._walk.state.last_push >= 0


def wrong_harmless(sitting: Sitting) -> str:
    """A wrong answer that is not dangerous."""
    walk, moment, question = sitting._walk, sitting._moment, sitting.question
    assert walk is not None and moment is not None and question is not None
    return next(
        a for a, _ in question.options if walk.judge(moment, a).worth == "wrong" and not walk.judge(moment, a).jump
    )


def test_what_is_right_too_is_done_and_the_decision_still_counts() -> None:
    sitting = at(":step:rescuer.call", AHA, typed=True)
    sitting.sure("think")
    assert sitting.understood("look at the breathing").actions == ("not_breathing",)
    sitting.answer("not_breathing", 100)
    assert sitting.told is not None and sitting.told.verdict == "also"
    assert all(not one.item.endswith(":step:rescuer.call") for one in sitting.given)


def test_passing_a_step_over_is_wrong_and_the_world_follows() -> None:
    sitting = at(":step:rescuer.call", typed=True)
    sitting.sure("think")
    sitting.answer(PUSH, 100)
    assert sitting.given[-1].worth == "wrong"
    assert sitting._walk is not None and sitting._walk.moments.hands_on(sitting._walk.state)
    play_on(sitting)
    assert sitting.phase == "over"


def play_on(sitting: Sitting) -> None:
    """Play rightly to the end."""
    for _ in range(300):
        if sitting.phase == "over":
            return
        if sitting.phase == "told":
            sitting.go_on(0)
        elif sitting.phase == "handover":
            sitting.handed_over((), 0)
        else:
            sitting.sure("think")
            sitting.answer(sitting._right(), 0)


@pytest.mark.parametrize("share", [0, 1])
def test_whatever_is_answered_a_sitting_ends(share: int) -> None:
    for seed in range(25):
        sitting = Sitting(matter(), empty(), day=DAY, seed=seed)
        play(sitting, right if share else lambda one: NOTHING)
        assert len(sitting.given) + sitting._lost == sitting.planned
        play(Sitting(matter(), empty(), day=DAY, seed=seed), wrong, "sure")


def test_four_sittings_of_a_new_learner_and_the_fourth_asks_what_is_needed() -> None:
    """Days 1, 2, 4 and 11 of a stepped clock. The learner is sure that hands wait for the unit after the shock, and
    does not know about the patch; all else is right and quick."""
    clock, history = SteppedClock(), empty()
    days = []

    def answers(sitting: Sitting) -> str:
        question = sitting.question
        assert question is not None
        if ":step:rescuer.hands_back" in question.item and not question.again:
            sitting._sure = "sure"
            return next(a for a, _ in question.options if a != right(sitting))
        if question.item.endswith(":fact:patch"):
            return NOTHING
        return right(sitting)

    asked: list[list[str]] = []
    for gap in (0, 1, 2, 7):
        clock.advance(gap * 86_400_000)
        days.append(today_of(clock))
        asked.append(play(Sitting(matter(), history, day=days[-1]), answers))
    assert [(day - days[0]).days for day in days] == [0, 1, 3, 10]
    assert all(len(items) == 8 for items in asked)
    assert len(set(asked[0])) == 8
    # The second sitting begins with what was surely wrong in the first, and asks new things besides.
    missed = [item for item in asked[0] if ":step:rescuer.hands_back" in item]
    assert missed and asked[1][0] in missed
    assert len(set(asked[1]) - set(asked[0])) >= 4
    # The fourth: sure-and-wrong first; then nothing that is not due, new, or of a family that waited longest.
    fourth = Sitting(matter(), replayed(history, 3), day=days[3])
    reasons = {one.item: one.reason for one in fourth.picked}
    wrongly = {item for item in set().union(*asked[:3]) if ":step:rescuer.hands_back" in item}
    assert wrongly and {item for item, reason in reasons.items() if reason == "sure and wrong"} == wrongly
    assert set(asked[3][: len(wrongly)]) == wrongly
    unknown = f"{ERC}:fact:patch"
    if unknown in set().union(*asked[:3]):
        assert unknown in asked[3], "what was not known comes back"
    standings = replayed(history, 3).standings
    for item, reason in reasons.items():
        if reason in ("due", "critical, due"):
            assert standings[item].due <= days[3]
        if reason == "new":
            assert item not in standings
    assert set(asked[3]) == set(reasons)


def replayed(history: History, drills: int) -> History:
    """The history as it stood after so many sittings, from its reviews alone."""
    from coach.rehearse.schedule import review

    made = empty()
    made.sittings = list(history.sittings[:drills])
    for one in history.reviews:
        if one.drill <= drills:
            standing = review(
                one.item, one.critical, made.standings.get(one.item), Rating(one.rating), one.day, right=one.right,
                sure=one.sure, drill=one.drill,  # type: ignore[arg-type]
            )  # fmt: skip
            made._take_review(one, standing, ERC)
    return made
