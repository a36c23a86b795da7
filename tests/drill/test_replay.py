"""Replay under another meaning of the engine than the log was made with."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coach.commands import main
from coach.debrief.from_log import debrief_of
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.replay import replay
from coach.drill.script import read_script
from coach.engine.machine import SEMANTICS
from coach.log.chain import GENESIS, encode, link
from coach.log.reading import read_log

SCRIPT = """# protocol: erc-2025/adult-one-rescuer
# learner: 07
0 go
3 inject helper_here
6 inject helper_here
8 u
20 z
20.4 z
"""
"""The second throw is one too many: the first meaning of the engine let it be seen, the present one does not."""


def as_of(log: Path, engine: int, line: int | None) -> Path:
    """The log as an engine of that meaning would have sealed it, with another state from a line on; its chain fits."""
    h, out = GENESIS, []
    for number, raw in enumerate(log.read_bytes().splitlines()):
        table = json.loads(raw)
        table.pop("h")
        if number == 0:
            table["engine"] = engine
        if number == line:
            table["digest"] = "0" * 64
        body = encode(table)
        h = link(h, body)
        out.append(body[:-1] + b',"h":"' + h.encode() + b'"}\n')
    copy = log.with_name("20260103-101500-0000.jsonl")
    copy.write_bytes(b"".join(out))
    return copy


@pytest.fixture
def log(tmp_path: Path) -> Path:
    script = read_script(SCRIPT, "test")
    return play(script, setup_of(script, setup_for), tmp_path)


def test_a_difference_under_another_meaning_decides_nothing(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    thrown = [line["outcome"] for line in read_log(log).lines if line.get("input") == "inject:helper_here"]
    assert thrown == ["taken", "not expected"]
    last = next(n for n, line in enumerate(read_log(log).lines, 1) if line.get("input") == "response_checked")
    other = as_of(log, SEMANTICS - 1, last)
    assert main(["verify", str(other)]) == 0
    assert main(["replay", str(other)]) == 3
    said = capsys.readouterr().err
    assert f"line {last + 1}" in said and "says nothing against the log" in said
    assert main(["replay", str(other), "--json"]) == 3
    assert json.loads(capsys.readouterr().out)["engine"] == {"log": SEMANTICS - 1, "program": SEMANTICS}
    assert f"Made with meaning {SEMANTICS - 1} of the engine" in debrief_of(read_log(other)).cautions[-1]


def test_the_same_states_are_the_same_whatever_the_meaning(log: Path) -> None:
    assert replay(read_log(as_of(log, SEMANTICS - 1, None))).same
    assert main(["replay", str(as_of(log, SEMANTICS - 1, None))]) == 0
    assert not [care for care in debrief_of(read_log(log)).cautions if "of the engine" in care]


def test_a_difference_under_the_same_meaning_is_a_finding(log: Path) -> None:
    last = next(n for n, line in enumerate(read_log(log).lines, 1) if line.get("input") == "response_checked")
    assert main(["replay", str(as_of(log, SEMANTICS, last))]) == 1
