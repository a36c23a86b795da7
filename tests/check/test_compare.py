"""Two versions compared by id and by meaning."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.check.compare.guards import Room, compare_guards
from coach.check.compare.judged import finds_less
from coach.check.compare.parts import SECTIONS, differences_of
from coach.check.compare.runs import compare_runs
from coach.check.compare.words import compare
from coach.engine.build import build
from coach.engine.plan import resolve
from coach.engine.state import State
from coach.protocol import guards
from coach.protocol.model import Arrow, Counter, Fact, OwnObservation, Protocol, Step, Waive
from coach.protocol.overlay import effective
from coach.protocol.reading import digest, read_protocol

FILE = """
format = 1
id = "made-up/base"
version = "1"
guidance = "Made up"
title = { en = "Base", es = "Base" }

[sources.desk]
title = "Made up"
grade = "local"

[facts]
age = { kind = "number", unit = "year", from = 1, to = 110, default = 60 }
weight = { kind = "number", unit = "kg", from = 2, to = 200, may_be_unknown = true }
wet = { kind = "flag", default = false }

[counters]
shocks = { max = 5 }

[terms]
small = "weight < 25 kg or (unknown(weight) and age < 8 years)"

[timers]
remind = { after = "10 s", every = "5 s", most = 3, source = "desk" }
period = { after = "2 min", source = "desk" }

[targets]
gap = { to = 10, unit = "s", source = "desk" }

[track.rescuer]
start = "look"
spine = ["look", "push"]

[track.rescuer.step.look]
cue = { en = "Look.", es = "Mira." }
done = "scene_checked"
within = "10 s"
go = [
  { on = "scene_checked", to = "push" },
  { on = "breath", when = "small", mark = "early", cue = { en = "Small.", es = "Pequeño." } },
  { on = "breath", when = "wet", cue = { en = "Wet.", es = "Mojado." } },
]

[track.rescuer.step.push]
done = "compression"
start = ["remind", "period"]
cue = { en = "Push.", es = "Comprime." }
go = [
  { id = "pushed", on = "compression", mark = "pushing" },
  { on = "timer:remind", when = "not pushing", cue = { en = "Go on.", es = "Sigue." } },
  { on = "timer:period", cue = { en = "Two minutes.", es = "Dos minutos." } },
]

[track.unit]
start = "away"
[track.unit.step.away]
go = [{ on = "unit_on", to = "armed", mark = "clear_said", when = "pushing" }]
[track.unit.step.armed]
armed = true
go = [
  { on = "clear_called", mark = "clear_said" },
  { id = "fired", on = "shock_pressed", when = "clear_said", to = "away", unmark = "clear_said", add = { shocks = 1 } },
  { id = "early", on = "shock_pressed", to = "away", fault = { id = "f", severity = "critical", say = { en = "F." } } },
]

[inject.vomit]
title = { en = "Vomit", es = "Vómito" }
allowed = "rolled"
within = "10 s"

[[rule]]
id = "clear"
never = { on = "shock_pressed", taken = "as-taught" }
unless_since = { mark = "clear_said", after = { on = "shock_pressed" } }
say = { en = "A clear call.", es = "Un aviso." }
source = "desk"

