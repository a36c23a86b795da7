"""Lint of where numbers come from, and of the signature under them."""

from __future__ import annotations

from datetime import date
from typing import Any

from coach.check.lint.sheet import Sheet
from coach.protocol.approval import approval_state, first_day
from coach.protocol.positions import Path
from coach.text import nearest

STALE_YEARS = 2
"""How long a look at a source lasts. Guidance comes every five years with errata between (a choice of this program)."""

UNSOUND = {
    "not signed": "digest",
    "changed since approved": "digest",
    "approver is author": "approver",
    "effective before approval": "effective",
    "approved later than today": "approved_on",
    "review date passed": "review_due",
}
"""Words of :func:`coach.protocol.approval.approval_state` that are findings, and the key that shows them."""


def lint_sources(sheet: Sheet) -> None:
    """Report numbers, steps and faults without a source, and sources without a date."""
    protocol = sheet.protocol
    used: set[str] = set()

    def cite(path: Path, names: list[str], what: str) -> None:
        used.update(names)
        if not names:
            sheet.add("no-source", path, f"{what} has no source", 'add source = "…", one of [sources]')

    for name, fact in protocol.facts.items():
        cite(("facts", name), fact.source, f"the fact `{name}`")
    for name, timer in protocol.timers.items():
        cite(("timers", name), timer.source, f"the timer `{name}`")
    for name, target in protocol.targets.items():
        cite(("targets", name), target.source, f"the target `{name}`")
    for track_name, track in protocol.track.items():
        for step_name, step in track.step.items():
            cite(("track", track_name, "step", step_name), step.source, f"the step `{step_name}`")
    for placed in sheet.arrows:
        used.update(placed.arrow.source)
        fault = placed.arrow.fault
        if fault is not None:
            cite((*placed.path, "fault"), fault.source, f"the fault `{fault.id}`")
        elif not placed.step and (placed.arrow.to or placed.arrow.cue or placed.arrow.voice):
            cite(placed.path, placed.arrow.source, "an arrow of the track's own")
    for name, inject in protocol.inject.items():
        cite(("inject", name), inject.source, f"the inject `{name}`")
        for index, forbidden in enumerate(inject.forbidden):
            path = ("inject", name, "forbidden", index, "fault")
            cite(path, forbidden.fault.source, f"the fault `{forbidden.fault.id}`")
        if inject.late is not None:
            cite(("inject", name, "late"), inject.late.source, f"the fault `{inject.late.id}`")
    for table, rows in (("rule", protocol.rule), ("finding", protocol.finding)):
        for index, row in enumerate(rows):
            cite((table, index), _names(row.get("source")), f"the {table} `{row.get('id', index + 1)}`")
    used.update(_names(protocol.pass_.get("source")))
    judging: list[tuple[Path, dict[str, Any]]] = [(("pass",), protocol.pass_)]
    judging += [(("finding", index), row) for index, row in enumerate(protocol.finding)]
    for at, row in judging:
        for word in _names(row.get("source")):
            if word not in protocol.sources:  # the reader looks at everything else that cites one
                near = nearest(word, protocol.sources)
                help_ = f"did you mean `{near}`?" if near else "name one of [sources]"
                sheet.add("unknown-name", (*at, "source"), f"unknown source `{word}`", help_, side="value")
    _dates(sheet, used)


def _names(value: Any) -> list[str]:
    return [value] if isinstance(value, str) and value else list(value) if isinstance(value, list) else []


def _dates(sheet: Sheet, used: set[str]) -> None:
    oldest = _years_before(sheet.today, STALE_YEARS)
    for name, source in sheet.protocol.sources.items():
        path: Path = ("sources", name)
        if name not in used:
            sheet.add("source-unused", path, f"nothing cites the source `{name}`", "cite it, or take it out")
        elif not source.checked:
            sheet.add("stale-source", path, f"nobody says when the source `{name}` was looked at", "add checked = …")
        elif first_day(source.checked) < oldest:
            what = f"the source `{name}` was looked at on {source.checked}, more than {STALE_YEARS} years ago"
            sheet.add("stale-source", (*path, "checked"), what, "look again, and write the day", side="value")
        elif first_day(source.checked) > sheet.today:
            what = f"the source `{name}` is said to be looked at on {source.checked}, which lies ahead"
            sheet.add("stale-source", (*path, "checked"), what, "write the day of the look", side="value")


def _years_before(day: date, years: int) -> date:
    return day.replace(year=day.year - years, day=28 if (day.month, day.day) == (2, 29) else day.day)


def lint_approval(sheet: Sheet) -> None:
    """Report a signature that does not hold today. A draft is none, and no finding."""
    state = approval_state(sheet.protocol, sheet.text, sheet.today)
    for word, key in UNSOUND.items():
        if state.word == word or state.word.startswith(f"{word},"):
            sheet.add("approval", ("approval", key), state.why, "kneeside approve signs it anew", side="value")
