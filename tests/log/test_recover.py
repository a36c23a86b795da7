"""Recovery: interrupted drills are found, resumed on the same chain, or closed; nobody writes with two hands."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.clock import STEPPED_WALL, SteppedClock
from coach.log.disk import Disk
from coach.log.lines import LogProblem
from coach.log.reading import read_log, verify
from coach.log.recover import Hole, Interrupted, LogBusy, add_to, close_interrupted, find_interrupted, resume
from coach.log.writing import LogWriter
from tests.log.made import content, drill_lines, end, header, key, save, sealed, write_all

OPEN = content(drill_lines())
TORN = b'{"seq":10,"t":5'
each_time_anew = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_only_drills_without_an_end_are_offered_newest_first(tmp_path: Path) -> None:
    for number, name in enumerate(("old", "new")):
        os.utime(save(tmp_path / f"{name}.jsonl", OPEN), (1000 + number, 1000 + number))
    save(tmp_path / "whole.jsonl", sealed())
    noted = [*drill_lines(), end(9000), *[{"t": 9000, "e": 9000, "kind": "note", "digest": "x" * 900}] * 400]
    save(tmp_path / "spoken-of.jsonl", content(noted))  # its end lies far before the tail that is looked at
    save(tmp_path / "torn-before-its-header.jsonl", OPEN[:100])
    save(tmp_path / "empty.jsonl", b"")
    save(tmp_path / "notes.txt", b"no log")
    (tmp_path / "folder.jsonl").mkdir()
    save(tmp_path / "bad.jsonl", OPEN.replace(b"compression", b"cOmpression"))
    before = {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    found = find_interrupted([tmp_path, tmp_path / "not there"])
    assert [drill.path.name for drill in found.interrupted] == ["new.jsonl", "old.jsonl"]
    assert [(problem.path.name, problem.line) for problem in found.unreadable] == [("bad.jsonl", 3)]
    assert {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


def test_words_that_look_like_an_end_do_not_hide_a_drill(tmp_path: Path) -> None:
    lines = [*drill_lines(), key(9000, note='{"kind":"end"}', more={"kind": "end"})]
    save(tmp_path / "a.jsonl", content(lines))
    assert len(find_interrupted([tmp_path]).interrupted) == 1


def test_of_two_files_of_one_drill_the_longer_is_offered(tmp_path: Path) -> None:
    first, second = tmp_path / "drills", tmp_path / "second"
    first.mkdir()
    second.mkdir()
    longer = content([*drill_lines(), key(9000)])
    other = content([*drill_lines(), key(9001)])

    def offered(a: bytes, b: bytes) -> list[str]:
        save(first / "a.jsonl", a)
        save(second / "a.jsonl", b)
        return [drill.path.parent.name for drill in find_interrupted([first, second]).interrupted]

    assert offered(OPEN + TORN, longer) == ["second"]
    assert offered(longer, OPEN) == ["drills"]
    assert offered(OPEN, OPEN) == ["drills"]
    assert offered(OPEN + TORN, sealed()) == []
    assert sorted(offered(longer, other)) == ["drills", "second"]
    assert offered(OPEN, b"not a log\n") == ["drills"]


@given(st.integers(len(content([header()])), len(OPEN)))
@each_time_anew
def test_cut_anywhere_a_drill_goes_on_and_nothing_is_lost(tmp_path: Path, size: int) -> None:
    for old in tmp_path.iterdir():
        old.unlink()
    path = save(tmp_path / "a.jsonl", OPEN[:size])
    whole = OPEN[:size].rfind(b"\n") + 1
    log, was = resume(path)
    last = was.record.last_t
    log.write({"t": last, "e": last, "kind": "hole", "from": last, "to": last + 60_000, "machine_restarted": False})
    log.write({"t": last + 60_000, "e": last, "kind": "recovered"})
    log.write(key(last + 61_000, e=last + 1000))
    log.write({**end(last + 62_000), "e": last + 2000})
    log.close()
    assert verify(path).sealed
    assert path.read_bytes().startswith(OPEN[:whole])
    torn = tmp_path / "a.jsonl.torn"
    assert (torn.read_bytes() if torn.exists() else b"") == OPEN[whole:size]


def test_torn_twice_keeps_both(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jsonl", OPEN + TORN)
    resume(path)[0].close()
    with path.open("ab") as file:
        file.write(b"{more")
    resume(path)[0].close()
    assert names(tmp_path) == ["a.jsonl", "a.jsonl.torn", "a.jsonl.torn2"]
    assert (tmp_path / "a.jsonl.torn").read_bytes() == TORN
    assert (tmp_path / "a.jsonl.torn2").read_bytes() == b"{more"
    assert path.read_bytes() == OPEN


def test_a_torn_line_that_cannot_be_put_aside_stays(tmp_path: Path) -> None:
    class Full(Disk):
        def write(self, fd: int, data: bytes) -> int:
            raise OSError(errno.ENOSPC, "No space left on device")

    path = save(tmp_path / "a.jsonl", OPEN + TORN)
    with pytest.raises(LogProblem, match="cannot be put aside: no space left"):
        resume(path, disk=Full())
    assert path.read_bytes() == OPEN + TORN
    resume(path)[0].close()  # and the lock was given back


def test_an_interrupted_drill_is_closed_at_its_last_line(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jsonl", content([*drill_lines(3), key(9000, e=7000)]) + TORN)
    record = close_interrupted(path, SteppedClock())
    assert record.sealed and record.problems == ()
    last = {name: value for name, value in record.lines[-1].items() if name != "h"}
    assert last == {
        "seq": 6,
        "t": 9000,
        "e": 7000,
        "kind": "end",
        "reason": "interrupted",
        "end_t": 9000,
        "end_e": 7000,
        "wall": "2026-01-03T10:15:00Z",
    }
    assert find_interrupted([tmp_path]).interrupted == ()
    with pytest.raises(LogProblem, match="the drill has ended"):
        close_interrupted(path, SteppedClock())


def test_closing_on_a_full_disk_is_said_and_can_be_done_later(tmp_path: Path) -> None:
    class Full(Disk):
        def write(self, fd: int, data: bytes) -> int:
            if len(data) < 40:
                raise OSError(errno.ENOSPC, "No space left on device")
            return super().write(fd, data[:30])

    path = save(tmp_path / "a.jsonl", OPEN)
    with pytest.raises(LogProblem, match="no space left"):
        close_interrupted(path, SteppedClock(), disk=Full())
    assert read_log(path).torn
    assert close_interrupted(path, SteppedClock()).sealed


def test_people_add_to_an_ended_drill_only(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jsonl", sealed())
    log, record = add_to(path)
    assert record.sealed
    t = record.last_t
    log.write({"t": t, "e": t, "kind": "classify", "pin": 3, "label": "elbows bent", "who": "a7", "why": ""})
    log.close()
    assert verify(path).ok
    with pytest.raises(LogProblem, match="has no end yet"):
        add_to(save(tmp_path / "b.jsonl", OPEN))


def test_what_does_not_fit_is_not_taken_up(tmp_path: Path) -> None:
    bad = OPEN.replace(b"compression", b"cOmpression")
    with pytest.raises(LogProblem, match="line 3"):
        resume(save(tmp_path / "bad.jsonl", bad))
    assert (tmp_path / "bad.jsonl").read_bytes() == bad
    with pytest.raises(LogProblem, match="no such file"):
        resume(tmp_path / "none.jsonl")
    (tmp_path / "link.jsonl").symlink_to(save(tmp_path / "a.jsonl", OPEN))
    with pytest.raises(LogProblem, match="cannot be opened for writing"):
        resume(tmp_path / "link.jsonl")


HOLDS = """
import sys
from pathlib import Path
from coach.log.writing import LogWriter
from tests.log.made import drill_lines, write_all
log = LogWriter(Path(sys.argv[1]))
write_all(log, drill_lines())
print("held", flush=True)
sys.stdin.read()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no advisory locks there")
def test_a_log_being_written_by_another_program_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    root = Path(__file__).parents[2]
    command = [sys.executable, "-c", HOLDS, str(path)]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, cwd=root, text=True, stdin=pipe, stdout=pipe) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "held\n"
        assert find_interrupted([tmp_path]).interrupted == ()
        with pytest.raises(LogBusy, match="another kneeside is writing this log"):
            resume(path)
        assert read_log(path).problems == ("the drill was interrupted: there is no end",)
        child.kill()
    assert len(find_interrupted([tmp_path]).interrupted) == 1
    resume(path)[0].close()


