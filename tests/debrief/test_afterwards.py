"""What is said of a drill after its end: lines in its log, and what they change."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coach.clock import SteppedClock
from coach.commands import main
from coach.debrief import afterwards
from coach.debrief.from_log import debrief_of
from coach.debrief.page import Debrief
from coach.drill.choosing import setup_for
from coach.drill.opening import setup_from
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.reading import read_log, verify
from coach.resources import data_dir

SCRIPT = (data_dir("demo") / "first-drill.txt").read_text(encoding="utf-8").replace("mode: teach", "mode: test")


def played(folder: Path, *without: str, text: str = SCRIPT) -> Path:
    """The demo in test mode without the lines that begin with these moments."""
    lines = [line for line in text.splitlines() if not line.startswith(without or ("never",))]
    script = read_script("\n".join(lines), "test")
    return play(script, setup_of(script, setup_for), folder)


def page_of(path: Path) -> Debrief:
    return debrief_of(read_log(path))


def line_of(path: Path, event: str) -> int:
    return next(seen.seq for seen in page_of(path).happened.seen if seen.event == event)


def run(*words: str) -> int:
    return main(list(words))


def test_a_missing_call_is_answered_signed_and_stays_in_the_chain(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = played(tmp_path, "12.60 ", "86.55 ", "87.95 ")
    assert run("sign", str(path), "--who", "a1") == 1
    assert "to be confirmed first: step-omitted:call" in capsys.readouterr().err
    before = path.read_bytes()
    assert run("amend", str(path), "--who", "a1", "--answer", "step-omitted:call=saw", "--why", "on the phone") == 0
    assert path.read_bytes().startswith(before) and verify(path).ok
    page = page_of(path)
    assert {step.id: step.status for step in page.measures.steps}["call"] == "independent"
    assert [one.id for one in page.judgement.settled] == ["step-omitted:call"]
    assert run("sign", str(path), "--who", "a1", "--json") == 0
    signed = json.loads(capsys.readouterr().out.partition("\n{")[2].join(["{", ""]))
    assert signed["result"] == "pass" and "not measured" in signed["says"]
    assert page_of(path).happened.signed is not None and verify(path).ok


def test_a_call_that_did_not_happen_is_not_yet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = played(tmp_path, "12.60 ", "86.55 ", "87.95 ")
    assert run("amend", str(path), "--who", "a1", "--answer", "step-omitted:call=did-not-happen") == 0
    assert run("sign", str(path), "--who", "a1", "--result", "pass") == 1
    assert "Phone now: it did not happen" in capsys.readouterr().err
    assert run("sign", str(path), "--who", "a1") == 0
    assert "not yet, signed by a1. Phone now: it did not happen" in capsys.readouterr().out


def test_a_mark_moved_later_is_told_where_it_flips_a_critical_verdict(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The clear call is moved to before the verdict: the shock then has none."""
    path = played(tmp_path, "86.55 ")
    clear = line_of(path, "clear_called")
    assert run("amend", str(path), "--who", "a1", "--move", f"{clear}=110") == 0
    page = page_of(path)
    assert any("as pressed" in one for one in page.flipped) and set(page.flipped) <= set(page.cautions)
    assert page.happened.nudged[-1] == clear
    assert run("amend", str(path), "--who", "a1", "--move", f"{clear}=118.65") == 0
    assert page_of(path).flipped == ()


def test_a_nudge_that_changes_nothing_critical_is_not_told(tmp_path: Path) -> None:
    page = page_of(played(tmp_path))
    assert page.happened.nudged and page.flipped == ()


def test_a_key_meant_for_something_else_and_one_seen_later(tmp_path: Path) -> None:
    path = played(tmp_path, "86.55 ")
    line = line_of(path, "chest_bared")
    assert run("amend", str(path), "--who", "a1", "--meant", f"{line}=swapped", "--add", "chest_bared@88") == 0
    page = page_of(path)
    events = {seen.seq: (seen.event, seen.e) for seen in page.happened.seen}
    assert events[line][0] == "swapped" and page.happened.relabelled == (line,)
    assert page.happened.added_later and events[page.happened.added_later[0]] == ("chest_bared", 88_000)


def test_a_pin_gets_its_name_and_a_good_one_is_the_strength(tmp_path: Path) -> None:
    path = played(tmp_path)
    good = next(pin for pin in page_of(path).happened.pins if pin.which == "good")
    assert run("amend", str(path), "--who", "a1", "--name", f"{good.seq}=hands straight back") == 0
    assert page_of(path).judgement.strength == "Noticed as good: hands straight back."


def test_the_one_thing_is_chosen_and_the_rule_s_is_kept(tmp_path: Path) -> None:
    path = played(tmp_path)
    page = page_of(path)
    other = next(one for one in page.judgement.findings if one.rule != page.judgement.one_thing.finding)
    assert run("amend", str(path), "--who", "a1", "--one-thing", other.id, "--why", "they asked for it") == 0
    judgement = page_of(path).judgement
    assert judgement.one_thing.finding == other.rule and judgement.by_rule == page.judgement.one_thing


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--answer", "step-omitted:cal=saw"], "no finding that is to be confirmed"),
        (["--answer", "step-omitted:call=maybe"], "no answer 'maybe'"),
        (["--answer", "nothing"], "is written FINDING=WORD"),
        (["--name", "1=x"], "no pin on line '1'"),
        (["--move", "1=5"], "holds no input"),
        (["--move", "x=5"], "a line is a whole number"),
        (["--add", "clear_caled@5"], "did you mean clear_called?"),
        (["--add", "clear_called@900"], "the drill lasted from 0 to"),
        (["--one-thing", "nothing-such"], "no finding 'nothing-such'"),
        ([], "nothing is said"),
        (["--who", " ", "--add", "clear_called@5"], "say who says so"),
    ],
)
def test_what_cannot_be_said_is_refused_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    path = played(tmp_path, "12.60 ", "86.55 ", "87.95 ")
    before = path.read_bytes()
    given = words if "--who" in words else [*words, "--who", "a1"]
    assert run("amend", str(path), *given) == 2
    assert told in capsys.readouterr().err
    assert path.read_bytes() == before


def test_a_drill_without_an_end_takes_no_words(tmp_path: Path) -> None:
    path = played(tmp_path)
    page = page_of(path)
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    end = next(number for number, line in enumerate(lines) if '"kind":"end"' in line)
    path.write_text("".join(lines[:end]), encoding="utf-8")
    with pytest.raises(Exception, match="no end yet"):
        afterwards.write(path, [afterwards.choose(page, "")], "a1", "", SteppedClock())


def test_a_teach_drill_signs_nobody_off(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = played(tmp_path, text=SCRIPT.replace("mode: test", "mode: teach"))
    assert setup_from(read_log(path).header).mode == "teach"
    assert run("sign", str(path), "--who", "a1") == 1
    assert "A teach drill signs nobody off." in capsys.readouterr().err
