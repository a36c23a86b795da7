"""The page's wording: two languages, each sentence in both, filled in by the same names."""

from __future__ import annotations

from string import Formatter

import pytest

from coach.debrief.markdown import as_markdown
from coach.debrief.text import WIDTH, as_text
from coach.debrief.wording import WORDS, count, known, words
from coach.log.happened import Look
from coach.measure.wording import EVENTS, event
from coach.observations import CONTROLS, OBSERVATIONS, label
from coach.wording import spoken
from tests.debrief.pages import good_drill, page


def names(sentence: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(sentence) if name is not None}


@pytest.mark.parametrize("ident", sorted(WORDS))
def test_both_languages_say_the_same_figures(ident: str) -> None:
    english, spanish = WORDS[ident]
    assert english.strip() and spanish.strip()
    assert [names(form) for form in english.split("|")] == [names(form) for form in spanish.split("|")]
    assert english.count("|") == spanish.count("|")


def test_the_list_of_lines_calls_observations_as_the_screen_does() -> None:
    assert set(EVENTS) == {*OBSERVATIONS, *CONTROLS}
    for ident in EVENTS:
        assert event("en", ident) == label(ident)
    assert event("es", "inject:vomit") == "vomit"


def test_a_language_that_is_not_ours_falls_back_to_english() -> None:
    assert [spoken(tag) for tag in ("es", "es-MX", "ES", "en-GB", "fr", "")] == ["es", "es", "es", "en", "en", "en"]


def test_what_is_filled_in_is_never_read_as_a_form() -> None:
    odd = "a|b {count}"
    assert count("en", "eye:looked", 1, target=odd, concern=0, looked=1) == f"{odd}: looked 1 time, no concern"
    assert count("en", "eye:looked", 2, target=odd, concern=0, looked=2) == f"{odd}: looked 2 times, no concern"
    assert known("en", "cause", "vomit") == "vomit" and words("en", "one:keep", say=odd) == f"Keep this: {odd}"


def test_the_page_of_a_spanish_drill_is_in_spanish_and_says_that_it_is_a_draft() -> None:
    story = good_drill()
    story.looks = [Look(5, 25_000, "hands", True), Look(6, 47_000, "hands", True)]
    made = page(story, 115, language="es")
    for form in (as_text, as_markdown):
        text = " ".join(form(made).split())
        for said in (
            "Primero, en palabras de quien practica",
            "Primera compresión",
            "8 s tras decidir",
            "58 % con manos puestas, de 93 s.",
            "análisis, electrodos: 20.0 s preparar + 8.0 s el equipo",
            "aviso 2 s antes",
            "manos: duda en 2 de 2 miradas",
            "2 de 8 dichos",
            "Traducción en borrador",
            "Desde reconocerlo hasta la primera compresión: 8 s (meta ≤ 10 s).",
            "1 descarga, la última hace 0:21.",
        ):
            assert said in text.replace("\\", ""), said
        for english in (
            "Hands off the chest",
            "not reached",
            "by hand",
            "Read with care",
            "clear called",
            "shock given",
        ):
            assert english not in text, english
    assert all(len(line) <= WIDTH for line in as_text(made).splitlines())
    assert "borrador" not in as_text(page(good_drill(), 115))
