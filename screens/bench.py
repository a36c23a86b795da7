"""The bench: a protocol's source with what the checker says of it, checked again whenever the file is saved.

The check runs on a thread; a newer save makes an older check stop at its next word of progress. No key waits for it.
"""

from __future__ import annotations

import os
import shlex
import subprocess
from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from textual.app import SuspendNotSupported
from textual.content import Content
from textual.message import Message

from coach.check.explain import CODES
from coach.check.findings import LEVELS, Finding
from coach.check.lint.file import of_reading
from coach.check.whole import FileCheck, check_file
from coach.cores import Workers
from coach.protocol.problems import FileProblems
from coach.text import clean, one_line
from screens import bench_work as work
from screens.bench_pages import ReportPage, Superseded, Tell, read_or_words
from screens.page import LOUD, QUIET, SCROLL, STRONG, USUAL_HEIGHT, USUAL_WIDTH, Cap, Lines, Page

if TYPE_CHECKING:
    from screens.app import KneesideApp

WATCH_S = 0.5
"""How often the file is looked at for a save."""

AT_A_LINE = frozenset({"vi", "vim", "nvim", "nano", "emacs", "kak", "micro"})
"""Editors that take ``+LINE``; others are given the file alone."""

LEAST = 10
"""Columns of the head that the file's name keeps."""

EDGE = 8
"""Columns at the left of the source: pointer, number of the line, sign of a finding."""


