"""Coverage: exact on a protocol small enough to count by hand, and the same for the same seed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coach.check.golden.coverage import Coverage, coverage
from coach.check.golden.scripts import play_scripts
from coach.check.golden.shared import drills
from coach.check.proof.learners import Learners
from coach.check.whole import check_file
from coach.commands import main
from coach.protocol.library import load_protocol
from coach.protocol.overlay import effective
from coach.protocol.reading import read_text
from coach.resources import data_dir

SHIPPED = data_dir("protocols") / "erc-2025" / "adult-one-rescuer.toml"

FIRST = "[[track.rescuer.step.begin.go]]"
NO_WAY = """\
[[track.rescuer.step.begin.go]]
id = "no_way"
on = "compression"
when = "in_step(rescuer, pushing)"
to = "pushing"

"""
"""An arrow that cannot be taken: whoever is in its step is in no other."""


def _cover(path: Path, learners: int, seed: int = 1) -> Coverage:
    text = read_text(path)
    whole = effective(text, str(path), path.parent.parent)
    played = play_scripts(path, whole.protocol, whole.text)
    histories = [one.history for one in played if one.history is not None]
    return coverage(whole, str(path), text, histories, learners=learners, seed=seed, folder=path.parent.parent)


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the one-rescuer file with one arrow that nobody can take, and the demo as its golden script."""
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setenv("KNEESIDE_CONFIG", str(tmp_path / "settings.toml"))
    folder = tmp_path / "library" / "erc-2025"
    scripts = folder / "scripts" / "adult-one-rescuer"
    scripts.mkdir(parents=True)
    (folder / "adult-one-rescuer.toml").write_text(
        read_text(SHIPPED).replace(FIRST, NO_WAY + FIRST, 1), encoding="utf-8"
    )
    (folder / "pads.toml").write_bytes((SHIPPED.parent / "pads.toml").read_bytes())
    demo = (data_dir("demo") / "first-drill.txt").read_text(encoding="utf-8")
    (scripts / "demo.txt").write_text(f"# expects: hands-off-long\n{demo}", encoding="utf-8")
    return folder


def test_what_cannot_be_taken_is_listed_at_its_line(library: Path) -> None:
    path = library / "adult-one-rescuer.toml"
    found = _cover(path, 60)
    lines = path.read_text(encoding="utf-8").split("\n")
    never = {(one.kind, one.name): one for one in found.never}
    assert ("arrow", "no_way") in never and ("guard holds", "no_way") in never
    assert ("guard does not hold", "no_way") not in never
    line = never["arrow", "no_way"].where.line
    assert lines[line - 1 : line + 1] == [FIRST, 'id = "no_way"']


def test_learners_come_by_every_step_and_nearly_every_arrow_of_what_ships() -> None:
    found = _cover(SHIPPED, 300)
    assert found.reached("step", "learners") == (len(tuple(i for i in found.items if i.kind == "step")),) * 2
    reached, of = found.reached("arrow", "learners")
    assert reached >= of * 0.97


def test_a_script_comes_by_what_its_drill_went_through_and_no_more(library: Path) -> None:
    found = {(one.kind, one.name): one for one in _cover(library / "adult-one-rescuer.toml", 0).items}
    assert found["step", "rescuer.pushing"].scripts == 1
    assert found["step", "unit.shock_advised"].scripts == 1
    assert found["step", "unit.pad_loose"].scripts == 0
    assert found["arrow", "no_way"].scripts == 0
    assert not any(one.learners for one in found.values())


def test_the_same_seed_gives_the_same_learners_and_another_gives_others(library: Path) -> None:
    path = library / "adult-one-rescuer.toml"
    one, again, other = _cover(path, 20), _cover(path, 20), _cover(path, 20, seed=2)
    assert one == again
    assert one.items != other.items


def test_a_learner_counts_as_their_drill_does() -> None:
    """With probe taps or marks no silence ends a run of pushes; with each push tapped it does."""
    from coach.engine.build import SILENCE

    protocol, _ = load_protocol(str(SHIPPED))
    silences: dict[str, int] = {}
    crowd = Learners(protocol, 5)
    for number in range(60):
        counting = str(crowd.facts_of(number)["counting"])
        fell = sum(effect.name == SILENCE for effects in crowd.run(number) for effect in effects)
        silences[counting] = silences.get(counting, 0) + fell
    assert silences["each"] and silences["counter"]
    assert not silences["probe"] and not silences["marks"]


def test_listening_in_changes_nothing_that_happens() -> None:
    from coach.check.golden.coverage import Counts

    protocol, _ = load_protocol(str(SHIPPED))
    plain, heard = Learners(protocol, 3), Learners(protocol, 3, Counts().listening)
    for number in range(6):
        kept = [
            tuple(effect for effect in effects if not effect.name.startswith("arrow:") or effect.kind != "emit")
            for effects in heard.run(number)
        ]
        assert kept == list(plain.run(number))


def test_the_command_lists_what_nobody_came_by(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = str(library / "adult-one-rescuer.toml")
    assert main(["coverage", file, "--learners", "20"]) == 1
    said = capsys.readouterr().out
    scripts = 1 + len(list(drills(*load_protocol("erc-2025/adult-one-rescuer"))))
    assert f"{scripts} golden key scripts; 20 random learners (seed 1" in said
    assert "arrow: no_way" in said
    assert main(["coverage", file, "--learners", "20", "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert (told["golden_scripts"], told["learners"], told["seed"]) == (scripts, 20, 1)
    assert {one["name"] for one in told["targets"] if not one["scripts"] and not one["learners"]} >= {"no_way"}


def test_a_local_files_own_arrow_and_its_bases_stand_each_in_their_file() -> None:
    local = data_dir("demo") / "brackhaven-rescue.toml"
    files = {one.where.file for one in _cover(local, 0).items}
    assert {Path(file).name for file in files} >= {"adult-one-rescuer.toml"}


def test_a_waiver_with_its_reason_takes_what_nobody_comes_by_out_of_the_findings(library: Path) -> None:
    path = library / "adult-one-rescuer.toml"
    reason = "Kept for a class that has it."
    waive = f'\n[[waive]]\ncode = "never-come-by"\nwhere = "no_way"\nreason = "{reason}"\n'
    before = _cover(path, 60)
    path.write_text(path.read_text(encoding="utf-8") + waive, encoding="utf-8")
    found = _cover(path, 60)
    assert {one.name for one in before.never} - {one.name for one in found.never} == {"no_way"}
    assert f"arrow: no_way: {reason}" in found.text()
    assert {one["waived"] for one in found.as_dict()["targets"] if one["name"] == "no_way"} == {reason}
    assert not [one for one in check_file(path.read_text(encoding="utf-8"), str(path)).findings if "waive" in one.code]


def test_golden_and_shared_scripts_come_by_everything_in_the_base() -> None:
    text = read_text(SHIPPED)
    whole = effective(text, str(SHIPPED), SHIPPED.parent.parent)
    played = [one.history for one in play_scripts(SHIPPED, whole.protocol, whole.text) if one.history is not None]
    histories = [*played, *drills(whole.protocol, whole.text)]
    found = coverage(whole, str(SHIPPED), text, histories, learners=0, folder=SHIPPED.parent.parent)
    assert found.never == ()
