"""Reading: whole logs come back, and whatever was done to one is found and named at its line."""

from __future__ import annotations

import json
import os
import socket
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.log import reading
from coach.log.chain import GENESIS, encode, link
from coach.log.lines import KINDS, LogProblem
from coach.log.reading import Record, read_log, verify
from tests.log.made import DRILL, HEADER, content, drill_lines, end, header, key, save, sealed
from tests.log.test_chain import tables

SEALED = sealed()
each_time_anew = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


def refused(path: Path) -> LogProblem:
    """What reading says of a bad log; verifying must say the same, and neither may touch the file."""
    there = path.is_file()
    before = path.read_bytes() if there and path.stat().st_size < 1 << 20 else b""
    with pytest.raises(LogProblem) as caught:
        read_log(path)
    verdict = verify(path)
    assert not verdict.ok
    assert verdict.line == caught.value.line
    assert caught.value.what in verdict.what
    assert str(caught.value).isprintable()
    if before:
        assert path.read_bytes() == before
    return caught.value


def raw_lines(bodies: list[str]) -> bytes:
    """Lines with a right chain, whatever their bytes: what a forger with this program's source could write."""
    h, out = GENESIS, b""
    for body in bodies:
        h = link(h, body.encode())
        out += body.encode()[:-1] + f',"h":"{h}"}}\n'.encode()
    return out


def test_a_whole_log_comes_back(tmp_path: Path) -> None:
    lines = [*drill_lines(), end(90_000)]
    record = read_log(save(tmp_path / "a.jsonl", content(lines)))
    assert record.head == HEADER
    assert [{k: v for k, v in line.items() if k not in ("seq", "h")} for line in record.lines] == lines[1:]
    assert [line["seq"] for line in record.lines] == list(range(1, len(lines)))
    assert (record.sealed, record.torn, record.problems) == (True, b"", ())
    assert (record.last_t, record.last_e, record.size) == (90_000, 90_000, len(content(lines)))
    verdict = verify(record.path)
    assert (verdict.ok, verdict.line, verdict.sealed, verdict.torn) == (True, len(lines), True, 0)


@given(st.data())
@each_time_anew
def test_one_changed_byte_is_found_at_its_line(tmp_path: Path, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(SEALED) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda b: b != SEALED[at]))
    path = save(tmp_path / "a.jsonl", SEALED[:at] + bytes([byte]) + SEALED[at + 1 :])
    number = SEALED[:at].count(b"\n") + 1
    verdict = verify(path)
    if at == len(SEALED) - 1:
        # Without its newline the last line is a torn one: the drill counts as interrupted.
        assert verdict.ok and verdict.torn and not verdict.sealed
        assert f"line {number} is torn" in verdict.what
    else:
        assert (verdict.ok, verdict.line) == (False, number)


@given(st.data())
@each_time_anew
def test_a_line_taken_out_put_twice_or_moved_is_found(tmp_path: Path, data: st.DataObject) -> None:
    lines = SEALED.splitlines(keepends=True)
    at = data.draw(st.integers(0, len(lines) - 2))
    how = data.draw(st.sampled_from(["out", "twice", "moved"]))
    changed = {
        "out": lines[:at] + lines[at + 1 :],
        "twice": lines[: at + 1] + lines[at:],
        "moved": [*lines[:at], lines[at + 1], lines[at], *lines[at + 2 :]],
    }[how]
    verdict = verify(save(tmp_path / "a.jsonl", b"".join(changed)))
    assert (verdict.ok, verdict.line) == (False, at + 2 if how == "twice" else at + 1)


def test_a_missing_line_a_changed_one_and_a_changed_hash_are_told_apart(tmp_path: Path) -> None:
    lines = SEALED.splitlines(keepends=True)
    missing = refused(save(tmp_path / "a.jsonl", b"".join(lines[:4] + lines[6:])))
    assert (missing.line, missing.seq, missing.what) == (5, 4, "seq jumps: 6 stands where 4 should")
    assert str(missing).startswith(
        f"{tmp_path / 'a.jsonl'}: line 5 (seq 4): seq jumps: 6 stands where 4 should. To do:"
    )
    for was, now in ((b'"lag":0.7', b'"lag":0.8'), (b'"h":"', b'"h":"0')):
        changed = [*lines[:4], lines[4].replace(was, now), *lines[5:]]
        found = refused(save(tmp_path / "b.jsonl", b"".join(changed)))
        assert found.line == 5
        assert ("chain breaks here" in found.what) == (was != b'"h":"')


