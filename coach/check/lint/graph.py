"""Lint that needs every run: what can never come about, though the file alone does not show it.

It rests on :mod:`coach.check.proof.survey`, a search over all times and facts with every inject thrown alone.
"""

from __future__ import annotations

from coach.check.compare.alike import decide_orders
from coach.check.compare.ties import candidates, confirmed
from coach.check.lint.sheet import Sheet
from coach.check.lint.timing import CONCERN
from coach.check.proof.prove import Tell
from coach.check.proof.story import tell
from coach.check.proof.survey import Survey
from coach.check.proof.witness import Run
from coach.check.states.classes import Limit
from coach.engine.build import build
from coach.engine.plan import resolve
from coach.protocol.model import Protocol
from coach.protocol.positions import Path


def lint_graph(sheet: Sheet, seen: Survey) -> bool:
    """Report arrows never taken, steps never entered or left, timers that never run out or are never heard.

    False where the search could not decide everything; what it did decide is reported.
    """
    sure = not seen.undecided
    if sure:
        _steps(sheet, seen)
        _arrows(sheet, seen)
        _timers(sheet, seen)
    return sure


def _told(sheet: Sheet, code: str, path: Path) -> bool:
    """Whether the lint of the file alone has said it already."""
    where, _ = sheet.where(path)
    return any(one.code == code and one.where.line == where.line for one in sheet.findings)


def _steps(sheet: Sheet, seen: Survey) -> None:
    for track_name, track in sheet.protocol.track.items():
        for step_name in track.step:
            path = ("track", track_name, "step", step_name)
            if (track_name, step_name) not in seen.steps and not _told(sheet, "unreachable-step", path):
                what = f"the step `{step_name}` is never entered: arrows lead to it, and in no run is one of them taken"
                sheet.add("unreachable-step", path, what, "look at their guards, and at what comes before them")
    for track_name, step_name in seen.dead_ends(sheet.protocol):
        path = ("track", track_name, "step", step_name)
        step = sheet.protocol.track[track_name].step[step_name]
        if step.required and not _told(sheet, "dead-end", path):
            what = f"the step `{step_name}` is never left: arrows lead out of it, and in no run is one of them taken"
            sheet.add("dead-end", path, what, "mend them, or write required = false where the track ends here")


def _arrows(sheet: Sheet, seen: Survey) -> None:
    never: dict[str, list[str]] = {}
    for ident, event in seen.never:
        never.setdefault(ident, []).append(event)
    for placed in sheet.arrows:
        events = never.get(sheet.ids[id(placed.arrow)], [])
        unreached = placed.step and (placed.track, placed.step) not in seen.steps
        if set(events) >= set(placed.arrow.on) and not unreached and not _told(sheet, "guard-never", placed.path):
            what = f"the arrow on `{placed.arrow.on[0]}` is taken in no run"
            sheet.add("guard-never", placed.path, what, "its guard and its event never come together: mend one of them")


def _timers(sheet: Sheet, seen: Survey) -> None:
    taken = {event for _, event in seen.arrows}
    for name in sheet.protocol.timers:
        path: Path = ("timers", name)
        if name == CONCERN or any(_told(sheet, f"timer-{word}", path) for word in ("never-started", "unhandled")):
            continue
        if name in seen.silent:
            what = f"the timer `{name}` never runs out: it is always stopped or started anew before"
            sheet.add("timer-never-fires", path, what, "make it shorter, or look at what stops it")
        elif f"timer:{name}" not in taken:
            what = f"the timer `{name}` runs out, and in no run does anything hear it"
            sheet.add("timer-unhandled", path, what, "look at the guards of the arrows that wait for it")


# --- ties -------------------------------------------------------------------------------------------------------------

TIE_LIMIT = Limit(500, 2.0)
"""Classes and seconds for one pair of timers; a tie that lies deeper is not found."""


Tied = tuple[tuple[int, int], Run]
"""Two timers, as places in the machine, and a run on which their order decides."""


def tied_pairs(sheet: Sheet) -> list[tuple[int, int]]:
    """The pairs of timers that could meet in one millisecond, but for those that the lint of the file alone names."""
    known = [one.what for one in sheet.findings if one.code == "timer-tie"]
    pairs: dict[tuple[int, int], None] = {}
    machines = [build(sheet.protocol, resolve(sheet.protocol, counting=counting)) for counting in ("each", "marks")]
    for machine in machines:
        pairs.update(dict.fromkeys(candidates(machine)))

    def told(pair: tuple[int, int]) -> bool:
        return any(all(f"`{machines[0].timers[timer].name}`" in what for timer in pair) for what in known)

    return [pair for pair in pairs if not told(pair)]


def tied_runs(protocol: Protocol, pairs: list[tuple[int, int]], progress: Tell | None = None) -> list[Tied]:
    """Those of some pairs that the file leads to one millisecond, where the order in which they are declared decides
    what is seen or heard: each with a run on which the drill's own engine says so."""
    found: list[Tied] = []
    classes = 0
    for pair, decision in decide_orders(protocol, pairs, TIE_LIMIT):
        classes += decision.classes
        if progress is not None:
            progress("timers that meet", classes)
        if decision.run is not None and confirmed(protocol, pair, decision.run):
            found.append((pair, decision.run))
    return found


def lint_ties(sheet: Sheet, found: list[Tied]) -> None:
    """Report pairs of timers whose order decides."""
    protocol = sheet.protocol
    for pair, run in found:
        machine = build(protocol, run.plan)
        first, second = (machine.timers[timer].name for timer in pair)
        story = tell(protocol, machine, run, f"`{first}` and `{second}` at once")
        what = f"`{first}` and `{second}` run out in the same millisecond, and what happens hangs on which is first"
        path = _timer_path(sheet, second)
        sheet.add(
            "timer-tie", path, what, "make one of them longer, or let one arrow do both", story.text().split("\n")
        )


def _timer_path(sheet: Sheet, name: str) -> Path:
    """Where the file has a timer: its own table, a step's ``within``, or an inject's; the file's head for a built-in
    one."""
    kind, colon, of = name.partition(":")
    if not colon:
        return ("timers", name)
    if kind == "within":
        track = next(track for track, each in sheet.protocol.track.items() if of in each.step)
        return ("track", track, "step", of, "within")
    return ("inject", of, "within") if kind == "inject" else ("id",)
