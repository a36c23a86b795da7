"""The settings file of one person or machine: read strictly, never written by the program.

``settings.toml`` stands in the user's configuration folder, or where ``KNEESIDE_CONFIG`` says. Every key is optional::

    language = "en"                 # language of cues and of a unit that the laptop plays
    guidance = "ERC 2025"           # whose pads rules `kneeside pads` uses, and which protocols come first
    sigma_ms = 25                   # your own scatter when tapping, from the keyboard test
    theme = "…"                     # a theme's name
    data_folder = "~/drills"        # where logs go

    [room]                          # for the real-emergency card
    emergency_number = "112"
    address = "Hall 2, side door"
    real_unit = "by the front desk"

    [keys]                          # what is keyed -> one key, or several; "" takes its key away
    pin_fault = ["f", "page_down"]  # a clicker or a foot switch is one more key

    [keys.own]                      # the same for a protocol's own observations
    tourniquet = "y"

People's names and initials are not settings: nothing here says who anybody is.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.keys import KeyChoice, KeyClash, key_name, merge, protocol_choices
from coach.observations import CONTROLS, OBSERVATIONS
from coach.preflight import Check
from coach.protocol.positions import Positions, locate
from coach.protocol.problems import FileProblems, Problem
from coach.resources import user_dir
from coach.text import clean, nearest

if TYPE_CHECKING:
    from coach.protocol.model import Protocol

SIGMA_MS = 25
"""Scatter of one tap about a seen beat, in ms: a working value from Repp 2005 (second-hand); the keyboard test
replaces it by the person's own."""

MAX_BYTES = 1_000_000
"""A settings file longer than this is not one."""

_TOP: dict[str, type] = {
    "language": str,
    "guidance": str,
    "sigma_ms": int,
    "theme": str,
    "data_folder": str,
    "room": dict,
    "keys": dict,
}
_ROOM = ("emergency_number", "address", "real_unit")
_KIND = {str: "a text in quotes", int: "a whole number", dict: "a table"}


@dataclass(frozen=True, slots=True)
class Room:
    """What the real-emergency card shows: typed once, before it is needed."""

    emergency_number: str = ""
    address: str = ""
    real_unit: str = ""

    @property
    def missing(self) -> tuple[str, ...]:
        """In words, what the card would lack."""
        words = {"emergency_number": "the number", "address": "the address", "real_unit": "the real unit's place"}
        return tuple(words[name] for name in _ROOM if not getattr(self, name))


@dataclass(frozen=True, slots=True)
class Settings:
    """What one person set. ``path`` is where the file is or would be; ``found`` says whether it is there."""

    path: Path
    found: bool = False
    language: str = "en"
    guidance: str = "ERC 2025"
    sigma_ms: int = SIGMA_MS
    theme: str = ""
    data_folder: str = ""
    room: Room = Room()
    keys: tuple[KeyChoice, ...] = ()


def settings_path(environ: Mapping[str, str] = os.environ) -> Path:
    """Where the settings file is: ``KNEESIDE_CONFIG`` (a file, or a folder that holds it), else the user's folder."""
    named = environ.get("KNEESIDE_CONFIG", "")
    if named:
        path = Path(named).expanduser()
        return path / "settings.toml" if path.is_dir() else path
    from platformdirs import user_config_path

    return user_config_path("kneeside") / "settings.toml"


def home_folder(settings: Settings) -> Path:
    """The person's own folder, as the settings have it: what was kept, and the drills below it."""
    return Path(settings.data_folder).expanduser() if settings.data_folder else user_dir()


def read_settings(path: Path | None = None) -> Settings:
    """The settings at ``path`` (default: :func:`settings_path`); the built-in ones where there is no file.

    Raises :class:`coach.protocol.problems.FileProblems` with every problem of the file, each at its place.
    """
    path = settings_path() if path is None else path
    file = clean(str(path))
    try:
        with path.open("rb") as opened:
            raw = opened.read(MAX_BYTES + 1)
    except FileNotFoundError:
        return Settings(path)
    except OSError as error:
        raise _one(file, 1, f"cannot be read ({error.strerror})") from error
    if len(raw) > MAX_BYTES:
        raise _one(file, 1, "is over 1 MB", "this is not a settings file")
    try:
        text = raw.decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        raise _one(file, raw.count(b"\n", 0, error.start) + 1, "is not UTF-8 text", "save it as UTF-8") from error
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        found = re.search(r" \(at line (\d+), column (\d+)\)", str(error))
        what = str(error).replace(found[0], "") if found else str(error)
        place = (int(found[1]), int(found[2])) if found else (1, 1)
        raise FileProblems([Problem(file, *place, what if found else "is not TOML, or is nested too deep")]) from error
    return _Reader(path, file, locate(text)).read(data)


