"""The schedule is py-fsrs' own: equal due dates for equal ratings; the ratings and the day's picking are ours."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fsrs import Card, Rating, Scheduler
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.engine.plan import draw
from coach.rehearse.history import History
from coach.rehearse.schedule import CRITICAL_DAYS, Standing, Sure, noon, rating, review, strength
from coach.rehearse.sitting import NOTHING, Sitting
from coach.rehearse.today import A_DAY, A_SITTING, left_today, pick
from tests.rehearse.made import DAY, ERC, SHIPPED, empty, matter, play, right, wrong

STEPS = st.lists(st.tuples(st.sampled_from(list(Rating)), st.integers(0, 90)), min_size=1, max_size=25)


@settings(max_examples=150, deadline=None)
@given(STEPS, st.booleans())
def test_due_dates_are_the_librarys(steps: list[tuple[Rating, int]], critical: bool) -> None:
    """An own scheduler of the library, one card through all ratings, never by way of our standings."""
    theirs = Scheduler(
        desired_retention=0.9, learning_steps=(), relearning_steps=(), enable_fuzzing=False,
        maximum_interval=60 if critical else 180,
    )  # fmt: skip
    card, standing, day = Card(card_id=1, due=noon(DAY)), None, DAY
    for given_rating, gap in steps:
        day += timedelta(days=gap)
        card, _ = theirs.review_card(card, given_rating, noon(day))
        standing = review("x", critical, standing, given_rating, day, right=True, sure="think", drill=1)
        assert standing.due == card.due.date()
        assert (standing.stability, standing.difficulty) == (card.stability, card.difficulty)
        assert not critical or (standing.due - day).days <= CRITICAL_DAYS
        later = noon(day + timedelta(days=30))
        assert strength("x", standing, later.date()) == pytest.approx(theirs.get_card_retrievability(card, later))


def test_a_clock_set_back_reviews_on_the_last_day() -> None:
    first = review("x", False, None, Rating.Good, DAY, right=True, sure="think", drill=1)
    second = review("x", False, first, Rating.Good, DAY - timedelta(days=400), right=True, sure="think", drill=2)
    assert second.last == DAY and second.due >= DAY


@pytest.mark.parametrize(
    ("right_", "ms", "limit", "hint", "sure", "expected"),
    [
        (False, 100, 10_000, False, "sure", Rating.Again),
        (False, 100, None, True, "guess", Rating.Again),
        (True, 5_000, 10_000, False, "sure", Rating.Easy),
        (True, 5_001, 10_000, False, "sure", Rating.Good),
        (True, 100, 10_000, False, "think", Rating.Good),
        (True, 10_000, 10_000, False, "sure", Rating.Good),
        (True, 10_001, 10_000, False, "sure", Rating.Hard),
        (True, 100, 10_000, True, "sure", Rating.Hard),
        (True, 100, 10_000, False, "guess", Rating.Hard),
        (True, 999_999, None, False, "think", Rating.Good),
        (True, 1, None, False, "sure", Rating.Good),
    ],
)
def test_ratings(right_: bool, ms: int, limit: int | None, hint: bool, sure: Sure, expected: Rating) -> None:
    assert rating(right=right_, ms=ms, limit_ms=limit, hint=hint, sure=sure) == expected


def test_twelve_a_day_and_then_no_more() -> None:
    history = empty()
    first = Sitting(matter(), history, day=DAY)
    assert len(play(first)) == A_SITTING
    second = Sitting(matter(), history, day=DAY)
    assert len(play(second)) == A_DAY - A_SITTING
    third = Sitting(matter(), history, day=DAY)
    third.begin(0)
    assert third.phase == "over" and third.told is not None and "tomorrow" in third.told.lines[-1]
    assert left_today(history, DAY) == 0 and left_today(history, DAY + timedelta(days=1)) == A_DAY
    assert len(history.reviews) == A_DAY


def _mixed(seed: int, share: int):  # type: ignore[no-untyped-def]
    """A learner who is right in ``share`` of ten, wrong or at a loss otherwise."""
    turn = [0]

    def answers(sitting: Sitting) -> str:
        turn[0] += 1
        luck = draw(seed, "luck", turn[0], 1, 10)
        return right(sitting) if luck <= share else NOTHING if luck == 10 else wrong(sitting)

    return answers


@settings(max_examples=12, deadline=None)
@given(
    st.sampled_from(SHIPPED), st.integers(0, 10_000), st.integers(0, 10), st.sampled_from(["sure", "think", "guess"])
)
def test_every_family_comes_once_in_six_drills(protocol: str, seed: int, share: int, sure: str) -> None:
    """In any six sittings on end, whatever is answered and however the days lie: each kind of decision once."""
    found, history = matter(protocol), empty()
    families = {one.family for one in found.items.values()}
    sittings: list[set[str]] = []
    day = DAY
    for number in range(14):
        day += timedelta(days=draw(seed, "gap", number, 0, 9))
        if not left_today(history, day):
            day += timedelta(days=1)
        asked = play(Sitting(found, history, day=day), _mixed(seed + number, share), sure)
        sittings.append({found.items[item].family for item in asked})
    for start in range(len(sittings) - 5):
        assert set().union(*sittings[start : start + 6]) == families
    days = {review_.day for review_ in history.reviews}
    assert all(history.reviewed_on(one) <= A_DAY for one in days)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**31))
def test_the_same_seed_gives_the_same_drill(seed: int) -> None:
    def script() -> list[object]:
        sitting = Sitting(matter(), empty(), day=DAY, seed=seed)
        shown: list[object] = []

        def answers(one: Sitting) -> str:
            shown.append(one.question)
            return right(one) if len(shown) % 3 else wrong(one)

        play(sitting, answers)
        return shown

    assert script() == script()


def test_other_seeds_give_other_drills() -> None:
    picked = {tuple(Sitting(matter(), empty(), day=DAY, seed=seed).picked) for seed in range(8)}
    assert len(picked) >= 6


def _standing(**changes: object) -> Standing:
    plain: dict[str, object] = {
        "stability": 5.0, "difficulty": 5.0, "due": DAY, "last": DAY - timedelta(days=5), "reviews": 1, "lapses": 0,
        "right": True, "sure": "think", "drill": 1,
    }  # fmt: skip
    return Standing(**{**plain, **changes})  # type: ignore[arg-type]


def test_sure_and_wrong_comes_before_everything_and_even_today() -> None:
    items, history = matter().items, empty()
    for number, item in enumerate(items):
        history.standings[item] = _standing(due=DAY - timedelta(days=number))
    worst = f"{ERC}:step:unit.unit_beside"
    history.standings[worst] = _standing(due=DAY + timedelta(days=1), last=DAY, right=False, sure="sure")
    assert pick(items, history, ERC, DAY, 1)[0] == (worst, "sure and wrong")


def test_a_critical_item_goes_before_others_that_are_due() -> None:
    items, history = matter().items, empty()
    for item in items:
        history.standings[item] = _standing(due=DAY - timedelta(days=3))
        history.families[f"{ERC}|{items[item].family}"] = 1
    due = [one for one in pick(items, history, ERC, DAY, 1) if "due" in one.reason]
    weights = [items[one.item].critical for one in due]
    assert weights[0] and weights == sorted(weights, reverse=True)


def test_kinds_alternate() -> None:
    """At most three of one family in a sitting of a new learner, and at least five families."""
    for seed in range(20):
        picked = pick(matter().items, empty(), ERC, DAY, seed)
        counts: dict[str, int] = {}
        for one in picked:
            family = matter().items[one.item].family
            counts[family] = counts.get(family, 0) + 1
        assert max(counts.values()) <= 3 and len(counts) >= 5


def test_history_of_another_protocol_does_not_count_here() -> None:
    history = History(empty().path)
    history.standings["aha-2025/adult-one-rescuer:step:rescuer.call"] = _standing()
    assert all(one.reason in ("new", "waited longest") for one in pick(matter().items, history, ERC, DAY, 3))
