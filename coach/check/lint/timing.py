"""Lint of timers as far as the file alone tells; what needs every run is in :mod:`coach.check.lint.graph`."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from coach.check.lint.sheet import Listening, Sheet
from coach.check.lint.truth import Truth
from coach.protocol.model import Arrow, Step, Timer
from coach.protocol.positions import Path
from coach.units import duration_text

WORDS_A_MINUTE = 150
"""An ordinary pace of speech (common practice, no source)."""

SELDOM = 3
"""A reminder that is said again after more than so many times what it waits at first is forgotten by then (a choice of
this program)."""

CONCERN = "concern"
"""The timer that the built-in track for concerns starts, stops and hears."""


def lint_timing(sheet: Sheet, truth: Truth) -> None:
    """Report timers that are not started, not heard, never silent, or that go on where nobody listens."""
    starts = dict(_starts(sheet))
    for name, timer in sheet.protocol.timers.items():
        if name == CONCERN:
            continue
        path: Path = ("timers", name)
        if name not in starts:
            what = f"the timer `{name}` is never started"
            sheet.add("timer-never-started", path, what, "start it on a step or an arrow, or take it out")
            continue
        heard = [placed for placed in sheet.arrows if f"timer:{name}" in placed.arrow.on]
        if not heard:
            what = f"the timer `{name}` runs out and nothing waits for it"
            sheet.add("timer-unhandled", path, what, f'add an arrow on = "timer:{name}"')
            continue
        _reminder(sheet, name, timer, [placed.arrow for placed in heard])
        if all(placed.step for placed in heard):
            _leak(sheet, truth, name, starts[name])
    _ties(sheet)
    _since_loops(sheet)


def _firing(timer: Timer) -> int:
    """Milliseconds from a start to the first firing."""
    first = timer.after if timer.after is not None else timer.every
    assert first is not None, "the reader refuses a timer without a time"
    return first


def _parts(sheet: Sheet) -> Iterator[tuple[Path, Arrow | Step]]:
    for placed in sheet.arrows:
        yield placed.path, placed.arrow
    for track_name, track in sheet.protocol.track.items():
        for step_name, step in track.step.items():
            yield ("track", track_name, "step", step_name), step


def _starts(sheet: Sheet) -> dict[str, list[tuple[Path, Arrow | Step]]]:
    """By timer: where it is started."""
    found: dict[str, list[tuple[Path, Arrow | Step]]] = defaultdict(list)
    for path, part in _parts(sheet):
        for key in ("start", "restart"):
            for index, name in enumerate(getattr(part, key)):
                found[name].append(((*path, key, index), part))
    return found


# --- reminders --------------------------------------------------------------------------------------------------------


def _reminder(sheet: Sheet, name: str, timer: Timer, heard: list[Arrow]) -> None:
    said = [arrow for arrow in heard if arrow.cue or arrow.voice]
    if timer.every is None or not said:
        return
    stops = all(arrow.to or name in arrow.stop for arrow in said)
    if timer.most is None and not stops:
        what = f"the timer `{name}` repeats every {duration_text(timer.every)} without end, and speaks each time"
        sheet.add("endless-reminder", ("timers", name), what, "bound it: most = 6, for instance")
    if timer.every > SELDOM * _firing(timer):
        first, again = duration_text(_firing(timer)), duration_text(timer.every)
        what = f"`{name}` reminds after {first}, and then not before another {again}"
        sheet.add("reminder-seldom", ("timers", name), what, "is the unit right? remind again by and by, or once only")
    texts = [text for arrow in said for wording in (arrow.cue, arrow.voice) for text in wording.values()]
    longest = max(texts, key=lambda text: len(text.split()))
    words = len(longest.split())
    needed = words * 60_000 // WORDS_A_MINUTE
    if timer.every < needed:
        what = (
            f"`{name}` speaks every {duration_text(timer.every)}, and its {words} words take {needed / 1000:.1f} s at "
            f"{WORDS_A_MINUTE} words a minute"
        )
        sheet.add("reminder-shorter-than-its-speech", ("timers", name), what, "say less, or less often", [longest])


# --- leaks ------------------------------------------------------------------------------------------------------------


def _leak(sheet: Sheet, truth: Truth, name: str, starts: list[tuple[Path, Arrow | Step]]) -> None:
    """A timer that only steps hear, outlives the step, and is left running on a way to where nothing hears it."""
    if not any(_outlives(sheet, name, part) for _, part in starts):
        return
    event = f"timer:{name}"
    listening = {
        (track, step) for (track, step), tried in sheet.tried.items() if any(event in one.events for one in tried)
    }
    for track, step in sorted(listening):
        for one in sheet.tried[track, step]:
            to = one.arrow.to
            if not to or to == step or (track, to) in listening or not truth.can(one.expr, {("in", track): step}):
                continue
            if name in sheet.protocol.track[track].step[to].stop or name in one.arrow.stop:
                continue
            if all(_over_by_then(sheet, name, other, starts) for other in one.events):
                continue
            what = f"`{name}` goes on running over this arrow into `{to}`, where nothing hears it"
            help_ = f'add stop = "{name}" here, or start it in the step `{step}` itself'
            sheet.add("timer-leak", one.path, what, help_)


def _outlives(sheet: Sheet, name: str, part: Arrow | Step) -> bool:
    """Whether a start at that place belongs to no step, or to one that keeps it when left."""
    if isinstance(part, Step):
        return name in part.keep
    placed = sheet.placed(part)
    if not placed.step or part.to:
        return True
    return name in sheet.protocol.track[placed.track].step[placed.step].keep


def _over_by_then(sheet: Sheet, name: str, event: str, starts: list[tuple[Path, Arrow | Step]]) -> bool:
    """Whether the timer has run out for good whenever the event comes: it is the timer itself, or a longer one that is
    started by the same arrows and steps and nowhere else."""
    kind, _, other = event.partition(":")
    if kind != "timer" or other not in sheet.protocol.timers:
        return False
    timer = sheet.protocol.timers[name]
    firings = timer.most if timer.most is not None else 1 if timer.every is None else 0
    if not firings:
        return False
    last = _firing(timer) + (firings - 1) * (timer.every or 0)
    mine = {id(part) for _, part in starts}
    theirs = {id(part) for _, part in _starts(sheet).get(other, [])}
    since = {timer.since, sheet.protocol.timers[other].since}
    return (other == name and firings == 1) or (
        mine == theirs and len(since) == 1 and _firing(sheet.protocol.timers[other]) > last
    )


# --- ties -------------------------------------------------------------------------------------------------------------


def _ties(sheet: Sheet) -> None:
    """Two timers of one length that one arrow or step starts together, and that lead one track to different steps."""
    for path, part in _parts(sheet):
        names = list(dict.fromkeys((*part.restart, *part.start)))
        for number, one in enumerate(names):
            for other in names[number + 1 :]:
                timers = sheet.protocol.timers
                if _firing(timers[one]) != _firing(timers[other]) or timers[one].since != timers[other].since:
                    continue
                clash = _clash(sheet, one, other)
                if clash is not None:
                    what = f"`{one}` and `{other}` run out in the same millisecond, and the first declared wins"
                    sheet.add("timer-tie", path, what, "make one of them longer", clash)


def _clash(sheet: Sheet, one: str, other: str) -> list[str] | None:
    for (_, step), tried in sheet.tried.items():
        ways = [_first(tried, f"timer:{name}") for name in (one, other)]
        if all(way is not None and way.arrow.to for way in ways):
            targets = [way.arrow.to for way in ways if way is not None]
            if targets[0] != targets[1]:
                return [f"in `{step}`: `{one}` leads to `{targets[0]}`, `{other}` to `{targets[1]}`"]
    return None


def _first(tried: list[Listening], event: str) -> Listening | None:
    return next((one for one in tried if event in one.events), None)


# --- zero time --------------------------------------------------------------------------------------------------------


def _since_loops(sheet: Sheet) -> None:
    """Timers that reckon from the last push and start each other when they fire: due at once, for ever."""
    since = {name for name, timer in sheet.protocol.timers.items() if timer.since == "last_push"}
    leads: dict[str, set[str]] = defaultdict(set)
    places: dict[str, Path] = {}
    for placed in sheet.arrows:
        arrow = placed.arrow
        step = sheet.protocol.track[placed.track].step.get(arrow.to)
        parts: list[Arrow | Step] = [arrow, *([step] if step is not None else [])]
        for event in arrow.on:
            for part in parts:
                leads[event].update(part.emit)
                for timer in (*part.restart, *part.start):
                    if timer in since:
                        leads[event].add(f"timer:{timer}")
                        places.setdefault(event, placed.path)
    for name in sorted(since):
        event = f"timer:{name}"
        found, waiting = set[str](), [event]
        while waiting:
            for following in leads.get(waiting.pop(), ()):
                if following not in found:
                    found.add(following)
                    waiting.append(following)
        if event in found:
            what = f"`{name}` reckons from the last push and starts itself again when it runs out: it is due at once"
            help_ = 'give it every, or since = "now"'
            sheet.add("zero-time-loop", places.get(event, ("timers", name)), what, help_)
