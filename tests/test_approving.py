"""The way of an approval at the command line: signed where it checks, changed, compared, withdrawn, and who is told."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from coach.commands import main
from coach.commands.approving import approve
from coach.commands.words import Refused
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.used import uses_of
from coach.protocol.approval import approval_state
from coach.protocol.approved import approved_dir
from coach.protocol.reading import digest, read_protocol, read_text

TODAY = date(2026, 1, 2)
"""The day before key scripts are played on their own clock."""

SOUND = """format = 1
id = "made-up/base"
version = "1"
guidance = "Made up"
title = { en = "Base", es = "Base" }

[approval]
author = "desk"
status = "draft"

[sources.desk]
title = "Made up"
grade = "local"
checked = "2026-01-01"

[timers]
remind = { after = "10 s", source = "desk" }

[track.rescuer]
start = "push"
[track.rescuer.step.push]
cue = { en = "Power on.", es = "Enciende." }
start = "remind"
source = "desk"
go = [{ on = "timer:remind" }, { on = "unit_on" }]

[[rule]]
id = "kept"
source = "desk"
always_possible = { on = "unit_on" }
say = { en = "Possible.", es = "Posible." }
"""

DRILL = """# protocol: {path}
# counting: marks
# mode: test
# learner: {learner}
# assessor: a1
0 go
{at} z
{at}.4 z
"""


@pytest.fixture(autouse=True)
def _own_places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setenv("KNEESIDE_CONFIG", str(tmp_path / "settings.toml"))
    monkeypatch.setattr("coach.log.places.second_dir", lambda: None)  # it belongs to the machine, not to a test


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A sound file of the person's own, nobody's signature in it."""
    made = tmp_path / "made-up" / "base.toml"
    made.parent.mkdir()
    made.write_text(SOUND, encoding="utf-8")
    return made


def run(path: Path, **changes: Any) -> int:
    given = {"role": "medical director", "reason": "First.", "effective": "2026-01-02", "review_due": "2027-03"}
    return approve(path, **{**given, "status": "approved", "today": TODAY, **changes})


def stands(path: Path, day: date = TODAY) -> str:
    return approval_state(read_protocol(path), read_text(path), day).word


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def drill(path: Path, learner: str, at: int, folder: Path) -> Path:
    script = read_script(DRILL.format(path=path, learner=learner, at=at), "test")
    return play(script, setup_of(script, setup_for), folder)


# --- signing ----------------------------------------------------------------------------------------------------------


