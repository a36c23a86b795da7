"""Text, Markdown and CSV: layout, order of the talk, claims, and text that is not ours."""

from __future__ import annotations

import csv
import io
import json
import re
from html import unescape
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from coach.debrief.csv_form import as_csv, events_csv, measures_csv
from coach.debrief.forms import FORMS
from coach.debrief.html_form import as_html
from coach.debrief.json_form import as_json
from coach.debrief.markdown import as_markdown, escape
from coach.debrief.page import Debrief, build
from coach.debrief.phrases import pause, percent, seconds
from coach.debrief.sentences import gap_for, shock
from coach.debrief.tape import legend, rows
from coach.debrief.text import WIDTH, as_text
from coach.log.happened import Look
from coach.protocol.model import Relax
from tests.debrief.pages import good_drill, header, page
from tests.measure.story import Story, protocol

HOSTILE = '=cmd()|"x"<script>[red]\x1b[31m\u202eevil`*_#'


def flat(text: str) -> str:
    """The text as if its lines were never broken."""
    return " ".join(text.split())


def order(text: str, *parts: str) -> None:
    places = [text.index(part) for part in parts]
    assert places == sorted(places), dict(zip(parts, places, strict=True))


def test_the_page_follows_the_talk_and_the_learner_comes_first() -> None:
    for form, mark in ((as_text, "── "), (as_markdown, "## ")):
        order(
            form(page(good_drill(), 115)),
            f"{mark}First, in the learner's own words",
            f"{mark}To keep",
            f"{mark}The tape",
            f"{mark}What was keyed, and when",
            f"{mark}Hands off the chest",
            f"{mark}Analysis and shock",
            f"{mark}Rhythm",
            f"{mark}By eye",
            f"{mark}Steps",
            f"{mark}Findings",
            f"{mark}One thing, again now",
            f"{mark}Handover",
            f"{mark}Read with care",
        )


def test_no_line_of_the_text_is_wider_than_the_page_or_ends_in_blanks() -> None:
    long = "x" * 200
    for made in (good_drill(), good_drill("counter"), good_drill("marks"), Story()):
        for line in as_text(page(made, 150, learner=long, role=f"{long} {long}")).splitlines():
            assert len(line) <= WIDTH and line == line.rstrip()


def test_the_text_says_the_worked_figures() -> None:
    text = as_text(page(good_drill(), 115))
    for said in (
        "Small · Fruit stall · test · only rescuer",
        "learner 07 · attempt 2",
        "after ERC 2025, not endorsed · DRAFT",
        "First compression                0:22  8 s after deciding",
        "Call made                        0:11  3 s before deciding",
        "Times by hand ±1-2 s.",
        "58 % hands on, of 93 s. With stops for breaths only (30 at 100/min): 78 % at",
        "5 s a stop, 78 % at 5.0 s, the median here.",
        "   34.0 s at  1:01  analysis, pads: 20.0 s getting ready + 8.0 s the unit +",
        "    5.0 s at  0:39  breaths",
        "Shock at 1:32: hands off 31.0 s before, 3.0 s after, 34.0 s in all; clear",
        "called 2 s before.",
        "From analysis to shock or verdict: no touch marked.",
        "Pads for this casualty: adult pads, right and left: 25 kg or more: adult",
        "100/min ±0.4 (100-100 over 3 runs): at the limit of 100-120; 75 of 75",
        "90 compressions seen; runs+breaths: 30+2 30 30",
        "recoil: concern in 1 of 2 looks",
        "hands: looked 1 time, no concern",
        "2 of 8 said; not marked as said: who and where",
        "On record: 1 line voided; 2 lines moved in time; 2 presses dropped as",
        "The protocol is not approved (draft)",
    ):
        assert said in text, said


