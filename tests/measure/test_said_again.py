"""Of one analysis the last verdict counts; an inject that was not thrown is no fact; the card is no second stop."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.debrief.from_log import debrief_of
from coach.debrief.page import Debrief
from coach.debrief.sentences import gap_for, record
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.reading import read_log
from coach.measure.episodes import episodes_of
from coach.measure.floor import Floor, floor_of
from tests.measure.story import Story

START = "# protocol: erc-2025/adult-one-rescuer\n# mode: test\n# learner: 07\n0 go\n3 j\n6 u\n9 e\n12 n\n"


def floor(story: Story) -> Floor:
    return floor_of(story.happened(120), story.header)


def played(keys: str, folder: Path) -> Debrief:
    lines = "\n".join(keys.split("; "))
    script = read_script(f"{START}{lines}\n", "keys")
    return debrief_of(read_log(play(script, setup_of(script, setup_for), folder)))


def test_a_verdict_said_anew_takes_the_place_of_the_one_before() -> None:
    found = episodes_of(
        floor(
            Story().at(10, "analysis_begins").at(17, "shock_advised").at(18, "no_shock_advised").at(20, "compression")
        )
    )
    assert [(one.start, one.last, one.advised) for one in found] == [(10_000, 18_000, False)]


@pytest.mark.parametrize(("between", "at"), [("compression", 19), ("shock_pressed", 19), ("analysis_begins", 19)])
def test_after_hands_a_shock_or_another_analysis_a_verdict_is_one_of_its_own(between: str, at: float) -> None:
    story = Story().at(10, "analysis_begins").at(17, "shock_advised").at(at, between).at(25, "no_shock_advised")
    assert len(floor(story).all_of(["shock_advised", "no_shock_advised"])) == 2


def test_a_minute_later_it_belongs_to_no_analysis_before() -> None:
    story = Story().at(10, "shock_advised").at(71, "no_shock_advised")
    assert len(floor(story).all_of(["shock_advised", "no_shock_advised"])) == 2


def test_a_verdict_of_the_units_own_is_taken_out_alone() -> None:
    """What a unit does bears the line of the key that it followed, so lines do not tell its events apart."""
    story = Story().at(9, "compression").tell(10, "emit", "analysis_begins", "unit")
    story.tell(15, "emit", "shock_advised", "unit").tell(16, "emit", "no_shock_advised", "unit")
    names = [event.name for event in floor(story).events]
    assert names == ["compression", "analysis_begins", "no_shock_advised"]


def test_x_after_v_is_one_analysis_on_the_page(tmp_path: Path) -> None:
    keys = "15 space; 15.5 space; 20 1; 21 o; 22 r; 23 l; 24 a; 31 v; 32 x; 34 space; 40 z; 40.3 z"
    made = played(keys, tmp_path)
    (gap,) = [one for one in made.measures.gaps if one.sets]
    assert len(gap.sets) == 1 and gap.sets[0].unit == 8_000
    assert "analyses" not in gap_for(made, gap)


def test_an_inject_that_is_used_up_does_nothing_and_is_no_fact(tmp_path: Path) -> None:
    """Thrown twice a drill at most: a third time neither the unit's track nor the measures see it."""
    fault = "inject unit_fault"
    keys = f"15 space; 20 1; 21 o; 30 {fault}; 40 seen answered:unit_fault; 50 {fault}; 60 {fault}; 90 z; 90.3 z"
    made = played(keys, tmp_path)
    thrown = [one for one in made.happened.seen if one.event == "inject:unit_fault"]
    times = [one.outcome for one in thrown].count("taken")
    assert [one.outcome for one in thrown] == ["taken"] * times + ["not expected"] * (3 - times) and 1 <= times < 3
    assert len(made.measures.floor.all_of(["inject:unit_fault"])) == times
    by_last = [one for one in made.happened.told if one.because == thrown[-1].seq]
    assert by_last == []


def test_the_emergency_card_is_no_second_stop(tmp_path: Path) -> None:
    made = played("15 space; 20 escape; 22 escape", tmp_path)
    assert [(one.kind, one.t_to - one.t_from) for one in made.happened.breaks] == [("safety", 2_000)]
    assert record(made).count("safety stop") == 1
