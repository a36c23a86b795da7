"""Which key means what in a drill: defaults, a protocol's own wishes and a person's settings, without a clash."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.layouts import boards_where_neighbours
from coach.observations import CONTROLS, KEY_ALIASES, OBSERVATIONS, label

if TYPE_CHECKING:
    from coach.protocol.model import Protocol

NAMED_KEYS = frozenset(
    {"space", "enter", "escape", "tab", "backspace", "delete", "insert", "home", "end", "page_up", "page_down"}
    | {"up", "down", "left", "right"}
    | {f"f{number}" for number in range(1, 13)}
)
"""Keys that have a name instead of a character. Chords are no keys of a drill: hands are gloved and busy."""

_TERMINAL_NAMES = {
    "solidus": "slash",
    "reverse_solidus": "backslash",
    "commercial_at": "at",
    "hyphen_minus": "minus",
    "plus_sign": "plus",
    "low_line": "underscore",
}


def _character_name(character: str) -> str:
    """What the terminal layer calls a character that is neither letter nor digit; "" for one without a name."""
    name = (
        unicodedata.name(character, "").lower().replace("-", "_").replace(" ", "_") if character.isprintable() else ""
    )
    return _TERMINAL_NAMES.get(name, name)


_ASCII_NAMES = frozenset(_character_name(chr(code)) for code in range(33, 127) if not chr(code).isalnum())
_MUST_HAVE = {"stop": "a drill must have a key that stops it", "end": "a drill must have a key that ends it"}
_SHOWN = {
    "space": "Space",
    "enter": "Enter",
    "escape": "Esc",
    "tab": "Tab",
    "backspace": "Backspace",
    "comma": ",",
    "full_stop": ".",
    "equals_sign": "=",
    "question_mark": "?",
    "minus": "-",
    "slash": "/",
    "semicolon": ";",
    "apostrophe": "'",
}


@dataclass(frozen=True, slots=True)
class KeyChoice:
    """One wish: the key that an id shall have, and where that is written. An empty key takes the id's key away."""

    ident: str
    key: str
    where: str


class KeyClash(ValueError):
    """The wishes do not go together. The message names the keys, what they mean and where each is written."""


def key_name(text: str) -> str | None:
    """The terminal's name of a key from what a person writes (``"."``, ``"Esc"``, ``"F5"``); ``""`` stays empty.

    ``None`` for what is no single plain key: chords, words that name no key, characters that no board has alone.
    """
    if text == "":
        return ""
    word = KEY_ALIASES.get(text, text) if len(text) == 1 else text.strip().lower().replace(" ", "_").replace("-", "_")
    word = KEY_ALIASES.get(word, word)
    if word in NAMED_KEYS:
        return word
    if len(word) == 1:
        if word.isalnum():
            return word.lower() if len(word.lower()) == 1 else None
        word = _character_name(word)
    named = _TERMINAL_NAMES.get(word, word)
    if named in _ASCII_NAMES:
        return named
    try:
        unicodedata.lookup(named.replace("_", " "))
    except KeyError:
        return None
    return named


def shown(key: str) -> str:
    """A key's name as a key cap shows it: ``Space``, ``B``, ``,``."""
    return _SHOWN.get(key) or (key.upper() if len(key) == 1 else key.replace("_", " ").capitalize())


def protocol_choices(protocol: Protocol) -> tuple[KeyChoice, ...]:
    """What a protocol file wishes: the keys of its own observations, then its ``[keys]`` table (key -> id)."""
    wishes = [(ident, own.key) for ident, own in protocol.observations.items() if own.key is not None]
    wishes += [(ident, key) for key, ident in protocol.keys.items()]
    choices: list[KeyChoice] = []
    for ident, wish in wishes:
        key = key_name(wish)
        if key is None:
            raise KeyClash(f'{protocol.id}: "{wish}" (for {ident}) is not a key that a drill can use')
        choices.append(KeyChoice(ident, key, f"protocol {protocol.id}"))
    return tuple(choices)


def merge(
    protocol: Iterable[KeyChoice], settings: Iterable[KeyChoice], own: frozenset[str] = frozenset()
) -> dict[str, str]:
    """One map, key name -> id. For each id the settings beat the protocol and the protocol beats the default.

    ``own`` are the protocol's own observations; a wish for an id that this drill does not know is left out. Raises
    :class:`KeyClash`.
    """
    known = {entry.id: entry.key or "" for entry in OBSERVATIONS.values()}
    known |= {control.id: control.key for control in CONTROLS.values()} | dict.fromkeys(own, "")
    chosen: dict[str, list[KeyChoice]] = {
        ident: [KeyChoice(ident, key, "built in")] if key else [] for ident, key in known.items()
    }
    for layer in (protocol, settings):
        wishes: dict[str, list[KeyChoice]] = {}
        for choice in layer:
            if choice.ident in known:
                wishes.setdefault(choice.ident, []).append(choice)
        chosen.update(wishes)
    taken: dict[str, KeyChoice] = {}
    clashes: list[str] = []
    for choice in (choice for choices in chosen.values() for choice in choices if choice.key):
        other = taken.setdefault(choice.key, choice)
        if other.ident != choice.ident:
            clashes.append(
                f'the key {shown(choice.key)} would mean both "{label(other.ident)}" ({other.ident}, {other.where}) '
                f'and "{label(choice.ident)}" ({choice.ident}, {choice.where}): give one of them another key'
            )
    clashes += [f"{why}: {ident} has none" for ident, why in _MUST_HAVE.items() if ident not in _idents(taken)]
    clashes += _too_near(taken)
    if clashes:
        raise KeyClash("\n".join(clashes))
    return {key: choice.ident for key, choice in taken.items()}


def _idents(taken: dict[str, KeyChoice]) -> set[str]:
    return {choice.ident for choice in taken.values()}


def _too_near(taken: dict[str, KeyChoice]) -> list[str]:
    """Clear and shock on neighbouring keys: one slip would be written down as a critical fault of the learner."""
    clear = [choice for choice in taken.values() if choice.ident == "clear_called"]
    shock = [choice for choice in taken.values() if choice.ident == "shock_pressed"]
    return [
        f"{shown(one.key)} (clear called, {one.where}) and {shown(other.key)} (shock pressed, {other.where}) are "
        f"neighbours on {', '.join(boards)}: a slip would look like a shock without a clear"
        for one in clear
        for other in shock
        if (boards := boards_where_neighbours(one.key, other.key))
    ]
