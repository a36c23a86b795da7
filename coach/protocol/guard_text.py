"""Reading a guard's text into its tree: a tokenizer and a recursive descent, bounded in length and depth.

::

    guard   = all { "or" all }
    all     = item { "and" item }
    item    = "not" item | "(" guard ")" | test
    test    = name | name op number [unit] | name ("==" | "!=") word | name "in" "(" word { "," word } ")"
            | "unknown" "(" fact ")" | "running" "(" timer ")" | "in_step" "(" track "," step ")"
    op      = "<" | "<=" | ">" | ">=" | "==" | "!="

A name is a flag of the facts, a mark, or a term; a number is compared with a fact or a counter, with its unit
(``age < 8 years``, ``weight >= 25 kg``); a word is a choice's (``chest == wet``; every protocol has ``unit == laptop``
and ``counting == each``), or what a script says now (``this_rhythm == shockable``). A test of an unknown fact is false,
and ``not`` flips it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from coach.protocol.expr import (
    UNITS,
    And,
    Choice,
    Compare,
    Expr,
    GuardProblem,
    InStep,
    Name,
    Not,
    Op,
    Or,
    Running,
    Unknown,
)
from coach.text import nearest as nearest_word
from coach.text import one_line

MAX_LENGTH = 500
"""Characters in one guard."""

MAX_DEPTH = 30
"""Brackets and ``not`` inside one another."""

_TOKEN = re.compile(
    r"\s*(?:(?P<number>[0-9]+(?:\.[0-9]+)?)|(?P<name>[a-z][a-z0-9_]*(?:\.[a-z][a-z0-9_]*)?)|(?P<op><=|>=|==|!=|<|>)"
    r"|(?P<mark>[(),]))",
    re.ASCII,
)
_KEYWORDS = frozenset({"and", "or", "not", "in", "true", "false"})
_CALLS = ("unknown", "running", "in_step")
_HINTS = {
    "=": ("a single = compares nothing", "write =="),
    "&": ("& is not a word of guards", "write and"),
    "|": ("| is not a word of guards", "write or"),
    "!": ("! is not a word of guards", "write not"),
    **{sign: ("guards do no arithmetic", "compare with one constant") for sign in "+-*/%^"},
    **{quote: ("a quoted word", "write the word without quotes") for quote in "\"'"},
}


@lru_cache(maxsize=4096)
def parse(text: str) -> Expr:
    """The tree of a guard. Raises :class:`GuardProblem` at the first thing wrong."""
    return _Parser(text).whole()


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str  # number, name, op, mark, end
    text: str
    at: int


def _tokens(text: str) -> list[_Token]:
    if len(text) > MAX_LENGTH:
        todo = "name a part of it under [terms]"
        raise GuardProblem(
            MAX_LENGTH, f"a guard of {len(text)} characters; at most {MAX_LENGTH} are allowed", todo=todo
        )
    found: list[_Token] = []
    place = 0
    end = len(text.rstrip())
    while place < end:
        match = _TOKEN.match(text, place)
        if match is None:
            at = place + len(text[place:]) - len(text[place:].lstrip())
            sign = text[at]
            if sign.isupper() or sign == "_":
                word = re.match(r"\w+", text[at:])
                shown = word.group() if word else sign
                raise GuardProblem(at, f"`{shown}` is no name", shown.lower().strip("_"), "names are in small letters")
            what, todo = _HINTS.get(sign, (f"`{one_line(sign) or ascii(sign)}` is not a sign of guards", ""))
            raise GuardProblem(at, what, todo=todo)
        kind = match.lastgroup or ""
        found.append(_Token(kind, match.group(kind), match.start(kind)))
        place = match.end()
    found.append(_Token("end", "", len(text)))
    return found


class _Parser:
    """Recursive descent over the tokens, never deeper than :data:`MAX_DEPTH`."""

    def __init__(self, text: str) -> None:
        self._tokens = _tokens(text)
        self._next = 0
        self._depth = 0

    @property
    def _token(self) -> _Token:
        return self._tokens[self._next]

    def _take(self) -> _Token:
        token = self._token
        self._next += 1
        return token

    def _is(self, text: str) -> bool:
        return self._token.text == text

    def _expect(self, text: str, todo: str) -> _Token:
        if not self._is(text):
            raise GuardProblem(self._token.at, f"`{text}` is missing here", todo=todo)
        return self._take()

    def _word(self, what: str) -> _Token:
        token = self._token
        if token.kind != "name" or token.text in _KEYWORDS:
            raise GuardProblem(token.at, f"{what} is missing here", todo=f"write {what}")
        return self._take()

    def whole(self) -> Expr:
        expr = self._any()
        token = self._token
        if token.kind == "end":
            return expr
        if token.kind == "op":
            raise GuardProblem(token.at, "a chained comparison", todo="write two comparisons joined by and")
        if token.text == "(":
            raise GuardProblem(token.at, "a call", todo=f"only {', '.join(_CALLS)} take brackets")
        todo = "join two conditions by and or or"
        raise GuardProblem(token.at, f"`{token.text}` does not belong here", todo=todo)

    def _any(self) -> Expr:
        items = [self._all()]
        while self._is("or"):
            self._take()
            items.append(self._all())
        return items[0] if len(items) == 1 else Or(tuple(items))

    def _all(self) -> Expr:
        items = [self._item()]
        while self._is("and"):
            self._take()
            items.append(self._item())
        return items[0] if len(items) == 1 else And(tuple(items))

    def _item(self) -> Expr:
        token = self._token
        if token.text not in {"not", "("}:
            return self._test()
        self._depth += 1
        if self._depth > MAX_DEPTH:
            todo = "name a part of it under [terms]"
            raise GuardProblem(token.at, f"more than {MAX_DEPTH} brackets and nots inside one another", todo=todo)
        self._take()
        expr: Expr
        if token.text == "not":
            expr = Not(self._item())
        else:
            expr = self._any()
            if self._token.kind == "op":
                todo = "compare inside the brackets, or join two comparisons by and"
                raise GuardProblem(self._token.at, "a chained comparison", todo=todo)
            self._expect(")", "close the bracket")
        self._depth -= 1
        return expr

    def _test(self) -> Expr:
        token = self._take()
        if token.kind == "number":
            raise GuardProblem(
                token.at, "a comparison starts with a name", todo="write the name first: `age < 8 years`"
            )
        if token.text in {"true", "false"}:
            raise GuardProblem(
                token.at, f"`{token.text}` is not a word of guards", todo="write the name alone, or not name"
            )
        if token.kind != "name" or token.text in _KEYWORDS:
            what = (
                "a condition is missing here" if token.kind == "end" else f"`{token.text}` where a condition should be"
            )
            raise GuardProblem(token.at, what, todo="write a name or a comparison")
        if self._is("("):
            return self._call(token)
        if self._is("in"):
            self._take()
            return self._among(token)
        if self._token.kind == "op":
            return self._comparison(token)
        return Name(token.text, token.at)

    def _call(self, token: _Token) -> Expr:
        if token.text not in _CALLS:
            todo = f"only {', '.join(_CALLS)} take brackets"
            raise GuardProblem(token.at, f"`{token.text}` is no call", nearest_word(token.text, _CALLS), todo)
        self._take()
        expr: Expr
        if token.text == "unknown":
            fact = self._word("the name of a fact")
            expr = Unknown(fact.text, fact.at)
        elif token.text == "running":
            timer = self._word("the name of a timer")
            expr = Running(timer.text, timer.at)
        else:
            track = self._word("the name of a track")
            self._expect(",", "write in_step(track, step)")
            step = self._word("the name of a step")
            expr = InStep(track.text, step.text, track.at, step.at)
        self._expect(")", "close the bracket")
        return expr

    def _among(self, token: _Token) -> Expr:
        self._expect("(", "write in (word, word)")
        words: list[_Token] = []
        while not words or self._is(","):
            if words:
                self._take()
            if self._token.kind == "number":
                todo = "write name == 1 or name == 2"
                raise GuardProblem(self._token.at, "a number where a word of a choice should be", todo=todo)
            words.append(self._word("a word of the choice"))
        self._expect(")", "close the bracket")
        return Choice(token.text, "in", tuple(w.text for w in words), token.at, tuple(w.at for w in words))

    def _comparison(self, token: _Token) -> Expr:
        op = self._take()
        right = self._token
        if right.kind == "number":
            expr = self._number(token, op)
        elif right.text in {"true", "false"}:
            plain = (right.text == "true") == (op.text == "==")
            instead = token.text if plain else f"not {token.text}"
            raise GuardProblem(op.at, f"`{op.text} {right.text}` is not needed", instead, f"write {instead}")
        elif right.kind == "name" and right.text not in _KEYWORDS:
            if op.text not in {"==", "!="}:
                todo = "compare with a number, such as 8 years"
                raise GuardProblem(right.at, f"`{right.text}`: a fact is compared with constants only", todo=todo)
            self._take()
            equal: Literal["==", "!="] = "==" if op.text == "==" else "!="
            expr = Choice(token.text, equal, (right.text,), token.at, (right.at,))
        else:
            raise GuardProblem(right.at, "a constant is missing here", todo="write a number with its unit, or a word")
        if self._token.kind == "op":
            raise GuardProblem(self._token.at, "a chained comparison", todo="write two comparisons joined by and")
        return expr

    def _number(self, token: _Token, op: _Token) -> Expr:
        number = self._take()
        unit = ""
        if self._token.kind == "name" and self._token.text not in _KEYWORDS:
            written = self._take()
            unit = written.text
            if unit not in UNITS:
                near = "kg" if unit in {"lb", "lbs", "g"} else nearest_word(unit, [name for name in UNITS if name])
                raise GuardProblem(written.at, f"unknown unit `{unit}`", near, "units are kg, years and months")
        if len(number.text) > 15:
            raise GuardProblem(number.at, "a number of more than 15 characters")
        value = Fraction(number.text) * UNITS[unit]
        if value.denominator != 1:
            what = (
                "a constant finer than a gram or a thousandth of a month"
                if unit
                else "a constant without a unit is whole"
            )
            raise GuardProblem(number.at, what, todo="round it")
        return Compare(token.text, _OPS[op.text], int(value), unit, token.at, number.at)


_OPS: dict[str, Op] = {"<": "<", "<=": "<=", ">": ">", ">=": ">=", "==": "==", "!=": "!="}
