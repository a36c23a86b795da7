"""One learner's attempts as one HTML page: a row for each, its longest own stop drawn as a bar. Nothing fetched or run.

The page leaves the instructor's hands, so it counts attempts and tells neither day nor hour.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

from coach.debrief.html_form import template
from coach.debrief.progress import Attempt, longest_of, result_of, still_aided
from coach.debrief.wording import count, known, words
from coach.wording import DRAFTS, spoken

TEMPLATE = "progress.html.jinja"
BAR = 100.0
"""Width of the longest bar in units of the drawing."""


class Row(NamedTuple):
    """One attempt as it stands on the page; ``width`` is that of its bar, ``title`` says the bar in words."""

    number: int
    what: str
    longest: str
    width: float
    title: str
    keep: bool
    thing: str
    aided: str
    result: str


def as_html(learner: str, attempts: Sequence[Attempt], language: str) -> str:
    """The page, with a newline at the end."""
    say = partial(words, language)
    aided = still_aided(attempts)
    return (
        template(TEMPLATE).render(
            language=spoken(language),
            say=say,
            title=say("progress:title", learner=learner),
            drills=count(language, "progress:drills", len(attempts)),
            rows=rows_of(attempts, language),
            still=say("progress:still", steps="; ".join(aided)) if aided else say("progress:none"),
            draft=say("care:draft") if spoken(language) in DRAFTS else "",
        )
        + "\n"
    )


def rows_of(attempts: Sequence[Attempt], language: str) -> list[Row]:
    """The rows in order; bars to the scale of the longest."""
    most = max((attempt.longest or 0 for attempt in attempts), default=0)
    return [
        Row(
            number,
            f"{attempt.protocol.rpartition('/')[2]}, {known(language, 'mode', attempt.mode)}",
            longest_of(attempt),
            round(BAR * (attempt.longest or 0) / most, 1) if most else 0.0,
            words(language, "progress:bar", length=longest_of(attempt), number=number, total=len(attempts)),
            not attempt.thing,
            attempt.say,
            "; ".join(attempt.aided),
            result_of(attempt, language),
        )
        for number, attempt in enumerate(attempts, 1)
    ]
