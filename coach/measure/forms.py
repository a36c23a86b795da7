"""Findings of forms that look at the floor: late steps, hands on over a shock or analysis, order, what never came."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise, zip_longest
from typing import TYPE_CHECKING

from coach import wording
from coach.log.happened import Happened
from coach.measure.faults import EDGE_MS
from coach.measure.findings import Finding, titles, words
from coach.measure.floor import Event
from coach.measure.owners import Owners
from coach.measure.rules import MILDER, Rule
from coach.measure.targets import GRACE_MS
from coach.measure.wording import WORDS, event
from coach.protocol.model import Protocol
from coach.units import clock

if TYPE_CHECKING:
    from coach.measure.report import Measures


def form_findings(
    found: Measures, happened: Happened, rules: Sequence[Rule], protocol: Protocol, language: str, owners: Owners
) -> list[Finding]:
    """The findings of all rules of these forms."""
    findings: list[Finding] = []
    for rule in rules:
        say, source = words(rule.say, language, rule.id), titles(protocol, rule.source)
        made: Iterator[Finding] = iter(())
        if rule.kind == "late":
            made = _late(rule, say, found, happened, protocol, language, owners)
        elif rule.kind == "hands_on_over":
            made = _hands_on_over(rule, say, source, found, language, owners)
        elif rule.kind in ("earlier", "missing_before"):
            made = _order(rule, say, source, found, language, owners)
        elif rule.kind == "absent":
            made = _absent(rule, say, source, found, language, owners)
        again = words(rule.again, language, "")
        findings += [replace(one, again=again) if again else one for one in made]
    return findings


def _late(
    rule: Rule, say: str, found: Measures, happened: Happened, protocol: Protocol, language: str, owners: Owners
) -> Iterator[Finding]:
    """Steps that stayed undone past their own limit by more than ±1 s by hand and a second of grace."""
    steps = [one for one in happened.told if one.effect.kind == "step"]
    for name, track in protocol.track.items():
        moves = [one for one in steps if one.effect.track == name]
        worst: dict[str, tuple[int, int, tuple[int, ...]]] = {}
        for move, following in zip_longest(moves, moves[1:]):
            ident = move.effect.name
            limit = track.step[ident].within if ident in track.step else None
            if limit is None or (rule.steps and ident not in rule.steps):
                continue
            since, until = move.effect.e, found.floor.end if following is None else following.effect.e
            length = until - since - found.kit_between(since, until)
            alive = any(start <= until and since <= end for start, end in found.floor.alive)
            if not alive and length > limit + found.hand_ms + GRACE_MS and length > worst.get(ident, (0, 0, ()))[0]:
                both = dict.fromkeys(one.because for one in (move, following) if one is not None)
                worst[ident] = length, until, tuple(line for line in both if line > 0)
        for ident, (length, until, lines) in worst.items():
            step = track.step[ident]
            titled = words(step.title, language, ident)
            severity = rule.severity or MILDER[step.severity]
            asks = severity == "critical"  # a mark may be missing: nobody fails by a key that was not pressed
            yield Finding(
                rule.id,
                severity,
                until,
                lines,
                f"{titled}: {say} {length / 1000:.0f} s (≤ {(step.within or 0) / 1000:.0f} s)",
                titles(protocol, step.source or rule.source),
                to_confirm=asks,
                ask=wording.say(WORDS, language, "ask:missing") if asks else "",
                rests_on="missing" if asks else "",
                step=ident,
                owner=owners.of_role(step.roles),
                again=words(step.cue or step.late_cue, language, ""),
            )


def _hands_on_over(
    rule: Rule, say: str, source: str, found: Measures, language: str, owners: Owners
) -> Iterator[Finding]:
    """A run that began well before a shock, or an analysis, and went on past it. Where pushes are tapped one by one,
    those inside an analysis are touches of their own; by marks, the mark of hands off may be what is missing."""
    beats = found.floor.beats
    for episode in found.episodes:
        if rule.what == "shock":
            mark, until = episode.shock, None if episode.shock is None else episode.shock.e
        else:
            mark, until = episode.begins, None if episode.verdict is None else episode.verdict.e - EDGE_MS
            if beats:
                continue
        if mark is None or until is None:
            continue
        for run in found.runs:
            if run.first <= mark.e - owners.no_order_ms and (run.last > until or (run.open and not beats)):
                yield Finding(
                    rule.id,
                    rule.severity or "major",
                    mark.e,
                    (mark.seq, *_around(run.beats, run.seqs, mark.e)),
                    say,
                    source,
                    to_confirm=not beats,
                    ask="" if beats else wording.say(WORDS, language, "ask:still-on"),
                    safety=True,
                    rests_on="" if beats else "missing",
                    owner=owners.of_role(rule.roles),
                )


def _around(beats: Sequence[int], lines: Sequence[int], at: int) -> tuple[int, ...]:
    """The lines of the last beat before and the first after a moment."""
    before = [line for beat, line in zip(beats, lines, strict=False) if beat <= at]
    after = [line for beat, line in zip(beats, lines, strict=False) if beat > at]
    return (*before[-1:], *after[:1])


def _order(rule: Rule, say: str, source: str, found: Measures, language: str, owners: Owners) -> Iterator[Finding]:
    """Something seen before something else, or not seen before it; nearer than the window, two marks have no order."""
    this, than = found.floor.first(*rule.this), found.floor.first(*rule.than)
    window = owners.no_order_ms
    ask, rests = "", ""
    mark: Event | None
    if rule.kind == "earlier":
        mark = this
        if this is None or (than is not None and than.e - this.e < window):
            return
        if rule.severity == "critical":
            rests, ask = "mark", wording.say(WORDS, language, "ask:one-press")
    else:
        mark = than
        if than is None or (this is not None and this.e <= than.e):
            return
        rests, name = "missing", event(language, rule.this[0])
        near = this is not None and this.e - than.e < window
        ask = wording.say(
            WORDS,
            language,
            "ask:just-after" if near else "ask:none-before",
            what=name.capitalize() if near else name,
        )
    yield Finding(
        rule.id,
        rule.severity or "minor",
        mark.e if mark is not None else None,
        () if mark is None else (mark.seq,),
        say,
        source,
        to_confirm=bool(rests),
        ask=ask,
        rests_on="missing" if rests == "missing" else "mark" if rests else "",
        owner=owners.of_role(rule.roles),
    )


def _absent(rule: Rule, say: str, source: str, found: Measures, language: str, owners: Owners) -> Iterator[Finding]:
    """Something that did not come for longer than the limit, by the longest stretch without it."""
    edges = [0, *(one.e for one in found.floor.all_of(rule.this)), found.floor.end]
    worked, since, until = max((_worked(found, *ends), *ends) for ends in pairwise(edges))
    if worked <= rule.worked_over + found.hand_ms + GRACE_MS:
        return
    yield Finding(
        rule.id,
        rule.severity or "minor",
        until,
        next((run.seqs[:1] for run in found.runs if run.last > since), ()),
        f"{say} {clock(worked)}",
        source,
        to_confirm=True,
        ask=wording.say(WORDS, language, "ask:missing"),
        rests_on="missing",
        owner=owners.of_role(rule.roles),
    )


def _worked(found: Measures, since: int, until: int) -> int:
    """How long hands worked on the chest between two moments, in ms; on somebody awake they do no work."""
    total = 0
    for run in found.runs:
        first, last = max(run.first, since), min(run.last, until)
        if first < last:
            total += last - first
            total -= sum(max(0, min(last, end) - max(first, start)) for start, end in found.floor.alive)
    return total
