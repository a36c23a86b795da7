"""Where things lie, and the words beside a log that can be deleted."""

from __future__ import annotations

import errno
import json
import os
import re
import stat
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.log.disk import Disk
from coach.log.lines import LogProblem
from coach.log.places import (
    delete_words,
    drills_dir,
    log_path,
    new_drill_id,
    read_words,
    second_dir,
    words_path,
    words_vouched,
    write_words,
)
from coach.log.reading import read_log
from coach.log.recover import add_to
from coach.resources import user_dir
from tests.log.made import DRILL, save, sealed

each_time_anew = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


def test_the_data_folder_is_named_or_the_systems_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path / "here"))
    assert user_dir() == tmp_path / "here"
    assert drills_dir() == tmp_path / "here" / "drills"
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("KNEESIDE_DATA_DIR", "~/kept")
    assert user_dir() == tmp_path / "kept"
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("KNEESIDE_DATA_DIR", "below")
    assert user_dir() == tmp_path / "below"
    monkeypatch.setenv("KNEESIDE_DATA_DIR", "")
    assert user_dir().name == "kneeside" and user_dir().is_absolute()


def test_the_second_folder_is_ones_own_or_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    folder = second_dir()
    assert folder is not None and folder.parent == tmp_path
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert second_dir() == folder
    folder.chmod(0o755)
    assert second_dir() is None
    folder.rmdir()
    (tmp_path / "elsewhere").mkdir(mode=0o700)
    folder.symlink_to(tmp_path / "elsewhere")
    assert second_dir() is None
    folder.unlink()
    folder.write_text("in the way")
    assert second_dir() is None
    others = os.getuid() + 1
    monkeypatch.setattr(os, "getuid", lambda: others)
    (tmp_path / f"kneeside-{others}").mkdir(mode=0o700)
    assert second_dir() is None


def test_a_drill_id_names_its_file_and_no_other() -> None:
    wall = datetime(2026, 1, 3, 10, 15, tzinfo=UTC)
    assert new_drill_id(wall, "ab12") == DRILL
    assert re.fullmatch(r"20260103-101500-[0-9a-f]{4}", new_drill_id(wall))
    assert log_path(Path("d"), DRILL) == Path("d") / f"{DRILL}.jsonl"
    assert words_path(Path("d") / f"{DRILL}.jsonl") == Path("d") / f"{DRILL}.words.json"
    for bad in ("", "../x", "a/b", "a\\b", ".hidden", "a\x00", "a b", "x" * 101, "a\n"):
        with pytest.raises(ValueError, match="a drill id has"):
            log_path(Path("d"), bad)


@given(st.dictionaries(st.text(max_size=8), st.text(st.characters(exclude_categories=()), max_size=30), max_size=4))
@each_time_anew
def test_words_come_back_and_the_digest_is_of_the_file(tmp_path: Path, words: dict[str, str]) -> None:
    log = tmp_path / f"{DRILL}.jsonl"
    written = write_words(log, words)
    assert written.words == words
    assert read_words(log) == written
    data = words_path(log).read_bytes()
    assert written.digest == sha256(data).hexdigest()
    assert stat.S_IMODE(words_path(log).stat().st_mode) == 0o600
    assert len(list(tmp_path.iterdir())) == 1


def test_the_log_vouches_for_the_words_and_does_not_give_them_away(tmp_path: Path) -> None:
    log = save(tmp_path / f"{DRILL}.jsonl", sealed())
    first = write_words(log, {"plus": "calm voice"})
    writer, record = add_to(log)
    assert not words_vouched(record, first)
    writer.write({"t": 90_000, "e": 90_000, "kind": "note", "digest": first.digest})
    writer.close()
    assert words_vouched(read_log(log), first)
    second = write_words(log, {"plus": "calm voice"})
    assert second.digest != first.digest  # the same words, another salt: no guess can be tried against the log
    assert not words_vouched(read_log(log), second)
    assert delete_words(log)
    assert not delete_words(log)
    assert read_words(log) is None
    assert b"calm" not in log.read_bytes()


@pytest.mark.parametrize(
    "data",
    [b"", b"\xff", b"[]", b"{}", b'{"words":[]}', b'{"words":{"plus":1}}', b"[" * 100_000, b" " * (1 << 20) + b"{}"],
)
def test_what_is_no_file_of_words_is_said(tmp_path: Path, data: bytes) -> None:
    log = tmp_path / f"{DRILL}.jsonl"
    save(words_path(log), data)
    with pytest.raises(LogProblem) as caught:
        read_words(log)
    assert "delete the file" in caught.value.todo
    words_path(log).unlink()
    words_path(log).mkdir()
    with pytest.raises(LogProblem, match="cannot be read"):
        read_words(log)


def test_on_a_full_disk_the_old_words_stay(tmp_path: Path) -> None:
    class Full(Disk):
        def write(self, fd: int, data: bytes) -> int:
            raise OSError(errno.ENOSPC, "No space left on device")

    log = tmp_path / f"{DRILL}.jsonl"
    kept = write_words(log, {"plus": "calm voice"})
    with pytest.raises(OSError, match="No space left"):
        write_words(log, {"plus": "other"}, disk=Full())
    assert read_words(log) == kept
    assert len(list(tmp_path.iterdir())) == 1


def test_the_log_loads_nothing_heavy() -> None:
    rooms = "chain, disk, header, lines, places, reading, recover, writing"
    code = f"from coach.log import {rooms}; import sys, json; print(json.dumps(sorted(sys.modules)))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, cwd=Path(__file__).parents[2])
    assert not {"pydantic", "textual", "rich", "typer", "platformdirs"} & set(json.loads(out.stdout))
