"""Local files over a base: what they may say, where their mistakes are shown, and what comes into force."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.protocol import library
from coach.protocol.flat_text import flat_text
from coach.protocol.model import Protocol, Relax
from coach.protocol.overlay import MAX_CHAIN, effective, effective_text, flattened
from coach.protocol.problems import FileProblems
from coach.protocol.reading import digest, notices, read_protocol
from coach.protocol.relaxing import tightened
from coach.protocol.tree import plain, planted
from coach.resources import data_dir

BASE = """
format = 1
id = "made-up/base"
version = "1"
guidance = "Made up"
title = { en = "Base", es = "Base" }

[approval]
status = "approved"
approver = "medical director"

[sources.desk]
title = "Made up"
grade = "local"

[facts]
age = { kind = "number", unit = "year", from = 1, to = 110, default = 60 }

[timers]
remind = { after = "10 s", every = "5 s", most = 3 }

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
  { on = "breath", when = "age < 8 years", mark = "early" },
  { on = "breath" },
]

[track.rescuer.step.push]
done = "compression"
start = "remind"
go = [
  { id = "pushed", on = "compression" },
  { on = "timer:remind", cue = { en = "Push." } },
]

[inject.vomit]
title = { en = "Vomit" }
allowed = "rolled"
within = "10 s"
forbidden = [{ on = "breath", fault = { id = "blew", severity = "minor", say = "Blew." } }]

[[rule]]
id = "push-possible"
always_possible = { on = "compression" }
say = { en = "Pushing is possible." }

[[rule]]
id = "prompts"
at_most = "10 s"
say = { en = "Never longer." }

[[finding]]
id = "gap-long"
over = { target = "gap" }
severity = "minor"
say = { en = "Long." }
"""

HEAD = f"""format = 1
id = "quay/local"
version = "7"
[extends]
id = "made-up/base"
version = "1"
digest = "{digest(BASE).canonical}"
"""


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    place(tmp_path, "made-up/base", BASE)
    return tmp_path


def place(folder: Path, ident: str, text: str) -> Path:
    path = folder / f"{ident}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def laid(shelf: Path, body: str, head: str = HEAD) -> Protocol:
    """The protocol in force; its flattened text reads as the same."""
    found = effective(head + body, "local.toml", shelf)
    again = tomllib.loads(found.text)
    assert by_key(again) == by_key(plain(found.root)) and in_order(again) == in_order(plain(found.root))
    assert read_protocol(found.text, "flat.toml") == found.protocol
    return found.protocol


def by_key(value: object) -> str:
    """A value with its types, whatever the order of its keys."""
    if isinstance(value, dict):
        return f"{{{', '.join(f'{key!r}: {by_key(value[key])}' for key in sorted(value))}}}"
    return f"[{', '.join(map(by_key, value))}]" if isinstance(value, list) else repr(value)


def in_order(data: dict[str, Any]) -> list[list[str]]:
    """The names whose order means something."""
    tables = [data.get(key, {}) for key in ("facts", "counters", "timers", "track", "inject")]
    return [list(table) for table in [*tables, *(track["step"] for track in data["track"].values())]]


def problems(shelf: Path, body: str, head: str = HEAD) -> list[str]:
    """The problems as ``line: what``, the line counted in the body from 1 (0 and less: in the head)."""
    with pytest.raises(FileProblems) as caught:
        effective(head + body, "local.toml", shelf)
    assert {problem.file for problem in caught.value.problems} == {"local.toml"}
    before = head.count("\n")
    return [
        f"{problem.line - before}: {problem.what} | {problem.nearest or ''} | {problem.todo}"
        for problem in caught.value.problems
    ]


# --- what comes into force --------------------------------------------------------------------------------------------


def test_nothing_said_is_the_base_under_another_name(shelf: Path) -> None:
    protocol = laid(shelf, "")
    base = read_protocol(BASE)
    own = {"id", "version", "approval", "made_from"}
    assert {key for key in Protocol.model_fields if getattr(protocol, key) != getattr(base, key)} == own
    assert protocol.approval.status == "draft"  # an approval of the base is none of the local file
    assert [(pin.id, pin.version) for pin in protocol.made_from] == [("made-up/base", "1")]


def test_each_deed_by_id(shelf: Path) -> None:
    protocol = laid(
        shelf,
        """
