"""Numbers that people hear or read, against those that the file measures by."""

from __future__ import annotations

import pytest

from coach.check.lint.file import lint
from coach.check.lint.said import said_in
from tests.check.test_lint import BASE, TODAY, Slip, changed, found, line_of, names_it

DONE = 'cue = { en = "Thirty done'

SLIPS = {
    "an inject late by another time than it says": Slip(
        "number-said",
        'allowed = "clear_called"\nwithin = "15 s"',
        'allowed = "clear_called"\nwithin = "20 s"',
        'say = { en = "A bystander kept touching for 15 s',
        "says 15 s, and the file has within 20 s",
    ),
    "another time said than the limit": Slip(
        "number-said",
        'say = { en = "30 s after a gasp',
        'say = { en = "3 min after a gasp',
        'say = { en = "3 min after a gasp',
        "says 3 min",
    ),
    "another count said than the guard's": Slip(
        "number-said",
        DONE,
        DONE.replace("Thirty", "Fifteen"),
        'cue = { en = "Fifteen done',
        "says 15, and here `pushes` comes to 30",
    ),
    "a guard for another count than the one said": Slip(
        "number-said",
        'when = "breaths and pushes == 29"',
        'when = "breaths and pushes == 24"',
        'cue = { en = "Thirty done',
        "comes to 25 and 30",
    ),
    "a count set that is not the one said": Slip(
        "number-said", "set = { pushes = 30 }", "set = { pushes = 29 }", 'cue = { en = "Thirty done', "29 and 30"
    ),
    "runs of another length": Slip(
        "number-said", "run_length = { value = 30,", "run_length = { value = 15,", DONE, "`run_length` aims at 15"
    ),
    "a ratio of another cycle": Slip(
        "number-said",
        "Read it beside the ceiling that 30:2 allows.",
        "Read it beside the ceiling that 15:2 allows.",
        "hands_on_share = {",
        "30 pushes and 2 breaths",
    ),
    "a finding that names another number": Slip(
        "number-said",
        'en = "Runs were not thirty pushes long."',
        'en = "Runs were not fifteen pushes long."',
        'en = "Runs were not fifteen',
        "the target `run_length` has 30",
    ),
    "seconds left that are others": Slip(
        "number-said",
        'period_warning = { after = "110 s"',
        'period_warning = { after = "100 s"',
        'cue = { en = "Ten seconds left',
        "from `period_warning` to `period` it is 20 s",
    ),
    "minutes over that are others": Slip(
        "number-said",
        'on = "timer:remind_call"\nwhen = "not called and not alive and not unit_reads"\ncue = { en = "Has',
        'on = "timer:remind_call"\nwhen = "not called and not alive and not unit_reads"\ncue = { en = "A minute: has',
        'cue = { en = "A minute: has',
        "says 1 min, and the file has `remind_call` 15 s",
    ),
}


@pytest.mark.parametrize("slip", SLIPS.values(), ids=SLIPS.keys())
def test_each_slip_is_named_at_its_line(slip: Slip) -> None:
    names_it(slip)


def test_both_languages_are_named_at_the_number_itself() -> None:
    text = changed('allowed = "rolled"\nwithin = "10 s"', 'allowed = "rolled"\nwithin = "12 s"')
    mine = found(text, "number-said")
    line = text.split("\n")[mine[0].where.line - 1]
    assert [line[one.where.column - 1 :][:6] for one in mine] == ["10 s o", "10 s t"]


def test_a_local_files_own_count_is_told_at_its_line() -> None:
    text = BASE.with_name("child-one-rescuer.toml").read_text(encoding="utf-8")
    text = changed("first_given == 4", "first_given == 3", text)
    (one, two) = [one for one in lint(text, "c.toml", BASE.parent.parent, TODAY).findings if one.code == "number-said"]
    assert one.where.line == two.where.line == line_of(text, 'cue = { en = "Five given')
    assert "`first_given` comes to 4 and 5" in one.what


@pytest.mark.parametrize(
    ("text", "language", "said"),
    [
        ("Ten seconds left", "en", [(10, "s")]),
        ("Two minutes: push", "en", [(2, "min")]),
        ("two short breaths", "en", []),
        ("A third of the chest, about 5 cm", "en", [(5, "other")]),
        ("Menos de 25 kg, unos 8 años", "es", [(25, "kg"), (8, "year")]),
        ("Va un minuto", "es", [(1, "min")]),
        ("the ceiling that 30:2 allows", "en", []),
        ("2,4 in", "es", [(2.4, "other")]),
    ],
)
def test_numbers_are_read_with_their_units(text: str, language: str, said: list[tuple[float, str]]) -> None:
    assert [(one.number, one.unit) for one in said_in(text, language)] == said
