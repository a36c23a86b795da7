"""A short name of a state, equal on every machine and in every run."""

from __future__ import annotations

from hashlib import sha256

from coach.engine.state import State


def digest(state: State) -> str:
    """The sha256 (hex) of the state's canonical bytes: its fields are integers, words and tuples of them only, whose
    written form does not depend on hash order, locale or platform."""
    return sha256(repr(tuple(state)).encode("utf-8")).hexdigest()
