"""From a key script over its log to the page: figures recomputed here from the script's own lines, by other code."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import Any

import pytest

from coach.debrief.forms import FORMS
from coach.debrief.from_log import debrief_of
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.reading import read_log
from coach.resources import data_dir


def keys_of(text: str) -> list[tuple[float, str]]:
    """The lines of a script as seconds and key, comments left out."""
    found = []
    for line in text.splitlines():
        words = line.partition("#")[0].split()
        if len(words) == 2:
            found.append((float(words[0]), words[1]))
    return found


def debriefed(text: str, folder: Path) -> dict[str, Any]:
    script = read_script(text, "test")
    record = read_log(play(script, setup_of(script, setup_for), folder))
    table: dict[str, Any] = json.loads(FORMS["json"](debrief_of(record)))
    return table


@pytest.fixture
def first() -> str:
    return (data_dir("demo") / "first-drill.txt").read_text(encoding="utf-8")


def test_the_first_drill_recomputed_from_its_script(first: str, tmp_path: Path) -> None:
    page = debriefed(first, tmp_path)
    keys = keys_of(first)
    end = next(at for at, key in keys if key == "z")
    runs: list[list[float]] = []
    off = True
    for at, key in keys:
        if key in ("b", "d"):
            off = True
        elif key == "space":
            if off or at - runs[-1][-1] >= 2:
                runs.append([])
            runs[-1].append(at)
            off = False
    ends = [runs[0][0], *(edge for run in runs for edge in (run[0], run[-1])), end]
    gaps = [after - before for before, after in zip(ends[::2], ends[1::2], strict=True) if after > before]
    window = end - runs[0][0]
    assert page["window_s"] == pytest.approx(window, abs=0.011)
    assert page["hands_on"]["share"] == pytest.approx(1 - sum(gap for gap in gaps if gap >= 2) / window, abs=0.001)
    assert [gap["length"] for gap in page["gaps"]] == pytest.approx(gaps, abs=0.011)
    assert [run["count"] for run in page["compressions"]["runs"]] == [len(run) for run in runs]
    # One tap is missing: its interval is about twice the median and counts as two.
    rates = []
    for run in runs:
        steps = [after - before for before, after in pairwise(run)]
        beats = sum(round(step / median(steps)) if step >= 1.5 * median(steps) else 1 for step in steps)
        rates.append(beats * 60 / (run[-1] - run[0]))
    assert [run["rate"] for run in page["compressions"]["runs"]] == pytest.approx(rates, abs=0.006)
    assert page["rate"]["median"] == pytest.approx(median(rates), abs=0.006)
    assert page["compressions"]["inferred"] == 1
    when = {key: moment for moment, key in reversed(keys)}
    assert page["milestones"]["recognised"] == when["n"]
    assert page["milestones"]["called"] == when["e"]
    assert page["milestones"]["first_shock"] == when["enter"]
    before = max(moment for moment, key in keys if key == "space" and moment < when["enter"])
    after = min(moment for moment, key in keys if key == "space" and moment > when["enter"])
    assert page["shocks"][0]["peri"] == pytest.approx(after - before, abs=0.011)
    # The clear call was moved half a second earlier by the comma.
    assert page["shocks"][0]["clear_before"] == pytest.approx(when["enter"] - (when["c"] - 0.5), abs=0.011)


def test_a_clear_that_was_never_keyed_waits_for_the_assessor(first: str, tmp_path: Path) -> None:
    lines = [line for line in first.splitlines() if line.split()[1:2] not in (["c"], ["comma"])]
    page = debriefed("\n".join(lines) + "\n", tmp_path)
    assert page["shocks"][0]["clear_before"] is None
    critical = [one for one in page["findings"] if one["severity"] == "critical"]
    assert critical and all(one["to_confirm"] for one in critical)
    assert page["one_thing"]["finding"] == critical[0]["rule"] and page["one_thing"]["to_confirm"]


@pytest.mark.parametrize("form", sorted(FORMS))
def test_every_demo_has_a_page_in_every_form(form: str, tmp_path: Path) -> None:
    for path in sorted(data_dir("demo").glob("*.txt")):
        script = read_script(path.read_text(encoding="utf-8"), path.name)
        record = read_log(play(script, setup_of(script, setup_for), tmp_path / path.stem))
        made = FORMS[form](debrief_of(record))
        assert len(made) > 1000 and made.endswith("\n")
        assert FORMS[form](debrief_of(record)) == made
