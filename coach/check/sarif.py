"""Findings as SARIF 2.1.0 (OASIS standard), which editors and code hosts show beside the lines."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path, PurePath
from typing import Any
from urllib.parse import quote

from coach import __version__
from coach.check.explain import CODES
from coach.check.findings import Finding
from coach.text import clean

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"


def sarif(findings: Iterable[Finding]) -> dict[str, Any]:
    """One SARIF log with one run. What is waived is a result with an accepted suppression."""
    every = list(findings)
    used = [code for code in CODES if any(one.code == code for one in every)]
    return {
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [
            {
                "tool": {
                    "driver": {
                        "name": "kneeside check",
                        "version": __version__,
                        "semanticVersion": __version__,
                        "rules": [_rule(code) for code in used],
                    }
                },
                "columnKind": "unicodeCodePoints",
                "results": [_result(one, used.index(one.code)) for one in every],
            }
        ],
    }


def _rule(code: str) -> dict[str, Any]:
    about = CODES[code]
    return {
        "id": code,
        "shortDescription": {"text": about.title},
        "fullDescription": {"text": about.help},
        "help": {"text": f"{about.help} (kneeside explain {code})"},
        "defaultConfiguration": {"level": about.level},
    }


def _result(one: Finding, index: int) -> dict[str, Any]:
    lines = [f"{one.what}.", *([f"{one.help}."] if one.help else []), *one.witness]
    result: dict[str, Any] = {
        "ruleId": one.code,
        "ruleIndex": index,
        "level": one.level,
        "message": {"text": clean("\n".join(lines))},
        "locations": [
            {
                "physicalLocation": {
                    "artifactLocation": {"uri": _uri(one.where.file)},
                    "region": {"startLine": one.where.line, "startColumn": one.where.column},
                },
                **({"logicalLocations": [{"fullyQualifiedName": clean(one.about)}]} if one.about else {}),
            }
        ],
    }
    if one.waived:
        result["suppressions"] = [
            {"kind": "inSource", "status": "accepted", "justification": clean(one.waived)},
        ]
    return result


def _uri(file: str) -> str:
    """A relative reference for a relative path, else a file URI."""
    path = Path(file)
    return path.as_uri() if path.is_absolute() else quote(PurePath(file).as_posix())
