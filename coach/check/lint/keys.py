"""Lint of keys: clashes, keys that a drill cannot use, clear beside shock."""

from __future__ import annotations

from coach.check.lint.sheet import Sheet
from coach.keys import KeyChoice, KeyClash, key_name, merge
from coach.protocol.positions import Path


def lint_keys(sheet: Sheet) -> None:
    """Report keys of the file's own that do not go together with the others or with each other."""
    protocol = sheet.protocol
    wishes: list[tuple[Path, str, str]] = [
        (("observations", name, "key"), name, own.key)
        for name, own in protocol.observations.items()
        if own.key is not None
    ]
    wishes += [(("keys", key), ident, key) for key, ident in protocol.keys.items()]
    choices: list[KeyChoice] = []
    own = frozenset(protocol.observations)
    for path, ident, wish in wishes:
        key = key_name(wish)
        if key is None:
            sheet.add("key-conflict", path, f"`{wish}` is not a key that a drill can use", "name one plain key")
            continue
        choices.append(KeyChoice(ident, key, f"line {sheet.where(path)[0].line}"))
        try:
            merge(choices, (), own)
        except KeyClash as clash:
            for what in str(clash).split("\n"):
                sheet.add("key-conflict", path, what, "choose a key that is free and not beside the other")
            choices.pop()