def test_a_gap_by_marks_is_told_in_half_seconds() -> None:
    story = Story("marks").at(10, "hands_placed").at(28.3, "breath").at(34.04, "hands_placed")
    text = as_text(page(story, 50))
    assert "    5.5 s at  0:28  breaths" in text
    assert "From hand marks it reads 1-2 points high" in flat(text)
    assert "No rate: fewer than six compressions in a row were tapped." in text
    assert "compressions not counted" in text


def test_milestones_never_reached_say_until_when() -> None:
    text = as_text(page(Story().at(5, "response_checked"), 240))
    assert "First shock                    not reached by 4:00  (ended)" in text
    text = as_text(page(Story().at(5, "response_checked"), 240, "safety"))
    assert "not reached by 4:00  (stopped for safety)" in text
    assert "never scored" in text


def test_depth_by_eye_is_never_a_number() -> None:
    story = good_drill()
    story.looks = [Look(5, 25_000, "depth", True), Look(6, 47_000, "depth", True)]
    text = as_text(page(story, 115))
    assert "depth: concern in 2 of 2 looks" in text
    assert " cm" not in text and "depth " not in text.lower().replace("depth: concern", "").replace("statement on", "")
    bare = good_drill()
    bare.looks = []
    assert "no statement on depth" in as_text(page(bare, 115))


def test_nothing_is_claimed_that_a_key_did_not_see() -> None:
    story = Story().at(10, "compression").at(12, "analysis_begins").at(20, "shock_advised").at(24, "shock_pressed")
    for form in (as_text, as_markdown):
        text = flat(form(page(story, 40)).lower())
        assert "no clear call marked" in text and "no touch marked" in text
        assert "nobody touched" not in text and "you looked" not in text


@pytest.mark.parametrize(
    ("happened", "ended", "more", "said"),
    [
        ({}, "interrupted", {}, "The record was interrupted"),
        ({"away": ((10_000, 22_000),)}, "ended", {}, "The keyboard was elsewhere for 12 s"),
        ({"shortened": (30_000,)}, "ended", {}, "A period was cut short"),
        ({}, "ended", {"metronome": True}, "The metronome was on"),
        ({}, "ended", {"counting": "marks"}, "From marks alone the hands-on share reads 1 to 2 points high"),
        ({}, "ended", {"counting": "probe"}, "marked by hand"),
    ],
)
def test_cautions_where_they_apply(happened: dict[str, Any], ended: str, more: dict[str, Any], said: str) -> None:
    plain = " ".join(page(good_drill(), 115).cautions)
    assert said not in plain
    story = Story().at(10, "hands_placed") if more.get("counting") in ("marks", "probe") else good_drill()
    story.extra.pop("handover_said", None)
    assert said in " ".join(page(story, 115, ended, happened=happened, **more).cautions)


def test_standing_cautions_and_the_body_without_endorsement() -> None:
    cautions = " ".join(page(good_drill(), 115, pads=None).cautions)
    for said in ("Training only", "emergency number", "After ERC 2025, not endorsed"):
        assert said in cautions
    assert "Order and timing seen; depth, release and breaths not measured" in cautions
    approved = {**page_protocol(), "approval": "approved"}
    assert "not approved" not in " ".join(page(good_drill(), 115, protocol=approved).cautions)


STATES = [
    ("draft", "no medical director has signed it", "ninguna dirección médica"),
    ("checked", "no medical director has signed it", "ninguna dirección médica"),
    ("not signed", "no medical director has signed it", "ninguna dirección médica"),
    ("withdrawn", "not to be taught any more", "ya no debe enseñarse"),
    ("superseded", "Another version has taken", "Otra versión"),
    ("changed since approved", "signed and changed afterwards", "se firmó y se cambió después"),
    ("approver is author", "its author signed it alone", "solo lo firmó quien lo escribió"),
    ("effective before approval", "before the day of signing", "antes del día de la firma"),
    ("approved later than today", "a day that lay ahead", "una fecha aún por llegar"),
    ("not in force yet", "was not in force yet", "aún no en vigor"),
    ("review date passed", "its review was overdue", "su revisión había vencido"),
]


