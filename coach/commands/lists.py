"""What is at hand, and where: protocols, scenarios, mistakes in files, places in use."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from coach.commands.words import FINDINGS, FINE, MISUSE, Refused, complain, say, say_json, table


def protocols(json: bool) -> int:
    """Print every protocol within reach; one that cannot be read is listed with how many mistakes it has."""
    from coach.drill.setup import words_of
    from coach.protocol.approval import approval_state
    from coach.protocol.library import list_protocols
    from coach.protocol.problems import FileProblems

    found: list[dict[str, Any]] = []
    for entry in list_protocols():
        about: dict[str, Any] = {"id": entry.id, "where": entry.where, "path": str(entry.path)}
        try:
            whole = entry.in_force()
        except FileProblems as error:
            about |= {"title": "", "guidance": "", "version": "", "approval": "", "problems": len(error.problems)}
        else:
            read = whole.protocol
            about |= {
                "title": words_of(read.title, "en"),
                "guidance": read.guidance,
                "version": read.version,
                "approval": approval_state(read, whole.text, date.today()).word,
                "problems": 0,
            }
        found.append(about)
    if json:
        say_json(found)
        return FINE
    rows = [("id", "guidance", "version", "approval", "title")]
    for about in found:
        broken = f"cannot be used, {about['problems']} mistakes: kneeside read {about['path']}"
        rows.append(
            (
                about["id"],
                f"after {about['guidance']}" if about["guidance"] else "",
                about["version"],
                about["approval"],
                broken if about["problems"] else about["title"],
            )
        )
    say(table(rows))
    say("No body has endorsed any of these. A draft has to be read and signed before it is used in a test.")
    return FINE


def scenarios(json: bool) -> int:
    """Print every scenario within reach, without its rhythm."""
    from coach.drill.setup import words_of
    from coach.protocol.library import list_scenarios
    from coach.protocol.problems import FileProblems
    from coach.protocol.reading import read_scenario

    found: list[dict[str, Any]] = []
    for entry in list_scenarios():
        about: dict[str, Any] = {"id": entry.id, "where": entry.where, "path": str(entry.path)}
        try:
            read = read_scenario(entry.path)
        except FileProblems as error:
            about |= {"title": "", "rescuers": None, "sensitive": None, "suits": [], "problems": len(error.problems)}
        else:
            about |= {
                "title": words_of(read.title, "en"),
                "rescuers": read.rescuers,
                "sensitive": read.sensitive,
                "suits": list(read.suits),
                "problems": 0,
            }
        found.append(about)
    if json:
        say_json(found)
        return FINE
    rows = [("id", "rescuers", "title")]
    for about in found:
        broken = f"cannot be used, {about['problems']} mistakes: kneeside read {about['path']}"
        title = about["title"] + (" (sensitive)" if about["sensitive"] else "")
        rows.append((about["id"], str(about["rescuers"] or ""), broken if about["problems"] else title))
    say(table(rows))
    return FINE


def kind_of(text: str) -> str:
    """What a file means to be, by its own tables: ``protocol``, ``part``, ``scenario`` or ``pads``; a broken one by
    its looks."""
    lines = [line.strip() for line in text.splitlines()]
    head = itertools.takewhile(lambda line: not line.startswith("["), lines)
    if any(line.replace(" ", "").startswith('id="parts/') for line in head):
        return "part"
    if any(line.startswith("[track.") for line in lines):
        return "protocol"
    if any(line.replace(" ", "").startswith("story=") or line == "[story]" for line in lines):
        return "scenario"
    return "pads" if "[[rule]]" in lines else "protocol"


def asks_for_protocol(path: Path, text: str) -> None:
    """Refuse a file that means to be something else than a protocol, in one line and not by each of its members."""
    kind = kind_of(text)
    if kind != "protocol":
        todo = "Name a protocol that takes it." if kind == "part" else "kneeside protocols lists what is at hand."
        raise Refused(f"is a {kind} file, and a protocol is asked for", where=str(path), todo=todo)


def protocol_file(name: str) -> tuple[Path, str]:
    """The file of a protocol by name or path, and its own text; refused where it means to be something else. Raises
    NotFound or FileProblems."""
    from coach.protocol.library import find_protocol
    from coach.protocol.reading import read_text

    path = find_protocol(name).path
    text = read_text(path)
    asks_for_protocol(path, text)
    return path, text


def read(files: Sequence[Path], json: bool) -> int:
    """Read each file and print every mistake in it; 1 if there is any, 2 if a file is no readable text at all."""
    from coach.protocol.overlay import read_part
    from coach.protocol.problems import FileProblems, Problem
    from coach.protocol.reading import notices, read_pads, read_protocol, read_scenario, read_text

    problems: list[Problem] = []
    code = FINE
    for path in files:
        name = str(path)
        try:
            kind = kind_of(read_text(path, name))
        except FileProblems as error:
            problems += error.problems
            code = MISUSE
            continue
        try:
            if kind == "protocol":
                read_protocol(path, name)
                problems += notices(path, name)
            elif kind == "part":
                read_part(read_text(path, name), name)
            elif kind == "scenario":
                read_scenario(path, name)
            else:
                read_pads(path, name)
        except FileProblems as error:
            problems += error.problems
            code = max(code, FINDINGS)
        else:
            if not json:
                say(f"{name}: reads as a {kind} file")
    if json:
        say_json([problem.as_dict() for problem in problems])
    else:
        for problem in problems:
            complain(str(problem))
    return code


def where(json: bool) -> int:
    """Print the folders and files in use."""
    from coach.protocol.approved import approved_dir
    from coach.protocol.problems import FileProblems
    from coach.resources import data_dir, user_dir
    from coach.settings import home_folder, read_settings, settings_path

    try:
        home = home_folder(read_settings())
    except FileProblems:  # where that file is, is what somebody who mends it asks
        home = user_dir()
    places = {
        "settings": settings_path(),
        "logs": home / "drills",
        "own_protocols": user_dir() / "protocols",
        "approved_copies": approved_dir(),
        "shipped_protocols": data_dir("protocols"),
        "demo": data_dir("demo"),
    }
    if json:
        say_json({name: str(path) for name, path in places.items()})
        return FINE
    rows = [
        (name.replace("_", " "), str(path), "" if path.exists() else "(not there yet)") for name, path in places.items()
    ]
    say(table(rows))
    return FINE
