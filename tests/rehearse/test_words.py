"""Typed verbs, pads in quick fire, the handover's ear, tempo, slip, progress and its page."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.measure.handover import ITEMS
from coach.protocol.approval import approval_digest
from coach.protocol.library import load_pads
from coach.rehearse.handover import ENOUGH, against, heard, ticked
from coach.rehearse.history import TempoTaken
from coach.rehearse.matter import matter_of
from coach.rehearse.moments import ACTIONS
from coach.rehearse.page import page
from coach.rehearse.progress import bar, chart, progress_of
from coach.rehearse.quick import ACTIONS as PADS
from coach.rehearse.quick import CASES, Case, at_hand, fire_of, items_of, who
from coach.rehearse.schedule import strength
from coach.rehearse.sitting import Sitting
from coach.rehearse.slip import slip_json, slip_text
from coach.rehearse.tempo import beat_on, count_words, tempo_of, words_of_tempo
from coach.rehearse.temptations import TEMPTATIONS
from coach.rehearse.verbs import LABELS, PUSH, label, understand
from coach.units import grams, month_parts
from tests.rehearse.made import AHA, DAY, ERC, SHIPPED, empty, matter, play, right, until, wrong

ALL = (*ACTIONS, *TEMPTATIONS, "mouth_cleared")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("push", PUSH), ("psh on teh chest", PUSH), ("start compresions", PUSH), ("comprime", PUSH),
        ("manos al pecho", PUSH), ("do CPR", PUSH), ("call", "call_made"), ("phone an ambulance!", "call_made"),
        ("llamar a emergencias", "call_made"), ("llamr", "call_made"), ("switch it on", "unit_on"),
        ("swich the unit on", "unit_on"), ("encender", "unit_on"), ("two breaths", "breath"), ("dos soplos", "breath"),
        ("breaths", "breath"), ("stand clear", "clear_called"), ("everbody back", "clear_called"),
        ("apartar a todos", "clear_called"), ("press the shok button", "shock_pressed"), ("descarga", "shock_pressed"),
        ("look for danger", "scene_checked"), ("recovery posisition", "recovery"), ("poner de lado", "recovery"),
        ("hands off", "hands_lifted"), ("quitar las manos", "hands_lifted"), ("wipe the chest", "chest_dried"),
        ("secar el pecho", "chest_dried"), ("check if breathing", "not_breathing"), ("respiración", "not_breathing"),
        ("shake his shoulders", "response_checked"), ("tell the crew", "handover"), ("swap", "swapped"),
        ("send somebody for the unit", "helper_sent"), ("shave", "hair_removed"), ("feel for a pulse", "feel_pulse"),
        ("left pad", "pad_left"), ("electrodo derecho", "pad_right"), ("roll them", "rolled"),
        ("remove the medicine patch", "patch_removed"),
    ],
)  # fmt: skip
def test_spelling_is_forgiven_in_two_languages(typed: str, meant: str) -> None:
    assert understand(typed, ALL, matter().protocol).actions[:1] == (meant,)


@pytest.mark.parametrize("typed", ["", "   ", "bananas", "1", "xyzzy plugh", "\x1b[2J", "the weather is nice today"])
def test_what_means_nothing_is_not_guessed(typed: str) -> None:
    assert understand(typed, ALL, matter().protocol).actions == ()


def test_what_could_be_two_things_is_asked() -> None:
    assert set(understand("pad", ALL, matter().protocol).actions) >= {"pad_right", "pad_left"}


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("protocol", SHIPPED)
def test_every_action_has_a_verb_and_means_itself(protocol: str, language: str) -> None:
    words = [label(action, matter(protocol).protocol, language) for action in ALL]
    assert len(set(words)) == len(words)
    for action, said in zip(ALL, words, strict=True):
        assert understand(said, ALL, matter(protocol).protocol).actions[0] == action
    assert set(ACTIONS) <= set(LABELS)


# --- pads -----------------------------------------------------------------------------------------------------------

SMALL, BIG, OTHER = "paediatric-front-and-back", "adult-right-and-left", "other-pads"


@pytest.mark.parametrize(
    ("age", "weight", "kit", "erc", "aha"),
    [
        # ERC-PLS25, RCUK-PBLS25 (second-hand): weight < 25 kg. AHA-PBLS25 (second-hand): age < 8 years.
        ("7", "24.9", "both", SMALL, SMALL),
        ("7", "25", "both", BIG, SMALL),
        ("8", "24.9", "both", SMALL, BIG),
        ("8", "25", "both", BIG, BIG),
        ("7.9", None, "both", SMALL, SMALL),
        ("8", None, "both", BIG, BIG),
        (None, "24.9", "both", SMALL, SMALL),
        (None, "25", "both", BIG, BIG),
        # Neither known: adult pads, no delay (decision of this program, and when in doubt treat as adult).
        (None, None, "both", BIG, BIG),
        # An adult is an adult, whatever the weight.
        ("34", "24", "both", BIG, BIG),
        # No small pads: the unit as for adults (ERC, RCUK, AHA 2b; ARC22 read: pads must not touch). Never withhold.
        ("4", "16", "adult", "adult-front-and-back", "adult-front-and-back"),
        # Never small pads on an adult or a big child (read in a handbook): others are fetched, pushes go on.
        ("45", "70", "paediatric", OTHER, OTHER),
        ("12", "42", "paediatric", OTHER, OTHER),
    ],
)
def test_pads_after_each_body(age: str | None, weight: str | None, kit: str, erc: str, aha: str) -> None:
    have = ("adult", "paediatric") if kit == "both" else (kit,)
    for guidance, expected in (("ERC 2025", erc), ("AHA 2025", aha)):
        fire = fire_of(load_pads(guidance)[0], Case("x", (age,), (weight,), have), 3)
        assert fire is not None and fire.right == expected, guidance


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(CASES), st.sampled_from(["ERC 2025", "AHA 2025"]), st.integers(0, 2**40))
def test_quick_fire_offers_one_right_answer_and_nothing_that_is_not_there(case: Case, body: str, seed: int) -> None:
    fire = fire_of(load_pads(body)[0], case, seed)
    assert fire is not None and 4 <= len(fire.choices) <= 6
    assert fire.choices.count(fire.right) == 1 and len(set(fire.choices)) == len(fire.choices)
    size = fire.right.partition("-")[0]
    for action in fire.choices:
        assert at_hand(action, fire.kit) and action in PADS
        assert action == fire.right or action.partition("-")[0] != size or size not in ("adult", "paediatric")
    assert len(who(fire, "en").split()) <= 40


def test_both_sides_of_each_boundary_are_in_the_set() -> None:
    weights = {grams(w, "kg") for case in CASES for w in case.weights if w}
    ages = {month_parts(a, "year") for case in CASES for a in case.ages if a}
    assert {Fraction(24_900), Fraction(25_000), Fraction(25_100)} <= weights
    assert {month_parts("7.9", "year"), month_parts("8", "year"), month_parts("8.1", "year")} <= ages
    for body in ("ERC 2025", "AHA 2025"):
        pads = load_pads(body)[0]
        fired = {fire.decision.rule for case in CASES if (fire := fire_of(pads, case, 1)) is not None}
        assert fired == {rule.id for rule in pads.rule}, "each rule of the file is asked"
        assert len(items_of(pads)) == len(CASES)


def test_a_pads_set_beyond_the_days_twelve_is_practice() -> None:
    history = empty()
    for _ in range(2):
        play(Sitting(matter(), history, day=DAY))
    more = Sitting(matter(), history, day=DAY, only_pads=True)
    assert len(play(more)) == 8 and not more.recorded and len(history.reviews) == 12
    assert all(":" in one.item and one.item.startswith("erc-2025/pads:") for one in more.given)


# --- handover -------------------------------------------------------------------------------------------------------


def test_the_ear_hears_the_eight_parts() -> None:
    said = (
        "A man of about 60 collapsed ten minutes ago, CPR by me since then, two shocks, the unit advised a shock last, "
        "he vomited, no signs of life now, please take over and leave the pads on"
    )
    assert heard(said) == ITEMS
    spanish = (
        "Hombre de 60 años, cayó hace diez minutos, RCP desde entonces, dos descargas, lo último que dijo: descarga "
        "indicada, vomitó, ahora no respira, releven las compresiones"
    )
    assert heard(spanish) == ITEMS
    assert heard("we did what we could") == ()
    assert ticked("1, 4 8") == ("who_where", "shocks", "needed") and ticked("one two") is None and ticked("9") is None


def test_the_true_handover_counts_what_happened() -> None:
    for seed in range(100):
        sitting = Sitting(matter(), empty(), day=DAY, seed=seed)
        if any(one.item.endswith(":handover") for one in sitting.picked):
            break
    until(sitting, ":handover")
    walk, drawn = sitting._walk, sitting._drawn
    assert walk is not None and drawn is not None
    found = against(walk, drawn, ITEMS[:5], "en")
    shocks = sum(one.event == "shock_pressed" for one in walk.seen)
    assert found.true["shocks"].startswith(f"{shocks} shock" if shocks else "No shock")
    assert str(drawn.facts["age"]) in found.true["who_where"] and not found.right and len(found.missing) == 3
    assert against(walk, drawn, ITEMS[:ENOUGH], "en").right
    assert not against(walk, drawn, tuple(i for i in ITEMS if i != "shocks"), "en").right
    sitting.handed_over(ITEMS, 5_000)
    assert sitting.told is not None and sitting.told.lines[0] == "8 of 8 were said."


# --- tempo ----------------------------------------------------------------------------------------------------------


def test_tempo_of_a_steady_hand() -> None:
    found = tempo_of([round(n * 60_000 / 110) for n in range(30)], 25)
    assert found is not None and found.rate == pytest.approx(110, abs=0.05) and found.inside is True
    # 1.96 * 110 * 25 * sqrt(2) / span, span = 29 intervals: by hand 0.48 a minute.
    assert found.plus_minus == pytest.approx(1.96 * 110 * 25 * 2**0.5 / (29 * 60_000 / 110), rel=1e-3)
    assert words_of_tempo(found) == "30 taps, 110 ± 0 a minute: inside 100 to 120."


def test_tempo_says_which_side_only_where_it_can() -> None:
    def at(rate: float, taps: int) -> str:
        found = tempo_of([round(n * 60_000 / rate) for n in range(taps)], 25)
        assert found is not None
        return words_of_tempo(found)

    assert at(90, 30).endswith("slower than 100.") and at(140, 30).endswith("faster than 120.")
    assert at(100, 8).endswith("too near 100 to say which side.")
    assert tempo_of([0, 500, 1_000], 25) is None
    assert count_words(28, 30) == "You counted 28; they were 30." and "so many they were" in count_words(30, 30)


def test_the_beat_is_lit_for_a_third() -> None:
    lit = [beat_on(ms, 120) for ms in range(0, 1_000, 10)]
    assert lit[0] and not lit[20] and lit[50] and sum(lit) == 34


# --- slip and progress ---


def _weeks():  # type: ignore[no-untyped-def]
    history = empty()
    for gap in (0, 1, 4, 9, 20):
        day = DAY + timedelta(days=gap)
        answers = wrong if gap == 4 else right
        play(Sitting(matter(), history, day=day), answers, "sure")
    history.tempos.append(TempoTaken(DAY, 108.4, 1.2, 30, 29, 0, 1))
    return history


def test_progress_is_told_in_words_shapes_and_dates() -> None:
    history, day = _weeks(), DAY + timedelta(days=21)
    found = progress_of(matter(), history, day)
    assert len(found.items) + len(found.new) == len(matter().items)
    assert sum(week.asked for week in found.weeks) == len(history.reviews) and len(found.weeks) >= 3
    assert any(row.sure_and_wrong or row.lapses for row in found.weakest)
    for row in found.items:
        item = next(i for i, one in matter().items.items() if one.title.get("en") == row.name)
        assert row.strength == strength(item, history.standings[item], day + timedelta(days=7))
    lines = chart(found, 78)
    assert max(map(len, lines)) <= 78 and any("108 ± 1 a minute" in line for line in lines)
    assert bar(0.5, 10) == "█████░░░░░" and bar(2, 4) == "████"
    assert max(map(len, chart(found, 60))) <= 60


def test_the_page_is_one_file_and_escapes_everything() -> None:
    found = progress_of(matter(), _weeks(), DAY + timedelta(days=21))
    hostile = '<script>alert("x")</script>'
    made = page(replace(found, title=hostile, items=(replace(found.items[0], name=hostile), *found.items[1:])))
    assert "<script" not in made and "&lt;script&gt;" in made
    assert "http" not in made.replace('http-equiv="Content-Security-Policy"', "")
    assert "no certificate" in made and "default-src 'none'" in made


def test_the_slip_is_no_certificate_and_names_nobody() -> None:
    history, day = _weeks(), DAY + timedelta(days=21)
    data = slip_json(matter(), history, day)
    assert data["certificate"] is False and data["protocol"] == ERC and data["approval"] == "draft"
    counts = data["decisions"]
    assert (
        counts["strong"] + counts["fair"] + counts["weak"]
        == counts["met"]
        == len([item for item in history.standings if item in matter().items])
    )
    text = slip_text(matter(), history, day)
    assert "This is no certificate." in text and "108 ± 1 a minute, no beat" in text and "counted 29 of 30" in text
    assert not {"learner", "name", "assessor"} & set(data)
    assert slip_json(matter(AHA), empty(), day)["tempo"] is None


def test_a_protocol_changed_since_it_was_approved_is_rehearsed_as_that() -> None:
    old = matter()
    signed = old.protocol.approval.model_copy(
        update={"status": "approved", "author": "desk", "approver": "medical director", "approved_on": "2026-01-01"}
    )
    signed = signed.model_copy(update={"digest": approval_digest(old.text, signed)})
    protocol = old.protocol.model_copy(update={"approval": signed})
    whole = matter_of(protocol, old.text, old.stories, old.pads)
    assert slip_json(whole, empty(), DAY)["approval"] == "in force"
    changed = matter_of(protocol, old.text.replace('version = "2026.1"', 'version = "2026.2"'), old.stories, old.pads)
    assert slip_json(changed, empty(), DAY)["approval"] == "changed since approved"
    assert "changed since approved" in slip_text(changed, empty(), DAY)
