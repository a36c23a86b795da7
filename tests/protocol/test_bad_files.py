"""Whatever a file is, reading it ends in words: never in a traceback, never in a hang."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.protocol.reading import FileProblems, Problem, digest, read_pads, read_protocol, read_scenario, read_text


def only(source: Path | str) -> Problem:
    with pytest.raises(FileProblems) as caught:
        read_protocol(source)
    (problem,) = caught.value.problems
    return problem


def written(folder: Path, content: bytes) -> Path:
    path = folder / "a.toml"
    path.write_bytes(content)
    return path


def test_a_megabyte_is_refused(tmp_path: Path) -> None:
    assert "larger than 256 KB" in only(written(tmp_path, b"# padding\n" * 100_000)).what
    assert "larger than 256 KB" in only("x = 1\n" * 200_000).what


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 200 + "]" * 200,
        "a = " + "{ b = " * 200 + "1" + " }" * 200,
        "[" + ".".join(["a"] * 200) + "]\nb = 1",
        ".".join(["a"] * 200) + " = 1",
        "a = " + "\n".join(["["] * 5_000 + ["]"] * 5_000),
    ],
)
def test_two_hundred_levels_are_refused(text: str) -> None:
    assert "nested more than 24" in only(text).what


def test_the_depth_is_shown_where_it_goes_too_deep() -> None:
    problem = only("x = 1\na = " + "[" * 200 + "]" * 200)
    assert (problem.line, problem.column) == (2, 5 + 24)


def test_an_endless_line_is_refused() -> None:
    problem = only("x = 1\n" + ".".join(["a"] * 50_000) + " = 1")
    assert "a line of" in problem.what and problem.line == 2


@pytest.mark.parametrize(
    ("content", "what", "place"),
    [
        ("título = 1".encode("latin-1"), "byte 0xed is not UTF-8", (1, 2)),
        (b"a = 1\nb = '\xff'", "byte 0xff is not UTF-8", (2, 6)),
        ("a = 1".encode("utf-16"), "the file is UTF-16", (1, 1)),
        ("a = 1".encode("utf-8-sig"), "byte-order mark", (1, 1)),
        (b"\x00\x01\x02\x03", "not TOML", (1, 1)),
    ],
)
def test_a_wrong_encoding_says_where(tmp_path: Path, content: bytes, what: str, place: tuple[int, int]) -> None:
    problem = only(written(tmp_path, content))
    assert what in problem.what
    assert (problem.line, problem.column) == place


@pytest.mark.parametrize(
    ("text", "what", "place"),
    [
        ("[facts]\n[timers]\n  [facts]\n", "Cannot declare `facts` twice", (3, 3)),
        ("[a.'b\"c']\n[a.'b\"c']\n", 'Cannot declare `a.b"c` twice', (2, 1)),
        ("a = { b = 1 }\na.c = 2\nd = 3\n", "Cannot mutate immutable namespace `a`", (2, 1)),
        ("a = 1\na = 2\n", "Cannot overwrite", (2, 1)),
        ("a = 1\nb = \n", "Invalid value", (2, 5)),
        ("a = 1\nb = [1, 2", "Unclosed array", (2, 10)),
        ('a = "x\n', "Illegal character", (1, 7)),
        ("a = 2026-02-31\n", "Invalid date", (1, 5)),
    ],
)
def test_broken_toml_says_where(text: str, what: str, place: tuple[int, int]) -> None:
    problem = only(text)
    assert what in problem.what and problem.what.startswith("not TOML")
    assert (problem.line, problem.column) == place


def test_what_is_no_readable_file(tmp_path: Path) -> None:
    assert "no such file" in only(tmp_path / "none.toml").what
    assert "a folder" in only(tmp_path).what
    assert "cannot be read" in only(tmp_path / ("n" * 5_000)).what
    assert only(Path("a\0b.toml")).what
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert "no ordinary file" in only(pipe).what
    assert "no ordinary file" in only(Path("/dev/zero")).what
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    assert only(loop).what


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, b"a = 1")

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    assert only(path).what == "the file cannot be read: Permission denied"


def test_an_empty_file_lists_what_it_lacks() -> None:
    with pytest.raises(FileProblems) as caught:
        read_protocol("")
    missing = {problem.what for problem in caught.value.problems}
    assert missing >= {"`format` is missing", "`id` is missing", "`track` is missing"}
    assert all((problem.line, problem.column) == (1, 1) for problem in caught.value.problems)


def test_a_file_with_thousands_of_faults_is_cut_short() -> None:
    with pytest.raises(FileProblems) as caught:
        read_protocol("\n".join(f"key{number} = 1" for number in range(20_000)))
    assert len(caught.value.problems) == 501
    assert "the others are not listed" in caught.value.problems[-1].what


def test_problems_carry_no_control_characters() -> None:
    with pytest.raises(FileProblems) as caught:
        read_protocol('"\\u001b]0;x\\u0007" = 1\n"\\u202e" = 2\n', name="a\x1b[31mb.toml")
    assert not {"\x1b", "\x07", "\u202e"} & set(str(caught.value) + repr(caught.value.as_dicts()))


@given(st.text(max_size=200))
def test_no_text_does_worse_than_problems(text: str) -> None:
    for read in (read_protocol, read_scenario, read_pads):
        with pytest.raises(FileProblems) as caught:
            read(text)
        lines = text.split("\n")
        for problem in caught.value.problems:
            assert 1 <= problem.line <= len(lines)
            assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1


SAMPLE = """
title = "x"
[approval]
status = "draft"
[facts]
age = { kind = "number", from = 0, to = 110 }
weight = { kind = "number", from = 2.0, to = 200 }
[[rule]]
id = "a"
[[rule]]
id = "b"
"""


def test_the_canonical_digest_heeds_content_alone() -> None:
    first = digest(SAMPLE)
    other_order = '''# a comment
facts.weight = { from = 2, to = 200, kind = 'number' }
facts.age = { to = 110.0, kind = "number", from = 0 }
title = """x"""
rule = [{ id = "a" }, { id = "b" }]
'''
    assert digest(other_order).canonical == first.canonical
    assert digest(other_order).raw != first.raw
    assert digest(SAMPLE.replace('status = "draft"', 'status = "approved"\ndigest = "1"')).canonical == first.canonical
    assert digest(SAMPLE.replace('id = "b"', 'id = "c"')).canonical != first.canonical
    assert digest(SAMPLE.replace("110", "111")).canonical != first.canonical
    swapped = SAMPLE.replace('"a"', '"?"').replace('"b"', '"a"').replace('"?"', '"b"')
    assert digest(swapped).canonical != first.canonical
    assert digest("d = 2026-01-01").canonical != digest('d = "2026-01-01"').canonical
    with pytest.raises(FileProblems):
        digest("a = ")


def test_read_text_gives_the_text_as_it_stands(tmp_path: Path) -> None:
    assert read_text(written(tmp_path, b"a = 1\r\nb = '\xc3\xa9'")) == "a = 1\r\nb = 'é'"