@pytest.mark.parametrize("more", ["", ", 1 rule relaxed", ", 2 rules relaxed, 1 rule tightened"])
@pytest.mark.parametrize(("state", "english", "spanish"), STATES)
def test_each_state_of_approval_is_told_by_a_sentence_that_is_true_of_it(
    state: str, english: str, spanish: str, more: str
) -> None:
    for language, said in (("en", english), ("es", spanish)):
        made = page(good_drill(), 115, language=language, protocol={**page_protocol(), "approval": state + more})
        cautions = " ".join(made.cautions)
        assert said in cautions
        assert ("not approved" in cautions) is (language == "en" and said == "no medical director has signed it")


@pytest.mark.parametrize("state", ["in force", "in force, 1 rule relaxed"])
def test_what_is_in_force_needs_no_caution_though_a_rule_is_relaxed(state: str) -> None:
    made = page(good_drill(), 115, protocol={**page_protocol(), "approval": state})
    assert "signed" not in " ".join(made.cautions) and "not approved" not in " ".join(made.cautions)
    assert f"· {state.replace('1 rule relaxed', '1 RULE RELAXED')}" in " ".join(as_text(made).split())


def test_relaxed_rules_and_the_typed_reason_stand_in_every_form() -> None:
    relaxed = {"rule": {"prompts": Relax(reason="The quay stairs.", was={"at_most": "31 s"}, to={"at_most": "45 s"})}}
    relaxed["rule"]["hands"] = Relax(reason="None here.", was={"at_most": "5 s"})
    relaxed["rule"]["sooner"] = Relax(reason="We can.", was={"within": "5 s"}, to={"within": "4 s"})
    local = protocol().model_copy(update={"relax": relaxed})
    top = header(good_drill(), reason="Only <b>today</b>")
    made = build(good_drill().happened(115, "ended"), local, top, None)
    for form in (as_text, as_markdown, as_html, as_json):
        text = " ".join(unescape(form(made)).replace("\\", "").split())
        assert "prompts of the base was relaxed: at most 45 s, was 31 s. Reason: “The quay stairs.”" in text
        assert "hands of the base was relaxed: dropped. Reason: “None here.”" in text
        assert "sooner of the base was made stricter: within 4 s, was 5 s. Reason: “We can.”" in text
        assert "as typed: “Only <b>today</b>”" in text
    assert "<b>today" not in as_html(made)
    assert "Only <b>today</b>" in measures_csv(made)
    told = json.loads(as_json(made))["protocol"]
    assert told["reason_for_test"] == "Only <b>today</b>"
    assert told["rules_changed"][0] == {
        "rule": "prompts", "how": "relaxed", "members": [{"name": "at_most", "was": "31 s", "now": "45 s"}],
        "reason": "The quay stairs.",
    }  # fmt: skip


def page_protocol() -> dict[str, str]:
    return {"id": "erc-2025/small", "version": "1", "guidance": "ERC 2025", "digest": "", "approval": "draft"}


def test_more_than_three_critical_events_added_later_read_reconstructed() -> None:
    story = good_drill()
    happened = story.happened(115)
    critical = [seen.seq for seen in happened.seen if seen.event in ("call_made", "clear_called", "shock_pressed")]
    first = next(seen.seq for seen in happened.seen if seen.event == "compression")

    def said(added: tuple[int, ...]) -> str:
        return " ".join(page(good_drill(), 115, happened={"added_later": added}).cautions)

    assert "Reconstructed" not in said(tuple(critical))
    assert "Reconstructed" in said((*critical, first))


def test_a_record_with_a_pause_and_a_hole_says_so() -> None:
    story = Story()
    story.push(10, 30)
    story.pause(30, 45).pause(40, 5, "hole")
    made = page(story, 60)
    text = as_text(made)
    assert "pause to teach at 0:30 of 0:45; hole at 0:40 of 0:05" in text.replace("\n  ", " ")
    assert "across a pause to teach, hole" in text.replace("\n                    ", " ")
    assert "The record has a hole" in " ".join(made.cautions)


