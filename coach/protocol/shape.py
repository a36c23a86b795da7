"""From the plain tables of a TOML file to a model, with every misfit reported at its place and mended for going on.

pydantic says where in the data something does not fit; here that becomes a place in the text, an author's words, and
the nearest legal key. What does not fit is then replaced by its default (or a stand-in), so that the checks across the
file can still run on all the rest.
"""

from __future__ import annotations

import copy
import types
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any, Literal, NamedTuple, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, BeforeValidator, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from coach.protocol.positions import Path
from coach.protocol.report import MAX_PROBLEMS, Report, known_words
from coach.text import nearest
from coach.units import parse_duration

M = TypeVar("M", bound=BaseModel)
_ROUNDS = 8

_NEEDED = {
    "string_type": "text",
    "list_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "bool_type": "true or false",
}


def fit(model: type[M], data: dict[str, Any], report: Report) -> M | None:
    """The model of the data, mended where it did not fit; None where not even that succeeded."""
    mended = copy.deepcopy(data)
    for _ in range(_ROUNDS):
        try:
            return model.model_validate(mended, by_alias=True, by_name=False)
        except ValidationError as error:
            _mend(model, mended, error.errors(include_url=False), report)
    return None


def _mend(model: type[BaseModel], data: dict[str, Any], errors: Sequence[ErrorDetails], report: Report) -> None:
    located = [(error, _locate(error, data)) for error in errors]
    decided = {place.union for _, place in located if place.alike}
    by_place: dict[tuple[Path, bool], list[ErrorDetails]] = defaultdict(list)
    for error, place in located:
        if place.alike or place.union not in decided:
            by_place[place.path, error["loc"][-1:] == ("[key]",)].append(error)
    extras = [path for (path, _), found in by_place.items() if _is_extra(found)][:MAX_PROBLEMS]
    meant = {(*path[:-1], _meant(model, path)) for path in extras}
    for (path, of_key), found in by_place.items():
        if report.full:
            break
        if found[0]["type"] != "missing" or path not in meant:  # what is misspelt is not missing too
            _say(model, path, of_key, found, report)
    report.mended.update(path for path in meant if path[-1] and _at(data, path) is _NOTHING)
    report.mended.update(place.union for _, place in located if place.union)
    report.doubtful.update(str(path[-1]) for path in meant)
    for (path, of_key), found in by_place.items():
        _replace(model, data, path, remove=of_key or _is_extra(found))
        report.mended.add(path)
        report.doubtful.update(part for part in path[-2:] if isinstance(part, str))


def _is_extra(errors: list[ErrorDetails]) -> bool:
    return errors[0]["type"] == "extra_forbidden"


def _legal(model: type[BaseModel], path: Path) -> list[str]:
    """The keys that are legal in the table that holds a path."""
    holder = _model_at(model, path[:-1])
    return list(_fields(holder)) if holder else []


def _meant(model: type[BaseModel], path: Path) -> str:
    """The legal key nearest to an illegal one; "" where none is near."""
    return nearest(str(path[-1]), _legal(model, path)) or ""


class _Located(NamedTuple):
    """An error's path in the data; where it is of one branch of a union, also the union's path and whether that
    branch is the one that the value looks like."""

    path: Path
    union: Path | None
    alike: bool


def _locate(error: ErrorDetails, data: Any) -> _Located:
    """What the location of an error means in the data: tags of unions stand in it, and keys that are missing."""
    path: Path = ()
    union: Path | None = None
    alike = True
    location = error["loc"]
    for number, part in enumerate(location, start=1):
        inside = _at(data, (part,)) if isinstance(data, (dict, list)) else _NOTHING
        if inside is not _NOTHING or (error["type"] == "missing" and number == len(location)):
            data = inside
            path = (*path, part)
        elif part != "[key]" and union is None:
            union = path
            alike = _branch_kind(str(part)) is _value_kind(data)
    return _Located(path, union, alike)


def _branch_kind(tag: str) -> type:
    if tag.startswith("list"):
        return list
    return dict if tag[:1].isupper() else str


def _value_kind(value: Any) -> type:
    return type(value) if isinstance(value, (dict, list)) else str


_NOTHING = object()


def _at(data: Any, path: Path) -> Any:
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return _NOTHING
    return data


# --- what the models allow at a path ----------------------------------------------------------------------------------


