"""The drill, live: every key goes to the drill with the time of its own press, and the view comes back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Literal, Protocol

from textual import events
from textual.app import ComposeResult
from textual.screen import Screen

from coach.clock import Clock
from coach.drill.setup import words_of
from coach.drill.view import View
from coach.protocol import model as coach_model
from coach.settings import Room
from screens.keyboard import ALT, LEAVING, UNMAPPED, Caps, TakesKeys, name_of
from screens.widgets.face import Face
from screens.widgets.ink import Glyphs, glyphs
from screens.widgets.layout import Scene, screen_rows

TICK_MS = 200
"""Repaint at most this often (5 a second): tenths of hands-off time are read no faster."""

ZZ_MS = 1_500
"""The second stroke of an end must follow within this."""

Outcome = Literal["ended", "safety"]


class DrillSetup(Protocol):
    """What was chosen before go, as far as a screen shows it; :class:`coach.drill.setup.Setup` has it."""

    @property
    def keys(self) -> Mapping[str, str]:
        """Key name -> id."""

    @property
    def language(self) -> str:
        """Language of the drill."""

    @property
    def protocol(self) -> coach_model.Protocol | None:
        """For the names of its own observations."""

    @property
    def scenario(self) -> coach_model.Scenario | None:
        """For the story."""

    @property
    def emergency_number(self) -> str:
        """For the card."""

    @property
    def address(self) -> str:
        """For the card."""

    @property
    def real_unit(self) -> str:
        """For the card."""


class LiveDrill(Protocol):
    """The face of a drill that a screen needs; :class:`coach.drill.session.Drill` has it. Stamps are milliseconds of
    ``clock``."""

    @property
    def clock(self) -> Clock:
        """The one source of time."""

    @property
    def setup(self) -> DrillSetup:
        """What was chosen before go."""

    def go(self, stamp_ms: int) -> None:
        """The clock starts."""

    def press(self, key: str, stamp_ms: int, lag_ms: float = 0.0, via: str = "key") -> None:
        """A key, at its own time."""

    def tick(self, now_ms: int) -> None:
        """Time has passed."""

    def view(self, now_ms: int) -> View:
        """What is to be seen now."""

    def focus(self, lost: bool, stamp_ms: int) -> None:
        """The keyboard went elsewhere, or came back."""

    def paste(self, length: int, stamp_ms: int) -> None:
        """Something was pasted."""

    def close(self, reason: str = "interrupted") -> None:
        """The record is closed."""


class DrillScreen(Screen[Outcome], TakesKeys):
    """One drill from ready to its end. Dismissed with ``ended``, or with ``safety`` after a stop or the card.

    ``on_live_key`` is called at each key that a person pressed, before the drill sees it. ``audience`` shows the clock
    only.
    """

    AUTO_FOCUS = ""
    CSS_PATH = "drill.tcss"

    def __init__(
        self,
        drill: LiveDrill,
        *,
        marks: Glyphs | None = None,
        audience: bool = False,
        on_live_key: Callable[[], None] | None = None,
    ) -> None:
        super().__init__()
        self.drill = drill
        setup = drill.setup
        self._clock = drill.clock
        self._keys = dict(setup.keys)
        own = setup.protocol.observations if setup.protocol is not None else {}
        self.scene = Scene(
            Caps(self._keys, {ident: words_of(entry.label, setup.language) for ident, entry in own.items()}),
            marks or glyphs(),
            Room(setup.emergency_number, setup.address, setup.real_unit),
            words_of(setup.scenario.story, setup.language) if setup.scenario is not None else "",
            audience=audience,
        )
        self._on_live_key = on_live_key
        self._face = Face()
        self._help = False
        self._card_z: int | None = None
        self._phase = ""
        self._done = False

    def compose(self) -> ComposeResult:
        """One widget draws everything."""
        yield self._face

    def on_mount(self) -> None:
        """Begin to keep time."""
        self.wake()

    def on_resize(self) -> None:
        """Lay out anew for the new size."""
        self.paint(self._clock.mono_ms())

    # ------------------------------------------------------------------------------------------------- time

    def wake(self) -> None:
        """Let the drill know the time, paint, and set the next waking: never later than :data:`TICK_MS`."""
        if self._done:
            return
        now = self._clock.mono_ms()
        if self._phase != "card":
            self.drill.tick(now)
        view = self.paint(now)
        self.set_timer(next_wake(view) / 1000, self.wake)

    def paint(self, now: int) -> View:
        """Show the drill as it is at ``now`` (ms); leave the screen when the drill has ended."""
        view = self.drill.view(now)
        if view.phase == "ended" and not self._done:
            self._leave("safety" if self._phase in ("stopped", "card") else "ended")
            return view
        self._phase = view.phase
        size = self.size
        self._face.show(screen_rows(view, replace(self.scene, help=self._help), size.width, size.height))
        return view

    def _send_now(self) -> None:
        """Write what changed to the terminal in this very call. A key would else wait for three turns of the message
        queue and for the next frame. Does what the frame timer does, by its own (private) means."""
        if not self._done:
            self._dirty_widgets.add(self._face)
            self._on_timer_update()

    def _leave(self, outcome: Outcome) -> None:
        self._done = True
        self.dismiss(outcome)

    # ------------------------------------------------------------------------------------------------- keys

    def take_key(self, event: events.Key) -> None:
        """Stamp a key with the time of its press, tell the drill, paint."""
        key = name_of(event)
        if key is None or self._done:
            return
        stamp = self._clock.from_event_time(event.time)
        now = self._clock.mono_ms()
        if self._phase == "card":
            self._card_key(key, stamp)
            return
        if self._on_live_key is not None:
            self._on_live_key()
        ident = self._keys.get(key)
        self._help = ident == "help" and not self._help
        if ident == "audience":
            self.scene = replace(self.scene, audience=not self.scene.audience)
        if self._phase == "ready" and key == "enter":
            self.drill.go(stamp)
        else:
            # A key that means nothing may be a letter of a name typed by mistake: what it was goes no further.
            name = key if ident is not None or key in LEAVING else ALT if key == ALT else UNMAPPED
            self.drill.press(name, stamp, float(now - stamp))
        self.paint(now)
        self._send_now()

    def _card_key(self, key: str, stamp: int) -> None:
        """While the card stands nothing is logged; only the two strokes of an end leave it."""
        if self._keys.get(key) != "end":
            self._card_z = None
            return
        if self._card_z is not None and stamp - self._card_z <= ZZ_MS:
            self.drill.close("safety")
            self._leave("safety")
            return
        self._card_z = stamp

    def take_paste(self, event: events.Paste) -> None:
        """A paste is logged by its length, and means nothing."""
        if self._done or self._phase == "card":
            return
        now = self._clock.mono_ms()
        self.drill.paste(len(event.text), self._clock.from_event_time(event.time))
        self.paint(now)

    def take_focus(self, lost: bool, event: events.Event) -> None:
        """The keyboard went elsewhere or came back."""
        if self._done or self._phase == "card":
            return
        self.drill.focus(lost, self._clock.from_event_time(event.time))
        self.paint(self._clock.mono_ms())


def next_wake(view: View) -> int:
    """Milliseconds until the screen may read differently: a second since go, a fifth of a second of hands-off time.

    At least five times a second in any case, so that a reminder is not late.
    """
    to_second = 1000 - view.t % 1000
    grid = view.t if view.off_ms is None else view.off_ms
    return max(10, min(TICK_MS - grid % TICK_MS, to_second))
