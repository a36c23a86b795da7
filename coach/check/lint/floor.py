"""Lint of the floor of judgement: what is graded so low, or left out so, that a grave mistake goes unjudged."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from coach.check.lint.sheet import Sheet
from coach.measure.criteria import CRITERIA
from coach.measure.rules import AS_THE_STEP, KINDS
from coach.measure.targets import is_measured
from coach.protocol import guards
from coach.protocol.model import Step, Target, Track
from coach.protocol.names import BUILT_IN_FACTS, RESCUER_ROLES, plain_events
from coach.protocol.positions import Path
from coach.text import nearest
from coach.units import parse_duration

SHOCKS = {"shock_pressed", "shock_delivered"}
PUSHES = {"compression", "hands_placed"}
GRADES = ("critical", "major", "minor")


def lint_floor(sheet: Sheet) -> None:
    """Report critical steps that are never judged, the gravest steps and faults graded lower, findings that the debrief
    could not make, and roles that nobody can take."""
    _unjudged(sheet)
    _steps(sheet)
    _faults(sheet)
    _findings(sheet)
    _alike(sheet)
    _pass(sheet)
    _roles(sheet)


# --- steps ------------------------------------------------------------------------------------------------------------


def _unjudged(sheet: Sheet) -> None:
    for track_name, track in sheet.protocol.track.items():
        for name, step in track.step.items():
            if step.severity != "critical":
                continue
            path: Path = ("track", track_name, "step", name)
            if not step.required:
                what = f"the step `{name}` is critical, and required = false leaves it out of every judgement"
                sheet.add("critical-unjudged", (*path, "required"), what, "take required = false out")
            elif not step.done and (name in track.spine or _kind(track, name, step)):
                what = f"the step `{name}` is critical, and no observation does it: nobody can leave it out"
                sheet.add("critical-unjudged", path, what, "say what does it: done = …, one of those that it hears")


def _steps(sheet: Sheet) -> None:
    """The steps at which a mistake costs most, by what they wait for: the call, clear, the shock, the first push."""
    for track_name, track in sheet.protocol.track.items():
        for name, step in track.step.items():
            kind = _kind(track, name, step)
            if kind and step.severity != "critical":
                what = f"the step `{name}` is {kind}, and leaving it out is {step.severity}"
                path: Path = ("track", track_name, "step", name)
                at = (*path, "severity") if "severity" in step.model_fields_set else path
                sheet.add("severity-floor", at, what, _MEND)


_MEND = 'write severity = "critical", or waive this and say why'


def _kind(track: Track, name: str, step: Step) -> str:
    """Which of the gravest steps this is, "" for none. A step that is armed is the unit's, not the rescuer's."""
    if step.armed:
        return ""
    heard = {*step.done, *(event for arrow in step.go if arrow.to not in ("", name) for event in arrow.on)}
    if "call_made" in heard:
        return "the call"
    if "clear_called" in heard:
        return "the clear call"
    if heard & SHOCKS:
        return "the shock"
    return "the first push" if name in track.spine[1:] and set(step.done) & PUSHES else ""


# --- faults at a shock ------------------------------------------------------------------------------------------------


def _faults(sheet: Sheet) -> None:
    protocol = sheet.protocol
    for placed in sheet.arrows:
        fault = placed.arrow.fault
        if fault is not None and fault.severity != "critical" and set(placed.arrow.on) & SHOCKS:
            what = f"the fault `{fault.id}` is noted at a shock, and is {fault.severity}"
            sheet.add("severity-floor", (*placed.path, "fault", "severity"), what, _MEND)
    for name, inject in protocol.inject.items():
        for index, forbidden in enumerate(inject.forbidden):
            fault = forbidden.fault
            touched = "clear_called" in inject.allowed and set(forbidden.on) & SHOCKS
            if touched and fault.severity != "critical":
                what = (
                    f"the fault `{fault.id}` is a shock before the clear call that is asked for, and {fault.severity}"
                )
                sheet.add("severity-floor", ("inject", name, "forbidden", index, "fault", "severity"), what, _MEND)
    for index, row in enumerate(protocol.finding):
        omitted = row.get("omitted")
        if isinstance(omitted, dict) and omitted.get("severity") in ("major", "minor"):
            what = f"the finding `{row.get('id', '')}` grades every step left out as {omitted['severity']}"
            help_ = f'write severity = "{AS_THE_STEP}": a critical step that is left out is critical'
            sheet.add("severity-floor", ("finding", index, "omitted", "severity"), what, help_, side="value")
        over = row.get("hands_on_over")
        if isinstance(over, dict) and over.get("what") == "shock":
            grade = over.get("severity") or row.get("severity") or "major"
            if grade != "critical":
                what = f"the finding `{row.get('id', '')}` is about hands on the chest at a shock, and is {grade}"
                at: Path = ("finding", index, "severity") if "severity" in row else ("finding", index)
                sheet.add("severity-floor", at, what, _MEND)


# --- findings of the debrief ------------------------------------------------------------------------------------------


class _Named(NamedTuple):
    """What a table of findings names: where, the word, what there is, and what such a thing is called."""

    path: Path
    word: str
    legal: list[str]
    kind: str


def _findings(sheet: Sheet) -> None:
    """Tables that the debrief could not use, or would take for another: it passes over them in silence."""
    protocol = sheet.protocol
    seen: set[str] = set()
    for index, row in enumerate(protocol.finding):
        path: Path = ("finding", index)
        name = str(row.get("id", index + 1))
        if name in seen:
            what = f"another finding has the id `{name}`"
            sheet.add("finding-twice", (*path, "id"), what, "give it an id of its own", side="value")
        seen.add(name)
        kind = next((kind for kind in KINDS if isinstance(row.get(kind), dict)), None)
        if kind is None:
            what = f"the finding `{name}` asks for nothing that the debrief knows"
            sheet.add("finding-idle", path, what, f"one of {', '.join(KINDS)} is needed")
            continue
        _words(sheet, path, row, _ROW, f"the finding `{name}`")
        _words(sheet, (*path, kind), row[kind], _FORMS[kind], f"`{kind}`")
        for one in _named(sheet, (*path, kind), kind, row[kind]):
            if one.word not in one.legal:
                what = f"the finding `{name}` asks for {one.kind} that is not there: `{one.word}`"
                near = nearest(one.word, one.legal)
                help_ = f"did you mean `{near}`?" if near else f"one of {', '.join(one.legal[:12])} is needed"
                sheet.add("finding-idle", one.path, what, help_, side="value")
        if kind == "late":
            _without_limit(sheet, name, (*path, kind, "steps"), _list(row[kind].get("steps", [])))
        _when(sheet, name, (*path, "when"), str(row.get("when", "")))
        if kind == "absent":
            _no_time(sheet, name, (*path, kind), row[kind].get("over"))
        if kind in ("over", "under", "outside"):
            _unbounded(sheet, name, kind, (*path, kind), row[kind])
        for at, table in ((path, row), ((*path, kind), row[kind])):
            grade = str(table.get("severity", AS_THE_STEP))
            if grade not in (*GRADES, AS_THE_STEP):
                near = nearest(grade, GRADES)
                help_ = f"did you mean `{near}`?" if near else f"one of {', '.join(GRADES)} is needed"
                what = f"the finding `{name}` has a severity that there is not: `{grade}`"
                sheet.add("finding-grade", (*at, "severity"), what, help_, side="value")


def _when(sheet: Sheet, name: str, path: Path, text: str) -> None:
    """The condition of a finding, which is asked after the drill: facts alone are left to ask then."""
    if not text:
        return
    protocol = sheet.protocol
    facts = {**protocol.facts, **BUILT_IN_FACTS}
    waiting, asked = [text], set[str]()
    while waiting:
        try:
            tests = list(guards.tests(guards.parse(waiting.pop())))
        except guards.GuardProblem as problem:
            what = f"the condition of the finding `{name}` does not read: {problem.what}"
            sheet.add("finding-idle", path, what, problem.todo, side="value")
            return
        for test in tests:
            word = getattr(test, "name", "")
            if word in protocol.terms and word not in asked:
                asked.add(word)
                waiting.append(protocol.terms[word])
            elif word not in (*protocol.terms, *facts):
                what = f"the finding `{name}` asks for `{word or text}` after the drill, and there only facts are left"
                near = nearest(word, facts)
                help_ = f"did you mean `{near}`?" if near else f"the facts are {', '.join(facts)}"
                sheet.add("finding-idle", path, what, help_, side="value")


def _alike(sheet: Sheet) -> None:
    """Two findings that judge one target in one way for the same casualty: one of them was meant for another."""
    before: list[tuple[str, str, str, str]] = []
    for index, row in enumerate(sheet.protocol.finding):
        name, when = str(row.get("id", index + 1)), str(row.get("when", ""))
        for kind in ("over", "under", "outside"):
            asked = row.get(kind)
            if not isinstance(asked, dict):
                continue
            target = str(asked.get("target", ""))
            others = [
                other
                for other, one, of, condition in before
                if (one, of) == (kind, target) and (condition == when or "" in (condition, when))
            ]
            if others:
                what = f"the finding `{name}` judges `{target}` as `{others[0]}` does"
                path: Path = ("finding", index, kind, "target")
                sheet.add("finding-alike", path, what, "name the target that it is about", side="value")
            before.append((name, kind, target, when))


def _named(sheet: Sheet, path: Path, kind: str, asked: dict[str, object]) -> Iterator[_Named]:
    protocol = sheet.protocol
    if kind in ("over", "under", "outside"):
        yield _Named((*path, "target"), str(asked.get("target", "")), list(protocol.targets), "a target")
        yield _Named((*path, "owner"), str(asked.get("owner", "rescuer")), ["rescuer"], "an owner")
    elif kind == "late":
        steps = [step for track in protocol.track.values() for step in track.step]
        for number, word in enumerate(_list(asked.get("steps", []))):
            yield _Named((*path, "steps", number), word, steps, "a step")
    elif kind == "hands_on_over":
        yield _Named((*path, "what"), str(asked.get("what", "")), ["shock", "analysis"], "a span")
    elif kind in ("earlier", "missing_before", "absent"):
        for key in ("this",) if kind == "absent" else ("this", "than"):
            for number, word in enumerate(_list(asked.get(key, []))):
                yield _Named((*path, key, number), word, sorted(plain_events(protocol)), "an observation")


def _no_time(sheet: Sheet, name: str, path: Path, value: object) -> None:
    """A finding about what never came, without a time of work after which it should have."""
    try:
        parse_duration(value)
    except ValueError as problem:
        what = f"the finding `{name}` does not say after how much work something is missing: {problem}"
        sheet.add("finding-idle", path if value is None else (*path, "over"), what, 'write it as over = "60 s"')


def _list(value: object) -> list[str]:
    return [str(one) for one in value] if isinstance(value, list) else [str(value)]


def _without_limit(sheet: Sheet, name: str, path: Path, steps: list[str]) -> None:
    bounded = {ident for track in sheet.protocol.track.values() for ident, step in track.step.items() if step.within}
    known = {ident for track in sheet.protocol.track.values() for ident in track.step}
    for number, ident in enumerate(steps):
        if ident in known and ident not in bounded:
            what = f"the finding `{name}` asks whether `{ident}` was late, and that step has no limit"
            sheet.add("finding-idle", (*path, number), what, 'give the step within = "10 s", or leave it out here')


def _unbounded(sheet: Sheet, name: str, kind: str, path: Path, asked: dict[str, object]) -> None:
    """A target without the bound that the finding looks at, or that no key measures."""
    ident = str(asked.get("target", ""))
    target = sheet.protocol.targets.get(ident)
    if target is None:
        return
    lacks = _lacks(target, kind, asked.get("by") is not None)
    at = (*path, "target")
    if lacks:
        what = f"the finding `{name}` looks for readings {kind} `{ident}`, and that target has no {lacks}"
        other = "under" if kind == "over" else "over"
        sheet.add("finding-idle", at, what, f"give the target {lacks} = …, or ask for {other}", side="value")
    elif not is_measured(ident) and target.unit != "cm":
        what = f"the finding `{name}` asks for `{ident}`, and nothing measures a target of that name"
        sheet.add("finding-idle", at, what, "use one of the names that the debrief measures", side="value")


def _lacks(target: Target, kind: str, by: bool) -> str:
    """The bound that a target lacks for such a finding. An aim alone bounds from above, and with `by` to both sides."""
    alone = target.from_ is None and target.to is None and target.value is not None
    if kind == "over":
        return "" if target.to is not None or alone else "to"
    if kind == "under":
        return "" if target.from_ is not None or (alone and by) else "from"
    return "" if target.from_ is not None or target.to is not None or alone else "from or to"


_ROW = ("id", "severity", "say", "again", "when", "roles", "source", *KINDS)
_FORMS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("omitted", "out_of_order"), ("severity",)),
    **dict.fromkeys(("over", "under", "outside"), ("target", "owner", "by", "severity")),
    **dict.fromkeys(("earlier", "missing_before"), ("this", "than", "severity")),
    "absent": ("this", "over", "severity"),
    "late": ("steps", "severity"),
    "hands_on_over": ("what", "severity"),
}
_PASS = ("critical_steps", *(f"{grade}_faults" for grade in GRADES), "targets", "criteria", "by_eye", "say", "source")
"""The words of a finding, of each of its forms and of a pass: :mod:`coach.measure.rules` and the sign-off read them."""


def _words(sheet: Sheet, path: Path, table: dict[str, object], legal: tuple[str, ...], what: str) -> None:
    """Words that nothing reads: what they were to say is as good as not written."""
    for word in table:
        if word not in legal:
            near = nearest(word, legal)
            help_ = f"did you mean `{near}`?" if near else f"the words are {', '.join(legal)}"
            sheet.add("word-idle", (*path, word), f"{what} has a word that nothing reads: `{word}`", help_)


def _pass(sheet: Sheet) -> None:
    table = sheet.protocol.pass_
    _words(sheet, ("pass",), table, _PASS, "the pass")
    for key, legal in (("targets", list(sheet.protocol.targets)), ("criteria", list(CRITERIA))):
        for number, name in enumerate(_list(table.get(key, []))):
            if name not in legal:
                near = nearest(name, legal)
                help_ = f"did you mean `{near}`?" if near else f"one of {', '.join(legal[:12])} is needed"
                what = f"the pass asks for `{name}`, and there is no such thing under {key}"
                sheet.add("finding-idle", ("pass", key, number), what, help_, side="value")


# --- roles ------------------------------------------------------------------------------------------------------------


def _roles(sheet: Sheet) -> None:
    """Roles that no briefing gives anybody: whoever should have the step or the fault never has it."""
    protocol = sheet.protocol
    named: list[tuple[Path, list[str]]] = []
    for track_name, track in protocol.track.items():
        named += [(("track", track_name, "step", name, "roles"), step.roles) for name, step in track.step.items()]
    named += [((*one.path, "fault", "roles"), one.arrow.fault.roles) for one in sheet.arrows if one.arrow.fault]
    for name, inject in protocol.inject.items():
        for index, forbidden in enumerate(inject.forbidden):
            named.append((("inject", name, "forbidden", index, "fault", "roles"), forbidden.fault.roles))
        if inject.late is not None:
            named.append((("inject", name, "late", "roles"), inject.late.roles))
    named += [(("finding", index, "roles"), _list(row.get("roles", []))) for index, row in enumerate(protocol.finding)]
    for path, roles in named:
        for number, role in enumerate(roles):
            if role not in RESCUER_ROLES:
                near = nearest(role, RESCUER_ROLES)
                help_ = f"did you mean `{near}`?" if near else f"one of {', '.join(RESCUER_ROLES)} is needed"
                sheet.add("role-unknown", (*path, number), f"no rescuer has the role `{role}`", help_, side="value")
