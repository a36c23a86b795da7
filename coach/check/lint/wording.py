"""Lint of what people hear and read: length, languages, numbers, promises, negations."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from coach.check.lint.sheet import Page, Sheet
from coach.protocol.model import Protocol
from coach.protocol.positions import Path
from coach.protocol.wordings import WORDED

CUE_WORDS = 9
CUE_LENGTH = 60
"""The most words and characters of a cue: what a person takes in while pushing (a choice of this program)."""

HEARD = ("cue", "late_cue", "voice")

_ENGLISH = ("three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_SPANISH = ("tres", "cuatro", "cinco", "seis", "siete", "ocho", "nueve", "diez", "once", "doce")

NUMBER_WORDS: dict[str, dict[str, int]] = {
    "en": {
        **{word: n for n, word in enumerate(_ENGLISH, 3)},
        **{"fifteen": 15, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "eighty": 80},
        **{"ninety": 90, "hundred": 100},
    },
    "es": {
        **{word: n for n, word in enumerate(_SPANISH, 3)},
        **{"quince": 15, "veinte": 20, "treinta": 30, "cuarenta": 40, "cincuenta": 50, "sesenta": 60, "ochenta": 80},
        **{"noventa": 90, "cien": 100},
    },
}
"""Words that are numbers and nothing else. One and two are left out: they are articles, and "both" is two."""

PROMISES: dict[str, tuple[str, ...]] = {
    "en": (
        r"sav(e|es|ed|ing) (a |the |their |his |her |your )?(life|lives)",
        r"guarantee",
        r"will (live|survive|recover|wake)",
        r"always works",
        r"chances? of survival",
        r"heart attack",
        r"infarct",
        r"\bstroke\b",
        r"\bcures?\b",
        r"(is|are) dead\b",
        r"diagnos",
    ),
    "es": (
        r"salva(r|s|n)? (una |la |su |tu )?vidas?",
        r"garanti",
        r"(vivirá|sobrevivirá|se recuperará|despertará)",
        r"siempre funciona",
        r"probabilidad(es)? de sobrevivir",
        r"ataque al corazón",
        r"infarto",
        r"\bictus\b",
        r"\bcura(r|n|rá)?\b",
        r"est(á|aba) muert",
        r"diagn[oó]st",
    ),
}
_NEGATIONS = re.compile(r"\b(?:not|never|no|nobody|nothing|none|without|cannot|neither|nor)\b|n['’]t\b", re.IGNORECASE)
_VERDICTS = re.compile(r"\bno (?:shock|answer|response|breathing|pulse)\b", re.IGNORECASE)
"""What a unit or a look finds: names of things, not negations of an order."""

_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")


class Worded(NamedTuple):
    """A text in one or more languages: its place, the key that it stands under, and the texts."""

    path: Path
    kind: str
    texts: dict[str, str]


def worded(protocol: Protocol) -> Iterator[Worded]:
    """Every text of a protocol that people see, in the order of the file."""
    yield from _walk(protocol.model_dump(by_alias=True, exclude_defaults=True, exclude={"sources"}), ())


def _walk(value: Any, path: Path) -> Iterator[Worded]:
    key = path[-1] if path else ""
    if key == "cue" and path[0] == "rule":
        return  # a rule names what says a cue
    if key in WORDED and isinstance(value, str):
        yield Worded(path, str(key), {"en": value})
    elif key in WORDED and isinstance(value, dict) and value and all(isinstance(text, str) for text in value.values()):
        yield Worded(path, str(key), value)
    elif isinstance(value, dict):
        for name, item in value.items():
            yield from _walk(item, (*path, name))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _walk(item, (*path, index))


def lint_wording(sheet: Sheet) -> None:
    """Report texts that are too long, lack a language, differ in numbers, promise, or negate twice."""
    lint_texts(sheet, worded(sheet.protocol), list(sheet.protocol.title))


def lint_texts(sheet: Page, texts_of: Iterable[Worded], languages: list[str]) -> None:
    """The same of any texts of a file whose title is in these languages."""
    every = list(texts_of)
    others: Counter[str] = Counter()
    _languages(sheet, every)
    for one in every:
        texts = {language: text for language, text in one.texts.items() if text.strip()}
        for language in languages:
            if language not in texts:
                what = f"the {_kind(one.kind)} has no text in `{language}`"
                sheet.add("translation-missing", one.path, what, f'add {language} = "…"', [*texts.values()][:1])
        others.update(language for language in texts if language not in languages)
        _numbers(sheet, one, texts)
        for language, text in texts.items():
            path = (*one.path, language)
            if one.kind in HEARD:
                _length(sheet, path, one.kind, text)
                if language == "en":
                    _negations(sheet, path, one.kind, text)
            for pattern in PROMISES.get(language, ()):
                if found := re.search(pattern, text, re.IGNORECASE):
                    what = f"`{found[0]}` promises or diagnoses"
                    sheet.add("promise", path, what, "say what to do, or what was seen", [text], "value", found.start())

    for language, count in sorted(others.items()):  # a local file's own title, say, that dropped one
        what = f"the title has no text in `{language}`, and {count} other {'text has' if count == 1 else 'texts have'}"
        todo = f'add {language} = "…" to the title: its languages are those that the file speaks'
        sheet.add("translation-missing", ("title",), what, todo)


LEARNT = 40
"""From so many texts in a language on a file's own words tell it (a choice of this program)."""

