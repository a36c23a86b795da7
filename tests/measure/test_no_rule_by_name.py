"""Findings come from files: no id of a shipped rule, finding or fault stands in the measures."""

from __future__ import annotations

import ast
from pathlib import Path

import coach.measure
from coach.protocol.library import list_protocols, load_protocol


def test_no_shipped_id_stands_in_the_measures() -> None:
    ids: set[str] = set()
    for entry in list_protocols():
        protocol, _ = load_protocol(entry.id)
        ids |= {str(table["id"]) for table in (*protocol.rule, *protocol.finding)}
        for track in protocol.track.values():
            for arrow in (*track.go, *(arrow for step in track.step.values() for arrow in step.go)):
                if arrow.fault is not None:
                    ids.add(arrow.fault.id)
        for inject in protocol.inject.values():
            ids |= {one.fault.id for one in inject.forbidden}
            if inject.late is not None:
                ids.add(inject.late.id)
    assert len(ids) > 20
    folder = Path(coach.measure.__file__).parent
    written = {
        node.value
        for path in folder.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert written & ids == set()
