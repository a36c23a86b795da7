"""Golden key scripts: drills as plain text that a protocol must judge as their authors say.

They lie in ``scripts/<name of the file>/*.txt`` beside the protocol file, and each says in its header what its debrief
has to hold::

    # expects: pass                 no critical and no major finding
    # expects: late-clear, omitted  these findings, and no critical or major one besides

A local file over a base is played by its base's scripts too, nearest base first; one of its own with the same name
takes the place of the base's. It may well judge a base's script otherwise, since it is there to differ: that is told
and fails nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap
from typing import Any, Literal, NamedTuple

from coach.drill.choosing import setup_with
from coach.drill.play import play_in_memory, setup_of
from coach.drill.script import Script, ScriptProblem, read_script
from coach.engine.plan import PlanProblem
from coach.keys import KeyClash
from coach.log.history import History, fold
from coach.log.reading import Record
from coach.measure.findings import Finding
from coach.measure.report import conclude, measure
from coach.measure.rules import rules_of
from coach.protocol.library import NotFound, find_protocol
from coach.protocol.model import Protocol
from coach.protocol.names import arrows
from coach.protocol.problems import FileProblems
from coach.protocol.reading import read_text
from coach.text import clean, nearest, one_line

FOLDER = "scripts"
PASS = "pass"
WIDTH = 100
"""Columns that a list of names is wrapped to."""
GRAVE = ("critical", "major")
"""Findings of these grades that a script does not expect make it fail; milder ones are no reason to write them all."""

Verdict = Literal["as expected", "otherwise", "unplayable"]


@dataclass(frozen=True, slots=True)
class GoldenScript:
    """A script file; ``of`` is the id of the base that it belongs to, "" for the protocol's own."""

    path: Path
    of: str = ""

    @property
    def name(self) -> str:
        """What people call it."""
        return self.path.stem


class Differs(NamedTuple):
    """One thing that is not as expected, at a line of the script (1 where none is nearer)."""

    line: int
    what: str


@dataclass(frozen=True, slots=True)
class Played:
    """What came of one script. ``expected`` are the ids in its header (none for ``pass``), ``found`` all findings of
    its debrief, the gravest first; ``history`` the drill folded, None where it could not be played."""

    script: GoldenScript
    verdict: Verdict
    expected: tuple[str, ...]
    found: tuple[Finding, ...]
    differs: tuple[Differs, ...]
    history: History | None = None

    @property
    def fails(self) -> bool:
        """Whether its author must look: one of the protocol's own that is not as expected."""
        return self.verdict != "as expected" and not self.script.of

    def as_dict(self) -> dict[str, Any]:
        """The outcome as plain values, for JSON."""
        return {
            "script": clean(str(self.script.path)),
            "of_base": self.script.of or None,
            "verdict": self.verdict,
            "expected": list(self.expected) or [PASS],
            "found": [
                {"id": one.rule, "step": one.step or None, "severity": one.severity, "to_confirm": one.to_confirm}
                for one in self.found
            ],
            "differs": [{"line": one.line, "what": clean(one.what)} for one in self.differs],
        }


def scripts_for(path: Path, protocol: Protocol) -> list[GoldenScript]:
    """The scripts of a protocol file: its own by name, then those of its bases that it has not replaced."""
    found: dict[str, GoldenScript] = {script.stem: GoldenScript(script) for script in _in(path)}
    folder = path.absolute().parent.parent
    for pin in protocol.made_from:
        try:
            base = find_protocol(pin.id, folder).path
        except NotFound:  # a part: it has no scripts of its own
            continue
        for script in _in(base):
            found.setdefault(script.stem, GoldenScript(script, pin.id))
    return list(found.values())


def _in(path: Path) -> list[Path]:
    return sorted((path.absolute().parent / FOLDER / path.stem).glob("*.txt"))


def play_scripts(
    path: Path,
    protocol: Protocol,
    text: str,
    progress: Callable[[int, int], None] | None = None,
) -> Iterator[Played]:
    """Play every script of the protocol file at ``path``, one after the other; ``text`` is the whole protocol in force.
    ``progress`` hears how many of how many are done."""
    scripts = scripts_for(path, protocol)
    for number, script in enumerate(scripts):
        if progress is not None:
            progress(number, len(scripts))
        yield play_script(script, protocol, text, path.absolute().parent.parent)


def play_script(golden: GoldenScript, protocol: Protocol, text: str, folder: Path | None = None) -> Played:
    """Play one script against a protocol, in memory. ``folder`` is searched for its scenario before all others."""
    name = one_line(golden.path.name)
    try:
        script = read_script(read_text(golden.path), name)
    except ScriptProblem as problem:
        return _unplayable(golden, [Differs(*one) for one in problem.problems])
    except FileProblems as problem:
        return _unplayable(golden, [Differs(1, one.what) for one in problem.problems])
    at = script.header_lines.get("expects", 1)
    wanted = _expected(script)
    if wanted is None:
        what = 'it does not say what it expects: add "# expects: pass", or ids of findings, to its header'
        return _unplayable(golden, [Differs(at, what)])
    try:
        setup = setup_of(script, lambda _, scenario: setup_with(protocol, text, scenario, folder))
        record = play_in_memory(script, setup)
    except ScriptProblem as problem:
        return _unplayable(golden, [Differs(*one) for one in problem.problems], wanted)
    except (PlanProblem, NotFound, KeyClash) as problem:
        return _unplayable(golden, [Differs(script.header_lines.get("scenario", 1), str(problem))], wanted)
    except FileProblems as problems:  # the scenario
        line = script.header_lines.get("scenario", 1)
        return _unplayable(golden, [Differs(line, str(one)) for one in problems.problems], wanted)
    history = fold(record, protocol)
    found = findings_of(record, history, protocol)
    differs = [*_missing(wanted, found, protocol, at), *_besides(wanted, found, script, record, at)]
    verdict: Verdict = "otherwise" if differs else "as expected"
    return Played(golden, verdict, wanted, found, tuple(sorted(differs)), history)


