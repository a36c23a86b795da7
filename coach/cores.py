"""The machine's cores: how many there are, and work shared out among processes."""

from __future__ import annotations

import os
import pickle
import sys
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import redirect_stderr
from dataclasses import dataclass
from functools import lru_cache
from multiprocessing import get_context, resource_tracker
from types import TracebackType
from typing import Any, Generic, TypeVar

T = TypeVar("T")
R = TypeVar("R")


def cores() -> int:
    """The cores that this program may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Workers:
    """This process and others beside it, ``number`` in all (as many as there are cores, where it is left out). The
    others are started when there is work for them and ended with the ``with`` block; one alone starts none."""

    def __init__(self, number: int | None = None) -> None:
        self.number = cores() if number is None else number
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Workers:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=kind is None, cancel_futures=True)

    def each(self, look: Callable[[T], R], tasks: Sequence[T], own: Callable[[T], R] | None = None) -> list[R]:
        """What ``look`` gives of each task, in their order. This process takes tasks from the end, with ``own`` where
        that is given; the others, from when they are worth it, from the front. ``look`` stands at the top of a module:
        it and the tasks travel."""
        own = own or look
        until = time.monotonic() + (PATIENCE if self._pool is None and not _forks() else 0)
        done: list[R] = []
        while len(done) < len(tasks) and (self.number < 2 or len(tasks) - len(done) < 2 or time.monotonic() < until):
            done.append(own(tasks[-1 - len(done)]))
        left = tasks[: len(tasks) - len(done)]
        if left and self._pool is None:
            self._pool = _pool(self.number - 1)
        waiting = [self._pool.submit(look, task) for task in left] if self._pool is not None else []
        while waiting and waiting[-1].cancel():
            waiting.pop()
            done.append(own(tasks[len(waiting)]))
        return [*(one.result() for one in waiting), *reversed(done)]


ALONE = Workers(1)
"""This process and no other."""


PATIENCE = 0.5
"""Seconds of work after which processes are started that have to read everything anew: that takes them about as
long."""


def _forks() -> bool:
    """Whether another process may be a fork of this one, which knows what this one has read: safe only where no other
    thread runs."""
    return sys.platform == "linux" and threading.active_count() == 1


def _pool(number: int) -> ProcessPoolExecutor:
    if _forks():
        return ProcessPoolExecutor(number, get_context("fork"))
    with redirect_stderr(sys.__stderr__):  # the screens put something in its place that no process can inherit
        resource_tracker.ensure_running()
    return ProcessPoolExecutor(number, get_context("spawn"))


@dataclass(frozen=True, slots=True)
class Packed(Generic[T]):
    """A value that many tasks share: packed up once, and unpacked once by each process that asks for it."""

    data: bytes

    @classmethod
    def of(cls, value: T) -> Packed[T]:
        """Pack a value up."""
        return cls(pickle.dumps(value))

    def value(self) -> T:
        """The value; not to be changed, since others have it too."""
        found: T = _unpacked(self.data)
        return found


@lru_cache(maxsize=2)
def _unpacked(data: bytes) -> Any:
    return pickle.loads(data)
