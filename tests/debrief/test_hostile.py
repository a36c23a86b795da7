"""Text that is not ours, through every form: what a person typed comes out as the text it is, and as nothing else."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import pytest

from coach.debrief.forms import FORMS
from coach.debrief.page import Debrief
from coach.log.happened import Look, Pin
from coach.text import one_line
from tests.debrief.pages import good_drill, page

TYPED = {
    "formula": "=cmd()|'/C calc'!A0",
    "plus": "+1+1",
    "at": "@SUM(A1)",
    "script": "<script>alert(1)</script>",
    "attribute": '" onmouseover="x\' autofocus',
    "entity": "&lt;b&gt; &amp; &#60;",
    "markup": "[red]bold[/red] [@click=app.quit()]x",
    "escape": "\x1b[31mred\x1b]0;title\x07",
    "c1": "\x9b31mred",
    "override": "abc\u202edef\u2066ghi",
    "zero-width": "a\u200bb\ufeffc",
    "template": "{{ 7*7 }} {% raw %} {0} {name}",
    "markdown": "**b** `c` # | [x](javascript:alert(1)) ![i](i) ~~s~~ $m$",
    "lines": "one\ntwo\r\nthree\u2028four",
    "style": "</style><style>*{display:none}",
    "comment": "<!-- --> ]]>",
}


class Text(HTMLParser):
    """The texts and attributes of a page; complains of any tag that is not the page's own."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.tags: list[tuple[str, tuple[str, ...]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, tuple(sorted(name for name, _ in attrs))))

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for one in value.values() if isinstance(value, dict) else value:
            yield from strings(one)


def texts(form: str, made: str) -> str:
    """What a reader of the form sees, as text."""
    if form in ("json", "xapi"):
        return "\n".join(strings(json.loads(made)))
    if form == "csv":
        cells = [cell for row in csv.reader(io.StringIO(made)) for cell in row]
        for cell in cells:
            number = re.fullmatch(r"-?\d+(\.\d+)?(e-\d+)?", cell)
            assert number or not cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t")), cell
        return "\n".join(cell.removeprefix("'") for cell in cells)
    if form == "html":
        reader = Text()
        reader.feed(made)
        return "".join(reader.texts)
    if form == "markdown":
        return re.sub(r"\\(.)", r"\1", made)
    return made


def typed_page(typed: str) -> Debrief:
    """A page with that text wherever a person can type: ids, role, scenario, pins, looks, own words, a file's texts."""
    story = good_drill().at(100, f"inject:{typed}")
    story.looks = [Look(5, 25_000, typed, True)]
    story.pins = [Pin(6, 26_000, "good", typed)]
    made = page(
        story,
        115,
        drill=typed,
        learner=typed,
        assessor=typed,
        role=typed,
        scenario={"title": typed, "id": typed},
        protocol={"id": typed, "version": typed, "guidance": typed, "approval": typed, "digest": typed},
    )
    own = {name: one_line(typed) for name in ("felt", "plus", "change", "again", "take")}
    finding = (
        replace(made.judgement.findings[0], say=typed, source=typed, ask=typed) if made.judgement.findings else None
    )
    judged = replace(made.judgement, findings=(*made.judgement.findings, *([finding] if finding else [])))
    return replace(made, own=own, judgement=judged)


@pytest.mark.parametrize("name", sorted(TYPED))
@pytest.mark.parametrize("form", sorted(FORMS))
def test_what_was_typed_comes_out_as_the_text_it_is(form: str, name: str) -> None:
    made = FORMS[form](typed_page(TYPED[name]))
    wanted = one_line(TYPED[name])
    squeezed = re.sub(r"\s+", " ", texts(form, made))
    assert wanted in squeezed, wanted
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]", made)
    if form == "html":
        plain, odd = Text(), Text()
        plain.feed(FORMS["html"](typed_page("kim")))
        odd.feed(made)
        assert odd.tags == plain.tags
    if form == "markdown":
        assert not re.search(r"(?<!\\)<", made)


def test_the_finding_is_there_to_be_tested() -> None:
    assert any(one.say == "kim" for one in typed_page("kim").judgement.findings)
