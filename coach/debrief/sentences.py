"""The sentences of the page, shared by its forms. Each says no more than was keyed."""

from __future__ import annotations

from itertools import accumulate

from coach.debrief.json_form import rate_verdict
from coach.debrief.page import Debrief
from coach.debrief.phrases import COUNTING, HANDOVER, MILESTONES, PARTS, count, in_step, moment, pause, percent, seconds
from coach.measure.gaps import Gap
from coach.measure.milestones import NAMES
from coach.measure.share import window_ms
from coach.measure.shocks import Shock
from coach.measure.targets import amount, bounds_text, title_of
from coach.units import clock

STOPS = {
    "teaching": "pause to teach",
    "safety": "safety stop",
    "hole": "hole",
    "shortened": "jump to the next check",
}
"""What a stretch that is nobody's is called."""

ENDED = {"ended": "ended", "safety": "stopped for safety", "interrupted": "record interrupted"}


def head(page: Debrief) -> list[str]:
    """What was run, by whom and how it was counted, in a few lines."""
    first = " · ".join(part for part in (page.of.title, page.scenario, page.mode, page.role) if part)
    people = [f"Drill {page.drill}" if page.drill else "", f"learner {page.learner}" if page.learner else ""]
    people += [f"attempt {page.attempt}", f"assessor {page.assessor}" if page.assessor else ""]
    unit = {"floor": "unit on the floor", "laptop": "unit played by the laptop"}.get(page.unit, "")
    how = [COUNTING.get(page.counting, page.counting), unit, "metronome on" if page.metronome else ""]
    how.append(f"{ENDED.get(page.happened.ended, page.happened.ended)} at {clock(page.happened.end_e)}")
    approval = (
        page.of.approval.upper() if page.of.approval not in ("approved", "in-force", "in force") else page.of.approval
    )
    return [
        first,
        " · ".join(part for part in people if part),
        f"{page.of.id} {page.of.version}, after {page.of.guidance}, not endorsed · {approval}",
        " · ".join(part for part in how if part),
    ]


def milestones(page: Debrief) -> list[tuple[str, str, str]]:
    """Name, moment and time from recognition of each milestone; one never reached says until when."""
    found = page.measures.milestones
    why = ENDED.get(page.happened.ended, "ended")
    lines = []
    for name in NAMES:
        at = found.reached[name]
        if at is None:
            lines.append((MILESTONES[name], f"not reached by {clock(found.end)}", f"({why})"))
            continue
        since = found.from_recognition(name)
        after = "" if since is None or name == "recognised" else f"{seconds(abs(since))} "
        after += ("after deciding" if (since or 0) >= 0 else "before deciding") if after else ""
        lines.append((MILESTONES[name], moment(at), after))
    return lines


def share(page: Debrief) -> str:
    """The hands-on share, and what the same runs would give with stops for breaths only."""
    on = page.measures.hands_on
    if on.unmarked:
        return "No hands-on share: hands were still marked on at a verdict or a shock, so an off mark is missing."
    if on.share is None:
        return "No compression was keyed, so there is no hands-on share."
    said = f"{percent(on.share)} hands on, of {seconds(window_ms(page.measures.windows))}."
    if on.ceiling is not None and on.pace is not None and on.breath_gap is not None:
        said += f" With stops for breaths only ({on.ratio} at {on.pace:.0f}/min): {percent(on.ceiling)} at "
        said += f"{on.breath_gap / 1000:g} s a stop{', the most allowed' if on.at_limit else ''}"
        if on.own_ceiling is not None and on.own_gap is not None:
            said += f", {percent(on.own_ceiling)} at {pause(on.own_gap, page.beats)}, the median here"
        said += "."
    if not page.beats:
        said += " From hand marks it reads 1-2 points high."
    return said


def by_length(page: Debrief) -> list[Gap]:
    """The gaps that count, longest first."""
    return sorted((gap for gap in page.measures.gaps if gap.counted), key=lambda gap: (-gap.length, gap.start))


def gap_for(gap: Gap, beats: bool) -> str:
    """What a gap was for, how one around an analysis was spent, and what lies in it that is nobody's."""
    said = [", ".join(gap.causes)]
    if gap.parts is not None:
        spent = [(name, getattr(one, name)) for one in gap.sets for name in PARTS]
        printed = in_step(list(accumulate(length for _, length in spent)), beats)
        parts = [f"{length} {PARTS[name]}" for (name, _), length in zip(spent, printed, strict=True)]
        said[0] += ": " + " + ".join(part for part in parts if not part.startswith("0.0 s"))
        if len(gap.sets) > 1:
            said.append(f"{len(gap.sets)} analyses")
    if gap.spans:
        said.append(f"across a {', '.join(STOPS[kind] for kind in gap.spans)}")
    if gap.open:
        said.append("to the end")
    return "; ".join(said)


def shock(page: Debrief, one: Shock) -> str:
    """One shock with its pauses and the clear call."""
    pre, post = in_step([one.pre or 0, (one.pre or 0) + (one.post or 0)], page.beats)
    before = "no compression before" if one.pre is None else f"hands off {pre} before"
    after = "no compression after" if one.post is None else f"{post} after"
    if page.measures.hands_on.unmarked and one.pre is None and one.post is None:
        before, after = "hands still marked on before", "no hands-off mark to measure from"
    together = "" if one.peri is None else f", {pause(one.peri, page.beats)} in all"
    clear = "no clear call marked" if one.clear_before is None else f"clear called {seconds(one.clear_before)} before"
    return f"{before}, {after}{together}; {clear}"


