"""The published sequences, played key by key on the files for children, infants and compressions only: what a guidance
teaches is judged right, and what another one teaches is judged as this one has it."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import replace

import pytest

from coach.check.golden.scripts import findings_of
from coach.drill.choosing import setup_for
from coach.drill.play import play_in_memory, setup_of
from coach.drill.script import read_script
from coach.drill.setup import Setup
from coach.log.history import fold
from coach.measure.faults import faults_of
from coach.observations import OBSERVATIONS
from coach.protocol.reading import read_scenario
from tests.content.shipped import EVERY, WITHOUT_BREATHS, YOUNG, Bench, protocol, pushes

ERC_YOUNG = tuple(f"erc-2025/{name}" for name in YOUNG)
AHA_YOUNG = tuple(f"aha-2025/{name}" for name in YOUNG)
ALONE = tuple(ident for ident in (*ERC_YOUNG, *AHA_YOUNG) if "one" in ident)
NO_BREATHS = tuple(f"{body}/{name}" for body in ("erc-2025", "aha-2025") for name in WITHOUT_BREATHS)
ANZCOR = tuple(ident for ident in EVERY if ident.startswith("anzcor"))
PACE = 0.55
"""Seconds from push to push: 109 a minute."""

Keys = list[tuple[float, str]]


def scene(ident: str, facts: str) -> str:
    """A scenario for a file, with ``facts`` as lines of TOML."""
    head = 'format = 1\nid = "quay/one"\ntitle = "One"\nstory = "One lies there."'
    return f'{head}\nsuits = ["{ident}"]\n[facts]\n{facts}\n'


def start(breaths: int = 0, decided: float = 14.0) -> Keys:
    """Scene, response, call, not breathing, and first breaths one and a half seconds apart."""
    first = [(decided + 2 + 1.5 * number, "b") for number in range(breaths)]
    return [(2.0, "j"), (5.0, "u"), (8.0, "e"), (decided, "n"), *first]


def cycles(at: float, counts: Sequence[int], breaths: int = 2) -> Keys:
    """Runs of pushes with breaths after each and a gap of four seconds."""
    keys: Keys = []
    for count in counts:
        keys += [(at + PACE * number, "space") for number in range(count)]
        at += PACE * (count - 1)
        keys += [(at + 1.2 + 1.2 * number, "b") for number in range(breaths)]
        at += 4.0
    return keys


ready = functools.cache(setup_for)


def found(ident: str, keys: Keys, facts: str = "") -> dict[str, str]:
    """The ids of all findings, with their steps where they have any, and how grave each is."""
    end = keys[-1][0] + 1
    lines = "\n".join(f"{at:.2f} {key}" for at, key in [*keys, (end, "z"), (end + 0.4, "z")])
    script = read_script(f"# protocol: {ident}\n# mode: test\n0.00 go\n{lines}\n")

    def find(name: str, _: str) -> Setup:
        setup = ready(name)
        if not facts:
            return setup
        text = scene(ident, facts)
        return replace(setup, scenario=read_scenario(text, protocol=setup.protocol), scenario_text=text)

    record = play_in_memory(script, setup_of(script, find))
    judged = findings_of(record, fold(record, protocol(ident)), protocol(ident))
    return {f"{one.rule}:{one.step}" if one.step else one.rule: one.severity for one in judged}


@pytest.mark.parametrize("ident", ERC_YOUNG)
def test_erc_young_five_breaths_then_fifteen_to_two_whoever_is_there(ident: str) -> None:
    good = [*start(5), *cycles(25, [15] * 3)]
    assert found(ident, good) == {}
    assert found(ident, [*start(5), *cycles(25, [30] * 2)]) == {"run-length-off": "minor"}
    assert found(ident, [*start(0), *cycles(18, [15] * 3)]) == {"step-omitted:first_breaths": "major"}
    assert found(ident, [*start(3), *cycles(25, [15] * 3)]) == {"first-breaths-short": "minor"}
    assert found(ident, [*start(5), *cycles(25, [15] * 3, breaths=3)]) == {"too-many-breaths": "minor"}


@pytest.mark.parametrize("ident", ERC_YOUNG)
def test_erc_young_the_adult_way_is_no_fault_of_whoever_was_taught_no_other(ident: str) -> None:
    adult_way = [*start(0), *cycles(18, [30] * 2)]
    assert found(ident, adult_way, "child_way = false") == {}
    assert found(ident, [*start(0), *cycles(18, [90], breaths=0)], "breaths = false") == {}


@pytest.mark.parametrize("ident", AHA_YOUNG)
def test_aha_young_pushes_first_and_the_ratio_goes_by_the_number_of_rescuers(ident: str) -> None:
    right, other = (15, 30) if "two" in ident else (30, 15)
    assert found(ident, [*start(), *cycles(18, [right] * 2)]) == {}
    assert found(ident, [*start(), *cycles(18, [other] * 2)]) == {"run-length-off": "minor"}
    assert found(ident, [*start(2), *cycles(20, [right] * 2)]) == {"breath-before-pushes": "minor"}


@pytest.mark.parametrize("ident", AHA_YOUNG)
def test_aha_young_call_and_look_may_come_in_either_order(ident: str) -> None:
    keys: Keys = [(2.0, "j"), (5.0, "u"), (9.0, "n"), (13.0, "e"), *cycles(17, [15 if "two" in ident else 30] * 2)]
    assert found(ident, keys) == {}
    assert found(
        ident.replace("aha", "erc"), [*keys[:2], (9.0, "n"), (13.0, "e"), *start(5)[4:], *cycles(25, [15])]
    ) == {"step-out-of-order:call": "minor"}


@pytest.mark.parametrize("ident", NO_BREATHS)
def test_compressions_only_no_count_and_no_breath_is_ever_a_fault(ident: str) -> None:
    for counts in ([90], [17, 44]):
        assert found(ident, [*start(), *cycles(18, counts, breaths=0)]) == {}, counts
    assert found(ident, [*start(1), *cycles(18, [30, 30])]) == {}
    assert found(ident, [*start(), *cycles(18, [15, 15], breaths=3)]) == {}
    cues = [words for _, words in Bench(ident).play([(14, "not_breathing"), *pushes(18, 60)]).cues()]
    assert not [words for words in cues if "breath" in words and "breathing" not in words.lower()]


@pytest.mark.parametrize("ident", ANZCOR)
def test_anzcor_pushes_first_thirty_to_two_call_before_the_look(ident: str) -> None:
    assert found(ident, [*start(), *cycles(18, [30] * 2)]) == {}
    assert found(ident, [*start(), *cycles(18, [15] * 3)]) == {"run-length-off": "minor"}
    assert protocol(ident).track["rescuer"].either_order == []
    depth = protocol(ident).targets["depth"]
    assert (depth.from_, depth.to) == (5, None)


@pytest.mark.parametrize("ident", [*ERC_YOUNG, *AHA_YOUNG])
def test_depth_for_the_young_is_a_third_of_the_chest_and_never_a_score(ident: str) -> None:
    depth = protocol(ident).targets["depth"]
    assert (depth.from_, depth.value, depth.unit) == (None, 4 if "infant" in ident else 5, "cm")
    assert "third of the chest" in depth.note["en"] and "never a number" in depth.note["en"]
    assert depth.to == (6 if ident in ERC_YOUNG else None)


@pytest.mark.parametrize("ident", ALONE)
def test_alone_without_a_phone_one_minute_or_two_of_cpr_come_before_the_call(ident: str) -> None:
    facts = "phone = false"
    bench = Bench(ident, read_scenario(scene(ident, facts), protocol=protocol(ident)))
    bench.play([(2, "scene_checked"), (5, "response_checked"), (14, "not_breathing"), *pushes(20, 225)])
    wait = 60 if ident in ERC_YOUNG else 120
    told = [at for at, words in bench.cues() if "go, call, return" in words]
    assert told == [14 + wait]
    assert not [words for _, words in bench.cues() if "Has anyone phoned" in words]
    with_phone = Bench(ident).play([(14, "not_breathing"), *pushes(20, 225)])
    assert not [words for _, words in with_phone.cues() if "go, call, return" in words]


@pytest.mark.parametrize(
    ("age", "facts", "small_by_weight", "small_by_age"),
    [
        ("child", "age = 7\nweight = 24.9", True, True),
        ("child", "age = 7\nweight = 28", False, True),
        ("child", "age = 9\nweight = 24", True, False),
        ("child", "age = 9\nweight = 30", False, False),
        ("infant", "weight = 7.5", True, True),
    ],
)
@pytest.mark.parametrize("rescuers", ["one-rescuer", "two-rescuers"])
def test_the_cues_for_the_pads_are_those_of_the_pads_file_weight_under_erc_and_age_under_aha(
    rescuers: str, age: str, facts: str, small_by_weight: bool, small_by_age: bool
) -> None:
    for body, small in (("erc-2025", small_by_weight), ("aha-2025", small_by_age)):
        ident = f"{body}/{age}-{rescuers}"
        bench = Bench(ident, read_scenario(scene(ident, facts), protocol=protocol(ident)))
        bench.play([(14, "not_breathing"), *pushes(20, 3), (60, "unit_arrived"), (63, "unit_on"), (65, "chest_bared")])
        bench.at(70, "pad_right")
        first = next(words for at, words in bench.cues() if at == 65)
        second = next(words for at, words in bench.cues() if at == 70)
        assert ("mid-chest" in first, "mid-back" in second) == (small, small), ident


@pytest.mark.parametrize("ident", EVERY)
def test_only_what_somebody_presses_is_asked_for_as_a_forgotten_mark(ident: str) -> None:
    keys = {*OBSERVATIONS, *protocol(ident).observations}
    asked = {name for known in faults_of(protocol(ident)).values() for name in known.missing}
    assert {"clear_called", "signs_of_life"} <= asked <= keys
