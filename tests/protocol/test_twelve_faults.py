"""A file with twelve faults of twelve kinds gives twelve problems, each at its line and column."""

from __future__ import annotations

import json

import pytest

from coach.protocol.reading import FileProblems, Problem, read_protocol

FAULTY = '''\
format = 1
id = "erc-2025/twelve-faults"
version = "1"
guidance = "ERC 2025"
titel = "A key misspelt"                                # 1
title = "Twelve faults"

[sources.bls]
title = "Made up for a test"
grade = "hearsay"                                       # 2

[facts]
weight = { kind = "number", from = 2, to = 200, unit = "kg", may_be_unknown = true }
chest = { kind = "choice", of = ["dry", "wet"], default = "dri" }   # 3

[counters]
shocks = { max = 4 }

[terms]
heavy = """
  weight > 100 kg
  and weight > 90 pounds"""                             # 4

[timers]
remind = { every = "10" }                               # 5

[track.rescuer]
start = "check"

[track.rescuer.step.check]
source = "bls"
within = "0 s"                                          # 6
go = [
  { on = "not_breathing", to = "pusch" },               # 7
  { on = [
      "call_made",
      "clear_caled",                                    # 8
    ], to = "push" },
  { on = "handover", to = "push", when = "chest == wet and heavy and shocks > 5" },  # 9
]

[track.rescuer.step.push]
go = [
  { on = "shock_pressed", add = { shocks = 1 }, fault = { id = "no-clear", severity = "critical", say = "No clear." } },
  { on = "touch", when = "chest == true" },             # 10
]

[track.unit]
start = "off"

[track.unit.step.off]
go = [
  { on = "unit_on", start = "remnd" },                  # 11
  { on = "shock_pressed", set = { shocks = 0 } },       # 12
]
'''

EXPECTED = [
    (5, 1, "unknown key `titel`", "title"),
    (10, 9, "`hearsay` is not allowed here", None),
    (14, 59, "`dri` is no word of this choice", "dry"),
    (22, 19, "unknown unit `pounds`", None),
    (25, 20, "the unit is missing", None),
    (32, 10, "zero", None),
    (34, 32, "unknown step `pusch`", "push"),
    (37, 7, "unknown observation `clear_caled`", "clear_called"),
    (39, 79, "never counted beyond 4", None),
    (45, 33, "`== true` is not needed", "chest"),
    (53, 29, "unknown timer `remnd`", "remind"),
    (54, 35, "`shocks` is written by the tracks `rescuer` and `unit`", None),
]


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(FileProblems) as caught:
        read_protocol(text, name="faulty.toml")
    return caught.value.problems


def test_twelve_faults_are_twelve_problems_each_in_its_place() -> None:
    found = problems(FAULTY)
    assert [(p.line, p.column, p.nearest) for p in found] == [(line, col, near) for line, col, _, near in EXPECTED]
    for problem, (_, _, what, _) in zip(found, EXPECTED, strict=True):
        assert what in problem.what
        assert problem.file == "faulty.toml"


def test_line_ends_of_another_system_change_no_place() -> None:
    here = [(p.line, p.column) for p in problems(FAULTY)]
    assert [(p.line, p.column) for p in problems(FAULTY.replace("\n", "\r\n"))] == here


def test_problems_read_as_text_and_as_json() -> None:
    with pytest.raises(FileProblems) as caught:
        read_protocol(FAULTY, name="faulty.toml")
    lines = str(caught.value).splitlines()
    assert len(lines) == 12
    assert lines[0] == "faulty.toml:5:1: unknown key `titel`. Did you mean `title`?"
    assert lines[4] == 'faulty.toml:25:20: the unit is missing: write "10 s", "10 min" or "10 ms".'
    first = json.loads(json.dumps(caught.value.as_dicts()))[0]
    assert (first["file"], first["line"], first["column"], first["level"]) == ("faulty.toml", 5, 1, "error")
    assert (first["what"], first["nearest"]) == ("unknown key `titel`", "title")


@pytest.mark.parametrize("number", range(12))
def test_each_fault_alone_is_one_problem(number: int) -> None:
    """Mending eleven of the twelve leaves the one, so that none hides behind another."""
    mends = [
        ("titel = ", "about = "),
        ("hearsay", "memory"),
        ('"dri"', '"dry"'),
        ("90 pounds", "90 kg"),
        ('every = "10"', 'every = "10 s"'),
        ('"0 s"', '"1 s"'),
        ("pusch", "push"),
        ("clear_caled", "clear_called"),
        ("shocks > 5", "shocks > 3"),
        ("chest == true", "chest == dry"),
        ("remnd", "remind"),
        ("set = { shocks = 0 }", 'emit = "machine_ready"'),
    ]
    text = FAULTY
    for index, (bad, good) in enumerate(mends):
        if index != number:
            assert bad in text
            text = text.replace(bad, good)
    (found,) = problems(text)
    line, _, what, _ = EXPECTED[number]
    assert (found.line, what in found.what) == (line, True)
