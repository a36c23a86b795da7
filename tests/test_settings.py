"""The settings file, the key map that comes of it, and what is remembered from last time."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from coach.keys import KeyChoice, KeyClash, key_name, merge
from coach.layouts import LAYOUTS, boards_where_neighbours, neighbours
from coach.observations import CONTROLS, OBSERVATIONS, default_keys
from coach.protocol.problems import FileProblems
from coach.remembered import NAME, Choices, keep_choices, read_choices
from coach.settings import Room, Settings, key_map, read_settings, settings_path

FULL = """
language = "es"
guidance = "AHA 2025"
sigma_ms = 31
theme = "kneeside-light"
data_folder = "~/drills"

[room]
emergency_number = "112"
address = "Hall 2, side door"
real_unit = "by the front desk"

[keys]
pin_fault = ["f", "page_down"]
concern = ""
"""


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "settings.toml"
    path.write_text(text, encoding="utf-8")
    return path


def complaints(tmp_path: Path, text: str) -> FileProblems:
    with pytest.raises(FileProblems) as caught:
        read_settings(written(tmp_path, text))
    return caught.value


def test_no_file_is_the_built_in_settings(tmp_path: Path) -> None:
    settings = read_settings(tmp_path / "settings.toml")
    assert settings == Settings(tmp_path / "settings.toml")
    assert not settings.found
    assert key_map(None, settings) == default_keys()


def test_a_whole_file(tmp_path: Path) -> None:
    settings = read_settings(written(tmp_path, FULL))
    assert (settings.language, settings.guidance, settings.sigma_ms) == ("es", "AHA 2025", 31)
    assert settings.room == Room("112", "Hall 2, side door", "by the front desk")
    assert settings.room.missing == ()
    keys = key_map(None, settings)
    assert keys["f"] == keys["page_down"] == "pin_fault"
    assert "concern" not in keys.values()


def test_where_the_file_is(tmp_path: Path) -> None:
    assert settings_path({"KNEESIDE_CONFIG": str(tmp_path / "mine.toml")}) == tmp_path / "mine.toml"
    assert settings_path({"KNEESIDE_CONFIG": str(tmp_path)}) == tmp_path / "settings.toml"
    assert settings_path({}).name == "settings.toml"


def test_every_problem_at_once_with_its_line_and_the_nearest_word(tmp_path: Path) -> None:
    error = complaints(
        tmp_path,
        'langage = "en"\nsigma_ms = "25"\n\n[room]\nadress = "x"\n\n[keys]\ncompresion = "f"\nbreath = "ctrl+b"\n',
    )
    assert [(problem.line, problem.nearest) for problem in error.problems] == [
        (1, "language"),
        (2, None),
        (5, "address"),
        (8, "compression"),
        (9, None),
    ]
    first = str(error).splitlines()[0]
    assert first == f'{tmp_path}/settings.toml:1:1: no setting is called "langage". Did you mean `language`?'
    assert "no Ctrl, Alt or Shift" in str(error)


@pytest.mark.parametrize(
    ("raw", "line", "word"),
    [
        (b'language = "en"\nlanguage = "es"\n', 2, "Cannot overwrite"),
        (b'language = "\xff"\n', 1, "UTF-8"),
        (b"x = " + b"[" * 3000 + b"]" * 3000, 1, ""),
        (b"# " + b"x" * 1_000_001, 1, "over 1 MB"),
        (b"room = 3\n", 1, "room must be a table"),
        (b"sigma_ms = 0\n", 1, "from 1 to 500"),
        (b"sigma_ms = true\n", 1, "whole number"),
        (b"[keys]\nown = 3\n", 2, "own must be a table"),
        (b"[keys]\nbreath = 3\n", 2, "not a key"),
    ],
)
def test_a_file_that_is_none_ends_in_words(tmp_path: Path, raw: bytes, line: int, word: str) -> None:
    path = tmp_path / "settings.toml"
    path.write_bytes(raw)
    with pytest.raises(FileProblems) as caught:
        read_settings(path)
    assert caught.value.problems[0].line == line
    assert word in str(caught.value)


def test_a_folder_in_place_of_the_file(tmp_path: Path) -> None:
    with pytest.raises(FileProblems, match="cannot be read"):
        read_settings(tmp_path)


def test_hostile_text_is_cleaned(tmp_path: Path) -> None:
    settings = read_settings(written(tmp_path, '[room]\naddress = "Hall \\u001b]0;x\\u0007\\u202e 2"\n'))
    assert settings.room.address == "Hall ]0;x 2"
    error = complaints(tmp_path, '"\\u001b[2J" = 1\n')
    assert "\x1b" not in str(error)


def test_a_clash_names_both_meanings_the_file_and_the_line(tmp_path: Path) -> None:
    settings = read_settings(written(tmp_path, '[keys]\n\nbreath = "f"\n'))
    with pytest.raises(KeyClash) as caught:
        key_map(None, settings)
    words = str(caught.value)
    assert "the key F" in words
    assert f"(breath, {tmp_path}/settings.toml:3)" in words
    assert "(pin_fault, built in)" in words


def test_swapping_two_keys_is_no_clash(tmp_path: Path) -> None:
    keys = key_map(None, read_settings(written(tmp_path, '[keys]\nbreath = "f"\npin_fault = "b"\n')))
    assert keys["f"] == "breath"
    assert keys["b"] == "pin_fault"


def test_settings_beat_the_protocol_which_beats_the_defaults() -> None:
    protocol = [KeyChoice("breath", "h", "p"), KeyChoice("handover", "b", "p"), KeyChoice("tourniquet", "f5", "p")]
    own = frozenset({"tourniquet"})
    keys = merge(protocol, [], own)
    assert (keys["h"], keys["b"], keys["f5"]) == ("breath", "handover", "tourniquet")
    keys = merge(protocol, [KeyChoice("breath", "f6", "s"), KeyChoice("tourniquet", "f7", "s")], own)
    assert (keys["f6"], keys["b"], keys["f7"]) == ("breath", "handover", "tourniquet")
    assert "h" not in keys
    assert "f5" not in keys
    assert "tourniquet" not in merge(protocol[:2], [KeyChoice("tourniquet", "f7", "s")]).values()


def test_a_drill_can_always_be_stopped_and_ended() -> None:
    with pytest.raises(KeyClash, match="key that ends it"):
        merge([], [KeyChoice("end", "", "s")])
    with pytest.raises(KeyClash, match="key that stops it"):
        merge([], [KeyChoice("stop", "", "s")])


@pytest.mark.parametrize(
    ("clear", "shock", "boards"),
    [
        ("c", "v", ("QWERTY", "QWERTZ", "AZERTY")),
        ("c", "space", ("QWERTY", "QWERTZ", "AZERTY")),
        ("backspace", "enter", ("QWERTY", "QWERTZ", "AZERTY")),
        ("a", "q", ("QWERTY", "QWERTZ", "AZERTY")),
        ("z", "a", ("QWERTY", "AZERTY")),
        ("y", "s", ("QWERTZ",)),
        ("c", "enter", ()),
        ("page_up", "page_down", ()),
    ],
)
def test_neighbours(clear: str, shock: str, boards: tuple[str, ...]) -> None:
    assert boards_where_neighbours(clear, shock) == boards
    assert boards_where_neighbours(shock, clear) == boards


def test_clear_beside_shock_is_refused_in_words(tmp_path: Path) -> None:
    settings = read_settings(written(tmp_path, '[keys]\nshock_pressed = "v"\nadvice_planned = "f5"\n'))
    with pytest.raises(KeyClash, match="neighbours on QWERTY, QWERTZ, AZERTY") as caught:
        key_map(None, settings)
    assert "C (clear called, built in)" in str(caught.value)


def test_neighbours_are_mutual_and_no_key_is_its_own() -> None:
    for layout in LAYOUTS:
        for key in default_keys():
            assert key not in neighbours(layout, key)
            for other in neighbours(layout, key):
                assert key in neighbours(layout, other)
        assert "space" in neighbours(layout, "b")


def test_one_slip_from_any_default_key_neither_ends_a_drill_nor_joins_clear_and_shock() -> None:
    keys = default_keys()
    for layout in LAYOUTS:
        around_clear = {keys.get(key) for key in neighbours(layout, "c")}
        assert "shock_pressed" not in around_clear
    assert [key for key, ident in keys.items() if ident == "end"] == ["z"]


@pytest.mark.parametrize(
    ("written_as", "name"),
    [
        (" ", "space"),
        ("Esc", "escape"),
        (".", "full_stop"),
        ("=", "equals_sign"),
        ("B", "b"),
        ("Page Down", "page_down"),
        ("page-up", "page_up"),
        ("F5", "f5"),
        ("minus", "minus"),
        ("-", "minus"),
        ("semicolon", "semicolon"),
        ("é", "é"),
        ("", ""),
        ("ctrl+b", None),
        ("shift+tab", None),
        ("bb", None),
        ("\x1b", None),
        ("f13", None),
    ],
)
def test_names_of_keys(written_as: str, name: str | None) -> None:
    assert key_name(written_as) == name


def test_names_of_keys_are_the_terminal_layers() -> None:
    from textual.keys import _character_to_key

    for character in "abc019,.-;'/=?+#<>[]":
        assert key_name(character) == _character_to_key(character)


@given(st.text(max_size=12))
@example("\u0130")
def test_no_text_breaks_the_reading_of_a_key(text: str) -> None:
    name = key_name(text)
    assert name is None or key_name(name) == name


def test_the_map_knows_every_id_once() -> None:
    keys = merge([], [])
    idents = list(keys.values())
    assert len(idents) == len(set(idents))
    assert set(idents) == {entry.id for entry in OBSERVATIONS.values() if entry.key} | set(CONTROLS)


def test_choices_come_back(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "folder"
    chosen = Choices("erc-2025/adult-one-rescuer", "ferry-deck", "07", "21", "lead", "test", "each", "laptop", "adult")
    assert keep_choices(folder, chosen) == ""
    assert read_choices(folder) == (chosen, "")
    assert [path.name for path in folder.iterdir()] == [NAME]


def test_choices_of_another_version_are_read_as_far_as_they_go(tmp_path: Path) -> None:
    (tmp_path / NAME).write_text(json.dumps({"learner": "07", "weather": "fair"}))
    assert read_choices(tmp_path) == (Choices(learner="07"), "")


@pytest.mark.parametrize("damage", [b"", b"{", b"[1]", b'{"mode": 3}', b"\xff\xfe", b"[" * 100_000])
def test_damaged_choices_are_set_aside_and_named(tmp_path: Path, damage: bytes) -> None:
    for number in (1, 2):
        (tmp_path / NAME).write_bytes(damage)
        choices, word = read_choices(tmp_path)
        assert choices == Choices()
        assert word.endswith(f"last-time.damaged-{number}.json")
        assert (tmp_path / f"last-time.damaged-{number}.json").read_bytes() == damage
        assert not (tmp_path / NAME).exists()


def test_a_folder_that_cannot_be_written_ends_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    assert "could not be kept" in keep_choices(tmp_path / "file" / "folder", Choices())
    assert "cannot be read" in read_choices(tmp_path / "file")[1]
