"""Work shared out among processes: in order, in this process too, and with nothing lost where one of them fails."""

from __future__ import annotations

import gc
import os
import threading

import pytest

from coach import cores
from coach.cores import ALONE, Packed, Workers


def looked(task: int) -> tuple[int, int]:
    return task * task, os.getpid()


def refuses(task: int) -> int:
    if task == 2:
        raise ValueError("two")
    return task


def unpacked(packed: Packed[list[int]]) -> list[int]:
    return packed.value()


@pytest.mark.parametrize("number", [1, 2, 3])
def test_the_answers_come_in_the_order_of_the_tasks(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "PATIENCE", 0.0)
    with Workers(number) as workers:
        for count in (0, 1, 2, 40):
            assert [square for square, _ in workers.each(looked, range(count))] == [one * one for one in range(count)]


@pytest.mark.parametrize("threaded", [False, True])
def test_others_take_part_and_this_process_in_its_own_way(threaded: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside another thread too, where no process may be forked."""
    monkeypatch.setattr(cores, "PATIENCE", 0.0)
    monkeypatch.setattr(threading, "active_count", lambda: 2 if threaded else 1)
    mine: list[int] = []

    def own(task: int) -> tuple[int, int]:
        mine.append(task)
        return looked(task)

    with Workers(2) as workers:
        found = workers.each(looked, range(40), own)
    beside = [task for task, (_, process) in enumerate(found) if process != os.getpid()]
    assert beside, "another process took some"
    assert sorted([*mine, *beside]) == list(range(40))
    assert beside == list(range(len(beside))), "the others take from the front"


def test_what_goes_wrong_in_another_process_is_heard_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "PATIENCE", 0.0)
    with pytest.raises(ValueError, match="two"), Workers(2) as workers:
        workers.each(refuses, range(20))


def test_short_work_starts_no_process_beside_a_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(threading, "active_count", lambda: 2)
    with Workers(2) as workers:
        assert {process for _, process in workers.each(looked, range(20))} == {os.getpid()}


def test_what_many_tasks_share_is_unpacked_once() -> None:
    packed = Packed.of([1, 2])
    first, second = ALONE.each(unpacked, [packed, Packed.of([1, 2])])
    assert first == [1, 2]
    assert second is first


def test_no_rings_are_looked_for_meanwhile_and_then_as_before() -> None:
    assert gc.isenabled()
    with cores.uncollected():
        with cores.uncollected():
            assert not gc.isenabled()
        assert not gc.isenabled()
    assert gc.isenabled()
    with pytest.raises(ValueError, match="two"), cores.uncollected():
        refuses(2)
    assert gc.isenabled()
