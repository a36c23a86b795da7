"""Renew the digests by which shipped local files pin their bases and parts: ``python -m tests.pins``.

Whoever changes a base or a part runs this, reads what it says was touched, and looks at those files with ``kneeside
compare`` before committing: a pin says that somebody saw what it stands on.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

from coach.protocol.library import find_part, find_protocol
from coach.protocol.overlay import effective, is_overlay
from coach.protocol.problems import FileProblems
from coach.protocol.reading import digest
from coach.resources import data_dir

PIN = re.compile(
    r'^id = "(?P<id>[^"]+)"\nversion = "(?P<version>[^"]*)"\ndigest = "(?P<digest>[0-9a-f]*)"$', re.MULTILINE
)
"""A pin as the shipped files write it: three lines, in this order."""


def local_files() -> list[Path]:
    """Every shipped file that stands over a base, and the worked example."""
    shipped = [path for path in sorted(data_dir("protocols").glob("*/*.toml")) if path.parent.name != "scenarios"]
    return [
        path for path in (*shipped, *sorted(data_dir("demo").glob("*.toml"))) if is_overlay(path.read_text("utf-8"))
    ]


def in_force(ident: str, renewed: set[Path]) -> tuple[str, str]:
    """Version and digest of a base or a part as it is now; a base's own pins are renewed first."""
    if ident.startswith("parts/"):
        text = find_part(ident).path.read_text("utf-8")
    else:
        path = find_protocol(ident).path
        text = path.read_text("utf-8")
        if is_overlay(text):
            renew(path, renewed)
            text = effective(path.read_text("utf-8"), str(path), path.absolute().parent.parent).text
    found = re.search(r'^version = "([^"]*)"$', text, re.MULTILINE)
    assert found is not None, f"{ident} bears no version"
    return found.group(1), digest(text).canonical


def renew(path: Path, renewed: set[Path]) -> None:
    """Write every pin of a local file anew, those of what it stands on first."""
    if path in renewed:
        return
    renewed.add(path)
    text = path.read_text("utf-8")

    def pin(found: re.Match[str]) -> str:
        version, now = in_force(found["id"], renewed)
        return f'id = "{found["id"]}"\nversion = "{version}"\ndigest = "{now}"'

    fresh = PIN.sub(pin, text)
    if fresh != text:
        path.write_text(fresh, "utf-8")
        print(f"pinned anew: {path}")


def main() -> int:
    """Renew every pin."""
    renewed: set[Path] = set()
    try:
        for path in local_files():
            renew(path, renewed)
    except FileProblems as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
