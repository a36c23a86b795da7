"""Which drills were made with a protocol: for whoever must be told when it is withdrawn."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.log.header import Header
from coach.log.lines import LogProblem
from coach.log.reading import MAX_LINE, read_log


@dataclass(frozen=True, slots=True)
class Use:
    """One drill that a protocol was used for. ``learner`` and ``assessor`` are ids, "" where nobody was named; ``wall``
    is UTC, ISO 8601; ``approval`` is how the protocol stood then. ``result`` is the last sign-off (``pass``,
    ``not-yet``, ``safety``), "" without one, ``signed_by`` and ``signed_on`` who signed and when. ``trouble`` says why
    the rest of the log cannot be believed, "" where it can."""

    path: Path
    drill: str
    wall: str
    learner: str
    assessor: str
    mode: str
    version: str
    digest: str
    approval: str
    result: str = ""
    signed_by: str = ""
    signed_on: str = ""
    trouble: str = ""

    def as_dict(self) -> dict[str, Any]:
        """The drill as plain values, for JSON."""
        return {
            "log": str(self.path),
            "drill": self.drill,
            "wall": self.wall,
            "learner": self.learner or None,
            "assessor": self.assessor or None,
            "mode": self.mode,
            "version": self.version,
            "digest": self.digest,
            "approval": self.approval,
            "result": self.result or None,
            "signed_by": self.signed_by or None,
            "signed_on": self.signed_on or None,
            "trouble": self.trouble or None,
        }


def heads(folders: Iterable[Path]) -> Iterator[tuple[Path, Mapping[str, Any]]]:
    """The logs in some folders with their first lines, not yet checked; what has no such line is no log."""
    for folder in folders:
        try:
            paths = sorted(path for path in folder.iterdir() if path.suffix == ".jsonl" and path.is_file())
        except OSError:
            continue
        for path in paths:
            try:
                with path.open("rb") as file:
                    head = json.loads(file.readline(MAX_LINE))
            except (OSError, ValueError, RecursionError):
                continue
            if isinstance(head, dict) and head.get("kind") == "header":
                yield path, head


def uses_of(ident: str, folders: Iterable[Path]) -> tuple[Use, ...]:
    """Every drill that was made with a protocol of that id, whatever its text was then, in the order of time. One that
    lies in two folders is told once."""
    found: dict[tuple[str, str], Use] = {}
    for path, head in heads(folders):
        try:
            header = Header.from_dict(head)
        except ValueError:
            continue
        if header.protocol.id == ident:
            found.setdefault((header.drill, header.wall), _use(path, header))
    return tuple(sorted(found.values(), key=lambda use: (use.wall, use.drill)))


def _use(path: Path, header: Header) -> Use:
    signed: Mapping[str, Any] = {}
    trouble = ""
    try:
        for line in read_log(path).lines:
            signed = line if line["kind"] == "signoff" else signed
    except LogProblem as problem:
        trouble = str(problem)
    of = header.protocol
    return Use(
        path,
        header.drill,
        header.wall,
        "" if header.learner == "none" else header.learner,
        header.assessor,
        header.mode,
        of.version,
        of.digest,
        of.approval,
        str(signed.get("result", "")),
        str(signed.get("who", "")),
        str(signed.get("wall", "")),
        trouble,
    )
