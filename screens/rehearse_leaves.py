"""What the rehearsal's page writes: the entry, a situation, options, the parts of a handover, what comes back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from textual.content import Content

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
from screens.page import CAP, LOUD, QUIET, STRONG, Lines

PRIVATE = "What you answer stays on this machine, for you alone. No certificate comes of it."


def write_entry(
    lines: Lines, matter: Matter, history: History, day: date, language: str, typed: bool, limits: bool
) -> None:
    """What is rehearsed, how it stands, how it will be asked."""
    protocol = matter.protocol
    mine = [standing for item, standing in history.standings.items() if item in matter.items]
    due = sum(overdue(standing, day) >= 0 for standing in mine)
    title = words_of(protocol.title, language)
    lines.row("protocol", f"{title}, after {protocol.guidance}, not endorsed; {protocol.approval.status}")
    lines.row("decisions", f"{len(matter.items)}: {len(mine)} met, {due} due")
    enough = "" if left_today(history, day) else "; enough"
    lines.row("today", f"{history.reviewed_on(day)} of {A_DAY} done{enough}")
    lines.row("answers", "type a verb" if typed else "choose among four to six")
    lines.row("limits", "each decision's own, reading time on top" if limits else "none")
    lines.blank()
    lines.text(PRIVATE, QUIET)
    if history.words:
        lines.blank()
        lines.text(Content.assemble((" your history ", LOUD), f" {history.words}"))


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
    for number, words in enumerate(options, 1):
        if airy:
            lines.blank()
        for place, line in enumerate(Content(words).wrap(max(lines.width - 5, 8))):
            lead = Content.assemble((f" {number} ", CAP), "  ") if place == 0 else Content(" " * 5)
            lines.made.append(lead + line)


def write_parts(lines: Lines, language: str, heard: Sequence[str]) -> None:
    """The eight parts of a handover, with what was heard so far."""
    lines.text("Tell the crew. Type it; or say it aloud and type the numbers of what you said.", STRONG)
    for number, item in enumerate(ITEMS, 1):
        mark = "x" if item in heard else " "
        lines.text(f"[{mark}] {number} {words_of(PARTS[item], language)}")


def write_over(lines: Lines, sitting: Sitting) -> None:
    """What waited until the end, and when it comes back."""
    if sitting.told is not None and sitting.told.verdict == "over":
        for words in sitting.told.lines:
            lines.text(words, STRONG)
    if not sitting.given:
        return
    count = sum(one.right for one in sitting.given)
    lines.text(f"{count} of {len(sitting.given)} right at the first try.", STRONG)
    for one in sitting.given:
        word = "right" if one.right else "dangerous" if one.worth == "danger" else "wrong"
        first = "  sure and wrong: first next time" if not one.right and one.sure == "sure" else ""
        lines.blank()
        lines.row(word, Content.assemble((one.title, STRONG), (first, QUIET)))
        if not one.first or not one.right:
            lines.row("", one.line, QUIET)
    if sitting.recorded:
        dues = sorted(sitting.history.standings[one.item].due for one in sitting.given)
        lines.blank()
        lines.row("next", due_words(dues[0], dues[-1]))
