"""The scanner's places, against hand-counted ones, against every shipped file, and against random documents."""

from __future__ import annotations

import datetime
import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from coach.protocol.positions import locate
from coach.resources import data_dir

SHIPPED = sorted([*data_dir("protocols").rglob("*.toml"), *data_dir("demo").rglob("*.toml")])

DOCUMENT = '''\
top = 1
"quoted \\u0041 key" = 2 # a comment with = and [brackets]
a.b . "c" = 3

[table]
list = [ 1, "two, ]", # comment ]
  [ 3, { x = 4, y = [ 5 ] } ],
]
inline = { one = { two = 'it''s' }, three = """
long "quoted" \\
   text"""}

[[rows]]
n = 1
[rows.sub]
deep = 2026-01-01 07:32:00
[[rows.more]]
m = 1
[[rows.more]]
m = 2
[[rows]]
n = -1.5e3
[  table . 'other'  ]
z = true
'''.replace("'it''s'", "'its'")

PLACES = {
    ("top",): (1, 1, 7),
    ("quoted A key",): (2, 1, 23),
    ("a", "b", "c"): (3, 7, 13),
    ("table", "list"): (6, 1, 8),
    ("table", "list", 0): (6, 10, 10),
    ("table", "list", 1): (6, 13, 13),
    ("table", "list", 2): (7, 3, 3),
    ("table", "list", 2, 0): (7, 5, 5),
    ("table", "list", 2, 1, "x"): (7, 10, 14),
    ("table", "list", 2, 1, "y", 0): (7, 23, 23),
    ("table", "inline", "one", "two"): (9, 20, 26),
    ("table", "inline", "three"): (9, 35, 43),
    ("rows", 0, "n"): (14, 1, 5),
    ("rows", 0, "sub"): (15, 7, 7),
    ("rows", 0, "sub", "deep"): (16, 1, 8),
    ("rows", 0, "more", 1, "m"): (20, 1, 5),
    ("rows", 1, "n"): (22, 1, 5),
    ("table", "other"): (23, 12, 12),
    ("table", "other", "z"): (24, 1, 5),
}


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize(("path", "place"), list(PLACES.items()))
def test_hand_counted_places(path: tuple[str | int, ...], place: tuple[int, int, int], ends: str) -> None:
    positions = locate(DOCUMENT.replace("\n", ends))
    line, key, value = place
    assert positions.key(path) == (line, key)
    assert positions.value(path) == (line, value)


def test_places_inside_texts() -> None:
    positions = locate(DOCUMENT)
    # 'long "quoted" text': the t of text stands after a line that a backslash folds away
    assert positions.inside(("table", "inline", "three"), 0) == (10, 1)
    assert positions.inside(("table", "inline", "three"), 14) == (11, 4)
    escaped = locate("a = \"\\u0041\\tB\"\nb = '''\r\nx\r\ny'''")
    assert [escaped.inside(("a",), at) for at in range(4)] == [(1, 6), (1, 12), (1, 14), (1, 15)]
    assert escaped.inside(("b",), 2) == (4, 1)
    assert escaped.inside(("a",), 99) == (1, 15)


def test_what_is_not_in_the_file_is_shown_at_its_table() -> None:
    positions = locate(DOCUMENT)
    assert positions.key(("rows", 1, "missing", "deeper")) == (21, 3)
    assert positions.key(("nowhere",)) == (1, 1)


def leaves(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[tuple[str | int, ...], Any]]:
    if isinstance(value, dict):
        return [leaf for key, item in value.items() for leaf in leaves(item, (*path, key))]
    if isinstance(value, list):
        return [leaf for index, item in enumerate(value) for leaf in leaves(item, (*path, index))]
    return [(path, value)]


def value_at(text: str, line: int, column: int) -> Any:
    """What the standard parser reads at a place: the shortest piece from there that is a value."""
    offset = sum(len(row) + 1 for row in text.split("\n")[: line - 1]) + column - 1
    rest = text[offset:]
    for length in range(1, len(rest) + 1):
        ends = rest[length : length + 1]
        if ends and ends not in ",]}\r\n#":
            continue
        try:
            return tomllib.loads(f"v = {rest[:length]}")["v"]
        except tomllib.TOMLDecodeError:
            continue
    raise AssertionError(f"no value at {line}:{column}")


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_leaf_of_every_shipped_file_stands_where_it_is_said_to(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    positions = locate(text)
    rows = text.split("\n")
    for leaf, value in leaves(tomllib.loads(text)):
        assert value_at(text, *positions.value(leaf)) == value, leaf
        name = leaf[-1]
        if isinstance(name, str):
            line, column = positions.key(leaf)
            assert rows[line - 1][column - 1 :].lstrip("\"'").startswith(name), leaf


names = st.text(st.sampled_from("ab-_1é. \"'\\#=[]{},\t"), max_size=4)
scalars = st.one_of(
    st.integers(-9, 99),
    st.booleans(),
    st.sampled_from([1.5, -0.25, 1e22, float("inf")]),
    st.text(st.sampled_from("ab \"'\\#=[]{},\n\t"), max_size=6),
    st.sampled_from([datetime.date(2026, 1, 2), datetime.datetime(2026, 1, 2, 3, 4, 5), datetime.time(7, 8)]),
)
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names, inner, max_size=3),
    max_leaves=10,
)


@given(st.dictionaries(names, values, max_size=4), st.booleans())
def test_every_leaf_of_a_random_document_is_found(document: dict[str, Any], long_strings: bool) -> None:
    text = tomli_w.dumps(document, multiline_strings=long_strings)
    positions = locate(text)
    for leaf, value in leaves(tomllib.loads(text)):
        assert leaf in positions.values
        found = value_at(text, *positions.value(leaf))
        assert json.dumps(found, default=str) == json.dumps(value, default=str)
        if isinstance(value, str) and value:
            line, column = positions.inside(leaf, len(value) - 1)
            assert text.split("\n")[line - 1][column - 1 : column] in (value[-1], "\\", "")
