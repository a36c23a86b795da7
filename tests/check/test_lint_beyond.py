"""Numbers beyond all guidance, reminders too late, scripts that stand still, texts in the wrong language."""

from __future__ import annotations

import pytest

from tests.check.test_lint import Slip, changed, found, names_it
from tests.check.test_survey import TEXT as SMALL

BEGIN = (
    'cue = { en = "Heel of hand mid-chest, other on top: begin.", '
    'es = "Talón de la mano al centro, otra encima: empieza." }'
)
RATE = "compression_rate = { from = 100, to = 120"
REMIND = 'remind_start = { after = "10 s", every = "5 s"'

SLIPS = {
    "slower than any guidance": Slip(
        "target-beyond-guidance", RATE, RATE.replace("100", "80"), "compression_rate = {", "100 to 120 a minute"
    ),
    "faster than any guidance": Slip(
        "target-beyond-guidance", RATE, RATE.replace("120", "140"), "compression_rate = {", "goes to 140.0 /min"
    ),
    "a longer pause than any guidance grants": Slip(
        "target-beyond-guidance",
        'hands_off = { to = 10, unit = "s"',
        'hands_off = { to = 18, unit = "s"',
        "hands_off = {",
        "at most 10 s",
    ),
    "seconds that became minutes": Slip(
        "reminder-seldom", REMIND, REMIND.replace('"5 s"', '"5 min"'), "remind_start = {", "not before another 5 min"
    ),
    "verdicts that go on with the shocks": Slip(
        "script-by-analysis", 'counter = "analyses"', 'counter = "shocks"', 'counter = "shocks"', "`rhythm` says what"
    ),
    "English in the place of Spanish": Slip(
        "text-in-another-language",
        BEGIN,
        BEGIN[: BEGIN.index(" es = ")] + ' es = "Both hands on the chest: push now." }',
        'es = "Both hands on the chest',
        "in `es` reads as `en`",
    ),
    "two languages exchanged": Slip(
        "text-in-another-language",
        BEGIN,
        BEGIN.replace("en =", "xx =").replace("es =", "en =").replace("xx =", "es ="),
        'es = "Heel of hand mid-chest',
        "in `es` reads as `en`",
    ),
}


@pytest.mark.parametrize("slip", SLIPS.values(), ids=SLIPS)
def test_each_slip_is_named_at_its_line(slip: Slip) -> None:
    names_it(slip)


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        (RATE, RATE.replace("100", "105").replace("120", "115"), "target-beyond-guidance"),
        (REMIND, REMIND.replace('"5 s"', '"30 s"'), "reminder-seldom"),
        (BEGIN, BEGIN.replace("begin.", "RCP."), "text-in-another-language"),
    ],
)
def test_what_is_meant_draws_none(old: str, new: str, code: str) -> None:
    assert found(changed(old, new), code) == []


def test_a_file_of_few_texts_does_not_tell_languages() -> None:
    few = SMALL.replace('title = "Tiny"', 'title = { en = "Push down hard now", es = "Push down hard now" }')
    assert few != SMALL
    assert found(few, "text-in-another-language") == []
