"""Two versions of a protocol compared by id and by meaning, in the order in which a medical director asks.

First what is relaxed (rules, targets, the rule for a pass), what is waived, then rules that are newly broken, then
timing, arrows and what else runs, wording last. The order of keys and tables in a file is never a change.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from coach.check.compare.arrows import Pair, differences, named, pairs, reordered
from coach.check.compare.guards import Room, compare_guards
from coach.check.compare.judged import asks_less, finds_less, lighter_fault, unjudged, waivers, widened
from coach.check.compare.renames import called_anew, renames
from coach.protocol.expr import names
from coach.protocol.guards import parse
from coach.protocol.model import Protocol, Relax, Step
from coach.protocol.relaxing import members, plainly, relaxed_words, tightened
from coach.protocol.wordings import wordings
from coach.units import duration_text

Section = Literal["relaxed", "waived", "broken", "timing", "arrows", "other", "wording"]

SECTIONS: dict[Section, str] = {
    "relaxed": "Relaxed",
    "waived": "Findings of the checker that are waived",
    "broken": "Rules newly broken",
    "timing": "Timing and numbers",
    "arrows": "Steps and arrows",
    "other": "Everything else that is judged or asked",
    "wording": "Wording and sources",
}
"""The parts of a comparison, in order."""


@dataclass(frozen=True, slots=True)
class Change:
    """One difference. ``runs`` is false where it can change nothing that happens in a drill."""

    section: Section
    where: str
    what: str
    runs: bool = True

    def as_dict(self) -> dict[str, str]:
        """The change as plain values, for JSON."""
        return {"section": self.section, "where": self.where, "what": self.what}


@dataclass(frozen=True, slots=True)
class Differences:
    """All differences but those of behaviour; ``renamed`` are steps guessed to be the same under another name."""

    changes: tuple[Change, ...]
    renamed: dict[str, str]
    pairs: tuple[Pair, ...]
    order: tuple[str, ...]
    """Tables whose order differs: no change, though two things at one moment may come the other way round."""

    @property
    def alike(self) -> bool:
        """Whether nothing that runs differs, not even in order: every run is then the same."""
        return not self.order and not self.renamed and not any(change.runs for change in self.changes)


def differences_of(old: Protocol, new: Protocol) -> Differences:
    """Everything in which two protocols differ, by id and by meaning."""
    renamed = _renamed(old, new)
    matched = pairs(old, new, renamed)
    rooms = Room(old), Room(new)
    terms = _terms(old, new, rooms)
    changes = [
        *_rules(old, new),
        *_waived(old, new),
        *_timing(old, new, renamed),
        *_told_terms(old, new, terms),
        *_steps(old, new, rooms, renamed, terms),
        *_arrows(matched, new, rooms, renamed, terms),
        *_other(old, new, rooms, terms),
        *_wording(old, new, matched),
    ]
    known = list(SECTIONS)
    changes.sort(key=lambda change: known.index(change.section))
    return Differences(tuple(changes), renamed, tuple(matched), tuple(_order(old, new)))


# --- rules ------------------------------------------------------------------------------------------------------------


def _rules(old: Protocol, new: Protocol) -> Iterator[Change]:
    before, after = ({str(rule.get("id", "")): rule for rule in each.rule} for each in (old, new))
    called = renames(old, new)
    for ident, rule in before.items():
        relax = new.relaxed.get(ident)
        told = f"; reason: {relax.reason}" if relax is not None and relax != old.relaxed.get(ident) else ""
        if ident not in after:
            gone = f"dropped{told}" if told else "gone, without a reason"
            yield Change("relaxed", ident, f"{gone}{_said(rule)}", runs=False)
        elif changed := _changed_keys(rule, after[ident], ("say", "source")):
            if not _changed_keys(called_anew(rule, called), after[ident], ("say", "source")):
                used = [f"{was} is {now} now" for was, now in called.items() if called_anew(rule, {was: now}) != rule]
                yield Change("other", f"rule {ident}", f"the same by other names: {', '.join(used)}", runs=False)
                continue
            turned = Relax(reason=told or "-", was=rule, to=after[ident])
            was, now = ({key: each.get(key) for key in changed} for each in (rule, after[ident]))
            if tightened(turned):
                yield Change("other", f"rule {ident}", f"tightened: {relaxed_words(turned)}{told}{_said(rule)}", False)
            elif told:
                yield Change("relaxed", ident, f"{relaxed_words(turned)}{told}{_said(rule)}", runs=False)
            else:
                yield Change("relaxed", ident, f"reads otherwise: now {members(now)}, was {members(was)}", runs=False)
        elif told:
            yield Change("other", f"rule {ident}", f"reads as before{told}", runs=False)
    for ident, relax in new.relaxed.items():
        if ident not in before and ident not in old.relaxed:
            what = f"{relaxed_words(relax)}; reason: {relax.reason}{_said(relax.was)}"
            section: Section = "other" if tightened(relax) else "relaxed"
            yield Change(section, ident, f"{what} (a rule of its base)", runs=False)
    for ident in [ident for ident in after if ident not in before]:
        yield Change("other", f"rule {ident}", f"new rule{_said(after[ident])}", runs=False)


def _waived(old: Protocol, new: Protocol) -> Iterator[Change]:
    was, now = waivers(old), waivers(new)
    for place in dict.fromkeys((*was, *now)):
        if place not in now:
            yield Change("waived", place, "no longer waived", runs=False)
        elif place not in was:
            yield Change("waived", place, f"waived now; reason: {now[place]}", runs=False)
        elif was[place] != now[place]:
            yield Change("waived", place, f"reason: {now[place]}, was: {was[place]}", runs=False)


def _said(rule: Mapping[str, Any]) -> str:
    say = rule.get("say", "")
    words = say if isinstance(say, str) else say.get("en") or next(iter(say.values()), "")
    return f" (“{words}”)" if words else ""


def _changed_keys(one: Mapping[str, Any], two: Mapping[str, Any], apart: Collection[str] = ()) -> list[str]:
    keys = dict.fromkeys((*one, *two))
    return [key for key in keys if key not in apart and one.get(key) != two.get(key)]


# --- timing and numbers -----------------------------------------------------------------------------------------------


def _timing(old: Protocol, new: Protocol, renamed: Mapping[str, str]) -> Iterator[Change]:
    yield from _table("timing", "timer", _dumped(old.timers), _dumped(new.timers))
    targets = _dumped(old.targets), _dumped(new.targets)
    for change in _table("timing", "target", *targets, runs=False):
        name = change.where.partition(" ")[2]
        loose = widened(old.targets[name], new.targets.get(name)) if name in old.targets else set()
        loose &= {change.what.partition(" ")[0]}
        yield replace(change, section="relaxed") if loose else change
    steps = {name: step for track in new.track.values() for name, step in track.step.items()}
    for track in old.track.values():
        for name, step in track.step.items():
            other = steps.get(renamed.get(name, name))
            if other is not None and other.within != step.within:
                yield Change(
                    "timing", f"step {name}", f"late after {_limit(other.within)} instead of {_limit(step.within)}"
                )
    for name in [name for name in old.inject if name in new.inject]:
        one, two = old.inject[name].within, new.inject[name].within
        if one != two:
            yield Change("timing", f"inject {name}", f"late after {_limit(two)} instead of {_limit(one)}")


def _limit(ms: int | None) -> str:
    return duration_text(ms) if ms is not None else "never"


def _dumped(table: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    return {name: item.model_dump(by_alias=True, exclude_defaults=True) for name, item in table.items()}


_APART = ("source", "title", "note", "play", "say", "again", "label", "verb")
"""Members that are wording or source, and compared there."""


def _table(
    section: Section, kind: str, old: Mapping[str, Any], new: Mapping[str, Any], runs: bool = True
) -> Iterator[Change]:
    """Things that came, went or changed in a table of tables."""
    for name, one in old.items():
        if name not in new:
            yield Change(section, f"{kind} {name}", "gone", runs)
        else:
            for key in _changed_keys(one, new[name], _APART):
                what = f"{key} {plainly(new[name].get(key))} instead of {plainly(one.get(key))}"
                yield Change(section, f"{kind} {name}", what, runs)
    for name, two in new.items():
        if name not in old:
            shown = members({key: value for key, value in two.items() if key not in _APART})
            yield Change(section, f"{kind} {name}", f"new{f': {shown}' if shown else ''}", runs)


# --- steps and arrows -------------------------------------------------------------------------------------------------


def _renamed(old: Protocol, new: Protocol) -> dict[str, str]:
    """Steps that went while one with the same exits and cue came in that track: a guess, and said to be one."""
    found: dict[str, str] = {}
    for name, track in old.track.items():
        if name not in new.track:
            continue
        gone = [step for step in track.step if step not in new.track[name].step]
        come = [step for step in new.track[name].step if step not in track.step]
        for step in gone:
            alike = [other for other in come if _looks_like(track.step[step], new.track[name].step[other])]
            if len(alike) == 1 and alike[0] not in found.values():
                found[step] = alike[0]
    return found


def _looks_like(one: Step, two: Step) -> bool:
    exits = [[(sorted(arrow.on), arrow.to) for arrow in step.go] for step in (one, two)]
    return one.cue == two.cue and one.done == two.done and exits[0] == exits[1] and bool(one.cue or one.done)


def _terms(old: Protocol, new: Protocol, rooms: tuple[Room, Room]) -> dict[str, str]:
    """Named conditions that mean something else now, each with a case that shows it."""
    found = {}
    for name in [name for name in old.terms if name in new.terms]:
        meaning = compare_guards(rooms[0], name, rooms[1], name)
        if meaning.kind != "same":
            found[name] = f"they differ with {meaning.case}" if meaning.case else "too many cases to compare"
    return found


def _told_terms(old: Protocol, new: Protocol, terms: Mapping[str, str]) -> Iterator[Change]:
    """Each changed condition once, and not at every guard, nor at every other condition, that names it."""
    for name, case in terms.items():
        was, now = old.terms[name], new.terms[name]
        if was != now:
            yield Change("other", f"condition {name}", f"`{now}` instead of `{was}`: {case}")
        elif not _by_term(was, now, terms):
            yield Change("other", f"condition {name}", f"`{now}` reads the same over other facts: {case}")


def _by_term(one: str, two: str, terms: Collection[str]) -> bool:
    """Whether two guards read alike and a condition that they name has been told of as changed."""
    return bool(one) and one == two and not names(parse(one)).isdisjoint(terms)


def _steps(
    old: Protocol, new: Protocol, rooms: tuple[Room, Room], renamed: Mapping[str, str], terms: Collection[str]
) -> Iterator[Change]:
    for name, track in old.track.items():
        if name not in new.track:
            yield Change("arrows", f"track {name}", "gone")
            continue
        other = new.track[name]
        if renamed.get(track.start, track.start) != other.start:
            yield Change("arrows", f"track {name}", f"starts in {other.start} instead of {track.start}")
        if [renamed.get(step, step) for step in track.spine] != other.spine:
            what = f"spine {' - '.join(other.spine) or 'none'} instead of {' - '.join(track.spine) or 'none'}"
            yield Change("arrows", f"track {name}", what)
        orders = [sorted(sorted(pair) for pair in each.either_order) for each in (track, other)]
        if orders[0] != orders[1]:
            yield Change(
                "arrows", f"track {name}", f"either order of {plainly(orders[1])}, was {plainly(orders[0])}", False
            )
        for step_name, step in track.step.items():
            become = renamed.get(step_name, step_name)
            if become not in other.step:
                yield Change("arrows", f"step {step_name}", "gone")
                continue
            if become != step_name:
                yield Change("arrows", f"step {step_name}", f"called {become} now (a guess: same cue, same ways out)")
            yield from _step(become, step, other.step[become], rooms, terms)
        for step_name in other.step:
            if step_name not in track.step and step_name not in renamed.values():
                yield Change("arrows", f"step {step_name}", f"new in {name}")
    for name in new.track:
        if name not in old.track:
            yield Change("arrows", f"track {name}", "new")


_SETS = ("done", "mark", "unmark", "start", "stop", "restart", "keep", "emit")


def _step(name: str, one: Step, two: Step, rooms: tuple[Room, Room], terms: Collection[str]) -> Iterator[Change]:
    for field in _SETS:
        was, now = getattr(one, field), getattr(two, field)
        if sorted(was) != sorted(now):
            yield Change("arrows", f"step {name}", f"{field} {plainly(now)} instead of {plainly(was)}")
    for field in ("armed", "required", "severity"):
        was, now = getattr(one, field), getattr(two, field)
        if was != now:
            yield Change(
                "arrows", f"step {name}", f"{field} {plainly(now)} instead of {plainly(was)}", field == "armed"
            )
    for said in ("cue", "late_cue", "voice"):
        if bool(getattr(one, said)) != bool(getattr(two, said)):
            yield Change("arrows", f"step {name}", f"has {'a' if getattr(two, said) else 'no'} {said} now")
    if not _by_term(one.when, two.when, terms):
        yield from _asked("arrows", f"step {name}", "applies", one.when, two.when, rooms, False)
    was, now = (step.model_dump(by_alias=True, exclude_defaults=True) for step in (one, two))
    for key in _changed_keys(was, now, _TOLD):
        yield Change("arrows", f"step {name}", f"{key} {plainly(now.get(key))} instead of {plainly(was.get(key))}")


_TOLD = {
    *_SETS,
    *("armed", "required", "severity", "when", "within", "go"),
    *("title", "cue", "late_cue", "voice", "look", "source"),
}
"""Members of a step that are compared above, as timing or as wording; all others are compared as they stand."""


def _asked(
    section: Section, where: str, verb: str, one: str, two: str, rooms: tuple[Room, Room], runs: bool = True
) -> Iterator[Change]:
    meaning = compare_guards(rooms[0], one, rooms[1], two)
    if meaning.kind != "same":
        case = f": they differ with {meaning.case}" if meaning.case else " (too many cases to compare)"
        yield Change(section, where, f"{verb} when `{two or 'always'}` instead of `{one or 'always'}`{case}", runs)


def _arrows(
    matched: list[Pair], new: Protocol, rooms: tuple[Room, Room], renamed: dict[str, str], terms: Collection[str]
) -> Iterator[Change]:
    for pair in matched:
        if pair.new is None:
            if pair.old is not None and pair.old.fault is not None:
                yield Change("relaxed", named(pair), f"gone, and with it the {pair.old.fault.severity} fault")
            else:
                yield Change("arrows", named(pair), "gone")
        elif pair.old is None:
            to = f"to {pair.new.to}" if pair.new.to else "stays"
            when = f", when {pair.new.when}" if pair.new.when else ""
            fault = f", a {pair.new.fault.severity} fault" if pair.new.fault else ""
            yield Change("arrows", named(pair), f"new: {to}{when}{fault}")
        else:
            told = _by_term(pair.old.when, pair.new.when, terms)
            for what, runs in differences(pair, *rooms, renamed, asked=not told):
                lighter = what.startswith("its fault is ") and lighter_fault(pair.old.fault, pair.new.fault)
                yield Change("relaxed" if lighter else "arrows", named(pair), what, runs)
    for first, second in reordered(matched, new, rooms[1]):
        yield Change("arrows", named(first), f"tried before {named(second)} now, and both can hold at once")


# --- everything else --------------------------------------------------------------------------------------------------


def _other(old: Protocol, new: Protocol, rooms: tuple[Room, Room], terms: Collection[str]) -> Iterator[Change]:
    for key in [key for key in Protocol.model_fields if key not in _COMPARED]:
        was, now = getattr(old, key), getattr(new, key)
        if was != now:
            yield Change("other", key, f"{plainly(now) or 'none'} instead of {plainly(was) or 'none'}", runs=False)
    yield from _table("other", "fact", _dumped(old.facts), _dumped(new.facts))
    yield from _table("other", "counter", _dumped(old.counters), _dumped(new.counters))
    yield from _table("other", "observation", _dumped(old.observations), _dumped(new.observations))
    yield from _table("other", "key", _keyed(old.keys), _keyed(new.keys), runs=False)
    injects = [_dumped(each.inject) for each in (old, new)]
    for table in injects:
        for inject in table.values():
            inject.pop("within", None)
            inject.pop("when", None)
            _without_words(inject)
    fewer = {
        f"inject {name}": unjudged(one, new.inject[name]) for name, one in old.inject.items() if name in new.inject
    }
    for change in _table("other", "inject", injects[0], injects[1]):
        less = change.what.partition(" ")[0] in fewer.get(change.where, ())
        yield replace(change, section="relaxed") if less else change
    for name in [name for name in old.inject if name in new.inject]:
        was, now = old.inject[name].when, new.inject[name].when
        if not _by_term(was, now, terms):
            yield from _asked("other", f"inject {name}", "can come", was, now, rooms)
    findings = [{str(item.get("id", "")): item for item in each.finding} for each in (old, new)]
    for change in _table("other", "finding", findings[0], findings[1], runs=False):
        ident = change.where.removeprefix("finding ")
        less = not change.what.startswith("new") and finds_less(findings[0][ident], findings[1].get(ident))
        yield replace(change, section="relaxed") if less else change
    for key in _changed_keys(old.pass_, new.pass_, _APART):
        section: Section = "relaxed" if asks_less(key, old.pass_, new.pass_) else "other"
        yield Change(
            section, "pass", f"{key} {plainly(new.pass_.get(key))} instead of {plainly(old.pass_.get(key))}", False
        )


_COMPARED = {
    *("format", "id", "version", "title", "about", "role", "approval", "sources", "made_from", "relax"),
    *("facts", "counters", "terms", "timers", "targets", "observations", "keys", "track", "inject"),
    *("rule", "finding", "pass_", "waive"),
}
"""Members of a protocol that are compared elsewhere, or are each file's own."""