def test_a_finding_that_waits_for_the_assessor_stands_apart() -> None:
    story = Story().at(5, "response_checked").at(12, "not_breathing").at(18, "compression")
    text = as_text(page(story, 19))
    order(text, "── For the assessor to confirm first", "critical: Call: Not marked", "? Seen and not pressed")
    assert "── Findings" not in text
    assert "(to be confirmed by the assessor first)" in text


def test_the_spanish_words_of_a_protocol_are_used() -> None:
    story = good_drill().fault(92.8, "no-clear", "rescuer", "shock")
    assert "Descarga sin aviso." in as_text(page(story, 115, language="es"))


def test_the_tape_has_a_minute_a_row() -> None:
    assert rows("") == []
    cells = "#" * 60 + "·" * 61
    assert rows(cells) == [
        "      0         10        20        30        40        50",
        "  0:00 " + "#" * 60,
        "  1:00 " + "·" * 60,
        "  2:00 ·",
    ]
    assert legend(cells, "en") == ["# hands on", "· hands off"]


def every_hostile_page() -> Debrief:
    story = good_drill()
    story.looks = [Look(5, 25_000, HOSTILE, True)]
    return page(story, 115, learner=HOSTILE, role=HOSTILE, scenario={"title": HOSTILE}, drill=HOSTILE)


@pytest.mark.parametrize("form", sorted(FORMS))
def test_text_of_others_never_steers_a_terminal(form: str) -> None:
    made = FORMS[form](every_hostile_page())
    assert "\x1b" not in made and "\u202e" not in made and "evil" in made
    assert made.endswith("\n")


def test_markdown_escapes_what_it_could_take_for_its_own() -> None:
    assert escape("<b>|*_`[x]#~&\\") == r"\<b\>\|\*\_\`\[x\]\#\~\&" + "\\\\"
    made = as_markdown(every_hostile_page())
    assert "<script>" not in made and r"\<script\>" in made


def test_markdown_tables_have_one_width() -> None:
    lines = as_markdown(every_hostile_page()).splitlines()
    tables = [line.replace(r"\|", "") for line in lines if line.startswith("| ")]
    for before, after in pairwise(tables):
        if "---" in after:
            assert before.count("|") == after.count("|") == 4


def test_csv_tables_parse_and_compute_nothing() -> None:
    made = every_hostile_page()
    events = list(csv.DictReader(io.StringIO(events_csv(made))))
    assert len(events) == len(made.happened.seen)
    assert events[0]["event"] == "response_checked" and events[0]["time_s"] == "8.0"
    measures = list(csv.DictReader(io.StringIO(measures_csv(made))))
    assert measures[0]["measure"] == "drill" and measures[0]["value"].startswith("'=cmd()")
    for table in (events, measures):
        for row in table:
            assert None not in row and None not in row.values()
            for name, cell in row.items():
                assert not cell.startswith(("=", "+", "@")), (name, cell)
                if cell.startswith("-"):
                    float(cell)
    both = as_csv(made)
    assert both == events_csv(made) + "\n" + measures_csv(made)


def test_csv_measures_hold_the_worked_figures() -> None:
    found = {(row[0], row[1]): row for row in csv.reader(io.StringIO(measures_csv(page(good_drill(), 115))))}
    assert found[("hands_on", "share")][2] == "0.581"
    assert found[("from_recognition", "called")][2] == "-3.0"
    assert found[("gap", "at 61.8 s")][2:5] == ["34.0", "s", "0.1"]
    assert found[("gap_part", "prep of gap at 61.8 s")][2] == "20.0"
    assert found[("shock", "peri of shock at 92.8 s")][2] == "34.0"
    assert found[("rate", "median")][2:6] == ["100.0", "/min", "0.4", "at the limit"]


