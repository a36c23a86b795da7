"""The line mode: the whole rehearsal without a screen, by the command line itself."""

from __future__ import annotations

import io
import json
import os
import pty
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from coach.clock import SteppedClock
from coach.commands import main
from coach.commands import rehearse as room
from coach.rehearse.days import today_of
from coach.rehearse.sitting import Sitting
from tests.rehearse.made import DAY, empty, matter

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(autouse=True)
def own_places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A person of their own."""
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path))
    monkeypatch.setenv("KNEESIDE_CONFIG", str(tmp_path / "settings.toml"))
    return tmp_path


def said(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], typed: str, *words: str) -> str:
    """Standard output of a rehearsal into which ``typed`` is piped."""
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    assert main(["rehearse", *words]) == 0
    return capsys.readouterr().out


def learner(sitting: Sitting):  # type: ignore[no-untyped-def]
    """Somebody who reads the prompt and answers rightly, by number."""

    def ask(prompt: str) -> str | None:
        if sitting.phase == "sure":
            return "s"
        if sitting.phase == "handover":
            return "1 2 3 4 5 6 7 8" if prompt == "Handover: " else ""
        question = sitting.question
        assert question is not None
        return str([action for action, _ in question.options].index(sitting._right()) + 1)

    return ask


def test_a_whole_sitting_in_lines(capsys: pytest.CaptureFixture[str]) -> None:
    sitting = Sitting(matter(), empty(), day=DAY, seed=5)
    assert room.sit(sitting, SteppedClock(), learner(sitting)) == 0
    out = capsys.readouterr().out
    assert f"{sitting.planned} of {sitting.planned} right at the first try." in out
    assert out.count("What do you do next?") >= 4
    assert "\x1b" not in out and "Seed 5." in out
    # Nothing hangs on where a word stands on the line: each line reads by itself.
    assert all(len(line) == len(line.rstrip()) for line in out.splitlines())


def test_entry_says_what_it_is_not(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(monkeypatch, capsys, "q\n", "--plain")
    assert "This does not train your hands" in out
    assert "Training only. In a real collapse: put it away, call, push, fetch the unit." in out
    assert "not endorsed; draft" in out and "readable by you alone" in out
    assert "Left early" in out


def test_input_that_ends_leaves_politely(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], own_places: Path
) -> None:
    out = said(monkeypatch, capsys, "s\n1\n", "--plain", "--seed", "3")
    assert "right at the first try." in out
    history = (own_places / "rehearsal" / "history.jsonl").read_text(encoding="utf-8").splitlines()
    assert [json.loads(line)["kind"] for line in history] == ["header", "sitting", "review"]


def test_nonsense_costs_nothing(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], own_places: Path
) -> None:
    out = said(monkeypatch, capsys, "x\n\ns\n0\n99\n١\nh\n\x1b[A\nq\n", "--plain")
    assert out.count("Type s, t, g, ? or q.") == 2 and out.count("Type a number from 1 to") >= 4
    assert "review" not in (own_places / "rehearsal" / "history.jsonl").read_text(encoding="utf-8")


def test_typing_and_no_limits(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(monkeypatch, capsys, "s\nbananas\nh\nq\n", "--plain", "--typed", "--no-limits")
    assert "no time limits" in out and "not understood; it costs nothing" in out
    assert re.search(r"  1 \w", out), "the hint shows the choices"
    assert " s with reading" not in out


def test_spanish_verbs(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert "¿Qué haces ahora?" in said(monkeypatch, capsys, "q\n", "--plain", "--language", "es", "--seed", "2")


def test_pads_in_quick_fire_under_both_bodies(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for protocol in ("erc-2025/adult-one-rescuer", "aha-2025/adult-one-rescuer"):
        out = said(monkeypatch, capsys, "s\n1\nq\n", protocol, "--plain", "--part", "pads")
        assert "Which, and where?" in out and "Age: " in out


def test_a_wrong_protocol_is_told_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", "erc-2025/adult-one-rescur", "--plain"]) == 2
    assert "Did you mean erc-2025/adult-one-rescuer?" in capsys.readouterr().err


def test_slip_page_and_progress(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], own_places: Path
) -> None:
    said(monkeypatch, capsys, "s\n1\nq\n", "--plain")
    slip, page = own_places / "slip.json", own_places / "page.html"
    assert main(["rehearse", "--slip", str(slip), "--page", str(page)]) == 0
    assert json.loads(slip.read_text(encoding="utf-8"))["certificate"] is False
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    capsys.readouterr()
    assert main(["rehearse", "--part", "progress"]) == 0
    assert "Chance to know it in a week" in capsys.readouterr().out
    assert main(["rehearse", "--slip", str(own_places / "no" / "where.txt")]) == 2


def test_tempo_says_where_it_cannot(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(monkeypatch, capsys, "", "--plain", "--part", "tempo")
    assert "Taps need a terminal at both ends" in out


def test_no_terminal_means_lines(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("q\n"))
    assert main(["rehearse"]) == 0
    both = capsys.readouterr()
    assert "told in lines" in both.err and "Rehearsing alone" in both.out


@pytest.mark.skipif(sys.platform == "win32", reason="a pseudo-terminal is needed")
def test_taps_are_timed_in_a_terminal(own_places: Path) -> None:
    """Thirty taps in a pty: counted, with a rate near the true one; the terminal is as before afterwards."""
    main_end, child = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "coach", "rehearse", "--plain", "--part", "tempo"],
        stdin=child, stdout=child, stderr=child, cwd=ROOT, start_new_session=True,
        env={**os.environ, "TERM": "dumb"},
    )  # fmt: skip
    os.close(child)
    seen = b""

    def wait(words: bytes) -> None:
        nonlocal seen
        end = time.monotonic() + 30
        while words not in seen:
            assert time.monotonic() < end, seen[-400:]
            seen += os.read(main_end, 4096)

    try:
        wait(b"Enter begins: ")
        os.write(main_end, b"\n")
        time.sleep(0.3)
        sent = []
        for number in range(30):
            due = (sent[0] if sent else time.monotonic()) + number * 60 / 110
            time.sleep(max(due - time.monotonic(), 0))
            sent.append(time.monotonic())
            os.write(main_end, b" ")
        wait(b"How many did you make?")
        os.write(main_end, b"29\n")
        wait(b"You counted 29; they were 30.")
        found = re.search(rb"30 taps, (\d+) ", seen)
        true = 29 * 60 / (sent[-1] - sent[0])
        assert found is not None and abs(int(found[1]) - true) <= 2
        wait(b"Pace 100, 110, 120")
        os.write(main_end, b"q\n")
        assert process.wait(timeout=20) == 0
    finally:
        process.kill()
        os.close(main_end)


def test_the_day_is_the_learners_own() -> None:
    clock = SteppedClock(zone="UTC+13:00")
    assert today_of(clock).isoformat() == "2026-01-03"
    clock.advance(60 * 60_000)
    assert today_of(clock).isoformat() == "2026-01-04"
    assert today_of(SteppedClock(zone="UTC-11:00")).isoformat() == "2026-01-02"
