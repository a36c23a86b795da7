"""The desk over the real coach: real files, real logs, in a folder of the test's own."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from coach.clock import SteppedClock
from coach.debrief.forms import FORMS
from coach.debrief.from_log import debrief_of
from coach.keys import KeyChoice, KeyClash
from coach.log.places import read_words, words_vouched
from coach.log.reading import read_log, verify
from coach.protocol.signing import approve
from coach.remembered import Choices
from coach.resources import data_dir
from coach.settings import Room, Settings
from screens.coach_desk import CoachDesk
from screens.desk import DeskError, ProtocolCard, Unsound
from tests.debrief.xapi_rules import faults

ERC = "erc-2025/adult-one-rescuer"
STALL = "brackhaven/fruit-stall"
CHOICES = Choices(ERC, STALL, "07", "21", "lead", "practise", "each", "floor", "both")


@pytest.fixture
def clock() -> SteppedClock:
    return SteppedClock(5_000)


@pytest.fixture
def desk(tmp_path: Path, clock: SteppedClock, monkeypatch: pytest.MonkeyPatch) -> CoachDesk:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setattr("screens.coach_desk.second_dir", lambda: tmp_path / "second")
    return CoachDesk(Settings(tmp_path / "settings.toml", room=Room("112", "Quay 4", "by the door")), clock)


def drilled(desk: CoachDesk, clock: SteppedClock, choices: Choices = CHOICES, end: bool = True) -> Path:
    """A short drill, and its log."""
    drill = desk.open(choices, "a rehearsal of the course" if choices.mode == "test" else "")
    drill.go(clock.mono_ms())
    for key, wait in (("u", 3000), ("e", 3000), ("n", 3000), *[("space", 550)] * 12, ("d", 550)):
        clock.advance(wait)
        drill.press(key, clock.mono_ms())
    clock.advance(4000)
    drill.tick(clock.mono_ms())
    if end:
        drill.press("z", clock.mono_ms())
        clock.advance(400)
        drill.press("z", clock.mono_ms())
    path = drill.log.path
    assert path is not None
    if end:
        drill.close()
    else:
        drill.log.close()
    return path


def test_protocols_of_the_settings_guidance_come_first(desk: CoachDesk) -> None:
    cards = desk.protocols()
    assert cards[0].id == ERC
    assert cards[0].guidance == "after ERC 2025, not endorsed"
    assert cards[0].approval == "draft: nobody has approved it"
    assert not cards[0].sound
    other = CoachDesk(replace(desk.settings, guidance="AHA 2025"), desk.clock)
    assert other.protocols()[0].id.startswith("aha-2025/")


def test_a_broken_protocol_is_listed_with_its_first_problem_and_never_first(desk: CoachDesk, tmp_path: Path) -> None:
    folder = tmp_path / "given" / "local"
    folder.mkdir(parents=True)
    (folder / "broken.toml").write_text('format = 1\nid = "local/broken"\ntitel = "x"\n')
    cards = CoachDesk(desk.settings, desk.clock, tmp_path / "given").protocols()
    assert cards[-1].id == "local/broken"
    assert "broken.toml:" in cards[-1].problem
    assert not cards[0].problem


def test_scenarios_suit_the_protocol_and_hide_their_rhythm(desk: CoachDesk) -> None:
    cards = desk.scenarios(ERC)
    assert STALL in [card.id for card in cards]
    stall = next(card for card in cards if card.id == STALL)
    assert stall.casualty.startswith("58 years, 74 kg")
    assert "shock" not in " ".join(f"{card.casualty} {card.setting} {card.story}" for card in cards)
    assert desk.scenarios("no/such") == ()


def test_pads_for_the_casualty_and_the_kit(desk: CoachDesk) -> None:
    both = desk.pads(ERC, STALL, "both")
    assert both is not None
    assert both.words == "adult pads, right and left"
    assert both.guidance == "after ERC 2025"
    small = desk.pads(ERC, STALL, "paediatric")
    assert small is not None
    assert "get adult pads" in small.why
    with pytest.raises(DeskError, match="no scenario is called"):
        desk.pads(ERC, "no-such", "both")


def test_a_drill_carries_every_choice(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock, replace(CHOICES, mode="test", counting="probe", unit="laptop", kit="adult"))
    head = read_log(path).header
    assert path.parent == desk.folder
    assert (head["learner"], head["assessor"], head["role"]) == ("07", "21", "lead")
    assert (head["mode"], head["counting"], head["unit"], head["pads"]["kit"]) == ("test", "probe", "laptop", ["adult"])
    assert head["scenario"]["id"] == STALL
    assert read_log(path).lines[0]["kind"] == "go"
    assert verify(path).ok


def test_no_story_and_no_learner_are_kept_as_none(desk: CoachDesk, clock: SteppedClock) -> None:
    head = read_log(drilled(desk, clock, replace(CHOICES, scenario="none", learner=""))).header
    assert head["scenario"] is None
    assert head["learner"] == "none"


def test_settings_reach_the_drill(desk: CoachDesk, clock: SteppedClock) -> None:
    keys = (KeyChoice("pin_fault", "f5", "settings.toml:1"),)
    mine = CoachDesk(replace(desk.settings, sigma_ms=31, language="es", keys=keys), clock)
    drill = mine.open(CHOICES, "")
    drill.log.close()
    assert (drill.setup.sigma_ms, drill.setup.language, drill.setup.keys["f5"]) == (31, "es", "pin_fault")
    assert (drill.setup.emergency_number, drill.setup.address, drill.setup.real_unit) == (
        "112",
        "Quay 4",
        "by the door",
    )
    clash = CoachDesk(replace(desk.settings, keys=(KeyChoice("breath", "f", "settings.toml:2"),)), clock)
    with pytest.raises(KeyClash, match=r"settings\.toml:2"):
        clash.open(CHOICES, "")


def test_keys_are_looked_at_before_class(desk: CoachDesk, clock: SteppedClock) -> None:
    assert desk.checks()[-1].name == "keys" and desk.checks()[-1].state == "fine"
    clash = CoachDesk(replace(desk.settings, keys=(KeyChoice("breath", "f", "settings.toml:2"),)), clock)
    assert clash.checks()[-1].state == "bad" and "settings.toml:2" in clash.checks()[-1].said


def test_a_test_with_a_file_that_changed_since_its_card_needs_a_reason(
    desk: CoachDesk, clock: SteppedClock, tmp_path: Path
) -> None:
    day = clock.wall().date().isoformat()
    text = (data_dir("protocols") / f"{ERC}.toml").read_text(encoding="utf-8")
    wishes = {"role": "medical director", "reason": "First.", "effective_from": day, "review_due": "2099-01"}
    signed = approve(text, "t", None, **wishes, today=clock.wall().date())
    own = tmp_path / "data" / "protocols" / f"{ERC}.toml"
    own.parent.mkdir(parents=True)
    own.write_text(signed, encoding="utf-8")
    test = replace(CHOICES, mode="test")

    def card() -> ProtocolCard:
        return next(card for card in desk.protocols() if card.id == ERC)

    assert card().sound and desk.protocols()[0] == card(), "one's own come first"
    own.write_text(signed.replace("first pad", "1st pad").replace('after = "10 s"', 'after = "11 s"'), encoding="utf-8")
    assert card().sound, "what was read is shown until it is read again"
    with pytest.raises(Unsound, match="changed since"):
        desk.open(test, "")
    assert not card().sound and "changed since" in card().approval
    drill = desk.open(test, "course day")
    drill.log.close()
    assert drill.log.path is not None
    head = read_log(drill.log.path).head
    assert (head.protocol.approval, head.reason) == ("changed since approved", "course day")


def test_an_inject_that_the_facts_rule_out_is_told_before_and_during_the_drill(
    desk: CoachDesk, clock: SteppedClock
) -> None:
    without = "erc-2025/adult-compressions-one-rescuer"
    for name, told in ((ERC, ()), (without, ("3 The breath does not go in",))):
        (card,) = (card for card in desk.scenarios(name) if card.id == "brackhaven/pump-house")
        assert card.not_here == told
        drill = desk.open(replace(CHOICES, protocol=name, scenario=card.id), "")
        drill.go(clock.mono_ms())
        views = {view.digit: view for view in drill.view(clock.mono_ms()).injects}
        assert (views[3].status == "not here", views[3].due_ms is None) == (bool(told), bool(told))
        assert views[2].status == "at hand"
        drill.close()


def test_a_local_file_has_the_stories_of_its_base_but_those_that_throw_what_it_took_away(
    desk: CoachDesk, tmp_path: Path
) -> None:
    own = tmp_path / "data" / "protocols" / "brackhaven" / "adult-one-rescuer.toml"
    own.parent.mkdir(parents=True)
    own.write_bytes((data_dir("demo") / "brackhaven-rescue.toml").read_bytes())  # it has no spare unit
    base = {card.id for card in desk.scenarios(ERC)}
    local = {card.id for card in desk.scenarios("brackhaven/adult-one-rescuer")}
    assert STALL in local < base and "brackhaven/night-watch" in base - local
    young = {card.id for card in desk.scenarios("erc-2025/child-one-rescuer")}
    assert young and not young & base, "a file that stories name has no others"


def test_the_list_of_drills(desk: CoachDesk, clock: SteppedClock) -> None:
    assert desk.drills() == ()
    assert desk.latest() is None
    first = drilled(desk, clock)
    clock.advance(60_000)
    last = drilled(desk, clock, replace(CHOICES, scenario="none", learner=""))
    (desk.folder / "00-broken.jsonl").write_bytes(b"\xff{")
    cards = desk.drills()
    assert [card.path for card in cards[:2]] == [last, first]
    assert [(card.learner, card.state) for card in cards] == [("", "ended"), ("07", "ended"), ("", "cannot be read")]
    assert cards[1].what == "adult-one-rescuer, Fruit stall"
    assert desk.latest() == cards[0]


@pytest.mark.parametrize(
    "head",
    [b"[]", b"{}", b'{"protocol": 3}', b"[" * 100_000, b'{"protocol":{"id":1},"scenario":{},"learner":1,"wall":2}'],
)
def test_no_first_line_breaks_the_list(desk: CoachDesk, head: bytes) -> None:
    desk.folder.mkdir(parents=True)
    (desk.folder / "x.jsonl").write_bytes(head + b'\n{"kind":"end"}\n')
    assert [card.state for card in desk.drills()] == ["cannot be read"]
    assert desk.interrupted() is None


def test_an_interrupted_drill_is_offered_resumed_with_its_hole_and_not_offered_again(
    desk: CoachDesk, clock: SteppedClock
) -> None:
    path = drilled(desk, clock, end=False)
    card = desk.interrupted()
    assert card is not None
    assert (card.path, card.learner, card.state) == (path, "07", "interrupted")
    assert card.when.endswith("at 0:16")
    clock.advance(30_000)
    drill = desk.resume(path)
    drill.press("z", clock.mono_ms())
    clock.advance(400)
    drill.press("z", clock.mono_ms())
    drill.close()
    assert desk.interrupted() is None
    assert [line["kind"] for line in read_log(path).lines if line["kind"] in ("hole", "end")] == ["hole", "end"]
    assert desk.latest() is not None and desk.latest().state == "ended"  # type: ignore[union-attr]


def test_an_interrupted_drill_can_be_closed(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock, end=False)
    assert desk.close(path) == f"Closed as interrupted: {path.name}"
    assert desk.interrupted() is None
    assert read_log(path).lines[-1]["reason"] == "interrupted"
    assert "has ended" in desk.close(path)
    with pytest.raises(DeskError, match="has ended"):
        desk.resume(path)


def test_a_debrief_from_a_log(desk: CoachDesk, clock: SteppedClock) -> None:
    back = desk.debrief(drilled(desk, clock))
    assert "Adult, one rescuer · Fruit stall · after ERC 2025, not endorsed · draft · learner 07" in back.head
    assert back.ended == "Ended at 0:20."
    assert back.tape.startswith("   ")
    assert len(back.handover) == 8
    assert back.said == ()
    assert [section.title for section in back.sections][1] == "Hands off the chest"
    assert back.one_thing
    assert back.strength
    with pytest.raises(DeskError, match="no such file"):
        desk.debrief(desk.folder / "none.jsonl")


def test_a_drill_without_one_push_has_a_debrief(desk: CoachDesk, clock: SteppedClock) -> None:
    drill = desk.open(CHOICES, "")
    drill.go(clock.mono_ms())
    clock.advance(2000)
    drill.close("interrupted")
    assert drill.log.path is not None
    back = desk.debrief(drill.log.path)
    assert back.ended == "The record was cut off at 0:00: what came later is not known."
    assert "No compression was keyed" in back.sections[1].rows[0][1]


def test_typed_words_lie_beside_the_log_and_their_digest_in_it(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock)
    assert desk.say(path, {"plus": "zxquick", "change": "pads"}) == ""
    words = read_words(path)
    assert words is not None
    assert words.words == {"plus": "zxquick", "change": "pads"}
    assert words_vouched(read_log(path), words)
    assert b"zxquick" not in path.read_bytes()
    assert verify(path).ok


def test_what_was_said_is_a_line_after_the_end(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock)
    assert desk.ticks(path, ("who_where", "shocks")) == ""
    assert read_log(path).lines[-1]["handover"] == ["who_where", "shocks"]
    assert desk.debrief(path).said == ("who_where", "shocks")
    assert verify(path).ok


def test_a_log_that_cannot_be_added_to_is_said(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock, end=False)
    assert "has no end yet" in desk.ticks(path, ("shocks",))
    assert "has no end yet" in desk.say(path, {"plus": "a"})


def test_files_beside_the_log(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock)
    written = desk.export(path)
    endings = [file.name.removeprefix(path.stem) for file in written]
    assert endings == [".html", ".txt", ".md", ".json", ".csv", ".xapi.json"]
    assert {file.parent for file in written} == {path.parent}
    data: dict[str, Any] = json.loads(written[3].read_text())
    assert data["learner"] == "07"
    assert desk.latest() is not None and desk.latest().path == path  # type: ignore[union-attr]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs a person whom folders can refuse")
def test_a_folder_that_refuses_files_is_said(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock)
    path.parent.chmod(0o500)
    try:
        with pytest.raises(DeskError, match="Permission denied"):
            desk.export(path)
    finally:
        path.parent.chmod(0o700)


def test_choices_are_kept_in_the_data_folder(desk: CoachDesk, tmp_path: Path) -> None:
    assert desk.remembered() == (Choices(), "")
    assert desk.keep(CHOICES) == ""
    assert desk.remembered() == (CHOICES, "")
    elsewhere = CoachDesk(replace(desk.settings, data_folder=str(tmp_path / "mine")), desk.clock)
    assert elsewhere.folder == tmp_path / "mine" / "drills"
    assert elsewhere.remembered() == (Choices(), "")


def test_the_page_is_written_beside_the_log(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock)
    written = desk.page(path)
    assert written == path.with_suffix(".html")
    assert written.read_text(encoding="utf-8").startswith("<!doctype html>")


def test_answers_choices_and_moves_go_into_the_log_and_change_the_debrief(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock)
    back = desk.debrief(path)
    assert back.questions
    for one in back.questions:
        assert desk.note(path, "confirmed", finding=one.id, answer="did-not-happen", who="a1", why="") == ""
    assert desk.debrief(path).questions == ()
    keep = desk.debrief(path).choices[-1:]
    for choice in keep:
        assert desk.note(path, "chosen", finding=choice.id, who="a1", why="") == ""
        assert desk.debrief(path).one_thing in (choice.say, f"Keep this: {choice.say}")
    assert "not-yet" in {one.id for one in desk.debrief(path).results if not one.why}
    assert "This was not signed" in desk.sign(path, "safety", "a1", "")
    assert desk.sign(path, "not-yet", "a1", "") == ""
    assert desk.debrief(path).signed == "Signed: not yet, by a1"
    told = json.loads(FORMS["xapi"](debrief_of(read_log(path))))
    assert told[1]["verb"]["id"].endswith("/not-yet") and told[1]["result"]["success"] is False
    assert all(faults(one) == [] for one in told)
    page = FORMS["html"](debrief_of(read_log(path)))
    assert "Signed: not yet, by a1" in page and "critical steps seen unaided" in page
    assert verify(path).ok


def test_a_line_moved_and_one_added_stand_in_the_review_with_what_was_pressed(
    desk: CoachDesk, clock: SteppedClock
) -> None:
    path = drilled(desk, clock)
    first = next(card for card in desk.lines(path) if card.moves)
    assert desk.note(path, "retime", line=first.line, to_e=first.e + 500, who="a1", why="late") == ""
    assert desk.note(path, "added_later", input="scene_checked", e=100, who="a1", why="on video") == ""
    cards = desk.lines(path)
    moved = next(card for card in cards if card.line == first.line)
    assert moved.e == first.e + 500 and "pressed at" in moved.note
    added = next(card for card in cards if card.note == "added later")
    assert (added.e, added.what) == (100, "scene checked")
    assert [card.e for card in cards] == sorted(card.e for card in cards)
    assert verify(path).ok and read_log(path).lines[first.line - 1]["e"] == first.e


def test_again_is_the_next_attempt_from_a_step_and_the_pair_stands_on_both(
    desk: CoachDesk, clock: SteppedClock
) -> None:
    path = drilled(desk, clock)
    back = desk.debrief(path)
    assert back.again_from is not None
    clock.advance(60_000)
    drill = desk.again(path, back.again_from.id)
    drill.go(clock.mono_ms())
    for key in ("u", "e", "n", "space", "space"):
        clock.advance(2_000)
        drill.press(key, clock.mono_ms())
    clock.advance(1_000)
    drill.close("ended")
    after = drill.log.path
    assert after is not None
    head = read_log(after).head
    assert (head.attempt, head.starts_from) == (2, back.again_from.id)
    said = desk.debrief(after).pair
    assert len(said) == 1 and "then" in said[0]
    assert desk.debrief(path).own["again"] == said[0]
    desk.debrief(after)
    assert [line["kind"] for line in read_log(path).lines].count("note") == 1


def test_a_teach_drill_signs_nobody_off(desk: CoachDesk, clock: SteppedClock) -> None:
    path = drilled(desk, clock, replace(CHOICES, mode="teach"))
    back = desk.debrief(path)
    assert all(one.why for one in back.results) and "signs nobody off" in back.basis[0]
    assert "signs nobody off" in desk.sign(path, "pass", "a1", "")
    assert desk.debrief(path).signed == ""
