"""The JSON form: stable names, worked figures, nothing finer than it should be."""

from __future__ import annotations

import json
from typing import Any

from coach.debrief.json_form import as_dict, as_json
from coach.debrief.page import Debrief
from tests.debrief.pages import good_drill, page
from tests.measure.story import Story

NAMES = {
    "drill": None,
    "protocol": {"id", "version", "guidance", "approval", "digest"},
    "counting": None,
    "milestones": {
        "recognised",
        "called",
        "first_compression",
        "unit_at_side",
        "unit_on",
        "pads_on",
        "first_analysis",
        "first_shock",
        "resumed",
        "not_reached_by",
    },
    "from_recognition": None,
    "window_s": None,
    "hands_on": {"share", "ceiling", "from"},
    "gaps": {"from", "to", "length", "cause", "parts", "rescuer_s"},
    "shocks": {"at", "pre", "post", "peri", "clear_before"},
    "compressions": {"seen", "inferred", "dropped", "runs"},
    "rate": {"median", "low", "high", "runs", "plus_minus", "in_band", "windows"},
    "pads": {"size", "placement", "rule", "why"},
    "steps": {"id", "status", "at"},
    "findings": {"rule", "severity", "at", "events", "say", "source"},
    "one_thing": {"finding", "say"},
    "handover": {"said", "missing", "true_version"},
    "adjusted": None,
    "interrupted_at": None,
    "cautions": None,
}
"""Names that others build on: renaming one is a breaking change."""


def made(debrief: Debrief) -> dict[str, Any]:
    table: dict[str, Any] = json.loads(as_json(debrief))
    return table


def test_every_stable_name_is_there() -> None:
    table = made(page(good_drill(), 115))
    for name, inner in NAMES.items():
        assert name in table
        if inner is not None:
            value = table[name][0] if isinstance(table[name], list) else table[name]
            assert inner <= set(value), name
    assert {"prep", "unit", "press", "resume"} <= set(table["gaps"][1]["parts"])
    assert {"count", "breaths_after", "rate"} <= set(table["compressions"]["runs"][0])


def test_the_worked_drill() -> None:
    table = made(page(good_drill(), 115))
    assert table["milestones"]["recognised"] == 14.0
    assert table["milestones"]["first_compression"] == 22.0
    assert table["from_recognition"]["first_compression"] == 8.0
    assert table["from_recognition"]["called"] == -3.0
    assert table["milestones"]["unit_at_side"] == 50.0
    assert table["milestones"]["pads_on"] == 78.0
    assert table["milestones"]["first_shock"] == 92.8
    assert table["milestones"]["resumed"] == 95.8
    assert table["milestones"]["not_reached_by"] == {}
    # window 22 to 115 s = 93 s; gaps of 5 and 34 s; the last one of 1.8 s is listed and not summed
    assert table["window_s"] == 93.0
    assert table["hands_on"]["share"] == round(1 - 39 / 93, 3) == 0.581
    # 29 intervals of 0.6 s = 17.4 s, and 5 s for breaths: 17.4 / 22.4
    assert table["hands_on"]["ceiling"] == round(17.4 / 22.4, 3) == 0.777
    assert [(gap["length"], gap["cause"], gap["counted"]) for gap in table["gaps"]] == [
        (5.0, "breaths", True),
        (34.0, "analysis", True),
        (1.8, "unknown", False),
    ]
    long = table["gaps"][1]
    assert long["parts"] == {"prep": 20.0, "unit": 8.0, "press": 3.0, "resume": 3.0, "unsplit": 0.0}
    assert long["rescuer_s"] == 26.0
    assert table["shocks"] == [
        {
            "at": 92.8,
            "pre": 31.0,
            "post": 3.0,
            "peri": 34.0,
            "clear_before": 2.0,
            "rescuer_pre": 23.0,
            "spans": [],
            "events": table["shocks"][0]["events"],
        }
    ]
    assert table["compressions"]["seen"] == 90 and table["compressions"]["inferred"] == 0
    assert [(run["count"], run["breaths_after"], run["rate"]) for run in table["compressions"]["runs"]] == [
        (30, 2, 100.0),
        (30, 0, 100.0),
        (30, 0, 100.0),
    ]
    rate = table["rate"]
    assert (rate["median"], rate["low"], rate["high"], rate["runs"]) == (100.0, 100.0, 100.0, 3)
    # 1.96 * 100 * 0.025 * sqrt(2) / 17.4 = 0.398
    assert rate["plus_minus"] == 0.4
    assert (rate["in_band"], rate["windows"], rate["verdict"]) == (1.0, 75, "at the limit")
    assert table["pads"] == {
        "size": "adult",
        "placement": "right-and-left",
        "rule": "adult-weight",
        "why": "25 kg or more: adult pads.",
    }
    assert table["one_thing"]["finding"] == "hands-off-over"
    assert table["handover"]["said"] == ["shocks", "now"]
    assert table["adjusted"] == {"voided": [3], "nudged": [4, 9], "added_later": [], "relabelled": [], "dropped": 2}
    assert table["interrupted_at"] is None


def test_what_was_not_reached_is_null_with_its_censoring_and_never_zero() -> None:
    table = made(page(Story().at(5, "response_checked"), 152.4, "interrupted"))
    assert table["milestones"]["first_shock"] is None
    assert table["milestones"]["not_reached_by"]["first_shock"] == 152.4
    assert table["from_recognition"]["first_shock"] is None
    assert table["hands_on"] == {
        "share": None,
        "ceiling": 0.76,
        "from": "each",
        "ceiling_of": {"run_length": 30, "rate": 110.0, "breath_gap": 5.0},
        "own_breath_gap": None,
        "own_ceiling": None,
        "off_mark_missing": False,
    }
    assert table["rate"] is None and table["compressions"]["seen"] is None
    assert table["interrupted_at"] == 152.4


def test_by_marks_there_is_no_rate_and_no_count() -> None:
    story = Story("marks").at(10, "hands_placed").at(28, "breath").at(33, "hands_placed").at(50, "hands_lifted")
    table = made(page(story, 50))
    assert table["rate"] is None
    assert table["compressions"]["seen"] is None and table["compressions"]["inferred"] is None
    assert [run["count"] for run in table["compressions"]["runs"]] == [None, None]
    assert any("1 to 2 points high" in caution for caution in table["cautions"])


def test_lengths_are_hundredths_and_shares_thousandths() -> None:
    def check(value: object) -> None:
        if isinstance(value, dict):
            for inner in value.values():
                check(inner)
        elif isinstance(value, list):
            for inner in value:
                check(inner)
        elif isinstance(value, float):
            assert value == round(value, 3)

    story = Story()
    story.cycles(10.123, 3, 5.777)
    check(as_dict(page(story, 80.001)))


def test_no_pads_decision_is_null() -> None:
    assert made(page(good_drill(), 115, pads=None))["pads"] is None
