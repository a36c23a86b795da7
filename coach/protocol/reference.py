"""What may stand in a protocol, scenario or pads file: each table with its members, told from the models themselves."""

from __future__ import annotations

import re
import types
from collections.abc import Iterator
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel

from coach.protocol import local_model, model


class Member(NamedTuple):
    """A word of a table, what it may be, and whether it must be there."""

    name: str
    what: str
    needed: bool


class Table(NamedTuple):
    """A table of a file: where it is written, what it means, its members."""

    name: str
    written: str
    about: str
    members: tuple[Member, ...]


PLACES: dict[str, tuple[str, type[BaseModel]]] = {
    "protocol": ("the top of a protocol file", model.Protocol),
    "approval": ("[approval]", model.Approval),
    "history": ("[[approval.history]]", model.Act),
    "source": ("[sources.NAME]", model.Source),
    "fact": ("[facts.NAME]", model.Fact),
    "counter": ("[counters.NAME]", model.Counter),
    "timer": ("[timers.NAME]", model.Timer),
    "target": ("[targets.NAME]", model.Target),
    "observation": ("[observations.NAME]", model.OwnObservation),
    "track": ("[track.NAME]", model.Track),
    "step": ("[track.NAME.step.NAME]", model.Step),
    "arrow": ("an entry of go, in a step or a track", model.Arrow),
    "fault": ("fault of an arrow, of forbidden, or late of an inject", model.Fault),
    "inject": ("[inject.NAME]", model.Inject),
    "forbidden": ("[[inject.NAME.forbidden]]", model.Forbidden),
    "waive": ("[[waive]]", model.Waive),
    "local-file": ("the top of a local file over a base", local_model.Overlay),
    "part": ("the top of a part", local_model.Part),
    "pin": ("[extends] and [[with]]", model.Pin),
    "relax": ("[relax.rule.ID]", model.Relax),
    "remove": ("[[remove]]", local_model.Removal),
    "insert": ("[[insert]]", local_model.Insertion),
    "where": ("an arrow without an id, in remove, before and after", local_model.Where),
    "scenario": ("the top of a scenario file", model.Scenario),
    "throw": ("[[throw]] of a scenario", model.Throw),
    "pads": ("the top of a pads file", model.Pads),
    "pads-rule": ("[[rule]] of a pads file", model.PadsRule),
}
"""Every table that a model of these two rooms stands for, by the name that it is asked for."""

_NAMED: tuple[tuple[Any, str], ...] = (
    (model.Wording, 'text, or { en = "…", es = "…" }'),
    (model.Duration, 'a time, such as "500 ms", "10 s", "2 min"'),
    (model.Names, "a name, or a list of names"),
    (model.Day, "a day, such as 2026-01-31"),
    (model.Reason, "text, never empty"),
    (model.Line, "text"),
)
_PLAIN: dict[Any, str] = {str: "text", bool: "true or false", int: "a whole number", float: "a number"}
_LISTS: dict[Any, str] = {str: "a list of names", model.Line: "a list of texts", list[str]: "lists of names"}


def table_of(name: str) -> Table:
    """A table by its name in :data:`PLACES`. Raises KeyError."""
    written, of = PLACES[name]
    return Table(name, written, plain_words(of.__doc__ or ""), tuple(_members(of)))


def plain_words(docstring: str) -> str:
    """A docstring as text for authors: paragraphs, names in single quotes of code."""
    text = re.sub(r":\w+:`~?\.?([\w.]+)`", r"`\1`", docstring.replace("``", "`"))
    return "\n\n".join(" ".join(part.split()) for part in text.strip().split("\n\n"))


def _members(of: type[BaseModel]) -> Iterator[Member]:
    hints = get_type_hints(of, include_extras=True)
    for name, info in of.model_fields.items():
        what = _what(hints[name])
        bounds = [
            f"{word} {getattr(one, kind)}"
            for kind, word in (("ge", "from"), ("le", "to"))
            for one in info.metadata
            if hasattr(one, kind)
        ]
        if bounds:
            what += f", {' '.join(bounds)}"
        if (
            not info.is_required()
            and info.default not in (None, "", [], {})
            and isinstance(info.default, (str, bool, int, float))
        ):
            default = str(info.default).lower() if isinstance(info.default, bool) else info.default
            what += f"; {default} if left out"
        yield Member(info.alias or name, what, info.is_required())


def _what(hint: Any) -> str:
    """A type in words."""
    for alias, said in _NAMED:
        if hint == alias:
            return said
    origin, args = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _what(args[0])
    if origin is Literal:
        return "one of " + ", ".join(str(one) or '""' for one in args) if len(args) > 1 else str(args[0])
    if origin in (Union, types.UnionType):
        return " or ".join(dict.fromkeys(_what(one) for one in args if one is not type(None)))
    if origin is list:
        inside = _table_name(args[0])
        return f"tables, each as `{inside}`" if inside else _LISTS.get(args[0], "tables")
    if origin is dict:
        inside = _table_name(args[1])
        if not inside and (args[1] is Any or get_origin(args[1]) is dict):
            return "a table"
        return f"tables by name, each as `{inside}`" if inside else f"names, each with {_what(args[1])}"
    inside = _table_name(hint)
    return f"a table as `{inside}`" if inside else _PLAIN.get(hint, "a table")


def _table_name(hint: Any) -> str:
    return next((name for name, (_, of) in PLACES.items() if of is hint), "")
