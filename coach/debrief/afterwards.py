"""What people say of a drill once it has ended, as lines of its log: checked here, written behind the end, chained."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from coach.clock import Clock
from coach.debrief.page import Debrief
from coach.debrief.signoff import IN_WORDS, Result, Verdict
from coach.log.disk import Disk
from coach.log.lines import LogProblem
from coach.log.reading import Record
from coach.log.recover import add_to
from coach.measure.findings import ANSWERS
from coach.measure.floor import t_of
from coach.observations import OBSERVATIONS
from coach.protocol.model import Protocol
from coach.text import nearest, one_line

Line = dict[str, Any]


class NotSaid(ValueError):
    """Something that cannot be said of this drill; the message says what would do."""


def answer(page: Debrief, finding: str, said: str) -> Line:
    """The assessor's answer to a finding that is to be confirmed; it may be given anew."""
    asked = {one.id: one for one in (*page.judgement.findings, *page.judgement.settled) if one.to_confirm or one.answer}
    if finding not in asked:
        raise NotSaid(_unknown("finding that is to be confirmed", finding, asked))
    if said not in ANSWERS:
        raise NotSaid(_unknown("answer", said, ANSWERS))
    return {"kind": "confirmed", "finding": finding, "answer": said}


def name_pin(page: Debrief, pin: int, label: str) -> Line:
    """A name for a pin."""
    if not any(one.seq == pin for one in page.happened.pins):
        raise NotSaid(_unknown("pin on line", str(pin), [str(one.seq) for one in page.happened.pins]))
    return {"kind": "classify", "pin": pin, "label": one_line(label)}


def move(page: Debrief, line: int, e: int) -> Line:
    """Another moment for an input (ms of ``e``); where it was stays in the log."""
    _standing(page, line)
    _within(page, e)
    return {"kind": "retime", "line": line, "to_e": e}


def rename(page: Debrief, protocol: Protocol, line: int, event: str) -> Line:
    """Another meaning for an input; what was pressed stays in the log."""
    _standing(page, line)
    return {"kind": "relabel", "line": line, "to": _event(protocol, event)}


def add(page: Debrief, protocol: Protocol, event: str, e: int) -> Line:
    """Something seen afterwards, on a video say, at ``e`` (ms)."""
    _within(page, e)
    return {"kind": "added_later", "input": _event(protocol, event), "e": e, "t": t_of(page.happened, e)}


def choose(page: Debrief, finding: str) -> Line:
    """Another one thing than the rule's: a finding by its name, or "" for the strength to keep."""
    known = [one.id for one in page.judgement.findings]
    if finding and finding not in known:
        raise NotSaid(_unknown("finding", finding, known))
    return {"kind": "chosen", "finding": finding}


def sign(page: Debrief, verdict: Verdict, result: Result | None, reason: str = "") -> Line:
    """A sign-off. A person may sign less than the rule gives, never more; what comes first is said."""
    if page.happened.ended != "safety":
        if verdict.never:
            raise NotSaid(verdict.never)
        if verdict.confirm:
            names = ", ".join(one.id for one in verdict.confirm)
            raise NotSaid(f"to be confirmed first: {names}")
    given = result or verdict.result
    if given == "pass" and verdict.result != "pass":
        raise NotSaid(
            "; ".join((*verdict.not_yet, *(f"to be repeated: {part}" for part in verdict.again))) or _why(verdict)
        )
    if given is None and verdict.again:
        raise NotSaid(f"nobody looked, so it is repeated at no cost: {'; '.join(verdict.again)}")
    if given is None:
        raise NotSaid(_why(verdict))
    if (given == "safety") != (verdict.result == "safety"):
        raise NotSaid(
            f"the rule gives {IN_WORDS[verdict.result] if verdict.result else 'nothing'}, not {IN_WORDS[given]}"
        )
    return {
        "kind": "signoff",
        "result": given,
        "why": list(verdict.not_yet),
        "reason": one_line(reason),
        "says": verdict.says,
        "protocol": {"id": page.of.id, "version": page.of.version, "digest": page.of.digest},
    }


def _why(verdict: Verdict) -> str:
    return f"a reason is needed (--reason): {'; '.join(verdict.reason)}"


def _unknown(what: str, given: str, known: Sequence[str] | Mapping[str, Any]) -> str:
    near = nearest(given, list(known))
    return f"no {what} {given!r}" + (f"; did you mean {near}?" if near else f"; here are: {', '.join(known) or 'none'}")


def _standing(page: Debrief, line: int) -> None:
    if not any(seen.seq == line for seen in page.happened.seen):
        raise NotSaid(f"line {line} holds no input that stands")


def _within(page: Debrief, e: int) -> None:
    if not 0 <= e <= page.happened.end_e:
        raise NotSaid(f"the drill lasted from 0 to {page.happened.end_e / 1000:.1f} s")


def _event(protocol: Protocol, event: str) -> str:
    known = [*OBSERVATIONS, *protocol.observations, *(f"inject:{name}" for name in protocol.inject)]
    if event not in known:
        raise NotSaid(_unknown("observation", event, known))
    return event


def stamped(record: Record, lines: Sequence[Mapping[str, Any]], who: str, why: str, clock: Clock) -> Iterator[Line]:
    """The lines as they follow the end of a record, each with who, why and when."""
    wall = clock.wall().strftime("%Y-%m-%dT%H:%M:%SZ")
    for line in lines:
        whole = {"t": record.last_t, "e": record.last_e, **line, "who": one_line(who), "wall": wall}
        whole.setdefault("why", one_line(why))
        yield whole


def write(
    path: Path, lines: Sequence[Mapping[str, Any]], who: str, why: str, clock: Clock, disk: Disk | None = None
) -> None:
    """Write lines behind the end of a log, each with who, why and when. LogProblem where the log does not fit, has not
    ended, is being written, or the disk refuses."""
    if not who.strip():
        raise NotSaid("say who says so")
    writer, record = add_to(path, disk=disk)
    for line in stamped(record, lines, who, why, clock):
        writer.write(line, urgent=True)
    writer.close()
    if not writer.saved:
        raise LogProblem(path, 0, writer.problem, "free space on the disk, then say it again")
