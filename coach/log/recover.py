"""What a crash leaves behind: drills without an end are found, resumed with their hole, or closed as interrupted.

Looking changes nothing. Taking a log up again moves the bytes of a torn last line to a file beside it and goes on with
the chain. A log that another program is writing at this moment is left alone.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from coach.clock import Clock
from coach.log.chain import Chain
from coach.log.disk import Disk, in_words, write_all
from coach.log.lines import LogProblem
from coach.log.reading import Record, read_log
from coach.log.writing import LogWriter

TAIL = 256 * 1024
"""Bytes read from the end of a file to see at once that its drill ended, so that a year's logs take a moment."""

RESTART_MARGIN = timedelta(seconds=60)
"""How far the wall and the boot-time clock may drift apart before it reads as a restart. Our own choice."""


class LogBusy(LogProblem):
    """Another program is writing this log."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, 0, "another kneeside is writing this log", "end the drill there first")


@dataclass(frozen=True, slots=True)
class Hole:
    """The stretch that nobody saw, in ms since go; ``machine_restarted`` as far as the clocks can tell."""

    t_from: int
    t_to: int
    machine_restarted: bool


@dataclass(frozen=True, slots=True)
class Interrupted:
    """A drill without an end; ``written`` is when its file last changed (UTC)."""

    record: Record
    written: datetime

    @property
    def path(self) -> Path:
        """The log's file."""
        return self.record.path

    def hole(self, clock: Clock) -> Hole:
        """What is missing if the drill goes on now. The wall clock is all there is; set back, it gives no length."""
        head = self.record.head
        now = clock.wall()
        missing = max(now - self.written, timedelta(0))
        last = self.record.last_t
        # The boot-time clock gains all that passed since the header, unless it began anew in between.
        since_header = now - _utc(head.wall, now)
        gained = timedelta(milliseconds=clock.boot_ms() - head.mono)
        restarted = gained < timedelta(0) or gained < since_header - RESTART_MARGIN
        return Hole(last, last + missing // timedelta(milliseconds=1), restarted)


@dataclass(frozen=True, slots=True)
class Found:
    """What a look through the folders found: drills to offer, newest first, and logs that do not fit."""

    interrupted: tuple[Interrupted, ...]
    unreadable: tuple[LogProblem, ...] = field(default=())


def find_interrupted(folders: Iterable[Path], *, disk: Disk | None = None) -> Found:
    """The drills in ``folders`` that have no end and that nobody is writing now.

    Of two files of one drill (the disk was full, the whole record went to the second folder) the longer counts where
    it begins as the shorter; both are offered where they part. A file that holds no whole line is nothing to resume.
    """
    disk = disk or Disk()
    found: list[Interrupted] = []
    unreadable: list[LogProblem] = []
    paths = [path for folder in folders for path in _logs(folder)]
    for number, path in enumerate(paths):
        try:
            if _ends(path) or disk.is_written_now(path):
                continue
            written = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            if b"\n" not in _tail(path):
                continue
            record = read_log(path)
            twins = [(n, other) for n, other in enumerate(paths) if other.name == path.name and other != path]
            if not record.sealed and not any(_goes_on(twin, record, n < number) for n, twin in twins):
                found.append(Interrupted(record, written))
        except OSError as problem:
            unreadable.append(LogProblem(path, 0, f"it cannot be read: {in_words(problem)}", "look at the folder"))
        except LogProblem as problem:
            unreadable.append(problem)
    found.sort(key=lambda drill: drill.written, reverse=True)
    return Found(tuple(found), tuple(unreadable))


def resume(path: Path, *, fallback: Path | None = None, disk: Disk | None = None) -> tuple[LogWriter, Interrupted]:
    """Take an interrupted drill up again: its writer, and what was there. The drill writes ``hole`` and ``recovered``.

    LogProblem if the log does not fit or has ended, LogBusy if it is being written.
    """
    return _take_up(path, fallback, disk or Disk(), sealed=False)


def add_to(path: Path, *, disk: Disk | None = None) -> tuple[LogWriter, Record]:
    """Open the log of a drill that has ended, for what people say of it afterwards.

    LogProblem if the log does not fit or has no end, LogBusy if it is being written.
    """
    writer, was = _take_up(path, None, disk or Disk(), sealed=True)
    return writer, was.record


def close_interrupted(path: Path, clock: Clock, *, disk: Disk | None = None) -> Record:
    """End an interrupted drill at its last line; ``wall`` in the new line says when this was done.

    LogProblem as :func:`resume`, and if the line cannot be written: the drill is then as open as before.
    """
    writer, was = resume(path, disk=disk)
    t, e = was.record.last_t, was.record.last_e
    wall = clock.wall().strftime("%Y-%m-%dT%H:%M:%SZ")
    end = {"t": t, "e": e, "kind": "end", "reason": "interrupted", "end_t": t, "end_e": e, "wall": wall}
    writer.write(end, urgent=True)
    writer.close()
    if not writer.saved:
        raise LogProblem(path, 0, writer.problem, "free space on the disk, then close the drill again")
    return read_log(path)


def _take_up(path: Path, fallback: Path | None, disk: Disk, *, sealed: bool) -> tuple[LogWriter, Interrupted]:
    try:
        fd = disk.reopen(path)
    except OSError as problem:
        read_log(path)  # a better word for what is no log at all
        todo = "check who may write this file"
        raise LogProblem(path, 0, f"it cannot be opened for writing: {in_words(problem)}", todo) from None
    with contextlib.ExitStack() as undo:
        undo.callback(disk.close, fd)
        if not disk.lock(fd):
            raise LogBusy(path)
        written = datetime.fromtimestamp(os.fstat(fd).st_mtime, UTC)
        record = read_log(path)
        if record.sealed != sealed:
            what = "the drill has ended" if record.sealed else "the drill has no end yet"
            raise LogProblem(path, 0, what, "begin a new drill" if record.sealed else "resume it, or close it first")
        if record.torn:
            try:
                _put_aside(record, fd, disk)
            except OSError as problem:
                what = f"its torn last line cannot be put aside: {in_words(problem)}"
                raise LogProblem(path, 0, what, "free space on the disk, then try again") from None
        content = path.read_bytes()[: record.size]
        undo.pop_all()
    chain = Chain(len(record.lines) + 1, record.h)
    return LogWriter(path, fallback=fallback, disk=disk, held=(fd, chain, content)), Interrupted(record, written)


def _put_aside(record: Record, fd: int, disk: Disk) -> None:
    """Move the torn bytes to a file beside the log: safe there before they are cut off here."""
    number = 1
    while True:
        beside = record.path.with_name(record.path.name + (".torn" if number == 1 else f".torn{number}"))
        try:
            aside = disk.create(beside)
            break
        except FileExistsError:
            number += 1
    try:
        _, problem = write_all(disk, aside, record.torn)
        if problem is not None:
            raise problem
        disk.sync(aside)
    finally:
        disk.close(aside)
    disk.truncate(fd, record.size)
    disk.sync(fd)


def _logs(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.suffix == ".jsonl" and path.is_file())
    except OSError:
        return []  # no folder, no drills; one that cannot be listed is told when a drill is written


def _tail(path: Path) -> bytes:
    with path.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(0, size - TAIL))
        return file.read(TAIL)


def _ends(path: Path) -> bool:
    """Whether an ``end`` stands near the end of the file: a quick look, the chain unseen."""
    for raw in reversed(_tail(path).split(b"\n")[:-1]):
        if b'"kind":"end"' in raw:  # quotes inside a text are escaped, so this is a member
            with contextlib.suppress(ValueError, RecursionError):
                line = json.loads(raw)
                if isinstance(line, dict) and line.get("kind") == "end":
                    return True
    return False


def _goes_on(other: Path, record: Record, earlier: bool) -> bool:
    """Whether ``other`` holds all of ``record`` and more, or the same and stands in an ``earlier`` folder."""
    try:
        longer = read_log(other)
    except LogProblem:
        return False
    at = len(record.lines)
    if len(longer.lines) < at or (len(longer.lines) == at and not earlier):
        return False
    there = longer.lines[at - 1] if at else longer.header
    return bool(there["h"] == record.h)


def _utc(text: str, otherwise: datetime) -> datetime:
    try:
        wall = datetime.fromisoformat(text)
    except ValueError:
        return otherwise
    return wall if wall.tzinfo is not None else wall.replace(tzinfo=UTC)
