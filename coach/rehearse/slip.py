"""The readiness slip: what an instructor may look at, if the learner hands it over. Never a certificate, never sent."""

from __future__ import annotations

from datetime import date
from typing import Any

from coach import __version__
from coach.debrief.wording import approval
from coach.rehearse.history import History
from coach.rehearse.matter import Matter
from coach.rehearse.progress import Progress, progress_of
from coach.rehearse.wording import words
from coach.wording import DRAFTS, spoken

SAYS = ("slip:no", "slip:hands", "slip:name")
"""What every slip says first, by the sentences' ids."""


def slip_json(matter: Matter, history: History, day: date, language: str = "en") -> dict[str, Any]:
    """The slip as plain values. It names nobody."""
    found = progress_of(matter, history, day, language)
    critical = [row for row in found.items if row.critical]
    last = history.tempos[-1] if history.tempos else None
    return {
        "kind": "rehearsal readiness slip",
        "certificate": False,
        "says": [words(language, ident) for ident in SAYS],
        "program": __version__,
        "day": day.isoformat(),
        "protocol": matter.protocol.id,
        "version": matter.protocol.version,
        "guidance": matter.protocol.guidance,
        "approval": matter.approval(day),
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
    none = words(language, "slip:none")

    def row(ident: str, said: str) -> str:
        return f"{words(language, ident):<12}{said}"

    protocol = f"{data['protocol']} {data['version']}"
    status = approval(language, data["approval"])
    lines = [words(language, "slip:title"), *data["says"]]
    lines += [words(language, "draft")] if spoken(language) in DRAFTS else []
    lines += [
        "",
        row("slip:day", data["day"]),
        row("slip:protocol", words(language, "after", title=protocol, guidance=data["guidance"], state=status)),
        row("slip:sittings", str(data["sittings"])),
        row("slip:decisions", words(language, "slip:counts", **counts)),
        row(
            "slip:critical",
            words(language, "slip:critical counts", met=critical["met"], weak=", ".join(critical["weak"]) or none),
        ),
        row("slip:weakest", ", ".join(one.name for one in found.weakest) or none),
    ]
    if tempo is None:
        lines.append(row("slip:tempo", words(language, "slip:not taken")))
    else:
        pace = tempo["beat_per_minute"]
        beat = words(language, "slip:with beat", pace=pace) if pace else words(language, "tempo:row none")
        rate, plus_minus = f"{tempo['per_minute']:.0f}", f"{tempo['plus_minus']:.0f}"
        given = {name: tempo[name] for name in ("day", "counted", "taps")}
        lines.append(
            row(
                "slip:tempo",
                words(language, "slip:tempo words", rate=rate, plus_minus=plus_minus, beat=beat, **given),
            )
        )
    return "\n".join(lines) + "\n"