@pytest.mark.parametrize(
    ("ms", "beats", "said"),
    [(5_000, True, "5.0 s"), (5_240, True, "5.2 s"), (5_240, False, "5.0 s"), (5_250, False, "5.5 s")],
)
def test_pauses_are_as_fine_as_their_marks(ms: int, beats: bool, said: str) -> None:
    assert pause(ms, beats) == said


def test_figures_round_half_up() -> None:
    assert (seconds(2_500), seconds(-2_500), seconds(2_499)) == ("3 s", "-3 s", "2 s")
    assert (percent(0.605), percent(0.6049), percent(None)) == ("61 %", "60 %", "-")


def test_a_missing_off_mark_leaves_no_share_on_the_page() -> None:
    story = Story("marks").at(10, "hands_placed").at(20, "shock_pressed").at(40, "hands_lifted")
    made = page(story, 50)
    assert "an off mark is missing" in flat(as_text(made)) and " % hands on" not in as_text(made)
    assert "hands still marked on before, no hands-off mark to measure from" in flat(as_text(made))


def test_what_a_unit_played_by_the_laptop_does_is_on_the_tape() -> None:
    story = Story().at(1, "compression").tell(5, "emit", "analysis_begins").tell(8, "emit", "no_shock_advised")
    assert page(story, 10).tape == " #···A··V··"


def test_a_part_too_short_to_print_is_left_out() -> None:
    story = Story().at(10, "compression").at(10.04, "analysis_begins").at(18, "no_shock_advised").at(21, "compression")
    assert "analysis: 8.0 s the unit + 3.0 s back on" in as_text(page(story, 21))


def printed(text: str) -> list[int]:
    """The lengths in a text, in ms."""
    return [round(float(number) * 1000) for number in re.findall(r"(\d+\.\d) s\b", text)]


@given(st.lists(st.integers(0, 30_000), min_size=4, max_size=4), st.sampled_from(["each", "counter", "probe", "marks"]))
def test_printed_parts_add_up_to_the_printed_gap(lengths: list[int], counting: str) -> None:
    moments = [10_000 + sum(lengths[:n]) for n in range(5)]
    on, off = ("compression", "compression") if counting in ("each", "counter") else ("hands_placed", "hands_lifted")
    story = Story(counting).at(9, "hands_placed") if on != off else Story(counting)
    names = [off, "analysis_begins", "shock_advised", "shock_pressed", on]
    for moment, name in zip(moments, names, strict=True):
        story.at(moment / 1000, name)
    made = page(story, moments[-1] / 1000 + 1)
    gap = next((one for one in made.measures.gaps if (one.start, one.end) == (moments[0], moments[-1])), None)
    assume(gap is not None)
    assert gap is not None
    whole = printed(pause(gap.length, made.beats))
    assert sum(printed(gap_for(made, gap))) == whole[0]
    (one,) = made.measures.shocks
    said = shock(made, one).partition(";")[0]
    if one.peri is not None:
        pre, post, peri = printed(said)
        assert pre + post == peri == whole[0]


def test_a_value_at_its_limit_is_said_and_is_no_finding() -> None:
    """10.05 s of hands off, ±0.1 s, limit 10 s."""
    story = Story().at(5, "response_checked").at(8, "call_made").at(12, "not_breathing")
    last = story.push(18, 30, 0.6)
    story.push(last + 10.05, 30, 0.6)
    made = page(story, last + 10.05 + 17.4)
    for form in (as_text, as_markdown):
        text = flat(form(made))
        order(text, "At the limit, so no finding", "Your own time without compressions at 0:35: 10 s (≤ 10 s)")
    assert "hands-off-over" not in {one.rule for one in made.judgement.findings}
    assert "at the limit, so" not in as_text(page(good_drill(), 115)).lower().replace("at the limit of", "")


def test_a_jump_to_the_next_check_is_called_that() -> None:
    story = Story()
    story.push(10, 10, 0.6)
    story.push(24, 10, 0.6)
    assert "across a jump to the next check" in flat(as_text(page(story, 30, happened={"shortened": (20_000,)})))
