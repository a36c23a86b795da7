"""What every lint rule works with: the protocol in force, the places of everything in its file, the findings so far."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import cached_property
from typing import Literal

from coach.check.explain import CODES
from coach.check.findings import Finding, Where
from coach.engine.build import arrows_from
from coach.protocol import guards
from coach.protocol.guards import Expr
from coach.protocol.model import Arrow, Protocol
from coach.protocol.names import PlacedArrow, arrow_ids, arrows
from coach.protocol.positions import Path, Positions
from coach.protocol.tree import Node, at, origin

Side = Literal["key", "value"]


class Page:
    """A file under the lint: its findings so far, each once, at their places in it."""

    def __init__(self, file: str, own: Positions) -> None:
        self.file = file
        self.own = own
        self.findings: list[Finding] = []

    def add(
        self,
        code: str,
        path: Path,
        what: str,
        help: str = "",  # noqa: A002 - the finding's own word
        witness: Iterable[str] = (),
        side: Side = "key",
        offset: int = -1,
    ) -> None:
        """Report a finding at a key, at a value, or at a character (from 0) of a text value."""
        if self.looked_at(path):
            where, beside = self.where(path, side, offset)
            about, subject = self.named(path)
            self.keep(Finding(code, CODES[code].level, where, what + beside, help, tuple(witness), about, subject))

    def keep(self, found: Finding) -> None:
        """Keep a finding, if it is not there already."""
        if found not in self.findings:
            self.findings.append(found)

    def looked_at(self, path: Path) -> bool:
        """Whether what is found at a path is kept."""
        return True

    def where(self, path: Path, side: Side = "key", offset: int = -1) -> tuple[Where, str]:
        """The place of something in the file, and what is to be said of the place."""
        if offset >= 0:
            place = self.own.inside(path, offset)
        else:
            place = self.own.key(path) if side == "key" else self.own.value(path)
        return Where(self.file, *place), ""

    def named(self, path: Path) -> tuple[str, str]:
        """The dotted name of what a path leads to, and the nearest name of its own, "" for none."""
        return ".".join(map(str, path)), ""


class Listening:
    """One arrow as it is tried in one step: where its file has it and the events that it waits for there.

    ``own`` is true where it stands in that very step, false where a later step of the spine or the track lends it.
    """

    __slots__ = ("arrow", "events", "expr", "own", "path")

    def __init__(self, arrow: Arrow, events: list[str], expr: Expr | None, own: bool, path: Path) -> None:
        self.arrow, self.events, self.expr, self.own, self.path = arrow, events, expr, own, path


class Sheet(Page):
    """One protocol under the lint. ``text`` is the whole protocol in force, ``today`` the day to judge dates by.

    ``part`` is the id of a part that alone is looked at: ``file`` and ``own`` are that part's then, and what is found
    elsewhere is not kept. ``bases`` are the ids of the protocols that a local file stands over."""

    def __init__(
        self, protocol: Protocol, text: str, file: str, root: Node, own: Positions, today: date, part: str = ""
    ) -> None:
        super().__init__(file, own)
        self.protocol = protocol
        self.text = text
        self.today = today
        self.root = root
        self.part = part
        self.bases: frozenset[str] = frozenset()

    # --- places -----------------------------------------------------------------------------------------------------

    def where(self, path: Path, side: Side = "key", offset: int = -1) -> tuple[Where, str]:
        """The place of something in the file at hand; what a base holds is placed at ``extends``, and that is said."""
        path = self._worded(path)
        layer, there = origin(self.root, path)
        if layer != (self.part or self.protocol.id):
            place = self.own.key(("extends",))
            return Where(self.file, *place), f" (in {layer}, {self.named(path)[0] or 'its head'})"
        return super().where(there, side, offset)

    def looked_at(self, path: Path) -> bool:
        """Whether what is found at a path is kept: where a part alone is looked at, only what stands in it."""
        return not self.part or origin(self.root, self._worded(path))[0] == self.part

    def _worded(self, path: Path) -> Path:
        """The path itself, or the text in one language that this file has put into a wording of its base."""
        layer = self.part or self.protocol.id
        found = at(self.root, path)
        if found is not None and found.is_table and found.layer != layer:
            texts = found.value.items()
            if all(isinstance(text.value, str) for _, text in texts):
                return next(((*path, key) for key, text in texts if text.layer == layer), path)
        return path

    def named(self, path: Path) -> tuple[str, str]:
        """The dotted name of what a path leads to, arrows and rows by their ids, and the nearest name of its own."""
        parts: list[str] = []
        subject = ""
        for length, part in enumerate(path):
            if isinstance(part, int):
                part = self._row_name(path[: length + 1]) or str(part)
                subject = part
            elif length and path[length - 1] in _NAMING and (length == 1 or path[length - 1] == "step"):
                subject = part
            parts.append(part)
        return ".".join(parts), subject

    def _row_name(self, path: Path) -> str:
        if path[-2] == "go":
            return next((self.ids[id(placed.arrow)] for placed in self.arrows if placed.path == path), "")
        rows = {"rule": self.protocol.rule, "finding": self.protocol.finding}.get(str(path[-2]), [])
        place = path[-1]
        return str(rows[place].get("id", "")) if isinstance(place, int) and place < len(rows) else ""

    # --- the protocol, looked up ------------------------------------------------------------------------------------

    @cached_property
    def arrows(self) -> list[PlacedArrow]:
        """Every authored arrow with its place."""
        return list(arrows(self.protocol))

    @cached_property
    def ids(self) -> dict[int, str]:
        """The ids of the arrows, by ``id(arrow)``."""
        return arrow_ids(self.protocol)

    @cached_property
    def _paths(self) -> dict[int, PlacedArrow]:
        return {id(placed.arrow): placed for placed in self.arrows}

    def placed(self, arrow: Arrow) -> PlacedArrow:
        """Where the file has an arrow."""
        return self._paths[id(arrow)]

    @cached_property
    def terms(self) -> dict[str, Expr]:
        """The trees of the terms."""
        return {name: guards.parse(text) for name, text in self.protocol.terms.items()}

    @cached_property
    def guards(self) -> dict[int, Expr]:
        """The trees of the arrows' guards, by ``id(arrow)``, for those that have one."""
        return {id(placed.arrow): guards.parse(placed.arrow.when) for placed in self.arrows if placed.arrow.when}

    @cached_property
    def tried(self) -> dict[tuple[str, str], list[Listening]]:
        """By track and step: the arrows that are tried there, in order."""
        out: dict[tuple[str, str], list[Listening]] = {}
        for track_name, track in self.protocol.track.items():
            for step_name, step in track.step.items():
                own = {id(arrow) for arrow in step.go}
                out[track_name, step_name] = [
                    Listening(arrow, events, self.guards.get(id(arrow)), id(arrow) in own, self._paths[id(arrow)].path)
                    for arrow, events in arrows_from(track, step_name)
                ]
        return out

    def all_guards(self) -> list[tuple[Path, Expr]]:
        """Every guard of the file with its place: of arrows, steps and injects; terms are apart."""
        found: list[tuple[Path, Expr]] = [
            ((*placed.path, "when"), self.guards[id(placed.arrow)]) for placed in self.arrows if placed.arrow.when
        ]
        for track_name, track in self.protocol.track.items():
            for step_name, step in track.step.items():
                if step.when:
                    found.append((("track", track_name, "step", step_name, "when"), guards.parse(step.when)))
        for name, inject in self.protocol.inject.items():
            if inject.when:
                found.append((("inject", name, "when"), guards.parse(inject.when)))
        return found


_NAMING = {
    "sources",
    "facts",
    "counters",
    "terms",
    "timers",
    "targets",
    "observations",
    "keys",
    "track",
    "step",
    "inject",
}
