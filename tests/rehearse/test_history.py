"""The history's file: private, appended, whole again after damage, and items mapped by id when a protocol changes."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import pytest

from coach.rehearse.history import NAME, Unkept, history_path, read_history, vanished
from coach.rehearse.matter import load_matter, matter_of
from coach.rehearse.sitting import Sitting
from tests.rehearse.made import DAY, ERC, matter, play


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A history with one sitting in it."""
    path = history_path(tmp_path)
    play(Sitting(matter(), read_history(path), day=DAY))
    return path


def test_it_is_the_owners_alone(path: Path) -> None:
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) & 0o077 == 0
    path.chmod(0o644)
    read_history(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_what_was_written_is_read_again(path: Path) -> None:
    history = read_history(path)
    assert history.said is None and len(history.reviews) == 8 and history.drills == 1
    assert len(history.standings) == 8 and history.reviewed_on(DAY) == 8
    again = read_history(path)
    assert again.standings == history.standings and again.reviews == history.reviews
    assert "Kim" not in path.read_text(encoding="utf-8")


def test_reading_changes_nothing(path: Path) -> None:
    before = path.read_bytes()
    read_history(path)
    assert path.read_bytes() == before and os.listdir(path.parent) == [NAME]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: data[:-40],
        lambda data: data.replace(b'"rating":3', b'"rating":9', 1).replace(b'"rating":4', b'"rating":9', 1),
        lambda data: data.replace(b'"day"', b'"dya"', 1),
        lambda data: data + b"\xff\xfe\x00 not ours\n",
        lambda data: data + b'{"kind":"review","item":7}\n',
        lambda data: data + b"[" * 100_000 + b"\n",
        lambda data: data + b'{"kind":"tempo","day":"2026-01-05","rate":"x"}\n',
        lambda data: data.replace(b'"s":', b'"s":-', 1),
    ],
)
def test_a_damaged_file_is_set_aside_and_what_can_be_read_is_carried_over(path: Path, spoil) -> None:  # type: ignore[no-untyped-def]
    whole = read_history(path)
    spoiled = spoil(path.read_bytes())
    path.write_bytes(spoiled)
    history = read_history(path)
    aside = path.with_name("history.damaged-1.jsonl")
    assert aside.read_bytes() == spoiled, "kept byte for byte"
    assert aside.name in history.words("en") and f"{len(history.reviews)} answers were carried over" in history.words(
        "en"
    )
    assert len(history.reviews) >= len(whole.reviews) - 1
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    again = read_history(path)
    assert again.said is None and again.standings == history.standings
    sitting = Sitting(matter(), history, day=DAY)
    sitting.begin(0)
    assert sitting.told is not None and history.words("en") in sitting.told.lines


@pytest.mark.parametrize(
    ("head", "name", "word"),
    [
        (b'{"kind":"header","rehearsal":0}', "history.format-1.jsonl", "another format (0)"),
        (b'{"kind":"header","rehearsal":99}', "history.format-1.jsonl", "another format (99)"),
        (b"boxes 1 3 7 21 60", "history.damaged-1.jsonl", "damaged"),
        (b'{"rehearsal":true}', "history.damaged-1.jsonl", "damaged"),
    ],
)
def test_an_older_or_foreign_file_is_set_aside_and_named(path: Path, head: bytes, name: str, word: str) -> None:
    spoiled = head + b"\n" + path.read_bytes()
    path.write_bytes(spoiled)
    history = read_history(path)
    assert path.with_name(name).read_bytes() == spoiled
    assert name in history.words("en") and word in history.words("en") and not history.reviews
    path.write_bytes(b"again\n")
    assert "history.damaged-" in read_history(path).words("en") and path.with_name(name).read_bytes() == spoiled


def test_a_link_is_never_written_through(path: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.write_text("")
    path.unlink()
    path.symlink_to(other)
    sitting = Sitting(matter(), read_history(path), day=DAY)
    sitting.begin(0)
    assert "cannot be written" in sitting.trouble and other.read_text() == ""


def test_a_disk_that_refuses_is_said_and_the_sitting_goes_on(tmp_path: Path) -> None:
    blocked = tmp_path / "rehearsal"
    blocked.write_text("a file where the folder should be")
    with pytest.raises(Unkept):
        read_history(blocked / NAME)
    sitting = Sitting(matter(), read_history(tmp_path / "x" / NAME), day=DAY)
    (tmp_path / "x").write_text("")
    assert len(play(sitting)) == 8 and "cannot be written" in sitting.trouble


def test_a_protocol_that_changed_maps_by_id_and_names_what_vanished(path: Path) -> None:
    history = read_history(path)
    old = matter()
    gone = next(item for item in history.standings if ":inject:" in item or ":fact:" in item or ":step:unit" in item)
    items = {item: one for item, one in old.items.items() if item != gone}
    assert vanished(history, ERC, "erc-2025/pads", items) == (history.names[gone],)
    text = (Path(__file__).parents[2] / "protocols/erc-2025/adult-one-rescuer.toml").read_text(encoding="utf-8")
    protocol = old.protocol.model_copy(update={"inject": {
        name: one for name, one in old.protocol.inject.items() if not gone.endswith(f":{name}")
    }})  # fmt: skip
    changed = matter_of(protocol, text.replace('version = "2026.1"', 'version = "2026.2"'), old.stories, old.pads)
    sitting = Sitting(changed, history, day=DAY)
    sitting.begin(0)
    assert sitting.told is not None
    assert any("has changed since last time" in line for line in sitting.told.lines)
    if gone not in changed.items:
        assert any(history.names[gone] in line for line in sitting.told.lines)
    kept = set(history.standings) & set(changed.items)
    assert len(kept) >= 7 and history.standings[gone].reviews == 1


def test_an_unchanged_protocol_says_nothing(path: Path) -> None:
    sitting = Sitting(load_matter(ERC, "ERC 2025"), read_history(path), day=DAY)
    sitting.begin(0)
    assert sitting.told is None


def test_hostile_words_in_the_file_do_nothing(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    place = next(n for n, line in enumerate(lines) if '"kind":"review"' in line)
    line = json.loads(lines[place])
    line["item"], line["name"] = f"{ERC}:gone", "\x1b]0;owned\x07<script>alert(1)</script>"
    path.write_text("\n".join([*lines, json.dumps(line)]) + "\n", encoding="utf-8")
    names = vanished(read_history(path), ERC, "", matter().items)
    assert "\x1b" not in "".join(names) and any("script" in name for name in names)
