"""The vocabulary: what can be seen in a drill, what the instructor can do, and the default keys.

Two kinds of word stand here. An :class:`Observation` is a fact seen on the floor ("call made"); protocols speak of
observations and of nothing else. A :class:`Control` steers the record ("void the last line", "pause to teach") and no
protocol may use it. Keys map to either, one key one meaning all drill long.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

By = Literal["learner", "unit", "helper", "instructor"]


@dataclass(frozen=True, slots=True)
class Observation:
    """One thing that can be seen.

    ``key`` is the default key's name (``None``: reached by J, by an inject or by the engine only); ``label`` is what
    the screen calls it; ``verb`` is the same as an order, for rehearsal; ``by`` says whose deed it is; ``timed`` is
    true where the moment itself is measured, so that J never logs it.
    """

    id: str
    key: str | None
    label: str
    verb: str
    by: By = "learner"
    timed: bool = False


@dataclass(frozen=True, slots=True)
class Control:
    """One thing the instructor can do to the record. ``key`` and ``label`` as in :class:`Observation`."""

    id: str
    key: str
    label: str


def _vocabulary(*entries: Observation) -> dict[str, Observation]:
    return {entry.id: entry for entry in entries}


OBSERVATIONS: dict[str, Observation] = _vocabulary(
    Observation("scene_checked", None, "scene checked", "Look for danger before going near"),
    Observation("response_checked", "u", "response checked", "Speak to them and rock the shoulders"),
    Observation("call_made", "e", "call made", "Phone the emergency number, loudspeaker on"),
    Observation("not_breathing", "n", "not breathing normally", "Decide they are not breathing normally"),
    Observation("helper_sent", None, "someone sent for the unit", "Send someone for the unit"),
    Observation("compression", "space", "push", "Push on the chest", timed=True),
    Observation("hands_placed", None, "hands on", "Put the hands on the chest", timed=True),
    Observation("probe_tap", None, "probe tap", "Tap along with the pushes", by="instructor", timed=True),
    Observation("breath", "b", "breath", "Give a breath", timed=True),
    Observation("hands_lifted", "d", "hands off", "Take the hands off the chest", timed=True),
    Observation("unit_arrived", None, "unit beside them", "Bring the unit", by="helper"),
    Observation("unit_on", "o", "unit on", "Switch the unit on"),
    Observation("chest_bared", None, "chest bared", "Bare the chest"),
    Observation("chest_dried", None, "chest dried", "Wipe the chest dry"),
    Observation("hair_removed", None, "hair removed", "Clear the hair where a pad will not stick"),
    Observation("patch_removed", None, "patch removed", "Take the medicine patch off and wipe the skin"),
    Observation("pad_right", "r", "right pad", "Stick the right pad (front, if front and back)"),
    Observation("pad_left", "l", "left pad", "Stick the left pad (back, if front and back)"),
    Observation("analysis_begins", "a", "analysis begins", "Let the unit read the rhythm", by="unit", timed=True),
    Observation("shock_advised", None, "shock advised", "The unit advises a shock", by="unit", timed=True),
    Observation("no_shock_advised", None, "no shock advised", "The unit advises no shock", by="unit", timed=True),
    Observation("clear_called", "c", "clear called", "Look along the body and send everyone back", timed=True),
    Observation("shock_pressed", "enter", "shock pressed", "Press for the shock", timed=True),
    Observation("shock_delivered", None, "shock delivered", "The unit shocks by itself", by="unit", timed=True),
    Observation("touch", "t", "touch seen", "Touch the person", timed=True),
    Observation("swapped", "s", "who pushes changed", "Change who pushes"),
    Observation("rolled", None, "rolled to clear the mouth", "Roll them and clear the mouth"),
    Observation("signs_of_life", None, "signs of life", "They wake and breathe normally", by="instructor", timed=True),
    Observation("life_fades", None, "signs of life fade", "They stop breathing normally again", by="instructor"),
    Observation("recovery", "w", "turned on the side", "Turn them on their side"),
    Observation(
        "period_cut", "y", "on to the next check", "Go on to the next rhythm check", by="instructor", timed=True
    ),
    Observation("crew_arrived", None, "crew beside them", "The crew arrives", by="helper"),
    Observation("handover", "h", "handover begins", "Tell the crew what happened"),
)

DERIVED_EVENTS: dict[str, str] = {
    "hands_on": "a run of pushes began",
    "hands_off": "a run of pushes ended",
}
"""Events that the built-in ``hands`` track emits; protocols may listen to them, no key makes them."""

CONTROLS: dict[str, Control] = {
    control.id: control
    for control in (
        Control("next", "j", "expected step done"),
        Control("advice_planned", "v", "advice as planned"),
        Control("advice_other", "x", "the other advice"),
        Control("prompted", "i", "I prompted"),
        Control("pin_fault", "f", "fault, named later"),
        Control("pin_good", "g", "good, named later"),
        Control("something_else", "q", "did something else"),
        Control("concern", "k", "concern at what I look at"),
        Control("no_concern", "m", "looked, no concern"),
        Control("inject_1", "1", "throw or answer 1"),
        Control("inject_2", "2", "throw or answer 2"),
        Control("inject_3", "3", "throw or answer 3"),
        Control("inject_4", "4", "throw or answer 4"),
        Control("inject_5", "5", "throw or answer 5"),
        Control("inject_6", "6", "throw or answer 6"),
        Control("answered_wrong", "0", "answered wrongly"),
        Control("void", "backspace", "void the last"),
        Control("earlier", "comma", "half a second earlier"),
        Control("later", "full_stop", "half a second later"),
        Control("plan", "equals_sign", "show the plan, three seconds"),
        Control("pause", "p", "pause to teach"),
        Control("stop", "escape", "safety stop"),
        Control("stop_too", "tab", "safety stop"),
        Control("end", "z", "end, twice"),
        Control("audience", "minus", "clock only, for a projector"),
        Control("help", "question_mark", "keys"),
    )
}

KEY_ALIASES: dict[str, str] = {
    ".": "full_stop",
    ",": "comma",
    "=": "equals_sign",
    "?": "question_mark",
    "-": "minus",
    "esc": "escape",
    "return": "enter",
    " ": "space",
}
"""Spellings of a key's name that scripts and settings may use besides the one that the terminal layer gives."""

SETUP_OBSERVATIONS: frozenset[str] = frozenset(
    {
        "scene_checked",
        "response_checked",
        "call_made",
        "not_breathing",
        "helper_sent",
        "unit_arrived",
        "unit_on",
        "chest_bared",
        "chest_dried",
        "hair_removed",
        "patch_removed",
        "pad_right",
        "pad_left",
    }
)
"""Observations that lead up to compressions or to the first analysis; forgetting to key one must not stop a drill."""


def default_keys() -> dict[str, str]:
    """The default key map: key name -> id of an observation or of a control."""
    keys = {entry.key: entry.id for entry in OBSERVATIONS.values() if entry.key is not None}
    keys.update({control.key: control.id for control in CONTROLS.values()})
    return keys


def label(ident: str) -> str:
    """The screen's name of an observation, control or derived event; the id itself where it is a protocol's own."""
    if ident in OBSERVATIONS:
        return OBSERVATIONS[ident].label
    if ident in CONTROLS:
        return CONTROLS[ident].label
    return DERIVED_EVENTS.get(ident, ident.replace("_", " "))
