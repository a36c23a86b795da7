"""The briefing: what will be drilled, by whom and how; then what is read out and what must be safe; then go.

Two leaves. On the first every answer is a row, filled with what was chosen last time: its first letter or the left and
right arrows change it, digits are the learner's id. Enter turns to the second, which is read to the learner; there, and
nowhere else in the program, Enter means go, and the press itself is the drill's zero.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar, Literal, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Input

from coach.keys import KeyClash
from coach.remembered import Choices
from coach.text import clean
from screens.desk import DeskError, PadsCard, ProtocolCard, ScenarioCard, Unsound
from screens.page import LOUD, QUIET, SCROLL, STRONG, Ask, Cap, Lines, Page

if TYPE_CHECKING:
    from screens.app import KneesideApp


class Option(NamedTuple):
    """One answer of a closed question: its id, what it is called, what that means."""

    id: str
    name: str
    meaning: str


ROLES = (
    Option("lead", "lead", "pushes and decides"),
    Option("second", "second", "comes to help, then takes turns"),
    Option("breaths", "breaths", "at the head"),
    Option("unit", "unit", "brings and works the unit"),
    Option("caller", "caller", "phones, fetches, guides the crew"),
)
MODES = (
    Option("teach", "teach", "every cue is shown"),
    Option("practise", "practise", "a cue only where a step is late"),
    Option("test", "test", "no cue, no tone"),
)
COUNTING = (
    Option("each", "each", "you tap every push"),
    Option("probe", "probe", "you tap twelve along when asked"),
    Option("marks", "marks", "hands on and off only: no rate"),
    Option("counter", "counter", "a second person taps every push"),
)
UNITS = (
    Option("floor", "on the floor", "a training unit; you mark what it says"),
    Option("laptop", "this laptop", "plays the unit and speaks for it"),
)
KITS = (
    Option("both", "adult and small", "both sizes of pads are at hand"),
    Option("adult", "adult only", "no small pads at hand"),
    Option("paediatric", "small only", "no adult pads at hand"),
)


class Row(NamedTuple):
    """One question of the first leaf; its label begins with its key."""

    name: str
    label: str
    options: tuple[Option, ...] = ()


ROWS = (
    Row("protocol", "Protocol"),
    Row("scenario", "Story"),
    Row("learner", "Learner"),
    Row("role", "Role", ROLES),
    Row("mode", "Mode", MODES),
    Row("counting", "Counting", COUNTING),
    Row("unit", "Unit", UNITS),
    Row("kit", "Kit", KITS),
    Row("assessor", "Assessor"),
)

IDS = ("learner", "assessor")
DIGITS = frozenset("0123456789")

SAFETY = (
    "A dummy phone, or the phone in flight mode.",
    "Agree on words for “this is real”. Esc stops, Esc again shows the card.",
    "Nothing is tried on living people. The real unit stands apart, labelled.",
)
UNAPPROVED = "A test with an unapproved protocol needs a reason, kept in the record. Type it below."
WITHDRAWN = (
    "WITHDRAWN: this protocol is not to be taught any more. Esc to choose another; for a test with it all the same, "
    "type why, with the word withdrawn in it. The record and the debrief will carry it."
)
SENSITIVE = "This may touch somebody's own life. Tell what it is about; anyone may sit it out, no reason asked."
NO_STORY = Option("none", "no story", "the protocol's own facts; injects on the digits")


class BriefingScreen(Page):
    """Both leaves of the briefing."""

    CAUTION: ClassVar[str] = "training only"

    app: KneesideApp

    def __init__(self, protocol: str = "") -> None:
        super().__init__()
        self.asked_for = protocol
        self.choices = Choices()
        self.at = 0
        self.leaf: Literal["choose", "ready"] = "choose"
        self.reason = ""
        self.pending = ""
        self.protocols: tuple[ProtocolCard, ...] = ()
        self.scenarios: tuple[ScenarioCard, ...] = ()
        self.pads: PadsCard | None = None
        self.below = 0
        """Lines of the second leaf that do not fit on the screen."""

    def between(self) -> ComposeResult:
        """One line to type a reason into."""
        yield Ask("reason", "reason", "why a test with this protocol, in a few words")

    def on_mount(self) -> None:
        """Fill in what was chosen last time."""
        kept, self.notice = self.app.desk.remembered()
        self.protocols = tuple(card for card in self.app.desk.protocols())
        usable = [card.id for card in self.protocols if not card.problem]
        wanted = self.asked_for or kept.protocol
        protocol = wanted if wanted in usable else (usable[0] if usable else "")
        if wanted and protocol != wanted:
            self.notice = f"The protocol of last time is not here any more: {wanted}"
        self.choices = replace(kept, protocol=protocol)
        for row in ROWS:
            ids = [option.id for option in row.options]
            if ids and getattr(self.choices, row.name) not in ids:
                self.choices = replace(self.choices, **{row.name: getattr(Choices(), row.name)})
        self._settle()
        super().on_mount()

    def _settle(self) -> None:
        """Bring what follows from the protocol and the story in line with them."""
        protocol = self.choices.protocol
        self.scenarios = self.app.desk.scenarios(protocol) if protocol else ()
        ids = [card.id for card in self.scenarios]
        if self.choices.scenario not in (*ids, NO_STORY.id):
            calm = [card.id for card in self.scenarios if not card.sensitive]
            self.choices = replace(self.choices, scenario=calm[0] if calm else "")
        self.pads = self.app.desk.pads(protocol, self.choices.scenario, self.choices.kit) if protocol else None
        try:
            self.app.desk.keys(protocol)
        except KeyClash as error:  # told as soon as it is so, not first at the turn to go
            self.notice = str(error)

    @property
    def protocol(self) -> ProtocolCard | None:
        """The card of the protocol chosen."""
        return next((card for card in self.protocols if card.id == self.choices.protocol), None)

    @property
    def scenario(self) -> ScenarioCard | None:
        """The card of the story chosen; None for none."""
        return next((card for card in self.scenarios if card.id == self.choices.scenario), None)

    def title_words(self) -> str:
        """Which leaf."""
        return "Briefing" if self.leaf == "choose" else "Ready?"

    def caps(self) -> Sequence[Cap]:
        """The keys of the leaf."""
        if self.leaf == "ready":
            if self.query_one("#ask-reason").display:
                return (Cap("", "Enter", "take the reason", ""), Cap("escape", "Esc", "change", "back"))
            return (
                Cap("enter", "Enter", "go", ""),
                Cap("escape", "Esc", "change", "back"),
                Cap("backspace", "Backspace", "", "back"),
                *((Cap("", "PgDn", f"{self.below} more lines", ""),) if self.below else ()),
                *SCROLL,
            )
        return (
            Cap("enter", "Enter", "ready", "ready"),
            Cap("right", "← →", "change", "change(1)"),
            Cap("left", "←", "", "change(-1)"),
            Cap("down", "↑ ↓", "move", "move(1)"),
            Cap("up", "↑", "", "move(-1)"),
            Cap("", "P S L …", "by first letter", ""),
            Cap("", "0-9", "learner", ""),
            Cap("escape", "Esc", "home", "home"),
            Cap("tab", "Tab", "", "move(1)"),
            Cap("space", "Space", "", "change(1)"),
            *(Cap(row.label[0].lower(), row.label[0], "", f"pick({number})") for number, row in enumerate(ROWS)),
        )

    def body(self, lines: Lines) -> None:
        """Write the leaf."""
        if self.leaf == "choose":
            self._choose(lines)
        else:
            self._ready(lines)

    def _choose(self, lines: Lines) -> None:
        for number, row in enumerate(ROWS):
            chosen = number == self.at
            name, meaning = self._answer(row)
            words = Content.styled(name, STRONG if chosen else "")
            if meaning and (chosen or lines.width >= 60):
                words += Content.styled(f"  {meaning}", QUIET)
            lines.row(row.label, words, chosen=chosen, name=row.name)
            if row.name == "protocol" and self.protocol is not None and not self.protocol.sound:
                lines.row("", self._approval(self.protocol), chosen=False)
            if row.name == "kit" and self.pads is not None:
                lines.row("", f"{self.pads.words}: {self.pads.why} ({self.pads.guidance})", QUIET, chosen=False)

    def _approval(self, card: ProtocolCard) -> Content:
        return Content.assemble((f" {card.approval} ", LOUD))

    def _answer(self, row: Row) -> tuple[str, str]:
        """What a row says: the answer and what it means."""
        value = getattr(self.choices, row.name)
        if row.name == "protocol":
            card = self.protocol
            return (
                (card.title, card.guidance)
                if card is not None
                else ("no protocol found", "P lists them on the home page")
            )
        if row.name == "scenario":
            story = self.scenario
            if story is None:
                return NO_STORY.name, NO_STORY.meaning
            return story.title, "sensitive: never drawn at random" if story.sensitive else story.setting
        if row.name in IDS:
            return (value or "–"), "two digits, never a name" if not value else ""
        option = next(option for option in row.options if option.id == value)
        return option.name, option.meaning

    def _ready(self, lines: Lines) -> None:
        card, story = self.protocol, self.scenario
        if card is not None:
            lines.text(Content.assemble((card.title, STRONG), (f"  {card.guidance}", QUIET)))
            if not card.sound:
                lines.text(self._approval(card))
        if self.reason:
            lines.row("reason", self.reason)
        for words in SAFETY:  # before anything that may be long: what must be safe is on screen without scrolling
            lines.bullet(words)
        lines.blank()
        if story is not None:
            if story.sensitive:
                lines.text(Content.assemble((" Say first ", LOUD), f" {SENSITIVE}"))
                lines.blank()
            lines.row("read out", Content.styled(story.story or story.title, STRONG))
            if story.casualty:
                lines.row("lies there", story.casualty)
            if story.present:
                lines.row("present", ", ".join(story.present))
            if story.kit:
                lines.row("to hand", ", ".join(story.kit))
            if story.not_here:
                lines.row("not here", f"{', '.join(story.not_here)}: ruled out by who lies there")
        if self.pads is not None:
            lines.row("pads", f"{self.pads.words}: {self.pads.why} ({self.pads.guidance})")
        lines.row("learner", " · ".join(self._how()))
        lines.blank()
        self.below = max(len(lines.made) - self.room(), 0)

    def _card_lacks(self) -> str:
        """What the real-emergency card could not tell; it stands where no scrolling hides it."""
        missing = self.app.desk.settings.room.missing
        return f"The emergency card lacks {', '.join(missing)}: S at home." if missing else ""

    def _how(self) -> list[str]:
        words = [f"{self.choices.learner or 'without an id'}, {self.choices.role}"]
        words += [self._answer(row)[0] for row in ROWS if row.name in ("mode", "counting")]
        words.append("unit on the floor" if self.choices.unit == "floor" else "unit played by this laptop")
        if self.choices.assessor:
            words.append(f"assessor {self.choices.assessor}")
        return words

    def painted(self, lines: Lines) -> None:
        """Keep the chosen row in sight."""
        line = lines.marks.get(ROWS[self.at].name) if self.leaf == "choose" else None
        if line is not None:
            self.call_after_refresh(self.show_line, line, 2)

    async def take_key(self, event: events.Key) -> bool:
        """Go is taken here and not as an action, since the press carries the moment of zero."""
        if self.query_one("#ask-reason").display and event.key != "escape":
            return False
        if self.leaf == "ready" and event.key == "enter":
            await self._go(self.app.clock.from_event_time(event.time))
        elif self.leaf == "choose" and event.key in DIGITS:
            self._digit(event.key)
        elif self.leaf == "choose" and event.key == "backspace":
            self._set(self._id_row(), "")
        else:
            self.pending = ""
            return await super().take_key(event)
        return True

    def _id_row(self) -> str:
        return "assessor" if ROWS[self.at].name == "assessor" else "learner"

    def _digit(self, digit: str) -> None:
        value = f"{self.pending or '0'}{digit}"
        row = self._id_row()
        self.at = next(number for number, entry in enumerate(ROWS) if entry.name == row)
        pending = "" if self.pending else digit
        self._set(row, value)
        self.pending = pending

    def _set(self, name: str, value: str) -> None:
        self.pending = ""
        self.notice = ""
        self.reason = "" if name == "protocol" else self.reason
        self.choices = replace(self.choices, **{name: value})
        if name in ("protocol", "scenario", "kit"):
            self._settle()
        self.paint()

    def action_move(self, by: int) -> None:
        """To the next row, round and round."""
        self.at = (self.at + by) % len(ROWS)
        self.paint()

    def action_pick(self, number: int) -> None:
        """A row's letter: to the row and its next answer; ids are typed, so their letter only leads there."""
        self.at = number
        if ROWS[number].name in IDS:
            self.paint()
        else:
            self.action_change(1)

    def action_change(self, by: int) -> None:
        """The row's next or previous answer."""
        row = ROWS[self.at]
        value = getattr(self.choices, row.name)
        if row.name in IDS:
            self._set(row.name, f"{(int(value) + by) % 100:02}" if value.isdecimal() else "01")
            return
        if row.name == "protocol":
            ids = [card.id for card in self.protocols if not card.problem]
        elif row.name == "scenario":
            ids = [card.id for card in self.scenarios] + [NO_STORY.id]
        else:
            ids = [option.id for option in row.options]
        if ids:
            place = ids.index(value) if value in ids else 0
            self._set(row.name, ids[(place + by) % len(ids)])

    def action_ready(self) -> None:
        """Turn to the second leaf, or say what is missing."""
        self.notice = ""
        if self.protocol is None:
            self.notice = "There is no protocol to drill with."
        elif self.choices.mode == "test" and not self.choices.learner:
            self.at = next(number for number, row in enumerate(ROWS) if row.name == "learner")
            self.notice = "A test is somebody's: type the learner's two digits."
        else:
            try:
                self.app.desk.keys(self.choices.protocol)
            except KeyClash as error:
                self.notice = str(error)
            else:
                self._turn_to_ready()
        self.paint()

    def _turn_to_ready(self) -> None:
        self.leaf = "ready"
        self.notice = self.app.desk.keep(self.choices) or self._card_lacks()
        needs = (
            self.choices.mode == "test" and self.protocol is not None and not self.protocol.sound and not self.reason
        )
        if needs:
            self.notice = WITHDRAWN if self._withdrawn() else UNAPPROVED
            self.query_one("#ask-reason").display = True
            self.set_focus(self.query_one("#reason", Input))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the reason; this Enter is never go."""
        event.stop()
        words = clean(event.value).strip()
        if not words:
            self.notice = "A few words, please: the record will carry them."
        elif self._withdrawn() and "withdrawn" not in words.casefold():
            self.notice = f"Nothing was taken. {WITHDRAWN}"
        else:
            self.reason = words
            self.notice = self._card_lacks()
            self._shut_reason()
        self.paint()

    def _withdrawn(self) -> bool:
        return self.protocol is not None and self.protocol.approval.startswith("withdrawn")

    def _shut_reason(self) -> None:
        self.set_focus(None)
        self.query_one("#ask-reason").display = False

    def action_back(self) -> None:
        """Back to the first leaf."""
        self._shut_reason()
        self.leaf = "choose"
        self.notice = ""
        self.paint()

    def action_home(self) -> None:
        """Back home without a drill."""
        self.dismiss(None)

    async def _go(self, stamp_ms: int) -> None:
        """Open the log, begin at the press itself, and hand over to the drill screen."""
        try:
            drill = self.app.desk.open(self.choices, self.reason)
        except Unsound as error:
            self.protocols = self.app.desk.protocols()
            self._turn_to_ready()
            self.notice = f"{error}. {self.notice}"
            self.paint()
            return
        except (DeskError, KeyClash) as error:
            self.notice = str(error)
            self.paint()
            return
        drill.go(stamp_ms)
        await self.app.run_drill(drill)
