"""Where in a local file, or in a part, a story passes: the place at which a rule of the base breaks by its doing."""

from __future__ import annotations

from collections.abc import Container, Iterator

from coach.check.findings import Where
from coach.check.lint.sheet import Sheet
from coach.protocol import guards
from coach.protocol.guards import Name
from coach.protocol.model import Arrow, Step
from coach.protocol.positions import Path
from coach.protocol.reading import parsed
from coach.protocol.tree import at, origin


def own_line(sheet: Sheet, passed: tuple[tuple[str, ...], ...]) -> Where | None:
    """The place of the thing of this very file that the story passes last, or of the name of the part that it takes and
    that has it; None for none.

    ``passed`` are the arrows (``arrow``, id), steps (``step``, track, name) and timers (``timer``, name) of a story in
    the order of its moments.
    """
    layers = {sheet.part or sheet.protocol.id: None} | ({} if sheet.part else _parts(sheet))
    arrows = {sheet.ids[id(placed.arrow)]: placed for placed in sheet.arrows}
    for kind, *names in reversed(passed):
        if kind == "arrow" and names[0] in arrows:
            placed = arrows[names[0]]
            places = [placed.path, *_beside(sheet, placed.arrow)]
        elif kind == "step" and names[0] in sheet.protocol.track:
            step = sheet.protocol.track[names[0]].step[names[1]]
            places = [("track", names[0], "step", names[1]), *_beside(sheet, step)]
        elif kind == "timer" and names[0] in sheet.protocol.timers:
            places = [("timers", names[0])]
        else:
            continue
        for path in places:
            own = _own(sheet, path, layers)
            if own is not None:
                named = layers[origin(sheet.root, own)[0]]
                return sheet.where(own)[0] if named is None else Where(sheet.file, *sheet.own.key(named))
    return None


def _parts(sheet: Sheet) -> dict[str, Path | None]:
    """The parts that this file takes, each with where it is named."""
    pins = parsed(sheet.own.text, sheet.file)[0].get("with", [])
    return {str(pin["id"]): ("with", index) for index, pin in enumerate(pins)}


def _beside(sheet: Sheet, part: Arrow | Step) -> Iterator[Path]:
    """The timers that an arrow or a step starts, and the terms that its guard names."""
    for name in (*part.start, *part.restart):
        yield ("timers", name)
    if part.when:
        tests = guards.tests(guards.parse(part.when))
        yield from (("terms", test.name) for test in tests if isinstance(test, Name) and test.name in sheet.terms)


_SAID = {"title", "cue", "late_cue", "voice", "look", "source", "go", "roles", "severity"}
"""Members of a step or an arrow that decide nothing of where a run goes."""


def _own(sheet: Sheet, path: Path, layers: Container[str]) -> Path | None:
    """A thing that one of these files brought, or a member of it that one changed."""
    if origin(sheet.root, path)[0] in layers:
        return path
    node = at(sheet.root, path)
    if node is None or not node.is_table:
        return None
    return next(((*path, key) for key, item in node.value.items() if item.layer in layers and key not in _SAID), None)
