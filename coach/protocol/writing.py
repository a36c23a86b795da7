"""Protocols, scenarios and pads files back to TOML: reading what is written gives the same value again."""

from __future__ import annotations

from typing import Any

import tomli_w

from coach.protocol.model import Authored


def write(authored: Authored) -> str:
    """The TOML text of a protocol, scenario or pads file.

    Meaning is kept, not the author's comments and layout: defaults are left out, durations are written with their
    unit, wording as a table of languages, names as lists.
    """
    return tomli_w.dumps(_without_none(authored.model_dump(by_alias=True, exclude_defaults=True)))


def _without_none(value: Any) -> Any:
    """The dumped value without ``None``, which TOML cannot say."""
    if isinstance(value, dict):
        return {key: _without_none(item) for key, item in value.items() if item is not None}
    return [_without_none(item) for item in value] if isinstance(value, list) else value
