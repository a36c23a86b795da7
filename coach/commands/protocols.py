"""What is done with protocol files as wholes: flatten, compare, draw."""

from __future__ import annotations

import json as jsonlib
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.commands.words import FINDINGS, FINE, UNDECIDED, Refused, existing, say, say_json, write_text
from coach.text import one_line

if TYPE_CHECKING:
    from coach.protocol.approved import Standing
    from coach.protocol.model import Pads, Protocol


def loaded(name: str) -> tuple[Protocol, str]:
    """The protocol of a file or of that name, and the whole text in force."""
    from coach.commands.lists import protocol_file
    from coach.protocol.overlay import effective

    path, text = protocol_file(name)
    whole = effective(text, str(path), path.absolute().parent.parent)
    return whole.protocol, whole.text


def _pads(protocol: Protocol) -> Pads | None:
    from coach.protocol.library import NotFound, load_pads

    try:
        return load_pads(protocol.pads)[0] if protocol.pads else None
    except NotFound:
        return None


# --- flatten ----------------------------------------------------------------------------------------------------------


def flatten(name: str, derived: bool) -> int:
    """Print the whole protocol in force as TOML, with comments that say what which file changed."""
    from coach.commands.lists import protocol_file
    from coach.protocol.overlay import effective_text, flattened
    from coach.protocol.positions import Path as Place
    from coach.protocol.reading import read_protocol

    path, text = protocol_file(name)
    folder = path.absolute().parent.parent
    if not derived:
        say(effective_text(text, str(path), folder).rstrip("\n"))
        return FINE
    protocol = read_protocol(path)

    def lent(place: Place) -> list[str]:
        return _lent(protocol, place)

    say(flattened(text, str(path), folder, lent).rstrip("\n"))
    return FINE


def _lent(protocol: Protocol, place: tuple[str | int, ...]) -> list[str]:
    """The arrows that the spine lends to a step, as comments under its heading."""
    from coach.engine.build import arrows_from

    if len(place) != 4 or place[0] != "track" or place[2] != "step":
        return []
    track, step = protocol.track[str(place[1])], str(place[3])
    own = {id(arrow) for arrow in (*track.step[step].go, *track.go)}
    return [
        f"lent by the spine: on {' / '.join(events)}{f' when {arrow.when}' if arrow.when else ''}"
        f"{f' to {arrow.to}' if arrow.to else ', stays'}"
        for arrow, events in arrows_from(track, step)
        if id(arrow) not in own
    ]


# --- compare ----------------------------------------------------------------------------------------------------------


def compare(old: str, new: str, json: bool, pairs: int | None, hear: bool) -> int:
    """Compare two protocols, in words or as JSON; of one alone (``new`` is ""), with the version of it in force.
    ``hear``: what they say on the shared key scripts too."""
    from coach.check.compare.runs import PAIRS
    from coach.check.compare.words import compare as compared
    from coach.check.golden.shared import as_text, heard_apart
    from coach.commands.check import Meter

    against = None if new else _against(old)
    before = loaded(old)[0] if against is None else against.protocol
    after = loaded(new or old)[0]
    with Meter(new or old) as meter:
        found = compared(
            before,
            after,
            old_pads=_pads(before),
            new_pads=_pads(after),
            limit=pairs or PAIRS,
            progress=meter.tell,
        )
        apart = list(heard_apart((before, ""), (after, ""), meter.steps("scripts"))) if hear else []
    if json:
        beside = {"path": str(against.path), "stands": against.state.word} if against is not None else None
        said = {"heard": [one._asdict() for one in apart]} if hear else {}
        say_json(found.as_dict() | {"compared_with": beside} | said)
    else:
        if against is not None:
            say(against.words)
        say(found.text())
        if hear:
            say("\n" + as_text(apart))
    if found.differs:
        return FINDINGS
    return FINE if found.decided else UNDECIDED


def _against(name: str) -> Standing:
    """What a protocol file is compared with where nothing is named."""
    from coach.commands.lists import protocol_file
    from coach.protocol.approved import to_compare_with

    path, text = protocol_file(name)
    found = to_compare_with(path, text, path.absolute().parent.parent, date.today())
    if found is None:
        raise Refused(
            "there is nothing to compare it with: no version of it stands approved here, and no other file has its id",
            where=one_line(name),
            todo="Name both: kneeside compare OLD NEW",
        )
    return found


# --- map --------------------------------------------------------------------------------------------------------------


def draw(name: str, form: str, findings: Path | None, out: Path | None) -> int:
    """Draw a protocol, the findings of a check marked on it."""
    from coach.check.draw.forms import as_dot, as_mermaid
    from coach.check.draw.picture import as_text, diagrams
    from coach.check.draw.svg import as_svg

    protocol = loaded(name)[0]
    if form == "scxml" and findings is not None:
        raise Refused("SCXML has no marks for findings", where=str(findings), todo="Leave --findings out, or --as svg")
    found = diagrams(protocol, _findings(findings) if findings is not None else ())
    if form == "scxml":
        from coach.check.draw.scxml import as_scxml
        from coach.engine.build import build
        from coach.engine.plan import resolve

        drawn = as_scxml(build(protocol, resolve(protocol))).rstrip("\n")
    elif form == "mermaid":
        drawn = as_mermaid(found)
    elif form == "dot":
        drawn = as_dot(found, protocol.id)
    elif form == "svg":
        drawn = as_svg(found, protocol.id).rstrip("\n")
    else:
        drawn = as_text(found)
    if out is None:
        say(drawn)
    else:
        write_text(out, f"{drawn}\n")
    return FINE


def _findings(path: Path) -> list[dict[str, Any]]:
    """The findings in a file that ``check --json`` wrote, or a plain list of them."""
    try:
        document = jsonlib.loads(existing(path).read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as error:
        raise Refused("is no JSON", where=str(path), todo="Write it with: kneeside check FILE --json") from error
    files = document.get("files", [document]) if isinstance(document, dict) else [{"findings": document}]
    rows = [
        row
        for file in (files if isinstance(files, list) else [])
        for row in (file.get("findings", []) if isinstance(file, dict) else [])
        if isinstance(file.get("findings"), list)
    ]
    if not all(isinstance(row, dict) for row in rows) or not isinstance(files, list):
        raise Refused("holds no findings", where=str(path), todo="Write it with: kneeside check FILE --json")
    return rows
