"""What is done with a log or a key script: play, replay, verify, debrief, and the demo in lines of text."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from coach.commands.problems import is_log
from coach.commands.words import (
    FINDINGS,
    FINE,
    MISUSE,
    UNDECIDED,
    Refused,
    complain,
    read_text,
    remark,
    say,
    say_as_is,
    say_json,
    write_text,
)

if TYPE_CHECKING:
    from coach.drill.script import Script
    from coach.drill.setup import Setup

DEMO = "first-drill.txt"


def play(file: Path, folder: Path) -> int:
    """Play a key script into a log; the last line printed is the log's path.

    A script gives the same log every time, so one that lies there already is left as it is; another file of its name
    is never overwritten.
    """
    from coach.drill import play as room
    from coach.drill.choosing import setup_for
    from coach.drill.script import read_script

    script = read_script(read_text(file), str(file))
    setup = room.setup_of(script, setup_for)
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".playing-", dir=folder) as aside:
        played = room.play(script, setup, Path(aside))
        path = folder / played.name
        if not path.exists():
            played.replace(path)
        elif path.read_bytes() != played.read_bytes():
            raise Refused("another log of this name is there", where=str(path), todo="Name another folder.")
    say(str(path))
    return FINE


def verify(path: Path, json: bool) -> int:
    """Whether the log is whole; the first line that does not fit is named."""
    from coach.log.reading import verify as check

    found = check(path)
    if json:
        say_json({"ok": found.ok, "line": found.line, "what": found.what, "sealed": found.sealed, "torn": found.torn})
    elif found.ok:
        say(f"{path}: {found.what}")
    else:
        where = f"{path}: line {found.line}" if found.line else str(path)
        complain(f"{where}: {found.what}")
    if found.ok:
        return FINE
    return FINDINGS if is_log(path) else MISUSE


def replay(path: Path, json: bool) -> int:
    """Fold the log again, and compare every digest that it holds with the fold's. A difference under another meaning of
    the engine decides nothing."""
    from coach.drill.replay import replay as again
    from coach.engine.machine import SEMANTICS
    from coach.log.reading import read_log

    found = again(read_log(path))
    differs = found.differs
    # A line's number in the file is one more than its seq: the header is line 1.
    line = None if differs is None else differs.seq + 1
    if json:
        say_json(
            {
                "same": found.same,
                "compared": found.compared,
                "engine": {"log": found.engine, "program": SEMANTICS},
                "seconds": round(found.e / 1000, 3),
                "line": line,
                "logged": None if differs is None else differs.logged,
                "found": None if differs is None else differs.folded,
            }
        )
    elif differs is None:
        say(f"{path}: {found.compared} states, all the same to the digest")
    else:
        complain(
            f"{path}: line {line}: the log says the state {differs.logged[:12]}, the replay finds {differs.folded[:12]}"
        )
    if differs is not None and found.other_engine:
        remark(
            f"The log was made with meaning {found.engine} of the engine, and this program has {SEMANTICS}: that they"
            " differ says nothing against the log. kneeside verify tells whether it is whole."
        )
        return UNDECIDED
    return FINE if found.same else FINDINGS


def debrief(path: Path, form: str, also: str, out: Path | None) -> int:
    """The page of a log in one form, printed or written to a file; HTML can stand in a second language too."""
    from coach.debrief.forms import FORMS
    from coach.debrief.from_log import debrief_of
    from coach.log.reading import read_log

    record = read_log(path)
    if also and form != "html":
        raise Refused("only the HTML page can stand in two languages", todo="add --as html, or leave --also out")
    page = debrief_of(record)
    if also:
        from coach.debrief.html_form import as_html

        text = as_html(page, debrief_of(record, also))
    else:
        text = FORMS[form](page)
    for problem in record.problems:
        remark(f"{path}: {problem}")
    if out is None:
        say_as_is(text)
    else:
        write_text(out, text)
        say(str(out))
    return FINE


def demo_script() -> tuple[Script, Setup]:
    """The demo's key script and its set-up."""
    from coach.drill.choosing import setup_for
    from coach.drill.play import setup_of
    from coach.drill.script import read_script
    from coach.resources import data_dir

    script = read_script(read_text(data_dir("demo") / DEMO), DEMO)
    return script, setup_of(script, setup_for)


def tell_demo(script: Script, setup: Setup) -> int:
    """Play the demo, and print it line by line, then its debrief."""
    from coach.commands.telling import tell
    from coach.debrief.forms import FORMS
    from coach.debrief.from_log import debrief_of
    from coach.drill.play import play as play_script
    from coach.log.history import fold
    from coach.log.reading import read_log

    with tempfile.TemporaryDirectory() as folder:
        record = read_log(play_script(script, setup, Path(folder)))
    history = fold(record, setup.protocol)
    say("\n".join(tell(history, history.happened(), setup.protocol, setup.language)))
    say()
    say_as_is(FORMS["text"](debrief_of(record)))
    return FINE
