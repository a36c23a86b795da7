"""What must hold for every sequence of keys: nothing crashes, nothing is lost, the log gives the drill back."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.drill.meaning import is_timed
from coach.engine.digest import digest
from coach.engine.step import advance, feed, start
from coach.log.history import History, begin
from coach.log.timeline import Input, Timeline
from coach.observations import default_keys
from tests.drill.made import SHIPPED, Played, setup

KEYS = sorted(set(default_keys()) - {"z", "escape", "tab"})
STEPS = st.lists(
    st.tuples(
        st.integers(0, 15_000), st.sampled_from([*KEYS, "ö", "ctrl+c", "z", "escape", "space", "space", "v", "c"])
    ),
    max_size=60,
)


def folded(played: Played) -> History:
    lines = played.lines
    history = begin(lines[0], played.setup.protocol)
    for line in lines[1:]:
        history.read(line)
    return history


@settings(max_examples=80, deadline=None)
@given(
    steps=STEPS,
    name=st.sampled_from(SHIPPED),
    counting=st.sampled_from(["each", "probe", "marks", "counter"]),
    unit=st.sampled_from(["floor", "laptop"]),
    mode=st.sampled_from(["teach", "practise", "test"]),
)
def test_any_keys_make_one_line_each_and_the_log_gives_the_drill_back(
    steps: list[tuple[int, str]], name: str, counting: str, unit: str, mode: str
) -> None:
    played = Played(name, counting=counting, unit=unit, mode=mode).go()
    pressed = 0
    for gap, key in steps:
        played.clock.advance(gap)
        if gap % 3:
            played.drill.tick(played.clock.mono_ms())
        alive = played.drill.phase not in ("card", "ended")
        played.drill.press(key, played.clock.mono_ms())
        pressed += alive
        assert played.view() is not None
    assert sum("key" in line for line in played.lines) == pressed
    history = folded(played)
    assert history.differs is None
    assert history.timeline.last == played.drill.timeline.last
    assert history.happened().end_e >= 0
    if played.drill.phase == "running":
        assert [effect for effect, _ in played.drill.scribe.written] == [effect for effect, _ in played.drill.effects()]


@settings(max_examples=30, deadline=None)
@given(steps=STEPS)
def test_j_never_logs_what_is_timed(steps: list[tuple[int, str]]) -> None:
    played = Played().go()
    for gap, key in steps:
        played.clock.advance(gap)
        played.drill.press("j", played.clock.mono_ms())
        played.drill.press(key, played.clock.mono_ms())
    for line in played.lines:
        if line.get("via") == "J":
            assert not is_timed(played.setup.protocol, line["input"])


EVENTS = st.sampled_from(
    [
        "scene_checked",
        "response_checked",
        "call_made",
        "not_breathing",
        "compression",
        "breath",
        "hands_lifted",
        "unit_on",
        "pad_right",
        "pad_left",
        "analysis_begins",
        "shock_advised",
        "no_shock_advised",
        "clear_called",
        "shock_pressed",
        "touch",
        "swapped",
        "signs_of_life",
        "life_fades",
        "handover",
        "inject:vomit",
        "period_cut",
    ]
)
INPUTS = st.lists(st.tuples(st.integers(0, 40_000), EVENTS), max_size=40)


def machine_of(name: str) -> Any:
    return Played(name).drill.machine


@settings(max_examples=60, deadline=None)
@given(inputs=INPUTS, name=st.sampled_from(SHIPPED), cuts=st.lists(st.integers(0, 20_000), max_size=6))
def test_advance_and_then_advance_is_advance(inputs: list[tuple[int, str]], name: str, cuts: list[int]) -> None:
    made = machine_of(name)
    state, _ = start(made)
    for gap, event in inputs:
        target = state.e + gap
        direct, at_once = advance(made, state, target)
        stepped, told = state, []
        for cut in sorted(cuts):
            if stepped.e <= state.e + cut <= target:
                stepped, more = advance(made, stepped, state.e + cut)
                told += more
        stepped, more = advance(made, stepped, target)
        assert stepped == direct and (*told, *more) == at_once
        state = feed(made, direct, event, target)[0]
        assert feed(made, stepped, event, target)[0] == state
        assert hash(state) == hash(feed(made, stepped, event, target)[0])


@settings(max_examples=50, deadline=None)
@given(inputs=INPUTS, data=st.data())
def test_the_fold_does_not_care_in_which_order_inputs_came(inputs: list[tuple[int, str]], data: st.DataObject) -> None:
    made = machine_of(SHIPPED[0])
    e, items = 0, []
    for seq, (gap, event) in enumerate(inputs, 1):
        e += gap
        items.append(Input(e, seq, event))
    straight = Timeline(made)
    for item in items:
        straight.put(item)
    shuffled = Timeline(made)
    for item in data.draw(st.permutations(items)):
        shuffled.put(item)
    assert shuffled.entries == straight.entries
    if items:
        voided = data.draw(st.sampled_from(items))
        shuffled.take(voided.seq)
        without = Timeline(made)
        for item in items:
            if item != voided:
                without.put(item)
        assert shuffled.entries == without.entries
        shuffled.put(voided)
        shuffled.move(voided.seq, voided.e + 1_000)
        shuffled.move(voided.seq, voided.e)
        assert shuffled.entries == straight.entries


PROGRAM = """
from tests.drill.made import Played
played = Played().go().keys("j u e n", gap=3).push(30).keys("b b", gap=1)
played.keys("o r l a", gap=3).keys("v c enter", gap=3)
import sys
sys.stdout.buffer.write(played.log.content)
"""


def test_logs_are_byte_equal_whatever_the_hash_seed_the_locale_and_the_zone() -> None:
    logs = set()
    for seed, locale, zone in (("0", "C", "UTC"), ("1", "C.UTF-8", "Asia/Kathmandu"), ("4242", "", "America/Caracas")):
        env = {**os.environ, "PYTHONHASHSEED": seed, "LC_ALL": locale, "TZ": zone}
        done = subprocess.run([sys.executable, "-c", PROGRAM], env=env, capture_output=True, check=True, timeout=120)
        logs.add(done.stdout)
    assert len(logs) == 1 and len(next(iter(logs))) > 10_000


def test_the_shipped_setups_are_read_once_and_alike() -> None:
    played = Played()
    assert digest(played.drill.timeline.last) == digest(Played().drill.timeline.last)
    assert setup() is setup()
