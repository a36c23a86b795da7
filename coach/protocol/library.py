"""Finding protocols, scenarios and pads files by name: given folder first, then the person's own, then what ships.

::

    FOLDER/<guidance>/<name>.toml          a protocol, <guidance>/<name>
    FOLDER/<guidance>/pads.toml            the pads rules of a body
    FOLDER/parts/<name>.toml               differences that several local files share, parts/<name>
    FOLDER/scenarios/[<place>/]<name>.toml a scenario, [<place>/]<name>
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from coach.protocol.model import Pads, Protocol, Scenario
from coach.protocol.names import guidance_folder
from coach.protocol.reading import read_pads, read_scenario, read_text
from coach.resources import data_dir, user_dir
from coach.text import nearest, one_line

if TYPE_CHECKING:
    from coach.protocol.overlay import Effective

Where = Literal["given", "own", "shipped"]
_SCENARIOS = "scenarios"
_PARTS = "parts"
_PADS = "pads"


@dataclass(frozen=True, slots=True)
class Entry:
    """A file of the library: its id by its place, and where it was found."""

    id: str
    path: Path
    where: Where

    def text(self) -> str:
        """The text of the file. Raises FileProblems where it cannot be read."""
        return read_text(self.path)

    def in_force(self) -> Effective:
        """The protocol in force by the file, which may be a local file over a base.

        Raises FileProblems where it cannot be read, is no protocol, or cannot be laid over its base.
        """
        from coach.protocol.overlay import effective  # it finds bases, through this very room

        return effective(read_text(self.path), str(self.path), self.path.absolute().parent.parent)


class NotFound(LookupError):
    """A name that nothing bears, or that several files bear. ``nearest`` is the closest name there is."""

    def __init__(self, what: str, near: str | None = None) -> None:
        super().__init__(f"{what}. Did you mean {near}?" if near else what)
        self.nearest = near


def _folders(given: Path | None) -> Iterator[tuple[Where, Path]]:
    if given is not None:
        yield "given", given
    yield "own", user_dir() / "protocols"
    yield "shipped", data_dir("protocols")


def _entries(given: Path | None, patterns: tuple[str, ...], under: str) -> list[Entry]:
    """The files of all folders; of two with one id the one found first, sorted by id."""
    found: dict[str, Entry] = {}
    for where, folder in _folders(given):
        root = folder / under
        for path in sorted(path for pattern in patterns for path in root.glob(pattern)):
            ident = path.relative_to(root).with_suffix("").as_posix()
            if path.is_file():
                found.setdefault(ident, Entry(ident, path, where))
    return [found[ident] for ident in sorted(found)]


def list_protocols(folder: Path | None = None) -> list[Entry]:
    """Every protocol within reach, readable or not, by id. ``folder`` is searched before all others."""
    entries = _entries(folder, ("*/*.toml",), ".")
    others = (f"{_SCENARIOS}/", f"{_PARTS}/")
    return [entry for entry in entries if not entry.id.startswith(others) and entry.path.stem != _PADS]


def list_parts(folder: Path | None = None) -> list[Entry]:
    """Every part within reach, by id (``parts/second-rescuer``)."""
    return _entries(folder, (f"{_PARTS}/*.toml",), ".")


def list_scenarios(folder: Path | None = None) -> list[Entry]:
    """Every scenario within reach, readable or not, by id."""
    return _entries(folder, ("*.toml", "*/*.toml"), _SCENARIOS)


def list_pads(folder: Path | None = None) -> list[Entry]:
    """Every pads file within reach, by id (``erc-2025/pads``)."""
    return _entries(folder, (f"*/{_PADS}.toml",), ".")


def find_protocol(name: str, folder: Path | None = None) -> Entry:
    """The protocol of that id, or of that bare name where only one bears it, or the file at that path.

    Raises NotFound, naming the nearest, or all that a bare name could mean.
    """
    return _find(name, "protocol", list_protocols(folder))


def find_scenario(name: str, folder: Path | None = None) -> Entry:
    """The scenario of that id, bare name or path, as :func:`find_protocol`."""
    return _find(name, "scenario", list_scenarios(folder))


def find_part(name: str, folder: Path | None = None) -> Entry:
    """The part of that id. Raises NotFound, naming the nearest."""
    entries = {entry.id: entry for entry in list_parts(folder)}
    if name not in entries:
        raise NotFound(f"no part is called {one_line(name)}", nearest(name, entries))
    return entries[name]


def find_pads(guidance: str, folder: Path | None = None) -> Entry:
    """The pads file of a guidance, by its name (``ERC 2025``), its folder (``erc-2025``) or the file's id."""
    wanted = guidance_folder(guidance.removesuffix(f"/{_PADS}"))
    entries = {entry.id.partition("/")[0]: entry for entry in list_pads(folder)}
    if wanted in entries:
        return entries[wanted]
    what = f"no pads rules for the guidance {one_line(guidance)}; there are {', '.join(entries) or 'none'}"
    raise NotFound(what, nearest(wanted, entries))


def _find(name: str, kind: str, entries: list[Entry]) -> Entry:
    if name.endswith(".toml"):
        return Entry(Path(name).stem, Path(name), "given")  # reading it says so where it is not there
    by_id = {entry.id: entry for entry in entries}
    if name in by_id:
        return by_id[name]
    bare = [entry for entry in entries if entry.path.stem == name]
    if len(bare) == 1:
        return bare[0]
    shown = one_line(name)
    if bare:
        raise NotFound(f"several {kind}s are called {shown}: {', '.join(entry.id for entry in bare)}")
    near = nearest(name, by_id)
    if near is None:
        stem = nearest(name, [entry.path.stem for entry in entries])
        near = next((entry.id for entry in entries if entry.path.stem == stem), None)
    raise NotFound(f"no {kind} is called {shown}", near)


def load_protocol(name: str, folder: Path | None = None) -> tuple[Protocol, str]:
    """A protocol by name, and its text. Raises NotFound or FileProblems."""
    found = find_protocol(name, folder).in_force()
    return found.protocol, found.text


def load_scenario(name: str, folder: Path | None = None, protocol: Protocol | None = None) -> tuple[Scenario, str]:
    """A scenario by name, checked against a protocol if one is given, and its text. Raises NotFound or FileProblems."""
    entry = find_scenario(name, folder)
    text = entry.text()
    return read_scenario(text, str(entry.path), protocol), text


def load_pads(guidance: str, folder: Path | None = None) -> tuple[Pads, str]:
    """The pads rules of a guidance, and their text. Raises NotFound or FileProblems."""
    entry = find_pads(guidance, folder)
    text = entry.text()
    return read_pads(text, str(entry.path)), text
