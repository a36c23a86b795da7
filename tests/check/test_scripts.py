"""Golden key scripts: what each expects is compared with what its debrief holds, at the script's line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coach.check.golden.scripts import Played, known_findings, play_scripts, scripts_for
from coach.commands import main
from coach.drill.choosing import setup_for
from coach.drill.play import play, play_in_memory, setup_of
from coach.drill.script import read_script
from coach.log.reading import read_log
from coach.protocol.library import load_protocol
from coach.resources import data_dir

DEMO = (data_dir("demo") / "first-drill.txt").read_text(encoding="utf-8")
"""One rescuer; the pads take longer than the limit, so that its debrief holds ``hands-off-long``."""
SHIPPED = data_dir("protocols") / "erc-2025"


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the one-rescuer file and nothing beside it."""
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setenv("KNEESIDE_CONFIG", str(tmp_path / "settings.toml"))
    folder = tmp_path / "library" / "erc-2025"
    folder.mkdir(parents=True)
    for name in ("adult-one-rescuer.toml", "pads.toml"):
        (folder / name).write_bytes((SHIPPED / name).read_bytes())
    return folder


def _put(library: Path, name: str, expects: str, script: str = DEMO, of: str = "adult-one-rescuer") -> Path:
    path = library / "scripts" / of / f"{name}.txt"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"{expects}\n{script}", encoding="utf-8")
    return path


def _play(library: Path, name: str = "adult-one-rescuer") -> dict[str, Played]:
    path = library / f"{name}.toml"
    protocol, text = load_protocol(str(path))
    return {one.script.name: one for one in play_scripts(path, protocol, text)}


def test_what_is_expected_and_found_passes(library: Path) -> None:
    _put(library, "slow-pads", "# expects: hands-off-long")
    played = _play(library)["slow-pads"]
    assert (played.verdict, played.differs, played.fails) == ("as expected", (), False)
    assert "hands-off-long" in {one.rule for one in played.found}


def test_a_grave_finding_besides_is_named_at_the_key_that_makes_it(library: Path) -> None:
    path = _put(library, "clean", "# expects: pass")
    played = _play(library)["clean"]
    assert played.verdict == "otherwise" and played.fails
    (differs,) = played.differs
    assert "hands-off-long (major)" in differs.what
    # The stop that is too long ends with the first push after the shock.
    line = path.read_text(encoding="utf-8").split("\n")[differs.line - 1]
    assert line.split()[1] == "space"


def test_a_finding_that_does_not_come_is_named_at_the_header_with_the_nearest_id(library: Path) -> None:
    _put(library, "typo", "# expects: hands-off-lon")
    differs = _play(library)["typo"].differs
    assert [one.line for one in differs if "hands-off-lon, which" in one.what] == [1]
    assert "did you mean hands-off-long?" in differs[0].what


def test_a_real_finding_that_does_not_come_is_missed(library: Path) -> None:
    protocol, _ = load_protocol(str(library / "adult-one-rescuer.toml"))
    absent = next(one for one in known_findings(protocol) if "shock" in one)
    _put(library, "absent", f"# expects: hands-off-long, {absent}")
    (differs,) = _play(library)["absent"].differs
    assert differs == (1, f"expected {absent}, and the debrief does not hold it")


@pytest.mark.parametrize(
    ("expects", "script", "line", "says"),
    [
        ("", DEMO, 1, "does not say what it expects"),
        ("# expects: pass", "0.00 go\n3.00 u\n2.00 e\n", 4, "time goes back"),
        ("# expects: pass\n# scenario: no/where", "0.00 go\n", 2, "no scenario is called no/where"),
        ("# expects: pass\n# mode: exam", "0.00 go\n", 1, "exam"),
    ],
)
def test_what_cannot_be_played_is_told_at_its_line(
    library: Path, expects: str, script: str, line: int, says: str
) -> None:
    _put(library, "bad", expects, script)
    played = _play(library)["bad"]
    assert played.verdict == "unplayable" and played.fails
    assert played.differs[0].line == line
    assert says in played.differs[0].what


def test_an_overlay_is_played_by_its_bases_scripts_unless_it_has_its_own_of_that_name(library: Path) -> None:
    local = library / "quay.toml"
    local.write_bytes((data_dir("demo") / "brackhaven-rescue.toml").read_bytes())
    _put(library, "one", "# expects: pass")
    _put(library, "two", "# expects: pass")
    _put(library, "two", "# expects: hands-off-long", of="quay")
    played = _play(library, "quay")
    assert {name: one.script.of for name, one in played.items()} == {"one": "erc-2025/adult-one-rescuer", "two": ""}
    assert played["two"].verdict == "as expected"
    assert played["one"].verdict == "otherwise"
    assert not played["one"].fails, "a local file is there to differ"


def test_scripts_are_found_by_the_files_name(library: Path) -> None:
    _put(library, "b", "# expects: pass")
    _put(library, "a", "# expects: pass")
    _put(library, "elsewhere", "# expects: pass", of="adult-two-rescuers")
    protocol, _ = load_protocol(str(library / "adult-one-rescuer.toml"))
    found = scripts_for(library / "adult-one-rescuer.toml", protocol)
    assert [one.name for one in found] == ["a", "b"]


def test_in_memory_a_script_gives_the_bytes_of_its_log(tmp_path: Path) -> None:
    script = read_script(DEMO)
    setup = setup_of(script, setup_for)
    path = play(script, setup, tmp_path)
    assert play_in_memory(script, setup).lines == read_log(path).lines


def test_the_command_ends_with_what_it_found(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = str(library / "adult-one-rescuer.toml")
    assert main(["scripts", file]) == 2
    assert "there are no golden key scripts" in capsys.readouterr().err
    _put(library, "slow-pads", "# expects: hands-off-long")
    assert main(["scripts", file]) == 0
    assert "1 of 1 golden key scripts as expected" in capsys.readouterr().out
    _put(library, "clean", "# expects: pass")
    assert main(["scripts", file, "--json"]) == 1
    told = {one["script"].rsplit("/", 1)[-1]: one for one in json.loads(capsys.readouterr().out)["files"][0]["scripts"]}
    assert told["clean.txt"]["verdict"] == "otherwise"
    assert told["clean.txt"]["differs"][0]["line"] > 1
    _put(library, "broken", "# expects: pass", "0.00 go\nsoon u\n")
    assert main(["scripts", file]) == 2
    assert "UNPLAYABLE" in capsys.readouterr().out


def test_hostile_text_in_a_script_stays_text(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _put(library, "wild", "# expects: \x1b[2J[red]", "0.00 go\n")
    main(["scripts", str(library / "adult-one-rescuer.toml")])
    assert "\x1b" not in capsys.readouterr().out
