"""The writer: the line is in the file before the screen shows the key, and on the medium a moment later.

``write`` hands the whole line to the system in one call, in the caller's thread: a killed process loses nothing whose
write had returned. One thread makes it last (fsync), at most every 250 ms, at once where a line is urgent; a slow disk
never holds up a key. When a write fails the drill goes on: all lines stay in memory in order, each later write tries
again, and a second folder gets the whole record.
"""

from __future__ import annotations

import contextlib
import errno
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Protocol

from coach.log.chain import Chain
from coach.log.disk import Disk, in_words, write_all
from coach.log.lines import LogProblem

SYNC_EVERY_S = 0.25
"""Shortest time between two syncs that nobody asked for at once (a choice of ours)."""

CLOSE_PATIENCE_S = 5.0
"""How long closing waits for a sync that hangs, before it gives the terminal back and says so. Our own choice."""


class Log(Protocol):
    """What a drill asks of its log."""

    @property
    def saved(self) -> bool:
        """Whether every line so far is in a file, whole and in order."""
        ...

    @property
    def problem(self) -> str:
        """What a person must know about where the log is; empty while all is well."""
        ...

    @property
    def alarm(self) -> str:
        """The same for one line of a screen, of 80 columns with room to spare."""
        ...

    @property
    def content(self) -> bytes:
        """The whole record so far, as a file holds it."""
        ...

    @property
    def path(self) -> Path | None:
        """The file that holds the record, or would."""
        ...

    @property
    def seq(self) -> int:
        """The number that the next line will have."""
        ...

    def write(self, line: Mapping[str, Any], urgent: bool = False) -> str:
        """Append a line (without ``seq`` and ``h``); its ``h``. Never raises for what a disk does."""
        ...

    def close(self) -> None:
        """Write out, sync, let go. Again is harmless."""
        ...


class MemoryLog:
    """The same in memory, for tests and for drills that are not to be kept."""

    path: Path | None = None
    saved = True
    problem = ""
    alarm = ""

    def __init__(self) -> None:
        self._chain = Chain()
        self._all = bytearray()
        self.closed = False

    @property
    def seq(self) -> int:
        """The number of the next line."""
        return self._chain.seq

    @property
    def content(self) -> bytes:
        """The bytes that a file would hold."""
        return bytes(self._all)

    def write(self, line: Mapping[str, Any], urgent: bool = False) -> str:
        """Append a line; its ``h``."""
        _still_open(self.closed)
        self._all += self._chain.add(line)
        return self._chain.h

    def close(self) -> None:
        """No more lines."""
        self.closed = True


class _Place:
    """One file that the record goes to: how far it has come there, and what stopped it."""

    def __init__(self, path: Path, fd: int = -1, done: int = 0) -> None:
        self.path = path
        self.fd = fd
        self.done = done
        self.stopped: OSError | None = None
        self.lost = False
        """A failed sync may have thrown away what was written; nothing more is trusted to this file."""

    def open(self, disk: Disk) -> None:
        fd = disk.create(self.path)
        if not disk.lock(fd):
            disk.close(fd)
            raise OSError(errno.EBUSY, "another program holds the new file")
        self.fd = fd
        # Some file systems cannot sync a folder; the line is in the file all the same.
        with contextlib.suppress(OSError):
            disk.sync_folder(self.path.parent)

    def take(self, disk: Disk, everything: bytearray) -> bool:
        """Bring the file up to ``everything``; whether it holds all of it."""
        if self.lost:
            return False
        try:
            if self.fd < 0:
                self.open(disk)
        except OSError as problem:
            self.stopped = problem
            return False
        took, self.stopped = write_all(disk, self.fd, bytes(everything[self.done :]))
        self.done += took
        return self.stopped is None