def _keyed(keys: Mapping[str, str]) -> dict[str, dict[str, str]]:
    return {key: {"means": ident} for key, ident in keys.items()}


def _without_words(inject: dict[str, Any]) -> None:
    """Take the texts of the faults out of a dumped inject: they are compared as wording."""
    for fault in (inject.get("late"), *(each["fault"] for each in inject.get("forbidden", []))):
        for key in ("say", "again", "source"):
            (fault or {}).pop(key, None)


# --- wording ----------------------------------------------------------------------------------------------------------


def _wording(old: Protocol, new: Protocol, matched: list[Pair]) -> Iterator[Change]:
    before, after = (
        {said.where: said.texts for said in wordings(each) if ".go." not in said.where} for each in (old, new)
    )
    for where in [where for where in before if where in after]:
        yield from _texts(where, before[where], after[where])
    for where in [where for where in before if where not in after and _kept(where, new)]:
        yield Change("wording", where, f"gone, was {_quoted(before[where])}", runs=False)
    for where in [where for where in after if where not in before and _kept(where, old)]:
        yield Change("wording", where, f"new: {_quoted(after[where])}", runs=False)
    for pair in matched:
        if pair.old is not None and pair.new is not None:
            for said in ("cue", "voice"):
                yield from _texts(f"{named(pair)}: {said}", getattr(pair.old, said), getattr(pair.new, said))
            if pair.old.fault is not None and pair.new.fault is not None:
                yield from _texts(f"{named(pair)}: fault", pair.old.fault.say, pair.new.fault.say)
                yield from _texts(f"{named(pair)}: fault, again", pair.old.fault.again, pair.new.fault.again)
    for name in dict.fromkeys((*old.sources, *new.sources)):
        one, two = old.sources.get(name), new.sources.get(name)
        if one is None or two is None:
            yield Change("wording", f"source {name}", "gone" if two is None else "new", runs=False)
        elif one != two:
            for key in _changed_keys(one.model_dump(), two.model_dump()):
                yield Change(
                    "wording", f"source {name}", f"{key} {getattr(two, key)!r}, was {getattr(one, key)!r}", False
                )
    cited = [_cited(each) for each in (old, new)]
    for where in [where for where in cited[0] if where in cited[1] and cited[0][where] != cited[1][where]]:
        what = f"cites {', '.join(cited[1][where]) or 'nothing'} instead of {', '.join(cited[0][where]) or 'nothing'}"
        yield Change("wording", where, what, runs=False)


