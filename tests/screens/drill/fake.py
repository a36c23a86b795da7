"""A drill that shows prepared views and remembers what it was told: for tests of the screen alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from textual import events
from textual.app import App

from coach.clock import SteppedClock
from coach.drill.view import InjectView, PadsView, View
from coach.observations import default_keys
from coach.protocol.model import Protocol, Scenario
from screens.drill import DrillScreen
from screens.keyboard import route
from screens.theme import VARIABLE_DEFAULTS, install
from screens.widgets.ink import UNICODE, Glyphs


class HandClock(SteppedClock):
    """A clock that moves by hand; keys are pressed at the moment where it stands."""

    def from_event_time(self, seconds: float) -> int:
        """Now: a pilot's keys carry the machine's time, which means nothing here."""
        return self.mono_ms()


@dataclass(frozen=True)
class FakeSetup:
    """What a screen asks of a setup."""

    keys: Mapping[str, str] = field(default_factory=default_keys)
    language: str = "en"
    protocol: Protocol | None = None
    scenario: Scenario | None = None
    emergency_number: str = "112"
    address: str = "Brackhaven, Old Net Loft, Quay 4, first floor"
    real_unit: str = "in the market hall, beside the fruit stalls"


STORY = (
    "Saturday at the fruit stalls. A man of 58 puts down two bags, sits on a crate and slides off it. His neighbour at "
    "the scales saw it. The ground is dry; people make room."
)

RUNNING = View(
    phase="running",
    mode="teach",
    counting="each",
    unit="floor",
    title="Adult, one rescuer",
    guidance="after ERC 2025, not endorsed",
    approval="draft",
    learner="07",
    t=161_400,
    e=161_400,
    shocks=1,
    hands="on",
    run=3,
    pushes=17,
    run_of=30,
    breaths=0,
    off_ms=None,
    off_what="",
    off_owner="",
    off_limit_ms=10_000,
    loud=False,
    rate=110.3,
    now="Thirty, then two breaths",
    cue="Down five to six centimetres, then fully up.",
    voice="",
    next_label="",
    armed=False,
    analysing=False,
    period_ms=89_300,
    period_warning=False,
    swap_due=False,
    pads=PadsView("adult", "right-and-left", "An adult gets adult pads."),
    look="fingers off the ribs, full release",
    concern_open=False,
    tape=" " * 9 + "E" + " " * 12 + "#" * 18 + "o·o·" + "#" * 17 + "·" * 6 + "UP·P··A······V·C·S··" + "#" * 75,
    last_key="",
    would_void="left pad",
    injects=(
        InjectView(1, "vomit in the mouth", "at hand", "Gurgle; say there is something in the mouth."),
        InjectView(2, "somebody touches", "open", "Walk in and take the hand: “Is he asleep?”"),
        InjectView(3, "one pad comes loose", "at hand", "Lift an edge.", 41_000),
        InjectView(4, "the crew arrives", "answered", "Ask: how long, how many shocks?"),
    ),
    notice="",
    saved=True,
    probe=False,
    plan="",
    focus=True,
    caution="Training only.",
)

OFF = replace(
    RUNNING,
    t=113_400,
    e=113_400,
    shocks=0,
    hands="off",
    pushes=30,
    breaths=1,
    off_ms=3_400,
    off_what="one breath so far",
    off_owner="rescuer",
    rate=None,
    cue="Thirty done: head back, two breaths, see it rise.",
    next_label="",
    would_void="breath",
    period_ms=None,
    tape=RUNNING.tape[:66] + "#" * 44 + "o···",
)

LOUD = replace(
    OFF,
    off_ms=12_460,
    breaths=0,
    off_what="no hands on the chest",
    loud=True,
    now="Pads on bare skin",
    next_label="left pad",
    look="both hands clear of the pads?",
    cue="Second pad: left side ribs, below the armpit.",
    would_void="right pad",
)

VIEWS: dict[str, View] = {
    "ready": replace(
        RUNNING,
        phase="ready",
        t=0,
        e=0,
        shocks=0,
        hands="none",
        run=0,
        pushes=0,
        rate=None,
        now="Scene",
        cue="",
        period_ms=None,
        pads=None,
        look="",
        tape="",
        would_void="",
    ),
    "first": replace(
        RUNNING,
        t=12_300,
        e=12_300,
        shocks=0,
        hands="none",
        run=0,
        pushes=0,
        rate=None,
        now="Response",
        cue="Speak up and rock both shoulders.",
        next_label="response checked",
        period_ms=None,
        look="",
        tape=" " * 13,
        would_void="",
        last_key="scene checked",
    ),
    "on": RUNNING,
    "off": OFF,
    "loud": LOUD,
    "analysing": replace(
        OFF,
        off_ms=6_200,
        off_what="the unit is reading",
        off_owner="unit",
        breaths=0,
        analysing=True,
        now="The unit reads",
        cue="It is reading: no hand on the person.",
        would_void="analysis begins",
    ),
    "armed": replace(
        OFF,
        off_ms=9_960,
        off_what="a shock is ready",
        breaths=0,
        armed=True,
        now="Shock advised",
        cue="Look head to toe; send everyone back.",
        would_void="shock advised",
    ),
    "paused": replace(RUNNING, phase="paused", cue="", last_key="pause to teach"),
    "stopped": replace(RUNNING, phase="stopped", cue="", last_key="safety stop"),
    "card": replace(RUNNING, phase="card", cue=""),
    "test": replace(LOUD, mode="test", cue="", last_key="right pad"),
    "probe": replace(RUNNING, counting="probe", pushes=4, probe=True, rate=None),
    "marks": replace(RUNNING, counting="marks", pushes=0, run_of=None, rate=None),
    "life": replace(OFF, off_ms=63_000, off_what="signs of life", off_owner="", breaths=0, now="They woke"),
    "not saved": replace(RUNNING, saved=False, notice="NOT SAVED: the disk is full. The drill goes on in memory."),
    "laptop": replace(
        OFF,
        unit="laptop",
        off_what="the unit is reading",
        off_owner="unit",
        analysing=True,
        voice="Reading the heart. Hands away, all of you.",
        cue="",
    ),
    "plan": replace(RUNNING, plan="shock, no shock, then as before"),
}


class FakeDrill:
    """Shows ``now``, or what ``script`` makes of the time; ``told`` is everything it was told, in order."""

    def __init__(self, view: View, setup: FakeSetup | None = None, clock: SteppedClock | None = None) -> None:
        self.now = view
        self.setup = setup or FakeSetup()
        self.clock = clock or HandClock(1_000_000)
        self.told: list[tuple[object, ...]] = []
        self.script: Callable[[View, int], View] | None = None

    def go(self, stamp_ms: int) -> None:
        """Remember."""
        self.told.append(("go", stamp_ms))
        self.now = replace(self.now, phase="running")

    def press(self, key: str, stamp_ms: int, lag_ms: float = 0.0, via: str = "key") -> None:
        """Remember."""
        self.told.append(("press", key, stamp_ms))

    def tick(self, now_ms: int) -> None:
        """Nothing happens by itself."""

    def view(self, now_ms: int) -> View:
        """The prepared view."""
        return self.now if self.script is None else self.script(self.now, now_ms)

    def focus(self, lost: bool, stamp_ms: int) -> None:
        """Remember."""
        self.told.append(("focus", lost))

    def paste(self, length: int, stamp_ms: int) -> None:
        """Remember."""
        self.told.append(("paste", length))

    def close(self, reason: str = "interrupted") -> None:
        """Remember."""
        self.told.append(("close", reason))


class FakeApp(App[None]):
    """The least app that a drill screen needs."""

    ENABLE_COMMAND_PALETTE = False
    CSS_PATH = None

    def __init__(
        self, drill: FakeDrill, marks: Glyphs = UNICODE, theme: str = "", story: str = "", **more: object
    ) -> None:
        super().__init__()
        install(self, theme)
        self.left_with: list[object] = []
        self.drill = drill
        self.drill_screen = DrillScreen(drill, marks=marks, **more)  # type: ignore[arg-type]
        if story:
            self.drill_screen.scene = replace(self.drill_screen.scene, story=story)

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Ours."""
        return VARIABLE_DEFAULTS

    def on_mount(self) -> None:
        """Straight to the drill."""
        self.push_screen(self.drill_screen, self.left_with.append)

    async def on_event(self, event: events.Event) -> None:
        """The drill screen first."""
        if not route(self, event):
            await super().on_event(event)