[change]
timers.remind.after = "8 s"
track.rescuer.step.look.cue = { en = "Look round.", es = "Mira alrededor." }
arrow.pushed.on = ["compression", "hands_placed"]
arrow."look.scene_checked".to = "push"
rule.prompts.say.en = "Not longer."
finding.gap-long.severity = "major"
inject.vomit.forbidden.blew.fault.severity = "major"
[add]
timers.more = { after = "1 min" }
sources.quay = { title = "Quay", grade = "local" }
track.rescuer.step.push.within = "20 s"
arrow.pushed.mark = "started"
arrow."push.timer:remind".restart = "more"
rule.own = { never = { on = "touch" }, say = "No touch." }
finding.own = { over = { target = "gap" }, severity = "minor", say = "Own." }
inject.vomit.forbidden.smothered = { on = "hands_lifted", fault = { id = "smothered", severity = "minor", say = "S." } }
[[insert]]
before = "pushed"
arrow = { id = "counted", on = "compression", when = "not started", mark = "first" }
[[insert]]
after = { step = "look", on = "breath", when = "age < 8 years" }
arrow = { id = "between", on = "breath", when = "age < 9 years" }
[[remove]]
arrow = { step = "look", on = "breath", when = "" }
reason = "Said enough."
[[remove]]
step = "look"
member = "within"
reason = "No hurry here."
""",
    )
    look, push = protocol.track["rescuer"].step.values()
    assert protocol.timers["remind"].after == 8_000 and protocol.timers["remind"].every == 5_000
    assert look.cue == {"en": "Look round.", "es": "Mira alrededor."} and look.within is None
    assert [arrow.id for arrow in push.go] == ["counted", "pushed", ""]
    assert [(arrow.id, arrow.when) for arrow in look.go[1:]] == [("", "age < 8 years"), ("between", "age < 9 years")]
    assert push.go[1].on == ["compression", "hands_placed"] and push.go[1].mark == ["started"]
    assert push.go[2].restart == ["more"] and push.within == 20_000
    assert [rule["id"] for rule in protocol.rule] == ["push-possible", "prompts", "own"]
    assert [finding["severity"] for finding in protocol.finding] == ["major", "minor"]
    assert [fault.fault.id for fault in protocol.inject["vomit"].forbidden] == ["blew", "smothered"]
    assert not protocol.relaxed


def test_a_rule_is_relaxed_loudly(shelf: Path) -> None:
    body = """
