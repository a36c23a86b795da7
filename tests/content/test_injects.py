"""What can be thrown in, on the bare engine, in each kind of file: every right answer draws no finding, none and every
wrong one its own; and every story can be drilled to a verdict.

What no key can see (where a hand lies, how deep on a mattress, a breath at the neck) is told to the instructor in the
story's setting and is nobody's fault.
"""

from __future__ import annotations

import copy
import functools

import pytest

from coach.protocol.model import Protocol, Scenario
from coach.text import one_line
from tests.content.shipped import SETUP, Bench, protocol, scenarios

KINDS = (
    "erc-2025/adult-one-rescuer",
    "aha-2025/adult-two-rescuers",
    "erc-2025/adult-compressions-one-rescuer",
    "erc-2025/child-one-rescuer",
)
"""One file of each kind: the others share its injects by standing over the same base and parts."""
ADULT = KINDS[:3]

BASE = [event for _, event in SETUP]
WAYS = {
    "at the start": BASE[:4],
    "hands on": [*BASE, "hands_placed"],
    "pads going on": [*BASE, "hands_placed", "unit_arrived", "unit_on", "chest_bared"],
    "pads on": [*BASE, "hands_placed", "unit_arrived", "unit_on", "chest_bared", "pad_right", "pad_left"],
    "awake": [*BASE, "hands_placed", "signs_of_life"],
}
"""Places of a drill at which something may be thrown, by the events that lead there."""
WAYS["reading"] = [*WAYS["pads on"], "hands_lifted", "analysis_begins"]
WAYS["no phone"] = ["scene_checked", "response_checked", "not_breathing", "hands_placed"]
WAYS["shock advised"] = [*WAYS["reading"], "shock_advised"]


@functools.cache
def begun(ident: str, phone: bool = True) -> Bench:
    """A drill at go in which everything can be thrown, and nothing comes by itself."""
    here = protocol(ident).facts
    facts = {name: value for name, value in (("opioid", True), ("phone", phone)) if name in here}
    return Bench(
        ident, Scenario(format=1, id="test", title={"en": ""}, story={"en": ""}, facts=facts), counting="marks"
    )


def bench_of(ident: str, phone: bool = True) -> Bench:
    """One of its own, since building the machine takes longer than the drill."""
    one = copy.copy(begun(ident, phone))
    one.effects, one.outcomes = list(one.effects), []
    return one


def thrown(ident: str, name: str, *, way: str = "") -> tuple[Bench, float] | None:
    """A drill in which the inject has just been thrown, and when; None where it can be thrown nowhere."""
    for there in [way] if way else WAYS:
        events = WAYS[there]
        bench = bench_of(ident, there != "no phone")
        for second, event in enumerate(events, 1):
            bench.at(second, event)
        now = len(events) + 1.0
        bench.at(now, f"inject:{name}")
        if bench.outcomes[-1][1] == "taken":
            return bench, now
    return None


def own(found: Protocol, name: str) -> set[str]:
    """The findings that an inject can make."""
    inject = found.inject[name]
    late = {inject.late.id} if inject.late is not None else set()
    return late | {forbidden.fault.id for forbidden in inject.forbidden}


def obliged(ident: str) -> list[str]:
    """The injects that ask for an answer and can be thrown: in a file without breaths none can fail to go in."""
    file = protocol(ident)
    breaths = file.facts["breaths"].default
    return [
        name
        for name, inject in file.inject.items()
        if inject.allowed and (breaths or not inject.when.startswith("breaths"))
    ]


PAIRS = [(ident, name) for ident in KINDS for name in obliged(ident)]


@pytest.mark.parametrize(("ident", "name"), PAIRS)
def test_what_is_thrown_can_be_acted_is_named_in_a_gap_and_bears_a_source(ident: str, name: str) -> None:
    inject = protocol(ident).inject[name]
    assert inject.play["en"] and inject.play["es"]
    assert inject.cause == one_line(inject.cause) != ""
    assert inject.within is not None
    assert inject.source
    assert thrown(ident, name) is not None


@pytest.mark.parametrize(("ident", "name"), PAIRS)
def test_each_right_answer_draws_no_finding(ident: str, name: str) -> None:
    inject = protocol(ident).inject[name]
    for answer in [*inject.allowed, f"answered:{name}"]:
        found = thrown(ident, name)
        assert found is not None and inject.within is not None
        bench, now = found
        bench.at(now + 2, answer).wait(now + inject.within / 1000 + 30)
        assert not own(protocol(ident), name) & set(bench.faults), answer


@pytest.mark.parametrize(("ident", "name"), [(i, n) for i, n in PAIRS if protocol(i).inject[n].late is not None])
def test_no_answer_draws_its_own_finding_and_only_once_it_is_late(ident: str, name: str) -> None:
    inject = protocol(ident).inject[name]
    found = thrown(ident, name)
    assert found is not None and inject.within is not None and inject.late is not None
    bench, now = found
    if "hands_placed" in inject.allowed:
        bench.at(now + 0.2, "hands_lifted")
    assert inject.late.id not in bench.wait(now + inject.within / 1000 - 0.1).faults
    assert inject.late.id in bench.wait(now + inject.within / 1000 + 0.1).faults


