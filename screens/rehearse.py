"""Rehearsing alone, on the screen: entry, a sitting, what comes back. Keys only, and every state told by words.

What is asked and judged is :mod:`coach.rehearse.sitting`'s; here are the pages, the keys and the moments of the keys.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Literal, cast

from textual import events
from textual.app import ComposeResult
from textual.content import Content
from textual.message import Message
from textual.widgets import Input

from coach.rehearse.days import today_of
from coach.rehearse.handover import heard, ticked
from coach.rehearse.history import History, Unkept, history_path, read_history
from coach.rehearse.matter import Matter, load_matter
from coach.rehearse.progress import chart, progress_of
from coach.rehearse.schedule import SURENESS, Sure
from coach.rehearse.sitting import Sitting
from coach.rehearse.wishes import Wishes
from coach.rehearse.wording import words
from coach.settings import home_folder
from coach.wording import spoken
from screens.page import CAP, LOUD, QUIET, SCROLL, STRONG, USUAL_HEIGHT, Ask, Cap, Lines, Page
from screens.rehearse_leaves import write_entry, write_options, write_over, write_parts, write_situation
from screens.shelf import ShelfPage

if TYPE_CHECKING:
    from screens.app import KneesideApp
    from screens.desk import Desk

AIRY_HEIGHT = 24
"""From here on each option stands apart from the next, which reads more easily."""

Loader = Callable[[], tuple[Matter, History]]
Leaf = Literal["reading", "entry", "sitting", "over"]


class RehearseScreen(Page):
    """The rehearsal's page. ``load`` reads protocol and history; it runs on a thread."""

    app: KneesideApp

    class Read(Message):
        """The files are read, or cannot be."""

        def __init__(self, matter: Matter | None, history: History | None, problem: str) -> None:
            super().__init__()
            self.matter = matter
            self.history = history
            self.problem = problem

    def __init__(self, wishes: Wishes | None = None, load: Loader | None = None) -> None:
        super().__init__()
        self.wishes = wishes or Wishes()
        self.load = load
        self.leaf: Leaf = "reading"
        self.matter: Matter | None = None
        self.history: History | None = None
        self.sitting: Sitting | None = None
        self.meant: tuple[str, ...] = ()
        self.handed: tuple[str, ...] = ()
        self.leaving = False
        self.shown_at = 0

    # --- opening ----------------------------------------------------------------------------------------------------

    def on_mount(self) -> None:
        """Paint, then read."""
        super().on_mount()
        self.run_worker(self._read, thread=True)
        self.set_interval(1.0, self._tick)

    def _read(self) -> None:
        settings = self.app.desk.settings
        try:
            if self.load is not None:
                matter, history = self.load()
            else:
                history = read_history(history_path(home_folder(settings)))
                matter = load_matter(self.wishes.protocol, settings.guidance, sensitive=self.wishes.sensitive)
            import_module("coach.measure.report")  # a handover is told without a wait
        except (Unkept, ValueError, LookupError, OSError) as error:
            self.post_message(self.Read(None, None, str(error)))
        else:
            self.post_message(self.Read(matter, history, ""))

    def on_rehearse_screen_read(self, event: Read) -> None:
        """Show the entry; go straight on where a part was named."""
        self.matter, self.history = event.matter, event.history
        self.leaf, self.notice = "entry", event.problem
        self.paint()
        if self.matter is not None and self.wishes.part == "pads":
            self.action_pads()
        elif self.matter is not None and self.wishes.part == "tempo":
            self.run_worker(self.action_tempo())
        self.wishes = self.wishes._replace(part="decisions")

    def between(self) -> ComposeResult:
        """The line to type into."""
        yield Ask("said", self._say("you say"), "")

    def _tick(self) -> None:
        sitting = self.sitting
        timed = sitting is not None and sitting.question is not None and sitting.question.limit_ms is not None
        if self.leaf == "sitting" and timed and sitting is not None and sitting.phase in ("sure", "answer"):
            self.paint()

    def caution_words(self) -> str:
        """Beside the headline."""
        return self._say("training only")

    # --- keys -------------------------------------------------------------------------------------------------------

    def title_words(self) -> str:
        """Where the person is."""
        if self.leaf == "sitting" and self.sitting is not None and self.sitting.question is not None:
            return self._say("title:number", number=self.sitting.question.number, of=self.sitting.question.of)
        return self._say("title")

    def caps(self) -> Sequence[Cap]:
        """The keys that work now."""
        say = self._say
        leave = Cap("escape", "Esc", say("cap:leave" if self.leaf == "sitting" else "cap:home"), "leave")
        stand = Cap("h", "H", say("cap:stand"), "stand")
        if self.leaf == "reading" or self.matter is None:
            return (leave,)
        if self.leaf == "over":
            return (Cap("enter", "Enter", say("cap:done"), "entry"), stand, leave, *SCROLL)
        if self.leaf == "entry":
            wishes = self.wishes
            return (
                Cap("enter", "Enter", say("cap:begin"), "begin"),
                Cap("p", "P", say("cap:pads"), "pads"),
                Cap("t", "T", say("cap:tempo"), "tempo"),
                stand,
                leave,
                Cap("l", "L", say("cap:limits off" if wishes.limits else "cap:limits on"), "limits"),
                Cap("w", "W", say("cap:choose" if wishes.typed else "cap:type"), "typed"),
                Cap("s", "S", say("cap:calm" if wishes.sensitive else "cap:sensitive"), "sensitive"),
                *SCROLL,
            )
        return (*self._sitting_caps(), leave, *SCROLL)

    def _sitting_caps(self) -> tuple[Cap, ...]:
        sitting = self.sitting
        assert sitting is not None, "a sitting is on"
        dont = Cap("question_mark", "?", self._say("cap:dont know"), "dont_know")
        if sitting.phase == "sure":
            return (*(self._sure_cap(level) for level in SURENESS), dont)
        if sitting.phase == "told":
            return (Cap("enter", "Enter", self._say("cap:go on"), "go_on"), Cap("space", "Space", "", "go_on"))
        if self.meant:
            return self._digits(len(self.meant))
        if sitting.phase == "handover" or (sitting.question is not None and sitting.question.typed):
            return (Cap("", "Enter", self._say("cap:say"), ""),)
        assert sitting.question is not None, "an answer needs a question"
        can = not (sitting.question.again or sitting.question.hinted)
        hint = (Cap("h", "H", self._say("cap:hint"), "hint"),) if can else ()
        return (*self._digits(len(sitting.question.options)), *hint, dont)

    def _sure_cap(self, level: Sure) -> Cap:
        key = self._say(f"key:{level}")
        return Cap(key, key.upper(), self._say(f"sure:{level}"), f"sure('{level}')")

    def _digits(self, number: int) -> tuple[Cap, ...]:
        return (
            Cap("", f"1-{number}", self._say("cap:do"), ""),
            *(Cap(str(digit), str(digit), "", f"choose({digit - 1})") for digit in range(1, number + 1)),
        )

    def _typing(self) -> bool:
        sitting = self.sitting
        if self.leaf != "sitting" or sitting is None or self.meant:
            return False
        question = sitting.question
        return sitting.phase == "handover" or (sitting.phase == "answer" and question is not None and question.typed)

    async def take_key(self, event: events.Key) -> bool:
        """Each key carries its own moment; while a line is typed it takes them all but Esc."""
        if self._typing() and event.key != "escape":
            return False
        self.shown_at = self.app.clock.from_event_time(event.time)
        if event.key != "escape":
            self.leaving = False
        return await super().take_key(event)

    # --- the entry's actions ----------------------------------------------------------------------------------------

    @property
    def language(self) -> str:
        """The learner's language: as wished, else the settings'."""
        return spoken(self.wishes.language or self.app.desk.settings.language)

    def _say(self, ident: str, **values: object) -> str:
        return words(self.language, ident, **values)

    def _now(self) -> int:
        return self.app.clock.mono_ms()

    def _sit(self, only_pads: bool) -> None:
        if self.matter is None or self.history is None:
            return
        self.sitting = Sitting(
            self.matter,
            self.history,
            day=today_of(self.app.clock),
            seed=self.wishes.seed,
            language=self.language,
            typed=self.wishes.typed,
            limits=self.wishes.limits,
            only_pads=only_pads,
            most=self.wishes.most,
        )
        self.leaf = "sitting"
        self.sitting.begin(self._now())
        self.history.said = None
        self._show()

    def action_begin(self) -> None:
        """Today's sitting."""
        self._sit(only_pads=False)

    def action_pads(self) -> None:
        """Pads in quick fire."""
        self._sit(only_pads=True)

    async def action_tempo(self) -> None:
        """The own tempo, on a page of its own."""
        from screens.tempo import TempoScreen

        if self.matter is not None and self.history is not None:
            await self.app.push_screen(TempoScreen(self.matter, self.history, self.language))

    async def action_stand(self) -> None:
        """The progress chart."""
        if self.matter is None or self.history is None:
            return
        progress = progress_of(self.matter, self.history, today_of(self.app.clock), self.language)

        def write(_: Desk, lines: Lines) -> None:
            for text in chart(progress, lines.width, self.language):
                lines.made.append(Content(text))

        await self.app.push_screen(ShelfPage(self._say("how you stand"), write))

    def action_limits(self) -> None:
        """With time limits, or without any."""
        self.wishes = self.wishes._replace(limits=not self.wishes.limits)
        self.paint()

    def action_typed(self) -> None:
        """Choose, or type a verb."""
        self.wishes = self.wishes._replace(typed=not self.wishes.typed)
        self.paint()

    def action_sensitive(self) -> None:
        """With stories of children, pregnancy and overdose, or without: what may be drawn is read anew."""
        self.wishes = self.wishes._replace(sensitive=not self.wishes.sensitive)
        self.leaf = "reading"
        self.paint()
        self.run_worker(self._read, thread=True)

    def action_entry(self) -> None:
        """Back to the entry."""
        self.leaf, self.sitting, self.notice = "entry", None, ""
        self.paint()

    def action_leave(self) -> None:
        """Leave: a sitting asks once, since the question on screen would be lost."""
        if self.leaf == "sitting" and not self.leaving:
            self.leaving = True
            self.notice = self._say("esc again")
            self.paint()
        elif self.leaf == "sitting":
            self._over()
        else:
            self.dismiss(None)

    # --- the sitting's actions --------------------------------------------------------------------------------------

    def action_sure(self, level: str) -> None:
        """How sure, before the answer."""
        if self.sitting is not None:
            self.sitting.sure(cast(Sure, level))
            self._show()

    def action_choose(self, place: int) -> None:
        """An option, or which of several was meant."""
        if self.sitting is None:
            return
        if self.meant:
            action, self.meant = self.meant[place], ()
            self.sitting.answer(action, self.shown_at)
        else:
            self.sitting.choose(place, self.shown_at)
        self._show()

    def action_dont_know(self) -> None:
        """An answer too."""
        if self.sitting is not None:
            self.sitting.dont_know(self.shown_at)
            self._show()

    def action_hint(self) -> None:
        """Fewer to choose among."""
        if self.sitting is not None:
            self.sitting.hint()
            self._show()

    def action_go_on(self) -> None:
        """What was told is read."""
        if self.sitting is not None:
            self.sitting.go_on(self.shown_at)
            self._show()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """A verb, or the handover."""
        sitting, said = self.sitting, event.value.strip()
        if sitting is None or not said:
            return
        event.input.value = ""
        self.notice = ""
        if sitting.phase == "handover":
            marks = ticked(said)
            if marks is None:
                self.handed = tuple(dict.fromkeys((*self.handed, *heard(said))))
                self.notice = self._say("handover:more-screen")
                if said == "0":
                    sitting.handed_over(self.handed, self._now())
            else:
                sitting.handed_over((*self.handed, *marks), self._now())
        elif said == "?":
            sitting.dont_know(self._now())
        elif said.casefold() == "h":
            sitting.hint()
        else:
            self._understand(sitting, said)
        self._show(keep_notice=True)

    def _understand(self, sitting: Sitting, said: str) -> None:
        meant = sitting.understood(said).actions
        if not meant:
            self.notice = self._say("not understood:short")
        elif len(meant) == 1:
            sitting.answer(meant[0], self._now())
        else:
            self.meant = meant

    def _wait_not(self, sitting: Sitting) -> None:
        """What is kept for the end needs no key: the next question comes at once, with a word above its keys."""
        if sitting.phase == "told" and sitting.told is not None and sitting.told.verdict == "noted":
            words = " ".join(sitting.told.lines)
            sitting.go_on(self.shown_at)
            self.notice = words

    def _show(self, keep_notice: bool = False) -> None:
        """Paint what is now true; at the end go over to what comes back."""
        sitting = self.sitting
        if not keep_notice:
            self.notice = ""
        if sitting is not None:
            self._wait_not(sitting)
        if sitting is not None and sitting.trouble:
            self.notice = sitting.trouble
        if sitting is not None and sitting.phase == "over":
            self._over()
            return
        if sitting is not None and sitting.phase != "handover":
            self.handed = ()
        self.paint()

    def _over(self) -> None:
        self.leaf, self.leaving, self.meant = "over", False, ()
        self.notice = self.sitting.trouble if self.sitting is not None else ""
        self.paint()

    def paint(self) -> None:
        """Paint; the line to type into shows only while something is typed."""
        super().paint()
        if not self.is_mounted:
            return
        ask = self.query_one("#ask-said", Ask)
        typing = self._typing()
        if ask.display != typing:
            ask.display = typing
            if typing:
                ask.entry.value = ""
                ask.entry.focus()
            else:
                self.set_focus(None)

    # --- the body ---------------------------------------------------------------------------------------------------

    def body(self, lines: Lines) -> None:
        """What the leaf shows."""
        if self.leaf == "reading":
            lines.text(self._say("reading"), QUIET)
        elif self.leaf == "entry":
            self._entry(lines)
        elif self.leaf == "over":
            assert self.sitting is not None, "only a sitting can be over"
            write_over(lines, self.sitting)
        else:
            self._write_sitting(lines)

    def _write_sitting(self, lines: Lines) -> None:
        sitting = self.sitting
        assert sitting is not None, "a sitting is on"
        told, question = sitting.told, sitting.question
        if told is not None:
            verdict = self._say(f"verdict:{told.verdict}")
            lines.text(Content.styled(f" {verdict} ", LOUD if told.verdict in ("danger", "opening") else CAP))
            for line in told.lines:
                if line.casefold() != f"{verdict}.":
                    lines.text(line)
            lines.blank()
        if question is None or sitting.phase == "told":
            return
        # On a short screen what is to be keyed comes first; the situation was read before the confidence was given.
        late = self.size.height < USUAL_HEIGHT and sitting.phase == "answer"
        if not late:
            write_situation(lines, question, STRONG, self.size.height >= USUAL_HEIGHT)
            lines.blank()
        self._write_answering(lines, sitting)
        if late:
            lines.blank()
            write_situation(lines, question, QUIET, False)

    def _write_answering(self, lines: Lines, sitting: Sitting) -> None:
        question = sitting.question
        assert question is not None, "an answer is a question's"
        if question.ask:
            lines.text(Content.assemble((question.ask, STRONG), (self._clock_words(sitting), QUIET)))
        elif question.limit_ms is not None:
            lines.text(self._clock_words(sitting).strip(), QUIET)
        if sitting.phase == "sure":
            lines.text(self._say("think first"), QUIET)
        elif sitting.phase == "handover":
            write_parts(lines, sitting.language, self.handed)
        elif self.meant:
            lines.text(self._say("which do you mean"), QUIET)
            write_options(lines, self.size.height >= AIRY_HEIGHT, [sitting.named(one) for one in self.meant])
        elif question.typed:
            lines.text(self._say("type here"), QUIET)
        else:
            write_options(lines, self.size.height >= AIRY_HEIGHT, [words for _, words in question.options])

    def _clock_words(self, sitting: Sitting) -> str:
        question = sitting.question
        if question is None or question.limit_ms is None or sitting.phase not in ("sure", "answer"):
            return ""
        gone, limit = sitting.gone_ms(self._now()) // 1_000, question.limit_ms // 1_000
        over = f"  {self._say('clock:over')}" if gone > limit else ""
        return f"   {self._say('clock', gone=gone, limit=limit)}{over}"

    def _entry(self, lines: Lines) -> None:
        lines.text(self._say("hands"), STRONG)
        lines.text(self._say("caution"), QUIET)
        lines.blank()
        if self.matter is not None and self.history is not None:
            write_entry(lines, self.matter, self.history, today_of(self.app.clock), self.language, self.wishes)
