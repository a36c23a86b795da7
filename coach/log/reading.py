"""The reader: takes a log line by line, believes nothing, and never changes a file.

A last line without its newline is torn: it is cut off, and said. Anything else that does not fit is a
:class:`~coach.log.lines.LogProblem` that names the first such line.
"""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import IO, Any

from coach.log.chain import GENESIS, encode, link, split
from coach.log.disk import in_words
from coach.log.header import Header
from coach.log.lines import FORMAT, LogProblem, Rules, shown

MAX_LINE = 8 * 1024 * 1024
"""Longest line read, in bytes: a header with a protocol file of 1 MB and the worst of escapes fits."""

MAX_FILE = 256 * 1024 * 1024
"""Largest file read into memory, in bytes: three hours of a held key at 30 a second come to a quarter of it."""

KEEP = "keep the file as it is, and use a copy made before the change if there is one"
OTHER = "choose the .jsonl file of a drill"


@dataclass(frozen=True, slots=True)
class Record:
    """A log that fits from the first line to the last whole one.

    ``header`` is the first line, ``lines`` the others as they are in the file (``lines[i]["seq"] == i + 1``); ``torn``
    holds the bytes of a last line that was not written to its end; ``sealed`` is true once the drill ended;
    ``problems`` are words for a person about both; ``h`` is the end of the chain, ``size`` the length of what fits.
    """

    path: Path
    header: dict[str, Any] = field(repr=False)
    lines: tuple[dict[str, Any], ...] = field(repr=False)
    torn: bytes
    sealed: bool
    problems: tuple[str, ...]
    h: str
    size: int

    @property
    def head(self) -> Header:
        """The header with its members typed."""
        return Header.from_dict(self.header)

    @property
    def last_t(self) -> int:
        """How far the drill had come: the greatest t of any line, in ms since go."""
        return max((line["t"] for line in self.lines), default=0)

    @property
    def last_e(self) -> int:
        """The greatest e of any line before the end, in ms since go less pauses."""
        return max((line["e"] for line in self.lines), default=0)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What ``verify`` says. Where not ``ok``, ``line`` (from 1; 0 for the file itself) is the first that does not fit
    and ``what`` says why; where ok, ``line`` is the last whole one and ``what`` counts. ``torn`` is the number of
    bytes of a torn last line."""

    ok: bool
    line: int
    what: str
    sealed: bool
    torn: int = 0


def read_log(path: Path) -> Record:
    """The whole record. LogProblem names the first line that does not fit; the file is left untouched."""
    with _open(path) as file:
        if os.fstat(file.fileno()).st_size > MAX_FILE:
            raise LogProblem(path, 0, f"larger than {MAX_FILE >> 20} MB: no drill writes so much", OTHER)
        return _record(path, file)


def read_bytes(content: bytes, path: Path) -> Record:
    """A record that is in memory; ``path`` is the file that it should be in. LogProblem as :func:`read_log`."""
    return _record(path, BytesIO(content))


def _record(path: Path, file: IO[bytes]) -> Record:
    scan = _Scan(path, file)
    header, *lines = scan
    return Record(path, header, tuple(lines), scan.torn, scan.sealed, scan.problems, scan.h, scan.size)


def verify(path: Path) -> Verdict:
    """Whether the log fits, line by line, in memory for one line only."""
    scan = None
    try:
        with _open(path) as file:
            scan = _Scan(path, file)
            for _ in scan:
                pass
    except LogProblem as problem:
        return Verdict(False, problem.line, f"{problem.what}; {problem.todo}", bool(scan and scan.sealed))
    what = f"{scan.number} lines, each fits the one before"
    return Verdict(True, scan.number, "; ".join((what, *scan.problems)), scan.sealed, len(scan.torn))


def _open(path: Path) -> IO[bytes]:
    try:
        # Without O_NONBLOCK a pipe in the log's place would hang the program.
        fd = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError:
        raise LogProblem(path, 0, "there is no such file", OTHER) from None
    except (OSError, ValueError) as problem:
        what = in_words(problem) if isinstance(problem, OSError) else "no file can have this name"
        raise LogProblem(path, 0, f"it cannot be opened: {what}", OTHER) from None
    mode = os.fstat(fd).st_mode
    if not stat.S_ISREG(mode):
        os.close(fd)
        a = "a folder" if stat.S_ISDIR(mode) else "not a plain file"
        raise LogProblem(path, 0, f"this is {a}, so not a log", OTHER)
    return os.fdopen(fd, "rb")


class _Scan:
    """One pass over a file. Iterating gives the lines; the attributes say how far it came."""

    def __init__(self, path: Path, file: IO[bytes]) -> None:
        self._path = path
        self._file = file
        self._rules = Rules()
        self.h = GENESIS
        self.number = 0
        self.size = 0
        self.torn = b""

    @property
    def sealed(self) -> bool:
        return self._rules.sealed

    @property
    def problems(self) -> tuple[str, ...]:
        problems = []
        if self.torn:
            problems.append(f"line {self.number + 1} is torn and was cut off ({len(self.torn)} bytes)")
        if not self.sealed:
            problems.append("the drill was interrupted: there is no end")
        return tuple(problems)

    def __iter__(self) -> Iterator[dict[str, Any]]:
        while True:
            try:
                raw = self._file.readline(MAX_LINE + 1)
            except OSError as problem:
                raise self._fault(
                    f"it cannot be read: {in_words(problem)}", "try again, or copy it elsewhere"
                ) from None
            if len(raw) > MAX_LINE:
                raise self._fault(f"it is longer than {MAX_LINE >> 20} MB", KEEP)
            if not raw.endswith(b"\n"):
                if not self.number:
                    what = "it was torn before its end: there is no header" if raw else "the file is empty"
                    raise self._fault(what, "nothing of this drill was saved; the file may be deleted")
                self.torn = raw
                return
            yield self._line(raw[:-1])
            self.number += 1
            self.size += len(raw)

    def _line(self, raw: bytes) -> dict[str, Any]:
        line = self._parsed(raw)
        if not self.number:
            self._known_format(line)
        parts = split(raw)
        seq = line.get("seq")
        if type(seq) is not int:
            raise self._fault("the member 'seq' is missing or not a whole number", KEEP)
        if seq != self.number:
            raise self._fault(f"seq jumps: {shown(seq)} stands where {self.number} should", KEEP)
        if parts is None:
            raise self._fault("it does not end in the member 'h', the hash that chains it", KEEP)
        body, h = parts
        if link(self.h, body) != h:
            raise self._fault("the chain breaks here: this line was changed, or one was taken out before it", KEEP)
        if not _spelt_as_we_do(line, raw):
            raise self._fault("it is not spelt as a log spells it (spaces, a member twice, or odd numbers)", KEEP)
        wrong = self._rules.fault_of(line) if self.number else _header_fault(line)
        if wrong:
            raise self._fault(wrong, "it was written by another program or version; read it with that one")
        self.h = h
        return line

    def _parsed(self, raw: bytes) -> dict[str, Any]:
        first = "" if self.number else ": not a log of kneeside"
        todo = KEEP if self.number else OTHER
        try:
            line = json.loads(raw.decode())
        except UnicodeDecodeError as problem:
            raise self._fault(f"byte {problem.start + 1} is not UTF-8{first}", todo) from None
        except (ValueError, RecursionError):
            # RecursionError: nested thousands deep. ValueError also for a number of thousands of digits.
            raise self._fault(f"it is not JSON{first}", todo) from None
        if not isinstance(line, dict):
            raise self._fault(f"it is not a JSON object{first}", todo)
        return line

    def _known_format(self, line: dict[str, Any]) -> None:
        if line.get("kind") != "header" or type(line.get("format")) is not int:
            raise self._fault("it is not a header: not a log of kneeside", OTHER)
        if line["format"] > FORMAT:
            newer = f"the log has format {shown(line['format'])}, newer than {FORMAT}, which this version reads"
            raise self._fault(newer, "install a newer kneeside")
        if line["format"] < 1:
            raise self._fault(f"there is no log format {shown(line['format'])}", KEEP)

    def _fault(self, what: str, todo: str) -> LogProblem:
        return LogProblem(self._path, self.number + 1, what, todo, self.number)


def _spelt_as_we_do(line: dict[str, Any], raw: bytes) -> bool:
    try:
        return encode(line) == raw
    except (ValueError, RecursionError):
        return False


def _header_fault(line: dict[str, Any]) -> str:
    try:
        Header.from_dict(line)
    except ValueError as problem:
        return str(problem)
    return ""
