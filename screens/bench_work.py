"""What the bench's pages have worked out on a thread: comparison, coverage, golden scripts; and a new local file."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from coach.protocol.library import NotFound, load_pads
from coach.protocol.model import Pads, Protocol
from coach.protocol.overlay import effective
from coach.resources import user_dir
from screens.bench_pages import Tell

if TYPE_CHECKING:
    from coach.check.golden.walk import Walk
    from coach.check.proof.story import Story

Job = Callable[[Path, str, Tell], str]

BAR = 24


def folder_of(path: Path) -> Path:
    """Where the bases of a file are looked for first."""
    return path.absolute().parent.parent


def _bar(tell: Tell, what: str) -> Callable[[int, int], None]:
    def steps(done: int, of: int) -> None:
        full = BAR * done // max(of, 1)
        tell(f"{what} {'█' * full}{'░' * (BAR - full)} {done} of {of}")

    return steps


def scripted(path: Path, text: str, tell: Tell) -> str:
    """Play the golden scripts."""
    from coach.check.golden.scripts import as_text, play_scripts

    whole = effective(text, path.name, folder_of(path))
    played = list(play_scripts(path, whole.protocol, whole.text, _bar(tell, "scripts")))
    if not played:
        return f"There are no golden key scripts. Put some in scripts/{path.stem} beside the file."
    return as_text(path.name, whole.protocol, played)


def covered(path: Path, text: str, tell: Tell) -> str:
    """Coverage by golden scripts and random learners."""
    from coach.check.golden.coverage import coverage
    from coach.check.golden.scripts import play_scripts
    from coach.check.golden.shared import drills

    folder = folder_of(path)
    whole = effective(text, path.name, folder)
    played = play_scripts(path, whole.protocol, whole.text, _bar(tell, "scripts"))
    histories = [one.history for one in played if one.history is not None]
    histories += drills(whole.protocol, whole.text)
    return coverage(whole, path.name, text, histories, folder=folder, progress=_bar(tell, "learners")).text()


def compared(path: Path, text: str, tell: Tell) -> str:
    """Compare with the version in force: the copy kept when it was approved, else the library's file, else the base of
    a local file."""
    from coach.check.compare.words import compare
    from coach.protocol.approved import to_compare_with

    folder = folder_of(path)
    new = effective(text, path.name, folder).protocol
    found = to_compare_with(path, text, folder, date.today())
    if found is None:
        return f"No version of {new.id} stands approved here, and no other file has its id: nothing to compare with."
    old = found.protocol
    comparison = compare(
        old,
        new,
        old_pads=_pads(old, folder),
        new_pads=_pads(new, folder),
        progress=lambda what, count: tell(f"{what}: {count}"),
    )
    return f"{found.words}\n\n{comparison.text()}"


def _pads(protocol: Protocol, folder: Path) -> Pads | None:
    try:
        return load_pads(protocol.pads, folder)[0] if protocol.pads else None
    except NotFound:
        return None


def walk(path: Path, text: str, story: Story | None) -> Walk:
    """The file, ready to be walked. Raises FileProblems, or ValueError where the story does not fit any more."""
    from coach.check.golden.walk import Walk

    folder = folder_of(path)
    return Walk(effective(text, path.name, folder), path.name, text, folder, story)


def local_file(path: Path, text: str) -> Path:
    """A new small file over the one at ``path``, in the person's own folder: the pin, and nothing changed yet. One that
    is there already is opened as it is. Raises FileProblems or OSError."""
    whole = effective(text, path.name, folder_of(path))
    base = whole.protocol
    made = user_dir() / "protocols" / "local" / f"{path.stem}.toml"
    if made.exists():
        return made
    title = base.title.get("en") or base.id
    body = f"""# A local file over {base.id}: say only what differs, each thing by its id, and why.
#   kneeside flatten FILE      the whole protocol in force

format = 1
id = "local/{path.stem}"
version = "1"
title = "{title.replace(chr(34), chr(39))}, local"

[approval]
status = "draft"
author = ""

[extends]
id = "{base.id}"
version = "{base.version}"
digest = "{whole.digest}"
"""
    made.parent.mkdir(parents=True, exist_ok=True)
    made.write_text(body, encoding="utf-8", newline="\n")
    return made
