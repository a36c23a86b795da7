"""The pieces alone: block characters, beads, tape, words that fit."""

from __future__ import annotations

import io
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from coach.drill.view import TAPE, InjectView
from coach.observations import default_keys
from coach.settings import Room
from screens.card import NO_ADDRESS, NO_NUMBER, card_rows
from screens.keyboard import Caps
from screens.widgets.band import band_of, paint, seconds
from screens.widgets.beads import beads
from screens.widgets.digits import HEIGHT, big, big_width, can_show
from screens.widgets.foot import drill_foot
from screens.widgets.ink import ASCII, UNICODE, Line, clock, countdown, cut, ends, fill, glyphs, plain, width_of, wrap
from screens.widgets.layout import Scene, screen_rows
from screens.widgets.tape import STEP, first_cell, tape_rows
from tests.screens.drill.fake import RUNNING, VIEWS

CAPS = Caps(default_keys())
TEXTS = st.text(max_size=60)


def words(lines: list[Line]) -> str:
    """Lines as text."""
    return "\n".join("".join(text for text, _ in line) for line in lines)


# --- block characters


@pytest.mark.parametrize("marks", [UNICODE, ASCII], ids=["unicode", "ascii"])
@pytest.mark.parametrize("scale", [1, 2])
def test_block_characters_are_even_and_as_wide_as_said(scale: int, marks: object) -> None:
    for text in ("0123456789", "12.4", "2:41", "READY", "PAUSE", "STOP", " "):
        rows = big(text, marks, scale)  # type: ignore[arg-type]
        assert len(rows) == HEIGHT * scale
        assert {len(row) for row in rows} == {big_width(text, scale)}


@pytest.mark.parametrize("marks", [UNICODE, ASCII], ids=["unicode", "ascii"])
def test_no_two_digits_look_alike(marks: object) -> None:
    for one, other in combinations("0123456789", 2):
        differ = sum(
            a != b
            for row, its in zip(big(one, marks), big(other, marks), strict=True)  # type: ignore[arg-type]
            for a, b in zip(row, its, strict=True)
        )
        assert differ >= 2, one + other


def test_the_largest_figures_fit_eighty_columns() -> None:
    for text in ("999.9", "59:59", "READY"):
        assert big_width(text) <= 40
    assert not can_show("x")


def test_hands_off_seconds() -> None:
    shown = {0: "0.0", 3_499: "3.4", 9_999: "9.9", 10_000: "10", 10_999: "10", 999_999: "999", 1_000_000: "16:40"}
    assert {ms: seconds(ms) for ms in shown} == shown


# --- beads


@pytest.mark.parametrize(("of", "rows"), [(30, [10, 10, 10]), (15, [5, 5, 5]), (12, [4, 4, 4]), (1, [1, 0, 0])])
def test_beads_are_three_rows_and_count_every_push(of: int, rows: list[int]) -> None:
    for done in range(of + 3):
        made = beads(done, of, UNICODE, ("full", "hollow"))
        text = [words([line]) for line in made]
        assert [row.count("●") + row.count("○") for row in text] == rows
        assert sum(row.count("●") for row in text) == min(done, of)
        assert "○" not in text[0] or "●" not in text[1]


# --- tape


def test_the_tape_stands_still_and_moves_on_by_steps() -> None:
    starts = [first_cell(length, 71) for length in range(1, 400)]
    assert starts[:71] == [0] * 71
    assert {later - earlier for earlier, later in pairwise(starts)} == {0, STEP}
    assert all(length - start <= 71 for length, start in enumerate(starts, 1))


@given(st.integers(1, 400), st.integers(1, 240), st.integers(20, 120), st.data())
def test_the_tape_fits_and_its_last_second_is_seen(total: int, kept: int, width: int, data: st.DataObject) -> None:
    tape = data.draw(st.text(list(TAPE), min_size=min(total, kept), max_size=min(total, kept)))
    cells, ticks, legend = tape_rows(tape[:-1] + "S", total, width, ASCII)
    assert width_of(cells) == width_of(ticks) == width_of(legend) == width
    assert words([cells]).rstrip()[-1:] == "S"
    for mark in ("S", "T"):
        assert (f"{mark} " in words([legend])) <= (mark in words([cells]))


def test_minutes_stand_under_their_second() -> None:
    cells, ticks, _ = tape_rows("#" * 60 + "A" + "#" * 5, 66, 71, ASCII)
    assert words([ticks]).index("'1:00") == words([cells]).index("A")
    # Only the last 240 seconds are kept of a long drill: the minutes are still those since go.
    cells, ticks, _ = tape_rows("#" * 210 + "A" + "#" * 29, 330, 71, ASCII)
    assert words([ticks]).index("'5:00") == words([cells]).index("A")


def test_the_legend_explains_every_mark_of_the_tape_in_eighty_columns_by_need() -> None:
    for marks in ("AVCS#·o", "AVCST#·o", "".join(TAPE)):
        _, _, legend = tape_rows(marks, len(marks), 70, UNICODE)
        text = words([legend])
        assert text == text[:70]
        for word in ("on", "off", "breath", "shock", "advice", "analysis", "clear"):
            assert word in text


# --- words that fit


@given(TEXTS, st.integers(0, 40))
def test_plain_text_is_cut_and_filled_to_the_cell(text: str, width: int) -> None:
    text = plain(text)
    assert text.isprintable()
    assert width_of(cut([(text, "")], width)) <= width
    assert width_of(fill([(text, ""), (text, "x")], width)) == width
    assert width_of(ends([(text, "")], [("end", "")], width + 5)) == width + 5


