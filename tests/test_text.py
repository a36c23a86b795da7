"""Hostile text is made harmless, and all other text is left alone."""

from __future__ import annotations

import csv
import io
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.text import clean, csv_cell, nearest, one_line


@pytest.mark.parametrize(
    ("given_text", "kept"),
    [
        ("\x1b]0;owned\x07title", "]0;ownedtitle"),
        ("a\x9b31mb", "a31mb"),
        ("abc\u202edcb", "abcdcb"),
        ("one\u200btwo\ufeff", "onetwo"),
        ("line\r\nnext\ttab", "line\nnext\ttab"),
        ("a\u2028b", "a\nb"),
        ("\ud800x", "x"),
        ("\U000e0041tag", "tag"),
        ("Schön – 30:2 ✓ 心 [b]", "Schön – 30:2 ✓ 心 [b]"),
    ],
)
def test_clean_takes_out_what_could_steer_a_terminal_and_keeps_the_rest(given_text: str, kept: str) -> None:
    assert clean(given_text) == kept


@given(st.text(st.characters(codec=None)))
def test_cleaning_twice_is_cleaning_once_and_leaves_no_control_character(text: str) -> None:
    cleaned = clean(text)
    assert clean(cleaned) == cleaned
    assert all(unicodedata.category(char) not in {"Cc", "Cs"} or char in "\n\t" for char in cleaned)
    assert all(unicodedata.bidirectional(char) not in {"RLO", "LRO", "RLE", "LRE", "PDF", "RLI"} for char in cleaned)
    cleaned.encode("utf-8")


def test_one_line_is_one_line() -> None:
    assert one_line(" a\n\t b\u2029c ") == "a b c"


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-2+3", "@SUM(A1)", "\t=1", " =1", "\x00=1", "＝1", "\n=1"])
def test_no_cell_starts_a_formula(text: str) -> None:
    out = io.StringIO()
    csv.writer(out).writerow([csv_cell(text)])
    (row,) = csv.reader(io.StringIO(out.getvalue(), newline=""))
    assert row[0].startswith("'")


def test_ordinary_cells_stay_as_they_are() -> None:
    assert csv_cell("clear called, 12 s - good") == "clear called, 12 s - good"


def test_nearest_finds_the_slip_and_nothing_far() -> None:
    words = ["clear_called", "call_made", "shock_pressed"]
    assert nearest("clear_caled", words) == "clear_called"
    assert nearest("Call-Made", words) == "call_made"
    assert nearest("xyzzy", words) is None
    assert nearest("c" * 100_000, words) is None
    assert nearest("no", ["on", "to"]) == "on"
    assert nearest("a", []) is None