[[finding]]
id = "gap-long"
over = { target = "gap" }
severity = "minor"
say = { en = "Long.", es = "Largo." }
"""

BASE = read_protocol(FILE)


def other(old: str, new: str) -> Protocol:
    assert old in FILE
    return read_protocol(FILE.replace(old, new, 1))


def said(old: Protocol, new: Protocol) -> list[str]:
    return [f"{change.section} | {change.where} | {change.what}" for change in differences_of(old, new).changes]


# --- guards -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("left", "right", "case"),
    [
        ("small", "weight < 25 kg or (unknown(weight) and age < 8 years)", ""),
        ("not (wet and early)", "not wet or not early", ""),
        ("shocks >= 1", "shocks > 0", ""),
        ("shocks > 4", "shocks == 5", ""),
        ("age < 8 years", "age < 96 months", ""),
        ("unit in (floor, laptop)", "", ""),
        ("not weight < 25 kg", "weight >= 25 kg", "weight unknown"),
        ("age < 8 years", "age <= 8 years", "age 8 years"),
        ("weight < 25 kg", "weight < 24.9 kg", "weight 24.9 kg"),
        ("in_step(unit, away)", "not in_step(unit, armed)", ""),
        ("in_step(unit, away)", "in_step(unit, armed)", "unit in"),
        ("running(period)", "", "period not running"),
        ("early", "wet", "early not marked"),
    ],
)
def test_guards_are_compared_by_what_they_mean(left: str, right: str, case: str) -> None:
    meaning = compare_guards(Room(BASE), left, Room(BASE), right)
    assert (meaning.kind, case in meaning.case) == ("differ" if case else "same", True)


def test_a_step_that_neither_guard_names_is_a_case_too() -> None:
    three = other("[track.unit.step.armed]", '[track.unit.step.off]\ngo = [{ on = "touch" }]\n[track.unit.step.armed]')
    meaning = compare_guards(Room(three), "in_step(unit, away)", Room(three), "not in_step(unit, armed)")
    assert (meaning.kind, meaning.case, meaning.left) == ("differ", "unit in another step", False)


def test_the_same_words_over_other_facts_are_another_meaning() -> None:
    wider = other("from = 2, to = 200, may_be_unknown = true", "from = 2, to = 200, default = 70")
    narrow = compare_guards(Room(BASE), "unknown(weight)", Room(wider), "unknown(weight)")
    assert narrow.kind == "same"  # asked of every value that either version knows
    term = other('small = "weight < 25 kg', 'small = "weight < 20 kg')
    assert compare_guards(Room(BASE), "small", Room(term), "small").case.startswith("weight 20")


def test_too_many_cases_are_not_decided() -> None:
    marks = " and ".join(f"m{number}" for number in range(20))
    assert compare_guards(Room(BASE), marks, Room(BASE), f"not not ({marks})").kind == "not decided"


atoms = st.sampled_from(
    ["age < 8 years", "age >= 18 years", "weight < 25 kg", "unknown(weight)", "wet", "early", "shocks >= 2", "small"]
)
exprs = st.recursive(
    atoms,
    lambda inner: st.one_of(
        inner.map(lambda one: f"not ({one})"), st.tuples(inner, st.sampled_from(["and", "or"]), inner).map(
            lambda three: f"({three[0]}) {three[1]} ({three[2]})"
        )
    ),
    max_leaves=4,
)  # fmt: skip


@given(
    exprs, exprs, st.integers(1, 110), st.none() | st.integers(2, 200), st.booleans(), st.booleans(), st.integers(0, 5)
)
def test_guards_that_are_called_the_same_agree_in_the_engine(
    left: str, right: str, age: int, weight: int | None, wet: bool, early: bool, shocks: int
) -> None:
    meaning = compare_guards(Room(BASE), left, Room(BASE), right)
    machine = build(BASE, resolve(BASE))
    names = list(machine.fact_names)
    facts = list(machine.facts)
    facts[names.index("age")] = age * 12_000
    facts[names.index("weight")] = None if weight is None else weight * 1_000
    facts[names.index("wet")] = wet
    marks = (1 << machine.layout.marks["early"]) if early else 0
    counters = tuple(shocks if name == "shocks" else 0 for name in machine.counters)
    state = State(0, tuple(0 for _ in machine.tracks), counters, marks, (), -1, tuple(facts))
    answers = [guards.compile_guard(guards.parse(text), machine.layout)(state, state.facts) for text in (left, right)]
    if meaning.kind == "same":
        assert answers[0] == answers[1]


def test_what_a_finding_asks_less_of() -> None:
    late = {"id": "a", "absent": {"this": "breath", "over": "60 s"}, "severity": "major", "say": {"en": "x"}}
    assert finds_less(late, None)
    assert finds_less(late, {**late, "severity": "minor"}) and not finds_less(late, {**late, "severity": "critical"})
    assert finds_less(late, {**late, "absent": {"this": "breath", "over": "2 min"}})
    assert not finds_less(late, {**late, "absent": {"this": "breath", "over": "30 s"}})
    assert not finds_less(late, {**late, "absent": {"this": "breath", "over": "soon"}})
    assert not finds_less(late, {**late, "say": {"en": "y"}})


# --- differences ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ('after = "2 min"', 'after = "110 s"', ["timing | timer period | after 110 s instead of 2 min"]),
        ("to = 10, unit", "to = 12, unit", ["relaxed | target gap | to 12 instead of 10"]),
        ("to = 10, unit", "from = 3, to = 12, unit",
         ["relaxed | target gap | to 12 instead of 10", "timing | target gap | from 3 instead of nothing"]),
        ("to = 10, unit", "value = 3, unit",
         ["relaxed | target gap | to nothing instead of 10", "timing | target gap | value 3 instead of nothing"]),
        ("to = 10, unit", "to = 9.5, unit", ["timing | target gap | to 9.5 instead of 10"]),
        ('done = "scene_checked"\nwithin = "10 s"', 'done = "scene_checked"\nwithin = "12 s"',
         ["timing | step look | late after 12 s instead of 10 s"]),
        ('allowed = "rolled"\nwithin = "10 s"', 'allowed = "rolled"\nwithin = "15 s"',
         ["timing | inject vomit | late after 15 s instead of 10 s"]),
        ('when = "not pushing", cue', "cue",
         ["arrows | rescuer, push: on timer:remind | asks `nothing` instead of `not pushing`: "
          "with pushing marked it was not taken, now taken"]),
        ('to = "away", unmark = "clear_said"', 'to = "away"',
         ["arrows | unit, armed: on shock pressed (fired) | unmarks nothing instead of clear_said"]),
        ('severity = "critical"', 'severity = "minor"',
         ["relaxed | unit, armed: on shock pressed (early) | its fault is minor instead of critical"]),
        ("armed = true", "", ["arrows | step armed | armed false instead of true"]),
        ('[[finding]]\nid = "gap-long"', '[[finding]]\nid = "gap-longer"',
         ["relaxed | finding gap-long | gone",
          "other | finding gap-longer | new: id = gap-longer, over = { target = gap }, severity = minor"]),
        ('[[rule]]\nid = "clear"', '[[rule]]\nid = "cleared"',
         ["relaxed | clear | gone, without a reason (“A clear call.”)",
          "other | rule cleared | new rule (“A clear call.”)"]),
        ('never = { on = "shock_pressed", taken = "as-taught" }', 'never = { on = "shock_pressed", taken = "fault" }',
         ["relaxed | clear | reads otherwise: now never = { on = shock_pressed, taken = fault }, "
          "was never = { on = shock_pressed, taken = as-taught }"]),
        ('en = "Look."', 'en = "Look round."',
         ["wording | track.rescuer.step.look.cue | en: “Look round.”, was “Look.”"]),
        ('grade = "local"', 'grade = "read"', ["wording | source desk | grade 'read', was 'local'"]),
        ('en = "Wet."', 'en = "Damp."', ["wording | rescuer, look: on breath: cue | en: “Damp.”, was “Wet.”"]),
    ],
)  # fmt: skip
def test_each_difference_in_words(old: str, new: str, expected: list[str]) -> None:
    assert said(BASE, other(old, new)) == expected


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('small = "weight < 25 kg or (unknown(weight) and age < 8 years)"',
         'small = "not (not weight < 25 kg and not (age < 96 months and unknown(weight)))"'),
        ('when = "small", mark', 'when = "weight < 25 kg or (unknown(weight) and age < 8 years)", mark'),
        ('start = ["remind", "period"]', 'start = ["period", "remind"]'),
        ('after = "2 min"', 'after = "120 s"'),
        ('shocks = { max = 5 }', "shocks = { max = 5 } # as before"),
    ],
)  # fmt: skip
def test_what_means_the_same_is_no_change(old: str, new: str) -> None:
    changed = other(old, new)
    found = differences_of(BASE, changed)
    assert (found.changes, found.alike) == ((), True)
    assert compare_runs(BASE, changed, found).kind == "same"


def test_reordering_a_file_is_no_change() -> None:
    tables = re.split(r"\n(?=\[)", FILE)
    head, rest = tables[0], tables[1:]
    steps = {table for table in rest if table.startswith("[track.")}
    turned = [*reversed([table for table in rest if table not in steps]), *[table for table in rest if table in steps]]
    found = compare(BASE, read_protocol("\n".join([head, *turned])))
    assert not found.differs and found.decided and found.runs.kind == "same"
    tracks = FILE.index("[track.rescuer]"), FILE.index("[track.unit]"), FILE.index("[inject.vomit]")
    swapped = FILE[: tracks[0]] + FILE[tracks[1] : tracks[2]] + FILE[tracks[0] : tracks[1]] + FILE[tracks[2] :]
    found = compare(BASE, read_protocol(swapped), limit=400)
    assert not found.differs and found.runs.kind == "same" and found.found.order == ("track",)
    assert "No difference in what stands in the two files, but for the order of track." in found.text()
    lines = [line for line in FILE.split("\n") if line.startswith(("remind = ", "period = "))]
    assert len(lines) == 2
    timers = read_protocol(FILE.replace("\n".join(lines), "\n".join(reversed(lines))))
    found = compare(BASE, timers)
    assert not found.differs and found.runs.kind == "same" and found.found.order == ("timers",)


def test_arrows_in_another_order_are_a_change_only_where_both_can_hold() -> None:
    lines = [line for line in FILE.split("\n") if 'on = "breath"' in line]
    swapped = read_protocol(FILE.replace("\n".join(lines), "\n".join(reversed(lines))))
    assert said(BASE, swapped) == [
        "arrows | rescuer, look: on breath | tried before rescuer, look: on breath now, and both can hold at once"
    ]
    apart = FILE.replace('when = "wet"', 'when = "wet and not small"')
    lines = [line for line in apart.split("\n") if 'on = "breath"' in line]
    again = read_protocol(apart.replace("\n".join(lines), "\n".join(reversed(lines))))
    assert said(read_protocol(apart), again) == []


def test_a_renamed_step_is_guessed_and_said_to_be_a_guess() -> None:
    renamed = read_protocol(FILE.replace('"push"', '"press"').replace("step.push", "step.press"))
    found = differences_of(BASE, renamed)
    assert found.renamed == {"push": "press"}
    assert [change.what for change in found.changes] == ["called press now (a guess: same cue, same ways out)"]
    assert compare_runs(BASE, renamed, found).kind == "same"


def test_relaxed_rules_stand_first(tmp_path: Path) -> None:
    (tmp_path / "made-up").mkdir()
    (tmp_path / "made-up" / "base.toml").write_text(FILE, encoding="utf-8")
    local = f"""format = 1
