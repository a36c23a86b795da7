"""One learner over their attempts, from logs in a folder."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coach.commands import main
from coach.debrief.progress import BAR, Attempt, as_lines, progress_of, still_aided
from coach.debrief.progress_form import as_html
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.resources import data_dir
from tests.debrief.test_html import read

SCRIPT = (data_dir("demo") / "first-drill.txt").read_text(encoding="utf-8").replace("mode: teach", "mode: test")


def played(folder: Path, text: str) -> Path:
    script = read_script(text, "test")
    return play(script, setup_of(script, setup_for), folder)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    played(tmp_path, SCRIPT)
    played(tmp_path, SCRIPT.replace("86.55   i", "86.55   m"))  # the same without the prompt
    played(tmp_path, SCRIPT.replace("learner: 07", "learner: 08"))
    (tmp_path / "torn.jsonl").write_text('{"seq":0,"kind":"header","learner":"07","format":1')
    (tmp_path / "other.jsonl").write_text("[]\n")
    (tmp_path / "notes.txt").write_text("x")
    return tmp_path


def test_the_attempts_of_one_learner_and_of_nobody_else(folder: Path) -> None:
    attempts, problems = progress_of("07", [folder, folder / "nowhere"])
    assert len(attempts) == 2 and problems == ()
    assert {attempt.protocol for attempt in attempts} == {"erc-2025/adult-one-rescuer"}
    assert all(attempt.longest and attempt.beats and attempt.thing for attempt in attempts)
    assert {attempt.aided for attempt in attempts} == {("Bare the chest",), ()}


def test_a_changed_log_is_told_and_left_out(folder: Path) -> None:
    path = next(path for path in sorted(folder.glob("2*.jsonl")) if b'"learner":"07"' in path.read_bytes())
    path.write_bytes(path.read_bytes().replace(b'"call_made"', b'"call_mode"', 1))
    attempts, problems = progress_of("07", [folder])
    assert len(attempts) == 1 and len(problems) == 1 and path.name in problems[0]


def made(wall: str, longest: int | None, protocol: str = "p", aided: tuple[str, ...] = (), **more: str) -> Attempt:
    return Attempt(
        wall, wall, protocol, "test", 1, more.get("ended", "ended"), longest, True, "x", "Say.", aided, (), ""
    )


def test_what_is_still_prompted_is_that_of_the_last_attempt_of_each_protocol() -> None:
    attempts = [made("1", 5, "p", ("Call", "Pads")), made("2", 5, "p", ("Pads",)), made("3", 5, "q", ("Clear",))]
    assert still_aided(attempts) == ("Pads", "Clear")


def test_bars_are_as_long_as_their_pauses() -> None:
    lines = as_lines((made("2026-01-01", 20_000), made("2026-01-02", 10_000), made("2026-01-03", None), made("x", 0)))
    assert [line.count("█") for line in lines[::2]] == [BAR, BAR // 2, 0, 0]
    assert "20.0 s" in lines[0] and lines[4].endswith(" -")
    assert as_lines(()) == []
    assert "stopped for safety" in as_lines((made("1", 5, ended="safety"),))[0]


def test_the_chart_fits_a_terminal(folder: Path) -> None:
    played(folder, SCRIPT.replace("mode: test", "mode: teach"))
    attempts, _ = progress_of("07", [folder])
    for language in ("en", "es"):
        assert all(len(line) <= 78 for line in as_lines(attempts, language))


def test_a_one_thing_that_waits_for_the_assessor_is_no_fact(tmp_path: Path) -> None:
    played(tmp_path, SCRIPT.replace("119.15  c", "119.15  m"))
    ((attempt,), _) = progress_of("07", [tmp_path])
    assert attempt.say.endswith("(to be confirmed by the assessor first)")


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_page_has_a_row_for_each_attempt_and_tells_no_day(folder: Path, language: str) -> None:
    attempts, _ = progress_of("07", [folder], language)
    hostile = "<script>alert(1)</script>\x1b[31m{{ 7*7 }}"
    html = as_html(hostile, [*attempts, made("2026-01-03", None)], language)
    found = read(html)
    rows = [one for one in found.all("tr") if "tbody" in one.parents]
    assert len(rows) == 3 and [row.text.split()[0] for row in rows] == ["1", "2", "3"]
    bars = [float(one.attrs["width"]) for one in found.all("rect")]
    assert max(bars) == 100 and bars[-1] == 0
    assert not found.all("script", "img", "link[href^=http]") and len(html.encode()) < 200_000
    assert "2026" not in html and "\x1b" not in html and "49" not in found.all("h1")[0].text
    assert found.all("html")[0].attrs["lang"] == language
    assert all(one.attrs.get("scope") in ("col", "row") for one in found.all("th"))
    assert ("borrador" in html) == (language == "es")


def test_the_command(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["progress", "07", "--in", str(folder)]) == 0
    out = capsys.readouterr().out
    assert "Learner 07, 2 drills" in out and "█" in out
    assert main(["progress", "07", "--in", str(folder), "--json"]) == 0
    table = json.loads(capsys.readouterr().out)
    assert len(table["attempts"]) == 2 and table["attempts"][0]["longest_own_pause"] > 10
    page = folder / "progress.html"
    assert main(["progress", "07", "--in", str(folder), "--page", str(page), "--language", "es"]) == 0
    out = capsys.readouterr().out
    assert "Practica 07, 2 ejercicios" in out and str(page) in out and "<svg" in page.read_text("utf-8")
    assert main(["progress", "99", "--in", str(folder)]) == 0
    assert "No drill of learner 99" in capsys.readouterr().out
