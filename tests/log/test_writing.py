"""Writing: what the writer says is saved is saved, whatever the disk does."""

from __future__ import annotations

import errno
import itertools
import os
import random
import signal
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.clock import SteppedClock
from coach.log import writing
from coach.log.disk import Disk
from coach.log.lines import LogProblem
from coach.log.reading import read_log, verify
from coach.log.writing import Log, LogWriter, MemoryLog
from tests.log.made import SmallDisk, content, drill_lines, end, header, key, save, write_all

numbers = itertools.count()
WHOLE = [*drill_lines(), end(90_000)]
each_time_anew = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)


def wait_for(true: Callable[[], bool], seconds: float = 20) -> None:
    """Until another thread has done it; the bound is there for a broken program only."""
    limit = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < limit, "it never came"
        time.sleep(0.002)


def fresh(tmp_path: Path, name: str = "drills") -> Path:
    """A path for a log in a folder that does not exist yet, a new one for each example."""
    return tmp_path / f"{name}-{next(numbers)}" / "a.jsonl"


def test_the_file_holds_what_memory_holds(tmp_path: Path) -> None:
    path = fresh(tmp_path)
    file: Log = LogWriter(path)
    memory: Log = MemoryLog()
    for number, line in enumerate(WHOLE):
        assert file.seq == memory.seq == number
        assert file.write(line) == memory.write(line)
        assert path.read_bytes() == content(WHOLE[: number + 1])
        assert (file.saved, file.problem, file.path) == (True, "", path)
    file.close()
    file.close()
    assert path.read_bytes() == content(WHOLE)
    assert verify(path).sealed
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    with pytest.raises(ValueError, match="closed"):
        file.write(key(1))


