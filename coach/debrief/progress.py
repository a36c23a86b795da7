"""One learner over their attempts: longest own pause, the one thing, steps still prompted. No score, no rank."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from textwrap import wrap
from typing import Any

from coach.debrief.many import each
from coach.debrief.page import Debrief
from coach.debrief.phrases import pause
from coach.debrief.wording import known, words
from coach.log.used import heads

BAR = 24
"""Cells of the longest bar."""
WIDTH = 78
AIDED = ("prompted", "cued")


@dataclass(frozen=True, slots=True)
class Attempt:
    """One drill of a learner. ``longest`` is the longest own stop of compressions in ms (``None`` where none is known),
    ``thing`` the one thing to do again ("" for a strength to keep), ``aided`` the steps done with a prompt or a cue,
    ``omitted`` those left out; ``result`` is the sign-off in words, "" without one."""

    drill: str
    wall: str
    protocol: str
    mode: str
    number: int
    ended: str
    longest: int | None
    beats: bool
    thing: str
    say: str
    aided: tuple[str, ...]
    omitted: tuple[str, ...]
    result: str


def attempt_of(page: Debrief) -> Attempt:
    """What of one page stands in a learner's progress."""
    own = [gap.rescuer for gap in page.measures.gaps if gap.counted and not gap.spans]
    thing = page.judgement.one_thing
    signed = page.happened.signed
    return Attempt(
        page.drill,
        page.wall,
        page.of.id,
        page.mode,
        page.attempt,
        page.happened.ended,
        max(own, default=0) if page.measures.runs and not page.measures.hands_on.unmarked else None,
        page.beats,
        thing.finding or "",
        f"{thing.say} ({words(page.language, 'one:confirm')})" if thing.to_confirm else thing.say,
        tuple(step.title for step in page.measures.steps if step.status in AIDED),
        tuple(step.title for step in page.measures.steps if step.status == "omitted"),
        "" if signed is None else known(page.language, "result", signed.result),
    )


def logs_of(learner: str, folders: Iterable[Path]) -> Iterator[Path]:
    """The logs of a learner, by their first lines alone; what cannot be read is none of theirs."""
    return (path for path, head in heads(folders) if head.get("learner") == learner)


def progress_of(
    learner: str, folders: Iterable[Path], language: str = ""
) -> tuple[tuple[Attempt, ...], tuple[str, ...]]:
    """The attempts of a learner in order of time, and what could not be read, in words. What a page says is in
    ``language``, else each in its drill's own."""
    told = list(each(list(logs_of(learner, folders)), attempt_of, language=language))
    found = [attempt for attempt, _ in told if attempt is not None]
    problems = [problem for _, problem in told if problem]
    once = {(attempt.drill, attempt.wall): attempt for attempt in found}
    return tuple(sorted(once.values(), key=lambda attempt: (attempt.wall, attempt.drill))), tuple(problems)


def still_aided(attempts: Iterable[Attempt]) -> tuple[str, ...]:
    """The steps that the last attempt of each protocol still needed a prompt or a cue for."""
    last = {attempt.protocol: attempt for attempt in attempts}
    return tuple(dict.fromkeys(title for attempt in last.values() for title in attempt.aided))


def as_lines(attempts: Sequence[Attempt], language: str = "en") -> list[str]:
    """A small chart: an attempt a row, its longest own pause as a bar; below it the one thing, and what still needed a
    prompt or a cue."""
    most = max((attempt.longest or 0 for attempt in attempts), default=0)
    say = partial(words, language)
    lines = []
    for attempt in attempts:
        when = attempt.wall[:10] or attempt.drill[:8]
        length, bar = longest_of(attempt), ""
        if attempt.longest and most:
            bar = "█" * max(1, round(BAR * attempt.longest / most))
        mode = known(language, "mode", attempt.mode)
        lines.append(f"{when}  {mode:<9}{length:>7} {bar:<{BAR}}  {result_of(attempt, language)}".rstrip())
        lines += _under(f"{say('progress:again' if attempt.thing else 'progress:keep')} {attempt.say}")
        if attempt.aided:
            lines += _under(f"{say('progress:aided')} {'; '.join(attempt.aided)}")
    return lines


def _under(text: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=" " * 12, subsequent_indent=" " * 14, break_on_hyphens=False)


def longest_of(attempt: Attempt) -> str:
    """The longest own pause as it is printed; "-" where none is known."""
    return "-" if attempt.longest is None else pause(attempt.longest, attempt.beats)


def result_of(attempt: Attempt, language: str) -> str:
    """What was signed, and whether it was stopped for safety or cut off."""
    ended = "" if attempt.ended == "ended" else words(language, f"ended:{attempt.ended}")
    return ", ".join(dict.fromkeys(part for part in (attempt.result, ended) if part))


def as_dict(learner: str, attempts: tuple[Attempt, ...]) -> dict[str, Any]:
    """The same as plain values, for a page or another program; times in seconds."""
    return {
        "learner": learner,
        "attempts": [
            {
                "drill": one.drill,
                "wall": one.wall,
                "protocol": one.protocol,
                "mode": one.mode,
                "attempt": one.number,
                "ended": one.ended,
                "longest_own_pause": None if one.longest is None else round(one.longest / 1000, 2),
                "one_thing": one.thing,
                "say": one.say,
                "aided": list(one.aided),
                "omitted": list(one.omitted),
                "result": one.result,
            }
            for one in attempts
        ],
        "still_aided": list(still_aided(attempts)),
    }
