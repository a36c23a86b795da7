"""Lint of the order of things: the spine, where a shock can be given and under which rules, counts, forms of pushes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from coach.check.lint.sheet import Sheet
from coach.protocol.model import Arrow
from coach.protocol.names import PlacedArrow
from coach.protocol.positions import Path

SHOCK = "shock_pressed"


def lint_order(sheet: Sheet) -> None:
    """Report a spine against its own arrows, armed steps that hear no shock, entries that one arrow forgets to count,
    and arrows that hear pushes in one form only."""
    _spines(sheet)
    _armed(sheet)
    _counted(sheet)
    _pushes(sheet)


# --- the spine --------------------------------------------------------------------------------------------------------


def _spines(sheet: Sheet) -> None:
    for track_name, track in sheet.protocol.track.items():
        spine = track.spine
        path = ("track", track_name, "spine")
        if track.start in spine[1:]:
            what = f"the track starts in `{track.start}`, and its spine with `{spine[0]}`"
            sheet.add(
                "spine-order", path, what, "write the spine in the order in which the steps are done", side="value"
            )
            continue
        for place, name in enumerate(spine):
            for to in _done_leads_to(sheet, track_name, name):
                last = place == len(spine) - 1
                if to in spine[:place] and not (last and to == track.start):
                    what = f"the spine has `{name}` after `{to}`, and when it is done an arrow leads back to `{to}`"
                    help_ = "write the spine in the order in which the steps are done, or mend the arrow"
                    sheet.add("spine-order", path, what, help_, side="value")
                elif to not in spine:
                    _left_out(sheet, track_name, name, to)


def _left_out(sheet: Sheet, track_name: str, name: str, to: str) -> None:
    """A step that must be done, on the way between two of the spine, and is not in it."""
    track = sheet.protocol.track[track_name]
    step = track.step[to]
    later = set(track.spine[track.spine.index(name) + 1 :])
    if step.done and step.required and set(_done_leads_to(sheet, track_name, to)) & later:
        what = f"`{to}` lies on the way from `{name}` onward, and the spine leaves it out"
        help_ = "put it into the spine, so that it is asked for and a forgotten key stops nothing"
        sheet.add("spine-order", ("track", track_name, "spine"), what, help_, side="value")


def _done_leads_to(sheet: Sheet, track: str, step: str) -> list[str]:
    """Where a step's own arrows on what it is done by lead."""
    table = sheet.protocol.track[track].step[step]
    return [arrow.to for arrow in table.go if arrow.to and arrow.to != step and set(arrow.on) & set(table.done)]


# --- shocks -----------------------------------------------------------------------------------------------------------


def _armed(sheet: Sheet) -> None:
    protocol = sheet.protocol
    armed = [
        (track, name) for track, table in protocol.track.items() for name, step in table.step.items() if step.armed
    ]
    for track_name, step_name in armed:
        if not any(SHOCK in one.events for one in sheet.tried[track_name, step_name]):
            what = f"the step `{step_name}` is armed, and no arrow of its track takes a shock there"
            path = ("track", track_name, "step", step_name, "armed")
            sheet.add("armed-unheard", path, what, "take armed out, or add the arrow on shock_pressed")
    if armed:
        _rules(sheet, ("track", armed[0][0], "step", armed[0][1], "armed"))
        return
    for placed in sheet.arrows:
        if SHOCK in placed.arrow.on:
            what = "an arrow waits for a shock, and no step is armed: none can ever be given"
            sheet.add("armed-unheard", (*placed.path, "on"), what, "write armed = true in the step", side="value")
            return


class _Needed(NamedTuple):
    """A rule that a file needs which lets a shock be given: what it is about, which event or which other thing of the
    file calls for it, and how such a rule is known."""

    about: str
    called_for: str
    known: Callable[[dict[str, Any]], bool]


_NEEDED = (
    _Needed("a shock without a clear call", SHOCK, lambda rule: SHOCK in _on(rule, "never") and "unless_since" in rule),
    _Needed("a touch after the clear call", "touch", lambda rule: SHOCK in _on(rule, "never") and "scope" in rule),
    _Needed(
        "hands back after a shock", "compression", lambda rule: SHOCK in _on(rule, "after") and "next_step" in rule
    ),
    _Needed(
        "hands back after no shock",
        "compression",
        lambda rule: "no_shock_advised" in _on(rule, "after") and "next_step" in rule,
    ),
    _Needed("how long prompts leave hands off", "hands_off", lambda rule: "at_most" in rule and "assume" in rule),
    _Needed("small pads on who is no child", "pads", lambda rule: _never(rule).get("pads") == "paediatric"),
    _Needed("adult pads withheld", "pads", lambda rule: _never(rule).get("pads") == "none"),
    _Needed("a handover at any moment", "handover", lambda rule: "always_possible" in rule),
)


