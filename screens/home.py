"""The home page: what this is, a drill that was cut off, and every place in one key."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from typing import TYPE_CHECKING, ClassVar

from textual.content import Content
from textual.message import Message

from screens.desk import DeskError, DrillCard
from screens.page import CAP, LOUD, QUIET, SCROLL, STRONG, USUAL_HEIGHT, USUAL_WIDTH, Cap, Lines, Page

if TYPE_CHECKING:
    from screens.app import KneesideApp

WHAT = "Keeps the clock, the order and the record while you watch the learner."
CAUTION = "Teaching only. In a real collapse: put it away, call, push, fetch the unit."
BEADS = "●" * 30 + " ○○"
"""Thirty pushes and two breaths, as the drill screen draws a run."""

PLACES: tuple[tuple[Cap, str], ...] = (
    (Cap("d", "D", "Drill", "drill"), "brief a learner, then go"),
    (Cap("e", "E", "Debrief", "debrief"), "the last drill, in the order of the talk"),
    (Cap("r", "R", "Rehearse", "rehearse"), "decisions alone, no manikin"),
    (Cap("t", "T", "Test", "test"), "keyboard and reaction, before class"),
    (Cap("l", "L", "Drills", "drills"), "all that were kept, newest first"),
    (Cap("p", "P", "Protocols", "protocols"), "what is here, and who approved it"),
    (Cap("b", "B", "Bench", "bench"), "where a protocol is changed and checked"),
    (Cap("k", "K", "Keys", "keys"), "what each key means in a drill"),
    (Cap("s", "S", "Settings", "settings"), "where they are and what they say"),
    (Cap("q", "Q", "Quit", "quit_program"), ""),
)


class HomeScreen(Page):
    """Where the program starts and where every page leads back to."""

    CAUTION: ClassVar[str] = ""

    app: KneesideApp

    class Seen(Message):
        """What there is to offer."""

        def __init__(self, cut_off: DrillCard | None, last: DrillCard | None) -> None:
            super().__init__()
            self.cut_off = cut_off
            self.last = last

    def __init__(self) -> None:
        super().__init__()
        self.looked = False
        self.cut_off: DrillCard | None = None
        self.last: DrillCard | None = None

    def on_mount(self) -> None:
        """Paint first: the first picture waits for no disk."""
        super().on_mount()
        self.call_after_refresh(self.run_worker, self._look_around, thread=True)

    def _look_around(self) -> None:
        """On a thread: what was drilled, then all that briefing and rehearsal need, so that they open at once."""
        desk = self.app.desk
        self.post_message(self.Seen(desk.interrupted(), desk.latest()))
        desk.protocols()
        for room in ("screens.briefing", "screens.drill", "screens.rehearse"):
            import_module(room)

    def on_home_screen_seen(self, event: Seen) -> None:
        """The folders have been looked into."""
        self.looked = True
        self.cut_off, self.last = event.cut_off, event.last
        self.paint()

    def on_screen_resume(self) -> None:
        """Look again: a drill may have come."""
        if self.looked:
            self.look()

    def look(self) -> None:
        """See what there is now, and paint it."""
        self.looked = True
        self.cut_off, self.last = self.app.desk.interrupted(), self.app.desk.latest()
        self.paint()

    def title_words(self) -> str:
        """The program's name."""
        return "kneeside"

    def caps(self) -> Sequence[Cap]:
        """Every place, and the two answers where a drill was cut off."""
        places = tuple(cap for cap, _ in PLACES)
        leave = (Cap("escape", "Esc", "", "nothing"), Cap("question_mark", "?", "", "keys"))
        if self.cut_off is None:
            return (*places, *leave, *SCROLL)
        return (
            Cap("enter", "Enter", "go on with it", "resume"),
            Cap("x", "X", "close it", "close"),
            *places,
            *leave,
            *SCROLL,
        )

    def body(self, lines: Lines) -> None:
        """The sentence, the caution, the offer, the places."""
        tall = self.size.height >= USUAL_HEIGHT
        if tall and lines.width >= 40:
            lines.text(BEADS, "$slate")
            lines.blank()
        crowded = not tall and self.cut_off is not None
        if not crowded and (tall or lines.width >= USUAL_WIDTH):
            lines.text(WHAT)
        lines.text(CAUTION, QUIET)
        lines.blank()
        if self.cut_off is not None:
            card = self.cut_off
            lines.text(
                Content.assemble(
                    (" A drill was cut off ", LOUD), f"  {card.what}, learner {card.learner or '–'}, {card.when}"
                )
            )
            self._place(lines, "Enter", "go on", "take it up again; the hole is marked")
            self._place(lines, "X", "close", "keep it as interrupted")
            if not crowded:
                lines.blank()
        for cap, words in PLACES:
            if cap.key == "e" and self.last is not None:
                words = f"learner {self.last.learner or '–'}, {self.last.what}, {self.last.state}"
            elif cap.key == "e":
                words = "no drill yet" if self.looked else ""
            self._place(lines, cap.shown, cap.label, words)

    def _place(self, lines: Lines, shown: str, label: str, words: str) -> None:
        cap = Content.assemble((f" {shown} ", CAP), " ")
        room = 8 if self.cut_off is not None else 5
        line = cap.pad_right(max(room - cap.cell_length, 0)) + Content.styled(label.ljust(11), STRONG)
        if words and lines.width >= 50:
            left = lines.width - line.cell_length
            line += Content.styled(words if len(words) <= left else words[: left - 1] + "…", QUIET)
        lines.made.append(line)

    def paint(self) -> None:
        """Paint; the places stand in the body, so the foot stays empty."""
        super().paint()
        if self.is_mounted:
            self.query_one("#foot").display = False

    def tell(self, words: str) -> None:
        """Show one line under the places."""
        self.notice = words
        self.paint()

    def action_nothing(self) -> None:
        """Esc leads nowhere from here: it must never close the program by a slip."""

    async def action_drill(self) -> None:
        """To the briefing."""
        await self.app.brief()

    async def action_debrief(self) -> None:
        """The last drill's debrief."""
        if not self.looked:
            self.look()
        if self.last is None:
            self.tell("There is no drill to look back on yet. D begins one.")
        else:
            await self.app.look_back(self.last.path)

    async def action_rehearse(self) -> None:
        """To the rehearsal alone."""
        await self.app.rehearse()

    async def action_test(self) -> None:
        """To the tests before class, for the assessor of last time."""
        from screens.preflight import PreflightScreen

        await self.app.push_screen(PreflightScreen(self.app.desk.remembered()[0].assessor))

    async def action_drills(self) -> None:
        """The list of drills."""
        await self.app.show("drills")

    async def action_protocols(self) -> None:
        """The list of protocols."""
        await self.app.show("protocols")

    async def action_bench(self) -> None:
        """To the bench."""
        await self.app.bench()

    async def action_keys(self) -> None:
        """The key map."""
        await self.app.show("keys")

    async def action_settings(self) -> None:
        """The settings."""
        await self.app.show("settings")

    async def action_resume(self) -> None:
        """Take the interrupted drill up again."""
        if self.cut_off is not None:
            try:
                drill = self.app.desk.resume(self.cut_off.path)
            except DeskError as error:
                self.tell(str(error))
            else:
                await self.app.run_drill(drill)

    def action_close(self) -> None:
        """Close the interrupted drill as it stands."""
        if self.cut_off is not None:
            self.notice = self.app.desk.close(self.cut_off.path)
            self.look()

    def action_quit_program(self) -> None:
        """End the program."""
        self.app.leave()
