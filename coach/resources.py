"""Where the files that ship with the program stand, in a checkout, a wheel and an sdist alike."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Literal

Kind = Literal["protocols", "demo"]


def data_dir(kind: Kind) -> Path:
    """The folder of the shipped files of one kind.

    In a checkout or an editable install it stands beside ``coach/`` (told by pyproject.toml); in an installed package
    it is ``coach/_data/``. Raises FileNotFoundError, naming both places, where an install lacks it.
    """
    package = Path(__file__).resolve().parent
    beside = package.parent / kind
    if beside.is_dir() and (package.parent / "pyproject.toml").is_file():
        return beside
    inside = package / "_data" / kind
    if inside.is_dir():
        return inside
    raise FileNotFoundError(f"no shipped {kind}: neither {beside} nor {inside} exists")


def user_dir() -> Path:
    """The folder of the person's own files and logs: ``KNEESIDE_DATA_DIR``, or the platform's place for user data."""
    chosen = os.environ.get("KNEESIDE_DATA_DIR", "")
    if chosen:
        return Path(chosen).expanduser().absolute()
    from platformdirs import user_data_path  # only where no variable is set: it costs a start some milliseconds

    return user_data_path("kneeside", appauthor=False)
