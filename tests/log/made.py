"""Lines and logs for these tests: small, but of the shape that a drill writes."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import Any

from coach.log.disk import Disk
from coach.log.header import Header, ProtocolText
from coach.log.writing import LogWriter, MemoryLog

DRILL = "20260103-101500-ab12"

HEADER = Header(
    program="0.1.0",
    engine=1,
    drill=DRILL,
    protocol=ProtocolText("erc-2025/adult", "1", "ERC 2025", "d" * 64, "draft", 'title = "Übung"\n'),
    scenario=None,
    plan={"facts": {"weight": 70_000}},
    mode="teach",
    counting="each",
    unit="floor",
    wall="2026-01-03T10:15:00Z",
    mono=12345,
)


def header(**changed: Any) -> dict[str, Any]:
    """A header line, some members changed."""
    return {**HEADER.to_dict(), **changed}


def key(t: int, name: str = "space", meant: str | None = "compression", **more: Any) -> dict[str, Any]:
    """A key that was taken at ``t``."""
    return {
        "t": t,
        "e": t,
        "kind": "key",
        "key": name,
        "meant": meant,
        "outcome": "taken",
        "via": "key",
        "lag": 0.7,
        **more,
    }


def drill_lines(presses: int = 8) -> list[dict[str, Any]]:
    """A short drill from the header to go and some presses, not yet ended."""
    return [header(), {"t": 0, "e": 0, "kind": "go"}, *(key(1000 + 550 * n) for n in range(presses))]


def end(t: int) -> dict[str, Any]:
    """The end of a drill."""
    return {"t": t, "e": t, "kind": "end", "reason": "ended", "end_t": t, "end_e": t}


def content(lines: list[dict[str, Any]]) -> bytes:
    """The bytes of these lines, chained."""
    log = MemoryLog()
    for line in lines:
        log.write(line)
    return log.content


def sealed(presses: int = 8) -> bytes:
    """The bytes of a whole drill."""
    return content([*drill_lines(presses), end(90_000)])


def save(path: Path, data: bytes) -> Path:
    """Put ``data`` at ``path``."""
    path.write_bytes(data)
    return path


def write_all(writer: LogWriter, lines: list[dict[str, Any]]) -> list[str]:
    """Write the lines; their hashes."""
    return [writer.write(line) for line in lines]


class SmallDisk(Disk):
    """A disk on which some folders take ``room`` bytes in all and no more; the rest is real."""

    def __init__(self, full: Path, room: int, *, bite: int = 1 << 30) -> None:
        self.full = full
        self.room = room
        self.bite = bite
        self.calls = 0
        self._there: dict[int, bool] = {}

    def create(self, path: Path) -> int:
        fd = super().create(path)
        self._there[fd] = path.is_relative_to(self.full)
        return fd

    def write(self, fd: int, data: bytes) -> int:
        self.calls += 1
        data = data[: self.bite]
        if self._there.get(fd):
            if not self.room:
                raise OSError(errno.ENOSPC, "No space left on device")
            data = data[: self.room]
            self.room -= len(data)
        return super().write(fd, data)
