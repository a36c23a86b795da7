"""What is done with protocol files as wholes: flatten, compare, draw, sign, print."""

from __future__ import annotations

import json as jsonlib
import os
import sys
import tempfile
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.commands.words import (
    FINDINGS,
    FINE,
    UNDECIDED,
    Refused,
    complain,
    existing,
    remark,
    say,
    say_json,
    write_text,
)

if TYPE_CHECKING:
    from coach.check.verdicts import RuleVerdict
    from coach.protocol.model import Pads, Protocol


class _Meter:
    """Progress on standard error, where a person watches."""

    def __init__(self) -> None:
        self._on = sys.stderr.isatty()

    def tell(self, what: str, count: int) -> None:
        """Say how far it is, on one line that is written over."""
        if self._on and count % 500 == 0:
            sys.stderr.write(f"\r\x1b[K{what}: {count}")

    def done(self) -> None:
        """Take the line away."""
        if self._on:
            sys.stderr.write("\r\x1b[K")


def _loaded(name: str) -> tuple[Protocol, str]:
    from coach.protocol.library import load_protocol

    return load_protocol(name)


def _pads(protocol: Protocol) -> Pads | None:
    from coach.protocol.library import NotFound, load_pads

    try:
        return load_pads(protocol.pads)[0] if protocol.pads else None
    except NotFound:
        return None


# --- flatten ----------------------------------------------------------------------------------------------------------


def flatten(name: str, derived: bool) -> int:
    """Print the whole protocol in force as TOML, with comments that say what which file changed."""
    from coach.protocol.library import find_protocol
    from coach.protocol.overlay import effective_text, flattened
    from coach.protocol.positions import Path as Place
    from coach.protocol.reading import read_protocol, read_text

    path = find_protocol(name).path
    text, folder = read_text(path), path.absolute().parent.parent
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


def compare(old: str, new: str, json: bool, pairs: int | None) -> int:
    """Compare two protocols, in words or as JSON."""
    from coach.check.compare_runs import PAIRS
    from coach.check.compare_words import compare as compared

    before, after = _loaded(old)[0], _loaded(new)[0]
    meter = _Meter()
    try:
        found = compared(
            before,
            after,
            old_pads=_pads(before),
            new_pads=_pads(after),
            limit=pairs or PAIRS,
            progress=meter.tell,
        )
    finally:
        meter.done()
    if json:
        say_json(found.as_dict())
    else:
        say(found.text())
    if found.differs:
        return FINDINGS
    return FINE if found.decided else UNDECIDED


# --- map --------------------------------------------------------------------------------------------------------------


def draw(name: str, form: str, findings: Path | None, out: Path | None) -> int:
    """Draw a protocol, the findings of a check marked on it."""
    from coach.check.picture import as_text, diagrams
    from coach.check.picture_forms import as_dot, as_mermaid
    from coach.check.picture_svg import as_svg

    protocol = _loaded(name)[0]
    if form == "scxml" and findings is not None:
        raise Refused("SCXML has no marks for findings", where=str(findings), todo="Leave --findings out, or --as svg")
    found = diagrams(protocol, _findings(findings) if findings is not None else ())
    if form == "scxml":
        from coach.check.scxml import as_scxml
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


# --- approve and print ------------------------------------------------------------------------------------------------


def approve(
    path: Path, *, role: str, reason: str, effective: str, review_due: str, status: str, today: date | None = None
) -> int:
    """Write an approval, or another state, into a protocol file; refused, with every reason, where it may not be."""
    from coach.protocol.library import load_protocol
    from coach.protocol.reading import read_text
    from coach.protocol.signing import NotApproved, move_on
    from coach.protocol.signing import approve as signed

    path = existing(path).resolve()
    text, folder, day = read_text(path, str(path)), path.parent.parent, today or date.today()
    refusals = _unsound(path, text) if status in ("approved", "checked") else []
    try:
        if status == "approved":
            changed = signed(
                text,
                str(path),
                folder,
                role=role,
                reason=reason,
                effective_from=effective,
                review_due=review_due,
                today=day,
            )
        else:
            changed = move_on(text, str(path), folder, status=status, reason=reason, today=day)
    except NotApproved as refused:
        refusals = [*refused.reasons, *refusals]
    if refusals:
        for line in refusals:
            complain(line)
        remark(f"Nothing was written to {path}.")
        return FINDINGS
    _replace(path, changed)
    protocol = load_protocol(str(path))[0]
    say(f"{path}: {protocol.id} {protocol.version} is {status}.")
    if status == "approved":
        say(f"Signed: {protocol.approval.digest}, in force from {effective}, review due {review_due}.")
    return FINE


def _unsound(path: Path, text: str) -> list[str]:
    """Why the checker does not let this file pass; what it cannot decide does not pass either."""
    from coach.check.whole import check_file

    meter = _Meter()
    try:
        found = check_file(text, str(path), folder=path.parent.parent, progress=meter.tell)
    finally:
        meter.done()
    # how the present approval stands is what signing is about to change
    failing = [one for one in found.findings if one.counts and one.code != "approval"]
    said = [f"check: {one}" for one in failing]
    said += [
        f"check: the rule {rule.rule.id} is {rule.kind}"
        for rule in found.rules
        if rule.kind in ("not decided", "vacuous", "broken")
    ]
    if found.whole_graph is False:
        said.append("check: a limit was hit before all was known")
    return said


def _replace(path: Path, text: str) -> None:
    """Put ``text`` in the file's place in one go; its rights stay."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    aside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        aside.chmod(path.stat().st_mode & 0o7777)
        aside.replace(path)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise


def sheet(name: str, form: str, out: Path | None, proved: bool) -> int:
    """Print the approval sheet of a protocol, with the checker's verdicts unless they are not asked for."""
    from coach.check.sheet import as_html, as_markdown
    from coach.check.sheet import sheet as made
    from coach.check.whole import check_file

    protocol, text = _loaded(name)
    verdicts: dict[str, RuleVerdict] = {}
    if proved:
        meter = _Meter()
        try:
            verdicts = {one.rule.id: one for one in check_file(text, protocol.id, progress=meter.tell).rules}
        finally:
            meter.done()
    page = made(protocol, text, verdicts, date.today())
    drawn = as_html(page) if form == "html" else as_markdown(page)
    if out is None:
        say(drawn)
    else:
        write_text(out, f"{drawn}\n")
    return FINE
