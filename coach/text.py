"""Text that is not ours: made harmless for a terminal, for a spreadsheet and for an error message."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

_DROPPED: dict[int, str | None] = {
    **{code: None for code in range(0x20) if code not in (0x09, 0x0A)},  # C0, but for tab and newline
    **dict.fromkeys(range(0x7F, 0xA0)),  # delete and C1
    **dict.fromkeys((0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A))),  # bidi controls
    **dict.fromkeys((0x180E, 0x200B, 0x200C, 0x200D, *range(0x2060, 0x2065), 0xFEFF)),  # zero width
    **dict.fromkeys(range(0xD800, 0xE000)),  # lone surrogates: no file could hold them
    **dict.fromkeys(range(0xE0000, 0xE0080)),  # invisible tags
    0x0085: "\n",
    0x2028: "\n",
    0x2029: "\n",
}
"""What :func:`clean` takes out (or, for the rarer line ends, turns into a newline)."""

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")  # the full-width forms count too


def clean(text: str) -> str:
    """The text without control, bidirectional and zero-width characters; all else is kept as it is.

    Newline and tab stay. Cleaning twice is cleaning once.
    """
    return text.translate(_DROPPED)


def one_line(text: str) -> str:
    """The text cleaned and laid on one line, each run of blanks one space."""
    return " ".join(clean(text).split())


def csv_cell(text: str) -> str:
    """The text as a spreadsheet shows and never computes it: ``=``, ``+``, ``-`` or ``@`` in front get an apostrophe.

    Quoting of commas and quotes is the csv writer's work.
    """
    cleaned = clean(text)
    return "'" + cleaned if cleaned.lstrip(" ").startswith(_FORMULA_STARTS) else cleaned


def nearest(word: str, words: Iterable[str]) -> str | None:
    """The legal word nearest to a mistyped one, or None where none is near."""
    known = sorted(set(words))
    if len(word) > 80:  # nothing legal is that long, and the comparison costs the square of the length
        return None
    plain = word.casefold().replace("-", "_")
    folded = {entry.casefold().replace("-", "_"): entry for entry in reversed(known)}
    swapped = [entry for entry in folded if sorted(entry) == sorted(plain)]  # "no" for "on": two letters, one slip
    close = swapped or difflib.get_close_matches(plain, folded, n=1, cutoff=0.6)
    return folded[close[0]] if close else None
