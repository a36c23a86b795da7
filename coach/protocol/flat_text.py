"""The protocol in force as TOML: every value that a local file touched bears a comment that says so."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, time
from functools import lru_cache
from typing import Any

import tomli_w

from coach.protocol.positions import Path
from coach.protocol.tree import Node, plain
from coach.text import one_line

WIDTH = 180
"""The longest inline table, in characters; a longer one gets a heading of its own."""

LONGEST_WORDING = 1_800
"""The longest inline wording: a line of a file may have 2000 characters."""

MAX_COMMENT = 300

_LANGUAGE = re.compile(r"[a-z]{2,3}(-[A-Z]{2})?")

Comment = Callable[[Path], Sequence[str]]
"""More comment lines to stand under the heading of a table, by its path."""


def flat_text(root: Node, head: Sequence[str] = (), more: Comment = lambda path: ()) -> str:
    """The tree as TOML that reads back as the same tables in the same order, under the comment lines ``head``."""
    lines = [_comment(line) for line in head]
    _table(root, (), lines, more)
    return "\n".join(lines).strip("\n") + "\n"


def _comment(text: str) -> str:
    said = one_line(text)
    return f"# {said if len(said) <= MAX_COMMENT else said[: MAX_COMMENT - 1] + '…'}"


def _noted(node: Node) -> str:
    return f"{node.layer}: {node.note}"


def _table(node: Node, path: Path, lines: list[str], more: Comment) -> None:
    later: list[tuple[str, Node]] = []
    inline = _all_inline(node)
    for key, item in node.value.items():
        if not _on_a_line(item, inline):
            later.append((key, item))
            continue
        lines.extend(_comment(_noted(each)) for each in _notes(item))
        lines.append(f"{_key(key)} = {_inline(item)}")
    for key, item in later:
        here = (*path, key)
        if item.is_rows:
            for row in item.value:
                lines.append("")
                if row.note:
                    lines.append(_comment(_noted(row)))
                lines.append(f"[[{_dotted(here)}]]")
                _table(row, here, lines, more)
            continue
        said = [_comment(line) for line in more(here)]
        inside = _all_inline(item)
        if item.note or said or not item.value or any(_on_a_line(each, inside) for each in item.value.values()):
            lines.append("")
            if item.note:
                lines.append(_comment(_noted(item)))
            lines.append(f"[{_dotted(here)}]")
            lines.extend(said)
        _table(item, here, lines, more)


def _on_a_line(node: Node, inline: bool) -> bool:
    """Whether a value stands behind its key; tables do where their neighbours all can (``inline``), and wordings."""
    return not node.is_rows and (not node.is_table or inline or _is_wording(node))


def _notes(node: Node) -> list[Node]:
    """The nodes at and under this one that bear a note, the outermost only where it stands for all."""
    if node.note or not node.is_table:
        return [node] if node.note else []
    return [each for item in node.value.values() for each in _notes(item)]


def _all_inline(node: Node) -> bool:
    """Whether all tables in this one are short enough for one line each: order then stays as it is."""
    tables = [item for item in node.value.values() if item.is_table]
    if any(item.is_rows for item in node.value.values()):
        return False  # lists of tables cannot stand on a line here, and would then come later
    return bool(tables) and all(
        not any((inside.is_table and not _is_wording(inside)) or inside.is_rows for inside in item.value.values())
        and len(_inline(item)) <= WIDTH
        for item in tables
    )


def _is_wording(node: Node) -> bool:
    return (
        node.is_table
        and bool(node.value)
        and all(_LANGUAGE.fullmatch(key) and isinstance(item.value, str) for key, item in node.value.items())
        and len(_inline(node)) <= LONGEST_WORDING
    )


def _inline(node: Node) -> str:
    return _written(plain(node))


def _written(value: Any) -> str:
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(key)} = {_written(item)}" for key, item in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list):
        items = [_written(item) for item in value]
        one = f"[{', '.join(items)}]"
        return one if len(one) <= WIDTH else "[\n" + "".join(f"  {item},\n" for item in items) + "]"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, (bool, int, float, date, datetime, time)):
        return tomli_w.dumps({"x": value}).removeprefix("x = ").removesuffix("\n")
    raise TypeError(f"TOML cannot say {type(value).__name__}")


@lru_cache(maxsize=16_384)
def _text(text: str) -> str:
    return tomli_w.dumps({"x": text}).removeprefix("x = ").removesuffix("\n")


@lru_cache(maxsize=4_096)
def _key(key: str) -> str:
    return tomli_w.dumps({key: 0}).removesuffix(" = 0\n")


def _dotted(path: Path) -> str:
    return ".".join(_key(str(part)) for part in path)
