"""What the pages ask of the coach: cards to choose from, a drill to open, a debrief to show.

Pages know these few frozen values and the :class:`Desk`; how they come from protocol files, logs and folders is the
desk's affair (:mod:`screens.coach_desk`). Every text on a card is cleaned and in the language of the settings.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from coach.drill.session import Drill
    from coach.preflight import Check, Kept
    from coach.remembered import Choices
    from coach.settings import Settings


@dataclass(frozen=True, slots=True)
class ProtocolCard:
    """A protocol to choose. ``approval`` says in words how far it is approved; ``sound`` is false where a test with it
    needs a typed reason (draft, unsigned, expired, changed since approval)."""

    id: str
    title: str
    guidance: str
    audience: str
    version: str
    approval: str
    sound: bool = False
    about: str = ""
    role: str = ""
    where: str = ""
    problem: str = ""
    """Why the file cannot be used; "" for a file that can."""


@dataclass(frozen=True, slots=True)
class ScenarioCard:
    """A scenario to choose; the rhythm plan is not on the card. ``casualty`` says in words who lies there."""

    id: str
    title: str
    story: str = ""
    setting: str = ""
    casualty: str = ""
    sensitive: bool = False
    rescuers: int = 1
    present: tuple[str, ...] = ()
    kit: tuple[str, ...] = ()
    not_here: tuple[str, ...] = ()
    """Injects that can never be thrown with this protocol, each with its digit: the story's facts rule them out."""


@dataclass(frozen=True, slots=True)
class PadsCard:
    """Which pads for this casualty: in words, with the rule and whose rule it is."""

    words: str
    why: str
    guidance: str


@dataclass(frozen=True, slots=True)
class DrillCard:
    """One log in the list of drills. ``state`` is "ended", "stopped for safety", "interrupted" or "cannot be read"."""

    path: Path
    name: str
    what: str
    learner: str
    when: str
    state: str


@dataclass(frozen=True, slots=True)
class Section:
    """Figures that belong together: a title, and rows of a label and what is to be said."""

    title: str
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class HandoverPart:
    """One of the things an arriving crew wants to hear: its id, what it is, and what was true."""

    id: str
    asked: str
    true: str


@dataclass(frozen=True, slots=True)
class Question:
    """Something that rests on a mark which is missing, or on one press: the assessor says what it was."""

    id: str
    say: str
    ask: str


@dataclass(frozen=True, slots=True)
class PinCard:
    """A moment that was marked to be named later: its line, when, of which kind in words, its name."""

    line: int
    at: str
    which: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """A finding that could be the one thing; an empty id is the strength to keep."""

    id: str
    say: str


@dataclass(frozen=True, slots=True)
class Result:
    """A way to sign: ``pass``, ``not-yet`` or ``safety``, in words; ``why`` it cannot be signed, "" where it can;
    ``asks`` why it can be signed with a typed reason only."""

    id: str
    words: str
    why: str = ""
    asks: str = ""


@dataclass(frozen=True, slots=True)
class LookBack:
    """A debrief as its page shows it. ``tape`` has one cell a second (:data:`coach.drill.view.TAPE`), ``longest`` are
    the first and last cell of the longest stop; ``one_thing`` is what to do again, and ``why`` it; ``choices`` could
    stand in its place; ``strength`` is always there. ``own`` is what the learner said, ``basis`` what a signature rests
    on."""

    head: str
    ended: str
    tape: str
    sections: tuple[Section, ...]
    one_thing: str
    why: str
    strength: str
    handover: tuple[HandoverPart, ...]
    said: tuple[str, ...]
    cautions: tuple[str, ...]
    assessor: str = ""
    longest: tuple[int, int] | None = None
    questions: tuple[Question, ...] = ()
    pins: tuple[PinCard, ...] = ()
    choices: tuple[Choice, ...] = ()
    again_from: Choice | None = None
    pair: tuple[str, ...] = ()
    own: Mapping[str, str] = field(default_factory=dict)
    results: tuple[Result, ...] = ()
    basis: tuple[str, ...] = ()
    signed: str = ""
    unsaved: str = ""
    """A word for a record that is in memory only; "" for one in a file."""


