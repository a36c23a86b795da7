"""What each leaf of the debrief holds, written from the debrief and from what has been said of it so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from textual.content import Content

from screens.desk import LookBack
from screens.page import CAP, LOUD, QUIET, STRONG, Lines
from screens.widgets.ink import Line, glyphs
from screens.widgets.tape import tape_rows

FEEL = "How did that feel?"
ANSWERS = (("saw", "I saw it"), ("did-not-happen", "it did not happen"), ("not-looking", "I was not looking"))
"""What an assessor can say of a mark that is missing, by its key from 1."""
LABELS = (
    "where the hands were",
    "arms and shoulders",
    "depth",
    "release",
    "head and chin",
    "breaths",
    "pads",
    "clear and touch",
    "talking to people",
)
"""What a pin can be named, by its key from 1; 0 is nothing."""
_STYLES = {"slate": "$slate", "sand": "$sand", "strong": STRONG, "quiet": QUIET}


@dataclass
class Talk:
    """What has been said in this talk: which parts of the handover were ticked, which question and pin is open, which
    choice stands for the one thing."""

    ticked: set[str] = field(default_factory=set)
    question: int = 0
    answers: dict[str, str] = field(default_factory=dict)
    pin: int = 0
    labels: dict[int, str] = field(default_factory=dict)
    choice: int = 0
    ready: bool = False
    signing: str = ""


def write_feel(lines: Lines, height: int) -> None:
    """The question alone, in the middle."""
    lines.made += [Content("")] * max((height - 6) // 2, 1)
    lines.text(Content.styled(FEEL, STRONG).pad_left(max((lines.width - len(FEEL)) // 2, 0)))


def write_words(lines: Lines) -> None:
    """What is asked of the learner, above the two lines to type into."""
    lines.text("What went well?  What would you change?  Five words each are plenty.")
    lines.text("They are kept in a file beside the log that can be deleted. No names, please.", QUIET)


def write_confirm(lines: Lines, back: LookBack, talk: Talk) -> None:
    """One question at a time; only "it did not happen" can count."""
    number = len(back.questions)
    if talk.question >= number:
        lines.text("Nothing is left to confirm.")
        return
    one = back.questions[talk.question]
    lines.text("For the assessor, before the learner sees it.", QUIET)
    lines.blank()
    lines.row(f"{talk.question + 1} of {number}", one.say, STRONG)
    lines.row("", one.ask)
    lines.blank()
    for key, (answer, words) in enumerate(ANSWERS, 1):
        chosen = talk.answers.get(one.id) == answer
        lines.text(Content.assemble((f" {key} ", CAP), f" {words}", ("  said" if chosen else "", QUIET)))
    lines.blank()
    lines.text("Not looking repeats that part at no cost.", QUIET)


def write_pins(lines: Lines, back: LookBack, talk: Talk) -> None:
    """One pin at a time, and what it can be named."""
    number = len(back.pins)
    if talk.pin >= number:
        lines.text("Every pin has its name.")
        return
    one = back.pins[talk.pin]
    lines.row(f"{talk.pin + 1} of {number}", f"{one.which}, at {one.at}", STRONG)
    said = talk.labels.get(one.line, one.label)
    if said:
        lines.row("named", said, QUIET)
    lines.blank()
    caps = [Content.assemble((f" {key} ", CAP), f" {label}") for key, label in enumerate(LABELS, 1)]
    caps.append(Content.assemble((" 0 ", CAP), " nothing"))
    if lines.width >= 60:
        for left, right in zip(caps[:5], caps[5:], strict=True):
            lines.made.append(left.pad_right(max(30 - left.cell_length, 1)) + right)
    else:
        lines.made += caps


def write_tape(lines: Lines, back: LookBack) -> None:
    """The learner's own words first, then the tape, the longest stop turned over."""
    plus, change = (back.own.get(name, "") for name in ("plus", "change"))
    if plus or change:
        lines.row("went well", f"“{plus}”" if plus else "–")
        lines.row("change", f"“{change}”" if change else "–")
        lines.blank()
    lines.text(back.head, QUIET)
    if back.ended:
        lines.text(back.ended)
    for words in back.pair:
        lines.text(words, STRONG)
    lines.blank()
    marks = glyphs()
    room = 60 if lines.width >= 67 else 30
    for start in range(0, max(len(back.tape), 1), room):
        stretch = back.tape[start : start + room]
        cells = _content(tape_rows(stretch, len(stretch), room, marks)[0])
        if back.longest is not None:
            first, last = (min(max(cell - start, 0), len(stretch)) for cell in (back.longest[0], back.longest[1] + 1))
            cells = cells.stylize(LOUD, first, last) if last > first else cells
        lead = Content.styled(f"{start // 60}:{start % 60:02} ".rjust(7), QUIET)
        lines.made.append((lead + cells).rstrip())
    lines.blank()
    kinds = "".join(dict.fromkeys(back.tape))
    indent = 7 if lines.width >= 67 else 0
    lines.text(_content(tape_rows(kinds, len(kinds), lines.width - indent, marks)[2]).rstrip(), indent=indent)
    lines.text("one cell a second", QUIET, indent=indent)
    if back.longest is not None:
        length = back.longest[1] - back.longest[0]
        since = f"{back.longest[0] // 60}:{back.longest[0] % 60:02}"
        lines.text(
            Content.assemble((" turned over ", LOUD), f" the longest stop, {length} s from {since}"), indent=indent
        )


