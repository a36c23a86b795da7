"""Special circumstances: each can be met, answered rightly without a finding, and wrongly with its own.

What a circumstance asks for is what the guidance of 2025 is said to ask for (the protocol's own sources say how each
was seen); here it is held to what the debrief then finds.
"""

from __future__ import annotations

from functools import cache

import pytest

from coach.check.golden.scripts import findings_of
from coach.drill.choosing import setup_for
from coach.drill.play import play_in_memory, setup_of
from coach.drill.script import read_script
from coach.drill.setup import Setup
from coach.log.history import fold
from coach.protocol.library import load_protocol
from tests.content.shipped import scenarios

ONE, TWO = "erc-2025/adult-one-rescuer", "erc-2025/adult-two-rescuers"

Strokes = dict[float, str]

GOOD: Strokes = {
    0.0: "go", 3.0: "j", 6.0: "u", 10.0: "e", 16.0: "n", 20.0: "space", 37.0: "b", 38.5: "b", 40.0: "space",
    60.0: "inject unit_here", 63.0: "o", 64.0: "d", 66.0: "j", 69.0: "r", 72.0: "l", 73.5: "space", 76.0: "d",
    77.0: "a", 84.0: "v", 87.0: "c", 90.0: "enter", 92.5: "space", 109.0: "b", 110.5: "b", 112.0: "space",
    140.0: "z", 140.4: "z",
}  # fmt: skip


def found(strokes: Strokes, protocol: str, scenario: str = "") -> set[tuple[str, str]]:
    """Findings of a drill by id and severity."""
    heads = [f"# protocol: {protocol}", "# counting: marks", "# unit: floor", "# mode: test"]
    heads += [f"# scenario: {scenario}"] if scenario else []
    script = read_script("\n".join([*heads, *(f"{at:.2f} {strokes[at]}" for at in sorted(strokes))]))

    def find(name: str, story: str) -> Setup:
        return setup_for(name, story)

    file = load_protocol(protocol)[0]
    record = play_in_memory(script, setup_of(script, find))
    return {(one.rule, one.severity) for one in findings_of(record, fold(record, file), file)}


@cache
def as_good(protocol: str) -> frozenset[tuple[str, str]]:
    """What the good drill itself brings."""
    return frozenset(found(GOOD, protocol))


CASES: dict[str, tuple[str, Strokes, Strokes, str]] = {
    # inject, protocol: its time; the strokes that answer it; those that do not; what is then found. "" takes one away.
    "bystander_touch": (ONE, {86.0: "inject bystander_touch"}, {86.0: "inject bystander_touch", 87.0: ""},
                        "shock-with-bystander"),
    "vomit": (ONE, {50.0: "inject vomit", 51.0: "d", 54.0: "seen rolled", 56.0: "space"}, {50.0: "inject vomit"},
              "vomit-late"),
    "gasp": (ONE, {12.0: "inject gasp"}, {12.0: "inject gasp", 14.0: "w"}, "gasp-taken-for-breathing"),
    "breath_blocked": (ONE, {37.5: "inject breath_blocked"}, {37.5: "inject breath_blocked", 40.0: "", 52.0: "space"},
                       "breath-tried-on"),
    "seizure": (ONE, {4.0: "inject seizure"}, {4.0: "inject seizure", 16.0: "", 20.0: "", 36.0: "n", 36.5: "space"},
                "jerks-waited-out"),
    "no_pads": (ONE, {65.0: "inject no_pads", 67.0: "space", 68.0: "d"}, {65.0: "inject no_pads", 73.5: ""},
                "searched-for-pads"),
    "child_setting": (ONE, {65.0: "inject child_setting", 68.0: "seen setting_changed"},
                      {65.0: "inject child_setting"}, "child-setting-left"),
    "in_the_way": (ONE, {65.0: "inject in_the_way", 68.0: "seen moved_aside"}, {65.0: "inject in_the_way"},
                   "pad-over-bra-or-chain"),
    "oxygen_flows": (ONE, {80.0: "inject oxygen_flows", 82.0: "seen oxygen_moved"}, {80.0: "inject oxygen_flows"},
                     "shock-beside-oxygen"),
    "fuel_smell": (ONE, {65.0: "inject fuel_smell", 70.0: "seen moved_to_safety"}, {65.0: "inject fuel_smell"},
                   "shock-in-fumes"),
    "unit_fault": (ONE, {80.0: "inject unit_fault", 82.0: "space", 84.0: "", 87.0: "", 90.0: "", 92.5: ""},
                   {80.0: "inject unit_fault", 84.0: "", 87.0: "", 90.0: "", 92.5: ""}, "stared-at-the-unit"),
    "life_fades": (ONE, {114.0: "seen signs_of_life", 115.0: "d", 120.0: "inject life_fades", 124.0: "n",
                         125.0: "space"},
                   {114.0: "seen signs_of_life", 115.0: "d", 120.0: "inject life_fades"}, "fading-not-seen"),
    "tired": (TWO, {95.0: "inject tired", 100.0: "s"}, {95.0: "inject tired"}, "tired-not-relieved"),
}  # fmt: skip