[relax.rule.prompts]
reason = "The quay stairs."
to = { at_most = "15 s" }
[relax.rule.push-possible]
reason = "None of ours."
"""
    protocol = laid(shelf, body)
    assert [rule["id"] for rule in protocol.rule] == ["prompts"] and protocol.rule[0]["at_most"] == "15 s"
    assert {name: relax.reason for name, relax in protocol.relaxed.items()} == {
        "prompts": "The quay stairs.",
        "push-possible": "None of ours.",
    }
    assert protocol.relaxed["prompts"].was["at_most"] == "10 s"
    text = effective(HEAD + body, "local.toml", shelf).text
    assert "# RELAXED RULE prompts: The quay stairs." in text
    told = effective(HEAD + body, "local.toml", shelf).notices
    assert [notice.what for notice in told] == [
        "the rule `prompts` is relaxed: at most 15 s, was 10 s; reason: The quay stairs.",
        "the rule `push-possible` is relaxed: dropped; reason: None of ours.",
    ]
    assert all(notice.level == "notice" for notice in told)


def test_a_rule_that_asks_for_more_is_tightened(shelf: Path) -> None:
    body = '[relax.rule.prompts]\nreason = "We can."\nto = { at_most = "9 s" }\n'
    whole = effective(HEAD + body, "local.toml", shelf)
    assert [one.what for one in whole.notices] == [
        "the rule `prompts` is tightened: at most 9 s, was 10 s; reason: We can."
    ]
    assert "# TIGHTENED RULE prompts" in whole.text and "RELAXED" not in whole.text


def test_what_is_relaxed_below_is_not_called_tightened_above(shelf: Path) -> None:
    lower = HEAD + '[relax.rule.prompts]\nreason = "Stairs."\nto = { at_most = "20 s" }\n'
    place(shelf, "quay/local", lower)
    pin = digest(effective_text(lower, "local.toml", shelf)).canonical
    upper = 'format = 1\nid = "quay/pier"\nversion = "1"\n'
    upper += f'extends = {{ id = "quay/local", version = "7", digest = "{pin}" }}\n'
    upper += '[relax.rule.prompts]\nreason = "Fewer."\nto = { at_most = "15 s" }\n'
    (notice,) = effective(upper, "local.toml", shelf).notices
    assert notice.what.endswith("is relaxed: at most 15 s, was 10 s; reason: Stairs. Then: Fewer.")


COUNT = {"count": {"of": {"on": "cue"}, "at_least": 1, "at_most": 3}, "between": {"from": {"on": "go"}}}


@pytest.mark.parametrize(
    ("was", "to", "tight"),
    [
        ({"after": {}, "within": "10 s"}, {"within": "9500 ms"}, True),
        ({"after": {}, "within": "10 s"}, {"within": "11 s"}, False),
        ({"after": {}, "within": "10 s"}, {"within": "9 s", "say": "Sooner."}, True),
        ({"after": {}, "within": "10 s"}, {"say": "Sooner."}, False),
        ({"after": {}, "within": "10 s"}, {"within": "9 s", "after": {"on": "go"}}, False),
        ({"while": "a", "at_most": "1 min"}, {"at_most": "60 s"}, False),
        ({"while": "a", "at_most": "1 min"}, {"at_most": "soon"}, False),
        ({"while": "a", "at_most": "1 min"}, {"at_most": "50 s", "while": "a and b"}, False),
        ({"never": {"on": "x"}}, {"within": "9 s"}, False),
        ({"never": {"on": "x"}}, {}, False),
        (COUNT, {"count": {**COUNT["count"], "at_most": 2}}, True),
        (COUNT, {"count": {**COUNT["count"], "at_least": 2, "at_most": 2}}, True),
        (COUNT, {"count": {**COUNT["count"], "at_least": 2, "at_most": 4}}, False),
        (COUNT, {"count": {"of": COUNT["count"]["of"], "at_most": 3}}, False),
        (COUNT, {"count": {**COUNT["count"], "of": {"on": "clear"}, "at_most": 2}}, False),
        ({**COUNT, "count": {"of": {}}}, {"count": {"of": {}, "at_most": 2}}, True),
    ],
)  # fmt: skip
def test_only_a_bound_that_asks_for_more_is_tighter(was: dict[str, Any], to: dict[str, Any], tight: bool) -> None:
    assert tightened(Relax(reason="x", was=was, to=to)) is tight


def test_a_relaxed_rule_stays_relaxed_one_file_further_up(shelf: Path) -> None:
    lower = HEAD + '[relax.rule.prompts]\nreason = "Stairs."\n'
    place(shelf, "quay/local", lower)
    pin = digest(effective_text(lower, "local.toml", shelf)).canonical
    upper = 'format = 1\nid = "quay/pier"\nversion = "1"\n'
    upper += f'extends = {{ id = "quay/local", version = "7", digest = "{pin}" }}\n'
    protocol = laid(shelf, "", upper)
    assert list(protocol.relaxed) == ["prompts"]
    assert [made.id for made in protocol.made_from] == ["quay/local", "made-up/base"]


def test_the_flattened_text_says_who_changed_what(shelf: Path) -> None:
    body = '[change.timers.remind]\nafter = "8 s"\n[[remove]]\nfinding = "gap-long"\nreason = "Not ours."\n'
    text = effective(HEAD + body, "local.toml", shelf).text
    assert '# quay/local: changed, was "10 s"' in text
    assert "# quay/local: removed the finding gap-long: Not ours." in text


# --- mistakes, each at its line ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ('[change.timers.remnid]\nafter = "8 s"', "1: the base has no `timers.remnid` | remind |"),
        ('[change]\ntimers.remind.most_ = 3', "2: the base has no `timers.remind.most_` | most |"),
        ('[change]\ntimers.remind = "8 s"', "2: the base has a table here"),
        ('[change]\ntimers.remind.after = { x = 1 }', "2: the base has a plain value here"),
        ('[add]\ntimers.remind.after = "8 s"', '2: the base has `timers.remind.after` already: "10 s"'),
        ('[add]\nrule.prompts = { never = { on = "touch" } }', "2: the base has the rule `prompts` already"),
        ('[add.inject.vomit.forbidden]\nx = { on = "touch", fault = { id = "y" } }', "2: the fault's id in it is not"),
        ('[change]\nrule.prompts.at_most = "15 s"', "2: the rule `prompts` may not be changed in passing"),
        ('[change]\nid = "quay/other"', "2: `id` is each file's own"),
        ('[change]\napproval.status = "approved"', "2: `approval` is each file's own"),
        ('[change]\nmade_from = []', "2: `made_from` is each file's own"),
        ('[change]\ntrack.rescuer.step.look.go = []', "2: a whole list of arrows is never replaced"),
        ('[change]\ntrack.rescuer.step.look.go.x.to = "push"', "2: arrows are named by their ids"),
        ('[change]\narrow.pushd.to = "look"', "2: the base has no arrow `pushd` | pushed |"),
        ('[change]\narrow."look.breath".to = "push"', "2: 2 arrows fit here, in look"),
        ('[[remove]]\nreason = "x"\nfinding = "gap-lng"', "3: the base has no finding `gap-lng` | gap-long |"),
        ('[[remove]]\nreason = "x"\nstep = "lok"', "3: the base has no step `lok` | look |"),
        ('[[remove]]\nreason = "x"\nstep = "look"\nmember = "withn"', "4: the base has no `withn` in that step"),
        ('[[remove]]\nreason = "x"\nstep = "look"\nmember = "go"', "4: arrows are taken away one by one"),
        ('[[remove]]\nreason = "x"', "1: a removal names one thing"),
        ('[[remove]]\nreason = "x"\nstep = "look"\ntimer = "remind"', "1: a removal names one thing"),
        ('[[remove]]\nfinding = "gap-long"', "1: `reason` is missing"),
        ('[[remove]]\nfinding = "gap-long"\nreason = ""', "3: a reason is needed, in words"),
        ('[[remove]]\nrule = "prompts"\nreason = "x"', "2: the rule `prompts` is not removed but relaxed"),
        ('[relax.rule.prompts]\nto = { at_most = "15 s" }', "1: `reason` is missing"),
        ('[relax.rule.promts]\nreason = "x"', "1: the base has no rule `promts` | prompts |"),
        ('[relax.rule.prompts]\nreason = "x"\nwas = { a = 1 }', "3: `was` is filled in by the program"),
        ('[[insert]]\narrow = { id = "n", on = "touch" }', "1: an insertion names one arrow"),
        ('[[insert]]\nbefore = "pushed"\narrow = { on = "touch" }', "3: an inserted arrow needs an id"),
        ('[[insert]]\nbefore = "pushed"\narrow = { id = "pushed", on = "touch" }', "3: an arrow `pushed` is there"),
        ('[timers]\nx = { after = "1 s" }', "1: `timers` belongs to the base of this file"),
        ('[chnage]\nx = 1', "1: unknown key `chnage`"),
        # wrong in the whole, shown at the overlay's own place
        ('[add]\ntimers.x = { after = "8" }', "2: the unit is missing"),
        ('[add.timers]\nx = { aftr = "8 s" }', "2: unknown key `aftr` | after"),
        ('[[insert]]\nafter = "pushed"\narrow = { id = "n", on = "touch", to = "nowhere" }', "3: unknown step"),
        ('[[insert]]\nafter = "pushed"\narrow = { id = "n", on = "touch", when = "agee < 8 years" }', "3: unknown"),
        # wrong in a part of the base that only this file makes wrong
        ('\n[[remove]]\nreason = "x"\ntimer = "remind"', "2: unknown timer `remind` (in made-up/base"),
        ('\n[[remove]]\nreason = "x"\nstep = "push"', "2: unknown step `push` (in made-up/base"),
    ],
)  # fmt: skip
def test_every_mistake_is_shown_at_its_line(shelf: Path, body: str, said: str) -> None:
    assert any(problem.startswith(said) for problem in problems(shelf, body)), problems(shelf, body)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('version = "1"', 'version = "0"', "the base is version 1 now, this file was written over 0"),
        ('digest = "', 'digest = "0', "the base bears version 1 still, but its content is not"),
        ("digest = ", "# digest = ", "the digest of the base is missing"),
        ("made-up/base", "made-up/bass", "no protocol is called made-up/bass. Did you mean made-up/base?"),
        ("made-up/base", "../made-up/base.toml", "a base is named by its id"),
        ("made-up/base", "quay/local", "`quay/local` stands over itself"),
    ],
)
def test_another_base_than_the_pinned_one_is_refused(shelf: Path, old: str, new: str, said: str) -> None:
    place(shelf, "quay/local", HEAD)
    head, _, tail = HEAD.partition("[extends]")
    found = problems(shelf, "", head + "[extends]" + tail.replace(old, new))
    assert len(found) == 1 and said in found[0]
    if "digest" in old:
        assert digest(BASE).canonical in found[0]  # it says what to write


def test_a_base_that_changed_is_noticed_and_its_comments_are_not(shelf: Path) -> None:
    place(shelf, "made-up/base", BASE.replace('to = 10, unit = "s"', 'to = 11, unit = "s"'))
    assert "its content is not what this file was written over" in problems(shelf, "")[0]
    place(shelf, "made-up/base", "# a comment\n" + BASE.replace('status = "approved"', 'status = "withdrawn"'))
    assert laid(shelf, "").version == "7"


def test_a_broken_base_is_named_with_its_first_mistake(shelf: Path) -> None:
    path = place(shelf, "made-up/base", BASE.replace('to = "push"', 'to = "pusch"', 1))
    (found,) = problems(shelf, "")
    assert "the base cannot be used" in found and "unknown step `pusch`" in found and str(path) in found


def chain(shelf: Path, length: int) -> str:
    """The text of a file that stands on ``length - 1`` others, the last of them the base."""
    below, version, text = "made-up/base", "1", BASE
    for number in range(1, length):
        pin = digest(effective_text(text, "t", shelf)).canonical
        ident = f"quay/c{number}"
        text = f'format = 1\nid = "{ident}"\nversion = "1"\n'
        text += f'extends = {{ id = "{below}", version = "{version}", digest = "{pin}" }}\n'
        place(shelf, ident, text)
        below, version = ident, "1"
    return text


def test_a_chain_has_an_end(shelf: Path) -> None:
    assert len(effective(chain(shelf, MAX_CHAIN), "t", shelf).protocol.made_from) == MAX_CHAIN - 1
    with pytest.raises(FileProblems, match="files stand over one another"):
        effective(chain(shelf, MAX_CHAIN + 1), "t", shelf)


def test_a_ring_is_said_to_be_one(shelf: Path) -> None:
    pin = '", version = "1", digest = "0" }\n'
    place(shelf, "quay/one", 'format = 1\nid = "quay/one"\nversion = "1"\nextends = { id = "quay/two' + pin)
    place(shelf, "quay/two", 'format = 1\nid = "quay/two"\nversion = "1"\nextends = { id = "quay/one' + pin)
    with pytest.raises(FileProblems, match="quay/one over quay/two over quay/one"):
        read_protocol(shelf / "quay" / "one.toml")


@pytest.mark.parametrize("key", ["change", "add", "remove", "insert"])
def test_differences_without_a_base_are_no_protocol(key: str) -> None:
    value = "[]" if key in ("remove", "insert") else "{ x = 1 }"
    with pytest.raises(FileProblems, match=f"`{key}` needs a base"):
        read_protocol(f"{key} = {value}\n{BASE}")


def test_a_file_may_not_call_its_own_rules_relaxed() -> None:
    with pytest.raises(FileProblems, match="only a rule of a base can be relaxed"):
        read_protocol(BASE + '\n[relax.rule.prompts]\nreason = "x"\n')


# --- notices, hostile texts, reading everywhere -----------------------------------------------------------------------


def test_what_changes_nothing_and_half_a_wording_are_said(shelf: Path) -> None:
    body = '[change]\ntimers.remind.after = "10 s"\ntrack.rescuer.step.look.cue.en = "Look round."\n'
    told = effective(HEAD + body, "local.toml", shelf).notices
    assert [(notice.line - HEAD.count("\n"), notice.what.split(":")[0]) for notice in told] == [
        (2, "`after` changes nothing"),
        (3, "the wording changes in en only; es still says what the base says"),
    ]


def test_a_wording_may_say_the_same_again_in_one_language(shelf: Path) -> None:
    """Whoever mends one language says the other anew to tell that it was looked at."""
    base = effective(HEAD, "local.toml", shelf).protocol.track["rescuer"].step["look"].cue
    body = f'[change.track.rescuer.step.look.cue]\nen = "Look round."\nes = "{base["es"]}"\n'
    assert effective(HEAD + body, "local.toml", shelf).notices == ()
    both = body.replace("Look round.", base["en"])
    assert len(effective(HEAD + both, "local.toml", shelf).notices) == 2


def test_hostile_texts_make_no_lines_and_no_code(shelf: Path) -> None:
    nasty = 'x\\u001b[2J\\nformat = 2\\n[approval]\\nstatus = \\"approved\\"'
    body = f'[[remove]]\nfinding = "gap-long"\nreason = "{nasty}"\n[relax.rule.prompts]\nreason = "{nasty}"\n'
    body += f'[change]\ntrack.rescuer.step.look.cue.en = "{nasty}"\n'
    found = effective(HEAD + body, "local.toml", shelf)
    comments = [line for line in found.text.split("\n") if line.startswith("#")]
    assert "\x1b" not in found.text and any("removed the finding" in line for line in comments)
    assert read_protocol(found.text).approval.status == "draft"
    assert tomllib.loads(found.text)["format"] == 1


@pytest.mark.parametrize("value", ["1", '"x"', "[]", "{}", "true", "[[1]]", "{ id = 1, version = 2, digest = [] }"])
def test_a_pin_of_another_shape_is_a_problem_not_a_crash(shelf: Path, value: str) -> None:
    with pytest.raises(FileProblems):
        effective(f'format = 1\nid = "quay/x"\nversion = "1"\nextends = {value}\n', "t", shelf)


@pytest.mark.parametrize("deed", ["change", "add"])
@pytest.mark.parametrize(
    "value",
    [
        "1",
        "[]",
        '"x"',
        "{ track = 1 }",
        "{ rule = 1 }",
        "{ arrow = [] }",
        "{ arrow.pushed = 1 }",
        "{ inject.vomit.forbidden.blew = 1 }",
        "{ track.rescuer.step.look.go = 1 }",
    ],
)
def test_differences_of_another_shape_are_problems_not_crashes(shelf: Path, deed: str, value: str) -> None:
    with pytest.raises(FileProblems):
        effective(f"{deed} = {value}\n{HEAD}", "t", shelf)


words = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
values = st.recursive(
    words | st.booleans() | st.integers(-9, 9) | st.dates() | st.floats(allow_nan=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=12,
)


@given(st.dictionaries(words, values, max_size=4))
def test_any_tables_written_flat_read_back_as_they_were(data: dict[str, object]) -> None:
    tree = planted(data, "made-up/any", note="changed, was \x1b[2J\n[x]")
    assert by_key(tomllib.loads(flat_text(tree))) == by_key(data)


def test_every_shipped_protocol_flattens_to_itself() -> None:
    for entry in library.list_protocols():
        text = entry.path.read_text(encoding="utf-8")
        assert (
            digest(flattened(text, str(entry.path))).canonical
            == digest(effective_text(text, str(entry.path))).canonical
        )


def test_the_worked_example_is_in_force_wherever_a_protocol_is_read() -> None:
    path = data_dir("demo") / "brackhaven-rescue.toml"
    protocol, text = library.load_protocol(str(path))
    assert protocol == read_protocol(path) == read_protocol(text)
    assert "spare_unit" not in protocol.inject and "swell" in protocol.inject
    assert protocol.approval.status == "draft" and not protocol.relaxed
    assert notices(path) == []


def test_the_command_prints_the_whole_and_the_lent_arrows(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from coach.commands import main

    path = place(shelf, "quay/local", HEAD + '[change.timers.remind]\nafter = "8 s"\n')
    assert main(["flatten", str(path)]) == 0
    assert read_protocol(capsys.readouterr().out) == read_protocol(path)
    assert main(["flatten", str(path), "--derived"]) == 0
    derived = capsys.readouterr().out
    assert "# lent by the spine: on compression, stays" in derived
    assert read_protocol(derived) == read_protocol(path)
    place(shelf, "made-up/base", BASE.replace("Base", "Other"))
    assert main(["flatten", str(path)]) == 2
    assert "local.toml:7:10: the base bears version" in capsys.readouterr().err
