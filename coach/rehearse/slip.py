"""The readiness slip: what an instructor may look at, if the learner hands it over. Never a certificate, never sent."""

from __future__ import annotations

from datetime import date
from typing import Any

from coach import __version__
from coach.rehearse.history import History
from coach.rehearse.matter import Matter
from coach.rehearse.progress import Progress, progress_of

SAYS = (
    "This is no certificate. It tells which decisions were rehearsed on a keyboard, alone, unwatched.",
    "It says nothing of depth, release, breaths or pads: those need a manikin and a person who looks.",
    "It holds no name, and nothing of it enters a class's records by itself.",
)


def slip_json(matter: Matter, history: History, day: date, language: str = "en") -> dict[str, Any]:
    """The slip as plain values. It names nobody."""
    found = progress_of(matter, history, day, language)
    critical = [row for row in found.items if row.critical]
    last = history.tempos[-1] if history.tempos else None
    return {
        "kind": "rehearsal readiness slip",
        "certificate": False,
        "says": list(SAYS),
        "program": __version__,
        "day": day.isoformat(),
        "protocol": matter.protocol.id,
        "version": matter.protocol.version,
        "guidance": matter.protocol.guidance,
        "approval": matter.protocol.approval.status,
        "sittings": found.drills,
        "decisions": {
            "met": len(found.items),
            "not_met": len(found.new),
            "strong": sum(row.word == "strong" for row in found.items),
            "fair": sum(row.word == "fair" for row in found.items),
            "weak": sum(row.word == "weak" for row in found.items),
            "due": found.due_today,
        },
        "critical": {
            "met": len(critical),
            "weak": [row.name for row in critical if row.word == "weak"],
        },
        "not_met": list(found.new),
        "weakest": [row.name for row in found.weakest],
        "tempo": None
        if last is None
        else {
            "day": last.day.isoformat(),
            "per_minute": round(last.rate, 1),
            "plus_minus": round(last.plus_minus, 1),
            "beat_per_minute": last.pace or None,
            "taps": last.taps,
            "counted": last.counted,
        },
    }


def slip_text(matter: Matter, history: History, day: date, language: str = "en") -> str:
    """The slip as a page of text."""
    data = slip_json(matter, history, day, language)
    found: Progress = progress_of(matter, history, day, language)
    counts, critical, tempo = data["decisions"], data["critical"], data["tempo"]
    lines = [
        "READINESS SLIP: decisions rehearsed alone",
        *data["says"],
        "",
        f"Day        {data['day']}",
        f"Protocol   {data['protocol']} {data['version']} ({data['approval']}), after {data['guidance']}, not endorsed",
        f"Sittings   {data['sittings']}",
        f"Decisions  {counts['met']} met: {counts['strong']} strong, {counts['fair']} fair, {counts['weak']} weak;"
        f" {counts['not_met']} not met; {counts['due']} due",
        f"Critical   {critical['met']} met; weak: {', '.join(critical['weak']) or 'none'}",
        f"Weakest    {', '.join(row.name for row in found.weakest) or 'none'}",
    ]
    if tempo is None:
        lines.append("Tempo      not taken")
    else:
        beat = f", with a beat at {tempo['beat_per_minute']}" if tempo["beat_per_minute"] else ", no beat"
        lines.append(
            f"Tempo      {tempo['per_minute']:.0f} ± {tempo['plus_minus']:.0f} a minute{beat} ({tempo['day']});"
            f" counted {tempo['counted']} of {tempo['taps']}"
        )
    return "\n".join(lines) + "\n"
