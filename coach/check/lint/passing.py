"""Where in a local file, or in a part, a story passes: the place at which a rule of the base breaks by its doing."""

from __future__ import annotations

from collections.abc import Iterator

from coach.check.lint.sheet import Sheet
from coach.protocol import guards
from coach.protocol.guards import Name
from coach.protocol.model import Arrow, Step
from coach.protocol.positions import Path
from coach.protocol.tree import at, origin


def own_line(sheet: Sheet, passed: tuple[tuple[str, ...], ...]) -> Path | None:
    """The thing of this very file that the story passes last, as a path in the whole; None for none.

    ``passed`` are the arrows (``arrow``, id), steps (``step``, track, name) and timers (``timer``, name) of a story in
    the order of its moments.
    """
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
            own = _own(sheet, path)
            if own is not None:
                return own
    return None


def _beside(sheet: Sheet, part: Arrow | Step) -> Iterator[Path]:
    """The timers that an arrow or a step starts, and the terms that its guard names."""
    for name in (*part.start, *part.restart):
        yield ("timers", name)
    if part.when:
        tests = guards.tests(guards.parse(part.when))
        yield from (("terms", test.name) for test in tests if isinstance(test, Name) and test.name in sheet.terms)


_SAID = {"title", "cue", "late_cue", "voice", "look", "source", "go", "roles", "severity"}
"""Members of a step or an arrow that decide nothing of where a run goes."""


def _own(sheet: Sheet, path: Path) -> Path | None:
    """A thing that this file brought, or a member of it that it changed."""
    layer = sheet.part or sheet.protocol.id
    if origin(sheet.root, path)[0] == layer:
        return path
    node = at(sheet.root, path)
    if node is None or not node.is_table:
        return None
    return next(((*path, key) for key, item in node.value.items() if item.layer == layer and key not in _SAID), None)
