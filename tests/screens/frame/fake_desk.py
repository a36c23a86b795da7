"""A desk with cards of its own, so that pages are tested apart from files."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from coach.observations import default_keys
from coach.preflight import Check, Kept
from coach.remembered import Choices
from coach.settings import Settings
from screens.desk import (
    Choice,
    DeskError,
    DrillCard,
    HandoverPart,
    LineCard,
    LookBack,
    PadsCard,
    PinCard,
    ProtocolCard,
    Question,
    Result,
    ScenarioCard,
    Section,
)

DRAFT = "draft: nobody has approved it"
ADULT = ProtocolCard(
    "erc-2025/adult-one-rescuer", "Adult, one rescuer", "after ERC 2025, not endorsed", "lay people", "2026.1", DRAFT
)
TWO = ProtocolCard(
    "aha-2025/adult-two-rescuers",
    "Adult, two rescuers",
    "after AHA 2025, not endorsed",
    "lay people",
    "2026.1",
    "in force, approved 2026-01-02 by medical director, review 2027-01-01",
    sound=True,
)
STALL = ScenarioCard(
    "fruit-stall",
    "Fruit stall",
    "Saturday in the market hall of Brackhaven. A man behind the fruit stall sinks to his knees among the crates "
    "and does not get up. His neighbour calls out to you. You are alone with her; the unit hangs by the main door.",
    "market hall, dry floor",
    "58 years, 74 kg, chest dry",
    present=("a neighbour",),
    kit=("phone",),
)
CHILD = ScenarioCard(
    "ticket-hall", "Ticket hall", "A story to be told with care.", "ferry terminal", "31 years", sensitive=True
)


class FakeDesk:
    """Holds what a test gave it and writes down what the pages asked for."""

    def __init__(self, **changes: Any) -> None:
        self.settings = Settings(Path("/home/kim/.config/kneeside/settings.toml"))
        self.folder = Path("/home/kim/drills")
        self.choices = Choices()
        self.notice = ""
        self.protocol_cards: tuple[ProtocolCard, ...] = (ADULT, TWO)
        self.scenario_cards: tuple[ScenarioCard, ...] = (STALL, CHILD)
        self.drill_cards: tuple[DrillCard, ...] = ()
        self.cut_off: DrillCard | None = None
        self.key_error: Exception | None = None
        self.opened: list[tuple[Choices, str]] = []
        self.open_with: Callable[[], Any] | None = None
        self.debriefs: dict[Path, Any] = {}
        self.asked: list[tuple[Any, ...]] = []
        self.refuses = ""
        self.line_cards: tuple[LineCard, ...] = LINES
        for name, value in changes.items():
            setattr(self, name, value)

    def protocols(self) -> tuple[ProtocolCard, ...]:
        return self.protocol_cards

    def scenarios(self, protocol: str) -> tuple[ScenarioCard, ...]:
        return self.scenario_cards

    def pads(self, protocol: str, scenario: str, kit: str) -> PadsCard | None:
        size = "small" if kit == "paediatric" else "adult"
        return PadsCard(f"{size} pads, right and left", "25 kg or more", "ERC 2025")

    def keys(self, protocol: str) -> dict[str, str]:
        if self.key_error is not None:
            raise self.key_error
        return default_keys()

    def remembered(self) -> tuple[Choices, str]:
        return self.choices, self.notice

    def reread(self) -> None:
        self.asked.append(("reread",))

    def checks(self) -> tuple[Check, ...]:
        return (Check("disk", "fine", "/home/kim/drills can be written"), Check("line", "mind", "a remote shell"))

    def keep_test(self, who: str, kept: Kept) -> str:
        self.asked.append(("test", who, kept))
        return self.refuses

    def keep(self, choices: Choices) -> str:
        self.choices = choices
        return ""

    def open(self, choices: Choices, reason: str) -> Any:
        self.opened.append((choices, reason))
        if self.open_with is None:
            raise DeskError("the folder for logs cannot be written")
        return self.open_with()

    def drills(self) -> tuple[DrillCard, ...]:
        return self.drill_cards

    def latest(self) -> DrillCard | None:
        return self.drill_cards[0] if self.drill_cards else None

    def interrupted(self) -> DrillCard | None:
        return self.cut_off

    def resume(self, path: Path) -> Any:
        raise DeskError("its protocol is not readable any more")

    def close(self, path: Path) -> str:
        self.asked.append(("close", path))
        self.cut_off = None
        return "Closed as interrupted."

    def debrief(self, path: Path) -> Any:
        if path not in self.debriefs:
            raise DeskError(f"{path.name}: line 3 does not fit the line before it")
        return self.debriefs[path]

    def say(self, path: Path, words: Mapping[str, str]) -> str:
        self.asked.append(("say", path, dict(words)))
        if path in self.debriefs:
            self.debriefs[path] = replace(self.debriefs[path], own={**self.debriefs[path].own, **words})
        return ""

    def note(self, path: Path, kind: str, who: str, why: str, **members: object) -> str:
        self.asked.append(("note", kind, {**members, "who": who, "why": why}))
        return self.refuses

    def sign(self, path: Path, result: str, who: str, reason: str) -> str:
        self.asked.append(("sign", path, result, who, reason))
        return self.refuses

    def again(self, path: Path, step: str) -> Any:
        self.asked.append(("again", path, step))
        if self.open_with is None:
            raise DeskError("the folder for logs cannot be written")
        return self.open_with()

    def lines(self, path: Path) -> tuple[LineCard, ...]:
        return self.line_cards

    def page(self, path: Path) -> Path:
        self.asked.append(("page", path))
        return path.with_suffix(".html")

    def ticks(self, path: Path, ids: tuple[str, ...]) -> str:
        self.asked.append(("ticks", path, ids))
        return ""

    def export(self, path: Path) -> tuple[Path, ...]:
        self.asked.append(("export", path))
        return tuple(path.with_suffix(ending) for ending in (".html", ".txt", ".md", ".json", ".csv", ".xapi.json"))


LINES = (
    LineCard(9, 14_000, "not breathing normally", moves=True),
    LineCard(12, 22_000, "push", moves=True),
    LineCard(45, 78_500, "right pad", "voided"),
    LineCard(52, 98_200, "clear called", "pressed at 1:39", True),
    LineCard(53, 101_000, "shock pressed", moves=True),
)

BACK = LookBack(
    head="Adult, one rescuer · after ERC 2025, not endorsed · draft · learner 07 · practise · each push tapped",
    ended="Ended after 2:32 by the assessor.",
    tape="      U  E N"
    + "#" * 18
    + "·o·o·"
    + "#" * 17
    + "·o·o·"
    + "#" * 12
    + "·P··P·A····V·CS··"
    + "#" * 40
    + "·o·o·"
    + "#" * 21,
    sections=(
        Section(
            "Moments",
            (
                ("recognised", "at 0:14 (±1–2 s, pressed by hand)"),
                ("called", "at 0:09"),
                ("first push", "at 0:22, 8 s after deciding (aim at most 10 s)"),
                ("first shock", "at 1:44"),
            ),
        ),
        Section(
            "Hands on the chest",
            (
                ("share", "62 % of 130 s; 76 % is what this protocol allows at this pace"),
                ("longest", "34 s = 20 s pads + 8 s unit + 3 s press + 3 s back on"),
            ),
        ),
        Section("Rate", (("pace", "109 a minute (105 to 113 over 5 runs, each push tapped)"),)),
    ),
    one_thing="Pads in under 12 s, from “unit on”.",
    why="20 of the 34 s of the longest pause went into the pads.",
    strength="Hands were back on the chest 3 s after the shock.",
    handover=(
        HandoverPart("who_where", "who, and where", "A man of 58, at the fruit stall."),
        HandoverPart("collapse_time", "when it began", "2:32 ago."),
        HandoverPart("cpr_since_by", "pushes: since when, by whom", "Since 0:22, by learner 07."),
        HandoverPart("shocks", "shocks given", "One, at 1:44."),
        HandoverPart("last_advice", "the unit's last advice", "Shock, at 1:40."),
        HandoverPart("seen", "what was seen", "Nothing else."),
        HandoverPart("now", "how they are now", "Not breathing, pushes go on."),
        HandoverPart("needed", "what is still needed", "Take over the pushes."),
    ),
    said=(),
    assessor="a1",
    longest=(69, 103),
    questions=(
        Question("omitted:call", "0:40  Phone: not marked.", "Seen and not pressed, or were you not looking?"),
        Question("touched:52", "1:32  Touched during the analysis.", "Did it happen so, or was a key missed?"),
    ),
    pins=(PinCard(30, "0:48", "something wrong"), PinCard(41, "1:10", "something good")),
    choices=(
        Choice("breath-gap:40", "Two breaths took 7 s (≤ 5 s)."),
        Choice("", "Keep this: hands were back on the chest 3 s after the shock."),
    ),
    again_from=Choice("unit_on", "Switch it on"),
    results=(
        Result("pass", "pass", "something critical is to be confirmed first"),
        Result("not-yet", "not yet"),
        Result("safety", "stopped for safety", "it was not stopped for safety"),
    ),
    basis=("6 of 7 critical steps seen unaided", "Call: omitted", "1 to be confirmed first"),
    cautions=(
        "Training record, not a measure of depth or of outcome.",
        "Times pressed by hand are good to 1 to 2 s.",
        "The protocol is a draft: nobody has approved it.",
    ),
)