class LogWriter:
    """The log of one drill in a file. One thread writes; it alone calls the methods here."""

    def __init__(
        self,
        path: Path,
        *,
        fallback: Path | None = None,
        disk: Disk | None = None,
        sync_every_s: float = SYNC_EVERY_S,
        held: tuple[int, Chain, bytes] | None = None,
    ) -> None:
        """Begin a new log at ``path``; ``fallback`` is the file for the whole record should that one fail.

        LogProblem if there is a file at ``path`` already: a log is never written over. Any other trouble is in
        :attr:`problem`, and the drill goes on. ``held`` is for reopening only: the open and locked file, the end of
        its chain and its content.
        """
        self._disk = disk or Disk()
        self._chain = Chain()
        self._all = bytearray()
        self._places = [_Place(path)]
        if held is not None:
            fd, self._chain, content = held
            self._all += content
            self._places = [_Place(path, fd, len(content))]
        if fallback is not None:
            self._places.append(_Place(fallback))
        self._at = self._places[0]
        self._closed = False
        self._hung = False
        first = self._places[0]
        if not first.take(self._disk, self._all) and isinstance(first.stopped, FileExistsError):
            raise LogProblem(path, 0, "there is a file of this name already", "choose another drill id; logs are kept")
        self._syncer = _Syncer(self._disk, sync_every_s)
        if first.stopped is not None:
            self._bring_up()

    @property
    def saved(self) -> bool:
        """Whether every line so far has been taken by the system for one file, whole and in order."""
        return self._at.fd >= 0 and self._at.done == len(self._all) and not self._lost(self._at)

    @property
    def problem(self) -> str:
        """In words, empty while the log is where it should be: not saved and why, or saved elsewhere."""
        first = self._places[0]
        if not self.saved:
            whys = "; ".join(f"{in_words(p.stopped)} ({p.path})" for p in self._places if p.stopped is not None)
            now = (
                "It was kept in memory only"
                if self._closed
                else "The drill goes on in memory and every key tries again"
            )
            return f"NOT SAVED: {whys}. {now}."
        if self._hung:
            return f"The disk did not answer: the last lines of {self._at.path} may not survive a power cut."
        if self._at is not first and first.stopped is not None:
            return f"Saved in {self._at.path}, not in {first.path.parent}: {in_words(first.stopped)}."
        return ""

    @property
    def alarm(self) -> str:
        """:attr:`problem` in one short line, without paths."""
        first = self._places[0]
        if not self.saved:
            why = next((in_words(place.stopped) for place in self._places if place.stopped is not None), "unknown why")
            return f"NOT SAVED: {why[:40]}. In memory; each key tries again."
        return f"Saved in another folder: {in_words(first.stopped)[:40]}." if self.problem and first.stopped else ""

    @property
    def path(self) -> Path:
        """The file that holds the whole record; while none does, the one it should be in."""
        return self._at.path

    @property
    def seq(self) -> int:
        """The number that the next line will have."""
        return self._chain.seq

    @property
    def content(self) -> bytes:
        """The whole record so far, as a file would hold it."""
        return bytes(self._all)

    def write(self, line: Mapping[str, Any], urgent: bool = False) -> str:
        """Append a line; its ``h``. When this returns and :attr:`saved` is true, a killed process does not lose it.

        ``urgent`` asks for the sync at once (verdict, shock, pause, end). ValueError or TypeError for a line that is
        not JSON or not next: a mistake in the program, and nothing is written.
        """
        _still_open(self._closed)
        at = self._at
        whole = at.done == len(self._all) and at.fd >= 0 and not self._lost(at)
        data = self._chain.add(line)
        self._all += data
        if whole:
            took, at.stopped = write_all(self._disk, at.fd, data)
            at.done += took
            if at.stopped is None:
                self._syncer.ask(at.fd, urgent)
                return self._chain.h
        self._bring_up()
        return self._chain.h

    def move_to(self, path: Path) -> bool:
        """Put the whole record into a new file that a person has named, and go on there; whether that worked."""
        _still_open(self._closed)
        place = _Place(path)
        self._places.append(place)
        if place.take(self._disk, self._all):
            self._go_on_in(place)
        return self._at is place

    def close(self) -> None:
        """Write out what is still in memory, sync, and let the files go. Again is harmless.

        Read :attr:`saved` and :attr:`problem` afterwards.
        """
        if self._closed:
            return
        self._closed = True
        self._hung = not self._syncer.finish(CLOSE_PATIENCE_S)
        # The last try, the proper folder first: by now there may be room again.
        for place in self._places:
            if not self._lost(place) and place.take(self._disk, self._all) and (self._hung or self._sync_now(place)):
                self._at = place
                break
        for place in self._places:
            if place.fd >= 0 and not self._hung:
                self._disk.close(place.fd)

    def _sync_now(self, place: _Place) -> bool:
        try:
            self._disk.sync(place.fd)
        except OSError as problem:
            place.stopped, place.lost = problem, True
        return not place.lost

    def _lost(self, place: _Place) -> bool:
        """Whether the sync thread has found that this file cannot be trusted."""
        failed = self._syncer.failed.get(place.fd)
        if failed is not None:
            place.stopped, place.lost = failed, True
        return place.lost

    def _bring_up(self) -> None:
        """Find a file that takes everything: the one in use, else the others in order."""
        for place in sorted(self._places, key=lambda p: p is not self._at):
            if not self._lost(place) and place.take(self._disk, self._all):
                self._go_on_in(place)
                return

    def _go_on_in(self, place: _Place) -> None:
        self._at = place
        self._syncer.ask(place.fd, True)


class _Syncer:
    """The one thread that syncs. Requests that come while it is busy or resting become one."""

    def __init__(self, disk: Disk, every_s: float) -> None:
        self.failed: dict[int, OSError] = {}
        """Descriptors whose sync failed, with why."""
        self._disk = disk
        self._every_s = every_s
        self._change = threading.Condition()
        self._wanted = -1
        self._urgent = False
        self._finishing = False
        self._thread = threading.Thread(target=self._run, name="log-sync", daemon=True)
        self._thread.start()

    def ask(self, fd: int, urgent: bool) -> None:
        """Have ``fd`` synced soon, or at once. Costs the caller microseconds."""
        with self._change:
            idle = self._wanted < 0
            self._wanted = fd
            self._urgent = self._urgent or urgent
            if idle or urgent:
                self._change.notify()

    def finish(self, patience_s: float) -> bool:
        """Do what was asked, then stop; false if the disk kept the thread longer than ``patience_s``."""
        with self._change:
            self._finishing = True
            self._change.notify()
        self._thread.join(patience_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        last = float("-inf")
        while True:
            with self._change:
                while self._wanted < 0 and not self._finishing:
                    self._change.wait()
                if self._wanted < 0:
                    return
                while not self._urgent and not self._finishing:
                    left = last + self._every_s - time.monotonic()
                    if left <= 0:
                        break
                    self._change.wait(left)
                fd, self._wanted, self._urgent = self._wanted, -1, False
            try:
                self._disk.sync(fd)
            except OSError as problem:
                self.failed[fd] = problem
            last = time.monotonic()


def _still_open(closed: bool) -> None:
    if closed:
        raise ValueError("the log is closed")
