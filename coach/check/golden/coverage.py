"""Coverage: which steps, arrows and outcomes of guards a protocol's golden scripts and random learners came by.

What they never came by may still be possible: `kneeside check --injects 1` proves of every arrow whether it is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from coach.check.findings import Where
from coach.check.lint.file import NEVER
from coach.check.places import Places
from coach.check.proof.learners import Learners, rewritten
from coach.engine.machine import GuardFunction, Machine, Move, Said
from coach.engine.state import Effect
from coach.engine.step import advance, feed, start
from coach.log.history import History
from coach.protocol.model import Protocol
from coach.protocol.names import arrow_ids, arrows
from coach.protocol.overlay import Effective
from coach.text import clean, one_line

Kind = Literal["step", "arrow", "guard holds", "guard does not hold"]
KINDS: tuple[Kind, ...] = ("step", "arrow", "guard holds", "guard does not hold")
Target = tuple[Kind, str]
"""What can be come by: its kind and its name, ``track.step`` or the arrow's id."""

LEARNERS = 1_000
SEED = 1
"""The seed where none is given: the same learners each time."""

TELL_EVERY = 10
"""Learners between two words of progress."""

_TAKEN = "arrow:"


@dataclass(slots=True)
class Counts:
    """How often each target was come by; for guards only whether."""

    seen: Counter[Target] = field(default_factory=Counter)
    events: int = 0

    def hear(self, effects: Iterable[Effect]) -> None:
        """Count what one event did."""
        for effect in effects:
            if effect.kind == "step":
                self.seen["step", f"{effect.track}.{effect.name}"] += 1
            elif effect.kind == "emit" and effect.name.startswith(_TAKEN):
                self.seen["arrow", effect.arrow] += 1

    def listening(self, machine: Machine) -> Machine:
        """The same machine, which says of each arrow that it is taken, and of each guard how it came out."""
        made: dict[int, Move] = {}

        def heard(_: str, move: Move) -> Move:
            if not move.arrow:
                return move
            if id(move) not in made:
                said = Said("emit", _TAKEN + move.arrow, "", "", move.arrow)
                guard = None if move.guard is None else self._asked(move.guard, move.arrow)
                made[id(move)] = move._replace(says=(*move.says, said), guard=guard)
            return made[id(move)]

        return rewritten(machine, heard)

    def _asked(self, guard: GuardFunction, arrow: str) -> GuardFunction:
        seen = self.seen
        yes: Target = ("guard holds", arrow)
        no: Target = ("guard does not hold", arrow)

        def asked(state: Any, facts: Any) -> bool:
            holds = guard(state, facts)
            seen[yes if holds else no] = 1
            return holds

        return asked


@dataclass(frozen=True, slots=True)
class Item:
    """One target at its place: how many golden scripts, and how often random learners, came by it (for guards: 1 if
    ever). ``waived`` is the file's reason why nobody has to."""

    kind: Kind
    name: str
    where: Where
    scripts: int
    learners: int
    waived: str = ""

    @property
    def unseen(self) -> bool:
        """Whether nobody came by it."""
        return not (self.scripts or self.learners)


