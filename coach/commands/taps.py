"""Single keys with their times from a terminal, for the tempo in lines of text. POSIX terminals only."""

from __future__ import annotations

import sys
from collections.abc import Callable

from coach.rehearse.tempo import STOPPED_MS, beat_on


def why_not() -> str:
    """Why no taps can be taken here, in words; "" where they can."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return "Taps need a terminal at both ends: this input is no keyboard."
    try:
        import termios  # noqa: F401
    except ImportError:
        return "Taps in lines of text need a POSIX terminal; the screen (without --plain) takes them here."
    return ""


def take_taps(most: int, now_ms: Callable[[], int], pace: int = 0, wait_ms: int = 30_000) -> list[int]:
    """The times of up to ``most`` taps of any key; two seconds without one end the run, Esc or Ctrl+C leave it empty.

    With a ``pace`` a mark is printed on each beat. Keys are read one by one and none is shown.
    """
    import select
    import termios
    import tty

    fd = sys.stdin.fileno()
    kept = termios.tcgetattr(fd)
    stamps: list[int] = []
    began, lit = now_ms(), False
    try:
        tty.setcbreak(fd, termios.TCSAFLUSH)
        while len(stamps) < most:
            last = stamps[-1] if stamps else began
            if now_ms() - last > (STOPPED_MS if stamps else wait_ms):
                break
            if pace:
                on = beat_on(now_ms() - began, pace)
                if on and not lit:
                    sys.stdout.write("| ")
                    sys.stdout.flush()
                lit = on
            if select.select([fd], [], [], 0.005 if pace else 0.05)[0]:
                stamp = now_ms()
                read = sys.stdin.buffer.raw.read(16) if hasattr(sys.stdin.buffer, "raw") else b""
                if not read or read[:1] in (b"\x1b", b"\x03"):
                    return []
                stamps.append(stamp)
    finally:
        termios.tcsetattr(fd, termios.TCSADRAIN, kept)
        if pace:
            sys.stdout.write("\n")
    return stamps
