"""What notices a mutant: the lint, a golden sheet that reads otherwise, or a rule that no longer holds."""

from __future__ import annotations

import functools
from dataclasses import replace
from datetime import date
from typing import NamedTuple

from coach.check.compare import differences_of
from coach.check.compare_runs import PAIRS, Runs, compare_runs
from coach.check.heard import goldens, heard, played
from coach.check.lint import failing, lint
from coach.check.whole import check_file
from coach.drill.script import Script
from coach.drill.setup import Setup
from coach.protocol.library import find_protocol
from coach.protocol.model import Protocol
from tests.mutants.making import Mutant, changed

TODAY = date(2026, 11, 25)
"""The day on which dates in the files are judged."""


class Result(NamedTuple):
    """``caught`` names what noticed it, "" for nothing; ``differs`` is how behaviour differs: ``differ``, ``same`` or
    ``not decided``, "" where nobody asked because a sheet or a rule shows that it does."""

    mutant: Mutant
    caught: str
    differs: str = ""


class Catcher:
    """One shipped protocol with its golden sheets."""

    def __init__(self, ident: str) -> None:
        entry = find_protocol(ident)
        whole = entry.in_force()
        self.ident = ident
        self.protocol: Protocol = whole.protocol
        self.text = whole.text
        self._sheets = [(one, *played(one), one.sheet.read_text(encoding="utf-8")) for one in goldens(ident)]

    def sheet(self, protocol: Protocol, text: str) -> str:
        """The first golden sheet that reads otherwise under a protocol, by name; the one that helped last is first."""
        for place, (golden, script, setup, expected) in enumerate(self._sheets):
            if _hears(script, setup, protocol, text) != expected:
                self._sheets.insert(0, self._sheets.pop(place))
                return golden.sheet.stem
        return ""

    def look(self, mutant: Mutant, compared: bool = True) -> Result:
        """What notices a mutant. ``compared``: where no run shown so far differs, a comparison looks for one."""
        text = changed(self.text, mutant)
        found = lint(text, "mutant.toml", today=TODAY)
        named = [one.code for one in failing(found.findings)]
        if found.protocol is None or found.rules is None:
            return Result(mutant, f"lint {named[0]}", "does not read")
        sheet = self.sheet(found.protocol, text)
        if sheet:
            return Result(mutant, f"lint {named[0]}" if named else f"golden {sheet}")
        if not named:
            broken = _rules(text)
            if broken:
                return Result(mutant, broken)
        caught = f"lint {named[0]}" if named else ""
        return Result(mutant, caught, self.compared(found.protocol).kind if compared else "")

    def compared(self, protocol: Protocol, limit: int = PAIRS) -> Runs:
        """How a mutant's behaviour differs from the shipped one's; ``limit`` as in ``compare_runs``."""
        return compare_runs(self.protocol, protocol, differences_of(self.protocol, protocol), limit=limit)


@functools.cache
def catcher(ident: str) -> Catcher:
    return Catcher(ident)


def _rules(text: str) -> str:
    """The first rule that a text breaks or leaves without meaning."""
    checked = check_file(text, "mutant.toml", today=TODAY)
    named = failing(checked.findings)
    if named:
        return f"{named[0].code} {named[0].subject}"
    return "rule not decided" if checked.undecided else ""


def _hears(script: Script, setup: Setup, protocol: Protocol, text: str) -> str:
    return "\n".join(heard(script, replace(setup, protocol=protocol, protocol_text=text))) + "\n"
