"""The handover, spoken freely or ticked, against the true one as the drill's own measures tell it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from coach.drill.setup import words_of
from coach.measure.handover import ITEMS
from coach.rehearse.draws import Drawn
from coach.rehearse.verbs import plain
from coach.rehearse.wording import words
from coach.rehearse.world import Walk

PARTS: dict[str, dict[str, str]] = {
    "who_where": {"en": "who it is", "es": "quién es"},
    "collapse_time": {"en": "when they dropped", "es": "cuándo cayó"},
    "cpr_since_by": {"en": "pushes since when, by whom", "es": "compresiones desde cuándo y por quién"},
    "shocks": {"en": "how many shocks, the last when", "es": "cuántas descargas y la última"},
    "last_advice": {"en": "what the unit said last", "es": "lo último que dijo el equipo"},
    "seen": {"en": "what else was seen", "es": "qué más se vio"},
    "now": {"en": "how they are now", "es": "cómo está ahora"},
    "needed": {"en": "what is needed now", "es": "qué hace falta ahora"},
}

_HEARD: dict[str, str] = {
    "who_where": r"\b(man|woman|person|male|female|about \d+|\d+ (year|ano)|years? old|hombre|mujer|persona|anos)\b",
    "collapse_time": r"\b(collapsed?|dropped|fell|went down|found|cayo|desplom\w+|encontr\w+)\b",
    "cpr_since_by": r"\b(cpr|compress\w*|push\w*|rcp|comprim\w*|compresion\w*|masaje)\b",
    "shocks": r"\b(shock(s|ed)?|descargas?)\b",
    "last_advice": r"\b(advis\w+|no shock|said|verdict|analys\w+|indic\w+|dijo|sin descarga|analisis)\b",
    "seen": r"\b(gasp\w*|vomit\w*|wet|water|patch|implant\w*|pacemaker|chok\w+|hair\w*|metal|bystander|nothing else|"
    r"boquead\w*|vomit\w*|mojad\w*|agua|parche|atragant\w*|vello|nada mas)\b",
    "now": r"\b(now|still|breathing|awake|not breathing|no signs|signs of life|ahora|sigue|respira|despiert\w*)\b",
    "needed": r"\b(take over|carry on|keep|leave|need\w*|please|relev\w*|segu\w+|dej\w+|hace falta|necesit\w*)\b",
}
"""Words by which a part counts as spoken; a rough ear on purpose: the learner ticks what it missed."""

ENOUGH = 6
"""Parts of eight that make a handover right, shocks and pushes among them: our own choice, no published bar."""
NEEDFUL = frozenset({"cpr_since_by", "shocks"})


@dataclass(frozen=True, slots=True)
class HandoverHeard:
    """What was said, what was not, and the true version of each part."""

    said: tuple[str, ...]
    missing: tuple[str, ...]
    true: dict[str, str]

    @property
    def right(self) -> bool:
        """Enough, and what matters most among it."""
        return len(self.said) >= ENOUGH and set(self.said) >= NEEDFUL


def heard(text: str) -> tuple[str, ...]:
    """The parts that a typed handover touches."""
    words = plain(text)
    return tuple(item for item in ITEMS if re.search(_HEARD[item], words))


def ticked(text: str) -> tuple[str, ...] | None:
    """The parts named by their numbers, ``1 2 4``; None where the line is no list of numbers."""
    marks = re.split(r"[\s,;]+", text.strip())
    if not all(re.fullmatch(r"[1-8]", mark) for mark in marks):
        return None
    return tuple(item for place, item in enumerate(ITEMS, 1) if str(place) in marks)


def against(walk: Walk, drawn: Drawn, said: tuple[str, ...], language: str) -> HandoverHeard:
    """What was said beside what was true in this story."""
    return HandoverHeard(
        tuple(item for item in ITEMS if item in said),
        tuple(item for item in ITEMS if item not in said),
        true_version(walk, drawn, language),
    )


def true_version(walk: Walk, drawn: Drawn, language: str) -> dict[str, str]:
    """The true handover of a walk, in the words of a drill's debrief."""
    # The measures are loaded where a handover is told, so that a sitting begins without them.
    from coach.measure.handover import handover_of
    from coach.measure.report import measure

    protocol = walk.listing.protocol
    header = {
        "plan": walk.plan.as_json(),
        "scenario": {"title": drawn.title.get(language) or drawn.title.get("en", "")},
        "mode": "practise",
        "counting": "marks",
        "keys": {},
        "learner": "none",
    }
    happened = walk.happened()
    found = measure(happened, protocol, header, language)
    return dict(handover_of(found, happened, protocol, header, language).true_version)


def told_lines(found: HandoverHeard, language: str) -> tuple[str, ...]:
    """What was said and what was not, each part with its true version."""
    lines = [words(language, "handover:count", said=len(found.said), of=len(ITEMS))]
    marks = [words(language, f"handover:{mark}") for mark in ("said", "missing")]
    wide = max(map(len, marks))
    for part in ITEMS:
        mark = marks[0] if part in found.said else marks[1]
        lines.append(f"{mark.ljust(wide)}  {words_of(PARTS[part], language)}: {found.true[part]}")
    return tuple(lines)
