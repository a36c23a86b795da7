"""Again, from a step: what went before is nobody's fault and nobody's merit, whichever step a drill begins at."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.debrief.from_log import debrief_of
from coach.debrief.page import Debrief
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.reading import read_log

PUSHES, BREATHS = "pushes", "breaths"
WAY = (
    ("scene", "j"),
    ("response", "u"),
    ("call", "e"),
    ("breathing", "n"),
    ("begin", PUSHES),
    ("two_breaths", BREATHS),
    ("", PUSHES),
    ("unit_away", "1"),
    ("unit_beside", "o"),
    ("bare_chest", "j"),
    ("first_pad", "r"),
    ("second_pad", "l"),
    ("unit_ready", "a"),
    ("", "v"),
    ("say_clear", "c"),
    ("press_shock", "enter"),
    ("hands_back", PUSHES),
    ("", "6"),
    ("crew_beside", "h"),
)
"""A drill done rightly, step by step, with the key of each."""
STEPS = [name for name, _ in WAY if name]
BY_THE_UNIT = STEPS[STEPS.index("unit_away") : STEPS.index("say_clear")]
"""Steps during which somebody pushes: those drills begin with a run."""
FILES = ("erc-2025/adult-one-rescuer", "aha-2025/adult-one-rescuer", "erc-2025/adult-two-rescuers")


def rightly(protocol: str, start: str, counting: str, folder: Path) -> Debrief:
    """The drill from ``start`` on, all done and keyed."""
    keys: list[str] = []
    t = 2.0

    def press(key: str, gap: float) -> None:
        nonlocal t
        keys.append(f"{t:.2f} {key}")
        t += gap

    def run() -> None:
        for _ in range(30 if counting == "each" else 1):
            press("space", 0.55)
        if counting == "marks":
            press("d", 2.0)

    if start in BY_THE_UNIT:
        run()
    place = next(index for index, (name, _) in enumerate(WAY) if name == start)
    for _, what in WAY[place:]:
        if what == PUSHES:
            run()
        elif what == BREATHS:
            press("b", 1.5)
            press("b", 1.5)
        else:
            press(what, 7 if what == "a" else 2.2)
    press("z", 0.3)
    press("z", 0)
    head = f"# protocol: {protocol}\n# mode: test\n# learner: 07\n# counting: {counting}\n# starts_from: {start}\n"
    script = read_script(head + "0 go\n" + "\n".join(keys) + "\n")
    return debrief_of(read_log(play(script, setup_of(script, setup_for), folder)))


@pytest.mark.parametrize("counting", ["each", "marks"])
@pytest.mark.parametrize("start", STEPS)
@pytest.mark.parametrize("protocol", FILES)
def test_no_step_before_the_start_is_missed_in_any_track(
    protocol: str, start: str, counting: str, tmp_path: Path
) -> None:
    made = rightly(protocol, start, counting, tmp_path)
    statuses = {step.id: step.status for step in made.measures.steps}
    assert [name for name, status in statuses.items() if status in ("omitted", "out of order")] == []
    assert [one.id for one in made.judgement.findings if one.step and one.to_confirm] == []
    before = STEPS[: STEPS.index(start)]
    if start not in ("scene", "two_breaths"):
        assert "independent" in statuses.values()
        first = [name for name in before if name in STEPS[:4]]
        assert all(statuses[name] == "not applicable" for name in first)


@pytest.mark.parametrize("start", ["response", "unit_beside", "press_shock"])
def test_a_drill_that_begins_at_a_step_signs_nobody_off(start: str, tmp_path: Path) -> None:
    whole, part = (rightly(FILES[0], name, "each", tmp_path) for name in ("scene", start))
    assert whole.verdict is not None and whole.verdict.result == "pass"
    assert part.verdict is not None and part.verdict.result is None and "part" in part.verdict.never
