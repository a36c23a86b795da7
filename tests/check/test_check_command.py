"""``kneeside check`` and ``kneeside explain``: pages, JSON, exit codes, stories that play."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from coach.check.explain import CODES
from coach.commands import main
from coach.commands.check import Meter
from coach.commands.explaining import WORDS
from coach.cores import cores
from coach.protocol.reference import PLACES
from tests.check.models import TINY

HEAD = f"""{TINY}[facts.wet]
kind = "flag"
default = false
source = "own"
"""
TRACK = """[track.unit]
start = "idle"
[track.unit.step.idle]
source = "own"
go = [{ on = "shock_advised", to = "ready" }]
[track.unit.step.ready]
armed = true
source = "own"
go = [
  { on = "clear_called", mark = "said" },
  { on = "shock_pressed", when = "said", to = "idle", unmark = "said" },
  { on = "shock_pressed", to = "idle"%s },
]
"""
FAULT = ', fault = { id = "no-clear", severity = "critical", say = "no clear", source = "own" }'
RULE = """[[rule]]
id = "clear-first"
never = { on = "shock_pressed" }
unless_since = { mark = "said", after = { on = "shock_advised" } }
say = "Clear first."
source = "own"
"""
SOUND = HEAD.format(name="sound") + TRACK % FAULT + RULE
BROKEN = HEAD.format(name="broken") + TRACK % "" + RULE


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setenv("KNEESIDE_CONFIG", str(tmp_path / "settings.toml"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sound.toml").write_text(SOUND, encoding="utf-8")
    (tmp_path / "broken.toml").write_text(BROKEN, encoding="utf-8")
    return tmp_path


def test_a_sound_file_is_fine(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "sound.toml"]) == 0
    page = capsys.readouterr()
    assert "holds  clear-first" in page.out
    assert "Fine: 1 rule holds, no findings." in page.out
    assert page.err == ""


def test_a_broken_rule_is_told_with_its_line_and_story(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "broken.toml"]) == 1
    page = capsys.readouterr().out
    line = BROKEN[: BROKEN.index("[[rule]]")].count("\n") + 1
    assert f"BROKEN  clear-first  line {line}" in page
    assert "key enter    shock pressed" in page
    assert "rule broken here: Clear first." in page
    assert "Findings: 1 rule BROKEN" in page


def test_stories_are_written_as_scripts_that_play(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "broken.toml", "--scripts", "stories"]) == 1
    capsys.readouterr()
    assert sorted(path.name for path in Path("stories").iterdir()) == [
        "broken-clear-first.keys",
        "broken-clear-first.toml",
    ]
    assert main(["play", "stories/broken-clear-first.keys", "--out", "logs"]) == 0
    log = Path(capsys.readouterr().out.strip().split("\n")[-1])
    lines = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    assert lines[0]["protocol"]["id"] == "tiny-1/broken"
    assert [line["input"] for line in lines if line.get("input")] == ["shock_advised", "shock_pressed"]


def test_json_has_everything(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "broken.toml", "sound.toml", "--json"]) == 1
    first, second = json.loads(capsys.readouterr().out)["files"]
    assert (first["protocol"], first["verdict"], second["verdict"]) == ("tiny-1/broken", "findings", "fine")
    (rule,) = first["rules"]
    assert (rule["rule"], rule["verdict"], rule["as_taught"]["kind"]) == ("clear-first", "broken", "broken")
    assert [one["event"] for one in rule["as_taught"]["story"]["events"]] == ["shock_advised", "shock_pressed"]
    broken = next(one for one in first["findings"] if one["code"] == "rule-broken")
    assert broken["about"] == "rule.clear-first"
    assert any("shock pressed" in line for line in broken["witness"])


def test_sarif_is_one_log_over_all_files(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "broken.toml", "sound.toml", "--sarif"]) == 1
    (run,) = json.loads(capsys.readouterr().out)["runs"]
    (result,) = [one for one in run["results"] if one["ruleId"] == "rule-broken"]
    assert result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "broken.toml"
    assert "shock pressed" in result["message"]["text"]


def test_a_limit_that_is_hit_is_not_decided(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name = "erc-2025/adult-one-rescuer"
    assert main(["check", name, "--limit", "0.1"]) == 3
    page = capsys.readouterr().out
    assert "not decided" in page
    assert "Not decided: " in page


def test_with_injects_every_arrow_is_looked_for(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    dead = SOUND.replace('id = "tiny-1/sound"', 'id = "tiny-1/dead"').replace(
        '  { on = "clear_called", mark = "said" },',
        '  { on = "clear_called", when = "not said", mark = "said" },\n'
        '  { on = "touch", when = "in_step(hands, hands_on_chest) and not in_step(unit, ready)", to = "idle" },\n'
        '  { on = "handover", when = "said and ever", to = "idle" },',
    )
    dead = dead.replace(
        '{ on = "shock_advised", to = "ready" }',
        '{ on = "shock_advised", to = "ready" }, { on = "swapped", when = "said", mark = "ever" }',
    )
    Path("dead.toml").write_text(dead, encoding="utf-8")
    assert main(["check", "dead.toml", "--injects", "1", "--json"]) == 1
    (file,) = json.loads(capsys.readouterr().out)["files"]
    never = {one["about"] for one in file["findings"] if one["code"] == "guard-never"}
    assert "track.unit.step.idle.go.idle.swapped" in never
    assert "track.unit.step.ready.go.ready.handover" in never
    assert file["every_arrow_looked_for"] is True


@pytest.mark.parametrize(
    ("text", "code"),
    [(SOUND.replace('to = "ready"', 'to = "redy"'), 1), ("a = = 1", 2), ("\x00", 2)],
    ids=["a mistake", "no TOML", "no text"],
)
def test_files_that_do_not_read(folder: Path, text: str, code: int, capsys: pytest.CaptureFixture[str]) -> None:
    Path("bad.toml").write_text(text, encoding="utf-8")
    assert main(["check", "bad.toml"]) == code
    page = capsys.readouterr()
    told = page.out if code == 1 else page.err
    assert "bad.toml" in told
    if code == 1:
        assert "did you mean `ready`?" in told
        assert "[unknown-name]" in told


def test_one_unreadable_file_does_not_hide_the_others(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "nowhere.toml", "broken.toml"]) == 2
    page = capsys.readouterr()
    assert "there is no such file" in page.err
    assert "BROKEN" in page.out


def test_pads_and_scenarios_are_read_too(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("s.toml").write_text('format = 1\nid = "s"\ntitle = "t"\nstory = "once"\nseeed = 2\n', encoding="utf-8")
    assert main(["check", "s.toml", "--json"]) == 1
    (file,) = json.loads(capsys.readouterr().out)["files"]
    assert [(one["line"], one["code"]) for one in file["findings"]] == [(5, "unknown-name")]


def test_two_forms_at_once_are_refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "sound.toml", "--json", "--sarif"]) == 2
    assert "exclude each other" in capsys.readouterr().err


def test_a_broken_rule_stays_broken_whoever_waives_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    waive = '[[waive]]\ncode = "rule-broken"\nwhere = "clear-first"\nreason = "we know"\n'
    Path("w.toml").write_text(BROKEN + waive, encoding="utf-8")
    assert main(["check", "w.toml"]) == 1
    page = capsys.readouterr().out
    line = (BROKEN + waive)[: (BROKEN + waive).index("[[waive]]")].count("\n") + 1
    assert f"{line}:" in page and "cannot be waived" in page and "Fine" not in page and "waived: we know" not in page


def test_a_finding_that_is_waived_is_told_and_fails_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    waive = '[[waive]]\ncode = "term-unused"\nwhere = "later"\nreason = "for the next version"\n'
    Path("w.toml").write_text(SOUND + '[terms]\nlater = "wet"\n' + waive, encoding="utf-8")
    assert main(["check", "w.toml"]) == 0
    page = capsys.readouterr().out
    assert "warning, waived" in page
    assert "waived: for the next version" in page
    assert "1 waived" in page


def test_explain_tells_one_code_and_all(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "timer-leak"]) == 0
    assert CODES["timer-leak"].title in capsys.readouterr().out
    assert main(["explain"]) == 0
    listed = capsys.readouterr().out
    assert all(code in listed for code in CODES)
    assert main(["explain", "timer-leek"]) == 2
    assert "did you mean timer-leak?" in capsys.readouterr().err
    assert main(["explain", "guard-gap", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)[0]["level"] == "error"


def test_explain_tells_what_may_stand_in_each_table_of_a_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain"]) == 0
    listed = capsys.readouterr().out
    assert all(f"\n{name} " in listed for name in (*PLACES, *WORDS))
    assert main(["explain", "step"]) == 0
    page = capsys.readouterr().out
    assert "[track.NAME.step.NAME]" in page and 'a time, such as "500 ms"' in page
    for word, said in (("rule", "never = ATOM"), ("finding", "`omitted`"), ("pass", "`by_eye"), ("guard", "in_step")):
        assert main(["explain", word]) == 0
        assert said in capsys.readouterr().out
    for word, said in (
        ("change", "[change.timers.remind]"),
        ("add", "[add.finding."),
        ("extends", "digest"),
        ("with", "digest"),
        ("key-script", "# protocol: erc-2025"),
        ("relax", "reason"),
        ("remove", "reason"),
        ("insert", "before"),
        ("waive", "code"),
        ("history", "version"),
    ):
        assert main(["explain", word]) == 0
        page = capsys.readouterr().out
        assert said in page and "``" not in page
    assert main(["explain", "all"]) == 0
    assert capsys.readouterr().out == listed
    assert main(["explain", "observations"]) == 0
    assert "shock_pressed" in capsys.readouterr().out
    assert main(["explain", "absent"]) == 0
    assert capsys.readouterr().out.startswith("finding: [[finding]]")
    assert main(["explain", "stpe"]) == 2
    assert "did you mean step?" in capsys.readouterr().err
    assert main(["explain", "timer", "--json"]) == 0
    (timer,) = json.loads(capsys.readouterr().out)
    assert {"name": "since", "what": "one of now, last_push; now if left out", "needed": False} in timer["members"]


def test_progress_goes_to_a_terminal_only_and_wipes_itself_away(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert Meter("x.toml").tell is None
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    with Meter("folder/x.toml") as meter:
        assert meter.tell is not None
        meter.tell("clear-first", 2000)
    told = capsys.readouterr().err
    assert told.startswith("\rx.toml: clear-first, 2000 classes")
    assert told.endswith("\r")
    assert told.rstrip("\r").rsplit("\r", 1)[-1].strip() == ""


@pytest.mark.parametrize("form", ["--json", "--sarif"])
def test_what_cannot_be_read_stands_in_what_a_program_reads(
    form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bad.toml").write_text("format = 1\nid = [\n", encoding="utf-8")
    for name, what in (("bad.toml", "not TOML"), ("gone.toml", "there is no such file")):
        assert main(["check", form, str(tmp_path / name)]) == 2
        said, complained = capsys.readouterr()
        assert what in complained
        told = json.loads(said)
        found = told["files"][0]["findings"] if form == "--json" else told["runs"][0]["results"]
        assert len(found) == 1 and what in json.dumps(found[0])


@pytest.mark.skipif(sys.platform != "linux", reason="looks for the processes beside it as Linux has them")
def test_an_interrupt_ends_every_process_without_a_word() -> None:
    command = [sys.executable, "-m", "coach", "check", "--injects", "1", "erc-2025/child-one-rescuer"]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdout=pipe, stderr=pipe, text=True, start_new_session=True) as running:
        beside = Path(f"/proc/{running.pid}/task/{running.pid}/children")
        while running.poll() is None and cores() > 1 and not beside.read_text(encoding="ascii"):
            time.sleep(0.02)
        time.sleep(0.5)
        os.killpg(running.pid, signal.SIGINT)
        said, complained = running.communicate(timeout=60)
    assert running.returncode == 130
    assert "Traceback" not in said + complained
