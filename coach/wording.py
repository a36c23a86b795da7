"""Sentences in the languages that a page can have: English, and Spanish as a draft translation.

A table holds each sentence under an id in all languages, with ``{names}`` for what is filled in. What is filled in is
never read as a sentence itself.
"""

from __future__ import annotations

from collections.abc import Mapping

LANGUAGES = ("en", "es")
"""The languages of our own wording, in the order of a table's entries."""

DRAFTS = frozenset({"es"})
"""Languages whose wording nobody has reviewed yet; a page in one of them says so."""

Table = Mapping[str, tuple[str, str]]
"""Sentences by id: the English one and the Spanish one."""


def spoken(language: str) -> str:
    """The language of :data:`LANGUAGES` that a tag such as ``es-MX`` asks for; English for any other."""
    first = language.partition("-")[0].casefold()
    return first if first in LANGUAGES else LANGUAGES[0]


def say(table: Table, language: str, ident: str, /, **values: object) -> str:
    """The sentence ``ident`` of a table, filled in. KeyError where the table has none."""
    return table[ident][LANGUAGES.index(spoken(language))].format(**values)