id = "quay/local"
version = "1"
[extends]
id = "made-up/base"
version = "1"
digest = "{digest(FILE).canonical}"
[relax.rule.clear]
reason = "Stairs."
[change]
timers.period.after = "110 s"
title.en = "Quay"
"""
    found = compare(BASE, effective(local, "t", tmp_path).protocol, limit=400)
    sections = [change.section for change in found.changes]
    assert sections == sorted(sections, key=list(SECTIONS).index) and sections[0] == "relaxed"
    text = found.text()
    assert text.split("\n")[2:4] == ["Relaxed:", "  clear: dropped; reason: Stairs. (“A clear call.”)"]


def text_of(old: str, new: str) -> str:
    return compare(read_protocol(old), read_protocol(new), limit=200).text()


PASSES = FILE + '\n[pass]\ncritical_faults = 0\nmajor_faults = 2\ncritical_steps = "independent"\ntargets = ["gap"]\n'


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("critical_faults = 0", "critical_faults = 3", "relaxed | pass | critical_faults 3 instead of 0"),
        ("critical_faults = 0\n", "", "other | pass | critical_faults nothing instead of 0"),
        ("major_faults = 2", "major_faults = 1", "other | pass | major_faults 1 instead of 2"),
        ("major_faults = 2\n", "", "relaxed | pass | major_faults nothing instead of 2"),
        ('"independent"', '"none"', "relaxed | pass | critical_steps none instead of independent"),
        ('["gap"]', "[]", "relaxed | pass | targets [] instead of [gap]"),
        ("[pass]\n", '[[waive]]\ncode = "x"\nwhere = "a"\nreason = "So."\n[pass]\n',
         "waived | x at a | waived now; reason: So."),
    ],
)  # fmt: skip
def test_a_pass_that_asks_for_less_stands_with_what_is_relaxed(old: str, new: str, expected: str) -> None:
    assert old in PASSES
    assert said(read_protocol(PASSES), read_protocol(PASSES.replace(old, new, 1))) == [expected]
    page = text_of(PASSES, PASSES.replace(old, new, 1))
    assert "No difference in any run" in page
    assert f"or what is signed, differs all the same: {expected.split(' | ')[1]}." in page


def test_where_all_runs_are_alike_other_words_are_pointed_at() -> None:
    heard = "Other words are heard"
    assert heard in text_of(FILE, FILE.replace('en = "Look."', 'en = "Stop looking."', 1))
    assert heard not in text_of(FILE, FILE.replace('grade = "local"', 'grade = "read"', 1))
    assert heard not in text_of(FILE, FILE.replace('after = "2 min"', 'after = "110 s"', 1))


def test_a_waiver_that_goes_or_has_another_reason_is_told() -> None:
    waived = FILE + '\n[[waive]]\ncode = "x"\nreason = "So."\n'
    assert said(read_protocol(waived), BASE) == ["waived | x | no longer waived"]
    changed = read_protocol(waived.replace("So.", "Because."))
    assert said(read_protocol(waived), changed) == ["waived | x | reason: Because., was: So."]


def test_a_changed_condition_is_told_once() -> None:
    (told,) = said(BASE, other('small = "weight < 25 kg', 'small = "weight < 20 kg'))
    assert told.startswith("other | condition small | `weight < 20 kg")
    assert "` instead of `weight < 25 kg" in told and "they differ with weight 20" in told


def test_what_only_has_another_name_relaxes_no_rule() -> None:
    new = read_protocol(FILE.replace("clear_said", "all_clear"))
    sections = {change.section: change for change in differences_of(BASE, new).changes}
    assert "relaxed" not in sections
    assert sections["other"].what == "the same by other names: clear_said is all_clear now"
    # another mark, that is set elsewhere, is not the same by another name
    apart = FILE.replace("clear_said", "all_clear").replace('on = "clear_called", mark', 'on = "touch", mark')
    assert "relaxed" in {change.section for change in differences_of(BASE, read_protocol(apart)).changes}


OWN = {"format", "id", "version", "approval", "made_from"}
"""What each file says of itself."""

SILENT = {
    "terms": "a term is what its guards mean",
    "relax": "tested apart",
    "step": "asked of each",
    "go": "asked of each",
}


def _altered(value: object) -> object:
    if isinstance(value, bool):
        return not value
    if isinstance(value, (int, float)):
        return value + 1
    if isinstance(value, str):
        return f"{value}x"
    if isinstance(value, list):
        return value[:-1] if value else ["x"]
    return {"en": "x"} if not isinstance(value, dict) or not value else dict(list(value.items())[:-1])


def _with_step(**changes: object) -> Protocol:
    track = BASE.track["rescuer"]
    step = track.step["push"].model_copy(update=changes)
    changed = track.model_copy(update={"step": {**track.step, "push": step}})
    return BASE.model_copy(update={"track": {**BASE.track, "rescuer": changed}})


@pytest.mark.parametrize("field", [field for field in Step.model_fields if field not in ("when", *SILENT)])
def test_no_member_of_a_step_changes_unseen(field: str) -> None:
    value = {"within": 7_000, "title": {"en": "x"}, "look": {"en": "x"}}.get(
        field, _altered(getattr(BASE.track["rescuer"].step["push"], field))
    )
    other_one = _with_step(**{field: value})
    back = differences_of(other_one, BASE).changes
    assert differences_of(BASE, other_one).changes and back


@pytest.mark.parametrize("field", [field for field in Arrow.model_fields if field not in ("when", "source", "id")])
def test_no_member_of_an_arrow_changes_unseen(field: str) -> None:
    arrow = BASE.track["rescuer"].step["push"].go[0]
    value = {"fault": BASE.track["unit"].step["armed"].go[2].fault, "to": "look", "set": {"shocks": 1}}.get(
        field, _altered(getattr(arrow, field))
    )
    go = [arrow.model_copy(update={field: value}), *BASE.track["rescuer"].step["push"].go[1:]]
    assert differences_of(BASE, _with_step(go=go)).changes


@pytest.mark.parametrize("field", [field for field in Protocol.model_fields if field not in OWN | SILENT.keys()])
def test_no_member_of_a_protocol_changes_unseen(field: str) -> None:
    value = {
        "pass_": {"x": 1},
        "waive": [Waive(code="x", reason="y")],
        "audience": "responder",
        "keys": {"g": "touch"},
    }.get(field, _altered(getattr(BASE, field)))
    if field == "observations":
        value = {"own": OwnObservation(label={"en": "Own"})}
    elif field == "counters":
        value = {**BASE.counters, "more": Counter(max=2)}
    elif field == "facts":
        value = {**BASE.facts, "more": Fact(kind="flag", default=False)}
    assert differences_of(BASE, BASE.model_copy(update={field: value})).changes
