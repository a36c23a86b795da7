"""Parts: differences that several local files share, laid on in the order in which a file names them."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.protocol.library import list_parts, list_protocols
from coach.protocol.overlay import effective, read_part
from coach.protocol.problems import FileProblems
from coach.protocol.reading import digest, read_protocol
from coach.protocol.tree import plain
from tests.pins import local_files
from tests.protocol.test_overlay import BASE, HEAD, by_key, place

HELPER = """format = 1
id = "parts/helper"
version = "1"
title = { en = "Somebody helps" }

[change.timers.remind]
after = "20 s"

[add.inject.helper]
title = { en = "Helper" }
emit = "unit_arrived"

[[remove]]
inject = "vomit"
reason = "the helper sees to it"
"""
SLOW = """format = 1
id = "parts/slow"
version = "1"

[change.timers.remind]
after = "30 s"
"""


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    place(tmp_path, "made-up/base", BASE)
    place(tmp_path, "parts/helper", HELPER)
    place(tmp_path, "parts/slow", SLOW)
    return tmp_path


def taking(*parts: str, head: str = HEAD, body: str = "") -> str:
    """A local file that takes these parts, each as its text."""
    told = ""
    for text in parts:
        ident = text.split('id = "')[1].split('"')[0]
        told += f'[[with]]\nid = "{ident}"\nversion = "1"\ndigest = "{digest(text).canonical}"\n'
    return head + told + body


def refused(text: str, shelf: Path) -> str:
    """The one problem of a local file."""
    with pytest.raises(FileProblems) as caught:
        effective(text, "local.toml", shelf)
    (problem,) = caught.value.problems
    assert problem.file == "local.toml"
    return str(problem)


def test_parts_are_laid_on_in_their_order_and_the_file_after_them(shelf: Path) -> None:
    one = effective(taking(HELPER, SLOW), "local.toml", shelf)
    assert one.protocol.timers["remind"].after == 30_000
    other = effective(taking(SLOW, HELPER), "local.toml", shelf)
    assert other.protocol.timers["remind"].after == 20_000
    own = effective(taking(HELPER, SLOW, body='[change.timers.remind]\nafter = "9 s"\n'), "local.toml", shelf)
    assert own.protocol.timers["remind"].after == 9_000
    assert set(own.protocol.inject) == {"helper"}


def test_what_a_file_was_made_from_names_its_parts_after_its_base(shelf: Path) -> None:
    found = effective(taking(HELPER, SLOW), "local.toml", shelf)
    assert [pin.id for pin in found.protocol.made_from] == ["made-up/base", "parts/helper", "parts/slow"]
    assert "parts/helper: removed the inject vomit: the helper sees to it" in found.text
    before = found.text[: found.text.index('after = "30 s"')]
    assert "parts/slow: changed, was" in before.splitlines()[-2]
    assert read_protocol(found.text) == found.protocol


def test_a_part_serves_a_base_that_is_itself_laid_over_another(shelf: Path) -> None:
    below = taking(SLOW)
    place(shelf, "quay/local", below)
    pin = digest(effective(below, "t", shelf).text).canonical
    extends = f'extends = {{ id = "quay/local", version = "7", digest = "{pin}" }}'
    head = f'format = 1\nid = "quay/more"\nversion = "1"\n{extends}\n'
    found = effective(taking(HELPER, head=head), "more.toml", shelf)
    assert [one.id for one in found.protocol.made_from] == ["quay/local", "parts/helper", "made-up/base", "parts/slow"]
    assert found.digest == digest(found.text).canonical


def test_a_part_that_does_not_fit_is_told_where_it_is_named_and_where_it_says_so(shelf: Path) -> None:
    part = SLOW.replace("timers.remind", "timers.remaind")
    path = place(shelf, "parts/slow", part)
    told = refused(taking(HELPER, part), shelf)
    assert told.startswith("local.toml:13:6: the part does not fit here")
    assert f"{path}:5:16" in told and "the base has no `timers.remaind`" in told and "remind" in told


def test_a_fault_of_the_whole_that_a_part_brings_stands_where_the_part_is_named(shelf: Path) -> None:
    part = SLOW + '\n[change.track.rescuer.step.push]\nstart = "remaind"\n'
    place(shelf, "parts/slow", part)
    told = refused(taking(HELPER, part), shelf)
    assert told.startswith("local.toml:12:") and "remaind" in told and "in parts/slow" in told


def test_what_a_part_took_away_and_something_still_needs_is_told_where_the_part_is_named(shelf: Path) -> None:
    part = SLOW + '\n[[remove]]\ntimer = "remind"\nreason = "none"\n'
    place(shelf, "parts/slow", part)
    with pytest.raises(FileProblems) as caught:
        effective(taking(part), "local.toml", shelf)
    assert {problem.line for problem in caught.value.problems} == {8}


def test_a_part_that_is_not_there_names_the_nearest(shelf: Path) -> None:
    text = taking(HELPER).replace('"parts/helper"', '"parts/helpr"')
    told = refused(text, shelf)
    assert "no part is called parts/helpr" in told and "parts/helper" in told


def test_a_part_that_changed_is_not_taken_silently(shelf: Path) -> None:
    text = taking(HELPER)
    place(shelf, "parts/helper", HELPER.replace("20 s", "21 s"))
    told = refused(text, shelf)
    assert "the part bears version 1 still, but its content is not" in told
    assert digest(HELPER.replace("20 s", "21 s")).canonical in told
    newer = HELPER.replace('version = "1"', 'version = "2"')
    place(shelf, "parts/helper", newer)
    assert "the part is version 2 now, this file was written over 1" in refused(text, shelf)


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ('guidance = "Made up"', "`guidance` belongs to the files that take this part"),
        ('extends = { id = "made-up/base", version = "1" }', "`extends` belongs to the files that take this part"),
        ('chnage = { role = "x" }', "unknown key `chnage`"),
        ('id = "helper"', "the id of a part begins with parts/"),
    ],
)
def test_a_part_has_the_form_of_one(line: str, what: str) -> None:
    lines = [each for each in SLOW.splitlines() if not (line.startswith("id") and each.startswith("id"))]
    with pytest.raises(FileProblems) as caught:
        read_part("\n".join([*lines[:1], line, *lines[1:]]), "part.toml")
    assert any(what in str(problem) and problem.line == 2 for problem in caught.value.problems)


def test_a_part_is_no_protocol_to_choose(shelf: Path) -> None:
    assert {entry.id for entry in list_parts(shelf)} >= {"parts/helper", "parts/slow"}
    assert not [entry for entry in list_protocols(shelf) if entry.id.startswith("parts/")]
    with pytest.raises(FileProblems, match="needs a base"):
        read_protocol(shelf / "parts" / "slow.toml")


def test_every_shipped_part_has_the_form_and_is_taken_by_some_file() -> None:
    shipped = [entry for entry in list_parts() if entry.where == "shipped"]
    taken = {
        pin.id for entry in list_protocols() if entry.where == "shipped" for pin in entry.in_force().protocol.made_from
    }
    for entry in shipped:
        assert read_part(entry.path.read_text(encoding="utf-8"), str(entry.path)).id == entry.id
    assert {entry.id for entry in shipped} <= taken


def test_the_same_parts_in_the_same_order_are_the_same_protocol(shelf: Path) -> None:
    first, second = (effective(taking(HELPER, SLOW), "local.toml", shelf) for _ in range(2))
    assert by_key(plain(first.root)) == by_key(plain(second.root)) and first.digest == second.digest


def test_every_shipped_pin_is_in_force() -> None:
    for path in local_files():
        try:
            read_protocol(path)
        except FileProblems as error:
            raise AssertionError("run python -m tests.pins, and look at what it changed") from error


def test_a_base_that_is_kept_is_read_anew_when_anything_under_it_changes(shelf: Path) -> None:
    """Read twice, the second time as it was kept; then its own file, a part under it, and a nearer file of its id."""
    middle = taking(HELPER).replace("quay/local", "quay/middle")
    place(shelf, "quay/middle", middle)
    pinned = effective(middle, "middle", shelf).digest
    local = (
        f'format = 1\nid = "quay/top"\nversion = "1"\ntitle = {{ en = "Top" }}\n'
        f'[extends]\nid = "quay/middle"\nversion = "7"\ndigest = "{pinned}"\n'
    )
    first = effective(local, "top", shelf)
    again = effective(local, "top", shelf)
    assert first.text == again.text and first.protocol == again.protocol
    assert plain(first.root) == plain(again.root)
    for ident, was, now in (
        ("quay/middle", middle, middle + '[change.timers.remind]\nevery = "6 s"\n'),
        ("parts/helper", HELPER, HELPER.replace("20 s", "21 s")),
        ("made-up/base", BASE, BASE.replace("Look.", "Look round.")),
    ):
        place(shelf, ident, now)
        with pytest.raises(FileProblems):
            effective(local, "top", shelf)
        place(shelf, ident, was)
        assert effective(local, "top", shelf).text == first.text