@dataclass(frozen=True, slots=True)
class LineCard:
    """A line of a log as the review lists it: when (ms of ``e``), what; ``note`` tells what became of it; ``moves``
    where it can be moved in time and named otherwise."""

    line: int
    e: int
    what: str
    note: str = ""
    moves: bool = False


class Desk(Protocol):
    """The coach's side of the counter."""

    settings: Settings
    folder: Path
    """Where logs go."""

    def protocols(self) -> tuple[ProtocolCard, ...]:
        """All protocols found, the person's own first, then the settings' guidance; unreadable files too, with their
        problem."""

    def scenarios(self, protocol: str) -> tuple[ScenarioCard, ...]:
        """The scenarios that suit a protocol."""

    def pads(self, protocol: str, scenario: str, kit: str) -> PadsCard | None:
        """The pads decision for a scenario's casualty with the pads at hand; None where the protocol has no rule."""

    def keys(self, protocol: str) -> dict[str, str]:
        """The key map, key name -> id ("" for no protocol). Raises :class:`coach.keys.KeyClash`."""

    def reread(self) -> None:
        """Protocols and stories may have been changed: read them again when they are next asked for."""

    def remembered(self) -> tuple[Choices, str]:
        """What was chosen last time and a word for the person ("" for none)."""

    def checks(self) -> tuple[Check, ...]:
        """The machine looked at before class: disk, clock, battery, line."""

    def keep_test(self, who: str, kept: Kept) -> str:
        """Keep a result of keyboard and reaction for an assessor; "" or a word for the person."""

    def keep(self, choices: Choices) -> str:
        """Remember the choices; "" or a word for the person."""

    def open(self, choices: Choices, reason: str) -> Drill:
        """A new drill, its log begun, standing before go. Raises :class:`DeskError`, and :class:`Unsound` where a test
        needs a reason that was not given."""

    def drills(self) -> tuple[DrillCard, ...]:
        """The logs of past drills, newest first."""

    def latest(self) -> DrillCard | None:
        """The newest log."""

    def interrupted(self) -> DrillCard | None:
        """The newest drill that never ended, if the machine stopped in it and nobody closed it."""

    def resume(self, path: Path) -> Drill:
        """Take an interrupted drill up again, its hole marked. Raises :class:`DeskError`."""

    def close(self, path: Path) -> str:
        """Close an interrupted drill as it stands; a word for the person."""

    def debrief(self, path: Path) -> LookBack:
        """The debrief of a log. Raises :class:`DeskError`."""

    def hold(self, path: Path, content: bytes) -> None:
        """Keep the record of a drill that no folder took, so that it can be talked about."""

    def say(self, path: Path, words: Mapping[str, str]) -> str:
        """Keep the learner's own words beside the log, by name; "" or a word for the person."""

    def note(self, path: Path, kind: str, who: str, why: str, **members: object) -> str:
        """Add a line to the log of a drill that has ended (``confirmed``, ``chosen``, ``classify``, ``retime``,
        ``relabel``, ``added_later``); "" or a word for the person."""

    def sign(self, path: Path, result: str, who: str, reason: str) -> str:
        """Sign a drill off; "" or a word for the person."""

    def again(self, path: Path, step: str) -> Drill:
        """A new drill as this one was, the next attempt, to begin at a step. Raises :class:`DeskError`."""

    def lines(self, path: Path) -> tuple[LineCard, ...]:
        """The lines that hands made, in order of their adjusted times. Raises :class:`DeskError`."""

    def page(self, path: Path) -> Path:
        """Write the page to hand over beside the log. Raises :class:`DeskError`."""

    def ticks(self, path: Path, ids: tuple[str, ...]) -> str:
        """Write down which parts of the handover were spoken; "" or a word for the person."""

    def export(self, path: Path) -> tuple[Path, ...]:
        """Write the debrief in every form beside the log. Raises :class:`DeskError`."""


class DeskError(Exception):
    """Something the desk cannot do now, in words for the person."""


class Unsound(DeskError):
    """A test without a reason, with a protocol that needs one: its file was changed since its card was shown, say."""
