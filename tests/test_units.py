"""Quantities are exact at every boundary that decides something."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.units import (
    centimetres,
    clock,
    duration_text,
    grams,
    held,
    month_parts,
    parse_duration,
    parse_quantity,
    quantity_text,
)


@pytest.mark.parametrize(
    ("text", "ms"), [("500 ms", 500), ("10 s", 10_000), ("2 min", 120_000), ("1.5 s", 1_500), ("2min", 120_000)]
)
def test_durations_are_whole_milliseconds(text: str, ms: int) -> None:
    assert parse_duration(text) == ms


@pytest.mark.parametrize(
    ("value", "word"),
    [
        ("10", "unit is missing"),
        (10, "unit is missing"),
        (2.5, "unit is missing"),
        ("0 s", "zero"),
        ("0.0004 s", "whole number"),
        ("5 kg", "no unit of time"),
        ("5 sec", "unknown unit"),
        ("-5 s", "number and a unit"),
        ("1e3 s", "number and a unit"),
        ("", "number and a unit"),
        ("3 days", "unknown unit"),
        ("1500 min", "more than a day"),
        (True, "text with a unit"),
        (["10 s"], "text with a unit"),
        ("٣ s", "number and a unit"),
    ],
)
def test_a_bad_duration_says_what_is_wrong(value: object, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        parse_duration(value)


@given(st.integers(1, 24 * 3_600_000))
def test_duration_text_reads_back(ms: int) -> None:
    assert parse_duration(duration_text(ms)) == ms


@pytest.mark.parametrize(
    ("ms", "text"), [(0, "0:00"), (999, "0:00"), (59_999, "0:59"), (725_000, "12:05"), (-1_000, "-0:01")]
)
def test_clock(ms: int, text: str) -> None:
    assert clock(ms) == text


def test_pounds_and_inches_are_those_of_the_1959_agreement() -> None:
    assert grams("55 lb") == Fraction("24947.58035")
    assert grams("55 lb") < grams("25 kg") < grams("55.12 lb")  # arithmetic: 25 kg is 55.116 lb
    assert grams("55.11 lb") < grams("25 kg")
    assert centimetres("2 in") == Fraction("5.08")
    assert centimetres("2.4 in") == Fraction("6.096")
    assert centimetres("50 mm") == 5


def test_decimals_are_what_is_written() -> None:
    assert grams(24.9, "kg") == 24_900
    assert month_parts(7.9, "year") == 94_800
    assert month_parts("6 months") == 6_000
    assert month_parts("0.5 years") == month_parts("6 months")
    assert grams("25", "kg") == grams(25, "kg") == 25_000


def test_a_weight_without_a_unit_is_refused() -> None:
    with pytest.raises(ValueError, match="kg, lb or g"):
        grams("25")
    with pytest.raises(ValueError, match="kg, lb or g"):
        grams("25 years")
    with pytest.raises(ValueError, match="years or months"):
        month_parts("25 kg")
    with pytest.raises(ValueError, match="below zero"):
        grams(-1.0, "kg")
    with pytest.raises(ValueError, match="not a number"):
        grams(float("nan"), "kg")
    with pytest.raises(ValueError, match="not a number"):
        month_parts(float("inf"), "year")


def test_held_facts_are_whole_numbers() -> None:
    assert held(24.9, "kg") == 24_900
    assert held("55 lb", "kg") == 24_947
    assert held("6 months", "year") == 6_000
    assert held(2.0, "person") == 2
    with pytest.raises(ValueError, match="whole number"):
        held(1.5, "person")
    with pytest.raises(ValueError, match="number"):
        held(True, "")


@given(st.fractions(0, 200_000, max_denominator=100_000), st.integers(0, 200_000))
def test_cutting_to_whole_grams_never_changes_a_comparison_with_a_whole_constant(
    exact: Fraction, constant: int
) -> None:
    assert (int(exact) < constant) == (exact < constant)
    assert (int(exact) >= constant) == (exact >= constant)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (24_900, "kg", "24.9 kg"),
        (6_000, "year", "6 months"),
        (12_000, "month", "1 year"),
        (94_800, "year", "7.9 years"),
        (1_000, "month", "1 month"),
        (2, "person", "2"),
    ],
)
def test_quantities_read_well(value: int, unit: str, text: str) -> None:
    assert quantity_text(value, unit) == text


def test_parse_quantity_keeps_number_and_unit() -> None:
    assert parse_quantity("110 /min") == (110, "/min")
    assert parse_quantity("80%") == (80, "%")
    assert parse_quantity("30") == (30, "")
