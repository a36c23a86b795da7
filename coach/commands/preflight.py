"""The two tests in lines of a terminal, and the machine looked at; the reckoning stands in :mod:`coach.preflight`."""

from __future__ import annotations

import os
import random
import select
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.commands.words import FINDINGS, FINE, INTERRUPTED, remark, say, say_json
from coach.preflight import (
    HELD_S,
    JITTER_TOO_MUCH_MS,
    LAPSE_MS,
    STIMULI,
    WAIT_S,
    Check,
    Jitter,
    Reaction,
    check_battery,
    check_clock,
    check_disk,
    check_remote,
    in_lines,
    jitter_of,
    keep,
    kept_of,
    reaction_of,
)

if TYPE_CHECKING:
    from coach.protocol.model import Protocol

ESCAPE = b"\x1b"


class Left(Exception):
    """The person left the test."""


def pre_flight(who: str, keys: bool, json: bool) -> int:
    """Look at the machine, test keyboard and reaction where there is a terminal, and keep what drills use."""
    from coach.clock import SystemClock
    from coach.settings import check_keys, home_folder, read_settings

    settings = read_settings()
    clock, home = SystemClock(), home_folder(settings)
    checks = [check_disk(home / "drills"), check_clock(clock), check_battery(), check_remote(os.environ)]
    checks.append(check_keys(_likely(home), settings))
    jitter: Jitter | None = None
    reaction: Reaction | None = None
    terminal = sys.stdin.isatty() and sys.stdout.isatty()
    for check in checks if not json else ():
        say(f"{check.state:<5} {check.name:<8} {check.said}")
    if keys and terminal and not json:
        try:
            with _raw():
                jitter = jitter_of(_held())
                reaction = reaction_of(_reactions())
        except Left:
            remark("Left: nothing was kept.")
            return INTERRUPTED
    elif keys and not json:
        remark("There is no terminal here, so keyboard and reaction were not tested.")
    kept = kept_of(jitter, reaction, clock)
    problem = ""
    if jitter is not None or reaction is not None:
        problem = keep(home, who, kept)
    if json:
        say_json(_as_table(checks, home))
    else:
        for label, words in in_lines(jitter, reaction) if keys and terminal else ():
            say(f"{label:<10}{words}" if label else words)
    if problem:
        remark(problem)
    bad = any(check.state == "bad" for check in checks) or bool(problem)
    return FINDINGS if bad or (jitter is not None and jitter.scatter > JITTER_TOO_MUCH_MS) else FINE


def _likely(home: Path) -> Protocol | None:
    """The protocol of last time, where it is there and can be read."""
    from coach.protocol.library import NotFound, load_protocol
    from coach.protocol.problems import FileProblems
    from coach.remembered import read_choices

    name = read_choices(home)[0].protocol
    try:
        return load_protocol(name)[0] if name else None
    except (NotFound, FileProblems):
        return None


def _as_table(checks: list[Check], home: Path) -> dict[str, Any]:
    from coach.preflight import read_kept

    return {
        "checks": [asdict(check) for check in checks],
        "kept": {who: asdict(one) for who, one in read_kept(home).items()},
    }


@contextmanager
def _raw() -> Iterator[None]:
    """The terminal gives each key at once and echoes none; as it was before, whatever happens."""
    import termios
    import tty

    fd = sys.stdin.fileno()
    before = termios.tcgetattr(fd)
    try:
        tty.setcbreak(fd)
        yield
    finally:
        termios.tcsetattr(fd, termios.TCSADRAIN, before)


def _key(until_s: float) -> tuple[bytes, float] | None:
    """The next key with its moment (s), or ``None`` if none comes until then. Escape leaves."""
    fd = sys.stdin.fileno()
    ready, _, _ = select.select([fd], [], [], max(0.0, until_s - time.monotonic()))
    now = time.monotonic()
    if not ready:
        return None
    key = os.read(fd, 1)
    if key in (ESCAPE, b"", b"\x04"):
        raise Left
    return key, now


def _show(text: str) -> None:
    sys.stdout.write(text)
    sys.stdout.flush()


def _held() -> list[float]:
    """The stamps of a held key, in ms."""
    _show("\nHold the space bar down until told to let go (Escape leaves).\n")
    first = _key(time.monotonic() + 30)
    if first is None:
        return []
    stamps = [first[1] * 1000]
    until = first[1] + HELD_S
    while (key := _key(until)) is not None:
        stamps.append(key[1] * 1000)
    _show("Let go.\n")
    _quiet(1.0)
    return stamps


def _quiet(seconds: float) -> None:
    """Wait, and throw away what is still pressed."""
    until = time.monotonic() + seconds
    while _key(until) is not None:
        pass


def _reactions(draw: Callable[[float, float], float] = random.uniform) -> list[float | None]:
    """The waits after each sign in ms: ``None`` where no press came, negative where it came before the sign."""
    _show(f"\n{STIMULI} times: press space as soon as NOW stands here.\n")
    waits: list[float | None] = []
    for number in range(1, STIMULI + 1):
        _show(f"\r{number:>2}  ...   ")
        if _key(time.monotonic() + draw(*WAIT_S)) is not None:
            waits.append(-1.0)
            _show(f"\r{number:>2}  early ")
            _quiet(0.5)
            continue
        shown = time.monotonic()
        _show(f"\r{number:>2}  NOW   ")
        key = _key(shown + LAPSE_MS / 1000)
        waits.append(None if key is None else (key[1] - shown) * 1000)
    _show("\r            \r\n")
    return waits
