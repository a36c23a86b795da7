"""What is written reads back as the same value."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.protocol.model import After, Arrow, Pads, Protocol, Scenario, Span, Throw, Timer
from coach.protocol.reading import read_pads, read_protocol, read_scenario
from coach.protocol.writing import write
from coach.resources import data_dir

ROOT = data_dir("protocols")
FILES = sorted(
    path for folder in (ROOT, data_dir("demo")) for path in folder.rglob("*.toml") if path.parent.name != "parts"
)


def read(path: Path) -> Protocol | Scenario | Pads:
    if path.stem == "pads":
        return read_pads(path)
    return read_scenario(path) if "scenarios" in path.parts else read_protocol(path)


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_shipped_file_round_trips(path: Path) -> None:
    value = read(path)
    again = {Protocol: read_protocol, Scenario: read_scenario, Pads: read_pads}[type(value)](write(value))
    assert again == value


EVERYTHING = """
format = 1
id = "erc-2025/everything"
version = "1"
guidance = "ERC 2025"
title = { en = "All", es = "Todo", "pt-BR" = "Tudo" }
about = "One of each."

[approval]
effective = 2026-01-01
review_due = "2027-01"

[sources.bls]
title = "Made up"
grade = "local"

[facts]
age = { kind = "number", from = 0, to = "110 years", unit = "year", default = 7.9, source = "bls" }
implant = { kind = "flag", default = false }
rhythm = { kind = "script", of = ["yes", "no"], counter = "n", default = ["yes", "no"] }

[counters]
n = { max = 4 }

[timers]
one = { after = "90 s" }
two = { after = "500 ms", every = "2 min", most = 3, since = "last_push" }

[targets]
rate = { from = 100, to = 120, unit = "/min", source = "bls" }
pause = { to = "10 s", source = ["bls"] }

[observations.coat_off]
label = "coat off"
key = "g"

[keys]
f5 = "call_made"

[track.rescuer]
start = "a"
spine = ["a", "b"]
either_order = [["a", "b"]]
go = [{ on = "timer:one", cue = "Go on." }]
[track.rescuer.step.a]
within = "1.5 s"
start = "one"
[track.rescuer.step.b]
done = "call_made"
go = [
  { id = "x", on = ["touch", "coat_off"], when = "age < 8 years and not implant", add = { n = 0 } },
  { on = "breath", fault = { id = "f", severity = "minor", say = "F" } },
]

[inject.gasp]
title = "Gasp"
allowed = "not_breathing"
within = "10 s"
digit = 3
late = { id = "gasp-late", severity = "minor", say = "Late." }
forbidden = [{ on = "recovery", fault = { id = "turned", severity = "major", say = "Turned." } }]

[[rule]]
id = "clear-before-shock"
never = { on = "shock_pressed", taken = true }
unless_since = { mark = "clear", after = { on = "analysis_begins" } }
day = 2026-02-03
some = [1, 2.5, { en = "kept as a table" }]

[[finding]]
id = "x"
say = { en = "X" }

[pass]
critical = ["a"]

[[waive]]
code = "no-source"
reason = "A test."

[[made_from]]
id = "erc-2025/adult"
version = "1"
digest = "d"

[relax.rule.clear-before-shock]
reason = "A test."
was = { id = "clear-before-shock" }
"""


def test_one_of_everything_round_trips() -> None:
    protocol = read_protocol(EVERYTHING)
    text = write(protocol)
    assert read_protocol(text) == protocol
    assert protocol.rule[0]["day"] == datetime.date(2026, 2, 3)
    assert 'within = "1500 ms"' in text and 'every = "2 min"' in text
    assert write(read_protocol(text)) == text


durations = st.integers(1, 3_600_000).map(lambda ms: f"{ms} ms")
words = st.text(max_size=12)
name_lists = st.lists(st.sampled_from(["a", "b_c", "timer:x"]), max_size=2)
arrows = st.builds(
    Arrow,
    on=st.lists(st.sampled_from(["touch", "breath"]), min_size=1, max_size=2),
    when=words,
    mark=name_lists,
    set=st.dictionaries(st.sampled_from(["n", "m"]), st.integers(0, 9), max_size=2),
    cue=words | st.dictionaries(st.sampled_from(["en", "es"]), words, min_size=1, max_size=2),
)
timers = st.builds(Timer, after=st.none() | durations, every=durations, most=st.none() | st.integers(1, 9))
throws = st.builds(
    Throw,
    name=words,
    digit=st.integers(1, 6),
    at=st.none() | durations | durations.map(lambda text: Span.model_validate({"from": text, "to": text})),
    after=st.none() | st.builds(After, on=words, by=durations),
)


@given(st.lists(arrows, max_size=3), st.dictionaries(st.sampled_from(["a", "b"]), timers, max_size=2))
def test_made_up_protocols_keep_their_meaning(go: list[Arrow], timers: dict[str, Timer]) -> None:
    protocol = read_protocol(EVERYTHING)
    step = protocol.track["rescuer"].step["a"].model_copy(update={"go": go})
    track = protocol.track["rescuer"].model_copy(update={"step": {"a": step}})
    changed = protocol.model_copy(update={"track": {"rescuer": track}, "timers": timers})
    assert Protocol.model_validate(tomllib.loads(write(changed))) == changed


@given(
    st.lists(throws, max_size=3), st.dictionaries(st.sampled_from(["a", "b"]), st.booleans() | st.floats(0, 9) | words)
)
def test_made_up_scenarios_keep_their_meaning(throw: list[Throw], facts: dict[str, bool | float | str]) -> None:
    scenario = Scenario(format=1, id="x", title={"en": "X"}, story={"en": "X"}, throw=throw, facts=dict(facts))
    assert Scenario.model_validate(tomllib.loads(write(scenario))) == scenario
