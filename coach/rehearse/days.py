"""Which day it is for the learner."""

from __future__ import annotations

from datetime import UTC, date, timedelta

from coach.clock import Clock


def today_of(clock: Clock) -> date:
    """The learner's own day, by the clock's wall and its zone."""
    zone = clock.zone().removeprefix("UTC")
    shift = timedelta()
    if zone:
        hours, minutes = zone[1:].split(":")
        shift = timedelta(hours=int(hours), minutes=int(minutes)) * (-1 if zone[0] == "-" else 1)
    return (clock.wall().astimezone(UTC) + shift).date()
