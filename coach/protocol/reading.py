"""Reading protocol, scenario and pads files: all that is wrong with one at once, each thing at its line and column."""

from __future__ import annotations

import ast
import hashlib
import json
import re
import tomllib
from datetime import date, datetime, time
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from pydantic import BaseModel

from coach.protocol.checks import check_pads, check_scenario
from coach.protocol.model import Pads, Protocol, Scenario
from coach.protocol.positions import Path, Positions, locate
from coach.protocol.problems import FileProblems, Problem
from coach.protocol.report import Report
from coach.protocol.shape import fit

if TYPE_CHECKING:
    from coach.protocol.overlay import Effective

__all__ = [
    "Digest",
    "FileProblems",
    "Problem",
    "canonical",
    "digest",
    "notices",
    "parsed",
    "read_pads",
    "read_protocol",
    "read_scenario",
    "read_text",
    "refusal",
]

MAX_BYTES = 256 * 1024
"""The largest file that is read. The files that ship are a tenth of it."""

MAX_LINE = 2_000
"""The longest line, in characters. The standard parser's time grows with the square of a dotted key's length."""

MAX_DEPTH = 24
"""Tables and arrays inside one another. The language itself needs ten."""

M = TypeVar("M", bound=BaseModel)


def read_protocol(source: FilePath | str, name: str = "") -> Protocol:
    """The protocol in force by a file (a ``Path``) or a text of TOML (a ``str``): a local file is laid over its base.

    ``name`` is what problems call the file. Raises :class:`FileProblems` with every problem of the file.
    """
    return _effective(source, name).protocol


def read_scenario(source: FilePath | str, name: str = "", protocol: Protocol | None = None) -> Scenario:
    """The scenario in a file or a text; with a protocol, also whether its facts and throws are that protocol's."""
    scenario, _ = _read(Scenario, source, name, lambda read, report: check_scenario(read, report, protocol))
    return scenario


def read_pads(source: FilePath | str, name: str = "") -> Pads:
    """The pads file in a file or a text."""
    pads, _ = _read(Pads, source, name, check_pads)
    return pads


def read_text(source: FilePath | str, name: str = "") -> str:
    """The text of a file as it stands, or FileProblems: too large, no UTF-8, not there, not a file, not readable."""
    return _text(source, _name(source, name))


def notices(source: FilePath | str, name: str = "") -> list[Problem]:
    """What the author of a readable protocol file should know though it is no error: in a local file, rules relaxed,
    changes that change nothing, wording changed in one language only. Raises FileProblems as reading does.
    """
    return list(_effective(source, name).notices)


def _effective(source: FilePath | str, name: str) -> Effective:
    from coach.protocol.overlay import effective  # it reads bases, through this very room

    name = _name(source, name)
    beside = source.absolute().parent.parent if isinstance(source, FilePath) else None
    return effective(_text(source, name), name, beside)


def _name(source: FilePath | str, name: str) -> str:
    if name:
        return name
    return str(source) if isinstance(source, FilePath) else "text"


def _read(model: type[M], source: FilePath | str, name: str, check: Any) -> tuple[M, Positions]:
    name = _name(source, name)
    text = _text(source, name)
    data, positions = parsed(text, name)
    report = Report(name, positions)
    read = fit(model, data, report)
    if read is not None:
        check(read, report)
    if report.problems or read is None:
        raise refusal(report)
    return read, positions


def refusal(report: Report) -> FileProblems:
    """All that a report gathered, as an error; a list that was cut short says so at its end."""
    found = list(report.problems)
    if report.full:
        what = f"more than {len(found)} problems: the others are not listed"
        found.append(Problem(report.file, *report.positions.line_column(len(report.positions.text)), what))
    return FileProblems(found or [Problem(report.file, 1, 1, "the file fits no known form")])


# --- from a path to a text --------------------------------------------------------------------------------------------


_MARKS = {b"\xff\xfe": "UTF-16", b"\xfe\xff": "UTF-16", b"\xef\xbb\xbf": "UTF-8 with a byte-order mark"}


def _text(source: FilePath | str, name: str) -> str:
    raw = source.encode("utf-8", "surrogatepass") if isinstance(source, str) else _bytes(source, name)
    if len(raw) > MAX_BYTES:
        what = f"the file is larger than {MAX_BYTES // 1024} KB"
        raise FileProblems([Problem(name, 1, 1, what, todo="a protocol is a page or two: is this the right file")])
    for mark, encoding in _MARKS.items():
        if raw.startswith(mark):
            raise FileProblems([Problem(name, 1, 1, f"the file is {encoding}", todo="save it as plain UTF-8")])
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8")
        place = (before.count("\n") + 1, len(before) - before.rfind("\n"))
        what = f"byte {raw[error.start]:#04x} is not UTF-8"
        raise FileProblems([Problem(name, *place, what, todo="save the file as plain UTF-8")]) from None
    return text


