"""All texts of a protocol that people see, with their languages, and what is wrong between the languages."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, NamedTuple

from coach.protocol.model import Protocol

WORDED = {
    "title",
    "about",
    "role",
    "cue",
    "late_cue",
    "voice",
    "look",
    "say",
    "again",
    "note",
    "label",
    "verb",
    "play",
}
"""The members of a file that hold a text for people."""
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")


class Worded(NamedTuple):
    """One text: the dotted place of it in the file, the last part of that, and the text in each language."""

    where: str
    kind: str
    texts: dict[str, str]


def wordings(protocol: Protocol) -> Iterator[Worded]:
    """Every text in one or more languages, in the order of the file."""
    yield from _walk(protocol.model_dump(by_alias=True, exclude_defaults=True), "", "")


def _walk(value: Any, where: str, key: str) -> Iterator[Worded]:
    named = where.startswith("rule.") and key != "say"  # a rule names a cue, it says none
    if key in WORDED and not named and not where.startswith("sources."):
        if isinstance(value, str):
            yield Worded(where, key, {"en": value})
            return
        if isinstance(value, dict) and value and all(isinstance(text, str) for text in value.values()):
            yield Worded(where, key, dict(value))
            return
    if isinstance(value, dict):
        for name, item in value.items():
            yield from _walk(item, f"{where}.{name}" if where else str(name), str(name))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            ident = (item.get("id") or item.get("fault", {}).get("id")) if isinstance(item, dict) else None
            yield from _walk(item, f"{where}.{ident or index + 1}", "")


def languages(protocol: Protocol) -> list[str]:
    """The languages that the protocol claims to speak: those of its title, English first."""
    return sorted(protocol.title, key=lambda language: (language != "en", language))


def translation_problems(protocol: Protocol) -> list[str]:
    """Texts that lack a language of the title, or whose numbers differ between languages, in words."""
    found: list[str] = []
    wanted = languages(protocol)
    for worded in wordings(protocol):
        lacking = [language for language in wanted if not worded.texts.get(language, "").strip()]
        if lacking:
            found.append(f"{worded.where} is missing in {', '.join(lacking)}")
        numbers = {language: _numbers(text) for language, text in worded.texts.items() if text.strip()}
        if len(set(numbers.values())) > 1:
            told = "; ".join(f"{language}: {', '.join(each) or 'none'}" for language, each in numbers.items())
            found.append(f"{worded.where} has other numbers in other languages ({told})")
    return found


def _numbers(text: str) -> tuple[str, ...]:
    return tuple(sorted(number.replace(",", ".") for number in _NUMBER.findall(text)))