def write_figures(lines: Lines, back: LookBack) -> None:
    """All sections, a label and what is to be said."""
    for section in back.sections:
        lines.blank()
        lines.text(section.title, STRONG)
        longest = max((len(label) for label, _ in section.rows), default=0)
        for label, words in section.rows:
            if label:
                lines.row(label, words, gutter=min(longest + 2, lines.width // 3))
            else:
                lines.bullet(words)


def write_one(lines: Lines, back: LookBack, talk: Talk) -> None:
    """A strength, the one thing, and how to choose another."""
    lines.row("well", back.strength)
    lines.blank()
    if talk.choice and back.choices:
        lines.row("again", Content.styled(back.choices[talk.choice - 1].say, STRONG))
        lines.row("", "chosen by the assessor; it is written down when you go on", QUIET)
    else:
        lines.row("again", Content.styled(back.one_thing, STRONG))
        if back.why:
            lines.row("", back.why, QUIET)
    others = len(back.choices)
    if others:
        lines.blank()
        lines.row("", Content.assemble((" O ", CAP), f" another in its place ({others} to choose from)"), QUIET)


def write_again(lines: Lines, back: LookBack, talk: Talk) -> None:
    """Where to begin again, and what was before and after."""
    lines.row("again", Content.styled(back.one_thing, STRONG))
    lines.blank()
    if back.again_from is not None:
        lines.row("", Content.assemble((" A ", CAP), f" now, from: {back.again_from.say}"))
        lines.row("", "A new drill with the same set-up, the next attempt.", QUIET)
        if talk.ready:
            lines.row("", Content.styled(" READY: the next Enter is go ", LOUD))
    for words in back.pair:
        lines.row("pair", words)
    if back.own.get("again"):
        lines.row("last", back.own["again"])


def write_take(lines: Lines) -> None:
    """What is asked of the learner, above the line to type into."""
    lines.text("What do you take home?  The learner says it; a few words.")
    lines.text("Kept beside the log with the other words. No names, please.", QUIET)


def write_ask(lines: Lines, back: LookBack, talk: Talk) -> None:
    """The parts of a handover, to be ticked while the learner speaks."""
    lines.text("The learner speaks; tick what you hear. What was true comes after.", QUIET)
    lines.blank()
    for number, part in enumerate(back.handover, 1):
        ticked = part.id in talk.ticked
        box = Content.styled(" said " if ticked else " –    ", CAP if ticked else QUIET)
        line = Content.assemble((f" {number} ", CAP), " ", box, " ", (part.asked, STRONG if ticked else ""))
        lines.made.append(line.truncate(lines.width, ellipsis=True))


def write_true(lines: Lines, back: LookBack, talk: Talk) -> None:
    """What was true, beside what was said."""
    said = sum(part.id in talk.ticked for part in back.handover)
    lines.text(f"{said} of {len(back.handover)} said. What was true:", QUIET)
    lines.blank()
    for part in back.handover:
        lines.row("said" if part.id in talk.ticked else "not said", part.asked, STRONG)
        lines.row("", part.true)


def write_sign(lines: Lines, back: LookBack) -> None:
    """What a signature rests on, and the ways to sign."""
    if back.signed:
        lines.row("signed", back.signed, STRONG)
        lines.blank()
    for words in back.basis:
        lines.bullet(words)
    lines.blank()
    for number, result in enumerate(back.results, 1):
        cap = (f" {number} ", QUIET if result.why else CAP)
        lines.text(
            Content.assemble(
                cap, f" {result.words}", (f"  cannot be signed: {result.why}" if result.why else "", QUIET)
            )
        )
    lines.blank()
    lines.text("Order and timing seen; depth, release and breaths not measured.", QUIET)


def write_cautions(lines: Lines, cautions: Sequence[str], path: Path) -> None:
    """What must be read before the page is kept, and where the log is."""
    for words in cautions:
        lines.bullet(words)
    lines.blank()
    lines.row("log", str(path), QUIET)


def _content(line: Line) -> Content:
    """A line of pieces as content."""
    return Content.assemble(*((text, _STYLES.get(role, "")) for text, role in line))