@dataclass(frozen=True, slots=True)
class Coverage:
    """What was come by. ``scripts`` and ``learners`` are how many runs there were, ``events`` those of the learners."""

    protocol: str
    version: str
    items: tuple[Item, ...]
    scripts: int
    learners: int
    seed: int
    events: int

    @property
    def never(self) -> tuple[Item, ...]:
        """What nobody came by, in the order of the file, without what is waived."""
        return tuple(one for one in self.items if one.unseen and not one.waived)

    def reached(self, kind: Kind, by: Literal["scripts", "learners"]) -> tuple[int, int]:
        """How many of a kind were come by, of how many."""
        those = [one for one in self.items if one.kind == kind]
        return sum(bool(getattr(one, by)) for one in those), len(those)

    def text(self) -> str:
        """What was come by, for people."""
        rows: list[tuple[str, ...]] = [("", "of", "by scripts", "by learners")]
        for kind in KINDS:
            scripts, of = self.reached(kind, "scripts")
            rows.append((kind, str(of), str(scripts), str(self.reached(kind, "learners")[0])))
        out = [
            f"{self.protocol}, version {self.version}",
            f"{_many(self.scripts, 'golden key script')}; {_many(self.learners, 'random learner')}"
            f" (seed {self.seed}, {self.events} events)",
            "",
            *_columns(rows),
            "",
        ]
        waived = [one for one in self.items if one.unseen and one.waived]
        if self.never:
            out.append("Nobody came by (kneeside check --injects 1 proves of each arrow whether anybody can):")
            out += [f"  {_place(one.where)}  {one.kind}: {one_line(one.name)}" for one in self.never]
        else:
            out.append("Somebody came by everything else." if waived else "Somebody came by everything.")
        if waived:
            out += ["", "Nobody came by, and the file says why:"]
            out += [
                f"  {_place(one.where)}  {one.kind}: {one_line(one.name)}: {one_line(one.waived)}" for one in waived
            ]
        alone = [one for one in self.items if one.learners and not one.scripts]
        if self.scripts and alone:
            out += ["", "No golden script came by:"]
            out += [f"  {_place(one.where)}  {one.kind}: {one_line(one.name)}" for one in alone]
        return "\n".join(out)

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain values, for JSON."""
        return {
            "protocol": self.protocol,
            "version": self.version,
            "golden_scripts": self.scripts,
            "learners": self.learners,
            "seed": self.seed,
            "events": self.events,
            "reached": {
                kind.replace(" ", "_"): {
                    "of": self.reached(kind, "scripts")[1],
                    "scripts": self.reached(kind, "scripts")[0],
                    "learners": self.reached(kind, "learners")[0],
                }
                for kind in KINDS
            },
            "targets": [
                {
                    "kind": one.kind,
                    "name": clean(one.name),
                    "file": clean(one.where.file),
                    "line": one.where.line,
                    "scripts": one.scripts,
                    "learners": one.learners,
                    "waived": clean(one.waived) or None,
                }
                for one in self.items
            ],
        }


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _place(where: Where) -> str:
    """Where it stands, for people: folder, file and line, which is what tells the files over one another apart."""
    return f"{'/'.join(Path(where.file).parts[-2:])}:{where.line}"


def _columns(rows: list[tuple[str, ...]]) -> list[str]:
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def targets_of(protocol: Protocol) -> list[tuple[Target, tuple[str | int, ...]]]:
    """Everything that can be come by, with the path to it in the protocol, in the order of the file."""
    ids = arrow_ids(protocol)
    by_step: dict[tuple[str, str], list[tuple[Target, tuple[str | int, ...]]]] = {}
    for placed in arrows(protocol):
        ident = ids[id(placed.arrow)]
        kinds = KINDS[1:] if placed.arrow.when else KINDS[1:2]
        of = by_step.setdefault((placed.track, placed.step), [])
        of += [((kind, ident), placed.path) for kind in kinds]
    found: list[tuple[Target, tuple[str | int, ...]]] = []
    for track_name, track in protocol.track.items():
        for step in track.step:
            found.append((("step", f"{track_name}.{step}"), ("track", track_name, "step", step)))
            found += by_step.get((track_name, step), [])
        found += by_step.get((track_name, ""), [])
    return found


def by_script(history: History) -> Counter[Target]:
    """What the drill of one script came by, each once."""
    counts = Counts()
    machine = counts.listening(history.machine)
    happened = history.happened()
    state, effects = start(machine)
    counts.hear(effects)
    for seen in happened.seen:
        state, effects, _ = feed(machine, state, seen.event, seen.e)
        counts.hear(effects)
    if happened.end_e > state.e:
        counts.hear(advance(machine, state, happened.end_e)[1])
    return Counter(dict.fromkeys(counts.seen, 1))


def by_learners(
    protocol: Protocol, learners: int, seed: int, progress: Callable[[int, int], None] | None = None
) -> Counts:
    """What so many random learners came by."""
    counts = Counts()
    crowd = Learners(protocol, seed, counts.listening)
    for number in range(learners):
        if progress is not None and number % TELL_EVERY == 0:
            progress(number, learners)
        for effects in crowd.run(number):
            counts.hear(effects)
            counts.events += 1
    return counts


def coverage(
    whole: Effective,
    name: str,
    text: str,
    histories: Iterable[History],
    *,
    learners: int = LEARNERS,
    seed: int = SEED,
    folder: Path | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Coverage:
    """What golden scripts (their drills are ``histories``) and ``learners`` random learners come by in a protocol;
    ``name`` and ``text`` are the file's. ``progress`` hears how many learners of how many are done."""
    scripts: Counter[Target] = Counter()
    played = 0
    for history in histories:
        scripts += by_script(history)
        played += 1
    crowd = by_learners(whole.protocol, learners, seed, progress)
    places = Places(whole, name, text, folder)
    protocol = whole.protocol
    reasons = {waive.where: waive.reason for waive in protocol.waive if waive.code == NEVER}
    items = tuple(
        Item(*target, places.at(path), scripts[target], crowd.seen[target], reasons.get(target[1], ""))
        for target, path in targets_of(protocol)
    )
    return Coverage(protocol.id, protocol.version, items, played, learners, seed, crowd.events)
