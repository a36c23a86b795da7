"""The ways to sign a drill as the sign-off leaf offers them: the rule is the debrief's own, only put into words."""

from __future__ import annotations

from coach.debrief import sentences
from coach.debrief.afterwards import NotSaid, sign
from coach.debrief.page import Debrief
from coach.debrief.signoff import IN_WORDS
from screens.desk import Result


def basis(page: Debrief) -> tuple[str, ...]:
    """What a signature rests on, in a few lines."""
    return tuple(one.say for one in sentences.signoff(page))


def results(page: Debrief) -> tuple[Result, ...]:
    """Pass, not yet, stopped for safety; with the reason where one cannot be signed, or has to be given one."""
    verdict = page.verdict
    if verdict is None:
        return ()
    found = []
    for result, words in IN_WORDS.items():
        why = ""
        try:
            sign(page, verdict, result)
        except NotSaid as error:
            why = str(error)
        blocked = verdict.never or verdict.confirm or verdict.not_yet or verdict.again
        asks = result == "pass" and bool(verdict.reason) and not blocked
        found.append(Result(result, words, "" if asks else why, "; ".join(verdict.reason) if asks else ""))
    return tuple(found)
