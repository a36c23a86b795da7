"""What notices a mutant: the lint, a golden sheet that reads otherwise, a golden script that is judged otherwise, or a
rule that no longer holds."""

from __future__ import annotations

import functools
from dataclasses import replace
from datetime import date
from typing import NamedTuple

from coach.check.compare.alike import BOUND
from coach.check.compare.parts import differences_of
from coach.check.compare.runs import compare_runs
from coach.check.golden.heard import NOT_HERE, Golden, goldens, heard, played
from coach.check.golden.scripts import GoldenScript, play_script, scripts_for
from coach.check.lint.file import failing, lint
from coach.check.states.classes import Limit
from coach.check.whole import check_file
from coach.drill.script import Script
from coach.drill.setup import Setup
from coach.protocol.library import find_protocol
from coach.protocol.model import Protocol
from tests.mutants.making import Mutant, changed

TODAY = date(2026, 11, 25)
"""The day on which dates in the files are judged."""


SHORT = (300, Limit(3_000, 60.0))
LONG = (1_000, BOUND)
"""Pairs of states and classes of a short comparison and of the one that the command makes: what is near is found by
either, and what the second does not decide a longer one seldom does."""


class Result(NamedTuple):
    """``caught`` names what noticed it, "" for nothing; ``differs`` is how behaviour differs: ``differ``, ``same`` or
    ``not decided``, "" where nobody asked because a sheet or a rule shows that it does."""

    mutant: Mutant
    caught: str
    differs: str = ""


class Catcher:
    """One shipped protocol with its golden sheets and scripts."""

    def __init__(self, ident: str) -> None:
        entry = find_protocol(ident)
        whole = entry.in_force()
        self.ident = ident
        self.protocol: Protocol = whole.protocol
        self.text = whole.text
        self._sheets = [
            (one, *played(one.script, self.protocol, self.text), one.kept())
            for one in goldens(ident)
            if one.unlike != NOT_HERE
        ]
        self._folder = entry.path.absolute().parent.parent
        every = scripts_for(entry.path, self.protocol)  # a file over a base may judge a base's script otherwise
        self._scripts = [one for one in every if self._as_expected(one, self.protocol, self.text)]

    def sheet(self, protocol: Protocol, text: str) -> str:
        """The first golden sheet that reads otherwise under a protocol, by name; the one that helped last is first."""
        for place, (golden, script, setup, expected) in enumerate(self._sheets):
            if _told(golden, script, setup, protocol, text) != expected:
                self._sheets.insert(0, self._sheets.pop(place))
                return golden.sheet.stem
        return ""

    def script(self, protocol: Protocol, text: str) -> str:
        """The first golden script that a protocol judges otherwise than it says, by name; as with the sheets."""
        for place, golden in enumerate(self._scripts):
            if not self._as_expected(golden, protocol, text):
                self._scripts.insert(0, self._scripts.pop(place))
                return golden.name
        return ""

    def _as_expected(self, golden: GoldenScript, protocol: Protocol, text: str) -> bool:
        return play_script(golden, protocol, text, self._folder).verdict == "as expected"

    def look(self, mutant: Mutant, hasty: bool = False) -> Result:
        """What notices a mutant. Where no sheet, script or rule shows that it runs otherwise, a comparison looks for a
        run that does. ``hasty``: a short one, none where the lint names the mutant, and where it finds no run, neither
        scripts nor rules are asked."""
        text = changed(self.text, mutant)
        found = lint(text, "mutant.toml", today=TODAY)
        named = [one.code for one in failing(found.findings)]
        caught = f"lint {named[0]}" if named else ""
        if found.protocol is None or found.rules is None:
            return Result(mutant, caught, "does not read")
        if named and hasty:
            return Result(mutant, caught)
        if sheet := self.sheet(found.protocol, text):
            return Result(mutant, caught or f"golden {sheet}")
        differs = self._differs(found.protocol, *SHORT) if hasty else ""
        if differs not in ("", "differ"):
            return Result(mutant, "", differs)
        if script := self.script(found.protocol, text):
            return Result(mutant, caught or f"script {script}", differs)
        if not named and (broken := _rules(text)):
            return Result(mutant, broken, differs)
        return Result(mutant, caught, differs or self._differs(found.protocol, *LONG))

    def _differs(self, protocol: Protocol, pairs: int, exact: Limit) -> str:
        """How a mutant's behaviour differs from the shipped one's; the bounds are those of ``compare_runs``."""
        differences = differences_of(self.protocol, protocol)
        return compare_runs(self.protocol, protocol, differences, limit=pairs, exact=exact).kind


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


def _told(golden: Golden, script: Script, setup: Setup, protocol: Protocol, text: str) -> str:
    return golden.told("\n".join(heard(script, replace(setup, protocol=protocol, protocol_text=text))) + "\n")
