"""What holds for every drill."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from coach.log.happened import Break, Happened, Seen
from coach.measure.floor import GAP_MS
from coach.measure.report import Measures, measure
from coach.measure.tape import tape
from tests.measure.story import protocol

NAMES = (
    "compression",
    "compression",
    "compression",
    "hands_placed",
    "probe_tap",
    "breath",
    "hands_lifted",
    "analysis_begins",
    "shock_advised",
    "no_shock_advised",
    "clear_called",
    "shock_pressed",
    "touch",
    "pad_left",
    "pad_right",
    "swapped",
    "signs_of_life",
    "life_fades",
    "call_made",
    "not_breathing",
)
FILE = protocol()


@st.composite
def drills(draw: st.DrawFn) -> tuple[Happened, str]:
    """Any sequence of facts, with any distances, under any way of counting."""
    steps = draw(st.lists(st.tuples(st.integers(1, 9000), st.sampled_from(NAMES)), max_size=40))
    at = 0
    seen = []
    for seq, (wait, name) in enumerate(steps, start=1):
        at += wait
        seen.append(Seen(seq, at, at, name))
    end = at + draw(st.integers(0, 9000))
    return Happened(tuple(seen), (), end, end, "ended"), draw(st.sampled_from(("each", "counter", "probe", "marks")))


def measured(happened: Happened, counting: str) -> Measures:
    return measure(happened, FILE, {"counting": counting, "mode": "test"})


@given(drills())
def test_gaps_and_runs_tile_the_windows(drill: tuple[Happened, str]) -> None:
    found = measured(*drill)
    for one, other in zip(found.runs, found.runs[1:], strict=False):
        assert one.first <= one.last <= other.first
    for gap in found.gaps:
        assert gap.length > 0 and any(window.start <= gap.start and gap.end <= window.end for window in found.windows)
    covered = sum(gap.length for gap in found.gaps)
    on = sum(
        max(0, min(run.last, window.end) - max(run.first, window.start))
        for window in found.windows
        for run in found.runs
    )
    assert covered + on == sum(window.end - window.start for window in found.windows)


@given(drills())
def test_parts_sum_to_their_gap_and_none_is_negative(drill: tuple[Happened, str]) -> None:
    for gap in measured(*drill).gaps:
        assert 0 <= gap.rescuer <= gap.length
        if gap.parts is not None:
            assert gap.parts.total == gap.length
            for part in gap.sets:
                assert min(part.prep, part.unit, part.press, part.resume, part.unsplit) >= 0


@given(drills())
def test_a_share_lies_between_none_and_all(drill: tuple[Happened, str]) -> None:
    found = measured(*drill)
    if found.hands_on.share is None:
        nothing = sum(end - start for start, end in found.windows) == 0
        assert nothing or (found.hands_on.unmarked and drill[1] in ("probe", "marks"))
    else:
        assert 0 <= found.hands_on.share <= 1
    if found.rate is not None and found.rate.in_band is not None:
        assert 0 <= found.rate.in_band <= 1


@given(drills())
def test_peri_is_pre_plus_post(drill: tuple[Happened, str]) -> None:
    for shock in measured(*drill).shocks:
        if shock.peri is not None:
            assert shock.pre is not None and shock.post is not None and shock.peri == shock.pre + shock.post
        if shock.pre is not None:
            assert shock.own_pre is not None and 0 <= shock.own_pre <= shock.pre


@given(drills(), st.integers(1, 100_000))
def test_moving_the_whole_drill_changes_no_length(drill: tuple[Happened, str], by: int) -> None:
    happened, counting = drill
    moved = replace(
        happened,
        seen=tuple(seen._replace(e=seen.e + by, t=seen.t + by) for seen in happened.seen),
        end_e=happened.end_e + by,
        end_t=happened.end_t + by,
    )
    one, other = measured(happened, counting), measured(moved, counting)
    assert one.hands_on == other.hands_on and one.rate == other.rate
    assert [(gap.length, gap.cause, gap.sets) for gap in one.gaps] == [
        (gap.length, gap.cause, gap.sets) for gap in other.gaps
    ]
    assert [(s.pre, s.post, s.clear_before) for s in one.shocks] == [
        (s.pre, s.post, s.clear_before) for s in other.shocks
    ]
    assert [step.status for step in one.steps] == [step.status for step in other.steps]


@given(drills(), st.integers(0, 40), st.integers(1, 600_000))
def test_a_teaching_pause_leaves_the_share_unchanged(drill: tuple[Happened, str], place: int, length: int) -> None:
    """By beats, and by marks where hands are off: there a pause ends a run, which a person must mark on again."""
    happened, counting = drill
    at = happened.seen[place].e if place < len(happened.seen) else happened.end_e
    before = measured(happened, counting)
    if counting in ("probe", "marks") and any(run.first <= at <= run.last for run in before.runs):
        counting = "each"
        before = measured(happened, counting)
    paused = replace(
        happened,
        seen=tuple(seen._replace(t=seen.t + length if seen.e >= at else seen.t) for seen in happened.seen),
        end_t=happened.end_t + length,
        breaks=(Break("teaching", at, at, at + length),),
    )
    after = measured(paused, counting)
    assert after.hands_on.share == before.hands_on.share
    assert [gap.length for gap in after.gaps if gap.counted] == [gap.length for gap in before.gaps if gap.counted]
    assert all(gap.length < GAP_MS for gap in after.gaps if not gap.counted)


@given(drills())
def test_a_tape_has_a_cell_for_each_second_begun(drill: tuple[Happened, str]) -> None:
    happened, counting = drill
    assert len(tape(happened.seen, happened.end_e, counting)) == happened.end_e // 1000 + 1
