"""One slip to each neighbouring key, on three boards, in a good drill: none makes an unconfirmed critical finding.

Nor does one begin or end a drill. The files of the bodies share what this rests on, so that one of them is tried.
"""

from __future__ import annotations

import functools
from pathlib import Path

import pytest

from coach.debrief.from_log import debrief_of
from coach.debrief.page import Debrief
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.layouts import LAYOUTS, neighbours
from coach.log.reading import read_log
from coach.protocol.library import list_protocols

KEYS = [
    (3.0, "j"),
    (6.0, "u"),
    (10.0, "e"),
    (16.0, "n"),
    *((20.0 + 0.55 * beat, "space") for beat in range(8)),
    (26.0, "b"),
    (28.0, "b"),
    *((31.0 + 0.55 * beat, "space") for beat in range(8)),
    (40.0, "1"),
    (43.0, "o"),
    (46.0, "j"),
    (50.0, "r"),
    (54.0, "l"),
    (57.0, "a"),
    (64.0, "v"),
    (68.0, "c"),
    (72.0, "enter"),
    *((75.0 + 0.55 * beat, "space") for beat in range(8)),
    (84.0, "b"),
]
ONE_RESCUER = [entry.id for entry in list_protocols() if "one-rescuer" in entry.id]


def slips() -> list[tuple[int, str]]:
    """Each press with each other key that a finger may land on, on any board; one of a row of pushes stands for all."""
    found: dict[tuple[int, str], None] = {}
    pushes = 0
    for place, (_, key) in enumerate(KEYS):
        pushes = pushes + 1 if key == "space" else 0
        if key == "space" and pushes not in (1, 4):
            continue
        for layout in LAYOUTS:
            for other in neighbours(layout, key):
                found[place, other] = None
    return list(found)


_set_up = functools.cache(setup_for)
"""A file is read once for all its drills."""


def debriefed(ident: str, keys: list[tuple[float, str]], folder: Path) -> Debrief:
    lines = "\n".join(f"{at:.2f} {key}" for at, key in keys)
    text = f"# protocol: {ident}\n# mode: test\n# counting: each\n# learner: 07\n0.00 go\n{lines}\n95 z\n95.4 z\n"
    script = read_script(text, "slip")
    path = play(script, setup_of(script, _set_up), folder)
    page = debrief_of(read_log(path))
    path.unlink()
    return page


def unconfirmed(page: Debrief) -> list[str]:
    return [
        one.id
        for one in page.judgement.findings
        if one.severity == "critical" and not one.to_confirm and one.owner == "learner"
    ]


@pytest.mark.parametrize("ident", ONE_RESCUER)
def test_the_good_drill_passes(ident: str, tmp_path: Path) -> None:
    page = debriefed(ident, KEYS, tmp_path)
    assert unconfirmed(page) == [] and page.verdict is not None and page.verdict.result == "pass"


@pytest.mark.parametrize("instead", [True, False], ids=["instead", "besides"])
def test_no_single_slip_makes_an_unconfirmed_critical_finding(instead: bool, tmp_path: Path) -> None:
    """The slip stands in the place of the key, or both are hit within a tenth of a second (every third is tried)."""
    ident = ONE_RESCUER[-1]
    every = slips()
    assert len(every) > 120
    tried = every if instead else every[::3]
    wrong: list[tuple[float, str, str, list[str]]] = []
    stopped = 0
    for place, other in tried:
        at, key = KEYS[place]
        keys = [*KEYS[:place], (at, other), *([] if instead else [(at + 0.08, key)]), *KEYS[place + 1 :]]
        page = debriefed(ident, keys, tmp_path)
        if other in ("escape", "tab", "p"):  # a stop, or a pause: seen at once, undone by P, and nobody is judged in it
            stopped += 1
            assert page.verdict is not None and page.verdict.result in ("safety", None, "not-yet")
            continue
        assert page.happened.ended == "ended" and page.happened.end_e == 95_000, (at, key, other)
        found = unconfirmed(page)
        if found:
            wrong.append((at, key, other, found))
    assert wrong == [] and stopped
