"""What a sitting shows: a question, what was told after an answer, and what is kept of each answer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from coach.drill.setup import words_of
from coach.rehearse.items import NO_SOURCE
from coach.rehearse.quick import ACTIONS, Fire, who
from coach.rehearse.telling import KEEP
from coach.rehearse.verbs import PUSH, label
from coach.rehearse.wording import WORDS, words
from coach.rehearse.world import Walk

Phase = Literal["sure", "answer", "handover", "told", "over"]
QuestionKind = Literal["decision", "pads", "handover"]
Verdict = Literal["opening", "right", "wrong", "danger", "unknown", "also", "noted", "handover", "over"]

MS_A_WORD = 240
"""Reading time: 250 words a minute, about the mean of silent reading of English prose (from memory)."""
MS_A_KEY = 1_500
MS_TYPING = 4_000
"""What the two keys of an answer, and the typing of a verb, may take on top: our own choice."""


@dataclass(frozen=True, slots=True)
class Question:
    """One question. ``options`` are (action, words), shown from 1; ``limit_ms`` counts from showing and holds the
    reading time in it, None without limits; ``first`` is the first meeting with the item; ``again`` is asked once more
    after a wrong turn and does not count."""

    number: int
    of: int
    kind: QuestionKind
    item: str
    family: str
    story: str
    now: str
    ask: str
    options: tuple[tuple[str, str], ...]
    typed: bool
    reading_ms: int
    limit_ms: int | None
    first: bool
    again: bool
    hinted: bool = False


@dataclass(frozen=True, slots=True)
class Told:
    """What is said after an answer. ``verdict`` is ``noted`` where the why waits until the end."""

    verdict: Verdict
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Given:
    """An answer that counted, with what is to be said of it: at once on the first meeting, else at the end."""

    item: str
    title: str
    right: bool
    sure: str
    ms: int
    rating: int
    worth: str
    answer: str
    first: bool
    why: str
    source: str
    language: str = "en"

    @property
    def line(self) -> str:
        """The why and the source in one line."""
        return with_source(self.why, self.source, self.language)


def with_source(why: str, source: str, language: str) -> str:
    """A sentence and where it comes from, as one line; the grade of the source in the language of the sentence."""
    title, _, grade = source.removesuffix(")").rpartition(" (")
    if f"grade:{grade}" in WORDS:
        source = f"{title} ({words(language, f'grade:{grade}')})"
    elif source == NO_SOURCE:
        source = words(language, "no source")
    ended = why if not why or why[-1] in ".!?" else f"{why}."
    return f"{ended} — {source}" if source else ended


def allowance(words: str, options: Iterable[str], typed: bool) -> int:
    """What reading and keying may take, in ms, before the item's own limit begins to count."""
    count = len(words.split()) + sum(len(option.split()) for option in options)
    return count * MS_A_WORD + MS_A_KEY + (MS_TYPING if typed else 0)


def labelled(actions: Sequence[str], walk: Walk, language: str) -> tuple[tuple[str, str], ...]:
    """Actions with the words that they go by just now; pushing on is called so."""
    hands_on, protocol = walk.moments.hands_on(walk.state), walk.listing.protocol
    return tuple(
        (
            action,
            words_of(KEEP, language)
            if action == PUSH and hands_on
            else label(walk.name_of(action), protocol, language),
        )
        for action in actions
    )


def fire_question(fire: Fire, language: str) -> tuple[str, tuple[tuple[str, str], ...]]:
    """A quick-fire question's words and options."""
    return who(fire, language), tuple((action, words_of(ACTIONS[action], language)) for action in fire.choices)


def cues_since(walk: Walk, place: int, language: str) -> list[str]:
    """What the story called out since its effect number ``place``: the last two lines."""
    found = [
        words_of(walk.machine.cues[told.effect.name], language)
        for told in walk.effects[place:]
        if told.effect.kind == "cue" and told.effect.name in walk.machine.cues and told.effect.arrow
    ]
    return list(dict.fromkeys(found))[-2:]


def seconds(ms: int) -> str:
    """A time in whole seconds, rounded half up."""
    return f"{(ms + 500) // 1_000} s"