APART = 0.25
"""The share of a text's words by which another language must know more of them than its own: among the texts that ship
none comes nearer to 0 than -0.25, and of 600 put into the other language's place none stays below 0.33."""


def _languages(sheet: Page, texts_of: list[Worded]) -> None:
    """Report texts that read as another language than the one they stand for, by the words of the other texts."""
    known: dict[str, Counter[str]] = {}
    size: Counter[str] = Counter()
    for one in texts_of:
        for language, text in one.texts.items():
            size[language] += 1
            known.setdefault(language, Counter()).update(_words(text))
    spoken = [language for language in known if size[language] >= LEARNT]
    for one in texts_of:
        for language, text in one.texts.items():
            words = _words(text)
            if language not in spoken or len(words) < 3:
                continue
            own = sum(known[language][word] > 1 for word in words)  # elsewhere too
            for other in spoken:
                theirs = sum(word in known[other] for word in words)
                if other != language and theirs - own >= APART * len(words):
                    what = f"the {_kind(one.kind)} in `{language}` reads as `{other}`"
                    path, help_ = (*one.path, language), f"say it in `{language}`"
                    sheet.add("text-in-another-language", path, what, help_, [text], "value")
                    break


def _words(text: str) -> set[str]:
    return set(re.findall(r"[^\W\d_]{2,}", text.casefold()))


def _kind(kind: str) -> str:
    return kind.replace("_", " ")


def _length(sheet: Page, path: Path, kind: str, text: str) -> None:
    words = len(text.split())
    if words > CUE_WORDS:
        what = f"the {_kind(kind)} has {words} words"
        sheet.add("cue-too-long", path, what, f"{CUE_WORDS} at most: say one thing", [text], "value")
    elif len(text) > CUE_LENGTH:
        what = f"the {_kind(kind)} has {len(text)} characters"
        sheet.add("cue-too-long", path, what, f"{CUE_LENGTH} at most: say one thing", [text], "value")


def _negations(sheet: Page, path: Path, kind: str, text: str) -> None:
    blanked = _VERDICTS.sub(lambda found: "·" * len(found[0]), text)
    at = 0
    for part in re.split(r"([.,:;?!]+)", blanked):
        found = list(_NEGATIONS.finditer(part))
        if len(found) > 1:
            what = f"the {_kind(kind)} negates twice: {' … '.join(f'`{one[0]}`' for one in found)}"
            sheet.add("double-negative", path, what, "say what to do instead", [text], "value", at + found[0].start())
        at += len(part)


def numbers_in(text: str, language: str) -> tuple[str, ...]:
    """The numbers of a text, in digits or in words, sorted; as texts, with a full stop as the decimal sign."""
    known = NUMBER_WORDS.get(language.partition("-")[0], {})
    words = [str(known[word]) for word in re.findall(r"[^\W\d_]+", text.casefold()) if word in known]
    return tuple(sorted([*(number.replace(",", ".") for number in _NUMBER.findall(text)), *words]))


def _numbers(sheet: Page, one: Worded, texts: dict[str, str]) -> None:
    told = {language: numbers_in(text, language) for language, text in texts.items()}
    spelt = [language for language in told if language.partition("-")[0] in NUMBER_WORDS]
    if len({told[language] for language in spelt}) > 1:
        words = "; ".join(f"{language}: {', '.join(told[language]) or 'none'}" for language in spelt)
        what = f"the numbers of this {_kind(one.kind)} differ between its languages ({words})"
        sheet.add("number-differs-between-languages", one.path, what, "one of them is wrong", [*texts.values()])
