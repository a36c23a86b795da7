"""What is said of a drill once it has ended: answers, names, other moments, and the sign-off."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from coach.commands.words import FINDINGS, FINE, Refused, say, say_json

if TYPE_CHECKING:
    from coach.debrief.page import Debrief
    from coach.debrief.signoff import Result
    from coach.protocol.model import Protocol


def _opened(path: Path) -> tuple[Debrief, Protocol, dict[str, Any]]:
    from coach.debrief.from_log import debrief_of
    from coach.drill.opening import setup_from
    from coach.log.reading import read_log

    record = read_log(path)
    return debrief_of(record), setup_from(record.header).protocol, dict(record.header)


def _split(text: str, sign: str, what: str) -> tuple[str, str]:
    left, found, right = text.rpartition(sign)
    if not found or not left:
        raise Refused(f"{what} is written {what.upper()}{sign}WORD, not {text!r}")
    return left, right


def _line(text: str) -> int:
    if not text.isdigit():
        raise Refused(f"a line is a whole number, not {text!r}")
    return int(text)


def _seconds(text: str) -> int:
    from coach.units import parse_duration

    try:
        return parse_duration(text if text[-1:].isalpha() else f"{text} s")
    except ValueError as error:
        raise Refused(str(error)) from error


def amend(
    path: Path,
    who: str,
    why: str,
    answers: Sequence[str],
    names: Sequence[str],
    moves: Sequence[str],
    meant: Sequence[str],
    added: Sequence[str],
    one_thing: str | None,
) -> int:
    """Write what was said behind the end of the log; all of it or nothing."""
    from coach.clock import SystemClock
    from coach.debrief import afterwards

    page, protocol, _ = _opened(path)
    try:
        lines = [afterwards.answer(page, *_split(text, "=", "finding")) for text in answers]
        for text in names:
            pin, label = _split(text, "=", "pin")
            lines.append(afterwards.name_pin(page, _line(pin), label))
        for text in moves:
            line, at = _split(text, "=", "line")
            lines.append(afterwards.move(page, _line(line), _seconds(at)))
        for text in meant:
            line, event = _split(text, "=", "line")
            lines.append(afterwards.rename(page, protocol, _line(line), event))
        for text in added:
            event, at = _split(text, "@", "event")
            lines.append(afterwards.add(page, protocol, event, _seconds(at)))
        if one_thing is not None:
            lines.append(afterwards.choose(page, one_thing))
        if not lines:
            raise Refused("nothing is said", todo="kneeside amend --help shows what can be.")
        afterwards.write(path, lines, who, why, SystemClock())
    except afterwards.NotSaid as error:
        raise Refused(str(error), where=str(path)) from error
    say(f"{path}: {len(lines)} line{'' if len(lines) == 1 else 's'} added by {who}")
    return FINE


def sign(path: Path, who: str, result: str, reason: str, json: bool) -> int:
    """Sign the drill as the rule gives it, or less where a person says so."""
    from coach.clock import SystemClock
    from coach.debrief import afterwards
    from coach.debrief.signoff import IN_WORDS, verdict_of

    page, protocol, header = _opened(path)
    try:
        verdict = verdict_of(page, protocol, header, reason)
        line = afterwards.sign(page, verdict, cast("Result | None", result or None), reason)
        afterwards.write(path, [line], who, reason, SystemClock())
    except afterwards.NotSaid as error:
        raise Refused(str(error), where=str(path), code=FINDINGS) from error
    if json:
        say_json({key: value for key, value in line.items() if key != "kind"})
    else:
        given: Result = line["result"]
        say(f"{path}: {IN_WORDS[given]}, signed by {who}. {'; '.join(line['why']) or line['says']}".rstrip())
    return FINE
