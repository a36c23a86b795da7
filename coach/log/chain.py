"""The bytes of a line, and the chain that ties each line to all before it.

A line is one JSON object: compact, members in the order given, UTF-8, ended by one newline. Its last member ``h`` is
``sha256(h of the line before, as 64 hex digits + the line's own bytes without h)``. There is one spelling of a line: a
reader that writes what it has read must get the same bytes, so that no two readers can disagree about a record.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

GENESIS = "0" * 64
"""The ``h`` before the first line."""

_SEAL = b',"h":"'
_SEAL_LENGTH = len(_SEAL) + 64 + len(b'"}')

_plain = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":"), check_circular=False).encode
_escaped = json.JSONEncoder(ensure_ascii=True, allow_nan=False, separators=(",", ":"), check_circular=False).encode


def encode(value: Mapping[str, Any]) -> bytes:
    """The one spelling of ``value`` in UTF-8.

    Text that UTF-8 cannot hold (half of a surrogate pair, as from a broken file name) is spelt in escapes. ValueError
    on a number that JSON does not have (NaN, infinity), TypeError on what is not JSON at all.
    """
    try:
        return _plain(value).encode()
    except UnicodeEncodeError:
        return _escaped(value).encode()


def link(before: str, body: bytes) -> str:
    """The ``h`` of a line whose bytes without ``h`` are ``body``, after a line with the ``h`` ``before``."""
    return sha256(before.encode() + body).hexdigest()


def split(line: bytes) -> tuple[bytes, str] | None:
    """A line without its newline as (bytes without ``h``, ``h``); ``None`` if it does not end in an ``h``."""
    seal = line[-_SEAL_LENGTH:]
    if not seal.startswith(_SEAL) or not seal.endswith(b'"}') or not seal.isascii():
        return None
    return line[:-_SEAL_LENGTH] + b"}", seal[len(_SEAL) : -2].decode()


class Chain:
    """The end of a chain: what the next line must carry. ``seq`` is the next number, ``h`` the last line's hash."""

    __slots__ = ("h", "seq")

    def __init__(self, seq: int = 0, h: str = GENESIS) -> None:
        self.seq = seq
        self.h = h

    def add(self, line: Mapping[str, Any]) -> bytes:
        """The bytes of the next line, newline included; the chain moves on.

        ``seq`` is put first where the line has none. ValueError if it has a wrong one, or an ``h`` of its own; the
        chain stands where it was then.
        """
        if "h" in line:
            raise ValueError("a line gets its h from the chain")
        if "seq" not in line:
            line = {"seq": self.seq, **line}
        elif line["seq"] != self.seq:
            raise ValueError(f"line {line['seq']} cannot come here: the next one is {self.seq}")
        body = encode(line)
        h = link(self.h, body)
        self.h = h
        self.seq += 1
        return body[:-1] + _SEAL + h.encode() + b'"}\n'
