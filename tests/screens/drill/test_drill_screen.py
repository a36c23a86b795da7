"""What the drill screen does with keys, with time and with text that is not ours."""

from __future__ import annotations

from dataclasses import replace

import pytest
from textual import events

from coach.drill.view import View
from coach.observations import default_keys
from screens.drill import TICK_MS, next_wake
from screens.keyboard import Caps, name_of
from screens.widgets.face import Face
from tests.screens import golden
from tests.screens.drill.fake import OFF, RUNNING, VIEWS, FakeApp, FakeDrill, FakeSetup, HandClock

SIZE = (80, 24)


def pressed(drill: FakeDrill) -> list[object]:
    """The keys that the drill was told of."""
    return [told[1] for told in drill.told if told[0] == "press"]


async def test_every_key_reaches_the_drill_in_order_with_its_stamp() -> None:
    drill = FakeDrill(RUNNING)
    app = FakeApp(drill)
    async with app.run_test(size=SIZE) as pilot:
        for key in ("space", "b", "enter", "tab", "escape", "backspace", "full_stop", "1", "question_mark"):
            drill.clock.advance(7)
            await pilot.press(key)
    assert drill.told == [
        ("press", key, 1_000_000 + 7 * place)
        for place, key in enumerate(
            ("space", "b", "enter", "tab", "escape", "backspace", "full_stop", "1", "question_mark"), 1
        )
    ]


async def test_a_key_is_stamped_with_the_events_own_time() -> None:
    class Late(HandClock):
        def from_event_time(self, seconds: float) -> int:
            return int(seconds * 1000)

    drill = FakeDrill(RUNNING, clock=Late(5_000))
    app = FakeApp(drill)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        event = events.Key("space", " ")
        event.time = 4.25
        app.drill_screen.take_key(event)
    assert drill.told == [("press", "space", 4_250)]


async def test_what_an_unmapped_key_was_is_never_told() -> None:
    drill = FakeDrill(RUNNING)
    app = FakeApp(drill)
    async with app.run_test(size=SIZE) as pilot:
        for key in ("9", "ñ", "at", "f7", "ctrl+p", "alt+c", "alt+enter", "left_shift", "caps_lock"):
            await pilot.press(key)
    assert pressed(drill) == ["unmapped", "unmapped", "unmapped", "unmapped", "unmapped", "alt", "alt"]


async def test_quitting_is_a_word_and_not_an_end() -> None:
    drill = FakeDrill(RUNNING)
    app = FakeApp(drill)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("ctrl+q", "ctrl+c")
        assert app.is_running
        assert app.screen is app.drill_screen
    assert pressed(drill) == ["ctrl+q", "ctrl+c"]


async def test_caps_lock_changes_no_meaning() -> None:
    assert name_of(events.Key("C", "C")) == "c"
    assert name_of(events.Key("shift+c", "C")) == "c"
    assert name_of(events.Key("left_shift", None)) is None


async def test_enter_goes_only_while_ready() -> None:
    drill = FakeDrill(VIEWS["ready"])
    app = FakeApp(drill)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("u", "enter", "enter")
    assert [told[:2] for told in drill.told] == [("press", "u"), ("go", 1_000_000), ("press", "enter")]


async def test_a_paste_tells_its_length_and_focus_is_told_both_ways() -> None:
    drill = FakeDrill(RUNNING)
    app = FakeApp(drill)
    async with app.run_test(size=SIZE) as pilot:
        app.post_message(events.Paste("a name\x1b"))
        app.post_message(events.AppBlur())
        app.post_message(events.AppFocus())
        await pilot.pause()
    assert drill.told == [("paste", 7), ("focus", True), ("focus", False)]


async def test_the_card_stays_and_its_keys_are_not_logged() -> None:
    drill = FakeDrill(VIEWS["card"])
    app = FakeApp(drill)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("c", "escape", "enter", "z", "p", "z")
        app.post_message(events.Paste("x"))
        app.post_message(events.AppBlur())
        await pilot.pause()
        assert "REAL EMERGENCY" in golden.text(app)
        drill.clock.advance(1_501)
        await pilot.press("z")
        assert drill.told == []
        drill.clock.advance(1_500)
        await pilot.press("z")
        await pilot.pause()
    assert drill.told == [("close", "safety")]
    assert app.left_with == ["safety"]


