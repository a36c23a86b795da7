"""The bytes of a line, checked against the definition written out by hand."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.log.chain import GENESIS, Chain, encode, split

texts = st.text(st.characters(exclude_categories=()), max_size=20)  # lone surrogates too
values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4),
    max_leaves=12,
)
tables = st.dictionaries(texts.filter(lambda name: name not in ("seq", "h")), values, max_size=5)


def test_two_lines_by_hand() -> None:
    chain = Chain()
    first = '{"seq":0,"kind":"go","word":"Übung"}'
    second = '{"seq":1,"t":5}'
    h0 = hashlib.sha256(("0" * 64 + first).encode()).hexdigest()
    h1 = hashlib.sha256((h0 + second).encode()).hexdigest()
    assert chain.add({"kind": "go", "word": "Übung"}).decode() == first[:-1] + f',"h":"{h0}"}}\n'
    assert chain.add({"seq": 1, "t": 5}).decode() == second[:-1] + f',"h":"{h1}"}}\n'
    assert (chain.seq, chain.h) == (2, h1)


@given(st.lists(tables, max_size=6))
def test_any_content_comes_back_and_is_one_line_each(lines: list[dict[str, Any]]) -> None:
    chain = Chain()
    before = GENESIS
    for number, line in enumerate(lines):
        raw = chain.add(line)
        assert raw.count(b"\n") == 1 and raw.endswith(b"\n")
        back = json.loads(raw.decode())
        assert back == {"seq": number, **line, "h": chain.h}
        assert list(back) == ["seq", *line, "h"]
        assert encode(back) == raw[:-1]
        parts = split(raw[:-1])
        assert parts is not None
        body, h = parts
        assert h == chain.h == hashlib.sha256(before.encode() + body).hexdigest()
        before = h


@pytest.mark.parametrize(
    "line",
    [{"lag": float("nan")}, {"lag": float("inf")}, {"seq": 2}, {"seq": 0, "h": "x"}, {"h": "x"}, {"word": b"bytes"}],
)
def test_what_cannot_be_a_line_leaves_the_chain_where_it_was(line: dict[str, Any]) -> None:
    chain = Chain()
    with pytest.raises((ValueError, TypeError)):
        chain.add(line)
    assert (chain.seq, chain.h) == (0, GENESIS)


@pytest.mark.parametrize("raw", [b"", b"{}", b'{"h":"' + b"a" * 64 + b'"}', b'{"a":1,"h":"' + b"\xff" * 64 + b'"}'])
def test_a_line_without_its_hash_does_not_split(raw: bytes) -> None:
    assert split(raw) is None