@given(st.lists(tables, max_size=4))
@each_time_anew
def test_members_of_any_content_come_back(tmp_path: Path, more: list[dict[str, Any]]) -> None:
    extra = [{**key(9000), "more": table} for table in more]
    record = read_log(save(tmp_path / "a.jsonl", content([*drill_lines(2), *extra, end(9000)])))
    assert [line["more"] for line in record.lines[3:-1]] == more


@given(st.integers(0, len(SEALED)))
@each_time_anew
def test_cut_anywhere_the_whole_lines_are_read_and_the_rest_is_torn(tmp_path: Path, size: int) -> None:
    path = save(tmp_path / "a.jsonl", SEALED[:size])
    whole = SEALED[:size].count(b"\n")
    if not whole:
        assert refused(path).line == 1
        return
    record = read_log(path)
    assert len(record.lines) == whole - 1
    assert SEALED[: record.size] + record.torn == SEALED[:size]
    assert path.read_bytes() == SEALED[:size]
    assert record.sealed == (size == len(SEALED))
    assert bool(record.torn) == any("torn" in problem for problem in record.problems)


def test_words_for_a_torn_and_interrupted_log(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jsonl", content(drill_lines(2)) + b'{"seq":4,"t"')
    assert read_log(path).problems == (
        "line 5 is torn and was cut off (12 bytes)",
        "the drill was interrupted: there is no end",
    )


HEAD_LINE = content([header()])


@pytest.mark.parametrize(
    ("data", "line", "what"),
    [
        (b"", 1, "the file is empty"),
        (HEAD_LINE[:-40], 1, "torn before its end"),
        (b"\n", 1, "not JSON: not a log of kneeside"),
        (b"\x00" * 100 + b"\n", 1, "not JSON: not a log of kneeside"),
        (b"hello\nworld\n", 1, "not JSON: not a log of kneeside"),
        (b"[1,2]\n", 1, "not a JSON object: not a log"),
        (b'{"kind":"other"}\n', 1, "not a header: not a log"),
        (b"\xff\xfe{\x00\n", 1, "byte 1 is not UTF-8: not a log"),
        (b"\xef\xbb\xbf" + HEAD_LINE, 1, "not JSON"),
        (HEAD_LINE + b"\n", 2, "it is not JSON"),
        (HEAD_LINE + b'{"seq":1,"t":0,"e":0,"kind":"go"}\n', 2, "does not end in the member 'h'"),
        (HEAD_LINE + b"12\n", 2, "not a JSON object"),
        (HEAD_LINE + b"[" * 100_000 + b"\n", 2, "not JSON"),
        (HEAD_LINE + b"9" * 10_000 + b"\n", 2, "not JSON"),
        (HEAD_LINE + b"\xc3\x28\n", 2, "byte 1 is not UTF-8"),
        (HEAD_LINE.replace(b"\n", b"\r\n"), 1, "does not end in the member 'h'"),
        (HEAD_LINE + b'{"seq":true}\n', 2, "'seq' is missing"),
        (content([header(format=2)]), 1, "format 2, newer than 1"),
        (content([header(format=0)]), 1, "no log format 0"),
        (content([header(format="1")]), 1, "not a header"),
        (content([header(mode="dream")]), 1, "'mode' must be practise or teach or test, not 'dream'"),
        (content([header(drill=7)]), 1, "'drill' must be text, not 7"),
        (content([header(protocol={"id": "x"})]), 1, "'protocol.version' is missing"),
        (content([header(protocol=None)]), 1, "'protocol' must be a table, not None"),
        (content([header(keys={"u": 1})]), 1, "'keys' must hold text only"),
        (content([header(engine=True)]), 1, "'engine' must be a whole number, not True"),
    ],
)
def test_what_is_no_log_is_said_with_its_line(tmp_path: Path, data: bytes, line: int, what: str) -> None:
    problem = refused(save(tmp_path / "a.jsonl", data))
    assert problem.line == line
    assert what in problem.what
    assert problem.todo


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ({"t": 0, "e": 0}, "'kind' is missing"),
        ({"t": 0, "e": 0, "kind": "dance\u202e\x1b[2J"}, "unknown kind 'dance\\u202e\\x1b[2J'"),
        ({"t": 0, "e": 0, "kind": ["key"]}, "'kind' is missing"),
        ({"e": 0, "kind": "go"}, "'t' must be whole milliseconds since go, not None"),
        ({"t": 1.5, "e": 0, "kind": "go"}, "not 1.5"),
        ({"t": 0, "e": -1, "kind": "go"}, "'e' must be whole milliseconds since go, not -1"),
        ({"t": 0, "e": 0, "kind": "go"}, "a second go"),
        ({"t": 0, "e": 0, "kind": "before", "key": "b", "meant": None, "via": "key", "outcome": "taken"}, "before go"),
        (header(t=0, e=0), "a second header"),
        (key(5399), "time goes back: 5399 ms after 5400 ms"),
        (key(6000, e=6001), "e (6001 ms, without pauses) is greater than t (6000 ms)"),
        (key(6000, outcome="maybe"), "'outcome' cannot be 'maybe'"),
        (key(6000, kind="void"), "'voids' is missing"),
        (key(6000, kind="void", voids=11), "'voids' names line 11, which does not come before"),
        (key(6000, kind="nudge", nudges=3, to_e=-1), "'to_e' cannot be -1"),
        (key(6000, kind="looked", target="release", concern="no"), "'concern' cannot be 'no'"),
        ({"t": 6000, "e": 6000, "kind": "key"}, "'key' is missing"),
        ({"t": 6000, "e": 6000, "kind": "cue", "because": 3}, "'name' is missing"),
        ({"t": 6000, "e": 6000, "kind": "cue", "because": 99, "name": "push"}, "'because' names line 99"),
        ({"t": 6000, "e": 6000, "kind": "superseded", "lines": [1, "2"], "because": 3}, "'lines' cannot be list"),
        ({"t": 6000, "e": 6000, "kind": "end", "reason": "bored"}, "'reason' cannot be 'bored'"),
        ({"t": 6000, "e": 6000, "kind": "end", "reason": []}, "'reason' cannot be list"),
        ({"t": 6000, "e": 6000, "kind": "hole", "from": 1, "to": 2}, "'machine_restarted' is missing"),
        ({"t": 6000, "e": 6000, "kind": "said", "handover": "all"}, "'handover' cannot be 'all'"),
    ],
)
def test_a_line_that_a_drill_cannot_have_written(tmp_path: Path, line: dict[str, Any], what: str) -> None:
    lines = [*drill_lines(9), line, end(90_000)]
    problem = refused(save(tmp_path / "a.jsonl", content(lines)))
    assert (problem.line, problem.seq) == (12, 11)
    assert what in problem.what