def _bytes(path: FilePath, name: str) -> bytes:
    what, todo = "", "check the name"
    try:
        if path.is_dir():
            what, todo = "this is a folder, not a file", "name a file in it"
        elif not path.exists():
            what = "there is no such file"
        elif not path.is_file():  # a pipe or a device could keep us waiting for ever
            what = "this is no ordinary file"
        else:
            with path.open("rb") as file:
                return file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a name with a NUL in it
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        what, todo = f"the file cannot be read: {reason}", "check who may read it"
    raise FileProblems([Problem(name, 1, 1, what, todo=todo)])


# --- from a text to tables --------------------------------------------------------------------------------------------

_PLACE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_AT_TABLE = ("Cannot declare", "Cannot overwrite", "Cannot mutate", "Cannot define")
_QUOTED = r"""(?:'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""
_KEYS = re.compile(rf"\({_QUOTED}(?:, {_QUOTED})*,?\)")
"""A path of keys as the standard parser prints it: a tuple of Python."""


def parsed(text: str, name: str) -> tuple[dict[str, Any], Positions]:
    """The plain tables of a TOML text and the places of all its keys and values. Raises FileProblems."""
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > MAX_LINE:
            what = f"a line of {len(line)} characters; at most {MAX_LINE} are allowed"
            raise FileProblems([Problem(name, number, MAX_LINE + 1, what, todo="break it over several lines")])
    try:
        data = tomllib.loads(text)
        positions = locate(text)
    except RecursionError:
        raise FileProblems([Problem(name, 1, 1, f"brackets are nested more than {MAX_DEPTH} deep")]) from None
    except ValueError as error:  # tomllib's own error, or a number with more digits than Python reads
        raise FileProblems([_toml_problem(str(error), text, name)]) from None
    deep = _too_deep(data)
    if deep is not None:
        place = positions.value(deep)
        what = f"tables and lists are nested more than {MAX_DEPTH} deep"
        raise FileProblems([Problem(name, *place, what, todo="the language never needs more than ten")])
    return data, positions


def _toml_problem(message: str, text: str, name: str) -> Problem:
    lines = text.split("\n")
    match = _PLACE.search(message)
    what = _KEYS.sub(lambda found: f"`{'.'.join(ast.literal_eval(found[0]))}`", _PLACE.sub("", message))
    if match is None:
        return Problem(name, 1, 1, f"not TOML: {what}")
    if match.group(1) is None:
        return Problem(name, len(lines), len(lines[-1]) + 1, f"not TOML: {what}, and the file ends")
    line, column = int(match.group(1)), int(match.group(2))
    if what.startswith(_AT_TABLE):  # tomllib notices after the name; its start is where one looks
        here = lines[line - 1]
        column = len(here) - len(here.lstrip()) + 1
        return Problem(name, line, column, f"not TOML: {what}", todo="a table or key may stand once only: join the two")
    return Problem(name, line, column, f"not TOML: {what}")


def _too_deep(data: dict[str, Any]) -> Path | None:
    """The path of the first thing nested deeper than allowed; walked without recursion."""
    waiting: list[tuple[Path, Any]] = [((), data)]
    while waiting:
        path, value = waiting.pop()
        if not isinstance(value, (dict, list)):
            continue
        if len(path) > MAX_DEPTH:
            return path
        inside = value.items() if isinstance(value, dict) else enumerate(value)
        waiting.extend(((*path, key), item) for key, item in inside)
    return None


# --- the digest -------------------------------------------------------------------------------------------------------


class Digest(NamedTuple):
    """What a file says, and what it is made of: ``canonical`` changes with the content, ``raw`` with any byte."""

    canonical: str
    raw: str


def digest(text: str) -> Digest:
    """The digests of a file's text, both sha256 in hex.

    The canonical one is taken over the content as sorted, compact JSON: comments, blanks, the order of keys and tables,
    ``1`` against ``1.0`` and the way of quoting do not matter; the order of lists, and of tables that a list of tables
    holds, does. The table ``[approval]`` is left out, so that approving a file does not change what was approved.
    Raises FileProblems where the text is no TOML.
    """
    data, _ = parsed(text, "text")
    return Digest(canonical(data), _sha256(text))


def canonical(data: dict[str, Any]) -> str:
    """The canonical digest of the plain tables of a file, as :func:`digest` takes it."""
    kept = {key: _plain(value) for key, value in data.items() if key != "approval"}
    return _sha256(json.dumps(kept, sort_keys=True, ensure_ascii=False, separators=(",", ":")))


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, (datetime, date, time)):
        return {"date": value.isoformat()}
    return value
