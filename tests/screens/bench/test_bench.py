"""The bench on a screen: findings at their lines, checks that follow the file, a walk, a story, and every refusal."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from textual.pilot import Pilot

from coach.check.whole import FileCheck, check_file
from coach.protocol.approved import keep
from coach.protocol.overlay import effective
from coach.protocol.signing import approve
from screens import bench
from screens.app import KneesideApp, Start
from screens.bench import BenchScreen
from screens.bench_pages import PickScreen, ReportPage
from screens.bench_walk import WalkScreen
from screens.home import HomeScreen
from tests.screens import golden
from tests.screens.frame.fake_desk import FakeDesk

SIZES = {"80x24": (80, 24), "120x40": (120, 40), "40x15": (40, 15)}

SMALL = """\
# A small protocol, made up for a test: a shock needs a clear call.
format = 1
id = "none/small"
version = "1"
guidance = "none"
title = "Small"

[sources.made-up]
title = "Made up for a test"
grade = "local"

[timers]
remind = { after = "10 s", source = "made-up" }

[track.unit]
start = "waiting"

[track.unit.step.waiting]
source = "made-up"
start = "remind"

[[track.unit.step.waiting.go]]
on = "shock_advised"
to = "advised"

[[track.unit.step.waiting.go]]
on = "timer:remind"
cue = "Is the unit on?"

[track.unit.step.advised]
armed = true
source = "made-up"

[[track.unit.step.advised.go]]
on = "clear_called"
mark = "clear_said"

[[track.unit.step.advised.go]]
on = "shock_pressed"
to = "waiting"
unmark = "clear_said"

