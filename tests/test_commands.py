"""The commands as a person types them: what they print, where, and with which code they end."""

from __future__ import annotations

import importlib
import json
import shutil
from pathlib import Path

import pytest

from coach.commands import main
from coach.commands.problems import SPEAK_FOR_THEMSELVES
from coach.resources import data_dir

SCRIPT = data_dir("demo") / "first-drill.txt"


@pytest.fixture(autouse=True)
def _own_places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setenv("KNEESIDE_CONFIG", str(tmp_path / "settings.toml"))
    monkeypatch.delenv("KNEESIDE_TRACE", raising=False)


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The log of the demo's script."""
    folder = tmp_path_factory.mktemp("logs")
    assert main(["play", str(SCRIPT), "--out", str(folder)]) == 0
    (log,) = folder.iterdir()
    return log


def _changed(log: Path, tmp_path: Path, line: int, old: bytes, new: bytes) -> Path:
    lines = log.read_bytes().splitlines(keepends=True)
    assert old in lines[line - 1]
    lines[line - 1] = lines[line - 1].replace(old, new, 1)
    copy = tmp_path / log.name
    copy.write_bytes(b"".join(lines))
    return copy


# --- play, verify, replay ---------------------------------------------------------------------------------------------


def test_play_prints_the_logs_path_last_and_leaves_nothing_else(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "new" / "folder"
    assert main(["play", str(SCRIPT), "--out", str(out)]) == 0
    path = Path(capsys.readouterr().out.splitlines()[-1])
    assert path.parent == out
    assert list(out.iterdir()) == [path]


def test_playing_twice_gives_the_same_log_and_never_overwrites_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["play", str(SCRIPT), "--out", str(tmp_path)]) == 0
    path = Path(capsys.readouterr().out.strip())
    first = path.read_bytes()
    assert main(["play", str(SCRIPT), "--out", str(tmp_path)]) == 0
    assert path.read_bytes() == first
    path.write_bytes(b"someone else's")
    assert main(["play", str(SCRIPT), "--out", str(tmp_path)]) == 2
    assert "another log of this name is there" in capsys.readouterr().err
    assert path.read_bytes() == b"someone else's"


def test_a_script_does_not_depend_on_the_persons_settings(tmp_path: Path, played: Path) -> None:
    (tmp_path / "settings.toml").write_text('language = "es"\nsigma_ms = 40\n[keys]\nbreath = "r"\n', encoding="utf-8")
    assert main(["play", str(SCRIPT), "--out", str(tmp_path / "again")]) == 0
    assert (tmp_path / "again" / played.name).read_bytes() == played.read_bytes()


def test_a_script_with_mistakes_names_every_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    script = tmp_path / "bad.txt"
    script.write_text("0.00 go\n4 u\n5 advice maybe\n3.00 u\nsoon n\n", encoding="utf-8")
    assert main(["play", str(script), "--out", str(tmp_path)]) == 2
    said = capsys.readouterr().err
    assert [f"line {number}" in said for number in range(1, 6)] == [False, False, True, True, True]