def findings_of(record: Record, history: History, protocol: Protocol) -> tuple[Finding, ...]:
    """What the debrief of a drill holds, the gravest first."""
    happened = history.happened()
    return conclude(measure(happened, protocol, record.header), happened, protocol, record.header).findings


def known_findings(protocol: Protocol) -> list[str]:
    """The ids of all findings that a protocol can make."""
    found = [rule.id for rule in rules_of(protocol)]
    found += [place.arrow.fault.id for place in arrows(protocol) if place.arrow.fault is not None]
    for inject in protocol.inject.values():
        found += [forbidden.fault.id for forbidden in inject.forbidden]
        found += [inject.late.id] if inject.late is not None else []
    return list(dict.fromkeys(found))


def _unplayable(golden: GoldenScript, differs: Sequence[Differs], expected: tuple[str, ...] = ()) -> Played:
    return Played(golden, "unplayable", expected, (), tuple(differs))


def _expected(script: Script) -> tuple[str, ...] | None:
    """The ids that a script expects, none for ``pass``; None where it does not say."""
    words = [word for word in script.headers.get("expects", "").replace(",", " ").split() if word]
    if not words:
        return None
    return () if words == [PASS] else tuple(dict.fromkeys(words))


def _named(one: Finding) -> tuple[str, ...]:
    """What a script may call a finding: its rule, and for one about a step also ``rule:step``."""
    return (one.rule, f"{one.rule}:{one.step}") if one.step else (one.rule,)


def _missing(wanted: Sequence[str], found: Sequence[Finding], protocol: Protocol, at: int) -> Iterator[Differs]:
    held = {name for one in found for name in _named(one)}
    for ident in wanted:
        if ident in held:
            continue
        known = known_findings(protocol)
        rule, _, step = ident.partition(":")
        near = nearest(rule, known) if rule not in known else None
        beside = "" if rule in known else ", which this protocol never finds"
        also = f"; did you mean {near}{':' if step else ''}{step}?" if near else ""
        yield Differs(at, f"expected {ident}{beside}, and the debrief does not hold it{also}")


def _besides(
    wanted: Sequence[str], found: Sequence[Finding], script: Script, record: Record, at: int
) -> Iterator[Differs]:
    for one in found:
        if one.severity in GRAVE and not set(_named(one)) & set(wanted):
            name = _named(one)[-1]
            confirm = ", to be confirmed" if one.to_confirm else ""
            yield Differs(_line_of(one, script, record, at), f"found {name} ({one.severity}{confirm}): {one.say}")


def _line_of(one: Finding, script: Script, record: Record, otherwise: int) -> int:
    """The line of the script that made a finding: the last one played at or before the log's line it rests on."""
    if not one.events or not 0 < one.events[0] <= len(record.lines):
        return otherwise
    begun = next(stroke.at for stroke in script.strokes if stroke.verb == "go")
    t = record.lines[one.events[0] - 1]["t"]
    return max((stroke.line for stroke in script.strokes if stroke.at - begun <= t), default=otherwise)


# --- for people -------------------------------------------------------------------------------------------------------


def as_text(file: str, protocol: Protocol, played: Sequence[Played]) -> str:
    """What came of the scripts of one file, for people. Those of a base that do not play here are told in one line."""
    out = [file, f"{protocol.id}, version {protocol.version}: {counted(played)}"]
    for one in played:
        if _elsewhere(one):
            continue
        expected = ", ".join(one.expected) or "pass"
        base = f"  (of {one.script.of})" if one.script.of else ""
        word = {"as expected": "as expected", "otherwise": "OTHERWISE", "unplayable": "UNPLAYABLE"}[one.verdict]
        if one.script.of and one.verdict == "otherwise":
            word = "otherwise than its base"
        out.append(f"  {one_line(one.script.name)}: {word}, {one_line(expected)}{base}")
        out += [f"      line {differs.line}: {one_line(differs.what)}" for differs in one.differs]
    gone = [one_line(one.script.name) for one in played if _elsewhere(one)]
    if gone:
        what = "1 script of its bases does" if len(gone) == 1 else f"{len(gone)} scripts of its bases do"
        line = f"{what} not play here (--json says why): {', '.join(gone)}"
        out += wrap(line, WIDTH, initial_indent="  ", subsequent_indent="      ", break_on_hyphens=False)
    return "\n".join(out)


def _elsewhere(one: Played) -> bool:
    """A base's script for a story, an inject or a key that this file does not have: nothing for its author to do."""
    return one.verdict == "unplayable" and bool(one.script.of)


def counted(played: Sequence[Played]) -> str:
    """How many there are, and how many came out as their authors say."""
    if not played:
        return "no golden key scripts"
    own = [one for one in played if not one.script.of]
    inherited = [one for one in played if one.script.of and not _elsewhere(one)]
    gone = sum(map(_elsewhere, played))
    parts = [_so_many(own, "golden key scripts")] if own else []
    parts += [_so_many(inherited, "of its bases")] if inherited else []
    parts += [f"{gone} of its bases {'does' if gone == 1 else 'do'} not play here"] if gone else []
    return "; ".join(parts)


def _so_many(played: Sequence[Played], what: str) -> str:
    return f"{sum(one.verdict == 'as expected' for one in played)} of {len(played)} {what} as expected"