def _branches(annotation: Any) -> Iterator[Any]:
    origin = get_origin(annotation)
    if origin in (Union, types.UnionType):
        for branch in get_args(annotation):
            yield from _branches(branch)
    elif hasattr(annotation, "__metadata__"):
        yield from _branches(get_args(annotation)[0])
    elif annotation is not type(None):
        yield annotation


def _fields(model: type[BaseModel]) -> dict[str, FieldInfo]:
    return {info.alias or name: info for name, info in model.model_fields.items()}


def _allowed(annotation: Any, path: Path) -> Any:
    """The annotation at a path under another one, or None where the models end before it."""
    if not path:
        return annotation
    head, rest = path[0], path[1:]
    for branch in _branches(annotation):
        origin, arguments = get_origin(branch), get_args(branch)
        found = None
        if isinstance(branch, type) and issubclass(branch, BaseModel):
            info = _fields(branch).get(str(head))
            found = _allowed(info.annotation, rest) if info else None
        elif origin is dict:
            found = _allowed(arguments[1], rest)
        elif origin is list and isinstance(head, int):
            found = _allowed(arguments[0], rest)
        if found is not None:
            return found
    return None


def _model_at(model: type[BaseModel], path: Path) -> type[BaseModel] | None:
    for branch in _branches(_allowed(model, path)):
        if isinstance(branch, type) and issubclass(branch, BaseModel):
            return branch
    return None


# --- saying and replacing ---------------------------------------------------------------------------------------------


def _say(model: type[BaseModel], path: Path, of_key: bool, errors: list[ErrorDetails], report: Report) -> None:
    error = errors[0]
    kind, context, key = error["type"], error.get("ctx", {}), str(path[-1]) if path else ""
    if of_key:
        report.at_key(path, f"`{key}`: {context.get('error', error['msg'])}")
    elif kind == "missing":
        report.at_key(path[:-1], f"`{key}` is missing", todo=f"add {key} = …")
    elif kind == "extra_forbidden":
        report.at_key(path, f"unknown key `{key}`", _meant(model, path) or None, known_words(_legal(model, path)))
    elif kind == "literal_error":
        given = error["input"]
        words = _words(model, path)
        todo = known_words(words) if words else f"write {context.get('expected', '')}"
        report.at_value(path, f"`{given}` is not allowed here", nearest(str(given), words), todo)
    elif kind == "value_error":
        report.at_value(path, str(context.get("error", error["msg"])))
    elif any(each["type"] in _NEEDED for each in errors):
        wanted = dict.fromkeys(_NEEDED[each["type"]] for each in errors if each["type"] in _NEEDED)
        report.at_value(path, f"{' or '.join(wanted)} is needed here")
    elif kind in {"greater_than_equal", "less_than_equal"}:
        bound = f"at least {context['ge']}" if "ge" in context else f"at most {context['le']}"
        report.at_value(path, f"{error['input']} is out of bounds", todo=f"write {bound}")
    else:
        report.at_value(path, error["msg"])


def _words(model: type[BaseModel], path: Path) -> list[str]:
    """The words of a literal, as text only."""
    return [
        word
        for branch in _branches(_allowed(model, path))
        if get_origin(branch) is Literal
        for word in get_args(branch)
        if isinstance(word, str)
    ]


def _replace(model: type[BaseModel], data: dict[str, Any], path: Path, remove: bool) -> None:
    """Take what does not fit out of the data, or put a stand-in where the model asks for something."""
    holder = _at(data, path[:-1])
    if not path or holder is _NOTHING:
        return
    owner = _model_at(model, path[:-1])
    info = _fields(owner).get(str(path[-1])) if owner else None
    if isinstance(holder, dict) and (remove or (info and not info.is_required())):
        holder.pop(path[-1], None)
    else:
        holder[path[-1]] = _stand_in(info) if info else _plain_stand_in(_allowed(model, path))


def _stand_in(info: FieldInfo) -> Any:
    if any(isinstance(part, BeforeValidator) and part.func is parse_duration for part in info.metadata):
        return "1 ms"
    return _plain_stand_in(info.annotation)


def _plain_stand_in(annotation: Any) -> Any:
    branch = next(_branches(annotation), str)
    origin = get_origin(branch)
    if isinstance(branch, type) and issubclass(branch, BaseModel):
        return {name: _stand_in(info) for name, info in _fields(branch).items() if info.is_required()}
    if origin is Literal:
        return get_args(branch)[0]
    empty: dict[Any, Any] = {dict: {}, list: [], bool: False, int: 1, float: 0.0}
    return copy.copy(empty.get(origin or branch, ""))
