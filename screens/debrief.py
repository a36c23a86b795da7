"""The debrief, in the order of the talk: how it felt, the learner's own words, and only then what the record shows.

One key leads forward, one back, one writes the page and shows its path. Nothing that was measured, and not the title
of the one thing, is on the screen before the learner has spoken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from textual import events
from textual.app import ComposeResult
from textual.widgets import Input

from coach.text import one_line
from screens import debrief_leaves as leaves
from screens.debrief_leaves import ANSWERS, LABELS, Talk
from screens.desk import DeskError, LookBack
from screens.page import SCROLL, Ask, Cap, Lines, Page

if TYPE_CHECKING:
    from screens.app import KneesideApp

Leaf = Literal[
    "feel", "words", "confirm", "pins", "tape", "figures", "one", "again", "take", "ask", "true", "sign", "cautions"
]
LEAVES: tuple[Leaf, ...] = (
    "feel",
    "words",
    "confirm",
    "pins",
    "tape",
    "figures",
    "one",
    "again",
    "take",
    "ask",
    "true",
    "sign",
    "cautions",
)
TYPED: dict[Leaf, tuple[str, ...]] = {"words": ("plus", "change"), "take": ("take",)}
"""Leaves with lines to type into."""

TITLES: dict[Leaf, str] = {
    "feel": "",
    "words": "In your words",
    "confirm": "Before we look",
    "pins": "Your pins",
    "tape": "What happened",
    "figures": "In figures",
    "one": "One thing",
    "again": "Again, now",
    "take": "To take home",
    "ask": "The crew is here. Tell them.",
    "true": "The handover",
    "sign": "Sign-off",
    "cautions": "Before you file this",
}


class DebriefScreen(Page):
    """The page after a drill."""

    CAUTION = ""

    app: KneesideApp

    def __init__(self, path: Path, look_back: LookBack) -> None:
        super().__init__()
        self.path = path
        self.look_back = look_back
        self.leaves = tuple(
            leaf
            for leaf in LEAVES
            if not (leaf == "confirm" and not look_back.questions)
            and not (leaf == "pins" and all(pin.label for pin in look_back.pins))
            and not (leaf == "again" and look_back.again_from is None and not look_back.pair)
            and not (leaf == "sign" and not look_back.results)
        )
        self.at = 0
        self.talk = Talk(ticked=set(look_back.said))
        self.ticks_written = bool(look_back.said)

    @property
    def leaf(self) -> Leaf:
        """The leaf that is open."""
        return self.leaves[self.at]

    def between(self) -> ComposeResult:
        """The lines for the learner's words."""
        yield Ask("plus", "went well", "in a few words")
        yield Ask("change", "change", "in a few words")
        yield Ask("take", "take home", "in a few words")
        yield Ask("reason", "reason", "why a pass all the same")

    def title_words(self) -> str:
        """The leaf's headline; the first leaf has none."""
        return TITLES[self.leaf]

    def caps(self) -> Sequence[Cap]:
        """Forward, back, and what else the leaf takes."""
        if self.leaf in TYPED:
            return (Cap("", "Enter", "next", ""), Cap("escape", "Esc", "skip", "forward"))
        if self.talk.signing:
            return (Cap("", "Enter", "sign", ""), Cap("escape", "Esc", "leave it", "unsign"))
        forward = "home" if self.at == len(self.leaves) - 1 else "on"
        if self.leaf == "again" and self.talk.ready:
            forward = "GO"
        caps = [Cap("enter", "Enter", forward, "forward"), Cap("space", "Space", "", "forward"), *self._own_caps()]
        if self.at > 0:
            caps += [Cap("left", "←", "back", "back"), Cap("backspace", "Backspace", "", "back")]
            caps.append(Cap("right", "→", "", "forward"))
        if LEAVES.index("pins") < LEAVES.index(self.leaf):
            caps += [
                Cap("w", "W", "page", "page"),
                Cap("x", "X", "all files", "export"),
                Cap("v", "V", "review", "review"),
            ]
        caps += [
            Cap("escape", "Esc", "home" if self.at < len(self.leaves) - 1 else "", "home"),
            Cap("q", "Q", "", "home"),
        ]
        return (*caps, *SCROLL)

    def _own_caps(self) -> list[Cap]:
        """Keys of this leaf alone."""
        back = self.look_back
        if self.leaf == "ask":
            return _digits(len(back.handover), "said", "tick")
        if self.leaf == "confirm":
            return _digits(len(ANSWERS), "answer", "answer")
        if self.leaf == "pins":
            return [*_digits(len(LABELS), "name it", "name"), Cap("0", "0", "", "name(-1)")]
        if self.leaf == "one" and back.choices:
            return [Cap("o", "O", "another", "another")]
        if self.leaf == "again" and back.again_from is not None:
            return [Cap("a", "A", "not now" if self.talk.ready else "again, now", "again")]
        if self.leaf == "sign":
            return _digits(len(back.results), "sign", "sign")
        return []

    def body(self, lines: Lines) -> None:
        """Write the leaf."""
        back, talk = self.look_back, self.talk
        match self.leaf:
            case "feel":
                leaves.write_feel(lines, self.size.height)
            case "words":
                leaves.write_words(lines)
            case "confirm":
                leaves.write_confirm(lines, back, talk)
            case "pins":
                leaves.write_pins(lines, back, talk)
            case "tape":
                leaves.write_tape(lines, back)
            case "figures":
                leaves.write_figures(lines, back)
            case "one":
                leaves.write_one(lines, back, talk)
            case "again":
                leaves.write_again(lines, back, talk)
            case "take":
                leaves.write_take(lines)
            case "ask":
                leaves.write_ask(lines, back, talk)
            case "true":
                leaves.write_true(lines, back, talk)
            case "sign":
                leaves.write_sign(lines, back)
            case "cautions":
                leaves.write_cautions(lines, back.cautions, self.path)

    def paint(self) -> None:
        """Paint; that nothing is saved is said wherever there is nothing else to say."""
        self.notice = self.notice or self.look_back.unsaved
        super().paint()

    def painted(self, lines: Lines) -> None:
        """Show the lines to type into on their leaves only."""
        asked = TYPED.get(self.leaf, ())
        for name in ("plus", "change", "take"):
            self.query_one(f"#ask-{name}").display = name in asked
        self.query_one("#ask-reason").display = self.leaf == "sign" and bool(self.talk.signing)
        self.query_one("#body").set_class(bool(asked), "short-body")
        self.query_one("#head").visible = self.leaf != "feel"

    async def take_key(self, event: events.Key) -> bool:
        """On a leaf for words the lines take the keys, all but Esc."""
        if (self.leaf in TYPED or self.talk.signing) and event.key != "escape":
            return False
        if self.leaf == "again" and self.talk.ready and event.key == "enter":
            # Taken here and not as an action, since the press carries the moment of zero.
            self.talk.ready = False
            await self._go_again(self.app.clock.from_event_time(event.time))
            return True
        return await super().take_key(event)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter leads from the first line to the next, and from the last one on."""
        event.stop()
        if event.input.id == "reason":
            reason = one_line(event.value)
            if reason:
                self._sign(self.talk.signing, reason)
            return
        asked = TYPED[self.leaf]
        place = asked.index(event.input.id or asked[0])
        if place + 1 < len(asked):
            self.set_focus(self.query_one(f"#{asked[place + 1]}", Input))
            return
        words = {name: one_line(self.query_one(f"#{name}", Input).value) for name in asked}
        if any(words.values()):
            self.notice = self.app.desk.say(self.path, words)
            self._reload()
        self._turn(self.at + 1, keep_notice=True)

    def _reload(self) -> None:
        """Read the debrief again, after something was said of it; as it was where it cannot be read."""
        try:
            self.look_back = self.app.desk.debrief(self.path)
        except DeskError as error:
            self.notice = str(error)

    def _turn(self, to: int, keep_notice: bool = False) -> None:
        if not keep_notice:
            self.notice = ""
        self.at = to
        self.query_one("#body").scroll_to(y=0, animate=False)
        self.paint()
        asked = TYPED.get(self.leaf)
        self.set_focus(self.query_one(f"#{asked[0]}", Input) if asked else None)

    def action_forward(self) -> None:
        """The next leaf; home after the last."""
        self.notice = ""
        if self.leaf == "ask":
            self._write_ticks()
        if self.leaf == "one":
            self._write_choice()
        if self.at + 1 < len(self.leaves):
            self._turn(self.at + 1, keep_notice=True)
        else:
            self.dismiss(None)

    def action_back(self) -> None:
        """The leaf before."""
        if self.at > 0:
            self._turn(self.at - 1)

    # --- what is said of the drill ----------------------------------------------------------------------------------

    def _who(self) -> str:
        return self.look_back.assessor or "assessor"

    def action_answer(self, place: int) -> None:
        """An answer to the open question; the next one opens, and after the last the next leaf."""
        if self.talk.question >= len(self.look_back.questions):
            return
        one, answer = self.look_back.questions[self.talk.question], ANSWERS[place][0]
        said = self.app.desk.note(self.path, "confirmed", finding=one.id, answer=answer, who=self._who(), why="")
        self.notice = said
        if not said:
            self.talk.answers[one.id] = answer
            self.talk.question += 1
        if self.talk.question >= len(self.look_back.questions):
            self.talk.question = 0
            self._leave_questions()
        else:
            self.paint()

    def _leave_questions(self) -> None:
        """All are answered: figures and findings are worked out again. The leaf stays, to be gone back to."""
        questions = self.look_back.questions
        self._reload()
        self.look_back = replace(self.look_back, questions=questions)
        self._turn(self.at + 1, keep_notice=True)

    def action_name(self, place: int) -> None:
        """A name for the open pin (-1: nothing); the next one opens, and after the last the next leaf."""
        if self.talk.pin >= len(self.look_back.pins):
            return
        pin, label = self.look_back.pins[self.talk.pin], "" if place < 0 else LABELS[place]
        self.notice = self.app.desk.note(self.path, "classify", pin=pin.line, label=label, who=self._who(), why="")
        if not self.notice:
            self.talk.labels[pin.line] = label
            self.talk.pin += 1
        if self.talk.pin >= len(self.look_back.pins):
            self.talk.pin = 0
            self._reload()
            self._turn(self.at + 1, keep_notice=True)
        else:
            self.paint()

    def action_another(self) -> None:
        """The next finding in the place of the one thing; after the last the rule's own again."""
        self.talk.choice = (self.talk.choice + 1) % (len(self.look_back.choices) + 1)
        self.paint()

    def _write_choice(self) -> None:
        """Write down what was chosen, once, as the leaf is left."""
        if not self.talk.choice:
            return
        chosen = self.look_back.choices[self.talk.choice - 1]
        self.notice = self.app.desk.note(self.path, "chosen", finding=chosen.id, who=self._who(), why="")
        self.talk.choice = 0
        if not self.notice:
            self._reload()

    def action_again(self) -> None:
        """Stand ready for the same drill again: the next Enter is its go."""
        self.talk.ready = not self.talk.ready
        self.paint()

    async def _go_again(self, stamp_ms: int) -> None:
        """A new drill from that step, begun at the press itself."""
        if self.look_back.again_from is None:
            return
        try:
            drill = self.app.desk.again(self.path, self.look_back.again_from.id)
        except DeskError as error:
            self.notice = str(error)
            self.paint()
            return
        drill.go(stamp_ms)
        await self.app.run_drill(drill)

    def action_tick(self, place: int) -> None:
        """The learner said this part; again: they did not."""
        self.talk.ticked ^= {self.look_back.handover[place].id}
        self.ticks_written = False
        self.paint()

    def _write_ticks(self) -> None:
        if not self.ticks_written and (self.talk.ticked or self.look_back.said):
            ids = tuple(part.id for part in self.look_back.handover if part.id in self.talk.ticked)
            self.notice = self.app.desk.ticks(self.path, ids)
            self.ticks_written = not self.notice

    def action_sign(self, place: int) -> None:
        """Sign, where it can be signed; where only with a reason, ask for it."""
        result = self.look_back.results[place]
        if result.why:
            self.notice = f"{result.words}: {result.why}"
            self.paint()
        elif result.asks:
            self.talk.signing = result.id
            self.notice = f"A reason is needed: {result.asks}"
            self.paint()
            self.set_focus(self.query_one("#reason", Input))
        else:
            self._sign(result.id, "")

    def _sign(self, result: str, reason: str) -> None:
        self.notice = self.app.desk.sign(self.path, result, self._who(), reason)
        if not self.notice:
            self._reload()
        self.action_unsign(keep_notice=True)

    def action_unsign(self, keep_notice: bool = False) -> None:
        """Leave it unsigned."""
        if not keep_notice:
            self.notice = ""
        self.talk.signing = ""
        self.set_focus(None)
        self.paint()

    # --- files and other pages --------------------------------------------------------------------------------------

    def action_page(self) -> None:
        """Write the page to hand over, and say where it is."""
        try:
            self.notice = f"The page: {self.app.desk.page(self.path)}"
        except DeskError as error:
            self.notice = str(error)
        self.paint()

    def action_export(self) -> None:
        """Write the debrief in every form beside the log and say where."""
        try:
            paths = self.app.desk.export(self.path)
        except DeskError as error:
            self.notice = str(error)
        else:
            endings = ", ".join(path.name.removeprefix(self.path.stem).removeprefix(".") for path in paths)
            self.notice = f"Written beside the log: {self.path.stem} ({endings}) in {paths[0].parent}"
        self.paint()

    async def action_review(self) -> None:
        """Line by line; the figures are worked out again afterwards."""
        from screens.review import ReviewScreen

        await self.app.push_screen(ReviewScreen(self.path, self._who()), self._reviewed)

    def _reviewed(self, changed: object) -> None:
        if changed:
            self._reload()
            self.paint()

    def action_home(self) -> None:
        """Leave the debrief; it can be opened again."""
        self.dismiss(None)


def _digits(number: int, label: str, action: str) -> list[Cap]:
    """Keys 1 to ``number``, one cap for all of them."""
    return [
        Cap("", f"1-{number}", label, ""),
        *(Cap(str(digit), str(digit), "", f"{action}({digit - 1})") for digit in range(1, number + 1)),
    ]