@given(TEXTS, st.integers(4, 30), st.integers(1, 4))
def test_wrapped_lines_fit(text: str, width: int, most: int) -> None:
    lines = wrap(plain(text), width, most)
    assert len(lines) <= most
    assert all(cell_len(line) <= width for line in lines)


def test_wrap_marks_what_it_leaves_out_and_breaks_what_is_too_long() -> None:
    assert wrap("one two three", 7, 3) == ["one two", "three"]
    assert wrap("one two three", 7, 1) == ["one tw…"]
    assert wrap("abcdefghij k", 4, 9) == ["abcd", "efgh", "ij k"]


def test_clocks() -> None:
    assert [clock(ms) for ms in (-5, 0, 59_999, 60_000, 3_599_999)] == ["0:00", "0:00", "0:59", "1:00", "59:59"]
    assert [countdown(ms) for ms in (0, 1, 1_000, 60_001)] == ["0:00", "0:01", "0:01", "1:01"]


def test_ascii_where_it_is_asked_for_or_nothing_else_can_be_written() -> None:
    utf8 = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    latin = io.TextIOWrapper(io.BytesIO(), encoding="latin-1")
    assert glyphs({}, utf8) is UNICODE
    assert glyphs({}, latin) is ASCII
    assert glyphs({"KNEESIDE_ASCII": "1"}, utf8) is ASCII
    assert glyphs({"KNEESIDE_ASCII": "0"}, utf8) is UNICODE
    assert plain("“así” – ±2 …", True) == '"as?" - ~2 ~'


# --- whole rows


@pytest.mark.parametrize("width", [72, 80, 100, 120])
def test_stop_and_void_can_always_be_read(width: int) -> None:
    for name in ("on", "loud", "test"):
        view = replace(VIEWS[name], would_void="shock pressed")
        first = words(drill_foot(view, CAPS, width)[:1])
        assert "voids shock pressed" in first
        assert "Esc  stop" in first
        assert "Z Z  end" in first


def test_the_foot_shows_entries_whole_and_the_first_ones_first() -> None:
    for width in range(40, 160):
        rows = drill_foot(RUNNING, CAPS, width)[1:]
        assert len(rows) == 2
        text = words(rows)
        assert "Space  push" in text
        assert "…" not in text


def test_a_loud_band_is_higher_than_any_other() -> None:
    def grounds(name: str) -> int:
        lines = paint(band_of(VIEWS[name], CAPS), 80, 9, UNICODE)
        return sum(any(role.startswith(name) for _, role in line) for line in lines)

    assert grounds("loud") == 9
    assert grounds("off") == 7
    assert grounds("on") == 7


def test_in_a_test_no_figure_helps_the_learner() -> None:
    scene = Scene(CAPS, UNICODE, Room())
    for name, view in VIEWS.items():
        if view.phase != "running":
            continue
        shown = words(screen_rows(replace(view, mode="test", last_key="", notice=""), scene, 120, 40))
        for word in (
            "a minute",
            "longer than",
            "the rescuer's",
            "to the check",
            "●",
            "shocks",
            "look  ",
            "cue  ",
            "tape  ",
        ):
            assert word not in shown, (name, word)


def test_the_cue_of_a_test_is_not_shown_even_if_a_view_has_one() -> None:
    scene = Scene(CAPS, UNICODE, Room())
    view = replace(VIEWS["test"], cue="Now push.")
    for size in ((80, 24), (120, 40), (40, 15)):
        assert "Now push." not in words(screen_rows(view, scene, *size))


def test_six_injects_have_their_digits_on_a_tall_narrow_screen() -> None:
    injects = tuple(InjectView(digit, f"inject {digit}", "at hand", "Play it.") for digit in range(1, 7))
    shown = words(screen_rows(replace(RUNNING, injects=injects), Scene(CAPS, UNICODE, Room(), "Story. " * 40), 80, 32))
    for digit in range(1, 7):
        assert f" {digit}  inject {digit}" in shown


def test_the_card_without_a_room_says_what_is_missing() -> None:
    shown = words(card_rows(Room(), 80, 24, CAPS, UNICODE))
    assert NO_NUMBER in shown
    assert NO_ADDRESS in shown


@pytest.mark.parametrize("size", [(34, 12), (40, 15), (80, 24), (120, 40)])
def test_the_card_gives_its_five_things_at_every_size(size: tuple[int, int]) -> None:
    room = Room("112", "Net Loft, Quay 4", "the market hall")
    shown = words(card_rows(room, *size, CAPS, UNICODE))
    for word in ("no", "Shout", "Phone 112", "Net Loft", "push hard", "real unit"):
        assert word in " ".join(shown.split()), word
    assert len(shown.splitlines()) == size[1]


@pytest.mark.parametrize("width", [72, 80, 120])
@pytest.mark.parametrize("state", ["in force", "not in force yet", "approved later than today", "review date passed"])
def test_how_a_protocol_is_approved_and_what_it_relaxes_is_never_cut(state: str, width: int) -> None:
    approval = f"{state}, 12 rules relaxed"
    view = replace(RUNNING, approval=approval, title="Quay adult basic life support", unit="laptop")
    rows = screen_rows(view, Scene(CAPS, UNICODE, Room()), width, 24)
    head = ["".join(text for text, _ in row) for row in rows[:2]]
    assert any(f" {approval} " in line for line in head), head
    assert "not endorsed" in head[0] and "since go" in head[0] and "Quay a" in head[0] and "1 shock" in head[1]