def test_a_log_is_never_written_over(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jsonl", b"something")
    with pytest.raises(LogProblem, match="a file of this name already"):
        LogWriter(path)
    assert path.read_bytes() == b"something"


def test_a_line_that_is_a_mistake_writes_nothing(tmp_path: Path) -> None:
    path = fresh(tmp_path)
    log = LogWriter(path)
    write_all(log, drill_lines())
    with pytest.raises(ValueError, match="the next one is 10"):
        log.write(key(9000, seq=11))
    with pytest.raises(ValueError, match="not JSON compliant"):
        log.write(key(9000, lag=float("nan")))
    log.write(end(90_000))
    log.close()
    assert path.read_bytes() == content(WHOLE)


def test_each_line_is_one_write(tmp_path: Path) -> None:
    disk = SmallDisk(tmp_path / "nothing", 0)
    log = LogWriter(fresh(tmp_path), disk=disk)
    write_all(log, WHOLE)
    assert disk.calls == len(WHOLE)
    log.close()


@given(st.integers(1, 400), st.integers(0, 40))
@each_time_anew
def test_short_and_interrupted_writes_still_make_whole_lines(tmp_path: Path, bite: int, interrupted: int) -> None:
    class Interrupted(SmallDisk):
        left = interrupted

        def write(self, fd: int, data: bytes) -> int:
            if self.left and self.calls % 2:
                self.left -= 1
                self.calls += 1
                raise InterruptedError
            return super().write(fd, data)

    path = fresh(tmp_path)
    log = LogWriter(path, disk=Interrupted(tmp_path / "nothing", 0, bite=bite))
    write_all(log, WHOLE)
    assert log.saved
    assert path.read_bytes() == content(WHOLE)
    log.close()


@given(st.integers(0, len(content(WHOLE)) - 1))
@each_time_anew
def test_a_full_disk_sends_the_whole_record_to_the_second_folder(tmp_path: Path, room: int) -> None:
    path, second = fresh(tmp_path, "full"), fresh(tmp_path, "second")
    log = LogWriter(path, fallback=second, disk=SmallDisk(path.parent, room))
    for number, line in enumerate(WHOLE):
        log.write(line)
        assert log.saved
        assert log.path.read_bytes() == content(WHOLE[: number + 1])
    assert log.path == second
    assert log.problem == f"Saved in {second}, not in {path.parent}: no space left on device."
    log.close()
    assert log.saved and log.path == second and verify(second).sealed
    assert path.read_bytes() == content(WHOLE)[:room]


@given(st.integers(0, len(content(WHOLE)) - 1), st.integers(0, 3))
@each_time_anew
def test_on_a_full_disk_the_drill_goes_on_in_memory_until_there_is_room(
    tmp_path: Path, room: int, writes_after: int
) -> None:
    path = fresh(tmp_path, "full")
    disk = SmallDisk(path.parent, room)
    log = LogWriter(path, disk=disk)
    write_all(log, WHOLE)
    assert not log.saved
    assert log.problem == (
        f"NOT SAVED: no space left on device ({path}). The drill goes on in memory and every key tries again."
    )
    assert path.read_bytes() == content(WHOLE)[:room]
    assert log.content == content(WHOLE)
    disk.room = 1 << 20
    more = [{"t": 90_000, "e": 90_000, "kind": "note", "digest": "x"}] * writes_after
    write_all(log, more)
    assert log.saved == bool(more)
    log.close()
    assert (log.saved, log.problem) == (True, "")
    assert path.read_bytes() == content([*WHOLE, *more])


def test_no_folder_will_take_it(tmp_path: Path) -> None:
    in_the_way = save(tmp_path / "file", b"")
    first, second = in_the_way / "drills" / "a.jsonl", in_the_way / "second" / "a.jsonl"
    log = LogWriter(first, fallback=second)
    assert not log.saved
    write_all(log, WHOLE[:5])
    assert log.problem.startswith("NOT SAVED: ")
    assert str(first) in log.problem and str(second) in log.problem
    assert not log.move_to(in_the_way / "third.jsonl")
    named = tmp_path / "named.jsonl"
    assert log.move_to(named)
    assert (log.saved, log.path) == (True, named)
    write_all(log, WHOLE[5:])
    log.close()
    assert log.saved and named.read_bytes() == content(WHOLE)


def test_an_unwritable_folder_is_known_before_the_first_line(tmp_path: Path) -> None:
    class Unwritable(Disk):
        def create(self, path: Path) -> int:
            if path.is_relative_to(tmp_path / "drills"):
                raise PermissionError(errno.EACCES, "Permission denied")
            return super().create(path)

    second = tmp_path / "second" / "a.jsonl"
    log = LogWriter(tmp_path / "drills" / "a.jsonl", fallback=second, disk=Unwritable())
    assert (log.saved, log.path) == (True, second)
    assert "permission denied" in log.problem
    log.close()


def test_a_file_in_the_place_of_the_folder_is_no_log_written_twice(tmp_path: Path) -> None:
    log = LogWriter(save(tmp_path / "drills", b"") / "a.jsonl")
    assert log.problem.startswith("NOT SAVED: not a folder")
    log.close()


def test_never_saved_is_still_said_after_the_end(tmp_path: Path) -> None:
    path = fresh(tmp_path, "full")
    log = LogWriter(path, disk=SmallDisk(path.parent, 10))
    write_all(log, WHOLE)
    log.close()
    assert not log.saved
    assert log.problem.endswith("It was kept in memory only.")


@given(st.lists(st.sampled_from(["all", "some", "full", "nothing", "again"]), max_size=60), st.booleans())
@each_time_anew
def test_whatever_the_disk_does_saved_means_saved(tmp_path: Path, moods: list[str], two: bool) -> None:
    left = list(moods)

    class Moody(Disk):
        def write(self, fd: int, data: bytes) -> int:
            mood = left.pop() if left else "all"
            if mood == "full":
                raise OSError(errno.ENOSPC, "No space left on device")
            if mood == "again":
                raise InterruptedError
            if mood == "nothing":
                return 0
            return super().write(fd, data if mood == "all" else data[: max(1, len(data) // 3)])

    path, second = fresh(tmp_path), fresh(tmp_path)
    log = LogWriter(path, fallback=second if two else None, disk=Moody())
    for number, line in enumerate(WHOLE):
        log.write(line)
        assert (log.path.read_bytes() == content(WHOLE[: number + 1])) == log.saved
        assert log.saved or log.problem.startswith("NOT SAVED")
    left.clear()
    log.close()
    assert log.saved
    assert log.path.read_bytes() == content(WHOLE)


class Syncs(Disk):
    """Counts syncs of files, and holds them up while ``gate`` is closed."""

    def __init__(self) -> None:
        self.done = 0
        self.begun = 0
        self.gate = threading.Event()
        self.gate.set()
        self.problem: OSError | None = None

    def sync(self, fd: int) -> None:
        self.begun += 1
        self.gate.wait(20)
        if self.problem is not None:
            raise self.problem
        super().sync(fd)
        self.done += 1


def test_syncs_of_many_lines_become_one(tmp_path: Path) -> None:
    disk = Syncs()
    disk.gate.clear()
    log = LogWriter(fresh(tmp_path), disk=disk, sync_every_s=0)
    write_all(log, [header()])
    wait_for(lambda: disk.begun == 1)
    write_all(log, WHOLE[1:])  # none of these waits for the disk
    disk.gate.set()
    wait_for(lambda: disk.done == 2)
    log.close()
    assert disk.begun == disk.done == 3  # the last is closing's own


def test_an_urgent_line_does_not_wait_for_its_turn_and_another_does(tmp_path: Path) -> None:
    disk = Syncs()
    log = LogWriter(fresh(tmp_path), disk=disk, sync_every_s=3600)
    log.write(header())
    wait_for(lambda: disk.done == 1)
    log.write(WHOLE[1])
    log.write(key(1000))
    assert disk.begun == 1
    log.write(key(2000), urgent=True)
    wait_for(lambda: disk.done == 2)
    log.write(key(3000))
    log.close()
    assert disk.done == 4  # what was still asked for, then closing's own


def test_closing_does_not_wait_for_the_hour(tmp_path: Path) -> None:
    log = LogWriter(fresh(tmp_path), sync_every_s=3600)
    write_all(log, WHOLE)
    log.close()
    assert not [thread for thread in threading.enumerate() if thread.name == "log-sync"]


@pytest.mark.parametrize("at_the_end", [False, True])
def test_a_sync_that_fails_moves_the_record(tmp_path: Path, at_the_end: bool) -> None:
    class OneBadFile(Syncs):
        def sync(self, fd: int) -> None:
            self.problem = OSError(errno.EIO, "Input/output error") if fd == bad else None
            super().sync(fd)

    disk, bad = OneBadFile(), -1
    path, second = fresh(tmp_path), fresh(tmp_path)
    log = LogWriter(path, fallback=second, disk=disk)
    write_all(log, WHOLE[:4])
    wait_for(lambda: disk.done >= 1)
    bad = log._at.fd
    if at_the_end:
        write_all(log, WHOLE[4:])
    else:
        log.write(WHOLE[4], urgent=True)
        wait_for(lambda: not log.saved)
        assert log.problem.startswith("NOT SAVED: input/output error")
        write_all(log, WHOLE[5:])
        assert (log.saved, log.path) == (True, second)
    log.close()
    assert (log.saved, log.path) == (True, second)
    assert second.read_bytes() == content(WHOLE)


def test_a_disk_that_hangs_does_not_hold_the_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writing, "CLOSE_PATIENCE_S", 0.05)
    disk = Syncs()
    disk.gate.clear()
    path = fresh(tmp_path)
    log = LogWriter(path, disk=disk)
    write_all(log, WHOLE)
    log.close()
    assert path.read_bytes() == content(WHOLE)
    assert log.saved and "may not survive a power cut" in log.problem
    disk.gate.set()
    log._syncer._thread.join(20)


def test_a_wall_clock_set_back_changes_nothing(tmp_path: Path) -> None:
    clock = SteppedClock(5000)
    log = LogWriter(fresh(tmp_path))
    log.write(header(wall=f"{clock.wall():%Y-%m-%dT%H:%M:%SZ}", mono=clock.mono_ms()))
    log.write({"t": 0, "e": 0, "kind": "go"})
    went = clock.mono_ms()
    for _ in range(5):
        clock.advance(600)
        clock.set_wall(datetime(1999, 1, 1, tzinfo=UTC))
        log.write(key(clock.mono_ms() - went))
    log.write(end(clock.mono_ms() - went))
    log.close()
    record = read_log(log.path)
    assert [line["t"] for line in record.lines] == [0, 600, 1200, 1800, 2400, 3000, 3000]


WRITES_ON = """
import os, sys
from pathlib import Path
from coach.log.writing import LogWriter
from tests.log.made import header, key
log = LogWriter(Path(sys.argv[1]), sync_every_s=0.01)
log.write(header())
log.write({"t": 0, "e": 0, "kind": "go"})
for n in range(2, 200_000):
    log.write(key(n, pad="x" * (n % 97)), urgent=n % 50 == 0)
    os.write(1, b"%d\\n" % n)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="there is no kill -9")
@pytest.mark.parametrize("seed", range(4))
def test_kill_9_loses_no_line_whose_write_had_returned(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "a.jsonl"
    root = Path(__file__).parents[2]
    child = subprocess.Popen([sys.executable, "-c", WRITES_ON, str(path)], stdout=subprocess.PIPE, cwd=root)
    assert child.stdout is not None
    wanted = random.Random(seed).randrange(50, 4000)
    said = b""
    while len(said) < wanted and (more := os.read(child.stdout.fileno(), 512)):
        said += more
    os.kill(child.pid, signal.SIGKILL)
    said += child.stdout.read()
    child.stdout.close()
    assert child.wait(20) == -signal.SIGKILL
    acknowledged = int(said.split(b"\n")[-2])
    verdict = verify(path)
    assert verdict.ok and not verdict.sealed
    # At most one line more than was acknowledged, and at most a torn one after that.
    assert acknowledged + 1 <= verdict.line <= acknowledged + 2
    assert path.read_bytes().count(b"\n") == verdict.line
