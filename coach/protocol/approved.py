"""Copies of what was approved, so that a file that is changed afterwards can still be compared with what was signed.

Each signature leaves ``approved/<guidance>/<name>/<day>-<digest>.toml`` in the person's own folder: the whole protocol
in force (of a local file: flattened) with the approval in it. A copy follows its file when that goes into force, is
superseded or withdrawn. Nothing here is ever taken for approved because it lies here: :func:`approval_state` judges a
copy as any other file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from coach.protocol.approval import ApprovalState, approval_digest, approval_state, content_digest
from coach.protocol.library import NotFound, find_protocol
from coach.protocol.model import Act, Protocol
from coach.protocol.overlay import Effective, effective, is_overlay
from coach.protocol.problems import FileProblems
from coach.protocol.reading import read_protocol, read_text
from coach.protocol.signing import with_approval
from coach.resources import user_dir
from coach.text import one_line


def approved_dir() -> Path:
    """Where the copies lie; it may not exist yet."""
    return user_dir() / "approved"


@dataclass(frozen=True, slots=True)
class Standing:
    """A protocol to hold another against: the whole protocol in force, where it lies, and how it stands."""

    path: Path
    protocol: Protocol
    text: str
    state: ApprovalState

    @property
    def words(self) -> str:
        """What it is, in a sentence."""
        ident = f"{self.protocol.id} {self.protocol.version}"
        what = f"Compared with the version in force, {ident}"
        if not self.state.sound:
            what = f"No version of it is in force here: compared with {ident}"
        return one_line(f"{what} ({self.state.why}): {self.path}")


def keep(whole: Effective) -> Path:
    """Keep a copy of what was just signed, or write an older copy of the same signature anew. Raises OSError."""
    approval = whole.protocol.approval
    folder = approved_dir() / whole.protocol.id
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{approval.approved_on}-{approval.digest[:12]}.toml"
    path.write_text(whole.text, encoding="utf-8", newline="\n")
    return path


def follow(protocol: Protocol) -> Path | None:
    """Give the copy of a file's signature the status and the reason that the file now bears; None where there is no
    copy. The file itself may have been changed since. Raises OSError or FileProblems."""
    approval = protocol.approval
    for path in _copies(protocol.id):
        text = read_text(path)
        if approval.digest and read_protocol(text, str(path)).approval.digest == approval.digest:
            fields = {"status": approval.status, "reason": approval.reason}
            known = read_protocol(text, str(path)).approval.history
            acts = approval.history[len(known) :] if approval.history[: len(known)] == known else []
            path.write_text(with_approval(text, str(path), fields, acts), encoding="utf-8", newline="\n")
            return path
    return None


def signed_before(ident: str) -> list[Act]:
    """The signatures of a protocol whose copies lie here, each as an act with the content that was signed."""
    found = []
    for _, text, protocol in _readable(ident):
        now = protocol.approval
        if now.digest == approval_digest(text, now):  # a copy that somebody changed tells nothing
            content = content_digest(text)
            found.append(
                Act(status="approved", by=now.approver, on=now.approved_on, version=protocol.version, content=content)
            )
    return found


def to_compare_with(path: Path, text: str, folder: Path | None, today: date) -> Standing | None:
    """What the protocol file at ``path`` is to be compared with: the version of it in force; else the one approved
    last; else another file of its id, or its base, as it stands. None where there is nothing but itself.

    ``folder`` is searched before all others. Raises FileProblems where the file or its base does not read.
    """
    protocol = effective(text, str(path), folder).protocol
    found = [one for one in _standings(protocol.id, today) if one.state.word != "withdrawn"]
    elsewhere = _elsewhere(protocol.id, path, folder, today)
    sound = [one for one in (*found, *elsewhere) if one.state.sound]
    if sound or found:
        return max(sound or found, key=lambda one: (one.protocol.approval.effective, one.protocol.approval.approved_on))
    if not elsewhere and is_overlay(text, str(path)) and protocol.made_from:
        elsewhere = _elsewhere(protocol.made_from[0].id, path, folder, today)
    return elsewhere[0] if elsewhere else None


def _copies(ident: str) -> list[Path]:
    return sorted((approved_dir() / ident).glob("*.toml"))


def _standings(ident: str, today: date) -> list[Standing]:
    """The copies of a protocol, with how each stands."""
    return [
        Standing(path, protocol, text, approval_state(protocol, text, today))
        for path, text, protocol in _readable(ident)
    ]


def _readable(ident: str) -> Iterator[tuple[Path, str, Protocol]]:
    """The copies of a protocol that can be read, with their texts."""
    for path in _copies(ident):
        try:
            text = read_text(path)
            yield path, text, read_protocol(text, str(path))
        except FileProblems:
            continue


def _elsewhere(ident: str, path: Path, folder: Path | None, today: date) -> list[Standing]:
    """The library's file of that id, unless it is the one at ``path`` itself."""
    try:
        there = find_protocol(ident, folder).path
        if there.resolve() == path.resolve():
            there = find_protocol(ident).path
    except NotFound:
        return []
    if there.resolve() == path.resolve():
        return []
    whole = effective(read_text(there), str(there), there.absolute().parent.parent)
    return [Standing(there, whole.protocol, whole.text, approval_state(whole.protocol, whole.text, today))]