@pytest.mark.parametrize(("ident", "name"), [(i, n) for i, n in PAIRS if protocol(i).inject[n].forbidden])
def test_a_wrong_answer_draws_its_own_finding(ident: str, name: str) -> None:
    for forbidden in protocol(ident).inject[name].forbidden:
        for wrong in forbidden.on:
            found = thrown(ident, name)
            assert found is not None
            bench, now = found
            if wrong == "shock_pressed" and not bench.armed:
                bench.at(now + 1, "analysis_begins").at(now + 2, "shock_advised")
            bench.at(now + 3, wrong)
            assert forbidden.fault.id in bench.faults, wrong


@pytest.mark.parametrize(
    ("ident", "name"), [(i, n) for i, n in PAIRS if "hands_placed" in protocol(i).inject[n].allowed]
)
def test_hands_that_stayed_on_all_along_are_an_answer(ident: str, name: str) -> None:
    inject = protocol(ident).inject[name]
    ways = ("hands on", "pads going on", "pads on", "no phone")
    found = next((one for way in ways if (one := thrown(ident, name, way=way))), None)
    if found is None:  # thrown before the first push, or to somebody awake
        assert name in ("gasp", "seizure", "life_fades")
        return
    bench, now = found
    assert inject.within is not None
    assert not own(protocol(ident), name) & set(bench.wait(now + inject.within / 1000 + 1).faults)


@pytest.mark.parametrize("inject", ["pads_loose", "unit_fault"])
@pytest.mark.parametrize("way", ["reading", "shock advised"])
@pytest.mark.parametrize("ident", KINDS)
def test_hands_go_back_where_the_kit_fails_while_everybody_stands_clear(ident: str, way: str, inject: str) -> None:
    found = thrown(ident, inject, way=way)
    assert found is not None
    bench, now = found
    assert bench.step("rescuer") == "hands_back"
    assert [words for _, words in bench.cues(now)][:1] == ["It has stopped reading: push again."]
    assert "Still no hands on: push now." in [words for _, words in bench.wait(now + 10).cues(now)]


@pytest.mark.parametrize("ident", ADULT)
def test_a_spray_comes_beside_the_pushes_and_never_before_them(ident: str) -> None:
    before = bench_of(ident)
    for second, event in enumerate([*BASE, "spray_given"], 1):
        before.at(second, event)
    assert "spray-instead-of-pushes" in before.faults
    beside = bench_of(ident)
    for second, event in enumerate([*BASE, "hands_placed", "spray_given"], 1):
        beside.at(second, event)
    assert "spray-instead-of-pushes" not in beside.faults


def test_nobody_is_asked_to_move_the_uterus() -> None:
    for ident in KINDS:
        said = str(protocol(ident).model_dump()).lower()
        assert "uterus" not in said and "útero" not in said, ident


def test_there_are_enough_stories_and_no_two_alike() -> None:
    found = list(scenarios().values())
    assert len(found) >= 24
    for texts in ([one.title["en"] for one in found], [one.story["en"] for one in found], [one.seed for one in found]):
        assert len(set(texts)) == len(texts)
    plans = [one.facts["rhythm"] for one in found]
    shocks = sum(plan[0] == "shockable" for plan in plans if isinstance(plan, list))
    assert 0.4 <= shocks / len(plans) <= 0.6, "nobody may guess what the first analysis finds"


@pytest.mark.parametrize(("story", "ident"), [(s, i) for s, one in scenarios().items() for i in one.suits])
def test_every_story_can_be_drilled_to_a_verdict(story: str, ident: str) -> None:
    found = scenarios()[story]
    bench = Bench(ident, found, counting="marks").play(SETUP)
    second = 20.0
    if "first_breaths" in protocol(ident).track["rescuer"].step:
        for _ in range(5):
            bench.at(second, "breath")
            second += 1.5
    bench.at(second, "hands_placed")
    planned = next(throw for throw in found.throw if throw.name == "unit_here")
    here = planned.at
    if planned.after is not None:
        here = planned.after.by + 1_000 * next(round(at) for at, event in SETUP if event == planned.after.on)
    assert here is not None
    bench.wait(here / 1000 + 0.5)
    assert bench.step("unit") == "unit_beside"
    events = ["unit_on", "chest_bared"]
    events += ["chest_dried"] if found.facts["chest"] == "wet" else []
    events += ["hair_removed"] if found.facts.get("hair") else []
    events += ["patch_removed"] if found.facts.get("patch") else []
    at = here / 1000 + 1
    for event in [*events, "pad_right", "pad_left", "hands_lifted", "analysis_begins"]:
        bench.at(at, event)
        at += 1
    assert bench.step("unit") == "analysing"
    plan = found.facts["rhythm"]
    assert isinstance(plan, list)
    shock = plan[0] == "shockable"
    bench.at(at, "shock_advised" if shock else "no_shock_advised")
    assert bench.step("unit") == ("shock_advised" if shock else "resting")
    assert bench.step("rescuer") == ("say_clear" if shock else "hands_back")
