"""The one source of time: milliseconds that only go forward, a clock that also counts sleep, and the wall.

Everything that is measured uses :meth:`Clock.mono_ms`. The wall clock stands in a log's header and nowhere else, so a
clock that somebody sets back in the middle of a drill changes nothing.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Protocol

SUSPENDED_OVER_MS = 1000
"""The boot-time clock gaining more than this on the monotonic one is a suspend, not jitter (1 s: a choice of ours)."""


class Clock(Protocol):
    """What the rooms ask of time. All numbers are whole milliseconds from an origin that means nothing."""

    def mono_ms(self) -> int:
        """Now, on the clock that stamps the terminal's events; never goes back, stands still while suspended."""
        ...

    def from_event_time(self, seconds: float) -> int:
        """The stamp of a terminal event (``event.time``, seconds) on the same scale as :meth:`mono_ms`."""
        ...

    def boot_ms(self) -> int:
        """Now, on a clock that also counts sleep; the same as :meth:`mono_ms` where the system has none."""
        ...

    def wall(self) -> datetime:
        """UTC by the wall clock: for a header, never for an interval."""
        ...

    def zone(self) -> str:
        """The local offset from UTC, as ``UTC`` or ``UTC+01:00``."""
        ...


def event_seconds() -> Callable[[], float]:
    """The clock of the terminal layer's ``event.time``: ``perf_counter`` on Windows, ``monotonic`` elsewhere.

    The two have different origins on Windows, so a mix would make every latency there nonsense. Chosen here only.
    """
    return time.perf_counter if sys.platform == "win32" else time.monotonic


def _boot_clock() -> int | None:
    # Linux names its clock that counts sleep. On macOS, time.monotonic stops in sleep and CLOCK_MONOTONIC_RAW does not.
    if sys.platform == "linux":
        return getattr(time, "CLOCK_BOOTTIME", None)
    if sys.platform == "darwin":
        return getattr(time, "CLOCK_MONOTONIC_RAW", None)
    return None


def _offset_name(local: datetime) -> str:
    minutes = round((local.utcoffset() or timedelta()).total_seconds() / 60)
    if minutes == 0:
        return "UTC"
    return f"UTC{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}"


class SystemClock:
    """The machine's own clocks. On Windows the monotonic clock runs on in sleep, so no suspend is told apart there."""

    def __init__(self) -> None:
        self._seconds = event_seconds()
        self._boot = _boot_clock()

    def mono_ms(self) -> int:
        """Milliseconds of the event clock, rounded down exactly as event stamps are."""
        return self.from_event_time(self._seconds())

    def from_event_time(self, seconds: float) -> int:
        """Seconds to whole milliseconds, rounded down."""
        return int(seconds * 1000)

    def boot_ms(self) -> int:
        """Milliseconds since boot with sleep, or :meth:`mono_ms`."""
        if self._boot is None:
            return self.mono_ms()
        return time.clock_gettime_ns(self._boot) // 1_000_000

    def wall(self) -> datetime:
        """UTC now."""
        return datetime.now(UTC)

    def zone(self) -> str:
        """The machine's offset from UTC today."""
        return _offset_name(datetime.now().astimezone())


STEPPED_WALL = datetime(2026, 1, 3, 10, 15, tzinfo=UTC)
"""Where a stepped clock's wall starts unless told otherwise: fixed, so that played logs are the same every time."""


class SteppedClock:
    """A clock that moves only when told: for key scripts and tests."""

    def __init__(self, mono_ms: int = 0, wall: datetime = STEPPED_WALL, zone: str = "UTC") -> None:
        self._mono = mono_ms
        self._boot = mono_ms
        self._wall = wall
        self._zone = zone

    def mono_ms(self) -> int:
        """Where the clock was set."""
        return self._mono

    def from_event_time(self, seconds: float) -> int:
        """Seconds to whole milliseconds, rounded down."""
        return int(seconds * 1000)

    def boot_ms(self) -> int:
        """:meth:`mono_ms` plus all that was slept."""
        return self._boot

    def wall(self) -> datetime:
        """The wall as set, moved on with the clock."""
        return self._wall

    def zone(self) -> str:
        """The zone given at the start."""
        return self._zone

    def advance(self, ms: int) -> None:
        """Move all clocks on. ValueError if ``ms`` is negative: the monotonic clock never goes back."""
        if ms < 0:
            raise ValueError(f"the clock cannot go back by {-ms} ms")
        self._mono += ms
        self._boot += ms
        self._wall += timedelta(milliseconds=ms)

    def set(self, mono_ms: int) -> None:
        """Move all clocks on until the monotonic one shows ``mono_ms``. ValueError if that is in the past."""
        self.advance(mono_ms - self._mono)

    def set_wall(self, wall: datetime) -> None:
        """Set the wall clock alone, back or forth, as a person or a time service would."""
        self._wall = wall

    def suspend(self, ms: int) -> None:
        """The machine sleeps: the boot-time clock and the wall go on, the monotonic clock stands still."""
        if ms < 0:
            raise ValueError(f"nobody sleeps {ms} ms")
        self._boot += ms
        self._wall += timedelta(milliseconds=ms)


class SuspendWatch:
    """Tells when the machine was asleep, whatever happened to the wall clock."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._ahead = clock.boot_ms() - clock.mono_ms()

    def slept_ms(self) -> int:
        """Milliseconds slept since they were last reported: 0, or more than :data:`SUSPENDED_OVER_MS`."""
        ahead = self._clock.boot_ms() - self._clock.mono_ms()
        slept = ahead - self._ahead
        if slept <= SUSPENDED_OVER_MS:
            return 0
        self._ahead = ahead
        return slept
