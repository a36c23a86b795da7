"""The tape, cell by cell."""

from __future__ import annotations

import pytest

from coach.drill.view import TAPE
from coach.measure.tape import RAREST_FIRST, tape
from tests.measure.story import Story


def strip(story: Story, end: float, last: int | None = None, breaks: tuple[int, ...] = ()) -> str:
    happened = story.happened(end)
    return tape(happened.seen, happened.end_e, story.counting, breaks, last)


def test_every_cell_is_in_the_legend() -> None:
    assert set(RAREST_FIRST) == set(TAPE)


def test_a_short_drill_by_beats() -> None:
    story = Story().at(1, "call_made").at(3.2, "compression").at(3.7, "compression").at(4.2, "compression")
    story.at(5.1, "breath").at(6.4, "breath").at(8.0, "compression").at(8.5, "compression")
    # seconds:                 0123456789
    assert strip(story, 9.9) == " E ##oo·##"


def test_hands_off_after_two_seconds_of_silence_reckons_from_the_last_push() -> None:
    story = Story().at(0, "compression").at(0.5, "compression")
    assert strip(story, 2.4) == "###"
    assert strip(story, 2.5) == "#··"


def test_by_marks() -> None:
    story = Story("marks").at(1, "hands_placed").at(4.5, "hands_lifted").at(6, "analysis_begins")
    story.at(8, "shock_advised").at(9, "clear_called").at(10, "shock_pressed").at(11.5, "hands_placed")
    assert strip(story, 13) == " ####·A·VCS###"


def test_the_rarest_of_a_second_wins() -> None:
    story = Story().at(0, "compression").at(0.1, "touch").at(0.2, "clear_called").at(0.3, "shock_pressed")
    assert strip(story, 0.9) == "S"
    assert strip(Story().at(0, "pad_left", "unit_on", "call_made"), 0) == "P"


def test_a_pause_is_a_bar_and_ends_a_run_of_marks() -> None:
    story = Story("probe").at(0, "hands_placed").at(6, "hands_placed")
    assert strip(story, 7, breaks=(3500,)) == "###|··##"


def test_keys_that_are_no_facts_leave_no_cell() -> None:
    assert strip(Story().at(1, "shock_pressed", outcome="not armed"), 2) == "   "


@pytest.mark.parametrize("last", [1, 3, 8, 50])
def test_the_last_cells_are_the_end_of_the_whole(last: int) -> None:
    story = Story().at(1, "call_made")
    story.cycles(2, 2, 5)
    whole = strip(story, 50)
    assert strip(story, 50, last) == whole[-last:]