@pytest.mark.parametrize(("before", "outcome"), [("on", "ended"), ("stopped", "safety")])
async def test_the_screen_is_left_when_the_drill_has_ended(before: str, outcome: str) -> None:
    drill = FakeDrill(VIEWS[before])
    app = FakeApp(drill)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        drill.now = replace(drill.now, phase="ended")
        await pilot.press("z")
        await pilot.pause()
        assert app.screen is not app.drill_screen
    assert app.left_with == [outcome]


async def test_help_covers_the_screen_and_takes_no_key() -> None:
    drill = FakeDrill(RUNNING)
    app = FakeApp(drill)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("question_mark")
        assert "any key goes on to the drill" in golden.text(app)
        await pilot.press("space")
        assert "any key goes on to the drill" not in golden.text(app)
    assert pressed(drill) == ["question_mark", "space"]


async def test_a_live_key_takes_over_before_the_drill_sees_it() -> None:
    drill = FakeDrill(RUNNING)
    app = FakeApp(drill, on_live_key=lambda: drill.told.append(("taken over",)))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("space")
    assert [told[0] for told in drill.told] == ["taken over", "press"]


async def test_remapped_keys_are_what_foot_band_and_help_name() -> None:
    keys = {key: ident for key, ident in default_keys().items() if ident not in ("pin_fault", "shock_pressed", "stop")}
    keys |= {"page_down": "pin_fault", "page_up": "pin_good", "home": "shock_pressed", "f12": "stop"}
    app = FakeApp(FakeDrill(VIEWS["armed"], FakeSetup(keys=keys)))
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        shown = golden.text(app)
        assert "Page down  fault" in shown
        assert "F12  stop" in shown
        assert "armed: Home is the shock" in shown
        assert "Esc" not in shown
        await pilot.press("question_mark")
        assert "Page down  fault, named later" in golden.text(app)
        await pilot.press("question_mark", "pagedown", "pageup")
        assert pressed(app.drill)[-2:] == ["page_down", "page_up"], "by the names that key maps have"


def test_help_names_every_key_there_is() -> None:
    caps = Caps(default_keys(), {"touch": "hand on them"})
    named = " ".join(cap for cap, _ in caps.all()).split()
    assert len(named) == len(default_keys())
    assert ("T", "hand on them") in caps.all()


# ------------------------------------------------------------------------------------------------- time and paint


def test_the_screen_wakes_on_the_second_and_on_fifths_of_hands_off_time() -> None:
    assert next_wake(replace(RUNNING, t=61_030)) == 170
    assert next_wake(replace(RUNNING, t=61_950)) == 50
    assert next_wake(replace(OFF, t=61_500, off_ms=3_410)) == 190
    assert next_wake(replace(OFF, t=61_930, off_ms=3_410)) == 70
    assert all(10 <= next_wake(replace(OFF, t=t, off_ms=t * 3)) <= TICK_MS for t in range(0, 3_000, 7))


async def test_only_lines_that_changed_are_painted(monkeypatch: pytest.MonkeyPatch) -> None:
    drill = FakeDrill(RUNNING)
    app = FakeApp(drill)
    painted: list[int] = []
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        monkeypatch.setattr(Face, "refresh", lambda self, *regions, **_: painted.extend(region.y for region in regions))
        app.drill_screen.paint(0)
        assert painted == []
        drill.now = replace(drill.now, t=drill.now.t + 1_000)
        app.drill_screen.paint(0)
        assert painted == [0]
        drill.now = replace(drill.now, pushes=18)
        app.drill_screen.paint(0)
        assert set(painted[1:]) <= set(range(3, 10))


async def test_hands_off_seconds_follow_the_clock() -> None:
    drill = FakeDrill(replace(OFF, off_ms=0))
    start = drill.clock.mono_ms()

    def at(view: View, now: int) -> View:
        return replace(view, off_ms=now - start, t=now - start)

    drill.script = at
    app = FakeApp(drill)
    async with app.run_test(size=(20, 5)) as pilot:
        await pilot.pause()
        for ms, shown in ((0, "0.0 s"), (3_499, "3.4 s"), (9_999, "9.9 s"), (10_000, "10 s"), (61_800, "61 s")):
            drill.clock.set(start + ms)
            app.drill_screen.wake()
            await pilot.pause()
            assert f"off {shown}" in golden.text(app)


