"""Where the parts of a protocol in force stand: the file and the line, be it the file at hand, a part or a base."""

from __future__ import annotations

from pathlib import Path as FilePath

from coach.check.findings import Where
from coach.protocol.library import NotFound, find_part, find_protocol
from coach.protocol.overlay import Effective
from coach.protocol.positions import Path, Positions, locate
from coach.protocol.problems import FileProblems
from coach.protocol.reading import read_text
from coach.protocol.tree import origin


class Places:
    """The places of a protocol's parts. ``name`` is what the file at hand is called, ``text`` what stands in it."""

    def __init__(self, whole: Effective, name: str, text: str, folder: FilePath | None = None) -> None:
        self._root = whole.root
        self._folder = folder
        self._files: dict[str, tuple[str, Positions]] = {whole.protocol.id: (name, locate(text))}

    def at(self, path: Path) -> Where:
        """The place of what stands at ``path`` in the whole; line 0 of a layer whose file is not within reach."""
        layer, there = origin(self._root, path)
        if layer not in self._files:
            self._files[layer] = self._read(layer)
        name, positions = self._files[layer]
        return Where(name, *(positions.key(there) if positions.text else (0, 0)))

    def _read(self, layer: str) -> tuple[str, Positions]:
        find = find_part if layer.startswith("parts/") else find_protocol
        try:
            path = find(layer, self._folder).path
            return str(path), locate(read_text(path))
        except (NotFound, FileProblems):  # it was there a moment ago, when the file was laid over it
            return layer, Positions("")
