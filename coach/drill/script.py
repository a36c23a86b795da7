"""Key scripts: a drill as plain text, one key a line, for demos, golden logs and notes taken on paper.

::

    # protocol: erc-2025/adult-one-rescuer
    # scenario: brackhaven/fruit-stall
    # counting: each
    0.00   go
    6.00   u
    52.4   inject vomit
    55.0   seen unit_arrived
    61.0   advice shock
    152.00 z
    152.40 z
    160.0  said who_where collapse_time

Instead of a scenario a script can give facts alone: ``# facts: chest = "wet", patch = true``. Times are seconds from go
and never go back. Anything that is no known word is a key: one character, a name, or
a chord, which no drill expects.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from coach.keys import NAMED_KEYS, key_name
from coach.text import clean, nearest
from coach.units import exact

HEADERS = (
    "protocol",
    "scenario",
    "facts",
    "counting",
    "mode",
    "unit",
    "language",
    "learner",
    "assessor",
    "role",
    "seed",
    "kit",
    "reason",
    "attempt",
    "starts_from",
    "expects",
)
VERBS = ("go", "inject", "seen", "advice", "said", "focus", "paste")
"""The words that are no key."""
ADVICE = {"shock": "shock_advised", "no_shock": "no_shock_advised"}
MAX_BYTES = 1_000_000


@dataclass(frozen=True, slots=True)
class Stroke:
    """One line: at ``at`` ms since go, ``verb`` (``go``, ``key``, ``inject``, ``seen``, ``advice``, ``said``,
    ``focus``, ``paste``) with its words; ``line`` is where it stands."""

    at: int
    verb: str
    words: tuple[str, ...]
    line: int


@dataclass(frozen=True, slots=True)
class Script:
    """A whole key script. ``expects`` in its header (``pass``, or ids of findings) makes it a golden one: it says what
    its debrief has to hold. ``header_lines`` has the line of each header, ``name`` is what a message calls it."""

    headers: dict[str, str]
    strokes: tuple[Stroke, ...]
    text: str
    header_lines: dict[str, int] = field(default_factory=dict)
    name: str = "key script"


class ScriptProblem(ValueError):
    """A key script that cannot be played: every mistake, each with its line."""

    def __init__(self, name: str, problems: list[tuple[int, str]]) -> None:
        self.name = name
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{name}, line {line}: {what}" for line, what in problems))


def read_script(text: str, name: str = "key script") -> Script:
    """Read a key script. Raises :class:`ScriptProblem` with all mistakes at once."""
    problems: list[tuple[int, str]] = []
    headers: dict[str, str] = {}
    header_lines: dict[str, int] = {}
    strokes: list[Stroke] = []
    if len(text.encode("utf-8", "replace")) > MAX_BYTES:
        raise ScriptProblem(name, [(1, f"longer than {MAX_BYTES} bytes: no drill has so many keys")])
    for number, raw in enumerate(clean(text).splitlines(), 1):
        line = raw.strip()
        if line.startswith("#"):
            key, colon, value = line.lstrip("#").partition(":")
            key = key.strip().lower()
            if colon and key in HEADERS:
                headers[key] = value.strip()
                header_lines[key] = number
            elif colon and not strokes and " " not in key and (near := nearest(key, HEADERS)):
                problems.append((number, f'unknown header "{key}": did you mean "{near}"?'))
            continue
        if not line:
            continue
        stroke = _stroke(line, number, problems)
        if stroke is None:
            continue
        if strokes and stroke.at < strokes[-1].at:
            problems.append((number, f"time goes back: {stroke.at / 1000:g} s after {strokes[-1].at / 1000:g} s"))
        strokes.append(stroke)
    if not any(stroke.verb == "go" for stroke in strokes):
        problems.append((1, 'there is no "go": begin with "0.00 go"'))
    if problems:
        raise ScriptProblem(name, sorted(problems))
    return Script(headers, tuple(strokes), text, header_lines, name)


def _stroke(line: str, number: int, problems: list[tuple[int, str]]) -> Stroke | None:
    words = line.split("#")[0].split()
    if not words:
        return None
    try:
        at = int(exact(words[0]) * 1000)
    except ValueError:
        problems.append((number, f'"{words[0]}" is no time: write seconds from go, such as 12.50, then a key'))
        return None
    if len(words) == 1:
        problems.append((number, "a time without a key"))
        return None
    verb, rest = words[1], tuple(words[2:])
    if verb == "advice":
        if len(rest) != 1 or rest[0] not in ADVICE:
            problems.append((number, "advice is shock or no_shock"))
            return None
    elif verb in ("inject", "seen", "paste", "focus"):
        if len(rest) != 1:
            problems.append((number, f"{verb} takes one word"))
            return None
    elif verb in ("go", "said"):
        pass
    elif rest:
        near = nearest(verb, VERBS)
        hint = f': did you mean "{near}"?' if near else ""
        problems.append((number, f'one key a line: "{" ".join(words[1:])}"{hint}'))
        return None
    elif len(verb) > 1 and "+" not in verb and key_name(verb) is None:
        near = nearest(verb, (*NAMED_KEYS, *VERBS))
        hint = f'did you mean "{near}"?' if near else "write one character, or a name such as space or enter"
        problems.append((number, f'no key is called "{verb}": {hint}'))
        return None
    else:
        verb, rest = "key", (verb,)
    return Stroke(at, verb, rest, number)
