"""Where to look: one target a run, in turn, so that what was looked at is known and balanced.

What a target shows is an impression by eye. It is said in words and never becomes a number (Hansen 2019: instructors
passed 90 % where the recording manikin passed 2 %; read).
"""

from __future__ import annotations

from coach.protocol.model import Wording

TARGETS: dict[str, Wording] = {
    "hands": {"en": "hands: on the middle of the chest", "es": "manos: en el centro del pecho"},
    "posture": {"en": "arms straight, shoulders above the hands", "es": "brazos rectos, hombros sobre las manos"},
    "depth": {"en": "how far the chest goes down", "es": "cuánto baja el pecho"},
    "release": {"en": "full release between pushes", "es": "deja subir del todo entre compresiones"},
    "head": {"en": "head tilted, chin up for the breaths", "es": "cabeza atrás, mentón arriba para los soplos"},
    "rise": {"en": "chest rises with each breath", "es": "el pecho sube con cada soplo"},
}

_WITHOUT_BREATHS = ("hands", "posture", "depth", "release")


def target(run: int, breaths: bool) -> str:
    """The target of a run (numbered from 1): each comes up once in as many runs as there are targets."""
    order = tuple(TARGETS) if breaths else _WITHOUT_BREATHS
    return order[(max(run, 1) - 1) % len(order)]
