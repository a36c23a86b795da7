"""From the terminal's key events to a drill: one door, no bindings, no focus, nothing swallowed on the way."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from textual import events
from textual._keyboard_protocol import MODIFIER_FUNCTIONAL_KEYS

from coach.keys import shown
from coach.observations import CONTROLS, OBSERVATIONS, label

if TYPE_CHECKING:
    from textual.app import App

LEAVING = frozenset({"ctrl+q", "ctrl+c"})
"""Keys that leave other programs; in a drill they are answered with a word, never obeyed."""

_LOCKS = frozenset({"caps_lock", "num_lock", "scroll_lock"})

_OURS = {"pagedown": "page_down", "pageup": "page_up"}
"""Names of keys that Textual writes in another way than key maps do."""

ALT = "alt"
UNMAPPED = "unmapped"
"""What is logged for a key that means nothing: never its character, which may be part of a name or a password."""


class Short(NamedTuple):
    """An entry of the foot of the drill screen: an id and its shortest name."""

    ident: str
    word: str


FOOT: tuple[Short, ...] = (
    Short("compression", "push"),
    Short("breath", "breath"),
    Short("hands_lifted", "off"),
    Short("next", "next"),
    Short("analysis_begins", "analysis"),
    Short("advice_planned", "advice"),
    Short("clear_called", "clear"),
    Short("shock_pressed", "shock"),
    Short("touch", "touch"),
    Short("pin_fault", "fault"),
    Short("prompted", "helped"),
    Short("swapped", "swap"),
    Short("advice_other", "other"),
    Short("pin_good", "good"),
    Short("concern", "concern"),
    Short("no_concern", "fine"),
    Short("something_else", "else"),
    Short("plan", "plan"),
)
"""What the foot names, in order of need; it holds as many as fit, and ? shows them all."""


class Caps:
    """What stands on the keys of this drill: the one registry of help and foot, from the key map in force."""

    def __init__(self, keys: Mapping[str, str], labels: Mapping[str, str] | None = None) -> None:
        self.keys = dict(keys)
        self._labels = dict(labels or {})
        self._of: dict[str, str] = {"go": "Enter"}
        for key, ident in keys.items():
            self._of.setdefault(ident, shown(key))

    def cap(self, ident: str) -> str:
        """The key cap of an id, "" where it has no key."""
        return self._of.get(ident, "")

    def label(self, ident: str) -> str:
        """What the id is called: a protocol's own words, else the vocabulary's."""
        return self._labels.get(ident) or label(ident)

    def all(self) -> list[tuple[str, str]]:
        """(caps, label) of everything that has a key, observations first; the six injects are one entry."""
        by_ident: dict[str, list[str]] = {}
        for key, ident in self.keys.items():
            by_ident.setdefault(ident, []).append(shown(key))
        injects = [by_ident.pop(ident) for ident in [f"inject_{digit}" for digit in range(1, 7)] if ident in by_ident]
        order = [*OBSERVATIONS, *CONTROLS]
        order += [ident for ident in by_ident if ident not in OBSERVATIONS and ident not in CONTROLS]
        made = [(" ".join(by_ident[ident]), self.label(ident)) for ident in order if ident in by_ident]
        if injects:
            made.append((" ".join(caps[0] for caps in injects), "throw or answer"))
        return made


def name_of(event: events.Key) -> str | None:
    """The key's name as key maps spell it, :data:`ALT` for Alt and a key, None for what is no press of its own.

    Caps lock changes no meaning. A modifier alone is reported by some terminals and is not a key of a drill.
    """
    key = event.key
    if key in MODIFIER_FUNCTIONAL_KEYS or key in _LOCKS:
        return None
    if key.startswith("alt+"):
        return ALT
    if len(key) == 1:
        return key.lower()
    if key.startswith("shift+") and len(key) == len("shift+") + 1:
        return key[-1]
    return _OURS.get(key, key)


class TakesKeys:
    """What a screen that takes every key offers. The drill screen is one."""

    def take_key(self, event: events.Key) -> None:
        """A key, however it came, before anything else sees it."""
        raise NotImplementedError

    def take_paste(self, event: events.Paste) -> None:
        """A paste: one event, whatever stands in it."""
        raise NotImplementedError

    def take_focus(self, lost: bool, event: events.Event) -> None:
        """The terminal lost or got the keyboard."""
        raise NotImplementedError


def route(app: App[Any], event: events.Event) -> bool:
    """For ``App.on_event``: hand the event to the screen in front if it takes all keys. True where it is used up.

    Nothing of the stock dispatch (bindings, focus, tab order, quit) runs for a key that is used up. A change of focus
    goes on to the app as well.
    """
    if not isinstance(event, (events.Key, events.Paste, events.AppBlur, events.AppFocus)):
        return False
    if not app.screen_stack:
        return False
    screen = app.screen
    if not isinstance(screen, TakesKeys):
        return False
    if isinstance(event, events.Key):
        if not event.is_forwarded:
            screen.take_key(event)
        return True
    if isinstance(event, events.Paste):
        screen.take_paste(event)
        return True
    screen.take_focus(isinstance(event, events.AppBlur), event)
    return False


def foot_entries(caps: Caps) -> tuple[tuple[str, str], ...]:
    """(cap, word) of what the foot would show, in order of need."""
    return tuple((caps.cap(entry.ident), entry.word) for entry in FOOT if caps.cap(entry.ident))