@pytest.mark.parametrize(
    "line",
    [
        key(6000, "backspace", "void", kind="void", outcome="nothing"),
        {"t": 100, "e": 100, "kind": "cue", "because": 0, "name": "push"},  # of an adjusted history
        key(4000, via="script"),
        key(6000, name="unmapped", meant=None, outcome="not mapped"),
        key(6000, "p", "pause", kind="pause", e=5000),
    ],
)
def test_what_looks_odd_and_is_right(tmp_path: Path, line: dict[str, Any]) -> None:
    assert verify(save(tmp_path / "a.jsonl", content([*drill_lines(9), line, end(90_000)]))).ok


def test_people_may_speak_after_the_end_and_the_drill_may_not(tmp_path: Path) -> None:
    whole = [*drill_lines(2), end(9000)]
    said = {"t": 9000, "e": 9000, "who": "a7", "why": "seen on the floor"}
    later = [
        {**said, "kind": "classify", "pin": 2, "label": "elbows bent"},
        {**said, "kind": "added_later", "input": "call_made"},
        {"t": 9000, "e": 9000, "kind": "note", "digest": "0" * 64},
    ]
    assert verify(save(tmp_path / "a.jsonl", content([*whole, *later]))).sealed
    more = refused(save(tmp_path / "b.jsonl", content([*whole, key(9100)])))
    assert (more.line, more.what) == (6, "a line of kind 'key' after the end of the drill")
    nobody = refused(save(tmp_path / "c.jsonl", content([*whole, {**later[0], "who": " "}])))
    assert "'who' cannot be ' '" in nobody.what


