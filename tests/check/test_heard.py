"""Golden sheets: what every shipped protocol says on shared key scripts is what a person has read and kept.

``KNEESIDE_GOLDENS=write`` writes them anew; then read the diff.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from coach.check.golden.heard import HEAD, NOT_HERE, UNLIKE, Golden, compared, goldens, heard, hears, unlike
from coach.drill.choosing import setup_for
from coach.drill.play import setup_of
from coach.drill.script import read_script
from coach.engine.plan import PlanProblem
from coach.protocol.library import list_protocols, load_protocol
from coach.resources import data_dir

SHIPPED = [entry.id for entry in list_protocols() if entry.where == "shipped"]
SHEETS = [(ident, one) for ident in SHIPPED for one in goldens(ident)]
OWN = [(ident, one) for ident, one in SHEETS if one.unlike is None]
WHOLE = {ident: load_protocol(ident) for ident in SHIPPED}
UNLIKES = {
    "/".join((path.parents[2].name, path.parent.name)): path for path in data_dir("protocols").glob(f"*/*/*/{UNLIKE}")
}
ADULT, CHILD = "erc-2025/adult-one-rescuer", "erc-2025/child-one-rescuer"
WRITE = os.environ.get("KNEESIDE_GOLDENS") == "write"


@pytest.mark.parametrize(("ident", "golden"), OWN, ids=[f"{ident}-{one.sheet.stem}" for ident, one in OWN])
def test_every_sheet_reads_as_it_was_kept(ident: str, golden: Golden) -> None:
    now = hears(golden, *WHOLE[ident])
    if WRITE:
        golden.sheet.write_text(now, encoding="utf-8")
    assert now == golden.kept()


@pytest.mark.parametrize("ident", UNLIKES)
def test_what_is_heard_unlike_another_is_told_as_it_was_kept(ident: str) -> None:
    before = UNLIKES[ident].read_text(encoding="utf-8")
    now = unlike(before.removeprefix(HEAD).partition(",")[0], *WHOLE[ident])
    if WRITE:
        UNLIKES[ident].write_text(now, encoding="utf-8")
    assert now == UNLIKES[ident].read_text(encoding="utf-8")


def test_every_protocol_has_sheets_and_no_sheet_is_without_its_script() -> None:
    kept = {golden.sheet for _, golden in SHEETS} | set(UNLIKES.values())
    assert set(data_dir("protocols").rglob("*.heard")) == kept
    assert all(golden.script.exists() for _, golden in SHEETS)
    assert {ident for ident, _ in SHEETS} == set(SHIPPED)


def test_where_one_is_heard_unlike_another_it_says_both() -> None:
    golden = next(one for one in goldens("aha-2025/child-one-rescuer") if one.sheet.stem == "a-shock-then-none")
    now = hears(golden, *WHOLE["aha-2025/child-one-rescuer"])
    told = golden.told(now).split("\n")
    assert {line[0] for line in told} == {"-", "+"}
    gone, come = ([line[1:] for line in told if line[0] == sign] for sign in "-+")
    sheet = golden.sheet.read_text(encoding="utf-8").splitlines()
    assert set(gone) <= set(sheet) and set(come) <= set(now.splitlines())
    assert [line for line in sheet if line not in gone] == [line for line in now.splitlines() if line not in come]
    assert golden.told(golden.sheet.read_text(encoding="utf-8")) == ""


def test_a_script_that_throws_what_a_protocol_lacks_is_said_not_to_play() -> None:
    sheets = {ident: {one.sheet.stem: one for one in goldens(ident)} for ident in (ADULT, CHILD)}
    assert compared(sheets[ADULT]["zzf-small-pads-breath"], *WHOLE[CHILD]) == NOT_HERE
    for of_a_child in ("zzl-adult-pads-in-time", "zzr-not-taught-the-child-way", "zzs-big-child-pads"):
        assert compared(sheets[CHILD][of_a_child], *WHOLE[ADULT]) == NOT_HERE


def test_what_is_kept_of_each_sheet_is_what_is_told_of_it() -> None:
    golden = next(one for one in goldens("erc-2025/infant-two-rescuers") if one.sheet.stem == "e-laptop-lapses")
    assert golden.unlike and golden.kept() == golden.unlike == compared(golden, *WHOLE[golden.protocol])


def _lines(text: str) -> list[str]:
    script = read_script(text)
    return list(heard(script, setup_of(script, setup_for)))


def test_a_sheet_tells_what_was_done_what_was_said_and_what_is_found() -> None:
    lines = _lines("0 go\n2 u\n3 o\n9 space\n9.1 t\n12 z\n12.5 z\n")
    assert lines[0].startswith("    0.00  go: rescuer: scene; “")
    assert any(line.startswith("    2.00  response checked: rescuer: call; “") for line in lines)
    assert "    9.10  touch seen: not expected" in lines
    assert any(line.startswith("   found  ") for line in lines)


def test_facts_of_a_script_are_those_of_its_drill() -> None:
    said = _lines('# facts: chest = "wet"\n0 go\n2 seen chest_bared\n3 r\n5 z\n5.5 z\n')
    assert any("pad-on-wet-chest" in line for line in said)
    with pytest.raises(PlanProblem, match="not both"):
        _lines("# facts: patch = true\n# scenario: brackhaven/fruit-stall\n0 go\n")


def test_a_sheet_stands_beside_its_script_or_for_a_shared_one(tmp_path: Path) -> None:
    own = tmp_path / "erc-2025" / "scripts" / "adult-one-rescuer"
    own.mkdir(parents=True)
    (tmp_path / "scripts").mkdir()
    for path in (own / "b.heard", own / "a.heard", own / "a.txt", tmp_path / "scripts" / "b.txt"):
        path.write_text("", encoding="utf-8")
    found = goldens("erc-2025/adult-one-rescuer", tmp_path)
    assert [one.script for one in found] == [own / "a.txt", tmp_path / "scripts" / "b.txt"]
