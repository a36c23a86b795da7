"""Faults: what the machine told of a drill, weighed as fairness asks, each with what it rests on and whose it was."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial

from coach import wording
from coach.log.happened import Happened
from coach.measure.episodes import Episode
from coach.measure.findings import Finding, Rests, titles, words
from coach.measure.floor import GAP_MS, ON_MARKS, SHOCKS, VERDICTS, Event, Floor
from coach.measure.owners import Owners
from coach.measure.wording import WORDS, event
from coach.protocol import guards
from coach.protocol.model import Arrow, Fault, Protocol, Severity
from coach.same import Same

EDGE_MS = 1_000
"""A touch or a compression within this of either edge of an analysis is no fault."""
STILL_PUSHING_MS = 3_000
"""Pushing that goes on for this long from before an analysis asks whether that was one."""
TOUCHING = ON_MARKS | {"touch", "breath"}


class Marks:
    """What guards rest on, as observations: what sets and unsets each mark, and what leads to each step."""

    def __init__(self, protocol: Protocol) -> None:
        self.set_by: dict[str, set[str]] = {}
        self.unset_by: dict[str, set[str]] = {}
        self.entered_by: dict[tuple[str, str], set[str]] = {}
        self._terms = {name: guards.parse(text) for name, text in protocol.terms.items()}
        for name, track in protocol.track.items():
            for arrow in (*track.go, *(arrow for step in track.step.values() for arrow in step.go)):
                for table, marks in ((self.set_by, arrow.mark), (self.unset_by, arrow.unmark)):
                    for mark in marks:
                        table.setdefault(mark, set()).update(arrow.on)
                if arrow.to:
                    self.entered_by.setdefault((name, arrow.to), set()).update(arrow.on)

    @staticmethod
    def union(table: Mapping[str, set[str]], marks: frozenset[str]) -> frozenset[str]:
        """The observations that ``table`` has for these marks."""
        return frozenset(name for mark in marks for name in table.get(mark, ()))

    def asked(self, arrow: Arrow, before: Sequence[Arrow]) -> tuple[frozenset[str], frozenset[str]]:
        """The marks that a fault's arrow needs, and the observations whose absence it rests on: under a ``not`` of its
        own guard, or in the guard of a faultless arrow for the same observation that was tried first and did not hold.
        What a timer or an inject brings is no mark that anybody could have forgotten.
        """
        wanted: set[str] = set()
        missing: set[str] = set()
        self._walk(arrow.when, wanted, missing)
        for other in before:
            if other.fault is None and other.when and set(other.on) & set(arrow.on):
                held: set[str] = set()
                self._walk(other.when, held, set())
                missing |= self.union(self.set_by, frozenset(held))
        return frozenset(wanted), frozenset(name for name in missing if ":" not in name)

    def _walk(self, text: str, wanted: set[str], missing: set[str]) -> None:
        stack: list[tuple[guards.Expr, bool]] = [(guards.parse(text), False)] if text else []
        while stack:
            expr, refused = stack.pop()
            match expr:
                case guards.Not(item):
                    stack.append((item, not refused))
                case guards.And(items) | guards.Or(items):
                    stack += [(item, refused) for item in items]
                case guards.Name(name) if name in self._terms:
                    stack.append((self._terms[name], refused))
                case guards.Name(name) if name in self.set_by:
                    if refused:
                        missing |= self.set_by[name]
                    else:
                        wanted.add(name)
                case guards.InStep(track, step) if refused:
                    missing |= self.entered_by.get((track, step), set())
                case _:
                    pass


@dataclass(frozen=True, slots=True)
class Known:
    """One fault of a file: ``missing`` are the observations whose absence it rests on; ``sets`` and ``unsets`` those
    that set and unset a mark which it needs."""

    fault: Fault
    source: tuple[str, ...]
    missing: frozenset[str] = frozenset()
    sets: frozenset[str] = frozenset()
    unsets: frozenset[str] = frozenset()
    roles: tuple[str, ...] = ()


def faults_of(protocol: Protocol) -> Mapping[str, Known]:
    """Every fault of a file by its id."""
    return _faults(Same(protocol))


@lru_cache(maxsize=8)
def _faults(protocol: Same[Protocol]) -> Mapping[str, Known]:
    return {known.fault.id: known for known in _all(protocol.it, Marks(protocol.it))}


def _all(protocol: Protocol, marks: Marks) -> Iterator[Known]:
    for track in protocol.track.values():
        lists = [
            (track.go, (), ()),
            *((step.go, tuple(step.source), tuple(step.roles)) for step in track.step.values()),
        ]
        for arrows, around, roles in lists:
            for index, arrow in enumerate(arrows):
                if arrow.fault is None:
                    continue
                wanted, missing = marks.asked(arrow, arrows[:index])
                yield Known(
                    arrow.fault,
                    tuple(arrow.fault.source or arrow.source or around),
                    missing,
                    marks.union(marks.set_by, wanted),
                    marks.union(marks.unset_by, wanted),
                    tuple(arrow.fault.roles) or roles,
                )
    for inject in protocol.inject.values():
        allowed = frozenset(inject.allowed)
        for forbidden in inject.forbidden:
            source = tuple(forbidden.fault.source or inject.source)
            yield Known(forbidden.fault, source, allowed, roles=tuple(forbidden.fault.roles))
        if inject.late is not None:
            source = tuple(inject.late.source or inject.source)
            yield Known(inject.late, source, allowed, roles=tuple(inject.late.roles))


@dataclass(frozen=True, slots=True)
class _Told:
    """A fault that the machine told: its id and place, the event behind it (if a key was), the analysis it fell in."""

    name: str
    track: str
    e: int
    because: int
    event: Event | None
    episode: int | None


def _told(floor: Floor, happened: Happened, episodes: Sequence[Episode]) -> list[list[_Told]]:
    """The faults told, less those at the edge of an analysis; of one kind in one analysis they are one group."""
    by_seq = {event.seq: event for event in reversed(floor.events)}  # a line before what it made others emit
    groups: dict[object, list[_Told]] = {}
    for number, told in enumerate(happened.told):
        effect = told.effect
        if effect.kind != "fault":
            continue
        event = by_seq.get(told.because)
        if event is not None and event.e != effect.e:
            event = None
        inside = next((i for i, one in enumerate(episodes) if one.start <= effect.e <= one.last), None)
        if event is not None and event.name in TOUCHING and _at_an_edge(floor, event):
            continue
        key: object = number if inside is None else (effect.name, inside)
        groups.setdefault(key, []).append(_Told(effect.name, effect.track, effect.e, told.because, event, inside))
    return list(groups.values())


def _at_an_edge(floor: Floor, event: Event) -> bool:
    edges = [mark.e for mark in floor.all_of(VERDICTS | {"analysis_begins"})]
    return any(abs(event.e - edge) <= EDGE_MS for edge in edges)


def fault_findings(
    floor: Floor, happened: Happened, protocol: Protocol, episodes: Sequence[Episode], language: str, owners: Owners
) -> list[Finding]:
    """The faults that the machine told, less those that fairness takes out."""
    table = faults_of(protocol)
    found: list[Finding] = []
    for group in _told(floor, happened, episodes):
        first = group[0]
        known = table.get(first.name)
        name = "" if first.event is None else first.event.name
        touched = name in TOUCHING and first.episode is not None
        severity: Severity = "major"
        owner = owners.of_role(())
        if known is not None:
            severity, cited = known.fault.severity, titles(protocol, known.source)
            say = words(known.fault.say, language, first.name)
            owner = owners.of_role(known.roles)
        else:
            say, cited = _wrong_answer(protocol, first.track.removeprefix("inject:"), language), ""
        rests, ask = _rests(floor, known, group, touched, severity, episodes, owners.no_order_ms, language)
        found.append(
            Finding(
                first.name,
                severity,
                first.e,
                tuple(one.because for one in group),
                say,
                cited,
                to_confirm=bool(rests),
                ask=ask,
                safety=name in SHOCKS or touched,
                rests_on=rests,
                owner=owner,
                again="" if known is None else words(known.fault.again, language, ""),
            )
        )
    return found


def _rests(
    floor: Floor,
    known: Known | None,
    group: Sequence[_Told],
    touched: bool,
    severity: Severity,
    episodes: Sequence[Episode],
    window: int,
    language: str,
) -> tuple[Rests, str]:
    """What a fault rests on, and what to ask of it; nothing where it stands by itself."""
    first, say = group[0], partial(wording.say, WORDS, language)
    if known is not None and known.missing:
        late = [event for event in floor.all_of(known.missing) if 0 < event.e - first.e <= window]
        if late:
            return "missing", say("ask:just-after", what=event(language, late[0].name).capitalize())
        what = say("ask:or").join(sorted({event(language, name) for name in known.missing}))
        return "missing", say("ask:no-mark", what=what)
    if touched and first.episode is not None and first.event is not None and first.event.name in ON_MARKS:
        begins = episodes[first.episode].begins
        if begins is not None and _went_on(floor, begins.e):
            return "mark", say("ask:pushing")
    if known is not None and _unordered(floor, known, first.e, window):
        return "mark", say("ask:no-order", window=f"{window / 1000:.0f}")
    if len(group) == 1 and (touched or severity == "critical"):
        return "mark", say("ask:one-press")
    return "", ""


def _went_on(floor: Floor, begins: int) -> bool:
    """Whether beats went on without a stop from before an analysis to 3 s into it."""
    beats = [event.e for event in floor.all_of(["compression"])]
    before = [e for e in beats if e <= begins]
    inside = [e for e in beats if begins < e]
    at = before[-1] if before else begins - GAP_MS
    for e in inside:
        if e - at >= GAP_MS:
            return False
        if e >= begins + STILL_PUSHING_MS - GAP_MS and e - begins >= STILL_PUSHING_MS:
            return True
        at = e
    return False


def _unordered(floor: Floor, known: Known, e: int, window: int) -> bool:
    """Whether every mark that a fault needs lies so near to the fault, or to what would take it back, that their order
    is not known."""
    back = max((event.e for event in floor.all_of(known.unsets) if event.e <= e), default=-window)
    sets = [event.e for event in floor.all_of(known.sets) if back <= event.e <= e]
    return bool(sets) and not any(at - back >= window and e - at >= window for at in sets)


def _wrong_answer(protocol: Protocol, inject: str, language: str) -> str:
    known = protocol.inject.get(inject)
    title = words(known.title, language, inject) if known else inject
    return wording.say(WORDS, language, "answered-wrongly", title=title)
