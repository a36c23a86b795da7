"""Where records lie: the data folder, the second folder, the names of files, and the words beside a log."""

from __future__ import annotations

import contextlib
import json
import os
import re
import secrets
import stat
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from coach.log.disk import Disk, in_words, write_all
from coach.log.lines import LogProblem, shown
from coach.log.reading import Record
from coach.resources import user_dir

MAX_WORDS = 1024 * 1024
"""Largest words file read, in bytes: people type notes, not books. Our own choice."""


def drills_dir() -> Path:
    """Where the logs lie. It may not exist yet; the first log makes it, for its owner alone."""
    return user_dir() / "drills"


def second_dir() -> Path | None:
    """The folder for a log that the first cannot take: below the system's temporary files, for its owner alone.

    ``None`` if the folder there is a link, somebody else's, or open to others: names of learners must not lie in it.
    """
    who = f"-{os.getuid()}" if hasattr(os, "getuid") else ""
    folder = Path(tempfile.gettempdir()) / f"kneeside{who}"
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        found = folder.lstat()
    except OSError:
        return None
    if not stat.S_ISDIR(found.st_mode):
        return None
    if hasattr(os, "getuid") and (found.st_uid != os.getuid() or found.st_mode & 0o077):
        return None
    return folder


def new_drill_id(wall: datetime, tail: str | None = None) -> str:
    """``20260103-101500-ab12``: UTC to the second and four hex digits, drawn unless given."""
    return f"{wall:%Y%m%d-%H%M%S}-{tail or secrets.token_hex(2)}"


def log_path(folder: Path, drill: str) -> Path:
    """The file of a drill's log. ValueError for an id that could leave the folder."""
    return folder / f"{_fit(drill)}.jsonl"


def words_path(log: Path) -> Path:
    """The file for what people typed about the drill of ``log``: it can hold names, and can be deleted."""
    return log.with_name(f"{_fit(log.name.removesuffix('.jsonl'))}.words.json")


def _fit(drill: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]{0,99}", drill):
        raise ValueError(f"a drill id has letters, digits and - only, not {shown(drill)}")
    return drill


@dataclass(frozen=True, slots=True)
class Words:
    """Typed words by name (``plus``, ``change``, ``note`` …), and the digest that the log may carry for them."""

    words: Mapping[str, str]
    digest: str


def write_words(log: Path, words: Mapping[str, str], *, disk: Disk | None = None) -> Words:
    """Put ``words`` into the file beside ``log``, all of the old ones out, and give their digest for a ``note`` line.

    A random salt goes into the file, so that once it is deleted nobody can try names against the digest in the log.
    OSError if it cannot be written; the old file is then as it was.
    """
    disk = disk or Disk()
    path = words_path(log)
    text = json.dumps({"salt": secrets.token_hex(16), "words": dict(words)}, ensure_ascii=True, indent=1)
    data = text.encode() + b"\n"
    new = path.with_name(f"{path.name}.{secrets.token_hex(4)}.new")
    fd = disk.create(new)
    try:
        try:
            _, problem = write_all(disk, fd, data)
            if problem is not None:
                raise problem
            disk.sync(fd)
        finally:
            disk.close(fd)
        new.replace(path)
    except OSError:
        new.unlink(missing_ok=True)
        raise
    with contextlib.suppress(OSError):
        disk.sync_folder(path.parent)
    return Words(dict(words), sha256(data).hexdigest())


def read_words(log: Path) -> Words | None:
    """The words beside ``log``; ``None`` if there are none (any more). LogProblem if the file is not one of ours."""
    path = words_path(log)
    try:
        with path.open("rb") as file:
            data = file.read(MAX_WORDS + 1)
    except FileNotFoundError:
        return None
    except OSError as problem:
        raise LogProblem(path, 0, f"it cannot be read: {in_words(problem)}", "look at the file") from None
    todo = "delete the file if its words are not needed; the log is whole without it"
    if len(data) > MAX_WORDS:
        raise LogProblem(path, 0, f"it is larger than {MAX_WORDS >> 20} MB", todo)
    try:
        found = json.loads(data.decode())
        words = found["words"]
        if not all(isinstance(text, str) for text in words.values()):
            raise TypeError
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        raise LogProblem(path, 0, "it does not hold typed words", todo) from None
    return Words(dict(words), sha256(data).hexdigest())


def delete_words(log: Path) -> bool:
    """Delete the words beside ``log``; whether there were any. The log keeps a digest that tells nothing."""
    try:
        words_path(log).unlink()
    except FileNotFoundError:
        return False
    return True


def words_vouched(record: Record, words: Words) -> bool:
    """Whether the log's last ``note`` line carries the digest of these words: nobody changed them since."""
    notes = [line["digest"] for line in record.lines if line["kind"] == "note"]
    return bool(notes) and notes[-1] == words.digest