async def test_the_theme_may_change_while_a_drill_runs() -> None:
    app = FakeApp(FakeDrill(VIEWS["off"]))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        before = ground(app, 5)
        app.theme = "kneeside-light"
        await pilot.pause()
        assert ground(app, 5) != before


# ------------------------------------------------------------------------------------------- told apart without colour


def ground(app: FakeApp, row: int) -> int:
    """Lightness of a row's ground, 0 to 255, at its left edge."""
    style = next(iter(golden.strips(app)[row])).style
    assert style is not None
    assert style.bgcolor is not None
    triplet = style.bgcolor.get_truecolor()
    return round(0.2126 * triplet.red + 0.7152 * triplet.green + 0.0722 * triplet.blue)


async def test_no_color_tells_every_state_apart_by_word_shape_and_inversion(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    drill = FakeDrill(RUNNING)
    app = FakeApp(drill)
    grounds: dict[str, int] = {}
    texts: dict[str, str] = {}
    async with app.run_test(size=SIZE) as pilot:
        for state in ("on", "off", "loud", "analysing", "armed", "paused", "stopped", "life", "card"):
            drill.now = VIEWS[state]
            app.drill_screen.paint(0)
            await pilot.pause()
            for strip in golden.strips(app):
                for segment in strip:
                    for colour in (segment.style.color, segment.style.bgcolor) if segment.style else ():
                        if colour is not None:
                            triplet = colour.get_truecolor()
                            assert triplet.red == triplet.green == triplet.blue
            grounds[state] = ground(app, 6)
            texts[state] = "\n".join(golden.text(app).splitlines()[2:11])
    assert len(set(texts.values())) == len(texts)
    # Inversion: dark ground while hands are on or all is calm, light ground while they are off or the drill is stopped.
    assert max(grounds[state] for state in ("on", "analysing", "paused", "life")) < 64
    assert min(grounds[state] for state in ("off", "loud", "armed", "stopped")) > 160
    assert grounds["loud"] > grounds["off"] + 30
    for state, word in {
        "on": "hands on",
        "off": "the rescuer's time",
        "loud": "longer than 10 s",
        "analysing": "the unit is reading",
        "armed": "armed",
        "paused": "Paused",
        "stopped": "Stopped",
        "life": "signs of life",
        "card": "Shout for help",
    }.items():
        assert word in texts[state]


# ------------------------------------------------------------------------------------------------ text that is not ours

HOSTILE = "[red]a[/] [@click=app.bell]b[/] \x1b]0;owned\x07 \u202egnp\u202c \x9b31m \ud800 e\u0301 漢字"


async def test_hostile_text_is_shown_as_text_and_nothing_else() -> None:
    view = replace(
        VIEWS["loud"],
        title=HOSTILE,
        guidance=HOSTILE,
        approval=HOSTILE,
        learner=HOSTILE,
        off_what=HOSTILE,
        now=HOSTILE,
        cue=HOSTILE,
        voice=HOSTILE,
        next_label=HOSTILE,
        look=HOSTILE,
        last_key=HOSTILE,
        would_void=HOSTILE,
        notice=HOSTILE,
        injects=tuple(replace(inject, title=HOSTILE, play=HOSTILE) for inject in RUNNING.injects),
    )
    setup = FakeSetup(emergency_number=HOSTILE, address=HOSTILE, real_unit=HOSTILE)
    drill = FakeDrill(view, setup)
    app = FakeApp(drill, story=HOSTILE)
    async with app.run_test(size=(120, 40)) as pilot:
        for phase in ("running", "paused", "stopped", "card"):
            drill.now = replace(view, phase=phase)  # type: ignore[arg-type]
            app.drill_screen.paint(0)
            await pilot.pause()
            shown = golden.text(app)
            assert all(mark.isprintable() or mark == "\n" for mark in shown)
            assert "[red]a[/]" in shown
            assert all(strip.cell_length == 120 for strip in golden.strips(app))


async def test_the_projector_gets_the_clock_only_by_one_key() -> None:
    drill = FakeDrill(replace(RUNNING, cue="Heel of hand mid-chest.", next_label="call made"))
    app = FakeApp(drill)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "call made" in golden.text(app)
        await pilot.press("minus")
        await pilot.pause()
        assert "call made" not in golden.text(app) and "Heel of hand" not in golden.text(app)
        await pilot.press("minus")
        await pilot.pause()
        assert "call made" in golden.text(app)