def _one(file: str, line: int, what: str, todo: str = "") -> FileProblems:
    return FileProblems([Problem(file, line, 1, what, todo=todo)])


@dataclass
class _Reader:
    """Checks one parsed file against what may stand in it, collecting every problem."""

    path: Path
    file: str
    places: Positions
    problems: list[Problem] = field(default_factory=list)

    def read(self, data: dict[str, Any]) -> Settings:
        self._names(data, _TOP)
        values = {name: self._value(data[name], kind, name) for name, kind in _TOP.items() if name in data}
        room = values.pop("room", {})
        self._names(room, _ROOM, "room")
        card = {name: self._value(room[name], str, "room", name) for name in _ROOM if name in room}
        keys = self._keys(values.pop("keys", {}))
        if not 1 <= values.get("sigma_ms", SIGMA_MS) <= 500:
            self._add(("sigma_ms",), "sigma_ms is the scatter of a tap in ms, from 1 to 500")
        if self.problems:
            raise FileProblems(self.problems)
        return Settings(self.path, True, room=Room(**card), keys=keys, **values)

    def _add(self, path: tuple[str, ...], what: str, near: str | None = None, todo: str = "") -> None:
        self.problems.append(Problem(self.file, *self.places.key(path), what, near, todo))

    def _names(self, found: Mapping[str, Any], legal: Iterable[str], *table: str) -> None:
        legal = tuple(legal)
        for name in found:
            if name not in legal:
                where = f" in [{table[0]}]" if table else ""
                self._add((*table, name), f'no setting is called "{name}"{where}', nearest(name, legal))

    def _value(self, value: Any, kind: type, *path: str) -> Any:
        if type(value) is not kind:
            self._add(path, f"{path[-1]} must be {_KIND[kind]}, not {repr(value)[:40]}")
            return {str: "", int: SIGMA_MS, dict: {}}[kind]
        return clean(str(value)) if kind is str else value

    def _keys(self, table: dict[str, Any]) -> tuple[KeyChoice, ...]:
        own = self._value(table.pop("own", {}), dict, "keys", "own")
        choices: list[KeyChoice] = []
        legal = (*OBSERVATIONS, *CONTROLS)
        for ident, value in table.items():
            if ident in legal:
                choices += self._choices(value, "keys", ident)
            else:
                self._add(("keys", ident), f'nothing that can be keyed is called "{ident}"', nearest(ident, legal))
        for ident, value in own.items():
            choices += self._choices(value, "keys", "own", ident)
        return tuple(choices)

    def _choices(self, value: Any, *path: str) -> list[KeyChoice]:
        made: list[KeyChoice] = []
        for name in value if isinstance(value, list) else [value]:
            key = key_name(name) if isinstance(name, str) else None
            if key is None:
                todo = 'use a letter, a digit, or a name like "space", "page_down", "f5"; no Ctrl, Alt or Shift'
                self._add(path, f"{repr(name)[:40]} is not a key that a drill can use", todo=todo)
            else:
                made.append(KeyChoice(clean(path[-1]), key, f"{self.file}:{self.places.key(path)[0]}"))
        return made


def key_map(protocol: Protocol | None, settings: Settings) -> dict[str, str]:
    """The keys of a drill, key name -> id: the settings beat the protocol's keys, which beat the defaults.

    Raises :class:`coach.keys.KeyClash` where one key would mean two things, where clear and shock would lie next to
    each other on a common board, or where a drill could not be stopped or ended.
    """
    if protocol is None:
        return merge((), settings.keys)
    return merge(protocol_choices(protocol), settings.keys, frozenset(protocol.observations))


def check_keys(protocol: Protocol | None, settings: Settings) -> Check:
    """Whether the keys go together, for before class; ``protocol`` is the one that is likely to be drilled."""
    try:
        keys = key_map(protocol, settings)
    except KeyClash as clash:
        return Check("keys", "bad", str(clash))
    return Check("keys", "fine", f"{len(keys)} keys, no clash{f' in {protocol.id}' if protocol is not None else ''}")