@pytest.mark.parametrize(
    "body",
    [
        '{"seq":1, "t":0,"e":0,"kind":"go"}',
        '{"seq":1,"t":5,"t":0,"e":0,"kind":"go"}',
        '{"seq":1,"t":0,"e":0,"kind":"go","x":NaN}',
        '{"seq":1,"t":0,"e":0,"kind":"go","x":1e999}',
        '{"seq":1,"t":0,"e":0,"kind":"go","x":"\\u0041"}',
        '{"seq":1,"t":0,"e":0,"kind":"go","x":1.0e0}',
        '{"seq":1,"h":"x","t":0,"e":0,"kind":"go"}',
    ],
)
def test_a_line_with_two_readings_is_refused_though_its_chain_is_right(tmp_path: Path, body: str) -> None:
    head = json.loads(HEAD_LINE)
    del head["h"]
    problem = refused(save(tmp_path / "a.jsonl", raw_lines([encode(head).decode(), body])))
    assert problem.line == 2
    assert "not spelt as a log spells it" in problem.what


def test_what_is_no_file(tmp_path: Path) -> None:
    assert "a folder" in refused(tmp_path).what
    assert "no such file" in refused(tmp_path / "nothing.jsonl").what
    os.mkfifo(tmp_path / "pipe.jsonl")
    assert "not a plain file" in refused(tmp_path / "pipe.jsonl").what
    assert "no file can have this name" in refused_name("a\x00b")
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(tmp_path / "s"))
        assert "cannot be opened" in refused(tmp_path / "s").what


def refused_name(name: str) -> str:
    with pytest.raises(LogProblem) as caught:
        read_log(Path(name))
    return caught.value.what


def test_a_line_of_a_gigabyte_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = save(tmp_path / "a.jsonl", HEAD_LINE)
    os.truncate(path, 1 << 30)  # sparse: a gigabyte of NULs that takes no room
    with pytest.raises(LogProblem, match="larger than 256 MB"):
        read_log(path)
    verdict = verify(path)
    assert (verdict.ok, verdict.line) == (False, 2)
    assert "longer than 8 MB" in verdict.what
    monkeypatch.setattr(reading, "MAX_LINE", 4096)
    short = save(tmp_path / "b.jsonl", content([header(), {"t": 0, "e": 0, "kind": "go", "x": "y" * 4096}]))
    assert refused(short).line == 2


junk = st.recursive(
    st.none() | st.booleans() | st.integers(-5, 5) | st.sampled_from(["", "taken", "key", "x"]) | st.floats(),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["id", "text", "x"]), inner, max_size=3)
    ),
    max_leaves=5,
)
names = st.sampled_from(
    ["t", "e", "key", "meant", "via", "outcome", "format", "protocol", "pads", *{m for k in KINDS.values() for m in k}]
)


@given(st.lists(st.dictionaries(names, junk, max_size=8), max_size=4), st.sampled_from([*KINDS, "x"]))
@each_time_anew
def test_wrong_types_in_a_right_chain_end_in_a_problem_never_in_a_crash(
    tmp_path: Path, lines: list[dict[str, Any]], kind: str
) -> None:
    bodies = [{**header(), **(lines[0] if lines else {})}, *({"kind": kind, **line} for line in lines)]
    texts = [json.dumps({"seq": n, **body}, separators=(",", ":")) for n, body in enumerate(bodies)]
    path = save(tmp_path / "a.jsonl", raw_lines(texts))
    try:
        record: Record | None = read_log(path)
    except LogProblem as problem:
        record = None
        assert 1 <= problem.line <= len(bodies)
        assert str(problem).isprintable()
    assert verify(path).ok == (record is not None)
    if record is not None:
        assert record.head.drill == DRILL


@given(st.binary(max_size=300))
@each_time_anew
def test_any_bytes_end_in_a_problem(tmp_path: Path, data: bytes) -> None:
    assert refused(save(tmp_path / "a.jsonl", data)).line == 1
