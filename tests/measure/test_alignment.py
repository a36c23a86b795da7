"""The cheapest reading through an automaton: against pm4py's committed costs, and its order of choice."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.measure.align import align
from coach.measure.alignment import Model, Move, sequence

PM4PY: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "outside" / "pm4py-costs.json").read_text(encoding="utf-8")
)


def model_of(case: dict[str, Any]) -> Model:
    moves = tuple(Move(src, dst, label) for src, dst, label in case["moves"])
    return Model(case["states"], moves, 0, frozenset(case["finals"]))


def test_costs_equal_those_of_pm4py() -> None:
    cases = [*PM4PY["cases"], *PM4PY["timed"]]
    assert len(cases) > 300 and max(case["cost"] for case in cases) > 8
    wrong = [case for case in cases if model_of(case).align(case["seen"]).cost != case["cost"]]
    assert wrong == []


@pytest.mark.parametrize("case", PM4PY["cases"][:40])
def test_a_reading_is_a_path_and_its_pieces_add_up_to_the_cost(case: dict[str, Any]) -> None:
    found = model_of(case).align(case["seen"])
    assert sum(read.kind != "done" for read in found.reads) == found.cost
    assert [read.at for read in found.reads if read.at is not None] == list(range(len(case["seen"])))
    for read in found.reads:
        if read.kind == "done":
            assert read.move is not None and read.at is not None and read.move.label == case["seen"][read.at]


@given(st.lists(st.sampled_from(["a", "b", "c"]), max_size=6), st.lists(st.sampled_from(["a", "b", "c"]), max_size=6))
def test_on_a_plain_sequence_it_reads_as_the_plain_aligner_does(expected: list[str], seen: list[str]) -> None:
    found = sequence(expected).align(seen)
    matched, cost = align([{label} for label in expected], seen)
    assert found.cost == cost
    done = {read.move.step: read.at for read in found.reads if read.kind == "done" and read.move is not None}
    assert [done.get(str(place)) for place in range(len(expected))] == matched


def test_costs_are_weighed() -> None:
    model = sequence(["a", "b"], [5, 1])
    assert model.align(["b"]).cost == 5
    assert model.align(["x", "a", "b"], extra=3).cost == 3
    assert model.align(["x", "y", "a", "b"], extra=[3, 4, 1, 1]).cost == 7


def test_of_equal_readings_omitted_comes_before_extra_from_the_left() -> None:
    kinds = [read.kind for read in sequence(["a", "b"]).align(["b", "a"]).reads]
    assert kinds == ["omitted", "done", "extra"]


def test_free_moves_cost_nothing_and_their_circles_end() -> None:
    model = Model(3, (Move(0, 1), Move(1, 0), Move(1, 2, "a"), Move(2, 0)), 0, frozenset({0}))
    found = model.align(["a", "a"])
    assert found.cost == 0 and [read.kind for read in found.reads] == ["done", "done"]


def test_a_move_that_cannot_be_left_out_makes_what_follows_extra() -> None:
    model = Model(3, (Move(0, 1, "a", None), Move(1, 2, "b")), 0)
    found = model.align(["b"])
    assert found.cost == 1 and [read.kind for read in found.reads] == ["extra"]
