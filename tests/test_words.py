"""What the command line says and with which code it ends, whatever goes wrong."""

from __future__ import annotations

import errno
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from coach import __version__
from coach.commands import drills, main
from coach.commands.line import app
from coach.commands.words import Refused, as_json, existing, say, sentence, table, write_text
from coach.protocol.library import load_protocol
from coach.resources import data_dir

ROOT = Path(__file__).resolve().parents[1]


def _failing(error: BaseException) -> object:
    def fail(*_: object) -> int:
        raise error

    return fail


def test_version_is_the_packages(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"kneeside {__version__}\n"
    assert f'\nversion = "{__version__}"\n' in (ROOT / "pyproject.toml").read_text(encoding="utf-8")


def test_the_readme_names_every_command_and_no_other() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`kneeside ([a-z]+(?:-[a-z]+)*)", readme))
    assert named == {
        command.name or command.callback.__name__ for command in app.registered_commands if command.callback is not None
    }


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (["debrif"], "Did you mean 'debrief'"),
        (["verify"], "Missing argument 'LOG'"),
        (["protocols", "--jsn"], "--json"),
        (["debrief", "x.jsonl", "--as", "pdf"], "'markdown'"),
        (["play", "x.keys"], "--out"),
    ],
)
def test_misuse_is_told_in_words_on_standard_error(
    given: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(given) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("kneeside: ")
    assert words in said.err
    assert "--help" in said.err


def test_a_crash_is_ours_and_has_a_code(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.delenv("KNEESIDE_TRACE", raising=False)
    monkeypatch.setattr(drills, "verify", _failing(ZeroDivisionError("seven")))
    assert main(["verify", "x"]) == 70
    said = capsys.readouterr().err
    assert "ZeroDivisionError: seven" in said
    assert "Traceback" not in said
    monkeypatch.setenv("KNEESIDE_TRACE", "1")
    assert main(["verify", "x"]) == 70
    assert "Traceback" in capsys.readouterr().err


def test_interrupted_is_130(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drills, "verify", _failing(KeyboardInterrupt()))
    assert main(["verify", "x"]) == 130


def test_a_full_disk_is_no_crash(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    full = OSError(errno.ENOSPC, "No space left on device", "/far/away.jsonl")
    monkeypatch.setattr(drills, "verify", _failing(full))
    assert main(["verify", "x"]) == 2
    assert capsys.readouterr().err == "kneeside: /far/away.jsonl: no space left on device\n"


def test_a_reader_that_leaves_early_is_no_error() -> None:
    """``kneeside --help | true``: the pipe breaks, nothing is said about it."""
    code = (
        "import os, sys\n"
        "read, write = os.pipe()\n"
        "os.close(read)\n"
        "os.dup2(write, 1)\n"
        "from coach.commands import main\n"
        "sys.exit(main(['where']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, timeout=60, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_one_complaint_is_one_sentence() -> None:
    assert sentence("is a folder", where="x", todo="Name a file.") == "x: is a folder. Name a file."
    assert sentence("no such step", where="a.toml:3:1", near="pads", todo="Correct it.") == (
        "a.toml:3:1: no such step; did you mean pads? Correct it."
    )
    assert sentence("nothing here") == "nothing here"


def test_json_reads_back_the_same_and_cannot_act_on_a_terminal() -> None:
    value = {"a": "tab\t esc\x1b[2J csi\x9b31m bidi\u202e end\u2028 häfen 🚑 \x00", "n": [1, 2.5, None, True]}
    text = as_json(value)
    assert json.loads(text) == value
    assert not set(text) & {"\x1b", "\x9b", "\u202e", "\u2028", "\x00", "\t"}
    assert "häfen 🚑" in text


def test_printed_text_is_cleaned(capsys: pytest.CaptureFixture[str]) -> None:
    say("a\x1b]0;owned\x07b")
    assert capsys.readouterr().out == "a]0;ownedb\n"


def test_columns_line_up_and_a_cell_stays_on_its_line() -> None:
    assert table([("id", "title"), ("long-id", "two\nlines")]) == "id       title\nlong-id  two lines"
    assert table([]) == ""


def test_a_missing_file_names_the_nearest(tmp_path: Path) -> None:
    (tmp_path / "drill.jsonl").write_text("{}")
    assert existing(tmp_path / "drill.jsonl") == tmp_path / "drill.jsonl"
    with pytest.raises(Refused, match=r"drll\.jsonl: there is no such file; did you mean drill\.jsonl\?"):
        existing(tmp_path / "drll.jsonl")
    with pytest.raises(Refused, match="is a folder"):
        existing(tmp_path)
    with pytest.raises(Refused, match=r"there is no such file$"):
        existing(tmp_path / "nowhere" / "x")


@pytest.mark.parametrize(
    ("name", "text", "kept"),
    [
        ("x.toml", 'format = 1\nid = "a/b"\n', True),
        ("x.TOML", '# ours\nformat = 1\nid = "a/b"\nbroken =\n', True),
        ("x.jsonl", '{"seq":0}\n', True),
        ("x.toml", 'title = "of another program"\n', False),
        ("x.svg", "<svg/>", False),
    ],
)
def test_no_file_that_holds_work_is_written_over(name: str, text: str, kept: bool, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    if kept:
        with pytest.raises(Refused, match="nothing was written"):
            write_text(path, "new")
        link = tmp_path / f"link{path.suffix}"
        link.symlink_to(path)
        with pytest.raises(Refused):
            write_text(link, "new")
        assert path.read_text(encoding="utf-8") == text
        write_text(path, "new", over=True)
    else:
        write_text(path, "new")
    assert path.read_text(encoding="utf-8") == "new"


@pytest.mark.parametrize("command", [["sheet", "x.toml", "--unproved"], ["map", "x.toml", "--as", "svg"]])
def test_a_command_does_not_write_over_its_own_source(
    command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    text = (data_dir("protocols") / "aha-2025" / "pads.toml").read_text(encoding="utf-8")
    source = load_protocol("erc-2025/adult-one-rescuer")[1]
    Path("x.toml").write_text(source, encoding="utf-8")
    Path("pads.toml").write_text(text, encoding="utf-8")
    for target in ("x.toml", "./x.toml", "pads.toml"):
        assert main([*command, "--out", target]) == 2
        assert "--out" in capsys.readouterr().err
    assert Path("x.toml").read_text(encoding="utf-8") == source
    assert Path("pads.toml").read_text(encoding="utf-8") == text
