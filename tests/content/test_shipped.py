"""What ships: read without a problem, sourced throughout, worded in both languages, never more than a draft."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coach.measure.share import ceiling
from coach.measure.targets import aim
from coach.protocol.guards import Layout, compile_guard, parse
from coach.protocol.library import list_parts
from coach.protocol.model import Pads, Protocol
from coach.protocol.names import guidance_folder
from coach.protocol.overlay import effective_text
from coach.protocol.reading import read_scenario
from coach.resources import data_dir
from coach.units import held
from tests.content.shipped import (
    ADULT,
    BODIES,
    EVERY,
    PROTOCOLS,
    pads,
    protocol,
    raw,
    scenario_paths,
    scenarios,
    walk,
)

WORDED = {
    *("title", "about", "role", "cue", "late_cue", "voice", "look", "say", "again"),
    *("play", "why", "note", "label", "verb", "story", "setting"),
}
SPOKEN = {"cue", "late_cue", "voice"}
AGREED_TIMERS = {
    "remind_start": (10_000, 5_000),
    "remind_hands": (10_000, 5_000),
    "remind_back": (10_000, 5_000),
    "period": (120_000, None),
    "period_warning": (110_000, None),
    "concern": (15_000, 15_000),
}


def shipped_files() -> list[Path]:
    return sorted(data_dir("protocols").rglob("*.toml"))


def test_nothing_ships_but_what_is_meant_to() -> None:
    found = {path.relative_to(data_dir("protocols")).as_posix() for path in shipped_files()}
    wanted = {f"{ident}.toml" for ident in EVERY}
    wanted |= {f"{body}/pads.toml" for body in (*BODIES, "anzcor-2021")}
    wanted |= {f"{entry.id}.toml" for entry in list_parts() if entry.where == "shipped"}
    stories = {path.relative_to(data_dir("protocols")).as_posix() for path in scenario_paths()}
    assert found == wanted | stories


def test_the_table_of_the_library_names_each_file_or_says_why_there_is_none() -> None:
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line.startswith("| ")
    ]
    cells = [(guidance_folder(row[0]), row[1], cell) for row in rows if " 20" in row[0] for cell in row[2:]]
    assert len(cells) == 27
    named = [(body, age, name) for body, age, cell in cells if "no grounds" not in cell for name in cell.split(", ")]
    assert all(name.startswith(age) for _, age, name in named)
    assert sorted(f"{body}/{name}" for body, _, name in named) == sorted(EVERY)
    assert all(len(cell) > len("no grounds: ") for *_, cell in cells)


@pytest.mark.parametrize("path", shipped_files(), ids=lambda path: path.stem)
def test_each_file_says_first_that_it_is_for_training(path: Path) -> None:
    head = "".join(line for line in path.read_text(encoding="utf-8").splitlines(True)[:8] if line.startswith("#"))
    assert "TRAINING ONLY" in head
    if "scenarios" not in path.parts:
        assert "draft" in head.lower()
        assert "not endorsed" in head or path.parent.name == "parts"


@pytest.mark.parametrize("ident", EVERY)
def test_no_protocol_claims_an_approval(ident: str) -> None:
    approval = protocol(ident).approval
    assert approval.status == "draft"
    assert (approval.approver, approval.approved_on, approval.digest) == ("", "", "")
    assert "not endorsed" in protocol(ident).about["en"]


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_the_id_is_the_place_of_the_file_and_the_guidance_is_named(ident: str) -> None:
    assert protocol(ident).id == ident
    assert protocol(ident).guidance == {"erc": "ERC 2025", "aha": "AHA 2025"}[ident[:3]]
    assert protocol(ident).pads == f"{ident.partition('/')[0]}/pads"


# --- sources ----------------------------------------------------------------------------------------------------------


def _sourced(read: Protocol) -> dict[str, list[str]]:
    """Everything that must bear a source, by what it is."""
    needs: dict[str, list[str]] = {f"fact {name}": fact.source for name, fact in read.facts.items()}
    needs.update({f"timer {name}": timer.source for name, timer in read.timers.items()})
    needs.update({f"target {name}": target.source for name, target in read.targets.items()})
    for name, inject in read.inject.items():
        needs[f"inject {name}"] = inject.source
        needs.update({f"fault {entry.fault.id}": entry.fault.source for entry in inject.forbidden})
        if inject.late is not None:
            needs[f"fault {inject.late.id}"] = inject.late.source
    for track in read.track.values():
        needs.update({f"step {name}": step.source for name, step in track.step.items()})
        for arrow in [*track.go, *(arrow for step in track.step.values() for arrow in step.go)]:
            if arrow.fault is not None:
                needs[f"fault {arrow.fault.id}"] = arrow.fault.source
    for kind, tables in (("rule", read.rule), ("finding", read.finding)):
        for table in tables:
            named = table.get("source", [])
            needs[f"{kind} {table['id']}"] = [named] if isinstance(named, str) else named
    return needs


@pytest.mark.parametrize("ident", EVERY)
def test_each_number_step_fault_and_rule_bears_a_source(ident: str) -> None:
    read = protocol(ident)
    needs = _sourced(read)
    assert len(needs) > 80
    assert [what for what, names in needs.items() if not names] == []
    unknown = {name for names in needs.values() for name in names} - set(read.sources)
    assert unknown == set()


@pytest.mark.parametrize("ident", EVERY)
def test_each_source_is_used_dated_and_graded_as_it_was_seen(ident: str) -> None:
    read = protocol(ident)
    used = {name for names in _sourced(read).values() for name in names}
    for track in read.track.values():
        for arrow in [*track.go, *(arrow for step in track.step.values() for arrow in step.go)]:
            used.update(arrow.source)
    assert set(read.sources) - used == set()
    for name, source in read.sources.items():
        assert source.checked == "2026-11-25", name
        if "2025" in source.title and source.grade not in ("memory", "local"):  # the primary texts were not opened
            assert source.grade == "second-hand", name
            assert source.note.startswith("Second-hand"), name
    body = read.sources["bls"]
    assert body.grade == ("memory" if ident.startswith("anzcor") else "second-hand")  # of 2021 only excerpts
    assert "ediatric" not in body.title  # what an adult file has of the unit claims no chapter on children
    own = ident.partition("-")[0].upper()
    assert own in body.title and not any(other in body.title for other in ("ERC", "AHA", "ANZCOR") if other != own)


def test_what_was_read_of_anzcor_is_told_from_what_is_remembered() -> None:
    for ident in (one for one in EVERY if one.startswith("anzcor")):
        read = protocol(ident)
        grades = {name: source.grade for name, source in read.sources.items()}
        cited = {"rate": read.targets["compression_rate"].source, "two minutes": read.targets["period"].source}
        cited["call"] = read.track["rescuer"].step["call"].source
        assert {what: {grades[name] for name in names} for what, names in cited.items()} == {
            "rate": {"read"},
            "two minutes": {"memory"},
            "call": {"memory", "local"},
        }


def test_out_of_the_water_cpr_before_the_unit_is_a_strong_recommendation_of_one_body_only() -> None:
    rows = {ident: row for ident in PROTOCOLS for row in protocol(ident).finding if row["id"] == "unit-before-pushes"}
    assert {ident: row["severity"] for ident, row in rows.items()} == {
        ident: "major" if ident.startswith("aha") else "minor" for ident in PROTOCOLS
    }
    assert all("COR 1" in protocol(ident).sources[row["source"]].title for ident, row in rows.items() if "aha" in ident)


@pytest.mark.parametrize("body", [*BODIES, "anzcor-2021"])
def test_pads_files_bear_sources_too(body: str) -> None:
    read: Pads = pads(body)
    assert all(rule.source and set(rule.source) <= set(read.sources) for rule in read.rule)
    assert all(source.checked == "2026-11-25" for source in read.sources.values())


# --- wording ----------------------------------------------------------------------------------------------------------


def _wordings(data: dict[str, Any]) -> list[tuple[str, str, dict[str, str]]]:
    found = []
    for path, value in walk(data):
        name = path[-1] if path else ""
        if name not in WORDED or (len(path) > 1 and path[0] == "sources"):
            continue
        if path[0] == "rule" and name == "cue":
            continue  # names what says a cue
        found.append((".".join(map(str, path)), str(name), value))
    return found


@pytest.mark.parametrize(
    "path",
    [path for path in shipped_files() if path.parent.name != "parts"],  # those are read within the files that take them
    ids=lambda path: f"{path.parent.name}/{path.stem}",
)
def test_every_wording_stands_in_both_languages(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    wordings = _wordings(tomllib.loads(effective_text(text, str(path)) if "[extends]" in text else text))
    assert wordings
    for where, _, value in wordings:
        assert isinstance(value, dict), where
        assert set(value) == {"en", "es"}, where
        assert all(text.strip() == text and text for text in value.values()), where


@pytest.mark.parametrize("ident", EVERY)
def test_in_spanish_a_pad_and_a_medicine_patch_have_words_of_their_own(ident: str) -> None:
    said = [value for _, _, value in _wordings(raw(ident)) if "parche" in value["es"].lower()]
    assert said
    assert [value["es"] for value in said if "patch" not in value["en"].lower()] == []


@pytest.mark.parametrize("ident", EVERY)
def test_what_is_said_is_short_enough_to_be_heard(ident: str) -> None:
    spoken = [entry for entry in _wordings(raw(ident)) if entry[1] in SPOKEN]
    assert len(spoken) > 50
    long = [
        (where, text)
        for where, _, value in spoken
        for text in value.values()
        if len(text.split()) > 9 or len(text) > 60
    ]
    assert long == []


@pytest.mark.parametrize("ident", EVERY)
def test_the_titles_that_a_screen_calls_now_are_short(ident: str) -> None:
    for name, step in protocol(ident).track["rescuer"].step.items():
        assert step.title, name
        assert all(len(title) <= 28 for title in step.title.values()), name


# --- the numbers ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_targets_are_those_of_the_guidance(ident: str) -> None:
    targets = protocol(ident).targets
    bounds = {name: (target.from_, target.to, target.value, target.unit) for name, target in targets.items()}
    assert bounds["compression_rate"] == (100, 120, None, "/min")
    assert bounds["depth"] == (5, 6, None, "cm")
    assert bounds["run_length"][2] == 30
    assert bounds["breaths_per_gap"][2] == 2
    for name in ("hands_off", "start_after_recognition", "pre_shock"):
        assert bounds[name] == (None, 10, None, "s"), name
    assert bounds["breath_gap"] == (None, 10, 5, "s")
    assert "training" in targets["breath_gap"].source
    assert round(ceiling(30, 110, round(aim(targets["breath_gap"]) or 0)), 2) == 0.76
    assert bounds["post_shock"] == (None, 5, None, "s")
    assert bounds["peri_shock"] == (None, 20, None, "s")
    assert bounds["hands_on_share"] == (60, None, None, "%")
    assert bounds["period"] == (None, None, 120, "s")


@pytest.mark.parametrize("ident", EVERY)
def test_reminders_come_at_the_limit_then_at_half_limits_and_end(ident: str) -> None:
    timers = protocol(ident).timers
    assert {name: (timers[name].after, timers[name].every) for name in AGREED_TIMERS} == AGREED_TIMERS
    assert timers["remind_hands"].since == "last_push"
    assert all(timer.most is not None for timer in timers.values() if timer.every is not None)
    assert timers["concern"].most == 2


@pytest.mark.parametrize("ident", EVERY)
def test_severities_of_what_may_hurt_people(ident: str) -> None:
    read = protocol(ident)
    steps = read.track["rescuer"].step
    assert {name for name, step in steps.items() if step.severity == "critical"} >= {
        "call",
        "breathing",
        "begin",
        "say_clear",
        "press_shock",
    }
    faults = {
        arrow.fault.id: arrow.fault.severity
        for track in read.track.values()
        for arrow in [*track.go, *(arrow for step in track.step.values() for arrow in step.go)]
        if arrow.fault is not None
    }
    for name in ("shock-without-clear", "shock-after-touch", "shock-while-awake", "turned-not-breathing"):
        assert faults[name] == "critical", name
    assert faults["touch-while-reading"] == faults["push-while-reading"] == "major"


@pytest.mark.parametrize("ident", EVERY)
def test_the_seven_safety_rules_stand_in_each_file(ident: str) -> None:
    assert {rule["id"] for rule in protocol(ident).rule} >= {
        "clear-before-shock",
        "hands-next",
        "no-small-pads-on-adults",
        "adult-pads-where-no-small-ones",
        "touch-noticed",
        "hands-off-by-prompts",
        "handover-possible",
    }
    targets = {
        table[key]["target"]
        for table in protocol(ident).finding
        for key in ("over", "under", "outside")
        if key in table
    }
    assert targets <= set(protocol(ident).targets)


# --- the two bodies ---------------------------------------------------------------------------------------------------


def test_bodies_differ_in_the_order_of_call_and_breathing_check() -> None:
    for name in ADULT:
        erc, aha = protocol(f"erc-2025/{name}"), protocol(f"aha-2025/{name}")
        assert erc.track["rescuer"].either_order == []
        assert aha.track["rescuer"].either_order == [["call", "breathing"]]
        assert erc.track["rescuer"].spine.index("call") < erc.track["rescuer"].spine.index("breathing")


@pytest.mark.parametrize("name", ADULT)
def test_but_for_that_the_files_of_two_bodies_stand_side_by_side(name: str) -> None:
    erc, aha = protocol(f"erc-2025/{name}"), protocol(f"aha-2025/{name}")
    assert [*erc.track] == [*aha.track]
    for track in erc.track:
        assert [*erc.track[track].step] == [*aha.track[track].step]
    assert [*erc.inject] == [*aha.inject]
    assert [*erc.timers] == [*aha.timers]
    assert [*erc.targets] == [*aha.targets]


def decision(body: str, age: str | None, weight: str | None) -> tuple[str, str, str]:
    """The first rule of the pads file that holds, its size and its placement."""
    read: Pads = pads(body)
    values = (
        held(age, "year") if age is not None else None,
        held(weight, "kg") if weight is not None else None,
    )
    layout = Layout(
        facts={name: (place, read.facts[name]) for place, name in enumerate(("age", "weight"))},
        counters={},
        marks={},
        timers={},
        tracks={},
        steps={},
        terms={name: parse(text) for name, text in read.terms.items()},
    )
    for rule in read.rule:
        if not rule.when or compile_guard(parse(rule.when), layout)(None, values):
            return rule.id, rule.size, rule.placement
    raise AssertionError("no rule holds")


@pytest.mark.parametrize(
    ("body", "age", "weight", "size"),
    [
        # ERC: weight under 25 kg, age only in its place; a grown person is grown whatever the weight.
        ("erc-2025", "7 years", "24.9 kg", "paediatric"),
        ("erc-2025", "7 years", "25 kg", "adult"),
        ("erc-2025", "9 years", "24.9 kg", "paediatric"),
        ("erc-2025", "7.9 years", None, "paediatric"),
        ("erc-2025", "8 years", None, "adult"),
        ("erc-2025", "40 years", "24 kg", "adult"),
        ("erc-2025", None, "24.9 kg", "paediatric"),
        ("erc-2025", None, "55 lb", "paediatric"),  # 24.95 kg
        ("erc-2025", None, "25 kg", "adult"),
        # AHA: age under 8 years, weight only in its place.
        ("aha-2025", "7.9 years", "28 kg", "paediatric"),
        ("aha-2025", "8 years", "20 kg", "adult"),
        ("aha-2025", "9 years", "24.9 kg", "adult"),
        ("aha-2025", "6 months", None, "paediatric"),
        ("aha-2025", None, "55 lb", "paediatric"),
        ("aha-2025", None, "25 kg", "adult"),
        ("aha-2025", "40 years", "24 kg", "adult"),
        ("erc-2025", None, None, "adult"),
        ("aha-2025", None, None, "adult"),
    ],
)
def test_pads_at_each_boundary_of_each_body(body: str, age: str | None, weight: str | None, size: str) -> None:
    rule, chosen, placement = decision(body, age, weight)
    assert chosen == size, rule
    assert placement == ("front-and-back" if size == "paediatric" else "right-and-left")


def test_bodies_differ_on_a_boy_of_seven_who_weighs_28_kg() -> None:
    assert decision("erc-2025", "7 years", "28 kg")[:2] == ("standard-by-weight", "adult")
    assert decision("aha-2025", "7 years", "28 kg")[:2] == ("small-by-age", "paediatric")


# --- scenarios --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", scenario_paths(), ids=lambda path: path.stem)
def test_a_scenario_fits_each_protocol_it_suits(path: Path) -> None:
    scenario = read_scenario(path)
    assert scenario.id == f"{path.parent.name}/{path.stem}"
    assert {ident.partition("/")[0] for ident in scenario.suits} >= set(BODIES)
    for ident in scenario.suits:
        checked = read_scenario(path, protocol=protocol(ident))
        assert set(checked.facts) <= set(protocol(ident).facts)
        assert checked.rescuers == checked.facts["rescuers"]


@pytest.mark.parametrize("path", scenario_paths(), ids=lambda path: path.stem)
def test_a_story_is_read_out_in_under_half_a_minute(path: Path) -> None:
    for language, story in read_scenario(path).story.items():
        assert 30 <= len(story.split()) <= 60, language
        assert "Brackhaven" in story, language


def test_each_protocol_has_a_story() -> None:
    assert {ident for scenario in scenarios().values() for ident in scenario.suits} == set(EVERY)


def test_a_bystander_planned_to_touch_waits_for_the_unit_to_read() -> None:
    """Before that nobody minds a touch, and the throw would be lost."""
    planned = [throw for one in scenarios().values() for throw in one.throw if throw.name == "bystander_touch"]
    assert [throw.at for throw in planned if throw.at is not None] == []
    timed = [throw.after for throw in planned if throw.after is not None]
    assert len(timed) >= 8 and {after.on for after in timed} == {"analysis_begins", "shock_advised"}


def test_scenarios_keep_the_unit_and_the_crew_on_their_usual_digits() -> None:
    for ident, scenario in scenarios().items():
        digits = {throw.digit: throw.name for throw in scenario.throw}
        assert digits[1] == "unit_here", ident
        assert digits[5] == "signs_of_life", ident
        assert digits[6] == "crew_here", ident
        assert len(digits) == 6, ident


@pytest.mark.parametrize("ident", PROTOCOLS)
def test_without_a_scenario_the_digits_throw_the_file_s_own(ident: str) -> None:
    digits = {inject.digit: name for name, inject in protocol(ident).inject.items() if inject.digit}
    assert digits == {
        1: "unit_here",
        2: "bystander_touch",
        3: "vomit",
        4: "gasp",
        5: "signs_of_life",
        6: "crew_here",
    }


@pytest.mark.parametrize("ident", EVERY)
def test_every_finding_that_could_be_the_one_thing_says_what_to_do_in_both_languages(ident: str) -> None:
    faults: list[dict[str, Any]] = []

    def faults_in(value: Any) -> None:
        if isinstance(value, dict):
            if {"id", "severity", "say"} <= value.keys():
                faults.append(value)
            for item in value.values():
                faults_in(item)
        elif isinstance(value, list):
            for item in value:
                faults_in(item)

    tree = protocol(ident).model_dump(by_alias=True, exclude_defaults=True)
    faults_in(tree["track"])
    faults_in(tree["inject"])
    # Those of steps take the step's own cue.
    rows = [row for row in tree["finding"] if not {"omitted", "out_of_order", "late"} & row.keys()]
    assert len(faults) >= 20 and len(rows) >= 8
    bare = [one["id"] for one in (*faults, *rows) if not {"en", "es"} <= one.get("again", {}).keys()]
    assert bare == []
    worded = {text for one in (*faults, *rows) for text in one["again"].values()}
    assert all(len(text.split()) <= 14 and text[-1] in ".?" for text in worded)
