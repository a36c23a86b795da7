"""Before and after: the one thing of a drill, measured again in the drill that repeated it."""

from __future__ import annotations

from functools import partial

from coach.debrief.page import Debrief
from coach.debrief.phrases import pause
from coach.debrief.wording import count, words
from coach.measure.findings import Finding


def named(page: Debrief) -> Finding | None:
    """The finding that the one thing of a page names; ``None`` for a strength to keep or an impression."""
    thing = page.judgement.one_thing
    return next((one for one in page.judgement.findings if one.rule == thing.finding and one.say == thing.say), None)


def from_step(page: Debrief) -> tuple[str, str] | None:
    """Where to begin again for the one thing, a step's id and title: its own step, else the last one seen before it."""
    one = named(page)
    steps = page.measures.steps
    if one is None:
        return None
    own = next((step for step in steps if step.id == one.step), None)
    seen = [step for step in steps if step.at is not None and one.at is not None and step.at <= one.at]
    step = own or max(seen, key=lambda step: step.at or 0, default=None)
    return None if step is None else (step.id, step.title)


def pair(before: Debrief, after: Debrief) -> str:
    """What became of the one thing of ``before``, in one line; "" where it was a strength or cannot be compared."""
    say = partial(words, after.language)
    one = named(before)
    if one is None:
        return ""
    if one.hands_off:
        longest = [
            max((gap.rescuer for gap in page.measures.gaps if gap.counted), default=0) for page in (before, after)
        ]
        then, now = (pause(ms, page.beats) for ms, page in zip(longest, (before, after), strict=True))
        return say("pair:hands-off", then=then, now=now)
    if one.rate:
        rates = [page.measures.rate for page in (before, after)]
        if rates[0] is None or rates[1] is None:
            return ""
        return say("pair:rate", then=f"{rates[0].median:.0f}", now=f"{rates[1].median:.0f}")
    if one.step:
        status = {page.drill: _status(page, one.step) for page in (before, after)}
        title = next((step.title for step in after.measures.steps if step.id == one.step), one.step)
        return say("pair:step", step=title, then=status[before.drill], now=status[after.drill])
    then, now = (_times(page, one.rule, after.language) for page in (before, after))
    return say("pair:rule", say=one.say.rstrip("."), then=then, now=now)


def _status(page: Debrief, ident: str) -> str:
    status = next((step.status for step in page.measures.steps if step.id == ident), "not reached")
    return words(page.language, f"status:{status}")


def _times(page: Debrief, rule: str, language: str) -> str:
    return count(language, "pair:times", sum(one.rule == rule for one in page.judgement.findings))
