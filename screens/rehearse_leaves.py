"""What the rehearsal's page writes: the entry, a situation, options, the parts of a handover, what comes back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import partial

from textual.content import Content

from coach.debrief.wording import approval
from coach.drill.setup import words_of
from coach.measure.handover import ITEMS
from coach.rehearse.asking import Question
from coach.rehearse.handover import PARTS
from coach.rehearse.history import History
from coach.rehearse.matter import Matter
from coach.rehearse.progress import due_words
from coach.rehearse.schedule import overdue
from coach.rehearse.sitting import Sitting
from coach.rehearse.today import A_DAY, left_today
from coach.rehearse.wishes import Wishes
from coach.rehearse.wording import count, words
from coach.wording import DRAFTS, spoken
from screens.page import CAP, LOUD, QUIET, STRONG, Lines


def write_entry(lines: Lines, matter: Matter, history: History, day: date, language: str, wishes: Wishes) -> None:
    """What is rehearsed, how it stands, how it will be asked."""
    protocol = matter.protocol
    say = partial(words, language)
    mine = [standing for item, standing in history.standings.items() if item in matter.items]
    due = sum(overdue(standing, day) >= 0 for standing in mine)
    title, status = words_of(protocol.title, language), approval(language, matter.approval(day))
    lines.row(say("row:protocol"), say("after", title=title, guidance=protocol.guidance, state=status))
    lines.row(say("row:decisions"), say("row:decisions words", all=len(matter.items), met=len(mine), due=due))
    enough = "" if left_today(history, day) else say("row:enough")
    lines.row(say("row:today"), say("row:today words", done=history.reviewed_on(day), most=A_DAY) + enough)
    lines.row(say("row:answers"), say("row:answers typed" if wishes.typed else "row:answers chosen"))
    lines.row(say("row:limits"), say("row:limits on" if wishes.limits else "row:limits off"))
    lines.row(
        say("row:stories"),
        say("row:stories all" if any(one.sensitive for one in matter.stories) else "row:stories calm"),
    )
    lines.blank()
    lines.text(say("private"), QUIET)
    if spoken(language) in DRAFTS:
        lines.text(say("draft"), QUIET)
    if history.said is not None:
        lines.blank()
        lines.text(Content.assemble((f" {say('row:history')} ", LOUD), f" {history.words(language)}"))


def write_situation(lines: Lines, question: Question, style: str, roomy: bool) -> None:
    """The story, where it is new, and what is so now."""
    if question.story:
        lines.text(question.story, style if style == QUIET else "")
        if roomy:
            lines.blank()
    if question.now:
        lines.text(question.now, style)


def write_options(lines: Lines, airy: bool, options: Sequence[str]) -> None:
    """Numbered from 1; what does not fit hangs under its line."""
    for number, option in enumerate(options, 1):
        if airy:
            lines.blank()
        for place, line in enumerate(Content(option).wrap(max(lines.width - 5, 8))):
            lead = Content.assemble((f" {number} ", CAP), "  ") if place == 0 else Content(" " * 5)
            lines.made.append(lead + line)


def write_parts(lines: Lines, language: str, heard: Sequence[str]) -> None:
    """The eight parts of a handover, with what was heard so far."""
    lines.text(words(language, "tell the crew"), STRONG)
    for number, item in enumerate(ITEMS, 1):
        mark = "x" if item in heard else " "
        lines.text(f"[{mark}] {number} {words_of(PARTS[item], language)}")


def write_over(lines: Lines, sitting: Sitting) -> None:
    """What waited until the end, and when it comes back."""
    if sitting.told is not None and sitting.told.verdict == "over":
        for text in sitting.told.lines:
            lines.text(text, STRONG)
    if not sitting.given:
        return
    right = sum(one.right for one in sitting.given)
    lines.text(count(sitting.language, "score", len(sitting.given), right=right), STRONG)
    for one in sitting.given:
        mark = sitting.say("mark:right" if one.right else "mark:danger" if one.worth == "danger" else "mark:wrong")
        first = f"  {sitting.say('was sure:short')}" if not one.right and one.sure == "sure" else ""
        lines.blank()
        lines.row(mark, Content.assemble((one.title, STRONG), (first, QUIET)))
        if not one.first or not one.right:
            lines.row("", one.line, QUIET)
    if sitting.recorded:
        dues = sorted(sitting.history.standings[one.item].due for one in sitting.given)
        lines.blank()
        lines.row(sitting.say("row:next"), due_words(dues[0], dues[-1], sitting.language))
