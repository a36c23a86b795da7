"""A second verdict beside the first, and two assessors of one drill."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from coach.commands import main
from coach.debrief.from_log import debrief_of
from coach.debrief.second import judged_by
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.reading import read_log
from coach.protocol.library import load_protocol
from coach.resources import data_dir

TODAY = date(2026, 3, 1)
SCRIPT = (data_dir("demo") / "first-drill.txt").read_text(encoding="utf-8").replace("mode: teach", "mode: test")


def played(folder: Path, text: str) -> Path:
    script = read_script(text, "test")
    return play(script, setup_of(script, setup_for), folder)


def test_its_own_protocol_gives_the_same_verdict_again(tmp_path: Path) -> None:
    record = read_log(played(tmp_path, SCRIPT))
    first = debrief_of(record)
    protocol, text = load_protocol("erc-2025/adult-one-rescuer")
    second = judged_by(record, protocol, text, TODAY)
    assert second.judgement.findings == first.judgement.findings
    assert [(step.id, step.status) for step in second.measures.steps] == [
        (step.id, step.status) for step in first.measures.steps
    ]
    assert second.verdict == first.verdict


def swapped() -> str:
    """Breathing before the call: a fault of order under ERC 2025, free under AHA 2025."""
    return SCRIPT.replace("12.60   e", "12.60   n").replace("19.20   n ", "19.20   e ")


def test_another_body_s_order_is_judged_by_its_own_rule(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = played(tmp_path, swapped())
    before = path.read_bytes()
    assert main(["judge", str(path), "--protocol", "aha-2025/adult-one-rescuer", "--json"]) == 0
    table = json.loads(capsys.readouterr().out)
    status = [{step["id"]: step["status"] for step in table[which]["steps"]} for which in ("first", "second")]
    assert "out of order" in (status[0]["call"], status[0]["breathing"])
    assert status[1]["call"] == status[1]["breathing"] == "independent"
    assert table["first"]["protocol"]["id"].startswith("erc") and table["second"]["protocol"]["id"].startswith("aha")
    assert path.read_bytes() == before
    assert main(["judge", str(path), "--protocol", "aha-2025/adult-one-rescuer"]) == 0
    out = capsys.readouterr().out
    assert "out of order" in out and "neither takes the other's place" in out


def test_what_a_laptop_s_unit_did_is_fed_in_as_it_happened(tmp_path: Path) -> None:
    keys = "0 go, 2 j, 5 u, 8 e, 14 n, 20 space, 30 1, 34 o, 36 j, 40 r, 44 l, 60 c, 62 enter, 64 space, 80 z, 80.4 z"
    head = "# protocol: erc-2025/adult-one-rescuer\n# unit: laptop\n# mode: test\n"
    text = head + keys.replace(", ", "\n") + "\n"
    record = read_log(played(tmp_path, text))
    first = debrief_of(record)
    protocol, other = load_protocol("aha-2025/adult-one-rescuer")
    second = judged_by(record, protocol, other, TODAY)
    names = ("analysis_begins", "shock_advised", "shock_pressed")
    moments = [
        [(event.name, event.e) for event in page.measures.floor.events if event.name in names]
        for page in (first, second)
    ]
    assert len(moments[0]) == 3 and moments[0] == moments[1]


def test_two_assessors_are_compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    other = SCRIPT.replace("assessor: a1", "assessor: a2").replace("6.10    u", "7.40    u")
    other = "\n".join(line for line in other.splitlines() if not line.startswith("104.85 "))
    one, two = played(tmp_path / "one", SCRIPT), played(tmp_path / "two", other)
    assert main(["agree", str(one), str(two), "--json"]) == 0
    table = json.loads(capsys.readouterr().out)
    assert table["times"]["offset"] == 0 and table["kappa"]["unstable"] is True
    apart = {pair["name"]: pair["apart"] for pair in table["times"]["pairs"]}
    assert apart["response_checked"] == 1_300 and apart["call_made"] == 0
    assert "compression" not in apart and table["pushes"][0] == table["pushes"][1]
    assert main(["agree", str(one), str(two)]) == 0
    out = capsys.readouterr().out
    assert "Under 20 cases these are unstable" in out and "marks by both" in out and "95 %" in out


def test_the_same_log_twice_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = played(tmp_path, SCRIPT)
    assert main(["agree", str(path), str(path)]) == 2
    assert "the same log twice" in capsys.readouterr().err
