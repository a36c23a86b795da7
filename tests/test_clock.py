"""The clock: one scale for events and now, a wall that may jump, sleep that shows."""

from __future__ import annotations

import sys
import time
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach import clock as clock_room
from coach.clock import Clock, SteppedClock, SuspendWatch, SystemClock


def test_windows_takes_the_performance_counter_and_the_others_the_monotonic_clock(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    chosen = {}
    for platform in ("win32", "linux", "darwin"):
        monkeypatch.setattr(sys, "platform", platform)
        chosen[platform] = clock_room.event_seconds()
    assert chosen == {"win32": time.perf_counter, "linux": time.monotonic, "darwin": time.monotonic}


def test_an_event_stamped_before_now_is_never_after_it() -> None:
    clock = SystemClock()
    stamp_of = clock_room.event_seconds()
    for _ in range(2000):
        stamped = clock.from_event_time(stamp_of())
        assert stamped <= clock.mono_ms()


def test_the_terminal_layer_uses_this_clock() -> None:
    """Textual's own stamp, read here only to prove that the choice is the same."""
    from textual.message import Message

    clock = SystemClock()
    before = clock.mono_ms()
    stamp = clock.from_event_time(Message().time)
    assert before <= stamp <= clock.mono_ms()


def test_the_boot_clock_of_this_machine_runs() -> None:
    clock = SystemClock()
    first = clock.boot_ms()
    assert clock.boot_ms() >= first
    assert clock.wall().utcoffset() == timedelta(0)


@pytest.mark.parametrize(("minutes", "name"), [(0, "UTC"), (60, "UTC+01:00"), (-210, "UTC-03:30"), (345, "UTC+05:45")])
def test_a_zone_is_its_offset(minutes: int, name: str) -> None:
    local = datetime(2026, 1, 3, tzinfo=timezone(timedelta(minutes=minutes)))
    assert clock_room._offset_name(local) == name


def test_a_wall_set_back_moves_nothing_else() -> None:
    clock: SteppedClock = SteppedClock(5000)
    watch = SuspendWatch(clock)
    clock.advance(250)
    clock.set_wall(datetime(2001, 1, 1, tzinfo=UTC))
    clock.advance(750)
    assert clock.mono_ms() == clock.boot_ms() == 6000
    assert clock.wall() == datetime(2001, 1, 1, 0, 0, 0, 750_000, tzinfo=UTC)
    assert watch.slept_ms() == 0


def test_a_stepped_clock_refuses_to_go_back() -> None:
    clock = SteppedClock(1000)
    with pytest.raises(ValueError, match="cannot go back by 1 ms"):
        clock.set(999)
    with pytest.raises(ValueError, match="nobody sleeps"):
        clock.suspend(-1)
    assert clock.mono_ms() == 1000


@given(st.lists(st.tuples(st.booleans(), st.integers(0, 100_000))))
def test_sleep_is_told_once_and_only_over_a_second(moves: list[tuple[bool, int]]) -> None:
    clock = SteppedClock()
    asked: Clock = clock
    watch = SuspendWatch(asked)
    awake = slept = reported = 0
    for asleep, ms in moves:
        if asleep:
            clock.suspend(ms)
            slept += ms
        else:
            clock.advance(ms)
            awake += ms
        told = watch.slept_ms()
        assert told == 0 or told > 1000
        reported += told
        assert 0 <= slept - reported <= 1000
    assert clock.mono_ms() == awake
    assert clock.boot_ms() == awake + slept
