"""The tests before class: their arithmetic, the machine, what is kept, and the whole in a real terminal."""

from __future__ import annotations

import json
import os
import random
import select
import signal
import sys
import time
from pathlib import Path

import pytest

from coach.clock import SteppedClock
from coach.commands import main
from coach.measure.report import measure
from coach.observations import default_keys
from coach.preflight import (
    NAME,
    SIGMA_MS,
    Jitter,
    Kept,
    check_battery,
    check_clock,
    check_disk,
    check_remote,
    for_drill,
    jitter_of,
    keep,
    reaction_of,
    read_kept,
    sigma_of,
)
from tests.measure.story import Story, protocol


def held(scatter: float, repeats: int = 400, period: float = 33.0, seed: int = 1) -> list[float]:
    """The stamps of a held key: a first press, half a second, then repeats, each scattered by itself."""
    draw = random.Random(seed)
    even = [0.0, *(500 + period * number for number in range(repeats))]
    return [stamp + draw.gauss(0, scatter) for stamp in even]


@pytest.mark.parametrize("scatter", [1.0, 4.0, 8.0])
def test_the_scatter_of_a_held_key_is_found_again(scatter: float) -> None:
    found = jitter_of(held(scatter))
    assert found is not None
    assert found.scatter == pytest.approx(scatter, rel=0.12) and found.period == pytest.approx(33, rel=0.05)
    assert found.repeats == 399 and found.stalls == 0


def test_the_wait_before_the_first_repeat_and_stalls_are_no_scatter() -> None:
    even = held(0.0)
    found = jitter_of(even)
    assert found is not None and found.scatter == pytest.approx(0, abs=1e-9)
    stalled = even[:100] + [stamp + 400 for stamp in even[100:]]
    found = jitter_of(stalled)
    assert found is not None and found.stalls == 1 and found.scatter == pytest.approx(0, abs=1e-9)
    assert found.longest == pytest.approx(433)


def test_too_few_repeats_or_reactions_are_no_result() -> None:
    assert jitter_of(held(1, repeats=20)) is None and jitter_of([]) is None
    assert jitter_of(held(1, repeats=21)) is not None
    assert reaction_of([300.0] * 14) is None


def test_a_reaction_is_the_median_of_what_counts() -> None:
    waits = [250.0, 260.0, 270.0, 280.0, 290.0] * 3 + [-1.0, 40.0, None, 1_600.0, 1_500.0]
    found = reaction_of(waits)
    assert found is not None
    assert (found.median, found.counted, found.early, found.missed) == (270.0, 16, 2, 2)


def test_the_keyboard_s_scatter_adds_to_the_hand_s_and_never_narrows_it() -> None:
    assert sigma_of(None) == SIGMA_MS
    assert sigma_of(Jitter(0.0, 33, 33, 100, 0)) == SIGMA_MS
    assert sigma_of(Jitter(60.0, 33, 33, 100, 0)) == pytest.approx(65.0)


def test_a_slow_reaction_widens_what_is_printed_by_hand_and_a_quick_one_changes_nothing() -> None:
    story = Story().at(12, "not_breathing").at(23.5, "compression")
    header = {**story.header, "keys": default_keys()}
    quick, slow = (
        measure(story.happened(30), protocol(), {**header, "reaction_ms": reaction}) for reaction in (400, 900)
    )
    assert (quick.hand_ms, quick.mark_ms) == (1_000, 500)
    assert (slow.hand_ms, slow.mark_ms) == (1_800, 900)


# --- the machine ------------------------------------------------------------------------------------------------------


def test_the_disk_is_tried_and_nothing_stays(tmp_path: Path) -> None:
    assert check_disk(tmp_path / "new" / "folder").state == "fine"
    assert list((tmp_path / "new" / "folder").iterdir()) == []
    (tmp_path / "file").write_text("x")
    assert check_disk(tmp_path / "file").state == "bad"


def test_the_date_is_looked_at() -> None:
    clock = SteppedClock()
    assert check_clock(clock).state == "fine"
    clock.set_wall(clock.wall().replace(year=1970))
    assert check_clock(clock).state == "mind"


@pytest.mark.parametrize(
    ("files", "state", "said"),
    [
        ({}, "fine", "no battery"),
        ({"BAT0": {"capacity": "15", "status": "Discharging"}}, "mind", "15 % and not plugged in"),
        ({"BAT0": {"capacity": "15", "status": "Charging"}}, "fine", "15 %, plugged in"),
        ({"BAT0": {"capacity": "90", "status": "Discharging"}}, "fine", "90 %"),
        ({"BAT0": {"capacity": "15", "status": "Unknown"}, "AC": {"online": "1"}}, "fine", "plugged in"),
        ({"mouse": {"capacity": "5", "scope": "Device"}}, "fine", "no battery"),
    ],
)
def test_the_battery_is_read_where_it_can_be(
    tmp_path: Path, files: dict[str, dict[str, str]], state: str, said: str
) -> None:
    for name, words in files.items():
        (tmp_path / name).mkdir()
        for word, text in words.items():
            (tmp_path / name / word).write_text(text + "\n")
    found = check_battery(tmp_path)
    assert found.state == state and said in found.said
    assert check_battery(tmp_path / "nowhere").state == "fine"


