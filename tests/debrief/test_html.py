"""The page in HTML, read by a parser: whole, safe, readable aloud, and every figure leads to lines of the log."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

import pytest

from coach.debrief.from_log import debrief_of
from coach.debrief.html_form import LARGEST, SMALLEST, as_html, print_size, view_of
from coach.debrief.page import Debrief
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.happened import Look
from coach.log.places import write_words
from coach.log.reading import Record, read_log
from coach.resources import data_dir
from tests.debrief.pages import good_drill, page, worst
from tests.measure.story import Story

VOID = {"meta", "link", "br", "rect", "path", "circle"}
HOSTILE = '=cmd()|"x"<script>alert(1)</script>[red]\x1b[31m\u202eevil\'`&amp;{{ 7*7 }}'


@dataclass
class Element:
    tag: str
    attrs: dict[str, str]
    parents: tuple[str, ...]
    text: str = ""


@dataclass
class Read(HTMLParser):
    """Elements in order with all the text inside them; fails where tags do not close in order."""

    found: list[Element] = field(default_factory=list)
    open: list[Element] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        parents = tuple(one.tag for one in self.open)
        element = Element(tag, {name: value or "" for name, value in attrs}, parents)
        self.found.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in VOID
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        assert tag not in VOID and self.open.pop().tag == tag, tag

    def handle_data(self, data: str) -> None:
        for element in self.open:
            element.text += data

    def all(self, *tags: str) -> list[Element]:
        return [one for one in self.found if one.tag in tags]


def read(html: str) -> Read:
    reader = Read()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Record:
    text = (data_dir("demo") / "first-drill.txt").read_text(encoding="utf-8")
    script = read_script(text, "first-drill.txt")
    return read_log(play(script, setup_of(script, setup_for), tmp_path_factory.mktemp("logs")))


PAGES: dict[str, tuple[Debrief, Debrief | None]] = {
    "good": (page(good_drill(), 115), None),
    "worst": (worst(), worst("es")),
    "spanish": (page(good_drill(), 115, language="es"), page(good_drill(), 115)),
    "empty": (page(Story(), 0), None),
    "marks": (
        page(Story("marks").at(10, "hands_placed").at(28.3, "breath").at(34, "hands_placed"), 50, "safety"),
        None,
    ),
}


@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_page_is_one_whole_file_that_fetches_and_runs_nothing(name: str) -> None:
    html = as_html(*PAGES[name])
    found = read(html)
    assert html.startswith("<!doctype html>") and html.endswith("</html>\n")
    assert len(html.encode()) < 200_000
    assert not found.all("script", "img", "iframe", "object", "form")
    assert [one.attrs["href"] for one in found.all("link")] == ["data:,"]
    assert "http://" not in html and "https://" not in html and "url(#" in html and "@import" not in html
    assert not [one for one in found.found if any(name.startswith("on") for name in one.attrs)]
    assert "prefers-color-scheme:dark" in html and "@media print" in html


@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_page_can_be_read_aloud(name: str) -> None:
    made, also = PAGES[name]
    found = read(as_html(made, also))
    assert found.all("html")[0].attrs["lang"] == made.language
    assert [one.tag for one in found.all("h1", "h2", "h3")] == ["h1"] + ["h2"] * len(found.all("h2"))
    assert all(one.text.strip() for one in found.all("h1", "h2", "th", "title", "li", "dt", "dd"))
    assert all(one.attrs.get("scope") in ("col", "row") for one in found.all("th"))
    ids = [one.attrs["id"] for one in found.found if "id" in one.attrs]
    assert len(ids) == len(set(ids))
    for one in found.found:
        for named in one.attrs.get("aria-labelledby", "").split():
            assert named in ids
        if one.tag == "svg":
            assert one.attrs.get("aria-hidden") == "true" or one.attrs.get("role") == "img"
    titles = [one for one in found.all("title") if "svg" in one.parents]
    assert len(titles) == sum(one.attrs.get("role") == "img" for one in found.all("svg"))
    assert {one.attrs["lang"] for one in found.all("span") if "lang" in one.attrs} <= {"en", "es"} - {made.language}
    assert len([one for one in found.all("main")]) == 1


@pytest.mark.parametrize("name", sorted(PAGES))
def test_every_link_leads_to_a_note_and_every_note_is_linked(name: str) -> None:
    found = read(as_html(*PAGES[name]))
    wanted = {one.attrs["href"].removeprefix("#") for one in found.all("a")}
    notes = {one.attrs["id"] for one in found.all("li") if "id" in one.attrs}
    assert wanted == notes


def test_every_figure_of_a_drill_leads_to_lines_of_its_log(record: Record) -> None:
    made = debrief_of(record)
    found = read(as_html(made))
    numbers = {0, *(line["seq"] for line in record.lines)}  # the first line holds the casualty's facts
    traced = [one for one in found.found if "data-lines" in one.attrs]
    for one in traced:
        assert {int(seq) for seq in one.attrs["data-lines"].split()} <= numbers
    rows = [one for one in found.all("tr") if "tbody" in one.parents]
    reached = [one for one in rows if any(one.text.startswith(name) for name in ("First", "Unit", "Both", "Call"))]
    assert len(reached) >= 6 and all("data-lines" in one.attrs for one in reached)
    figures = [one for one in found.all("span") if one.attrs.get("class") == "f" and any(map(str.isdigit, one.text))]
    bare = [one.text for one in figures if "data-lines" not in one.attrs and "critical steps" not in one.text]
    assert bare == []
    by_text = {one.text: one.attrs.get("data-lines", "") for one in found.all("span")}
    shock = str(made.measures.shocks[0].seq)
    assert shock in next(lines for text, lines in by_text.items() if text.startswith("1 shock given")).split()
    assert "0" in next(lines for text, lines in by_text.items() if text.startswith("58 years old")).split()
    assert next(lines for text, lines in by_text.items() if text.startswith("Pads for")) == "0"
    first = made.measures.milestones.lines["first_compression"]
    assert str(first) in next(lines for text, lines in by_text.items() if text.startswith("From recognition")).split()
    setup = next(one for one in found.all("li") if one.attrs.get("id") == "L0")
    assert setup.text.startswith("0 0:00 set-up: Fruit stall") and "58" in setup.text
    # One of them by hand: the first shock's line, its time, what it was.
    seq = made.measures.shocks[0].seq
    assert record.lines[seq - 1]["input"] == "shock_pressed"
    note = next(one for one in found.all("li") if one.attrs.get("id") == f"L{seq}")
    assert note.text == f"{seq} 2:01 shock pressed"


def test_the_one_thing_is_what_to_do_and_under_it_what_was_seen_with_its_lines(record: Record) -> None:
    made = debrief_of(record)
    found = read(as_html(made))
    todo = next(one for one in found.all("p") if one.attrs.get("class") == "thing")
    seen = next(one for one in found.all("p") if one.attrs.get("class") == "seen")
    thing = made.judgement.one_thing
    assert todo.text == thing.again and seen.text.startswith(thing.say)
    assert thing.again and thing.again != thing.say
    assert any("data-lines" in one.attrs and one.text == seen.text.strip() for one in found.all("span"))


def test_a_line_voided_or_moved_is_told_as_such(record: Record) -> None:
    found = read(as_html(debrief_of(record)))
    notes = [one.text for one in found.all("li") if "id" in one.attrs]
    assert any("voided: left pad" in note for note in notes)
    assert any("clear called, moved from 1:59" in note for note in notes)


def test_text_of_others_is_text() -> None:
    story = good_drill()
    story.looks = [Look(5, 25_000, HOSTILE, True)]
    html = as_html(page(story, 115, learner=HOSTILE, role=HOSTILE, scenario={"title": HOSTILE}, drill=HOSTILE))
    found = read(html)
    assert not found.all("script")
    assert "\x1b" not in html and "\u202e" not in html and "49" not in found.all("h1")[0].text
    assert "<script>alert(1)</script>[red][31mevil'`&amp;{{ 7*7 }}" in found.all("h1")[0].text


def test_the_learners_words_stand_where_the_lines_to_write_on_were(record: Record) -> None:
    before = read(as_html(debrief_of(record)))
    assert len([one for one in before.all("span") if one.attrs.get("class") == "write"]) == 5
    write_words(record.path, {"plus": "quick <b>start", "change": "the pads", "note": "not for the page"})
    after = read(as_html(debrief_of(record)))
    assert [one.text for one in after.all("q")] == ["quick <b>start", "the pads"]
    assert "not for the page" not in after.all("main")[0].text


def test_the_tape_draws_every_run_and_the_longest_stop_apart() -> None:
    made = page(good_drill(), 115)
    found = read(as_html(made))
    drawn = [one for one in found.all("rect") if "g" in one.parents]
    kinds = [one.attrs["class"] for one in drawn]
    assert kinds.count("longest") == 1  # 61.8 to 95.8 s: within the second minute
    width = sum(float(one.attrs["width"]) for one in drawn if one.attrs["class"] == "on")
    assert width == pytest.approx(sum(run.last - run.first for run in made.measures.runs) / 100, abs=0.5)


def test_a_bar_is_cut_by_whose_time_it_was() -> None:
    found = read(as_html(page(good_drill(), 115)))
    bars = [one for one in found.all("rect") if "td" in one.parents]
    widths = {one.attrs["class"]: float(one.attrs["width"]) for one in bars[:4]}
    assert widths == pytest.approx({"prep": 58.8, "unit": 23.5, "press": 8.8, "resume": 8.8}, abs=0.1)
    title = next(one.text for one in found.all("title") if "td" in one.parents)
    assert title == "20.0 s getting ready + 8.0 s the unit + 3.0 s to the shock + 3.0 s back on"


def test_more_gaps_and_findings_than_fit_are_counted() -> None:
    made = worst()
    text = read(as_html(made)).all("main")[0].text
    assert "and 2 more, none over 6.1 s" in text
    assert len(made.judgement.findings) == 20


def test_print_shrinks_with_what_there_is_to_say() -> None:
    sizes = [print_size(view_of(*PAGES[name]), 3) for name in ("empty", "good", "worst")]
    assert LARGEST >= sizes[0] > sizes[1] > sizes[2] >= SMALLEST


def test_the_page_needs_no_folder_of_its_own(tmp_path: Path) -> None:
    """The template is read as package data, not from a checkout."""
    from importlib.resources import files

    assert files("coach.debrief").joinpath("page.html.jinja").is_file()