@pytest.mark.skipif(sys.platform == "win32", reason="no advisory locks there")
def test_two_writers_in_one_program_are_refused_too(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    log = LogWriter(path)
    write_all(log, drill_lines())
    with pytest.raises(LogBusy):
        resume(path)
    log.close()
    again, _ = resume(path)
    with pytest.raises(LogBusy):
        close_interrupted(path, SteppedClock())
    again.close()


def test_a_resumed_drill_takes_all_of_itself_to_the_second_folder(tmp_path: Path) -> None:
    class Full(Disk):
        def write(self, fd: int, data: bytes) -> int:
            if os.readlink(f"/proc/self/fd/{fd}") == str(path):
                raise OSError(errno.ENOSPC, "No space left on device")
            return super().write(fd, data)

    if not os.path.exists("/proc/self/fd"):
        pytest.skip("the system does not tell the name of an open file")
    path, second = save(tmp_path / "a.jsonl", OPEN), tmp_path / "second.jsonl"
    log, _ = resume(path, fallback=second, disk=Full())
    log.write(end(90_000))
    log.close()
    assert second.read_bytes() == sealed()


@pytest.mark.parametrize(
    ("boot_ms", "away_s", "restarted"),
    [
        (12_345 + 10_000 + 60_000, 60, False),
        (12_345 + 10_000 + 60_000, -3600, False),  # the wall clock was set back
        (8_000, 600, True),
        (400_000, 86_400, True),
    ],
)
def test_the_hole_is_as_long_as_the_wall_says(tmp_path: Path, boot_ms: int, away_s: int, restarted: bool) -> None:
    record = read_log(save(tmp_path / "a.jsonl", OPEN))
    written = STEPPED_WALL + timedelta(seconds=10)  # the header was written at STEPPED_WALL, mono 12345
    clock = SteppedClock(boot_ms, wall=written + timedelta(seconds=away_s))
    last = record.last_t
    assert Interrupted(record, written).hole(clock) == Hole(last, last + max(away_s, 0) * 1000, restarted)


def test_when_the_file_was_written_is_told(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jsonl", OPEN + TORN)
    os.utime(path, (1_767_435_310, 1_767_435_310))
    when = datetime(2026, 1, 3, 10, 15, 10, tzinfo=UTC)
    assert find_interrupted([tmp_path]).interrupted[0].written == when
    log, was = resume(path)
    log.close()
    assert was.written == when