def test_an_unknown_protocol_names_the_nearest(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    script = tmp_path / "far.txt"
    script.write_text("# protocol: erc-2025/adult-one-rescue\n0.00 go\n", encoding="utf-8")
    assert main(["play", str(script), "--out", str(tmp_path)]) == 2
    assert "erc-2025/adult-one-rescuer" in capsys.readouterr().err


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    assert main(["play", str(SCRIPT), "--out", str(tmp_path / "file" / "logs")]) == 2
    assert capsys.readouterr().err.startswith("kneeside: ")


def test_a_whole_log_verifies_and_replays(played: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify", str(played)]) == 0
    assert main(["replay", str(played)]) == 0
    assert main(["replay", "--json", str(played)]) == 0
    found = json.loads(capsys.readouterr().out.split("\n", 2)[2])
    assert found["same"] is True
    assert found["line"] is None
    assert found["compared"] > 100


def test_one_changed_byte_is_a_finding_with_its_line(
    played: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = _changed(played, tmp_path, 20, b'"t":', b'"T":')
    assert main(["verify", str(copy)]) == 1
    assert "line 20" in capsys.readouterr().err
    assert main(["verify", "--json", str(copy)]) == 1
    assert json.loads(capsys.readouterr().out)["line"] == 20
    assert main(["replay", str(copy)]) == 1
    assert "line 20" in capsys.readouterr().err


@pytest.mark.parametrize("command", [["verify"], ["replay"], ["debrief"]])
def test_what_is_no_log_is_misuse(command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "letter.txt").write_text("Dear all,\n", encoding="utf-8")
    for path in (tmp_path / "letter.txt", tmp_path / "nowhere.jsonl", tmp_path):
        assert main([*command, str(path)]) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert said.err.startswith("kneeside: ")


# --- debrief and demo -------------------------------------------------------------------------------------------------


def test_debrief_in_json_has_the_names_that_others_build_on(played: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["debrief", str(played), "--as", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    names = "drill protocol counting milestones window_s hands_on gaps shocks compressions rate pads steps findings"
    more = "one_thing handover adjusted interrupted_at cautions"
    assert set(f"{names} {more}".split()) <= set(found)


@pytest.mark.parametrize("form", ["text", "markdown", "json", "csv"])
def test_debrief_prints_what_it_writes(
    form: str, played: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["debrief", str(played), "--as", form]) == 0
    printed = capsys.readouterr().out
    assert len(printed.splitlines()) > 10
    out = tmp_path / "page"
    assert main(["debrief", str(played), "--as", form, "--out", str(out)]) == 0
    assert out.read_bytes().decode("utf-8").replace("\r\n", "\n") == printed.replace("\r\n", "\n")
    assert capsys.readouterr().out == f"{out}\n"


def test_the_html_page_can_stand_in_two_languages(played: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["debrief", str(played), "--as", "html", "--also", "es"]) == 0
    html = capsys.readouterr().out
    assert html.startswith("<!doctype html>") and 'lang="es">La cinta</span>' in html
    assert main(["debrief", str(played), "--as", "csv", "--also", "es"]) == 2
    assert "only the HTML page" in capsys.readouterr().err


def test_an_interrupted_drill_has_a_debrief_that_says_so(
    played: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cut = tmp_path / "cut.jsonl"
    cut.write_bytes(b"".join(played.read_bytes().splitlines(keepends=True)[:120]) + b'{"seq":120,"t":4')
    assert main(["debrief", str(cut), "--as", "json"]) == 0
    said = capsys.readouterr()
    assert json.loads(said.out)["interrupted_at"] is not None
    assert "torn" in said.err
    assert "interrupted" in said.err


def test_the_demo_is_printed_where_nothing_can_be_drawn(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--plain"]) == 0
    plain = capsys.readouterr()
    assert plain.err == ""
    assert "shock pressed" in plain.out
    assert "In a real collapse" in plain.out
    assert main(["demo"]) == 0
    there = capsys.readouterr()
    assert there.out == plain.out
    assert "no terminal" in there.err


@pytest.mark.parametrize("words", [[], ["drill"]])
def test_a_full_screen_without_a_terminal_is_refused_in_words(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "terminal" in said.err


def test_a_drill_of_an_unknown_protocol_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["drill", "erc-2025/adult-one-rescur"]) == 2
    assert "erc-2025/adult-one-rescuer" in capsys.readouterr().err


# --- pads -------------------------------------------------------------------------------------------------------------


def _pads(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    assert main(["pads", "--json", *words]) == 0
    decision: dict[str, object] = json.loads(capsys.readouterr().out)
    return decision


def test_pads_say_size_place_rule_and_whose(capsys: pytest.CaptureFixture[str]) -> None:
    found = _pads(capsys, "--age", "7", "--weight", "24.9kg", "--guidance", "ERC 2025")
    assert {"size", "placement", "rule", "why", "other_rule", "disagrees"} <= set(found)
    assert (found["size"], found["guidance"]) == ("paediatric", "ERC 2025")


def test_pads_at_the_edges_of_both_bodies(capsys: pytest.CaptureFixture[str]) -> None:
    """ERC by weight under 25 kg, AHA by age under 8 years (second-hand, as in the pads files)."""
    for weight, size in (("24.999kg", "paediatric"), ("25kg", "adult"), ("55lb", "paediatric"), ("55.2lb", "adult")):
        assert _pads(capsys, "--weight", weight, "--guidance", "erc-2025")["size"] == size, weight
    for age, size in (("7.9", "paediatric"), ("8", "adult")):
        assert _pads(capsys, "--age", age, "--guidance", "AHA 2025")["size"] == size, age
    months = _pads(capsys, "--age", "7", "--months", "11", "--guidance", "AHA 2025")
    assert months["size"] == "paediatric"
    assert _pads(capsys, "--months", "96", "--guidance", "AHA 2025")["size"] == "adult"


def test_pads_with_nothing_known_are_adult(capsys: pytest.CaptureFixture[str]) -> None:
    assert _pads(capsys, "--guidance", "ERC 2025")["size"] == "adult"


def test_pads_and_the_kit(capsys: pytest.CaptureFixture[str]) -> None:
    none = _pads(capsys, "--age", "3", "--guidance", "ERC 2025", "--no-paediatric-pads")
    assert (none["size"], none["placement"]) == ("adult", "front-and-back")
    assert _pads(capsys, "--age", "40", "--guidance", "ERC 2025", "--only-paediatric-pads")["size"] is None
    assert main(["pads", "--no-paediatric-pads", "--only-paediatric-pads"]) == 2


def test_an_implausible_pair_decides_nothing_in_silence(capsys: pytest.CaptureFixture[str]) -> None:
    pair = ["pads", "--age", "6", "--weight", "250kg", "--guidance", "ERC 2025"]
    assert main(pair) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "--confirm" in said.err
    assert main([*pair, "--confirm"]) == 0


@pytest.mark.parametrize(
    "words",
    [
        ["--weight", "55"],
        ["--weight", "heavy"],
        ["--weight", "5000kg"],
        ["--age", "-3"],
        ["--age", "old"],
        ["--age", "400"],
        ["--months", "six"],
        ["--guidance", "nobody 1999"],
    ],
)
def test_pads_refuse_with_the_reason(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pads", *words]) == 2
    assert capsys.readouterr().err.splitlines()[-1].startswith("kneeside: ")


def test_the_guidance_of_the_settings_is_used_and_a_missing_one_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["pads", "--age", "3"]) == 0
    assert "ERC 2025 is used" in capsys.readouterr().err
    (tmp_path / "settings.toml").write_text('guidance = "AHA 2025"\n', encoding="utf-8")
    assert main(["pads", "--age", "3"]) == 0
    said = capsys.readouterr()
    assert "AHA 2025" in said.out
    assert said.err == ""


# --- lists ------------------------------------------------------------------------------------------------------------


def test_protocols_lists_the_files_that_ship(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["protocols", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    root = data_dir("protocols")
    files = {
        path.relative_to(root).with_suffix("").as_posix()
        for path in root.glob("*-[0-9]*/*.toml")
        if path.stem != "pads"
    }
    assert {entry["id"] for entry in found} == files
    assert {entry["approval"] for entry in found} == {"draft"}
    assert main(["protocols"]) == 0
    assert "after ERC 2025" in capsys.readouterr().out


def test_a_broken_protocol_of_ones_own_is_listed_and_hides_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = tmp_path / "data" / "protocols" / "local"
    own.mkdir(parents=True)
    (own / "mine.toml").write_text('format = 1\nid = "local/mine"\nwhat = 3\n', encoding="utf-8")
    assert main(["protocols", "--json"]) == 0
    found = {entry["id"]: entry for entry in json.loads(capsys.readouterr().out)}
    assert found["local/mine"]["problems"] > 0
    assert found["erc-2025/adult-one-rescuer"]["problems"] == 0
    assert main(["protocols"]) == 0
    assert "kneeside read" in capsys.readouterr().out


def test_scenarios_never_show_their_rhythm(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["scenarios", "--json"]) == 0
    text = capsys.readouterr().out
    assert len(json.loads(text)) >= 6
    assert "shockable" not in text


def test_read_prints_every_mistake_and_says_how_bad(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good = data_dir("protocols") / "erc-2025" / "adult-one-rescuer.toml"
    assert main(["read", str(good), str(good.with_name("pads.toml"))]) == 0
    assert "reads as a pads file" in capsys.readouterr().out
    bad = tmp_path / "bad.toml"
    text = good.read_text(encoding="utf-8")
    bad.write_text(text.replace("[approval]", "[aproval]", 1).replace("format = 1", "format = 7", 1), encoding="utf-8")
    assert main(["read", str(bad)]) == 1
    said = capsys.readouterr().err.splitlines()
    assert len(said) >= 2
    assert all(line.startswith(f"kneeside: {bad}:") for line in said)
    assert "approval" in "".join(said)
    assert main(["read", "--json", str(bad)]) == 1
    assert {"file", "line", "column", "what", "nearest", "todo"} <= set(json.loads(capsys.readouterr().out)[0])
    assert main(["read", str(tmp_path / "gone.toml"), str(good)]) == 2


def test_where_names_the_places_in_use(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["where", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["logs"] == str(tmp_path / "data" / "drills")
    assert found["settings"] == str(tmp_path / "settings.toml")
    assert Path(found["shipped_protocols"]) == data_dir("protocols")


def test_names_of_files_cannot_act_on_the_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    evil = tmp_path / "a\x1b]0;owned\x07.toml"
    shutil.copy(data_dir("protocols") / "erc-2025" / "pads.toml", evil)
    assert main(["read", str(evil)]) == 0
    assert "\x1b" not in capsys.readouterr().out


def test_errors_that_speak_for_themselves_exist() -> None:
    for module, name in SPEAK_FOR_THEMSELVES.items():
        assert issubclass(getattr(importlib.import_module(module), name), Exception)


@pytest.mark.parametrize("command", ["flatten", "compare", "map", "sheet", "scripts", "coverage", "approve"])
@pytest.mark.parametrize(
    ("name", "kind"),
    [("erc-2025/pads", "pads"), ("parts/infant", "part"), ("scenarios/brackhaven/slipway", "scenario")],
)
def test_a_file_of_another_kind_is_told_in_one_line(
    command: str, name: str, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([command, str(data_dir("protocols") / f"{name}.toml")]) == 2
    said = capsys.readouterr().err
    assert f"is a {kind} file, and a protocol is asked for" in said and said.count("\n") == 1