def changed(by: Strokes) -> Strokes:
    return {at: word for at, word in (GOOD | by).items() if word}


@pytest.mark.parametrize("inject", CASES)
def test_answered_rightly_it_is_no_finding_and_wrongly_its_own(inject: str) -> None:
    protocol, rightly, wrongly, own = CASES[inject]
    fault = {name for name, _ in found(changed(wrongly), protocol)}
    assert own in fault
    grave = {one for one in found(changed(rightly), protocol) if one[1] in ("critical", "major")}
    assert own not in {name for name, _ in grave} and grave <= as_good(protocol)


def test_a_spray_comes_after_the_pushes_and_never_instead() -> None:
    strokes = {at: word for at, word in GOOD.items() if "unit_here" not in word and at < 60}
    story = "brackhaven/washroom"
    ends = {58.0: "z", 58.4: "z"}
    pushing = {**strokes, **ends}
    assert "spray-before-pushes" not in {name for name, _ in found(pushing, ONE, story)}
    waiting = {at: word for at, word in strokes.items() if at < 40} | {39.0: "d", 80.0: "z", 80.4: "z"}
    assert "spray-before-pushes" in {name for name, _ in found(waiting, ONE, story)}


COVERED: dict[str, tuple[str, ...]] = {
    "wet": ("slipway", "ferry-deck"),
    "hairy": ("sail-loft", "rope-walk"),
    "medicine patch": ("net-loft", "oxygen-at-home"),
    "implant": ("net-loft", "market-office"),
    "metal": ("ferry-deck", "rope-walk"),
    "pregnancy": ("ticket-hall",),
    "drowning": ("slipway", "boat-shed", "duck-pond"),
    "opioid": ("washroom",),
    "choking that became unresponsive": ("night-watch", "net-makers-kitchen"),
    "gasping": ("sail-loft", "rowing-gym"),
    "seizure": ("bakery-yard",),
    "pads missing": ("chess-cafe",),
    "unit fault": ("night-watch", "market-office"),
    "bystander contact": ("ferry-deck", "choir-loft"),
    "no shock": ("lock-keeper", "duck-pond"),
    "signs of life and their fading": ("net-loft", "lighthouse-steps"),
    "second rescuer arrives": ("slipway", "rope-walk"),
    "vomit": ("slipway", "lock-keeper"),
    "breath does not go in": ("waiting-room", "reading-room"),
    "tired": ("ticket-hall", "dance-floor"),
    "oxygen": ("oxygen-at-home",),
    "flammables": ("fuel-pier",),
    "a stoma": ("reading-room",),
    "a bra or a chain where a pad goes": ("choir-loft",),
    "a tight space": ("pump-house",),
    "a bed": ("guest-house",),
    "a child key on the unit": ("school-gate",),
    "adult pads only": ("waiting-room", "playing-field"),
    "alone without a phone": ("sheep-lane",),
}


def test_each_circumstance_of_the_trade_has_a_story() -> None:
    known = {ident.rpartition("/")[2] for ident in scenarios()}
    assert {name for names in COVERED.values() for name in names} <= known
    assert len(known) >= 24


def test_stories_with_children_pregnancy_or_overdose_are_marked_sensitive() -> None:
    for ident, story in scenarios().items():
        young = any("child" in one or "infant" in one for one in story.suits)
        marked = young or story.facts.get("pregnant") is True or story.facts.get("opioid") is True
        assert story.sensitive is marked, ident
