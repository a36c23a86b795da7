"""Lint of how a file hangs together: steps, exits, marks, counters, events, injects."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from coach.check.lint.sheet import Sheet
from coach.check.lint.truth import Truth, Values, Variable, read_by
from coach.observations import OBSERVATIONS
from coach.protocol.guards import Choice, Compare, Expr, Name
from coach.protocol.names import BUILT_IN_FACTS, arrows, emitted
from coach.text import nearest


def lint_structure(sheet: Sheet, truth: Truth) -> None:
    """Report steps, marks, counters, events and injects that do not do what a file has them for."""
    _steps(sheet, truth)
    _unused(sheet)
    _events(sheet)
    _injects(sheet)


# --- steps ------------------------------------------------------------------------------------------------------------


def _steps(sheet: Sheet, truth: Truth) -> None:
    for track_name, track in sheet.protocol.track.items():
        ways: dict[str, set[str]] = {}
        for step_name in track.step:
            ways[step_name] = {
                one.arrow.to
                for one in sheet.tried[track_name, step_name]
                if one.arrow.to and truth.can(one.expr, {("in", track_name): step_name})
            }
        reached = _reached(track.start, ways)
        named = {one.arrow.to for (name, _), tried in sheet.tried.items() if name == track_name for one in tried}
        for step_name, step in track.step.items():
            path = ("track", track_name, "step", step_name)
            if step_name not in reached:
                why = "only by arrows that can never be taken" if step_name in named else "by no arrow at all"
                what = f"the step `{step_name}` is never entered: it is reached {why}"
                sheet.add("unreachable-step", path, what, "mend the arrow that should lead here, or take the step out")
                continue
            exits = {to for to in ways[step_name] if to != step_name}
            if len(track.step) > 1 and not exits and step.required and not _says_end(sheet, track_name, step_name):
                what = f"nothing leads out of the step `{step_name}`"
                sheet.add("dead-end", path, what, "add an arrow, or write required = false where the track ends here")
            elif exits and step.required:
                _missing_exit(sheet, truth, track_name, step_name)
            if step.late_cue and step.within is None:
                what = f"the step `{step_name}` has a late cue and no limit: nobody ever hears it"
                sheet.add("late-cue-never", (*path, "late_cue"), what, 'add within = "10 s", or take it out')
            if step.done and not _hears(sheet, track_name, step_name, step.done):
                what = f"the step `{step_name}` waits for none of its own: {', '.join(step.done)}"
                sheet.add("done-unheard", (*path, "done"), what, "add an arrow on it, or mend done", side="value")


def _reached(start: str, ways: dict[str, set[str]]) -> set[str]:
    found, waiting = {start}, [start]
    while waiting:
        for step in ways.get(waiting.pop(), ()):
            if step not in found:
                found.add(step)
                waiting.append(step)
    return found


def _says_end(sheet: Sheet, track: str, step: str) -> bool:
    """Whether a step without an exit is the only one that its track can be in."""
    return all(not one.arrow.to for (name, _), tried in sheet.tried.items() if name == track for one in tried)


def _hears(sheet: Sheet, track: str, step: str, done: list[str]) -> bool:
    return any(set(one.events) & set(done) for one in sheet.tried[track, step])


def _missing_exit(sheet: Sheet, truth: Truth, track: str, step: str) -> None:
    """Values of the facts for which no way out of a step can be taken, whatever else happens."""
    exits = [one for one in sheet.tried[track, step] if one.arrow.to and one.arrow.to != step]
    if any(one.expr is None for one in exits):
        return
    facts: list[Variable] = sorted(
        {("fact", name) for one in exits if one.expr is not None for name in _facts(one.expr, sheet)}
    )
    cases: list[Values] = [{("in", track): step}]
    for variable in facts:
        cases = [{**case, variable: value} for case in cases for value in truth.domain(variable)]
        if len(cases) > 2_000:
            return
    stuck = [case for case in cases if not any(truth.can(one.expr, case) for one in exits)]
    if stuck and len(stuck) < len(cases):
        given: Values = {("in", track): step}
        witness = [", ".join(truth.told(case, given)) for case in stuck[:4]]
        what = f"the step `{step}` has no way out for {witness[0]}"
        sheet.add("missing-exit", ("track", track, "step", step), what, "add an arrow for these values", witness)


def _facts(expr: Expr, sheet: Sheet) -> set[str]:
    known = {**sheet.protocol.facts, **BUILT_IN_FACTS}
    return {
        test.name
        for test in read_by(expr, sheet.terms)
        if isinstance(test, (Compare, Choice, Name)) and test.name in known and known[test.name].kind != "script"
    }


# --- what is declared and not used ------------------------------------------------------------------------------------


def _unused(sheet: Sheet) -> None:
    protocol = sheet.protocol
    exprs = [expr for _, expr in sheet.all_guards()]
    tests = (test for expr in [*exprs, *sheet.terms.values()] for test in read_by(expr, {}))
    named = {test.name for test in tests if isinstance(test, (Name, Compare, Choice))}
    ruled = _words(protocol.rule) | _words(protocol.finding) | _words(protocol.pass_)
    for placed in sheet.arrows:
        for index, mark in enumerate(placed.arrow.mark):
            if mark not in named and mark not in ruled:
                what = f"the mark `{mark}` is set here, and no guard or rule ever reads it"
                sheet.add("mark-unused", (*placed.path, "mark", index), what, "read it, or take it out", side="value")
    for track_name, track in protocol.track.items():
        for step_name, step in track.step.items():
            for index, mark in enumerate(step.mark):
                if mark not in named and mark not in ruled:
                    what = f"the mark `{mark}` is set here, and no guard or rule ever reads it"
                    path = ("track", track_name, "step", step_name, "mark", index)
                    sheet.add("mark-unused", path, what, "read it, or take it out", side="value")
    written = {name for placed in sheet.arrows for name in (*placed.arrow.set, *placed.arrow.add)}
    for name in protocol.counters:
        if name not in written:
            what = f"no arrow writes the counter `{name}`: it stays 0"
            sheet.add("counter-unused", ("counters", name), what, "add to it where it counts, or take it out")
    for name in protocol.terms:
        if name not in named and name not in ruled:
            sheet.add("term-unused", ("terms", name), f"no guard uses the term `{name}`", "use it, or take it out")


def _words(value: Any) -> set[str]:
    """Every word in the texts of a table but for its wording, for asking whether a name is used in it."""
    if isinstance(value, str):
        return set(re.findall(r"[a-z][a-z0-9_.-]*", value))
    if isinstance(value, dict):
        return {word for key, item in value.items() if key not in ("say", "again") for word in _words(item)}
    return {word for item in value for word in _words(item)} if isinstance(value, list) else set()


# --- events -----------------------------------------------------------------------------------------------------------


def _events(sheet: Sheet) -> None:
    protocol = sheet.protocol
    heard = {event for placed in arrows(protocol) for event in placed.arrow.on}
    heard |= {event for track in protocol.track.values() for step in track.step.values() for event in step.done}
    for inject in protocol.inject.values():
        heard |= {*inject.allowed, *(event for forbidden in inject.forbidden for event in forbidden.on)}
    heard |= OBSERVATIONS.keys() | _words(protocol.rule)  # an observation is measured, whether or not an arrow hears it
    emits: Iterable[tuple[tuple[str | int, ...], list[str]]] = [
        *((placed.path, placed.arrow.emit) for placed in sheet.arrows),
        *(
            (("track", track_name, "step", step_name), step.emit)
            for track_name, track in protocol.track.items()
            for step_name, step in track.step.items()
        ),
        *((("inject", name), inject.emit) for name, inject in protocol.inject.items()),
    ]
    for path, names in emits:
        for index, event in enumerate(names):
            if event not in heard:
                what = f"nothing waits for the event `{event}`"
                near = nearest(event, {one for one in heard if ":" not in one and one not in OBSERVATIONS})
                help_ = f"did you mean `{near}`?" if near else "add the arrow that hears it"
                sheet.add("emit-unheard", (*path, "emit", index), what, help_, side="value")
    given = set(protocol.keys.values()) | emitted(protocol)
    for name, own in protocol.observations.items():
        if own.key is None and own.timed and name not in given:
            what = f"nobody can mark `{name}`: it has no key, and J never logs what is timed"
            sheet.add("event-without-key", ("observations", name), what, "give it a key")


# --- injects ----------------------------------------------------------------------------------------------------------


def _injects(sheet: Sheet) -> None:
    for name, inject in sheet.protocol.inject.items():
        if not (inject.allowed or inject.forbidden):
            continue
        if inject.within is None:
            what = f"the inject `{name}` expects an answer and has no deadline"
            sheet.add("inject-without-deadline", ("inject", name), what, 'add within = "10 s", with its source')
        elif not inject.allowed:
            what = f"the inject `{name}` says what is wrong and no answer that closes it"
            sheet.add("inject-without-deadline", ("inject", name), what, "add allowed = […]")
        wrong = {event for forbidden in inject.forbidden for event in forbidden.on}
        for index, event in enumerate(inject.allowed):
            if event in wrong:
                what = f"the inject `{name}` both allows and forbids `{event}`"
                path = ("inject", name, "allowed", index)
                sheet.add("inject-both-ways", path, what, "let it be one of the two", side="value")
