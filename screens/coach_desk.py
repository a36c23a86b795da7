"""The desk over the real coach: protocol files, logs, folders and the settings."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import datetime
from io import BytesIO
from pathlib import Path
from threading import Lock

from coach.clock import Clock, SystemClock
from coach.debrief.afterwards import NotSaid, sign, stamped, write
from coach.debrief.forms import FORMS
from coach.debrief.from_log import debrief_of
from coach.debrief.page import Debrief
from coach.debrief.pair import pair
from coach.debrief.signoff import IN_WORDS, verdict_of
from coach.drill.choosing import pads_view, setup_for, suits_of
from coach.drill.opening import open_drill, resume_drill, setup_from
from coach.drill.session import Drill
from coach.drill.setup import Setup, words_of
from coach.engine.never import never_thrown
from coach.engine.plan import Plan, PlanProblem, resolve
from coach.engine.state import FactValue
from coach.log.chain import Chain
from coach.log.history import fold
from coach.log.lines import LogProblem
from coach.log.places import read_words, second_dir, write_words
from coach.log.reading import MAX_LINE, Record, read_bytes, read_log
from coach.log.recover import add_to, close_interrupted, find_interrupted
from coach.measure.floor import t_of
from coach.preflight import Check, Kept, check_battery, check_clock, check_disk, check_remote, for_drill, keep
from coach.protocol.approval import approval_state
from coach.protocol.library import Entry, NotFound, list_protocols, list_scenarios, load_protocol
from coach.protocol.model import Protocol, Scenario
from coach.protocol.names import guidance_folder
from coach.protocol.problems import FileProblems
from coach.protocol.reading import read_scenario
from coach.remembered import Choices, keep_choices, read_choices
from coach.settings import Settings, check_keys, home_folder, key_map
from coach.text import one_line
from coach.units import clock as m_ss
from coach.units import quantity_text
from screens.desk import DeskError, DrillCard, LineCard, LookBack, PadsCard, ProtocolCard, ScenarioCard, Unsound
from screens.looking_back import line_cards, look_back

AUDIENCES = {"lay": "lay people", "responder": "workplace first responders", "professional": "health workers"}
KITS: dict[str, tuple[str, ...]] = {"both": ("adult", "paediatric"), "adult": ("adult",), "paediatric": ("paediatric",)}
SIZES = {"adult": "adult pads", "paediatric": "small pads"}
PLACEMENTS = {"right-and-left": "right and left", "front-and-back": "front and back"}
RECENT = 200
"""How many of the newest logs the list of drills shows. Our own choice: a year of one instructor."""
TAIL = 64 * 1024
"""Bytes at the end of a log among which its end is looked for. What is said afterwards takes a few hundred."""


ENDINGS = {
    "html": ".html",
    "text": ".txt",
    "markdown": ".md",
    "json": ".json",
    "csv": ".csv",
    "xapi": ".xapi.json",
}
"""The forms of a debrief that are written, and how their files end."""


@contextmanager
def _in_words() -> Iterator[None]:
    """Every way in which the coach says no, as one."""
    try:
        yield
    except FileProblems as error:
        more = len(error.problems) - 1
        raise DeskError(f"{error.problems[0]}{f' And {more} more.' if more else ''}") from error
    except (NotFound, LogProblem, NotSaid, PlanProblem, OSError) as error:
        raise DeskError(one_line(str(error))) from error


class CoachDesk:
    """See :class:`screens.desk.Desk`. ``given`` is a folder of protocols that is searched before all others."""

    def __init__(self, settings: Settings, clock: Clock | None = None, given: Path | None = None) -> None:
        self.settings = settings
        self.clock = clock or SystemClock()
        self.given = given
        home = home_folder(settings)
        self.home = home
        self.folder = home / "drills"
        self._held: dict[Path, bytes] = {}
        """Records that no folder took, by the file that they should be in, and what learners said of them."""
        self._said: dict[Path, dict[str, str]] = {}
        self._reading = Lock()
        self._protocols: dict[str, tuple[ProtocolCard, Protocol]] | None = None
        self._broken: list[ProtocolCard] = []
        self._scenarios: list[tuple[Entry, Scenario]] | None = None

    # --- what there is to choose ------------------------------------------------------------------------------------

    def protocols(self) -> tuple[ProtocolCard, ...]:
        """All protocols: the person's own first, then the settings' guidance, those that cannot be used last."""
        wanted = guidance_folder(self.settings.guidance)
        cards = [card for card, _ in self._read_protocols().values()]
        cards.sort(
            key=lambda card: (
                card.where == "shipped",
                not card.id.startswith(f"{wanted}/"),
                "-compressions-" in card.id,
                card.id,
            )
        )
        return (*cards, *self._broken)

    def _read_protocols(self) -> dict[str, tuple[ProtocolCard, Protocol]]:
        """Every protocol that can be used, read once; home begins this on a thread."""
        with self._reading:
            if self._protocols is None:
                self._protocols, self._broken = self._read_all()
            return self._protocols

    def _read_all(self) -> tuple[dict[str, tuple[ProtocolCard, Protocol]], list[ProtocolCard]]:
        usable: dict[str, tuple[ProtocolCard, Protocol]] = {}
        broken: list[ProtocolCard] = []
        for entry in list_protocols(self.given):
            try:
                read, text = load_protocol(entry.id, self.given)
            except FileProblems as error:
                words = f"{error.problems[0]} ({len(error.problems)} in all)"
                broken.append(ProtocolCard(entry.id, entry.id, "", "", "", "", where=entry.where, problem=words))
            else:
                usable[entry.id] = (self._protocol_card(entry, read, text), read)
        return usable, broken

    def _protocol_card(self, entry: Entry, read: Protocol, text: str) -> ProtocolCard:
        language = self.settings.language
        stands = approval_state(read, text, self.clock.wall().date())
        return ProtocolCard(
            entry.id,
            words_of(read.title, language) or entry.id,
            f"after {read.guidance}, not endorsed",
            AUDIENCES[read.audience],
            read.version,
            stands.why,
            stands.sound,
            words_of(read.about, language),
            words_of(read.role, language),
            entry.where,
        )

    def scenarios(self, protocol: str) -> tuple[ScenarioCard, ...]:
        """The scenarios that suit this protocol, or the base that it stands over."""
        if protocol not in self._read_protocols():
            return ()
        if self._scenarios is None:
            self._scenarios = []
            for entry in list_scenarios(self.given):
                try:
                    self._scenarios.append((entry, read_scenario(entry.path)))
                except FileProblems:
                    continue  # `kneeside scenarios` lists those that cannot be used, with why
        suiting = suits_of(self._read_protocols()[protocol][1], [read for _, read in self._scenarios])
        cards = [self._scenario_card(entry, read, protocol) for entry, read in self._scenarios if read.id in suiting]
        return tuple(cards)

    def _scenario_card(self, entry: Entry, read: Scenario, name: str) -> ScenarioCard:
        language = self.settings.language
        protocol = self._read_protocols()[name][1]
        try:
            plan: Plan | None = resolve(protocol, read, unit="floor", counting="each", seed=None)
        except PlanProblem:
            plan = None
        never = never_thrown(protocol, plan) if plan is not None else {}
        return ScenarioCard(
            entry.id,
            words_of(read.title, language) or entry.id,
            words_of(read.story, language),
            words_of(read.setting, language),
            self._casualty(protocol, plan.facts) if plan is not None else "",
            read.sensitive,
            read.rescuers,
            tuple(read.present),
            tuple(read.kit),
            tuple(f"{digit} {words_of(protocol.inject[inject].title, language)}" for digit, inject in never.items()),
        )

    def _casualty(self, protocol: Protocol, facts: Mapping[str, FactValue]) -> str:
        """Who lies there, in words: age, weight, then what else the facts say. Never the rhythm."""
        words: list[str] = []
        for ident, fact in protocol.facts.items():
            value = facts.get(ident)
            title = words_of(fact.title, self.settings.language) or ident.replace("_", " ")
            if fact.kind == "number" and fact.unit in ("kg", "year", "month"):
                words.append(
                    f"{title.lower()} unknown" if not isinstance(value, int) else quantity_text(value, fact.unit)
                )
            elif fact.kind == "choice" and isinstance(value, str):
                words.append(f"{title.lower()} {value.replace('_', ' ')}")
            elif fact.kind == "flag" and value is True:
                words.append(title.lower())
        return ", ".join(words)

    def pads(self, protocol: str, scenario: str, kit: str) -> PadsCard | None:
        """The decision, or the advice that the kit at hand calls for."""
        with _in_words():
            setup = self._setup(protocol, scenario, kit)
            view = pads_view(setup, self._plan(setup))
        if view is None:
            return None
        words = f"{SIZES[view.size]}, {PLACEMENTS[view.placement]}" if view.size and view.placement else "none of these"
        return PadsCard(words, view.why.rstrip("."), f"after {setup.pads_guidance}")

    def _setup(self, protocol: str, scenario: str, kit: str) -> Setup:
        setup = setup_for(protocol, "" if scenario == "none" else scenario, self.given)
        return replace(setup, kit=KITS[kit], language=self.settings.language)

    def _plan(self, setup: Setup) -> Plan:
        return resolve(setup.protocol, setup.scenario, unit=setup.unit, counting=setup.counting, seed=setup.seed)

    def keys(self, protocol: str) -> dict[str, str]:
        """The key map of a protocol that can be read, else the one without a protocol."""
        known = self._read_protocols().get(protocol)
        return key_map(known[1] if known is not None else None, self.settings)

    def reread(self) -> None:
        """Forget what was read."""
        with self._reading:
            self._protocols = self._scenarios = None

    def remembered(self) -> tuple[Choices, str]:
        """What was chosen last time."""
        return read_choices(self.home)

    def checks(self) -> tuple[Check, ...]:
        """Disk, clock, battery, line, and the keys with the protocol of last time."""
        known = self._read_protocols().get(self.remembered()[0].protocol)
        keys = check_keys(known[1] if known is not None else None, self.settings)
        return (check_disk(self.folder), check_clock(self.clock), check_battery(), check_remote(os.environ), keys)

    def keep_test(self, who: str, kept: Kept) -> str:
        """Beside the drills' folder, where :meth:`open` reads it."""
        return keep(self.home, who, kept)

    def keep(self, choices: Choices) -> str:
        """For next time."""
        return keep_choices(self.home, choices)

    # --- drills -----------------------------------------------------------------------------------------------------

    def open(self, choices: Choices, reason: str) -> Drill:
        """The drill of the choices, its header written."""
        room = self.settings.room
        sigma_ms, reaction_ms = for_drill(self.home, choices.assessor, self.settings.sigma_ms)
        with _in_words():
            setup = replace(
                self._setup(choices.protocol, choices.scenario, choices.kit),
                mode=choices.mode,
                counting=choices.counting,
                unit=choices.unit,
                learner=choices.learner or "none",
                assessor=choices.assessor,
                role=choices.role,
                reason=reason,
                keys=self.keys(choices.protocol),
                sigma_ms=sigma_ms,
                reaction_ms=reaction_ms,
                emergency_number=room.emergency_number,
                address=room.address,
                real_unit=room.real_unit,
            )
            stands = approval_state(setup.protocol, setup.protocol_text, self.clock.wall().date())
            if setup.mode == "test" and not stands.sound and not reason:
                self.reread()
                raise Unsound(f"The protocol's file is not as it was: {stands.why}")
            return open_drill(setup, clock=self.clock, folder=self.folder, second=second_dir())

    def _folders(self) -> list[Path]:
        second = second_dir()
        return [self.folder] if second is None else [self.folder, second]

    def drills(self) -> tuple[DrillCard, ...]:
        """The newest logs, at a glance: first line and last lines, the chain unseen."""
        return tuple(self._glance(path) for path in self._logs()[:RECENT])

    def latest(self) -> DrillCard | None:
        """The newest log."""
        paths = self._logs()
        return self._glance(paths[0]) if paths else None

    def _logs(self) -> list[Path]:
        paths: list[Path] = list(self._held)
        for folder in self._folders():
            with suppress(OSError):  # no folder yet: no drills
                paths += [path for path in folder.iterdir() if path.suffix == ".jsonl" and path not in self._held]
        return sorted(paths, key=lambda path: path.name, reverse=True)

    def _glance(self, path: Path) -> DrillCard:
        try:
            with BytesIO(self._held[path]) if path in self._held else path.open("rb") as file:
                head = json.loads(file.readline(MAX_LINE))
                file.seek(max(file.seek(0, os.SEEK_END) - TAIL, 0))
                ends = [line for line in file.read().split(b"\n") if b'"kind":"end"' in line]
            reason = json.loads(ends[0])["reason"] if ends else "interrupted"
            what = str(head["protocol"]["id"]).rpartition("/")[2]
            if head["scenario"] is not None:
                what += f", {head['scenario']['title']}"
            learner = "" if head["learner"] == "none" else str(head["learner"])
            when = self._when(str(head["wall"]))
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return DrillCard(path, path.stem, one_line(path.stem), "", "", "cannot be read")
        state = {"ended": "ended", "safety": "stopped for safety"}.get(reason, "interrupted")
        return DrillCard(path, path.stem, one_line(what), one_line(learner)[:8], when, state)

    def _when(self, wall: str) -> str:
        """A header's moment as this machine's wall would show it."""
        try:
            moment = datetime.fromisoformat(wall).astimezone()
        except ValueError:
            return one_line(wall)
        return f"{moment.day} {moment:%b %H:%M}"

    def interrupted(self) -> DrillCard | None:
        """The newest drill without an end."""
        found = find_interrupted(self._folders()).interrupted
        if not found:
            return None
        card = self._glance(found[0].path)
        return replace(card, when=f"{card.when}, at {m_ss(found[0].record.last_t)}")

    def resume(self, path: Path) -> Drill:
        """Take it up again."""
        with _in_words():
            return resume_drill(path, clock=self.clock, second=second_dir())

    def close(self, path: Path) -> str:
        """End it where it stands."""
        try:
            with _in_words():
                close_interrupted(path, self.clock)
        except DeskError as error:
            return str(error)
        return f"Closed as interrupted: {path.name}"

    # --- looking back -----------------------------------------------------------------------------------------------

    def debrief(self, path: Path) -> LookBack:
        """The page of a log; beside one that was begun again, what became of the one thing of the drill before."""
        with _in_words():
            record = self._read(path)
            page = self._page(record)
            return look_back(page, self._pair(path, page, record), held=path in self._held)

    def hold(self, path: Path, content: bytes) -> None:
        """Keep it in memory, with what is said of it, for as long as the program runs."""
        self._held[path] = content

    def _read(self, path: Path) -> Record:
        return read_bytes(self._held[path], path) if path in self._held else read_log(path)

    def _page(self, record: Record) -> Debrief:
        page = debrief_of(record)
        return replace(page, own=self._said[record.path]) if record.path in self._said else page

    def _write(self, path: Path, line: dict[str, object], who: str, why: str) -> None:
        """A line after the end, with who, why and when: into the file, or into memory where there is none."""
        if path not in self._held:
            write(path, [line], who, why, self.clock)
            return
        for whole in stamped(self._read(path), [line], who, why, self.clock):
            self._append(path, whole)

    def _append(self, path: Path, line: dict[str, object]) -> None:
        record = self._read(path)
        self._held[path] += Chain(len(record.lines) + 1, record.h).add(line)

    def _pair(self, path: Path, page: Debrief, record: Record) -> tuple[str, ...]:
        """Before and after, kept with the words of the drill before, whose page then has it too."""
        if not record.head.starts_from:
            return ()
        for earlier in self._logs():
            if earlier.name >= path.name:
                continue
            with suppress(FileProblems, LogProblem, PlanProblem, OSError):
                before = self._read(earlier)
                head = before.head
                if (head.learner, head.protocol.id, head.attempt) == (page.learner, page.of.id, page.attempt - 1):
                    said = pair(debrief_of(before), page)
                    if said and before.sealed:
                        self.say(earlier, {"again": said})
                    return (said,) if said else ()
        return ()

    def say(self, path: Path, words: Mapping[str, str]) -> str:
        """Into the file beside the log, whose digest goes into the log."""
        try:
            with _in_words():
                if path in self._held:
                    self._said[path] = {**self._said.get(path, {}), **words}
                    return ""
                kept = read_words(path)
                there = dict(kept.words) if kept is not None else {}
                if {**there, **words} != there:
                    self._add(path, {"kind": "note", "digest": write_words(path, {**there, **words}).digest})
        except DeskError as error:
            return f"These words were not kept: {error}"
        return ""

    def note(self, path: Path, kind: str, who: str, why: str, **members: object) -> str:
        """A line after the end, with who, why and the wall clock's moment."""
        try:
            with _in_words():
                line: dict[str, object] = {"kind": kind, **members}
                if isinstance(e := members.get("e"), int):
                    line["t"] = t_of(fold(self._read(path)).happened(), e)
                self._write(path, line, who, why)
        except DeskError as error:
            return f"This was not written down: {error}"
        return ""

    def sign(self, path: Path, result: str, who: str, reason: str) -> str:
        """By the protocol's rule, and never more than it gives."""
        try:
            with _in_words():
                record = self._read(path)
                page = debrief_of(record)
                verdict = verdict_of(page, setup_from(record.header).protocol, record.header, reason)
                given = next(one for one in IN_WORDS if one == result)
                self._write(path, sign(page, verdict, given, reason), who, "")
        except DeskError as error:
            return f"This was not signed: {error}"
        return ""

    def again(self, path: Path, step: str) -> Drill:
        """The same set-up, the next attempt."""
        with _in_words():
            before = setup_from(self._read(path).header)
            setup = replace(before, attempt=before.attempt + 1, starts_from=step)
            return open_drill(setup, clock=self.clock, folder=self.folder, second=second_dir())

    def lines(self, path: Path) -> tuple[LineCard, ...]:
        """What hands made, in order of adjusted times."""
        with _in_words():
            record = self._read(path)
            page = debrief_of(record)
        return line_cards(page, record)

    def page(self, path: Path) -> Path:
        """The HTML page beside the log."""
        with _in_words():
            target = path.with_suffix(ENDINGS["html"])
            target.write_text(FORMS["html"](self._page(self._read(path))), encoding="utf-8", newline="")
        return target

    def ticks(self, path: Path, ids: tuple[str, ...]) -> str:
        """A line after the end."""
        try:
            with _in_words():
                self._add(path, {"kind": "said", "handover": list(ids)})
        except DeskError as error:
            return f"The ticks were not kept: {error}"
        return ""

    def _add(self, path: Path, line: dict[str, object]) -> None:
        if path in self._held:
            record = self._read(path)
            self._append(path, {"t": record.last_t, "e": record.last_e, **line})
            return
        writer, record = add_to(path)
        writer.write({"t": record.last_t, "e": record.last_e, **line}, urgent=True)
        writer.close()
        if not writer.saved:
            raise LogProblem(path, 0, writer.problem, "free space on the disk")

    def export(self, path: Path) -> tuple[Path, ...]:
        """Every form, each a file beside the log with the log's name."""
        written: list[Path] = []
        with _in_words():
            page = self._page(self._read(path))
            for form, ending in ENDINGS.items():
                target = path.with_suffix(ending)
                target.write_text(FORMS[form](page), encoding="utf-8", newline="")
                written.append(target)
        return tuple(written)