class BenchScreen(Page):
    """One protocol file on the bench. ``shipped``: it is not for this person to change in place."""

    app: KneesideApp

    class Told(Message):
        """A check's progress, or what came of it."""

        def __init__(self, number: int, words: str, found: FileCheck | None = None) -> None:
            super().__init__()
            self.number = number
            self.words = words
            self.found = found

    def __init__(self, path: Path, shipped: bool = False) -> None:
        super().__init__()
        self.path = path
        self.shipped = shipped
        self.text = ""
        self.lines: list[str] = []
        self.line = 1
        """The line that the cursor is on."""
        self.found: FileCheck | None = None
        self.progress = ""
        self.injects = 0
        self.help = False
        self._number = 0
        self._before = ""
        """How the file stood before the save that is being checked, "" where there was none."""
        self._stamp: tuple[int, int] | None = None
        self._digest = b""

    # --- the file -----------------------------------------------------------------------------------------------------

    def on_mount(self) -> None:
        """Read, check, and watch for saves."""
        super().on_mount()
        self.look()
        self.set_interval(WATCH_S, self.look)

    def look(self) -> None:
        """Read the file again if it was saved since; what was read last stays where it cannot be read."""
        try:
            stat = self.path.stat()
            stamp: tuple[int, int] | None = (stat.st_mtime_ns, stat.st_size)
        except OSError:
            stamp = None
        if stamp == self._stamp and self._number:
            return
        self._stamp = stamp
        text, why = read_or_words(self.path)
        if text is None:
            self._number = max(self._number, 1)
            self.notice = f"Cannot be read: {one_line(why)}. What was read last is kept here."
            self.paint()
            return
        self.notice = ""
        digest = sha256(text.encode("utf-8", "surrogatepass")).digest()
        if digest != self._digest or not self._number:
            self._before = self._state() if self.found is not None else ""
            self._digest = digest
            self.text = text
            self.lines = [clean(line).expandtabs(4) for line in text.split("\n")]
            self.line = min(self.line, len(self.lines))
            self.check()
        self.paint()

    def check(self) -> None:
        """Check what was read; an older check is given up."""
        self._number += 1
        self.progress = "checking …"
        number, text, injects = self._number, self.text, self.injects
        self.run_worker(lambda: self._check(number, text, injects), thread=True)

    def _check(self, number: int, text: str, injects: int) -> None:
        """On a thread."""

        def tell(what: str, classes: int) -> None:
            if number != self._number or not self.is_mounted:
                raise Superseded
            self.post_message(self.Told(number, f"checking {one_line(what)}: {classes} classes"))

        name = self.path.name
        try:
            with Workers() as workers:
                folder = work.folder_of(self.path)
                found = check_file(text, name, folder=folder, injects=injects, progress=tell, workers=workers)
        except Superseded:
            return
        except FileProblems as problems:
            found = FileCheck(name, None, tuple(map(of_reading, problems.problems)))
        self.post_message(self.Told(number, "", found))

    def on_bench_screen_told(self, event: Told) -> None:
        """Progress, or the end of a check; what an older one says is not heard."""
        if event.number != self._number:
            return
        self.progress = event.words
        if event.found is not None:
            self.found = event.found
            if self._before:
                self.notice = f"Saved, and checked again. Before: {self._before}."
            self._before = ""
        self.paint()

    # --- findings -----------------------------------------------------------------------------------------------------

    @property
    def findings(self) -> list[Finding]:
        """What was found, in the order of the file; on one line broken rules first, then the gravest."""
        found = () if self.found is None else self.found.findings
        return sorted(
            found, key=lambda one: (one.where.line, one.code != "rule-broken", LEVELS.index(one.level), one.code)
        )

    def here(self) -> list[Finding]:
        """The findings on the cursor's line."""
        return [one for one in self.findings if one.where.line == self.line]

    # --- the picture --------------------------------------------------------------------------------------------------

    def title_words(self) -> str:
        """The file; cut where how it stands would not find room beside it."""
        title, room = f"Bench: {one_line(self.path.name)}", self._head_room() - len(self.caution_words()) - 2
        if len(title) > room:
            title = one_line(self.path.name)
        return title if len(title) <= room else f"{title[: max(room - 1, 0)]}…"

    def caution_words(self) -> str:
        """How its approval stands; loud where a signature does not hold. Too long for the head, it is in the body."""
        word = self._standing()
        return word if len(word) <= self._head_room() - LEAST else ""

    def _standing(self) -> str:
        word = "" if self.found is None else self.found.approval
        return word if word.startswith(("draft", "checked", "in force")) else word.upper()

    def _head_room(self) -> int:
        return self.size.width - 2 * (self.size.width >= USUAL_WIDTH)

    def caps(self) -> Sequence[Cap]:
        """All keys of the bench; the foot shows those with a label, the help all."""
        if self.help:
            return (Cap("question_mark", "?", "back", "help"), Cap("escape", "Esc", "", "help"), *SCROLL)
        edit = Cap("o", "O", "local file", "local") if self.shipped else Cap("e", "E", "edit", "edit")
        return (
            Cap("n", "N", "next finding", "finding(1)"),
            edit,
            Cap("question_mark", "?", "keys", "help"),
            Cap("enter", "Enter", "explain", "explain"),
            Cap("b", "B", "finding before", "finding(-1)"),
            Cap("r", "R", "check again", "again"),
            Cap("i", "I", "with injects", "with_injects"),
            Cap("w", "W", "walk", "walk"),
            Cap("s", "S", "story", "story"),
            Cap("c", "C", "compare", "compare"),
            Cap("v", "V", "coverage", "coverage"),
            Cap("g", "G", "golden scripts", "scripts"),
            Cap("escape", "Esc", "back", "leave"),
            Cap("down", "↓", "", "move(1)"),
            Cap("up", "↑", "", "move(-1)"),
            Cap("page_down", "PgDn", "", "move(15)"),
            Cap("page_up", "PgUp", "", "move(-15)"),
            Cap("home", "Home", "", "move(-100000)"),
            Cap("end", "End", "", "move(100000)"),
        )

    def body(self, lines: Lines) -> None:
        """How the file stands, the source about the cursor, and what was found on its line."""
        if self.help:
            self._help(lines)
            return
        width, room = lines.width, self.room()
        if not self.caution_words():
            lines.text(self._standing(), LOUD)
        lines.text(self._state(), STRONG)
        if not self.progress and self.found is not None and self.found.scope and self.size.height >= USUAL_HEIGHT:
            lines.text(one_line(self.found.scope), QUIET)
        told = self._told(width)
        most = max(room // 3, 3)
        if len(told) > most:
            told = [*told[: most - 1], Content.styled("… Enter shows all of it.", QUIET)]
        rows = max(room - len(lines.made) - len(told), 2)
        whole = self._cursor_row(width, max(rows - 2, 1))
        rows = max(rows - len(whole) + 1, 1)
        top = min(max(self.line - 1 - rows // 2, 0), max(len(self.lines) - rows, 0))
        marked = {one.where.line: one for one in reversed(self.findings) if not one.waived}
        for number in range(top + 1, min(top + rows, len(self.lines)) + 1):
            sign = {"error": "!", "warning": "!", "note": "·"}[marked[number].level] if number in marked else " "
            if number == self.line:
                for index, part in enumerate(whole):
                    lead = f"▸{number:>4} {sign} " if index == 0 else " " * EDGE
                    lines.made.append(Content.styled(lead, STRONG) + part)
                continue
            row = Content.assemble((f" {number:>4}", QUIET), (f" {sign} ", STRONG), self.lines[number - 1])
            lines.made.append(row.truncate(width, ellipsis=True))
        lines.made += told

    def _cursor_row(self, width: int, most: int) -> list[Content]:
        """The cursor's line, whole, over as many rows as it needs."""
        source = self.lines[self.line - 1] if self.lines else ""
        made = Content.styled(source, STRONG).fold(max(width - EDGE, 8)) or [Content("")]
        return made if len(made) <= most else [*made[: most - 1], made[most - 1].truncate(width - EDGE, ellipsis=True)]

    def _state(self) -> str:
        """In a few words: progress, or what came out."""
        if self.progress:
            return self.progress
        if self.found is None:
            return "not checked yet"
        if self.found.protocol is None:
            return f"does not read: {_many(len(self.found.findings), 'finding')}"
        kinds = [verdict.kind for verdict in self.found.rules]
        broken, open_ = kinds.count("broken"), kinds.count("not decided")
        parts = [f"{kinds.count('holds')} of {len(kinds)} rules hold" if kinds else "no rule was proved"]
        parts += [f"{broken} BROKEN"] if broken else []
        parts += [f"{open_} not decided"] if open_ else []
        other = sum(one.counts for one in self.findings if one.code != "rule-broken")
        parts.append(_many(other, "finding") if not broken else _many(other, "other finding"))
        return ", ".join(parts)

    def _told(self, width: int) -> list[Content]:
        """What was found on the cursor's line."""
        box = Lines(width)
        for one in self.here():
            level = f" {one.level}{', waived' if one.waived else ''} "
            box.text(Content.assemble((level, LOUD), f" {one_line(one.what)} ", (f"[{one.code}]", QUIET)))
            if one.waived or one.help:
                box.text(one_line(one.waived or one.help), QUIET, indent=2)
        if not box.made and self.findings:
            box.text("Nothing was found on this line; N goes to the next finding.", QUIET)
        return box.made

    def _help(self, lines: Lines) -> None:
        self.help = False
        caps = self.caps()
        self.help = True
        words = {"move(1)": "a line down", "move(-1)": "a line up", "move(15)": "further", "move(-15)": "back up"}
        words |= {"move(-100000)": "to the first line", "move(100000)": "to the last line"}
        for cap in caps:
            lines.row(cap.shown, cap.label or words[cap.action])

    # --- keys ---------------------------------------------------------------------------------------------------------

    def action_move(self, by: int) -> None:
        """Move the cursor."""
        self.line = min(max(self.line + by, 1), max(len(self.lines), 1))
        self.paint()

    def action_finding(self, by: int) -> None:
        """To the next finding, or the one before; round and round."""
        at = sorted({one.where.line for one in self.findings})
        if not at:
            self.notice = "The check is not done yet." if self.progress else "Nothing was found in this file."
        elif by > 0:
            self.line = next((line for line in at if line > self.line), at[0])
        else:
            self.line = next((line for line in reversed(at) if line < self.line), at[-1])
        self.paint()

    async def action_explain(self) -> None:
        """All that was found on this line: what, what to do, the witness or the story, and what each code means."""
        here = self.here()
        if not here:
            self.notice = "Nothing was found on this line."
            self.paint()
            return
        codes = [one.code for one in here]
        said = "\n\n".join(_whole(one, one.code not in codes[:place]) for place, one in enumerate(here))
        await self.app.push_screen(ReportPage(f"Line {self.line}: {_many(len(here), 'finding')}", lambda tell: said))

    def action_help(self) -> None:
        """All keys, or the file again."""
        self.help = not self.help
        self.paint()

    def action_again(self) -> None:
        """Check again, without injects."""
        self.injects = 0
        self.check()
        self.paint()

    def action_with_injects(self) -> None:
        """Check with each inject alone: every arrow is looked for too."""
        self.injects = 1
        self.check()
        self.paint()

    def action_edit(self) -> None:
        """Hand the terminal to the person's editor, and read the file again afterwards."""
        command = os.environ.get("VISUAL") or os.environ.get("EDITOR") or ""
        self.notice = self._edited(command)
        notice = self.notice
        self.look()
        self.notice = self.notice or notice
        self.paint()

    def _edited(self, command: str) -> str:
        """Run the editor; words where that did not go well."""
        elsewhere = "Edit the file in another window: it is checked on every save."
        try:
            words = shlex.split(command)
        except ValueError as error:
            return f"EDITOR, or VISUAL, cannot be read: its quotes do not fit ({one_line(str(error))}). {elsewhere}"
        if not words:
            return f"No editor is set: set EDITOR, or VISUAL. {elsewhere}"
        if os.path.basename(words[0]) in AT_A_LINE:
            words.append(f"+{self.line}")
        code, trouble = 0, ""
        try:
            with self.app.suspend():
                try:  # in here: what leaves the suspension as an exception does not bring the screen back
                    code = subprocess.run([*words, str(self.path)], check=False).returncode
                except (OSError, ValueError) as error:
                    trouble = getattr(error, "strerror", None) or str(error)
        except SuspendNotSupported:
            return f"This terminal cannot be handed over. {elsewhere}"
        if trouble:
            return f"{one_line(words[0])} does not start ({one_line(trouble)}). {elsewhere}"
        return f"{one_line(words[0])} ended with code {code}; the file is as it left it." if code else ""

    async def action_local(self) -> None:
        """A small local file over the shipped one, and to the bench with that."""
        try:
            made = work.local_file(self.path, self.text)
        except (FileProblems, OSError) as problem:
            self.notice = one_line(str(problem))
            self.paint()
        else:
            await self.app.bench(made)

    async def action_walk(self) -> None:
        """Walk it with keys and no clock."""
        await self._walk(False)

    async def action_story(self) -> None:
        """Watch the story of the broken rule on this line, else of the first one."""
        await self._walk(True)

    async def _walk(self, story: bool) -> None:
        from screens.bench_walk import WalkScreen

        told, rule = None, ""
        if story:
            stories = {one.rule.id: one.story for one in (self.found.rules if self.found else ()) if one.story}
            wanted = [one.subject for one in self.here() if one.subject in stories]
            rule = wanted[0] if wanted else next(iter(stories), "")
            told = stories.get(rule)
            if told is None:
                self.notice = "No rule is broken: there is no story to watch."
                self.paint()
                return
        try:
            walk = work.walk(self.path, self.text, told)
        except (FileProblems, ValueError) as problem:
            self.notice = f"It cannot be walked as it stands: {one_line(str(problem))}"
            self.paint()
        else:
            await self.app.push_screen(WalkScreen(walk, rule))

    async def _report(self, title: str, job: work.Job) -> None:
        path, text = self.path, self.text

        def run(tell: Tell) -> str:
            return job(path, text, tell)

        await self.app.push_screen(ReportPage(title, run))

    async def action_compare(self) -> None:
        """Compare with what is in force."""
        await self._report("Compared with what is in force", work.compared)

    async def action_coverage(self) -> None:
        """What golden scripts and random learners come by."""
        await self._report("Coverage", work.covered)

    async def action_scripts(self) -> None:
        """Play the golden key scripts."""
        await self._report("Golden key scripts", work.scripted)

    def action_leave(self) -> None:
        """Back; a check that runs is given up."""
        self._number += 1
        self.dismiss(None)


def _many(count: int, what: str) -> str:
    return f"1 {what}" if count == 1 else f"{count} {what}s"


def _whole(one: Finding, first: bool) -> str:
    """One finding with everything there is to it; what its code means goes with the first of a code."""
    said = [f"{one.level}{', waived' if one.waived else ''}: {one.what} [{one.code}]"]
    said += [f"  {line}" for line in (one.waived or one.help, CODES[one.code].help if first else "") if line]
    return "\n".join([*said, *(f"    {line.rstrip()}" for line in one.witness)])