[[rule]]
id = "clear-first"
never = { on = "shock_pressed" }
unless_since = { mark = "clear_said", after = { on = "shock_advised" } }
say = "A shock needs a clear call."
source = "made-up"
"""
"""Its rule is broken: advice, then a shock."""


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.delenv("VISUAL", raising=False)
    monkeypatch.delenv("EDITOR", raising=False)
    path = tmp_path / "none" / "small.toml"
    path.parent.mkdir()
    path.write_text(SMALL, encoding="utf-8")
    return path


def on_bench(path: Path, shipped: bool = False) -> KneesideApp:
    return KneesideApp(FakeDesk(), Start(page="bench", file=path, shipped=shipped))


async def settled(app: KneesideApp, pilot: Pilot[object]) -> BenchScreen:
    """Wait until the check is done."""
    await pilot.pause()
    await app.workers.wait_for_complete()
    await pilot.pause()
    assert isinstance(app.screen, BenchScreen)
    return app.screen


def line_of(text: str, words: str) -> int:
    return text[: text.index(words)].count("\n") + 1


@pytest.mark.parametrize("size", SIZES)
async def test_a_broken_rule_stands_at_its_line_with_its_story(size: str, file: Path) -> None:
    app = on_bench(file)
    async with app.run_test(size=SIZES[size]) as pilot:
        page = await settled(app, pilot)
        golden.check(app, f"bench/goldens/bench-{size}")
        rule = line_of(SMALL, "[[rule]]")
        assert [one.where.line for one in page.findings if one.code == "rule-broken"] == [rule]
        for _ in page.findings:
            if page.line == rule:
                break
            await pilot.press("n")
        golden.check(app, f"bench/goldens/finding-{size}")
        await pilot.press("enter")
        await app.workers.wait_for_complete()
        await pilot.pause()
        golden.check(app, f"bench/goldens/explained-{size}")
        await pilot.press("escape", "question_mark")
        golden.check(app, f"bench/goldens/help-{size}")


async def test_findings_follow_each_other_round_and_round(file: Path) -> None:
    app = on_bench(file)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await settled(app, pilot)
        lines = sorted({one.where.line for one in page.findings})
        met = []
        for _ in range(len(lines) + 1):
            await pilot.press("n")
            met.append(page.line)
        assert met == [*lines, lines[0]]
        await pilot.press("b")
        assert page.line == lines[-1]


async def test_a_save_by_another_program_is_checked_again(file: Path) -> None:
    app = on_bench(file)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await settled(app, pilot)
        mended = SMALL.replace('on = "shock_pressed"\nto', 'on = "shock_pressed"\nwhen = "clear_said"\nto')
        file.write_text(mended, encoding="utf-8")
        page.look()
        await settled(app, pilot)
        assert page.text == mended
        assert not [one for one in page.findings if one.code == "rule-broken"]


async def test_a_newer_save_makes_the_older_check_give_up(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    held, go_on = threading.Event(), threading.Event()
    ended: list[str] = []

    def slow(text: str, name: str, *, progress: Callable[[str, int], None], **more: object) -> FileCheck:
        if "older" in text:
            held.set()
            go_on.wait(30)
            progress("rules", 1)
            ended.append("older")
        return check_file(text, name)

    monkeypatch.setattr(bench, "check_file", slow)
    file.write_text(SMALL + "# older\n", encoding="utf-8")
    app = on_bench(file)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        held.wait(30)
        page = app.screen
        assert isinstance(page, BenchScreen)
        await pilot.press("down", "down")
        assert page.line == 3, "keys work while a check runs"
        file.write_text(SMALL + "# newer!\n", encoding="utf-8")
        page.look()
        go_on.set()
        await settled(app, pilot)
        assert ended == []
        assert page.found is not None and page.progress == ""
        assert "newer" in page.text


async def test_a_file_that_goes_or_breaks_loses_nothing_on_screen(file: Path) -> None:
    app = on_bench(file)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await settled(app, pilot)
        file.unlink()
        page.look()
        await pilot.pause()
        assert "Cannot be read" in golden.text(app) and "format = 1" in golden.text(app)
        file.write_bytes(b"\xff\xfe not text")
        page.look()
        await pilot.pause()
        assert "Cannot be read" in golden.text(app) and "format = 1" in golden.text(app)
        file.write_text("format = \n", encoding="utf-8")
        page.look()
        await settled(app, pilot)
        assert "does not read" in golden.text(app)
        assert [one.where.line for one in page.findings] == [1]
        file.write_text(SMALL, encoding="utf-8")
        page.look()
        await settled(app, pilot)
        assert "1 BROKEN" in golden.text(app) and "Cannot" not in golden.text(app)


async def test_without_an_editor_or_with_a_bad_one_it_says_so(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = on_bench(file)
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(app, pilot)
        await pilot.press("e")
        assert "No editor is set" in golden.text(app)
        monkeypatch.setenv("EDITOR", "ed 'it")
        await pilot.press("e")
        assert "quotes do not fit" in golden.text(app) and "No editor is set" not in golden.text(app)
        monkeypatch.setenv("EDITOR", "some-editor")
        await pilot.press("e")
        assert "cannot be handed over" in golden.text(app), "there is no terminal under this test"
        assert file.read_text(encoding="utf-8") == SMALL


@pytest.mark.parametrize("editor", ["/nonexistent/ed", "no-such-editor", "{file}"])
async def test_an_editor_that_does_not_start_is_told_and_the_screen_comes_back(
    editor: str, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    suspended: list[str] = []

    @contextmanager
    def handed_over() -> Iterator[None]:
        """As a terminal does it: what is raised in there leaves the screen suspended."""
        suspended.append("away")
        yield
        suspended.append("back")

    monkeypatch.setenv("EDITOR", editor.format(file=file))
    app = on_bench(file)
    monkeypatch.setattr(app, "suspend", handed_over)
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(app, pilot)
        await pilot.press("e")
        assert "does not start" in golden.text(app) and suspended == ["away", "back"]


async def test_a_shipped_file_is_not_edited_but_laid_over(file: Path, tmp_path: Path) -> None:
    app = on_bench(file, shipped=True)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await settled(app, pilot)
        assert "e" not in {cap.key for cap in page.caps()}
        await pilot.press("o")
        local = await settled(app, pilot)
        assert local.path == tmp_path / "data" / "protocols" / "local" / "small.toml"
        assert 'id = "none/small"' in local.text and "digest" in local.text
        assert not local.shipped
        assert file.read_text(encoding="utf-8") == SMALL


async def test_hostile_text_is_shown_as_text(file: Path) -> None:
    wild = 'title = "[bold red]Kim[/] \\u001b[2J [@click=app.quit]x[/]"'
    file.write_text(SMALL.replace('title = "Small"', wild) + "# \x1b[31m[/nope]\n", encoding="utf-8")
    app = on_bench(file)
    async with app.run_test(size=(120, 40)) as pilot:
        page = await settled(app, pilot)
        await pilot.press("pagedown", "end")
        assert "[/nope]" in golden.text(app)
        await pilot.press("home")
        assert "[bold red]Kim[/]" in golden.text(app)
        assert page.app.return_code is None


@pytest.mark.parametrize("size", SIZES)
async def test_walk(size: str, file: Path) -> None:
    app = on_bench(file)
    async with app.run_test(size=SIZES[size]) as pilot:
        await settled(app, pilot)
        await pilot.press("w")
        page = app.screen
        assert isinstance(page, WalkScreen)
        assert page.walk.steps() == [("unit", "waiting")]
        await pilot.press("tab")
        assert page.walk.state.e == 10_000
        assert "Is the unit on?" in golden.text(app)
        await pilot.press("enter")
        assert page.walk.steps() == [("unit", "advised")]
        golden.check(app, f"bench/goldens/walk-{size}")
        await pilot.press("c")
        assert page.walk.marks() == ["clear_said"]
        await pilot.press("3", "2", "1")
        assert page.walk.state.e == 21_100
        for _ in range(6):
            await pilot.press("backspace")
        assert page.walk.state.e == 0 and page.walk.deeds == 0
        assert page.walk.steps() == [("unit", "waiting")]
        await pilot.press("backspace")
        assert "nothing to undo" in golden.text(app)


async def test_a_story_is_followed_to_where_the_rule_breaks(file: Path) -> None:
    app = on_bench(file)
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(app, pilot)
        await pilot.press("s")
        page = app.screen
        assert isinstance(page, WalkScreen) and page.walk.story is not None
        deeds = []
        while page.walk.follow():
            deeds.append(page.walk.what)
        assert deeds[:2] == ["shock advised", "shock pressed"]
        await pilot.press("space")
        assert "The story is over" in golden.text(app)


@pytest.mark.parametrize("size", SIZES)
async def test_a_story_names_its_rule_and_how_far_it_is_and_keeps_what_came_last(size: str, file: Path) -> None:
    tracks = "".join(
        f'[track.t{number}]\nstart = "s{number}"\n[track.t{number}.step.s{number}]\nsource = "made-up"\n'
        f'go = [{{ on = "shock_pressed", to = "u{number}" }}]\n[track.t{number}.step.u{number}]\nsource = "made-up"\n'
        for number in range(14)
    )
    file.write_text(SMALL + tracks, encoding="utf-8")
    app = on_bench(file)
    async with app.run_test(size=SIZES[size]) as pilot:
        await settled(app, pilot)
        await pilot.press("s")
        assert "clear-first: 0 of 2" in golden.text(app) and "Space" in golden.text(app)
        await pilot.press("space", "space")
        text = golden.text(app)
        assert "clear-first: 2 of 2" in text and "t13: s13 → u13" in text and "before these" in text
        assert "shock advised" in text, "what can be pressed stays in sight"


@pytest.mark.parametrize(("key", "says"), [("v", "by learners"), ("g", "no golden key scripts"), ("c", "none/small")])
async def test_reports_are_worked_out_and_esc_leads_back(key: str, says: str, file: Path) -> None:
    app = on_bench(file)
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(app, pilot)
        await pilot.press(key)
        page = app.screen
        assert isinstance(page, ReportPage)
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert page.done and says in page.words
        await pilot.press("escape")
        assert isinstance(app.screen, BenchScreen)


async def test_a_file_changed_since_it_was_signed_says_so_and_is_compared_with_what_was_signed(file: Path) -> None:
    today = date.today()
    days = {"effective_from": today.isoformat(), "review_due": f"{today.year + 1}-12", "today": today}
    drafted = SMALL + '\n[approval]\nauthor = "desk"\n'
    signed = approve(drafted, "t", None, role="medical director", reason="First.", **days)  # type: ignore[arg-type]
    keep(effective(signed, "t", None))
    file.write_text(signed, encoding="utf-8")
    app = on_bench(file)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await settled(app, pilot)
        assert golden.text(app).splitlines()[0].endswith("in force")
        file.write_text(signed.replace('"10 s"', '"11 s"'), encoding="utf-8")
        page.look()
        await settled(app, pilot)
        assert golden.text(app).splitlines()[0].endswith("CHANGED SINCE APPROVED")
        assert "Saved, and checked again. Before: 0 of 1 rules hold, 1 BROKEN" in " ".join(golden.text(app).split())
        await pilot.press("c")
        await app.workers.wait_for_complete()
        await pilot.pause()
        report = app.screen
        assert isinstance(report, ReportPage)
        assert report.words.startswith("Compared with the version in force, none/small 1")
        assert "timer remind: after 11 s instead of 10 s" in report.words


@pytest.mark.parametrize("word", ["in force, 1 rule relaxed", "effective before approval, 2 rules relaxed"])
async def test_how_it_stands_keeps_its_place_in_the_smallest_window(word: str, file: Path) -> None:
    long = file.with_name("small-with-a-name-that-fills-the-head.toml")
    long.write_text(SMALL.replace("none/small", f"none/{long.stem}"), encoding="utf-8")
    app = on_bench(long)
    async with app.run_test(size=(40, 15)) as pilot:
        page = await settled(app, pilot)
        assert page.found is not None
        page.found = replace(page.found, approval=word)
        page.paint()
        await pilot.pause()
        text = " ".join(golden.text(app).split())
        assert (word if word.startswith("in force") else word.upper()) in text and "small-w" in text


async def test_from_home_to_a_protocol_and_back(file: Path) -> None:
    app = KneesideApp(FakeDesk())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b")
        page = app.screen
        assert isinstance(page, PickScreen)
        place = [entry.id for entry in page.entries].index("erc-2025/adult-one-rescuer")
        await pilot.press(*["down"] * place, "enter")
        assert isinstance(app.screen, BenchScreen) and app.screen.shipped
        await pilot.press("escape", "escape")
        assert isinstance(app.screen, HomeScreen)


async def test_without_colour_every_state_is_told_by_word_and_shape(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def pages() -> list[str]:
        app = on_bench(file)
        shown = []
        async with app.run_test(size=(80, 24)) as pilot:
            page = await settled(app, pilot)
            while not any(one.code == "rule-broken" for one in page.here()):
                await pilot.press("n")
            shown.append(golden.text(app))
            for strip in golden.strips(app):
                for segment in strip:
                    for colour in (segment.style.color, segment.style.bgcolor) if segment.style else ():
                        grey = None if colour is None else colour.get_truecolor()
                        greys.append(grey is None or grey.red == grey.green == grey.blue)
            await pilot.press("s", "space")
            shown.append(golden.text(app))
        return shown

    greys: list[bool] = []
    coloured = await pages()
    assert not all(greys)
    greys.clear()
    monkeypatch.setenv("NO_COLOR", "1")
    assert await pages() == coloured and all(greys)
    finding, story = coloured
    assert " error " in finding and "▸  43 ! [[rule]]" in finding
    assert "shock advised" in story and "not expected" in story


async def test_facts_are_turned_and_the_walk_begins_anew(file: Path) -> None:
    app = on_bench(file)
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(app, pilot)
        await pilot.press("w", "3", "f")
        page = app.screen
        assert isinstance(page, WalkScreen)
        assert dict(page.walk.facts())["unit"] == "floor"
        place = [name for name, _ in page.walk.facts()].index("unit")
        await pilot.press(*["down"] * place, "enter")
        assert dict(page.walk.facts())["unit"] == "laptop"
        assert page.walk.deeds == 0
        golden.check(app, "bench/goldens/facts-80x24")
        assert "shock_advised" not in {one.event for one in page.walk.pressable()}, "this unit speaks by itself"
        await pilot.press("enter", "f")
        assert "shock_advised" in {one.event for one in page.walk.pressable()}
