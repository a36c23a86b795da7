"""How somebody wants to rehearse: what the command line, the line mode and the screen hand on to each other."""

from __future__ import annotations

from typing import Literal, NamedTuple

Part = Literal["decisions", "pads", "tempo", "progress"]


class Wishes(NamedTuple):
    """``protocol`` "" for the usual one; ``language`` "" for the settings'; ``seed`` None for the day's own; ``most``
    None for the day's usual number; ``sensitive`` draws stories of children, pregnancy and overdose too."""

    protocol: str = ""
    part: Part = "decisions"
    language: str = ""
    typed: bool = False
    limits: bool = True
    seed: int | None = None
    most: int | None = None
    sensitive: bool = False
