"""The machine's cores: how many there are, and work shared out among processes."""

from __future__ import annotations

import gc
import os
import pickle
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager, redirect_stderr
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


@contextmanager
def uncollected() -> Iterator[None]:
    """No search for rings of objects meanwhile: what a proof makes has none, and the search takes a quarter of its
    time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


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
            self._pool.shutdown(cancel_futures=True)

    def each(self, look: Callable[[T], R], tasks: Sequence[T], own: Callable[[T], R] | None = None) -> list[R]:
        """What ``look`` gives of each task, in their order. This process takes tasks from the end, with ``own`` where
        that is given; the others, from when they are worth it, from the front. ``look`` stands at the top of a module:
        it and the tasks travel."""
        own = own or look
        until = time.monotonic() + (PATIENCE if self._pool is None and not _forks() else 0)
        share = _Share(look, tasks)
        while self.number < 2 or share.left() < 2 or time.monotonic() < until:
            if not share.take(own):
                return share.answers()
        self._pool = self._pool or pool(self.number - 1)
        share.offer(self._pool, self.number)  # one more than there are others: nobody waits for the next
        try:
            while share.take(own):
                pass
        except BaseException:
            share.withdraw()
            raise
        return share.answers()


class _Share(Generic[T, R]):
    """Tasks that are handed out from both ends."""

    def __init__(self, look: Callable[[T], R], tasks: Sequence[T]) -> None:
        self._look = look
        self._waiting = deque(enumerate(tasks))
        self._own: dict[int, R] = {}
        self._beside: dict[int, Future[R]] = {}
        self._lock = threading.RLock()  # a task that is done at once is followed by the next in the same breath

    def left(self) -> int:
        """How many tasks nobody has taken."""
        return len(self._waiting)

    def take(self, own: Callable[[T], R]) -> bool:
        """Do the last task here; False where none is left."""
        with self._lock:
            if not self._waiting:
                return False
            place, task = self._waiting.pop()
        self._own[place] = own(task)
        return True

    def offer(self, others: ProcessPoolExecutor, at_once: int) -> None:
        """Let others have the first tasks, so many at once, and with each that is done the next."""

        def hand_over(_: Future[R] | None = None) -> None:
            with self._lock:
                if not self._waiting:
                    return
                place, task = self._waiting.popleft()
                try:
                    future = self._beside[place] = others.submit(self._look, task)
                except BrokenExecutor:  # what nobody can take stays here
                    self._waiting.appendleft((place, task))
                    return
            future.add_done_callback(hand_over)

        for _ in range(at_once):
            hand_over()

    def withdraw(self) -> None:
        """Hand out no more."""
        with self._lock:
            self._waiting.clear()

    def answers(self) -> list[R]:
        """What came out, in the order of the tasks."""
        found = {**self._own, **{place: future.result() for place, future in self._beside.items()}}
        return [found[place] for place in sorted(found)]


ALONE = Workers(1)
"""This process and no other."""


PATIENCE = 0.5
"""Seconds of work after which processes are started that have to read everything anew: that takes them about as
long."""


def _forks() -> bool:
    """Whether another process may be a fork of this one, which knows what this one has read: safe only where no other
    thread runs."""
    return sys.platform == "linux" and threading.active_count() == 1


def pool(number: int) -> ProcessPoolExecutor:
    """Other processes, so many; an interrupt from the keyboard ends them without a word."""
    if _forks():
        return ProcessPoolExecutor(number, get_context("fork"), _quiet)
    with redirect_stderr(sys.__stderr__):  # the screens put something in its place that no process can inherit
        resource_tracker.ensure_running()
    return ProcessPoolExecutor(number, get_context("spawn"), _quiet)


def _quiet() -> None:
    signal.signal(signal.SIGINT, signal.SIG_DFL)


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
