"""Two versions run side by side: the run on which they part is a real one, and what none can show is proved."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coach.check.compare.parts import differences_of
from coach.check.compare.runs import compare_runs
from coach.check.compare.words import compare
from coach.check.states.classes import Limit
from coach.engine.build import build
from coach.engine.plan import resolve
from coach.engine.step import advance, feed, start
from coach.protocol.model import Protocol
from coach.protocol.reading import read_protocol
from coach.resources import data_dir
from tests.check.test_compare import BASE, FILE, other


@pytest.mark.parametrize(
    ("old", "new", "keys", "last"),
    [
        ('after = "2 min"', 'after = "110 s"', 1, ("nothing", "“Two minutes.”")),
        ('after = "10 s", every', 'after = "11 s", every', 1, ("“Go on.”", "nothing")),
        ('when = "small", mark', 'when = "weight < 20 kg", mark', 1, None),
        ("[track.unit.step.armed]\narmed = true", "[track.unit.step.armed]", 3, ("unit: away", "not armed")),
        ('allowed = "rolled"', 'allowed = "recovery"', 2, None),
    ],
)
def test_the_shortest_run_on_which_they_part_is_a_real_one(
    old: str, new: str, keys: int, last: tuple[str, str] | None
) -> None:
    changed = other(old, new)
    found = differences_of(BASE, changed)
    runs = compare_runs(BASE, changed, found, limit=4_000)
    assert runs.kind == "differ" and runs.parting is not None
    parting = runs.parting
    assert len(parting.events) == keys and parting.lines[-1].old != parting.lines[-1].new
    if last is not None:
        assert (parting.lines[-1].old or ("nothing",))[0] == last[0]
        assert (parting.lines[-1].new or ("nothing",))[0] == last[1]
    # and the engine, run anew on those keys, says so too
    told = [
        _heard(each, parting.unit, parting.counting, parting.events, parting.lines[-1].e) for each in (BASE, changed)
    ]
    if not parting.facts:
        assert told[0] != told[1]


def _heard(protocol: Protocol, unit: str, counting: str, events: tuple[tuple[int, str], ...], end: int) -> list[object]:
    machine = build(protocol, resolve(protocol, unit=unit, counting=counting))
    state, effects = start(machine)
    heard: list[object] = [*effects]
    for e, event in events:
        state, before = advance(machine, state, e)
        state, after, outcome = feed(machine, state, event, e)
        heard += [*before, *after, outcome]
    return [*heard, *advance(machine, state, end)[1]]


def test_a_difference_behind_facts_names_them() -> None:
    changed = other('when = "small", mark', 'when = "weight < 20 kg", mark')
    runs = compare_runs(BASE, changed, differences_of(BASE, changed))
    assert runs.parting is not None
    facts = dict(runs.parting.facts)
    assert facts["weight"] in ("20 kg", "unknown") or float(facts["weight"].split()[0]) < 25


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('on = "compression", mark = "pushing"', 'on = "compression", mark = ["pushing", "unread"]'),
        ('on = "timer:period", cue', 'on = "timer:period", when = "in_step(rescuer, push)", cue'),
        ('on = "timer:remind", when = "not pushing"',
         'on = "timer:remind", when = "not pushing and not in_step(rescuer, look)"'),
        ("shocks = { max = 5 }", "shocks = { max = 3 }"),
        ('go = [{ on = "unit_on", to = "armed"', 'go = [{ on = "clear_called", when = "early and not early" },'
         ' { on = "unit_on", to = "armed"'),
        ("[track.unit]\n", '[counters.rolls]\nmax = 2\n[track.unit]\ngo = [{ on = "breath", add = { rolls = 1 } }]\n'),
    ],
)  # fmt: skip
def test_what_no_run_can_show_is_proved(old: str, new: str) -> None:
    changed = other(old, new)
    found = differences_of(BASE, changed)
    assert not found.alike
    runs = compare_runs(BASE, changed, found)
    kind = "differ" if "rolls" in new else "same"  # a breath with the unit away is then expected
    assert runs.kind == kind


def test_what_was_given_up_is_not_called_proved() -> None:
    changed = other('on = "compression", mark = "pushing"', 'on = "compression", mark = ["pushing", "unread"]')
    found = compare(BASE, changed, limit=200, exact=Limit(3, 1.0))
    assert found.runs.kind == "not decided" and found.differs
    assert "does not prove that there is none: no proof: given up after" in found.text()


def test_a_newly_broken_rule_is_named_with_its_story_and_parts_the_runs() -> None:
    found = compare(BASE, other('on = "unit_on", to = "armed", mark = "clear_said"', 'on = "unit_on", to = "armed"'))
    assert [change.section for change in found.changes] == ["arrows"]
    found = compare(
        read_protocol(FILE.replace(', mark = "clear_said", when = "pushing"', "")),
        read_protocol(
            FILE.replace(', mark = "clear_said", when = "pushing"', "").replace('when = "clear_said", to', "to")
        ),
    )
    broken = [change for change in found.changes if change.section == "broken"]
    assert [change.where for change in broken] == ["clear"] and "BROKEN clear" in broken[0].what
    assert found.runs.kind == "differ"


def test_json_says_what_the_text_says() -> None:
    found = compare(BASE, other('after = "2 min"', 'after = "110 s"'))
    document = json.loads(json.dumps(found.as_dict()))
    assert document["differs"] and document["runs"]["verdict"] == "differ"
    assert document["changes"] == [
        {"section": "timing", "where": "timer period", "what": "after 110 s instead of 2 min"}
    ]
    assert document["runs"]["parting"]["events"] == [{"ms": 1_000, "event": "scene_checked"}]


def test_hostile_texts_stay_on_their_line() -> None:
    nasty = "x\\u001b[2J\\nRelaxed:\\n  all: gone"
    changed = other('en = "Look."', f'en = "{nasty}"')
    text = compare(BASE, changed, limit=100).text()
    assert "\x1b" not in text and "\nRelaxed" not in text


def test_two_bodies_whose_files_run_alike_are_said_to() -> None:
    one, two = (
        read_protocol(data_dir("protocols") / body / "adult-one-rescuer.toml") for body in ("erc-2025", "aha-2025")
    )
    found = differences_of(one, one)
    assert found.changes == () and compare_runs(one, one, found).kind == "same"
    sections = {change.section for change in differences_of(one, two).changes}
    assert "wording" in sections and "relaxed" not in sections


def test_the_command_ends_with_what_it_found(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from coach.commands import main

    old, new, odd = tmp_path / "old.toml", tmp_path / "new.toml", tmp_path / "odd.toml"
    old.write_text(FILE, encoding="utf-8")
    new.write_text(FILE.replace('after = "2 min"', 'after = "110 s"'), encoding="utf-8")
    odd.write_text("format = 1\n", encoding="utf-8")
    assert main(["compare", str(old), str(old)]) == 0
    assert "No difference in any run" in capsys.readouterr().out
    assert main(["compare", str(old), str(new), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["runs"]["verdict"] == "differ"
    assert main(["compare", str(old), str(odd)]) == 2
    assert main(["compare", str(old), "no/such"]) == 2