@pytest.mark.parametrize(
    ("environment", "state"),
    [({}, "fine"), ({"TMUX": "x"}, "fine"), ({"SSH_TTY": "/dev/pts/1"}, "mind"), ({"SSH_CONNECTION": ""}, "fine")],
)
def test_a_remote_shell_is_told(environment: dict[str, str], state: str) -> None:
    assert check_remote(environment).state == state


# --- what is kept -----------------------------------------------------------------------------------------------------


def test_results_are_kept_by_assessor_and_used_by_drills(tmp_path: Path) -> None:
    assert for_drill(tmp_path, "a1", 25) == (25, 0)
    assert keep(tmp_path, "a1", Kept(41.6, 1_210.4, 33.0, "2026-01-03T10:15:00Z")) == ""
    assert keep(tmp_path, "a2", Kept(25.0, 300.0)) == ""
    assert read_kept(tmp_path)["a1"].jitter_ms == 33.0 and set(read_kept(tmp_path)) == {"a1", "a2"}
    assert for_drill(tmp_path, "a1", 25) == (42, 1_210)
    assert for_drill(tmp_path, "a1", 60) == (60, 1_210)
    assert for_drill(tmp_path, "a3", 25) == (25, 0)


@pytest.mark.parametrize(
    "text", ["", "[]", "{", '{"a1": 3}', '{"a1": {"sigma_ms": "x"}}', '{"a1": {"reaction_ms": 1e9}}']
)
def test_a_file_that_is_not_ours_gives_nothing(tmp_path: Path, text: str) -> None:
    (tmp_path / NAME).write_text(text)
    assert read_kept(tmp_path) == {}
    assert for_drill(tmp_path, "a1", 25) == (25, 0)


# --- the command ------------------------------------------------------------------------------------------------------


def test_without_a_terminal_the_machine_is_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path))
    assert main(["pre-flight"]) == 0
    out = capsys.readouterr()
    assert "disk" in out.out and "no terminal here" in out.err and not (tmp_path / NAME).exists()
    keep(tmp_path, "a1", Kept(30.0, 250.0))
    assert main(["pre-flight", "--json"]) == 0
    table = json.loads(capsys.readouterr().out)
    assert [check["name"] for check in table["checks"]] == ["disk", "clock", "battery", "line", "keys"]
    assert table["kept"]["a1"]["reaction_ms"] == 250.0


def test_a_disk_that_refuses_is_a_finding(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "drills").write_text("not a folder")
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path))
    assert main(["pre-flight", "--no-keys"]) == 1
    assert "bad   disk" in capsys.readouterr().out


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a pty")
@pytest.mark.parametrize("leave", [False, True])
def test_both_tests_run_in_a_real_terminal(tmp_path: Path, leave: bool) -> None:
    """A hand at a pty: holds the key, then presses at each sign; or leaves with Escape."""
    import pty

    pid, fd = pty.fork()
    if pid == 0:
        os.environ["KNEESIDE_DATA_DIR"] = str(tmp_path)
        shorten = "import coach.commands.preflight as p; p.WAIT_S = (0.02, 0.05); p.HELD_S = 1.0; "
        begin = "import sys; from coach.commands import main; sys.exit(main(['pre-flight', '--assessor', 'a1']))"
        os.execv(sys.executable, [sys.executable, "-c", shorten + begin])
    told = b""
    answered = 0
    deadline = time.monotonic() + 60

    def pump(seconds: float) -> bool:
        nonlocal told
        ready, _, _ = select.select([fd], [], [], seconds)
        if not ready:
            return True
        try:
            told += os.read(fd, 4096)
        except OSError:
            return False
        return True

    try:
        while b"Hold the space bar" not in told and time.monotonic() < deadline:
            pump(0.2)
        if leave:
            os.write(fd, b"\x1b")
        else:
            for _ in range(45):
                os.write(fd, b" ")
                time.sleep(0.015)
        while time.monotonic() < deadline and pump(0.05):
            if told.count(b"NOW   ") > answered and not leave:
                answered += 1
                time.sleep(0.16)
                os.write(fd, b" ")
        _, status = os.waitpid(pid, 0)
        pid = 0
    finally:
        if pid:
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
        os.close(fd)
    code = os.waitstatus_to_exitcode(status)
    if leave:
        assert code == 130 and not (tmp_path / NAME).exists()
        return
    assert code in (0, 1), told.decode()  # a busy machine may scatter more than a class can bear
    kept = read_kept(tmp_path)["a1"]
    assert 100 <= kept.reaction_ms <= 1_500 and kept.sigma_ms >= SIGMA_MS
    assert b"have no order" in told
