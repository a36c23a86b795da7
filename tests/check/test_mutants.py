"""A seeded hundred of the structural mutants of the base: at least 95 of 100 of those that run otherwise are caught.

All of them, and those of the other files: ``python -m tests.mutants``; dated results lie in ``tests/mutants/results``.
"""

from __future__ import annotations

import random
import tomllib

import pytest

from tests.mutants.catching import Result, catcher
from tests.mutants.making import changed, mutants

BASE = "erc-2025/adult-one-rescuer"
SEED = 2026
PARTS = 4


@pytest.mark.parametrize("part", range(PARTS))
def test_of_a_seeded_hundred_what_runs_otherwise_is_caught(part: int) -> None:
    some = catcher(BASE)
    structural = [one for one in mutants(some.text) if not one.number]
    results = [some.look(one, hasty=True) for one in random.Random(SEED).sample(structural, 100)[part::PARTS]]
    caught = [one for one in results if one.caught]
    missed = [one for one in results if not one.caught and one.differs == "differ"]
    assert len(caught) >= 15
    assert len(missed) <= 0.05 * len(caught), told(missed)


def told(missed: list[Result]) -> str:
    """The survivors, to be read: each is a gap in the golden scripts or in the rules."""
    return "\n".join(f"nothing notices {one.mutant}" for one in missed)


def test_each_mutant_is_one_change_and_no_two_are_the_same() -> None:
    text = catcher(BASE).text
    some = random.Random(SEED).sample(mutants(text), 60)
    made = [changed(text, one) for one in some]
    assert len(set(made)) == len(made)
    assert all(tomllib.loads(one) != tomllib.loads(text) for one in made)


def test_the_shipped_text_itself_is_caught_by_nothing() -> None:
    some = catcher(BASE)
    assert not some.sheet(some.protocol, some.text)
    assert len({str(one) for one in mutants(some.text)}) > 700