def _kept(where: str, other: Protocol) -> bool:
    """Whether the thing that a text belongs to stands in the other version too, which has then said so itself."""
    value: Any = other.model_dump(by_alias=True)
    for part in where.split(".")[:-1]:
        if isinstance(value, list):
            value = next((item for item in value if item.get("id", item.get("fault", {}).get("id")) == part), None)
        else:
            value = value.get(part) if isinstance(value, dict) else None
        if value is None:
            return False
    return True


def _texts(where: str, one: Mapping[str, str], two: Mapping[str, str]) -> Iterator[Change]:
    for language in dict.fromkeys((*one, *two)) if one and two else ():
        was, now = one.get(language), two.get(language)
        if was != now:
            yield Change("wording", where, f"{language}: {_text(now)}, was {_text(was)}", runs=False)


def _text(text: str | None) -> str:
    return f"“{text}”" if text is not None else "missing"


def _quoted(texts: Mapping[str, str]) -> str:
    return "; ".join(f"{language} “{text}”" for language, text in texts.items())


def _cited(protocol: Protocol) -> dict[str, list[str]]:
    """The sources of everything that has a name of its own."""
    found = {f"timer {name}": timer.source for name, timer in protocol.timers.items()}
    found |= {f"target {name}": target.source for name, target in protocol.targets.items()}
    found |= {f"fact {name}": fact.source for name, fact in protocol.facts.items()}
    found |= {f"inject {name}": inject.source for name, inject in protocol.inject.items()}
    for track in protocol.track.values():
        found |= {f"step {name}": step.source for name, step in track.step.items()}
    return found


# --- order ------------------------------------------------------------------------------------------------------------


def _order(old: Protocol, new: Protocol) -> Iterator[str]:
    """The tables whose order is another and could matter at one and the same moment."""
    for name in ("track", "timers", "inject"):
        one, two = (list(getattr(each, name)) for each in (old, new))
        if [key for key in one if key in two] != [key for key in two if key in one]:
            yield name
    for name in [name for name in old.track if name in new.track]:
        was, now = (
            [key for key, step in each.track[name].step.items() if step.within is not None] for each in (old, new)
        )
        if [key for key in was if key in now] != [key for key in now if key in was]:
            yield f"track.{name}.step"
