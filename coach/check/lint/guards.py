"""Lint of guards: never, always, gaps, overlaps and unknown values, each with values that show it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from coach.check.lint.sheet import Listening, Sheet
from coach.check.lint.truth import TooMany, Truth, Values, Variable, read_by
from coach.protocol.guards import Choice, Compare, Expr, Unknown


def lint_guards(sheet: Sheet, truth: Truth) -> None:
    """Report everything that the truth tables of the guards show."""
    _never(sheet, truth)
    _always(sheet, truth)
    for (track, step), tried in sheet.tried.items():
        for event in dict.fromkeys(event for one in tried for event in one.events):
            here = [one for one in tried if event in one.events]
            if len(here) > 1:
                _gap(sheet, truth, track, step, event, here)
                _overlap(sheet, truth, track, step, event, here)
    _unknown(sheet)


def _at(track: str, step: str) -> Values:
    return {("in", track): step}


def _events(events: Sequence[str]) -> str:
    return " and ".join(f"`{event}`" for event in events)


# --- never ------------------------------------------------------------------------------------------------------------


def _never(sheet: Sheet, truth: Truth) -> None:
    """Arrows that are taken in no step in which they are tried; of an arrow with several events, each for itself."""
    tried: dict[int, list[tuple[str, str, Listening]]] = {}
    for (track, step), here in sheet.tried.items():
        for one in here:
            tried.setdefault(id(one.arrow), []).append((track, step, one))
    for placed in sheet.arrows:
        arrow = placed.arrow
        where = tried.get(id(arrow), [])
        expr = sheet.guards.get(id(arrow))
        if expr is not None and not any(truth.can(expr, _at(track, step)) for track, step, _ in where):
            what = f"the guard `{arrow.when}` can never hold {_here(placed.step, placed.track)}"
            help_ = "no value of what it reads makes it true: mend the guard, or take the arrow out"
            sheet.add("guard-never", (*placed.path, "when"), what, help_, side="value")
            continue
        dead = [
            event
            for event in arrow.on
            if not any(_wins(sheet, truth, track, step, event, one) for track, step, one in where)
        ]
        if dead:
            some = "" if len(dead) == len(arrow.on) else " on this event"
            what = f"the arrow on {_events(dead)} is never taken{some}: those before it take every case"
            at = list(arrow.on).index(dead[0])
            help_ = "put it before them, give them guards, or take it out"
            sheet.add("guard-never", (*placed.path, "on", at), what, help_, side="value")


def _here(step: str, track: str) -> str:
    return f"in `{step}`" if step else f"in the track `{track}`"


def _wins(sheet: Sheet, truth: Truth, track: str, step: str, event: str, one: Listening) -> bool:
    """Whether there are values for which this arrow is the first whose guard holds."""
    if event not in one.events:
        return False
    before: list[Expr | None] = []
    for other in sheet.tried[track, step]:
        if event in other.events:
            before.append(other.expr)
        if other is one:
            break
    try:
        return any(found == len(before) - 1 for _, found in truth.first(before, _at(track, step)))
    except TooMany:
        return True


# --- always -----------------------------------------------------------------------------------------------------------


def _always(sheet: Sheet, truth: Truth) -> None:
    for placed in sheet.arrows:
        expr = sheet.guards.get(id(placed.arrow))
        if expr is None:
            continue
        steps = [placed.step] if placed.step else list(sheet.protocol.track[placed.track].step)
        if placed.step and len(lent := _lent_to(sheet, placed.track, placed.arrow)) > 1:
            steps = lent
        if all(truth.must(expr, _at(placed.track, step)) for step in steps):
            what = f"the guard `{placed.arrow.when}` always holds {_here(placed.step, placed.track)}"
            sheet.add("guard-always", (*placed.path, "when"), what, "take it out, or mend it", side="value")
    for name, expr in sheet.terms.items():
        for word, holds in (("always", truth.must(expr, {})), ("never", not truth.can(expr, {}))):
            if holds:
                what = f"the term `{name}` is {word} true"
                sheet.add(f"guard-{word}", ("terms", name), what, "mend it: it parts nothing", side="value")
    for path, expr in sheet.all_guards():
        if path[0] == "inject" or "go" not in path:
            for code, holds in (("guard-always", truth.must(expr, {})), ("guard-never", not truth.can(expr, {}))):
                if holds:
                    what = f"this guard {'always holds' if code == 'guard-always' else 'can never hold'}"
                    sheet.add(code, path, what, "mend it: it parts nothing", side="value")


def _lent_to(sheet: Sheet, track: str, arrow: object) -> list[str]:
    """The steps in which an arrow is tried."""
    return [
        step
        for (name, step), tried in sheet.tried.items()
        if name == track and any(one.arrow is arrow for one in tried)
    ]


# --- gaps -------------------------------------------------------------------------------------------------------------


def _valued(expr: Expr | None, sheet: Sheet) -> set[Variable]:
    """The facts and counters by which a guard parts cases: those with more than two values, by comparison."""
    if expr is None:
        return set()
    found: set[Variable] = set()
    for test in read_by(expr, sheet.terms):
        if isinstance(test, Compare):
            found.add(("counter" if test.name in sheet.protocol.counters else "fact", test.name))
        elif isinstance(test, (Choice, Unknown)):
            name = test.name if isinstance(test, Choice) else test.fact
            if name in sheet.protocol.facts:
                found.add(("fact", name))
    return found


def _gap(sheet: Sheet, truth: Truth, track: str, step: str, event: str, here: list[Listening]) -> None:
    """Values of what several guards part the cases by, for which none of them holds, whatever else."""
    if any(one.expr is None for one in here) or not all(one.own for one in here):
        return
    read = [_valued(one.expr, sheet) for one in here]
    shared = {
        variable for number, some in enumerate(read) for variable in some if any(variable in x for x in read[:number])
    }
    if not shared:
        return
    taken: set[tuple[object, ...]] = set()
    cases = _cases(truth, sorted(shared))
    for case in cases:
        values = {**_at(track, step), **case}
        if any(truth.can(one.expr, values) for one in here):
            taken.add(tuple(case.values()))
    left = [case for case in cases if tuple(case.values()) not in taken]
    if not left or not taken:
        return
    witness = tuple(", ".join(truth.told(case)) for case in left[:4])
    what = f"on `{event}` in `{step}` nothing can be taken for {witness[0]}"
    sheet.add(
        "guard-gap",
        (*here[-1].path, "when"),
        what,
        "close the gap (<= or >=, unknown(…)), or add a last arrow without a guard",
        [*witness, *([f"and {len(left) - 4} more"] if len(left) > 4 else [])],
        side="value",
    )


def _cases(truth: Truth, variables: Sequence[Variable]) -> list[Values]:
    cases: list[Values] = [{}]
    for variable in variables:
        cases = [{**case, variable: value} for case in cases for value in truth.domain(variable)]
    return cases


# --- overlaps ---------------------------------------------------------------------------------------------------------


def _overlap(sheet: Sheet, truth: Truth, track: str, step: str, event: str, here: list[Listening]) -> None:
    """Two guards that hold together, lead to different steps, and neither of which is a case of the other."""
    for one, other in _pairs(here):
        if one.expr is None or other.expr is None or (one.arrow.to or step) == (other.arrow.to or step):
            continue
        together = first_only = second_only = None
        try:
            for row, (left, right) in truth.table([one.expr, other.expr], _at(track, step)):
                if left and right:
                    together = together or row
                elif left:
                    first_only = first_only or row
                elif right:
                    second_only = second_only or row
        except TooMany:
            continue
        if together is None or first_only is None or second_only is None:
            continue
        witness = truth.told(together, _at(track, step))
        what = (
            f"on `{event}` in `{step}` both `{one.arrow.when}` (to {one.arrow.to or 'stay'}) and "
            f"`{other.arrow.when}` (to {other.arrow.to or 'stay'}) can hold; the first is taken"
        )
        help_ = "make them exclude each other, or let the special case contain the other's condition"
        sheet.add("guard-overlap", (*other.path, "when"), what, help_, witness, side="value")


def _pairs(here: list[Listening]) -> Iterator[tuple[Listening, Listening]]:
    """Pairs in the order in which they are tried; only arrows of one list, the step's own or the track's."""
    for number, one in enumerate(here):
        for other in here[number + 1 :]:
            if one.path[:-1] == other.path[:-1]:
                yield one, other


# --- unknown values ---------------------------------------------------------------------------------------------------


def _unknown(sheet: Sheet) -> None:
    unsure = {name for name, fact in sheet.protocol.facts.items() if fact.may_be_unknown}
    for path, expr in sheet.all_guards():
        tests = read_by(expr, sheet.terms)
        asked = {test.fact for test in tests if isinstance(test, Unknown)}
        read = {test.name for test in tests if isinstance(test, (Compare, Choice))} & unsure
        beside = _asked_beside(sheet, path)
        for name in sorted(read - asked - beside):
            what = f"`{name}` may be unknown, and the guard does not say what then"
            at = min(
                (test.at for test in tests if isinstance(test, (Compare, Choice)) and test.name == name), default=0
            )
            inside = any(isinstance(t, (Compare, Choice)) and t.name == name for t in read_by(expr, {}))
            help_ = f"write `… or unknown({name})`, or `… and not unknown({name})`"
            sheet.add("reads-unknown", path, what, help_, side="value", offset=at if inside else -1)


def _asked_beside(sheet: Sheet, path: tuple[str | int, ...]) -> set[str]:
    """The facts that other arrows on the same event, in the same list, ask to be unknown."""
    if "go" not in path:
        return set()
    mine = next((placed for placed in sheet.arrows if placed.path == path[:-1]), None)
    if mine is None:
        return set()
    return {
        test.fact
        for placed in sheet.arrows
        if placed.path[:-1] == mine.path[:-1] and set(placed.arrow.on) & set(mine.arrow.on) and placed is not mine
        for expr in [sheet.guards.get(id(placed.arrow))]
        if expr is not None
        for test in read_by(expr, sheet.terms)
        if isinstance(test, Unknown)
    }
