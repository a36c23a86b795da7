"""xAPI statements: sound by the standard's rules, the same each time, fair, and without names or wishes."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any
from uuid import UUID

import pytest

from coach.debrief.forms import FORMS
from coach.debrief.from_log import debrief_of
from coach.debrief.page import Debrief
from coach.debrief.xapi_form import as_xapi, duration, registration, statements
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.reading import read_log
from coach.resources import data_dir
from tests.debrief.pages import good_drill, page, worst
from tests.debrief.xapi_rules import DURATION, faults
from tests.measure.story import Story

WALL = "2026-01-03T10:15:00Z"
HOSTILE = '=cmd()|"x"<script>[red]\x1b[31m\u202eevil `{}'


def extension(statement: dict[str, Any], part: str, name: str) -> Any:
    return statement[part]["extensions"].get(f"https://kneeside.invalid/extensions/{name}")


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> list[Debrief]:
    pages = []
    for path in sorted(data_dir("demo").glob("*.txt")):
        script = read_script(path.read_text(encoding="utf-8"), path.name)
        log = play(script, setup_of(script, setup_for), tmp_path_factory.mktemp("logs"))
        pages += [debrief_of(read_log(log)), debrief_of(read_log(log), "es")]
    return pages


def test_every_statement_is_sound_field_by_field(played: list[Debrief]) -> None:
    pages = [
        *played,
        page(good_drill(), 115, wall=WALL),
        page(good_drill(), 115, "interrupted", wall="not a time"),
        page(Story(), 0, learner="none", assessor="", wall=WALL),
        page(
            good_drill(), 115, learner=HOSTILE, assessor=HOSTILE, role=HOSTILE, drill=HOSTILE, wall="2026-01-03T10:15"
        ),
        page(good_drill(), 115, protocol={"id": f"{HOSTILE}/ä", "version": "", "guidance": HOSTILE, "approval": ""}),
        worst("es"),
    ]
    for made in pages:
        told = json.loads(as_xapi(made))
        assert len(told) >= 1
        for statement in told:
            assert faults(statement) == [], statement


BROKEN: list[tuple[str, Callable[[dict[str, Any]], object]]] = [
    ("2.4.1", lambda s: s.update(id="7")),
    ("2.4.2.1.s2.b1", lambda s: s["actor"].pop("account")),
    ("2.4.2.1.s2.b2", lambda s: s["actor"].update(mbox="mailto:a@b.invalid")),
    ("2.4.2.4", lambda s: s["actor"]["account"].update(homePage="kneeside.invalid")),
    ("2.4.2.4", lambda s: s["actor"]["account"].pop("name")),
    ("2.4.3", lambda s: s["verb"].update(id="completed")),
    ("4.2", lambda s: s["verb"].update(display={"english language": "completed"})),
    ("2.2.s4.b1.b7", lambda s: s.update(note="x")),
    ("2.2.s4.b1.b1", lambda s: s["result"].update(response=None)),
    ("2.4.5", lambda s: s["result"].update(success="true")),
    ("4.6.s1.b1", lambda s: s["result"].update(duration="PT")),
    ("4.6.s1.b1", lambda s: s["result"].update(duration="P0000-00-00T00:02:00")),
    ("4.6.s1.b2", lambda s: s["result"].update(duration="PT1.234S")),
    ("4.1", lambda s: s["result"]["extensions"].update({"depth": 5})),
    ("2.4.6", lambda s: s["context"].update(registration="drill 7")),
    ("2.4.6", lambda s: s["context"].update(language="englisch!")),
    ("4.5", lambda s: s.update(timestamp="2026-01-03 10:15")),
    ("4.5", lambda s: s.update(timestamp="2026-01-03T10:15:00.000-00:00")),
    ("2.4.4.1", lambda s: s["object"].update(id="no scheme")),
    ("2.4.10", lambda s: s.update(version="3")),
    ("2.4:", lambda s: s.pop("verb")),
]


@pytest.mark.parametrize(("rule", "breaks"), BROKEN)
def test_the_rules_find_what_is_broken(rule: str, breaks: Callable[[dict[str, Any]], object]) -> None:
    statement: dict[str, Any] = json.loads(as_xapi(page(good_drill(), 115, wall=WALL)))[0]
    breaks(statement)
    assert any(rule in fault for fault in faults(statement)), faults(statement)


@pytest.mark.parametrize(
    ("ms", "said"), [(0, "PT0S"), (100_000, "PT100S"), (162_400, "PT162.4S"), (12_345, "PT12.35S"), (10, "PT0.01S")]
)
def test_durations(ms: int, said: str) -> None:
    assert duration(ms) == said and DURATION.fullmatch(said)


def test_who_what_when_and_how_long() -> None:
    first, *steps = statements(page(good_drill(), 115, wall=WALL))
    assert first["actor"]["account"] == {"homePage": "https://kneeside.invalid/learner", "name": "07"}
    assert first["context"]["instructor"]["account"]["name"] == "a1"
    assert first["verb"]["id"].endswith("/completed") and first["result"]["completion"] is True
    assert first["result"]["duration"] == "PT115S"
    assert extension(first, "result", "hands-on-share") == 0.581
    assert extension(first, "result", "milestones")["first_compression"] == "PT22S"
    by_id = {one["object"]["id"].partition("#")[2]: one for one in steps}
    assert extension(by_id["call"], "result", "at") == "PT11S"
    assert by_id["call"]["result"]["success"] is True
    assert by_id["call"]["context"]["contextActivities"]["parent"][0]["id"] == first["object"]["id"]


@pytest.mark.parametrize("form", ["text", "markdown", "html", "csv", "xapi"])
def test_no_form_that_leaves_the_instructors_hands_tells_the_day_or_the_hour(form: str, played: list[Debrief]) -> None:
    """The optional timestamp is left out: the standard lets the store set it (2.4, row 7)."""
    for made in (*played, page(good_drill(), 115, wall=WALL)):
        day, hour, tail = made.drill.split("-")
        text = FORMS[form](made)
        assert made.wall and day == made.wall[:10].replace("-", "")
        told = (day, hour, made.wall[:10], made.wall[11:19], made.wall[11:16], "timestamp")
        assert not [one for one in told if one in text]
        assert form == "xapi" or tail in text


def test_ids_come_from_the_drill_and_never_change() -> None:
    once, again = (statements(page(good_drill(), 115, wall=WALL)) for _ in range(2))
    assert once == again
    ids = [one["id"] for one in once]
    assert len(set(ids)) == len(ids)
    other = statements(page(good_drill(), 115, wall=WALL, drill="20260103-101500-ffff"))
    assert not set(ids) & {one["id"] for one in other}
    assert registration(page(good_drill(), 115)) == UUID(once[0]["context"]["registration"])
    assert {one["context"]["registration"] for one in once} == {once[0]["context"]["registration"]}


def test_a_step_left_out_waits_for_the_assessor_and_is_no_failure() -> None:
    story = Story().at(5, "response_checked").at(12, "not_breathing").at(18, "compression")
    told = statements(page(story, 19, wall=WALL))
    call = next(one for one in told if one["object"]["id"].endswith("#call"))
    assert "success" not in call["result"] and extension(call, "result", "to-confirm") is True
    assert not any("fail" in one["verb"]["id"] for one in told)


def test_a_stop_for_safety_is_suspended_and_never_scored() -> None:
    first = statements(page(good_drill(), 115, "safety", wall=WALL))[0]
    assert first["verb"]["id"].endswith("/suspended") and first["result"]["completion"] is False
    assert "score" not in first["result"] and "success" not in first["result"]


def test_nothing_that_anybody_typed_about_the_drill_is_sent() -> None:
    typed = worst()
    assert all(typed.own.values()) and not any(text in as_xapi(typed) for text in typed.own.values())
