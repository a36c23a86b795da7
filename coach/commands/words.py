"""What the command line says: plain words on both streams, clean JSON, one exit code for each kind of end."""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from coach.text import clean, nearest, one_line

FINE = 0
FINDINGS = 1
MISUSE = 2
UNDECIDED = 3
CRASH = 70
INTERRUPTED = 130

_NOT_PLAIN = re.compile("[^\n\x20-\x7e]")


class Refused(Exception):
    """A command that cannot do what it was asked: what, where, the nearest word that would do, and what to do."""

    def __init__(self, what: str, *, where: str = "", near: str = "", todo: str = "", code: int = MISUSE) -> None:
        self.code = code
        super().__init__(sentence(what, where=where, near=near, todo=todo))


def sentence(what: str, *, where: str = "", near: str = "", todo: str = "") -> str:
    """One complaint on one line: ``where: what; did you mean near? todo``."""
    said = f"{where}: {what}" if where else what
    if near:
        said += f"; did you mean {near}?"
    elif todo and said[-1] not in ".?!":
        said += "."
    return f"{said} {todo}".rstrip()


def say(text: str = "") -> None:
    """Print text for people on standard output, without control characters that are not ours."""
    sys.stdout.write(f"{clean(text)}\n")


def say_as_is(text: str) -> None:
    """Print a page that its form has already made safe, byte for byte as it would stand in a file."""
    sys.stdout.write(text)


def complain(text: str) -> None:
    """Print what is wrong on standard error, each line with the program's name before it."""
    for line in text.split("\n"):
        sys.stderr.write(f"kneeside: {clean(line)}\n")


def remark(text: str) -> None:
    """Print on standard error what a person should know, though nothing is wrong."""
    sys.stderr.write(f"{clean(text)}\n")


def _harmless(found: re.Match[str]) -> str:
    return found[0] if clean(found[0]) == found[0] else json.dumps(found[0])[1:-1]


def as_json(document: Any) -> str:
    """``document`` as indented JSON in which no character can act on a terminal; it reads back as the same value."""
    return _NOT_PLAIN.sub(_harmless, json.dumps(document, ensure_ascii=False, indent=2))


def say_json(document: Any) -> None:
    """Print ``document`` as JSON: the same bytes whether or not a terminal is there."""
    sys.stdout.write(as_json(document) + "\n")


def table(rows: Sequence[tuple[str, ...]]) -> str:
    """Rows in columns of equal width, two spaces apart."""
    cells = [tuple(one_line(cell) for cell in row) for row in rows]
    widths = [max(len(row[column]) for row in cells) for column in range(len(cells[0]))] if cells else []
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in cells
    )


LOOKED_AT = 100_000
"""Bytes of a file that are looked at for what it is."""

_FORMAT, _ID = (re.compile(rf"^[ \t]*{word}[ \t]*=", re.MULTILINE) for word in ("format", "id"))


def existing(path: Path) -> Path:
    """``path`` if it is a readable file; refuses with the nearest name in its folder if it is not there."""
    if path.is_dir():
        raise Refused("is a folder, not a file", where=str(path), todo="Name one file in it.")
    if not path.exists():
        beside = [entry.name for entry in path.parent.iterdir()] if path.parent.is_dir() else []
        raise Refused("there is no such file", where=str(path), near=nearest(path.name, beside) or "")
    if not path.is_file():
        raise Refused("is no ordinary file", where=str(path), todo="Name a file.")
    if not os.access(path, os.R_OK):
        raise Refused("may not be read", where=str(path), todo="Ask whoever owns it for the right to read it.")
    return path


def read_text(path: Path) -> str:
    """The text of a file; refuses what is not there, not a plain file, or not UTF-8."""
    try:
        return existing(path).read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise Refused("is not UTF-8 text", where=str(path), todo="Save it as UTF-8.") from error


def write_text(path: Path, text: str, over: bool = False) -> None:
    """Write ``text`` to ``path`` as UTF-8; a disk that refuses is said in words. Refuses what :func:`may_write` does,
    unless ``over``."""
    if not over:
        may_write(path)
    try:
        path.write_text(text, encoding="utf-8", newline="")
    except OSError as error:
        raise Refused(f"cannot be written ({error.strerror})", where=str(path), todo="Choose another place.") from error


def may_write(path: Path) -> None:
    """Refuse to write over a protocol, part, scenario or pads file, or over a log: a slip costs somebody's work."""
    kept = _worth_keeping(path)
    if kept:
        raise Refused(
            f"is {kept} and would be lost: nothing was written",
            where=str(path),
            todo="Name another file after --out, or take this one away first.",
        )


def _worth_keeping(path: Path) -> str:
    """What a file is by its looks, where it must not be written over; a protocol that is broken just now is one too."""
    try:
        with path.open("rb") as file:
            begin = file.read(LOOKED_AT).decode("utf-8", "replace")
    except OSError:
        return ""
    if path.suffix.lower() == ".toml" and _FORMAT.search(begin) and _ID.search(begin):
        return "a protocol, part, scenario or pads file"
    return "the log of a drill" if path.suffix.lower() == ".jsonl" and begin.startswith("{") else ""


def speak_utf8() -> None:
    """Make both streams UTF-8 and unable to fail on a character, whatever the locale says."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="backslashreplace")
