"""A learner who reads Spanish: every sentence around the questions in both languages, and none of them in English."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from pathlib import Path
from string import Formatter

import pytest

from coach.clock import SteppedClock
from coach.commands import main
from coach.commands import rehearse as room
from coach.observations import OBSERVATIONS
from coach.rehearse.asking import with_source
from coach.rehearse.history import TempoTaken
from coach.rehearse.moments import ACTIONS
from coach.rehearse.page import page
from coach.rehearse.progress import chart, progress_of
from coach.rehearse.quick import ACTIONS as PADS
from coach.rehearse.quick import CASES, SPANISH
from coach.rehearse.sitting import Sitting
from coach.rehearse.slip import slip_json, slip_text
from coach.rehearse.tempo import count_words, tempo_of, words_of_tempo
from coach.rehearse.temptations import TEMPTATIONS
from coach.rehearse.verbs import LABELS, SPECIAL
from coach.rehearse.wording import WORDS
from tests.rehearse.made import DAY, empty, matter, play, right, wrong


def names(sentence: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(sentence) if name is not None}


@pytest.mark.parametrize("ident", sorted(WORDS))
def test_both_languages_are_filled_in_alike(ident: str) -> None:
    english, spanish = WORDS[ident]
    assert (english.strip() or ident == "draft") and spanish.strip()
    if ident != "draft":
        assert [names(form) for form in english.split("|")] == [names(form) for form in spanish.split("|")]


def english_in(text: str) -> list[str]:
    """The sentences of the English table, two words and more, that stand in a text."""
    found = []
    for english, spanish in WORDS.values():
        for form in english.split("|"):
            for piece in re.split(r"\{\w+\}", form):
                words = piece.strip(" .,:;()")
                if len(words.split()) > 1 and words not in spanish and words in text:
                    found.append(words)
    tables = (LABELS, SPECIAL, PADS, {name: one.label for name, one in TEMPTATIONS.items()})
    found += [w["en"] for table in tables for w in table.values() if w["en"] != w["es"] and w["en"] in text]
    return found


def test_the_search_for_english_finds_it(capsys: pytest.CaptureFixture[str]) -> None:
    sitting = Sitting(matter(), empty(), day=DAY, seed=4)
    room.entry(matter(), empty(), DAY, "en")
    room.sit(sitting, SteppedClock(), lambda prompt: None)
    assert len(english_in(capsys.readouterr().out)) > 5


@pytest.mark.parametrize("how", ["right", "wrong", "?"])
@pytest.mark.parametrize("typed", [False, True])
def test_a_whole_sitting_in_lines_is_in_spanish(capsys: pytest.CaptureFixture[str], how: str, typed: bool) -> None:
    history = empty()
    for number in range(3):
        sitting = Sitting(matter(), history, day=DAY + timedelta(days=9 * number), language="es", typed=typed)
        clock = SteppedClock()
        asked: list[str] = []

        def ask(
            prompt: str, sitting: Sitting = sitting, clock: SteppedClock = clock, asked: list[str] = asked
        ) -> str | None:
            asked.append(prompt)
            clock.advance(20_000)
            if sitting.phase == "sure":
                return "?" if how == "?" else "x" if len(asked) == 1 else "s"
            if sitting.phase == "handover":
                return "Hombre de 60 años, RCP" if how == "right" else "1 2"
            question = sitting.question
            assert question is not None
            if question.typed:
                return "?" if question.again else "plátanos" if len(asked) < 4 else "h"
            places = [action for action, _ in question.options]
            return str(places.index(right(sitting) if how == "right" else wrong(sitting)) + 1)

        room.entry(matter(), history, DAY, "es")
        room.sit(sitting, clock, ask)
        out = capsys.readouterr().out + " ".join(asked)
        assert english_in(out) == [], out
        assert "borrador" in out and "¿Qué haces ahora?" in out


def test_what_is_kept_is_told_in_spanish() -> None:
    history = empty()
    for gap in (0, 3, 9):
        play(Sitting(matter(), history, day=DAY + timedelta(days=gap), language="es"), wrong if gap == 3 else right)
    history.tempos.append(TempoTaken(DAY, 108.4, 1.2, 30, 29, 110, 1))
    progress = progress_of(matter(), history, DAY + timedelta(days=10), "es")
    lines = chart(progress, 60, "es")
    assert max(map(len, lines)) <= 60
    texts = ["\n".join(lines), page(progress, "es"), slip_text(matter(), history, DAY, "es")]
    texts.append("\n".join(slip_json(matter(), history, DAY, "es")["says"]))
    for text in texts:
        assert english_in(text) == []
    assert '<html lang="es">' in texts[1] and all("borrador" in text for text in texts[1:3])
    assert "No es un certificado" in texts[2]


def test_taps_are_told_in_spanish() -> None:
    for rate in (80, 100, 110, 140):
        found = tempo_of([round(n * 60_000 / rate) for n in range(12)], 25)
        assert found is not None and english_in(words_of_tempo(found, "es")) == []
    assert (
        count_words(3, 3, "es") == "Contaste 3, y esas fueron." and count_words(3, 4, "es") == "Contaste 3; fueron 4."
    )


def test_the_grade_of_a_source_is_told_in_the_language() -> None:
    assert with_source("Comprime", "A book (read)", "es") == "Comprime. — A book (leído)"
    assert with_source("Push", "A book (read)", "en") == "Push. — A book (read)"
    assert with_source("Comprime", "A (b) c", "es") == "Comprime. — A (b) c"


def test_every_case_and_every_deed_has_a_spanish_name() -> None:
    assert set(SPANISH) == {case.name for case in CASES}
    assert {ident for ident, entry in OBSERVATIONS.items() if entry.by == "learner"} - {"touch", "probe_tap"} <= {
        *ACTIONS, "compression",
    }  # fmt: skip
    assert set(ACTIONS) <= set(LABELS)


def test_the_settings_language_and_the_commands_reach_the_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path))
    monkeypatch.setenv("KNEESIDE_CONFIG", str(tmp_path / "settings.toml"))
    (tmp_path / "settings.toml").write_text('language = "es"\n', encoding="utf-8")
    slip = tmp_path / "hoja.json"
    assert main(["rehearse", "--slip", str(slip)]) == 0
    assert json.loads(slip.read_text(encoding="utf-8"))["says"][0].startswith("No es un certificado.")
    assert main(["rehearse", "--slip", str(slip), "--language", "en-GB"]) == 0
    assert json.loads(slip.read_text(encoding="utf-8"))["says"][0].startswith("This is no certificate.")
