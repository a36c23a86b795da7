"""Key scripts, playing, replaying, and taking a cut-off drill up again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from coach.clock import SteppedClock
from coach.drill.choosing import setup_for
from coach.drill.opening import open_drill, resume_drill
from coach.drill.play import play, setup_of
from coach.drill.replay import replay
from coach.drill.script import ScriptProblem, read_script
from coach.engine.plan import PlanProblem
from coach.log.history import happened
from coach.log.lines import LogProblem
from coach.log.reading import read_log, verify
from coach.log.recover import find_interrupted
from coach.resources import data_dir

SHORT = """
# protocol: erc-2025/adult-one-rescuer
# counting: each
# learner: 07
0.00 go
4.0 j
6.00 u
9 e
14 n
22 space
22.5 space
23.0 space     # a note
25 inject vomit
27 b
30 a
36 advice no_shock
38 space
40 z
40.4 z
50 said who_where shocks
"""


def played(tmp_path: Path, text: str = SHORT) -> Path:
    script = read_script(text)
    return play(script, setup_of(script, setup_for), tmp_path)


def test_a_played_script_verifies_and_replays_to_the_digest(tmp_path: Path) -> None:
    path = played(tmp_path)
    assert verify(path).ok
    found = replay(read_log(path))
    assert found.same and found.compared > 10 and found.e == 40_000


def test_playing_twice_gives_the_same_bytes(tmp_path: Path) -> None:
    assert played(tmp_path / "a").read_bytes() == played(tmp_path / "b").read_bytes()


def test_what_happened_is_what_the_script_said(tmp_path: Path) -> None:
    record = read_log(played(tmp_path))
    found = happened(record)
    assert record.header["learner"] == "07"
    assert [seen.event for seen in found.seen] == [
        "scene_checked",
        "response_checked",
        "call_made",
        "not_breathing",
        "compression",
        "compression",
        "compression",
        "inject:vomit",
        "breath",
        "analysis_begins",
        "no_shock_advised",
        "compression",
    ]
    assert found.ended == "ended" and found.end_e == 40_000
    assert found.handover_said == ("who_where", "shocks")
    assert any(told.effect.kind == "fault" for told in found.told), "a breath into vomit"


def test_the_demo_drill_plays_verifies_and_replays(tmp_path: Path) -> None:
    path = played(tmp_path, (data_dir("demo") / "first-drill.txt").read_text("utf-8"))
    assert verify(path).ok and replay(read_log(path)).same


def test_a_script_is_told_all_its_mistakes_at_once() -> None:
    with pytest.raises(ScriptProblem) as caught:
        read_script("# protokol: x\nsoon u\n3.0\n2 advice maybe\n5 inject\n4 u\n6 u n\n")
    lines = [line for line, _ in caught.value.problems]
    assert lines == [1, 1, 2, 3, 4, 5, 7]
    assert 'did you mean "protocol"' in str(caught.value) and '"go"' in str(caught.value)
    with pytest.raises(ScriptProblem, match="goes back"):
        read_script("0 go\n5 u\n4 u\n")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("10 spce", 'no key is called "spce": did you mean "space"?'),
        ("10 entr", 'no key is called "entr": did you mean "enter"?'),
        ("10 sen", 'no key is called "sen": did you mean "seen"?'),
        ("10 qqqqqq", "write one character"),
        ("10 inejct vomit", 'did you mean "inject"?'),
    ],
)
def test_a_key_that_there_is_not_is_refused_with_the_nearest(line: str, said: str) -> None:
    with pytest.raises(ScriptProblem) as caught:
        read_script(f"0 go\n{line}\n")
    assert said in str(caught.value)


def test_every_key_has_its_character_or_its_name_and_a_chord_is_let_by() -> None:
    words = ["x", "ñ", ".", "Space", "esc", "f5", "page_up", "question_mark", "ctrl+c"]
    script = read_script("0 go\n" + "".join(f"{at} {word}\n" for at, word in enumerate(words, 1)))
    assert [stroke.words for stroke in script.strokes[1:]] == [(word,) for word in words]


@pytest.mark.parametrize("header", ["mode: drill", "counting: all", "unit: moon", "seed: x"])
def test_a_script_header_with_a_wrong_word_is_refused(header: str, tmp_path: Path) -> None:
    script = read_script(f"# {header}\n0 go\n")
    with pytest.raises(PlanProblem):
        play(script, setup_of(script, setup_for), tmp_path)


def test_a_name_that_is_not_mapped_is_logged_as_not_mapped(tmp_path: Path) -> None:
    record = read_log(played(tmp_path, "0 go\n1 banana\n2 z\n2.2 z\n"))
    (key,) = [line for line in record.lines if line["kind"] == "key" and line["meant"] is None]
    assert key["key"] == "unmapped" and key["outcome"] == "not mapped"


def test_nothing_is_played_where_nothing_can_be_kept(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("no folder")
    with pytest.raises(LogProblem):
        played(blocked / "below")


def test_a_cut_off_drill_goes_on_with_its_hole_marked(tmp_path: Path) -> None:
    clock = SteppedClock(mono_ms=1_000)
    drill = open_drill(setup_for(), clock=clock, folder=tmp_path)
    drill.go(clock.mono_ms())
    for key in "juen":
        clock.advance(3_000)
        drill.press(key, clock.mono_ms())
    clock.advance(2_000)
    drill.press("space", clock.mono_ms())
    path = drill.log.path
    assert path is not None
    drill.log.close()
    with path.open("ab") as file:
        file.write(b'{"seq":99,"torn')
    (found,) = find_interrupted([tmp_path]).interrupted
    assert found.path == path
    later = SteppedClock(mono_ms=50, wall=clock.wall())
    again = resume_drill(path, clock=later)
    assert again.phase == "running" and again.view(later.mono_ms()).run == 1
    assert again.view(later.mono_ms()).e == 14_000
    later.advance(700)
    again.press("space", later.mono_ms())
    assert again.view(later.mono_ms()).run == 2, "no run spans a hole"
    assert again.view(later.mono_ms()).would_void == "not breathing normally"
    later.advance(500)
    again.press("z", later.mono_ms())
    later.advance(500)
    again.press("z", later.mono_ms())
    again.close()
    record = read_log(path)
    assert verify(path).ok and replay(record).same and record.sealed
    kinds = [line["kind"] for line in record.lines]
    assert kinds.count("hole") == 1 and kinds.count("recovered") == 1
    assert kinds.count("step") == len({(line["name"], line["e"]) for line in record.lines if line["kind"] == "step"})
    assert happened(record).breaks[0].kind == "hole"
    assert path.with_name(path.name + ".torn").exists()


def test_a_script_that_names_what_its_protocol_lacks_is_refused_at_every_line() -> None:
    text = "# protocol: erc-2025/child-one-rescuer\n0 go\n1 inject vomitt\n2 seen patch_removed\n3 seen chest_baerd\n"
    with pytest.raises(ScriptProblem) as problem:
        setup_of(read_script(text, "mine.txt"), setup_for)
    assert str(problem.value).split("\n") == [
        'mine.txt, line 3: erc-2025/child-one-rescuer has no inject "vomitt": did you mean vomit?',
        'mine.txt, line 5: erc-2025/child-one-rescuer has no observation "chest_baerd": did you mean chest_bared?',
    ]
    setup_of(read_script("0 go\n1 inject vomit\n2 seen wrong:vomit\n"), setup_for)


def test_the_pads_follow_the_body_and_the_kit() -> None:
    setup = setup_for("aha-2025/adult-one-rescuer")
    assert setup.pads_guidance == "AHA 2025"
    clock = SteppedClock()
    drill = open_drill(replace(setup, kit=("paediatric",)), clock=clock, folder=Path("/dev/null/below"))
    pads = drill.view(0).pads
    assert pads is not None and pads.size == "" and pads.why
    assert not drill.log.saved and "NOT SAVED" in drill.view(0).notice
    drill.close()
