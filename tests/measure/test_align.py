"""The cheapest reading of what was seen: known cases, and a brute-force oracle."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.measure.align import align


@pytest.mark.parametrize(
    ("expected", "seen", "matched", "cost"),
    [
        ("abc", "abc", [0, 1, 2], 0),
        ("abc", "ac", [0, None, 1], 1),
        ("abc", "acb", [0, None, 1], 2),  # b omitted and b extra: omitted comes first, from the left
        ("abc", "", [None, None, None], 3),
        ("", "ab", [], 2),
        ("ab", "aab", [0, 2], 1),
        ("aba", "aba", [0, 1, 2], 0),
        ("abcd", "dabc", [1, 2, 3, None], 2),
    ],
)
def test_known_cases(expected: str, seen: str, matched: list[int | None], cost: int) -> None:
    assert align([frozenset(step) for step in expected], list(seen)) == (matched, cost)


def test_a_step_may_be_done_by_either_of_two_things() -> None:
    assert align([{"a"}, {"b", "c"}], ["a", "c"]) == ([0, 1], 0)


@given(st.text("abcd", max_size=7), st.text("abcd", max_size=7))
def test_the_cost_is_the_least_and_the_matches_are_in_order(expected: str, seen: str) -> None:
    @cache
    def least(i: int, j: int) -> int:
        if i == len(expected) or j == len(seen):
            return len(expected) - i + len(seen) - j
        options = [1 + least(i + 1, j), 1 + least(i, j + 1)]
        if expected[i] == seen[j]:
            options.append(least(i + 1, j + 1))
        return min(options)

    matched, cost = align([frozenset(step) for step in expected], list(seen))
    hits = [index for index in matched if index is not None]
    assert cost == least(0, 0) == len(expected) + len(seen) - 2 * len(hits)
    assert hits == sorted(set(hits))
    assert all(index is None or seen[index] == step for step, index in zip(expected, matched, strict=True))
