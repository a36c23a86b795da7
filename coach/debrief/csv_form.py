"""The debrief as CSV: the events that stand and the measures, two tables for a spreadsheet that computes nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from coach.debrief.json_form import a_minute, rate_verdict, s, share
from coach.debrief.page import Debrief
from coach.measure.milestones import NAMES
from coach.observations import label
from coach.text import csv_cell

Cell = str | int | float | bool | None

EVENT_COLUMNS = (
    "line",
    "time_s",
    "since_go_s",
    "pressed_at_s",
    "event",
    "label",
    "outcome",
    "key",
    "via",
    "by",
    "prompted",
    "added_later",
)
MEASURE_COLUMNS = ("measure", "part", "value", "unit", "plus_minus", "note", "lines")


def as_csv(page: Debrief) -> str:
    """Both tables, the events first, a blank line between them."""
    return events_csv(page) + "\n" + measures_csv(page)


def events_csv(page: Debrief) -> str:
    """Every event that stands, in order. Times in seconds: less pauses, and with them."""
    added = frozenset(page.adjusted.added_later)
    return _written(
        EVENT_COLUMNS,
        (
            (
                seen.seq,
                s(seen.e),
                s(seen.t),
                s(seen.e_pressed if seen.e_pressed is not None else seen.e),
                seen.event,
                label(seen.event),
                seen.outcome,
                seen.key,
                seen.via,
                seen.by,
                seen.prompted,
                seen.seq in added,
            )
            for seen in page.happened.seen
        ),
    )


def measures_csv(page: Debrief) -> str:
    """Every measure, one a row: what, of which part, value, unit, ±, a note, the log lines that it rests on.

    What was not reached has no value.
    """
    return _written(MEASURE_COLUMNS, _measures(page))


def _written(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        cells = [_cell(cell) for cell in row]
        writer.writerow([*cells, *[""] * (len(columns) - len(cells))])
    return out.getvalue()


def _cell(cell: Cell) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, int | float):
        return repr(cell)
    return "" if cell is None else csv_cell(cell.replace("\n", " "))


def _lines(seqs: Sequence[int]) -> str:
    """Numbers of log lines, as text, so that no spreadsheet takes them for one number."""
    return "; ".join(str(seq) for seq in seqs)


def _measures(page: Debrief) -> Iterable[Sequence[Cell]]:
    found, judgement = page.measures, page.judgement
    yield "drill", "", page.name, "", None, f"{page.of.id} {page.of.version}, {page.of.approval}"
    if page.of.reason:
        yield "reason", "", None, "", None, page.of.reason
    yield "ended", page.happened.ended, s(page.happened.end_e), "s", None, ""
    for name in NAMES:
        at = found.milestones.reached[name]
        note = "" if at is not None else f"not reached by {s(found.milestones.end)} s"
        line = found.milestones.lines.get(name)
        yield (
            "milestone",
            name,
            s(at),
            "s",
            1 if at is not None else None,
            note,
            _lines(() if line is None else (line,)),
        )
        since = found.milestones.from_recognition(name)
        if since is not None and name != "recognised":
            yield "from_recognition", name, s(since), "s", 2, ""
    yield "window", "", s(sum(window.end - window.start for window in found.windows)), "s", None, ""
    yield "hands_on", "share", share(found.hands_on.share), "", None, f"from {found.hands_on.counting}"
    yield "hands_on", "ceiling", share(found.hands_on.ceiling), "", None, ""
    for gap in found.gaps:
        note = "; ".join(part for part in (", ".join(gap.causes), "" if gap.counted else "not summed") if part)
        pm = 0.1 if page.beats else 0.5
        yield "gap", f"at {s(gap.start)} s", s(gap.length), "s", pm, note, _lines(gap.events)
        if gap.parts is not None:
            for part in ("prep", "unit", "press", "resume", "unsplit"):
                yield "gap_part", f"{part} of gap at {s(gap.start)} s", s(getattr(gap.parts, part)), "s", 0.5, ""
    for shock in found.shocks:
        for part, value in (
            ("pre", shock.pre),
            ("post", shock.post),
            ("peri", shock.peri),
            ("clear_before", shock.clear_before),
        ):
            by_hand = None if value is None else 0.5
            yield "shock", f"{part} of shock at {s(shock.at)} s", s(value), "s", by_hand, "", _lines((shock.seq,))
    yield "compressions", "seen", found.seen, "", None, "" if found.seen is not None else "not counted"
    if found.seen is not None:
        yield "compressions", "inferred", found.inferred, "", None, "single missed taps put back"
    if found.rate is not None:
        rate = found.rate
        yield "rate", "median", a_minute(rate.median), "/min", a_minute(rate.plus_minus), rate_verdict(page) or ""
        yield "rate", "low", a_minute(rate.low), "/min", None, ""
        yield "rate", "high", a_minute(rate.high), "/min", None, ""
        yield "rate", "in_band", share(rate.in_band), "", None, f"of {rate.windows} five-beat means"
    else:
        yield "rate", "median", None, "/min", None, "no rate: nothing, or too little, was tapped"
    for step in found.steps:
        yield "step", step.id, s(step.at), "s", None, step.status, _lines(step.events)
    for one in judgement.findings:
        confirm = "to confirm; " if one.to_confirm else ""
        yield "finding", one.rule, s(one.at), "s", None, f"{confirm}{one.severity}: {one.say}", _lines(one.events)
    thing = judgement.one_thing
    yield "one_thing", thing.finding or "", None, "", None, thing.again or thing.say
    for item in judgement.handover.true_version:
        yield "handover", item, None, "", None, "said" if item in judgement.handover.said else "not marked as said"