def _rules(sheet: Sheet, path: Path) -> None:
    """Rules that are missing; where a local file relaxes some, that is told already."""
    if sheet.protocol.relax:
        return
    there = {event for placed in sheet.arrows for event in placed.arrow.on}
    there |= {"pads"} if sheet.protocol.pads else set()
    for needed in _NEEDED:
        if needed.called_for in there and not any(needed.known(rule) for rule in sheet.protocol.rule):
            what = f"a shock can be given here, and no rule speaks of {needed.about}"
            sheet.add("rule-missing", path, what, "write the rule, so that it is proved")


def _never(rule: dict[str, Any]) -> dict[str, Any]:
    found = rule.get("never")
    return found if isinstance(found, dict) else {}


def _on(rule: dict[str, Any], key: str) -> list[str]:
    """The events that the atoms under a key name."""
    atoms = rule.get(key)
    listed = atoms if isinstance(atoms, list) else [atoms]
    names = [atom.get("on", []) for atom in listed if isinstance(atom, dict)]
    return [event for some in names for event in (some if isinstance(some, list) else [some])]


# --- what is counted --------------------------------------------------------------------------------------------------


def _counted(sheet: Sheet) -> None:
    """Of arrows on one event into one step, those that forget to add to the counter of a script while others do."""
    for name, fact in sheet.protocol.facts.items():
        if fact.kind != "script" or not fact.counter:
            continue
        _by_analysis(sheet, name, fact.counter)
        for track_name in sheet.protocol.track:
            mine = [placed for placed in sheet.arrows if placed.track == track_name and placed.arrow.to]
            counting = {
                (event, one.arrow.to) for one in mine if _adds(one.arrow, fact.counter) for event in one.arrow.on
            }
            silent = [one for one in mine if not _adds(one.arrow, fact.counter)]
            doubtful = [one for one in silent if counting & {(event, one.arrow.to) for event in one.arrow.on}]
            start = sheet.protocol.track[track_name].start
            found = _uncounted(doubtful, silent, start)
            for one in found:  # one that was forgotten leaves all behind it uncounted: then it is that one
                if not _uncounted(doubtful, [other for other in silent if other is not one], start, one):
                    found = [one]
                    break
            for one in found:
                what = f"this way into `{one.arrow.to}` does not count `{fact.counter}`, and another one does"
                help_ = f"add = {{ {fact.counter} = 1 }}, or the same entry of the script is read twice"
                sheet.add("count-forgotten", one.path, what, help_)


ADVICE = {"shock_advised", "no_shock_advised"}


def _by_analysis(sheet: Sheet, fact: str, counter: str) -> None:
    """A script that says what an analysis finds, and whose counter no analysis moves on."""
    arrows = [placed.arrow for placed in sheet.arrows]
    advises = any(f"this_{fact}" in arrow.when and ADVICE & {*arrow.on, *arrow.emit} for arrow in arrows)
    if advises and not any("analysis_begins" in arrow.on and _adds(arrow, counter) for arrow in arrows):
        what = f"`{fact}` says what an analysis finds, and no analysis moves its counter `{counter}` on"
        help_ = "name the counter that goes on with analysis_begins, or the same word is read again"
        sheet.add("script-by-analysis", ("facts", fact, "counter"), what, help_, side="value")


def _adds(arrow: Arrow, counter: str) -> bool:
    return bool(arrow.add.get(counter)) or counter in arrow.set


def _uncounted(
    doubtful: list[PlacedArrow], silent: list[PlacedArrow], start: str, mended: PlacedArrow | None = None
) -> list[PlacedArrow]:
    """Those arrows that do not count and can come from where it has not been counted on the way in: from the start, or
    from a step that a silent arrow leads to from such a step or from anywhere."""
    bare = {start, ""}
    while True:
        more = {one.arrow.to for one in silent if one.step in bare} - bare
        if not more:
            return [one for one in doubtful if one.step in bare and one is not mended]
        bare |= more


# --- pushes -----------------------------------------------------------------------------------------------------------


def _pushes(sheet: Sheet) -> None:
    """Arrows that go somewhere, or note something, on pushes as one way of counting gives them and not as another does.
    An arrow that only counts pushes may ask for those that are counted one by one."""
    for placed in sheet.arrows:
        arrow = placed.arrow
        heard = set(arrow.on)
        if not (arrow.to or arrow.mark or arrow.unmark or arrow.fault):
            continue
        wanted = {"compression", "hands_placed"} if heard & {"compression", "hands_placed", "probe_tap"} else set()
        if wanted and "touch" in heard:
            wanted.add("probe_tap")
        beside = {event for other in _tried_with(sheet, placed) for event in other.on}
        missing = sorted(wanted - heard - beside)
        if missing:
            what = f"this arrow hears pushes in one way of counting: `{missing[0]}` is missing"
            help_ = 'write "compression", "hands_placed" (and "probe_tap" where hands may be on already)'
            sheet.add("push-forms", (*placed.path, "on"), what, help_, side="value")


def _tried_with(sheet: Sheet, placed: PlacedArrow) -> list[Arrow]:
    """The other arrows of the same list that hear pushes."""
    track = sheet.protocol.track[placed.track]
    arrows = track.step[placed.step].go if placed.step else track.go
    return [one for one in arrows if one is not placed.arrow and (one.to or one.mark or one.unmark or one.fault)]