def test_what_checks_is_signed_in_place_and_keeps_its_rights(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path.chmod(0o640)
    assert run(path) == 0, capsys.readouterr().err
    assert path.stat().st_mode & 0o777 == 0o640 and list(path.parent.iterdir()) == [path]
    assert stands(path) == "in force"
    said = capsys.readouterr().out
    (kept,) = approved_dir().glob("*/*/*.toml")
    assert "Signed: " in said and str(kept) in said
    assert read_text(kept) == read_text(path)


def test_a_signature_says_what_it_accepts(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    waive = (
        '[terms]\nlater = "unit == floor"\n[[waive]]\ncode = "term-unused"\nwhere = "later"\nreason = "Next year."\n'
    )
    path.write_text(SOUND + waive, encoding="utf-8")
    local = path.parent.parent / "quay" / "base.toml"
    local.parent.mkdir()
    pin = f'[extends]\nid = "made-up/base"\nversion = "1"\ndigest = "{digest(SOUND + waive).canonical}"\n'
    relax = '[relax.rule.kept]\nreason = "Stairs."\n'
    local.write_text(f'format = 1\nid = "quay/base"\nversion = "1"\n[approval]\nauthor = "q"\n{pin}{relax}', "utf-8")
    assert run(local) == 0, capsys.readouterr().err
    said = capsys.readouterr().out
    assert "a rule RELAXED: kept: dropped; reason: Stairs." in said
    assert "a finding WAIVED: term-unused at later; reason: Next year." in said
    assert main(["sheet", str(local), "--unproved"]) == 0
    page = capsys.readouterr().out
    assert "WAIVED FINDINGS" in page and "Next year" in page


@pytest.mark.parametrize(
    ("old", "new", "changes", "said"),
    [
        ('on = "timer:remind"', 'on = "timer:remind", when = "age < 3"', {}, "base.toml"),
        ('always_possible = { on = "unit_on" }', 'always_possible = { on = "compression" }', {}, "kept"),
        (', source = "desk" }', " }", {}, "no-source"),
        ("", "", {"role": "desk"}, "the author, desk, cannot be the approver too"),
        ("", "", {"status": "in-force"}, "draft: nobody has approved it"),
        ("", "", {"status": "withdrawn", "reason": ""}, "no reason is given"),
    ],
)
def test_what_does_not_check_is_refused_and_left_alone(
    old: str, new: str, changes: dict[str, str], said: str, path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path.write_text(text := SOUND.replace(old, new) if old else SOUND, encoding="utf-8")
    try:
        code = run(path, **changes)
    except ValueError as error:  # a file that does not read is told of as everywhere
        assert said in str(error)
    else:
        assert code == 1 and said in capsys.readouterr().err
        assert run(path, **changes, json=True) == 1
        told = json.loads(capsys.readouterr().out)
        assert told["written"] is False and any(said in one for one in told["refused"])
    assert path.read_text(encoding="utf-8") == text
    assert not approved_dir().exists()


def test_a_rule_that_an_inject_alone_breaks_is_no_way_to_a_signature(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change(path, '{ on = "unit_on" }]', '{ on = "unit_on" }, { on = "inject:dark", to = "gone" }]')
    change(
        path,
        "[[rule]]",
        """[track.rescuer.step.gone]
cue = { en = "No unit.", es = "Sin equipo." }
source = "desk"
required = false
[inject.dark]
title = { en = "Dark", es = "Oscuro" }
play = { en = "Take it away.", es = "Retíralo." }
allowed = ["unit_off"]
within = "10 s"
source = "desk"
[inject.dark.late]
id = "dark-late"
severity = "minor"
say = { en = "Late.", es = "Tarde." }
source = "desk"
[observations.unit_off]
label = { en = "off", es = "apagado" }
by = "learner"
verb = { en = "Switch it off", es = "Apágalo" }

[[rule]]""",
    )
    assert main(["check", str(path)]) == 0, capsys.readouterr().out
    assert run(path) == 1
    assert "the rule `kept` can be broken" in capsys.readouterr().err


def test_not_decided_is_refused_as_well(
    path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from coach.check import whole
    from coach.check.states.classes import Limit

    monkeypatch.setattr(whole, "Limit", lambda: Limit(classes=0))
    assert run(path) == 1
    assert "not decided" in capsys.readouterr().err
    assert read_protocol(path).approval.status == "draft"


def test_what_was_taken_back_or_signed_is_not_merely_checked(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(path, status="checked") == 0 and stands(path) == "checked"
    assert run(path) == 0
    assert run(path, status="checked") == 1 and "unchanged since" in capsys.readouterr().err
    assert run(path, status="in-force") == 0 and stands(path) == "in force"
    assert run(path, status="superseded") == 0
    assert run(path, status="checked") == 1
    assert run(path, status="withdrawn") == 0
    for status in ("checked", "approved", "in-force", "superseded"):
        assert run(path, status=status) == 1
    assert stands(path) == "withdrawn"


@pytest.mark.parametrize("forget", ["copies", "history", ""])
def test_one_version_is_never_signed_with_other_content(
    forget: str, path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(path) == 0 and run(path, review_due="2028-03") == 0, "the same content may be signed anew"
    change(path, '"10 s"', '"11 s"')
    if forget == "copies":  # another computer: the file itself remembers
        for copy in approved_dir().glob("*/*/*.toml"):
            copy.unlink()
    elif forget == "history":  # somebody took it out: the copies remember
        path.write_text(SOUND.replace('"10 s"', '"11 s"'), encoding="utf-8")
    text = read_text(path)
    capsys.readouterr()
    assert run(path) == 1
    assert "version 1 was signed on 2026-01-02 by medical director with other content" in capsys.readouterr().err
    assert read_text(path) == text
    change(path, '/base"\nversion = "1"', '/base"\nversion = "2"')
    assert run(path) == 0


def test_what_was_done_to_a_file_stays_in_it(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(path) == 0
    assert run(path, status="superseded", role="", reason="Newer.") == 1
    assert "name the role" in capsys.readouterr().err
    assert run(path, status="superseded", role="training lead", reason="Newer.", today=date(2026, 2, 1)) == 0
    assert run(path, status="withdrawn", role="medical director", reason="Unsafe.", today=date(2026, 3, 1)) == 0
    (kept,) = approved_dir().glob("*/*/*.toml")
    for one in (path, kept):
        acts = read_protocol(one).approval.history
        assert [(act.status, act.by, act.on, act.version, act.reason) for act in acts] == [
            ("approved", "medical director", "2026-01-02", "1", "First."),
            ("superseded", "training lead", "2026-02-01", "1", "Newer."),
            ("withdrawn", "medical director", "2026-03-01", "1", "Unsafe."),
        ]
    assert digest(read_text(path)).canonical == digest(SOUND).canonical
    capsys.readouterr()
    for form in ("markdown", "html"):
        assert main(["sheet", str(path), "--unproved", "--as", form]) == 0
        page = capsys.readouterr().out
        assert page.index("What was signed and taken back before") < page.index("Newer.") < page.rindex("Unsafe.")


def test_a_file_signed_before_there_was_a_history_keeps_its_signature(path: Path) -> None:
    assert run(path) == 0
    head, _, rest = read_text(path).partition("\n[[approval.history]]")
    path.write_text(head + rest[rest.index("\n[sources") :], encoding="utf-8")
    assert stands(path) == "in force" and not read_protocol(path).approval.history
    assert run(path, status="withdrawn", reason="Unsafe.", today=date(2026, 3, 1)) == 0
    acts = read_protocol(path).approval.history
    assert [(act.status, act.on, act.reason) for act in acts] == [
        ("approved", "2026-01-02", "First."),
        ("withdrawn", "2026-03-01", "Unsafe."),
    ]


def test_a_shipped_file_is_not_signed_in_place(capsys: pytest.CaptureFixture[str]) -> None:
    from coach.resources import data_dir

    shipped = data_dir("protocols") / "erc-2025" / "adult-one-rescuer.toml"
    before = shipped.read_bytes()
    with pytest.raises(Refused, match="ships with the program") as refused:
        run(shipped)
    assert "kneeside bench erc-2025/adult-one-rescuer, then O" in str(refused.value)
    assert shipped.read_bytes() == before


# --- compared with what is in force -----------------------------------------------------------------------------------


def test_a_changed_file_is_compared_with_what_was_signed(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", str(path)]) == 2
    assert "nothing to compare it with" in capsys.readouterr().err
    assert run(path) == 0
    assert main(["compare", str(path)]) == 0
    change(path, '"10 s"', '"11 s"')
    assert stands(path) == "changed since approved"
    capsys.readouterr()
    assert main(["compare", str(path)]) == 1
    said = capsys.readouterr().out
    assert said.startswith("Compared with the version in force, made-up/base 1 (in force, approved by medical director")
    assert "timer remind: after 11 s instead of 10 s" in said
    assert main(["compare", str(path), "--json"]) == 1
    (kept,) = approved_dir().glob("*/*/*.toml")
    assert json.loads(capsys.readouterr().out)["compared_with"] == {"path": str(kept), "stands": "in force"}


def test_the_newest_that_stands_is_the_one_compared_with(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(path, effective="2026-01-02") == 0
    change(path, '/base"\nversion = "1"', '/base"\nversion = "2"')
    assert run(path, effective="2026-01-03") == 0
    change(path, '/base"\nversion = "2"', '/base"\nversion = "3"')

    def against() -> str:
        capsys.readouterr()
        main(["compare", str(path)])
        return capsys.readouterr().out.partition("(in force")[0].strip()

    assert against() == "Compared with the version in force, made-up/base 2"
    assert run(path, status="withdrawn") == 0  # the file bears the second signature still
    assert against() == "Compared with the version in force, made-up/base 1"
    (first, second) = sorted(approved_dir().glob("*/*/*.toml"), key=lambda one: read_protocol(one).version)
    assert (stands(first), stands(second)) == ("in force", "withdrawn")
    change(first, '"10 s"', '"12 s"')  # a copy that somebody changed is not in force, and that is said
    assert "No version of it is in force" in against()


def test_a_local_file_and_a_changed_copy_of_a_shipped_one_find_the_shipped_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from coach.protocol.approved import to_compare_with
    from coach.resources import data_dir

    demo = data_dir("demo") / "brackhaven-rescue.toml"
    shipped = data_dir("protocols") / "erc-2025" / "adult-one-rescuer.toml"
    found = to_compare_with(demo, read_text(demo), tmp_path, TODAY)
    assert found is not None and found.path == shipped and found.words.startswith("No version of it is in force")
    copy = tmp_path / "erc-2025" / shipped.name
    copy.parent.mkdir()
    copy.write_bytes(shipped.read_bytes())
    found = to_compare_with(copy, read_text(copy), tmp_path, TODAY)
    assert found is not None and found.path == shipped
    assert to_compare_with(shipped, read_text(shipped), None, TODAY) is None


# --- withdrawn: who is told -------------------------------------------------------------------------------------------


def test_withdrawing_names_the_drills_made_with_it(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drills = tmp_path / "data" / "drills"
    before = drill(path, "05", 20, drills)  # the draft: the same content
    assert run(path) == 0
    signed = digest(read_text(path)).canonical
    safe = drill(path, "07", 21, drills)
    change(path, '"10 s"', '"11 s"')
    later = drill(path, "none", 22, drills)
    change(path, '"11 s"', '"12 s"')
    other = drill(path, "09", 23, drills)
    change(path, '"12 s"', '"11 s"')
    with safe.open("a", encoding="utf-8") as file:
        file.write('{"kind": "end"}\n')
    assert {use.learner: use.approval for use in uses_of("made-up/base", [drills, drills])} == {
        "05": "draft",
        "07": "in force",
        "": "changed since approved",
        "09": "changed since approved",
    }
    capsys.readouterr()
    assert run(path, status="withdrawn", reason="Unsafe.", json=True) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["texts"] == {signed: "as it was signed", digest(read_text(path)).canonical: "as it stands"}
    assert {one["log"] for one in told["tell"]["drills"]} == {str(before), str(safe), str(later)}
    assert [one["log"] for one in told["with_other_texts"]] == [str(other)]
    assert told["tell"]["learners"] == ["05", "07"] and told["tell"]["assessors"] == ["a1"]
    assert [bool(one["trouble"]) for one in told["tell"]["drills"] if one["learner"] == "07"] == [True]
    assert run(path, status="withdrawn", reason="Unsafe.") == 0
    said = capsys.readouterr().out
    assert "To be told" in said and "nobody named" in said and "not to be read" in said
    assert said.index("To be told") < said.index("\n07 ") < said.index("Made with other texts") < said.index("\n09 ")
    assert str(drills) in said
    (kept,) = approved_dir().glob("*/*/*.toml")
    assert stands(kept) == "withdrawn"


def test_the_verdict_told_is_the_last_one_signed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from coach.protocol.library import find_protocol
    from coach.resources import data_dir

    own = tmp_path / "data" / "protocols" / "erc-2025" / "adult-one-rescuer.toml"
    own.parent.mkdir(parents=True)
    own.write_bytes((data_dir("protocols") / "erc-2025" / "adult-one-rescuer.toml").read_bytes())
    assert find_protocol("erc-2025/adult-one-rescuer").path == own
    script = data_dir("demo") / "first-drill.txt"
    test = tmp_path / "test.txt"
    test.write_text(script.read_text(encoding="utf-8").replace("mode: teach", "mode: test"), encoding="utf-8")
    assert main(["play", str(test), "--out", str(tmp_path / "data" / "drills")]) == 0
    log = capsys.readouterr().out.splitlines()[-1]
    main(["sign", log, "--who", "a9", "--result", "not-yet"])
    capsys.readouterr()
    assert run(own, status="withdrawn", reason="Unsafe.") == 0
    assert "07       2026-01-03  test  not yet, signed by a9 on " in capsys.readouterr().out
