"""What a word of a protocol file or of the checker means: ``kneeside explain``."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from coach.commands.words import FINE, Refused, say, say_json, table
from coach.text import nearest, one_line

WIDTH = 100
"""The width of the page."""

WORDS = {
    "rule": "[[rule]], what must hold in every run and the checker proves",
    "finding": "[[finding]], what the debrief finds in a drill",
    "pass": "[pass], what a sign-off asks for",
    "guard": "when, the condition of an arrow, a step, an inject",
    "observations": "what on and done may name",
    "change": "[change] of a local file or a part, what reads otherwise than in the base",
    "add": "[add] of a local file or a part, what the base has not",
    "extends": "[extends] of a local file, exactly which base it stands over",
    "with": "[[with]] of a local file, exactly which parts it takes",
    "key-script": "a key script, a drill as text",
}
"""What is told of in a text of its own, beside the tables of :mod:`coach.protocol.reference`."""

PASS = """
A pass asks that each critical step of the learner's was independent, and that no more faults stand than
`critical_faults`, `major_faults` and `minor_faults` allow (0 critical ones; the others are not counted where their word
is left out). `targets` names targets that must be kept, past their own error; `criteria` published rules by name.
`by_eye = "never"`: depth, release and hands are impressions, and never part of it. `say` is what a pass may claim.

What is missing is confirmed before it counts, kit and team fail nobody, and a drill in mode teach signs nobody off.
"""


CHANGE = """
`change` and `add` repeat the tables of a protocol as deep as the thing that differs, each by its id, and name only the
members that differ. What `change` names must be in the base, what `add` names must not. Rules, findings and what an
inject forbids are lists in a protocol, and are addressed by their ids here.

Of a rule `change` may touch `say` and `source` alone: what it asks is changed by `relax`. An arrow that has no id is
told by where it stands (`where`). An arrow comes in by `insert`, before or after another; `remove` takes away.
"""

CHANGES = {
    "change": """
[change.timers.remind]
after = "8 s"

[change.track.rescuer.step.look.cue]
en = "Look at the chest."
""",
    "add": """
[add.finding.gap-on-stairs]
over = { target = "gap" }
severity = "minor"
say = "Hands off while carrying."
source = "local"
""",
}

PINS = {
    "extends": """
A base is named by its id, version and digest, and only the one that fits all three is taken. Where the base has
changed, reading the file prints the digest to write; then read what it changes before anybody signs (kneeside compare
FILE).
""",
    "with": """
A part is pinned as a base is. Parts are laid on in the order in which they stand, after the base and before the file.
""",
}


def explain(word: str, json: bool) -> int:
    """Print what a code of the checker or a table of a file means; without a word, all of them."""
    from coach.check.explain import CODES
    from coach.measure.rules import KINDS
    from coach.protocol.reference import PLACES

    word = "" if word == "all" else "finding" if word in KINDS else word  # the forms of a finding stand with it
    known = (*CODES, *PLACES, *WORDS)
    if word and word not in known:
        near = nearest(word, known) or ""
        raise Refused(f"nothing here is called {one_line(word)}", near=near, todo="kneeside explain lists all.")
    if json:
        codes = [{"code": one, **about._asdict()} for one, about in CODES.items() if word in ("", one)]
        say_json(
            codes if word in CODES else [*codes, *(_as_table(one) for one in (*PLACES, *WORDS) if word in ("", one))]
        )
    elif word in CODES:
        about = CODES[word]
        say(f"{word} ({about.level})\n{about.title}\n")
        say(_paragraphs(about.help))
    elif word:
        say("\n".join(_told(_as_table(word))))
    else:
        say(
            table([("code", "level", "what it is"), *((one, about.level, about.title) for one, about in CODES.items())])
        )
        places = [(name, written) for name, (written, _) in PLACES.items()]
        say(f"\n{table([('in a file', 'what it is'), *places, *WORDS.items()])}")
    return FINE


def _as_table(word: str) -> dict[str, Any]:
    """A table of a file, or one of :data:`WORDS`, as its members."""
    from coach.protocol.reference import PLACES, table_of

    if word in PLACES:
        made = table_of(word)
        return {**made._asdict(), "members": [one._asdict() for one in made.members]}
    members = table_of("pin").members if word in PINS else ()
    about = {"name": word, "written": WORDS[word], "about": _about(word)}
    return {**about, "members": [one._asdict() for one in members]}


def _about(word: str) -> str:
    from coach.protocol.reference import plain_words

    if word == "pass":
        return _paragraphs(plain_words(PASS))
    if word in CHANGES:
        return f"{_paragraphs(plain_words(CHANGE))}\n{CHANGES[word].rstrip()}"
    if word in PINS:
        return plain_words(PINS[word])
    if word == "key-script":
        return _key_script()
    if word == "observations":
        from coach.observations import OBSERVATIONS

        rows = [(one.id, one.key or "", one.by, one.label) for one in OBSERVATIONS.values()]
        listed = table([("id", "key", "whose", "label"), *rows])
        return f"Whoever watches marks them; a key that is empty is reached by J or an inject.\n\n{listed}"
    if word == "rule":
        from coach.check.proof import rules as room
    elif word == "finding":
        from coach.measure import rules as room  # type: ignore[no-redef]
    else:
        from coach.protocol import guard_text as room  # type: ignore[no-redef]
    text = room.__doc__ or ""
    if word == "guard":  # its first paragraph says how it is read, and not what
        text = text.partition("\n\n")[2]
    return text.replace("``", "`").replace("::\n\n", "").strip()


def _key_script() -> str:
    from coach.drill import script

    text = (script.__doc__ or "").replace("``", "`").replace("::\n\n", "").strip()
    verbs = (
        "go, KEY, inject NAME, seen OBSERVATION, advice shock or no_shock, said ITEM ..., focus in or out, paste TEXT"
    )
    headers = _paragraphs(f"Headers: {', '.join(script.HEADERS)}.")
    return f"{text}\n\n{_paragraphs(f'What may stand behind a time: {verbs}.')}\n\n{headers}"


def _told(made: dict[str, Any]) -> Iterator[str]:
    yield f"{made['name']}: {made['written']}\n"
    yield _paragraphs(made["about"]) if made["members"] else made["about"]
    if made["members"]:
        rows = [(one["name"], f"{one['what']}{'; needed' if one['needed'] else ''}") for one in made["members"]]
        yield f"\n{table([('member', 'what it may be'), *rows])}"


def _paragraphs(text: str) -> str:
    parts = text.split("\n\n")
    return "\n\n".join(textwrap.fill(part, WIDTH, break_long_words=False, break_on_hyphens=False) for part in parts)
