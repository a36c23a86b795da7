"""A page in Spanish holds no English sentence of ours: looked for in what it says, and in where sentences stand."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from coach.debrief import wording as debrief_words
from coach.debrief.forms import FORMS
from coach.debrief.from_log import debrief_of
from coach.debrief.page import Debrief
from coach.debrief.signoff import IN_WORDS
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.reading import read_log
from coach.measure import wording as measure_words
from coach.measure.wording import EVENTS
from coach.protocol.library import list_protocols, load_protocol
from coach.protocol.model import Protocol
from coach.resources import data_dir
from coach.wording import Table

ROOMS = ("measure", "debrief")
DATA_FORMS = {"csv_form.py", "json_form.py", "xapi_form.py"}
"""Forms for other programs: their names and notes are English in every language."""

FAULTS = """
# protocol: erc-2025/adult-one-rescuer
# scenario: brackhaven/ferry-deck
# mode: {mode}
# counting: {counting}
# language: es
# learner: 07
# assessor: a1
0.00 go
3.0 j
8.0 n
12.0 space
13.2 b
14.0 b
{first}
32.0 b
34.0 b
36.0 b
39.0 f
{second}
61.0 1
65.0 o
75.0 l
78.0 2
80.0 r
84.0 2
90.0 a
93.0 t
96.0 v
98.0 enter
99.0 t
101.0 c
{third}
128.0 p
138.0 p
139.0 q
140.0 backspace
{fourth}
160.2 k
161.0 k
162.0 a
163.5 space
165.0 space
171.0 x
173.0 c
{fifth}
190.0 s
194.0 3
198.0 h
199.0 1
200.0 z
200.4 z
"""


def drill(folder: Path, mode: str, counting: str, protocol: str = "") -> Debrief:
    """A drill in which much goes wrong, in Spanish."""

    def pushes(start: float, number: int, gap: float) -> str:
        many = range(number) if counting == "each" else (0,)
        return "\n".join(f"{start + place * gap:.2f} space" for place in many)

    runs = {
        "first": pushes(16, 34, 0.42),
        "second": pushes(43, 30, 0.55),
        "third": pushes(112, 28, 0.55),
        "fourth": pushes(142, 30, 0.55),
        "fifth": pushes(174, 20, 0.5),
    }
    script = read_script(FAULTS.format(mode=mode, counting=counting, **runs).strip(), "faults")
    return debrief_of(read_log(play(script, setup_of(script, setup_for), folder)))


def english(table: Table) -> Iterator[str]:
    """The parts of English sentences that stand whatever is filled in: two words and more."""
    for said, spanish in table.values():
        for form in said.split("|"):
            for part in re.split(r"\{\w+\}", form):
                bare = part.strip(" .,;:?()")
                if re.search(r"[a-z]{2,} [a-z]{2,}", bare) and bare not in spanish:
                    yield bare


def files_english(protocol: Protocol) -> Iterator[str]:
    """Every English wording of a protocol file that has a Spanish one beside it."""

    def walk(value: object) -> Iterator[str]:
        if isinstance(value, dict):
            if isinstance(value.get("en"), str) and isinstance(value.get("es"), str):
                if value["en"] not in value["es"] and " " in value["en"]:
                    yield value["en"].rstrip(".")
            else:
                for one in value.values():
                    yield from walk(one)
        elif isinstance(value, list):
            for one in value:
                yield from walk(one)

    yield from walk(protocol.model_dump(mode="json"))


@pytest.mark.parametrize("counting", ["each", "marks"])
@pytest.mark.parametrize("mode", ["test", "teach"])
@pytest.mark.parametrize("form", ["text", "markdown", "html"])
def test_a_spanish_page_holds_no_english_sentence_of_ours(form: str, mode: str, counting: str, tmp_path: Path) -> None:
    page = drill(tmp_path, mode, counting)
    text = " ".join(re.sub(r"<style>.*?</style>|\\", "", FORMS[form](page), flags=re.S).split())
    assert "Traducción en borrador" in text
    for one in page.judgement.findings:
        for source in one.source.split("; "):  # publications are called as the file calls them
            text = text.replace(source, "")
    said = {*english(debrief_words.WORDS), *english(measure_words.WORDS), *english(EVENTS)}
    said |= set(files_english(load_protocol("erc-2025/adult-one-rescuer")[0]))
    assert len(said) > 300
    found = sorted(one for one in said if re.search(rf"(?<!\w){re.escape(one)}(?!\w)", text, re.I))
    assert found == []


def test_the_faulty_drill_asks_and_finds_much(tmp_path: Path) -> None:
    """The check above looks at a page on which most of the sentences stand."""
    page = drill(tmp_path, "test", "each")
    asked = {one.ask for one in page.judgement.findings if one.ask}
    assert len(asked) >= 3 and len(page.judgement.findings) >= 12
    assert page.verdict is not None and page.verdict.confirm
    assert {cause for gap in page.measures.gaps for cause in gap.causes} >= {"breaths", "analysis", "pads", "swap"}


def test_what_an_approval_says_is_translated() -> None:
    assert debrief_words.approval("es", "in force, 2 rules relaxed") == "en vigor, 2 reglas relajadas"
    assert debrief_words.approval("es", "draft, 1 rule relaxed") == "borrador, 1 regla relajada"
    assert debrief_words.approval("en", "changed since approved") == "changed since approved"


def test_every_cause_of_a_shipped_file_has_its_spanish_word() -> None:
    causes = set()
    for entry in list_protocols():
        if entry.path.is_relative_to(data_dir("protocols")):
            causes |= {inject.cause for inject in load_protocol(entry.id)[0].inject.values() if inject.cause}
    assert causes
    assert sorted(one for one in causes if f"cause:{one}" not in measure_words.WORDS) == []


def test_pins_are_named_in_the_language_of_the_page() -> None:
    from coach.log.happened import Pin
    from screens.debrief_leaves import LABELS
    from tests.debrief.pages import good_drill, page

    story = good_drill()
    story.pins = [Pin(3, 30_000, "good", LABELS[0])]
    made = page(story, 115, language="es")
    assert made.judgement.strength == "Visto como bueno: dónde estaban las manos."
    assert all(f"label:{one}" in measure_words.WORDS for one in LABELS)
    other = replace(story.pins[0], label="a word of their own")
    story.pins = [other]
    assert "a word of their own" in page(story, 115, language="es").judgement.strength


IDS = {"at the limit", "as the step", *IN_WORDS.values(), *(ident.partition(":")[2] for ident in debrief_words.WORDS)}
"""Names of states, which the tables put into words."""


def sentences(path: Path) -> Iterator[tuple[int, str]]:
    """The texts of a module that read like a sentence: three words; docstrings and errors apart."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    apart: set[int] = set()
    for node in ast.walk(tree):
        docstring = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        error = isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("NotSaid", "LogProblem")
        if docstring or error or isinstance(node, ast.Raise):
            apart |= {id(one) for one in ast.walk(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in apart:
            bare = node.value.removeprefix("status:")
            if re.search(r"[a-z]{2,},? [a-z]{2,},? [a-z]{2,}", bare) and bare not in IDS:
                yield node.lineno, node.value


def test_sentences_of_a_page_stand_in_the_tables_alone() -> None:
    here = Path(debrief_words.__file__).parent.parent
    found = [
        f"{path.name}:{line}: {text}"
        for room in ROOMS
        for path in sorted((here / room).glob("*.py"))
        if path.name not in DATA_FORMS | {"wording.py", "approvals.py", "afterwards.py"}
        for line, text in sentences(path)
    ]
    assert found == []