def touches(page: Debrief) -> str:
    """What touches were marked from an analysis to its shock or verdict."""
    found = page.measures
    if not found.episodes:
        return "No analysis was keyed."
    marked = sum(
        event.name == "touch" and any(one.start <= event.e <= one.last for one in found.episodes)
        for event in found.floor.events
    )
    return f"From analysis to shock or verdict: {count(marked, 'touch', 'touches') if marked else 'no touch'} marked."


def rhythm(page: Debrief) -> list[str]:
    """The rate with how sure it is, and the shape of the runs."""
    found, rate = page.measures, page.measures.rate
    lines = []
    if rate is None:
        lines.append("No rate: fewer than six compressions in a row were tapped.")
    else:
        what = "run" if page.beats else "probe"
        over = f" ({rate.low:.0f}-{rate.high:.0f} over {rate.runs} {what}s)" if rate.runs > 1 else f" (one {what})"
        said = f"{rate.median:.0f}/min ±{rate.plus_minus:.1f}{over}"
        verdict = rate_verdict(page)
        if verdict is not None and found.band is not None:
            of = " of" if verdict == "at the limit" else ""
            said += f": {verdict}{of} {found.band[0]:.0f}-{found.band[1]:.0f}"
        if rate.in_band is not None:
            inside = round(rate.in_band * rate.windows)
            said += f"; {inside} of {rate.windows} five-beat means in it"
        lines.append(said + ".")
    if found.seen is not None:
        inferred = f" + {found.inferred} inferred" if found.inferred else ""
        shape = " ".join(
            f"{run.count}" + (f"+{run.breaths_after}" if run.breaths_after else "") for run in found.runs[:16]
        )
        more = " …" if len(found.runs) > 16 else ""
        lines.append(f"{found.seen} compressions seen{inferred}; runs+breaths: {shape}{more}")
    elif found.runs:
        breaths = " ".join(str(run.breaths_after) for run in found.runs[:16])
        lines.append(f"{count(len(found.runs), 'run')}, compressions not counted; breaths after each: {breaths}")
    for period in found.periods:
        cut = ", cut short" if period.cut else ""
        lines.append(f"From hands back on to the next analysis: {clock(period.length)}{cut}.")
    return lines


def by_eye(page: Debrief) -> list[str]:
    """Impressions, in words and counts of looks only."""
    if not page.looks:
        return ["Nothing was looked at on purpose: no statement on depth, release or hands."]
    return [
        f"{one.target}: concern in {one.concern} of {count(one.looked, 'look')}"
        if one.concern
        else f"{one.target}: looked {count(one.looked, 'time')}, no concern"
        for one in page.looks
    ]


def at_the_limit(page: Debrief) -> list[str]:
    """The values that are past a limit by no more than their uncertainty: no findings, but said."""
    said = []
    for one in page.judgement.judged:
        if one.verdict == "at the limit":
            at = "" if one.reading.at is None else f" at {moment(one.reading.at)}"
            limit = bounds_text(one.low, one.high, one.quantity)
            said.append(f"{title_of(one.target)}{at}: {amount(one.reading.value, one.quantity)} ({limit})")
    return said


STATUSES = (
    "omitted",
    "out of order",
    "prompted",
    "cued",
    "independent",
    "not observed",
    "not reached",
    "not applicable",
)


def steps(page: Debrief) -> list[tuple[str, str]]:
    """For each status that occurs, the steps that have it, with their moments."""
    lines = []
    for status in STATUSES:
        named = [
            step.title if step.at is None else f"{moment(step.at)} {step.title}"
            for step in page.measures.steps
            if step.status == status
        ]
        if named:
            lines.append((status, "; ".join(named)))
    return lines


def handover(page: Debrief) -> str:
    """What of the handover was said, and what was not."""
    told = page.judgement.handover
    total = len(told.said) + len(told.missing)
    missing = ", ".join(HANDOVER[item] for item in told.missing)
    return f"{len(told.said)} of {total} said" + (f"; not marked as said: {missing}." if missing else ".")


def record(page: Debrief) -> str:
    """What was changed by hand in the record."""
    changed = page.adjusted
    said = [
        count(len(changed.voided), "line") + " voided" if changed.voided else "",
        count(len(changed.nudged), "line") + " moved in time" if changed.nudged else "",
        count(len(changed.added_later), "line") + " added later" if changed.added_later else "",
        count(changed.dropped, "press", "presses") + " dropped as bounces or a held key" if changed.dropped else "",
    ]
    for stop in page.happened.breaks:
        said.append(f"{STOPS[stop.kind]} at {clock(stop.e)} of {clock(stop.t_to - stop.t_from)}")
    return "; ".join(part for part in said if part) or "nothing voided, moved or added"


def pads(page: Debrief) -> str:
    """The pads decision in words."""
    chosen = page.pads
    if chosen is None:
        return ""
    placement = (chosen.placement or "").replace("-", " ")
    what = f"{chosen.size} pads, {placement}" if chosen.size else "not the pads at hand"
    return f"{what}: {chosen.why}"
