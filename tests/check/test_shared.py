"""The shared key scripts: what two protocols say on each, told apart line by line."""

from __future__ import annotations

import json

import pytest

from coach.check.golden.shared import Apart, as_text, drills, heard_apart, shared_scripts
from coach.commands import main
from coach.protocol.library import load_protocol

BASE = load_protocol("erc-2025/adult-one-rescuer")
CHILD = load_protocol("erc-2025/child-one-rescuer")
AHA = load_protocol("aha-2025/adult-one-rescuer")


def test_a_protocol_is_heard_the_same_as_itself_on_every_script() -> None:
    found = list(heard_apart(BASE, BASE))
    assert [one.name for one in found] == [path.stem for path in shared_scripts()]
    played = [one for one in found if one.only != "neither"]
    assert len(played) == len(list(drills(*BASE))) < len(found), (
        "what only a child's protocol has plays under no adult's"
    )
    assert not any(one.lines or one.only for one in played)
    assert as_text(found) == f"Heard the same on all {len(played)} shared key scripts that play under both."


def test_where_one_cue_reads_otherwise_only_its_lines_are_told() -> None:
    protocol, text = BASE
    other = protocol.model_copy(deep=True)
    cue = other.track["rescuer"].step["pushing"].cue
    cue["en"] = "Push hard."
    steps = []
    found = list(heard_apart(BASE, (other, text), lambda done, of: steps.append((done, of))))
    told = [line for one in found for line in one.lines]
    assert told and all("Push hard." in line for line in told if line.startswith("+"))
    assert sum(line.startswith("-") for line in told) == sum(line.startswith("+") for line in told)
    assert steps == [(number, len(found)) for number in range(len(found))]


def test_a_script_that_plays_under_one_alone_is_said_to() -> None:
    found = {one.name: one for one in heard_apart(BASE, CHILD)}
    assert found["zzf-small-pads-breath"] == Apart("zzf-small-pads-breath", (), "old")
    assert found["zzl-adult-pads-in-time"] == Apart("zzl-adult-pads-in-time", (), "new")
    told = as_text(list(found.values()))
    assert "Play under the old one only: zzc-bra-or-chain, zzf-small-pads-breath" in told
    assert "Play under the new one only: zzl-adult-pads-in-time" in told
    assert len(list(drills(*CHILD))) == sum(one.only in ("", "new") for one in found.values()) < len(found)


def test_the_command_tells_it_in_words_and_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    names = [BASE[0].id, AHA[0].id]
    assert main(["compare", *names, "--heard"]) == 1
    played = len(list(drills(*BASE)))
    assert f"Heard apart on 3 of {played} shared key scripts (- old, + new):" in capsys.readouterr().out
    assert main(["compare", *names, "--heard", "--json"]) == 1
    heard = json.loads(capsys.readouterr().out)["heard"]
    assert [one["name"] for one in heard if one["lines"]] == [
        "v-hurried",
        "x-call-late",
        "zzt-begins-late-without-breaths",
    ]
    assert main(["compare", *names, "--json"]) == 1
    assert "heard" not in json.loads(capsys.readouterr().out)


def test_hostile_words_stay_words() -> None:
    assert "\x1b" not in as_text([Apart("a", ("+ \x1b[2Jgone",))])
