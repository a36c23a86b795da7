"""What one slip of a finger does: the intended key missed and a neighbour on the board pressed instead.

The law: no single slip makes a critical finding that counts without the assessor's word; none starts or ends a drill.
"""

from __future__ import annotations

import functools

import pytest

from coach.keys import shown
from coach.layouts import LAYOUTS, neighbours
from coach.measure.report import conclude, measure
from coach.observations import default_keys
from tests.drill.made import Played
from tests.drill.test_laws import folded

GOOD = (
    [(2.0, "j"), (5.0, "u"), (8.0, "e"), (13.0, "n")]
    + [(17.0 + 0.55 * number, "space") for number in range(9)]
    + [(34.5, "b"), (36.0, "b")]
    + [(38.0 + 0.55 * number, "space") for number in range(6)]
    + [(50.0, "1"), (53.0, "o"), (56.0, "j"), (59.0, "r"), (63.0, "l")]
    + [(65.0 + 0.55 * number, "space") for number in range(4)]
    + [(72.0, "a"), (79.0, "v"), (83.0, "c"), (87.0, "enter")]
    + [(90.0 + 0.55 * number, "space") for number in range(5)]
    + [(100.0, "2"), (102.0, "c"), (110.0, "h"), (112.0, "k"), (116.0, "m")]
)
"""A good drill, with each kind of key in it; seconds from go."""

KEYS = default_keys()


def strokes(place: int | None = None, instead: str = "") -> tuple[tuple[float, str], ...]:
    return tuple((at, instead if number == place else key) for number, (at, key) in enumerate(GOOD))


def drilled(keys: tuple[tuple[float, str], ...]) -> Played:
    """The drill that these keys make."""
    drill = Played().go()
    began = drill.clock.mono_ms()
    for at, key in keys:
        drill.clock.set(began + round(at * 1000))
        drill.drill.tick(drill.clock.mono_ms())
        drill.drill.press(key, drill.clock.mono_ms())
    return drill


@functools.cache
def played(keys: tuple[tuple[float, str], ...]) -> tuple[frozenset[str], str]:
    """The critical findings that count as they stand, and how the drill stands afterwards."""
    drill = drilled(keys)
    protocol, header = drill.setup.protocol, drill.lines[0]
    happened = folded(drill).happened()
    judged = conclude(measure(happened, protocol, header), happened, protocol, header)
    critical = frozenset(one.rule for one in judged.findings if one.severity == "critical" and not one.to_confirm)
    kinds = [line["kind"] for line in drill.lines]
    return critical, "ended" if "end" in kinds else f"{kinds.count('go')} go"


def test_a_clear_call_that_was_not_marked_waits_for_the_assessors_word() -> None:
    place = next(number for number, (at, _) in enumerate(GOOD) if at == 83.0)
    drill = drilled(strokes(place, "f5"))
    protocol, happened = drill.setup.protocol, folded(drill).happened()
    judged = conclude(measure(happened, protocol, drill.lines[0]), happened, protocol, drill.lines[0])
    critical = [one for one in judged.findings if one.severity == "critical"]
    assert [one.rule for one in critical if one.to_confirm]
    assert all(one.to_confirm for one in critical)


def slips(layout: str) -> list[tuple[int, str]]:
    """Every place of the good drill with each neighbour that a slip could hit; of pushes the first and one in a run."""
    places = {key: number for number, (_, key) in reversed(list(enumerate(GOOD)))}
    chosen = sorted({*places.values(), *(number for number, (_, key) in enumerate(GOOD) if key not in ("space", "b"))})
    return [(number, other) for number in chosen for other in neighbours(layout, GOOD[number][1])]


def test_the_good_drill_is_without_fault() -> None:
    assert played(strokes()) == (frozenset(), "1 go")


@pytest.mark.parametrize("layout", LAYOUTS)
def test_no_slip_makes_a_critical_finding_or_ends_a_drill(layout: str) -> None:
    bad = {
        f"{shown(GOOD[place][1])} at {GOOD[place][0]} s, slipped to {shown(other)}": result
        for place, other in slips(layout)
        if (result := played(strokes(place, other))) != (frozenset(), "1 go")
    }
    assert bad == {}


def around(layout: str, ident: str) -> set[str]:
    """What the neighbours of the keys of an id mean."""
    return {KEYS.get(other, "") for key, meant in KEYS.items() if meant == ident for other in neighbours(layout, key)}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_what_starts_and_ends_a_drill_lies_apart(layout: str) -> None:
    """Enter is go only before the drill; the end needs its key twice, and the safety stop no reason to be missed."""
    assert "clear_called" not in around(layout, "shock_pressed")
    assert "end" not in around(layout, "end")
    ends = [key for key, meant in KEYS.items() if meant == "end"]
    for key in KEYS:
        hit = [other for other in neighbours(layout, key) if other in ends]
        assert len(hit) <= 1, f"one slip beside {key} would press the end twice"
