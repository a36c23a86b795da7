"""Laying the differences of a local file over the tables of its base: each by id, each problem at its own line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from coach.protocol.lenience import relaxation
from coach.protocol.local_model import Overlay, Part, Removal, Where
from coach.protocol.positions import Path
from coach.protocol.report import Report, known_words
from coach.protocol.tree import ArrowAt, Node, arrows_in, plain, planted
from coach.text import nearest, one_line

HEAD = {"format", "id", "version", "approval", "made_from", "relax", "extends", "with", "waive"}
"""What a local file says of itself, at its top, and never about its base."""

BY_ID: dict[str, tuple[str, ...]] = {"rule": ("id",), "finding": ("id",), "forbidden": ("fault", "id")}
"""Lists of tables that a local file addresses by id, and where in each table the id stands."""

KINDS = {
    "source": "sources",
    "fact": "facts",
    "counter": "counters",
    "term": "terms",
    "timer": "timers",
    "target": "targets",
    "observation": "observations",
    "key": "keys",
    "track": "track",
    "inject": "inject",
}
"""Kinds of thing that can be removed, with the table that holds them; steps, arrows and findings are found apart."""

RULE_WORDS = {"say", "source"}
"""Members of a rule that may change without the rule meaning anything else."""


class Laying:
    """One local file, or a part of one, laid over the tree of its base, which is changed in place."""

    def __init__(self, root: Node, overlay: Part, data: dict[str, Any], report: Report, notices: Report) -> None:
        self.root = root
        self.overlay = overlay
        self.data = data
        self.report = report
        self.notices = notices
        self.layer = overlay.id
        self.removed: list[tuple[str, str, Path]] = []
        """What was taken away: its kind, its name and where the local file says so."""
        self.relaxed: list[tuple[Path, str]] = []
        """What is judged less strictly than in the base: where the local file says so, and how."""

    def lay(self) -> None:
        """Do all that the local file asks for, in the order change, add, insert, relax, remove."""
        if self.data.get("change"):
            self._change(self.root, self.data["change"], ("change",), ())
        if self.data.get("add"):
            self._add(self.root, self.data["add"], ("add",), ())
        for index in range(len(self.overlay.insert)):
            self._insert(index)
        self._relax()
        for index in range(len(self.overlay.remove)):
            self._remove(index)
        if isinstance(self.overlay, Overlay):
            self._head()

    # --- finding things -----------------------------------------------------------------------------------------------

    def arrow(self, name: str | Where, path: Path) -> ArrowAt | None:
        """The one arrow of that id, or that stands and waits so; a problem where none fits, or several do."""
        every = list(arrows_in(self.root))
        if isinstance(name, str):
            found = [arrow for arrow in every if arrow.id == name]
            if not found:
                near = nearest(name, [arrow.id for arrow in every])
                self.report.at_value(path, f"the base has no arrow `{name[:64]}`", near, "name an arrow that is there")
        else:
            found = [arrow for arrow in every if _fits(arrow, name)]
            if not found:
                self.report.at_value(path, "no arrow of the base stands and waits so", todo="compare it with the base")
        if len(found) == 1:
            return found[0]
        if found:
            steps = ", ".join(sorted({arrow.step or arrow.track for arrow in found}))
            what = f"{len(found)} arrows fit here, in {steps}"
            self.report.at_value(
                path, what, todo="tell the one: { step = …, on = …, when = … } with enough to fit once"
            )
        return None

    def _row(self, node: Node, key: str, ident: str) -> Node | None:
        return next((row for row in node.value if _ident(row, BY_ID[key]) == ident), None) if node.is_rows else None

    # --- change -------------------------------------------------------------------------------------------------------

    def _change(self, node: Node, wanted: dict[str, Any], path: Path, at: Path) -> None:
        """Change members of ``node``; ``path`` is where the local file says so, ``at`` where the base has them."""
        anew = _said_anew(node, wanted)
        for key, value in wanted.items():
            here, there = (*path, key), (*at, key)
            if not at and key == "arrow":
                self._arrows(value, here, self._change)
            elif self._closed(there, here):
                continue
            elif _listed(there) and key in node.value and node.value[key].is_rows and isinstance(value, dict):
                self._change_rows(node.value[key], key, value, here, there)
            elif key not in node.value:
                near = nearest(key, node.value)
                todo = "what is not there is added under add"
                self.report.at_key(here, f"the base has no `{_dotted(there)}`", near, todo)
            elif node.value[key].is_table != isinstance(value, dict):
                table = node.value[key].is_table
                form = f"{{ {', '.join(f'{name} = …' for name in node.value[key].value)} }}" if table else ""
                kind = f"a table here: {form[:80]}" if table else "a plain value here"
                todo = "write it so, with what you change of it" if table else "write a plain value"
                self.report.at_value(here, f"the base has {kind}", todo=todo)
            elif isinstance(value, dict):
                self._change(node.value[key], value, here, there)
                self._other_languages(node.value[key], value, here)
            else:
                self._put(node, key, value, here, there, anew)

    def _put(self, node: Node, key: str, value: Any, here: Path, there: Path, beside: bool = False) -> None:
        """``beside`` where it is one language of a wording that changes in another: saying it again is no slip."""
        old = plain(node.value[key])
        self._less(node, there, old, value, here)
        if _same(old, value) and not beside:
            self.notices.at_key(here, f"`{key}` changes nothing: the base says {_short(old)} too", todo="leave it out")
        node.value[key] = planted(value, self.layer, here, f"changed, was {_short(old)}")

    def _less(self, node: Node, there: Path, old: Any, new: Any, here: Path) -> None:
        """Keep it where the new value judges less strictly than the base does."""
        unit = node.value.get("unit")
        less = relaxation(there, old, new, unit.value if unit is not None and isinstance(unit.value, str) else "")
        if less:
            self.relaxed.append((here, f"`{_dotted(there[:-1])}` is judged less strictly than in the base: {less}"))

    def _change_rows(self, rows: Node, key: str, wanted: dict[str, Any], path: Path, at: Path) -> None:
        for ident, members in wanted.items():
            here = (*path, ident)
            row = self._row(rows, key, ident)
            if row is None or not isinstance(members, dict):
                near = nearest(ident, [_ident(each, BY_ID[key]) for each in rows.value])
                self.report.at_key(here, f"the base has no {key} `{ident[:64]}`", near, "add it under add")
            elif key == "rule" and not members.keys() <= RULE_WORDS:
                todo = f"write it under relax.rule.{ident}, with the reason"
                self.report.at_key(here, f"the rule `{ident}` may not be changed in passing", todo=todo)
            else:
                self._change(row, members, here, (*at, ident))

    def _other_languages(self, node: Node, wanted: dict[str, Any], here: Path) -> None:
        """Say so where a wording changed in some languages only: the others still say what the base says."""
        texts = _languages(node)
        if texts:
            left = sorted(set(texts) - set(wanted))
            if left:
                what = (
                    f"the wording changes in {', '.join(wanted)} only; {', '.join(left)} still says what the base says"
                )
                self.notices.at_key(here, what, todo="change it there too, or see that both say the same")

    def _arrows(self, wanted: Any, path: Path, deed: Any) -> None:
        if not isinstance(wanted, dict):
            self.report.at_value(path, "a table of arrows by id is needed here")
            return
        for ident, members in wanted.items():
            found = self.arrow(ident, (*path, ident))
            if found is not None and isinstance(members, dict):
                deed(found.node, members, (*path, ident), ("arrow", ident))
            elif found is not None:
                self.report.at_value((*path, ident), "a table is needed here")

    def _closed(self, there: Path, here: Path) -> bool:
        """Say so where a change or an addition reaches for what only other words may touch."""
        if len(there) == 1 and there[0] in HEAD:
            own = "write it at the top of this file" if there[0] not in ("made_from", "format") else "leave it out"
            self.report.at_key(here, f"`{there[0]}` is each file's own", todo=own)
        elif there[-1] == "go" and isinstance(self._at(here), dict):
            self.report.at_key(
                here, "arrows are named by their ids, never by place", todo="write it under change.arrow.ID"
            )
        elif there[-1] == "go" and here[0] == "change":
            todo = "change one by change.arrow.ID, bring a new one by insert, take one away by remove"
            self.report.at_key(here, "a whole list of arrows is never replaced", todo=todo)
        else:
            return False
        return True

    def _at(self, path: Path) -> Any:
        value: Any = self.data
        for part in path:
            value = value[part]
        return value

    # --- add ----------------------------------------------------------------------------------------------------------

    def _add(self, node: Node, wanted: dict[str, Any], path: Path, at: Path) -> None:
        for key, value in wanted.items():
            here, there = (*path, key), (*at, key)
            if not at and key == "arrow":
                self._arrows(value, here, self._add)
            elif self._closed(there, here):
                continue
            elif _listed(there) and isinstance(value, dict):
                self._add_rows(node, key, value, here, there)
            elif key not in node.value:
                if at:
                    self._less(node, there, None, value, here)
                node.value[key] = planted(value, self.layer, here, "added")
            elif node.value[key].is_table and isinstance(value, dict):
                self._add(node.value[key], value, here, there)
            else:
                what = f"the base has `{_dotted(there)}` already: {_short(plain(node.value[key]))}"
                self.report.at_key(here, what, todo="what is there is changed under change")

    def _add_rows(self, node: Node, key: str, wanted: dict[str, Any], path: Path, at: Path) -> None:
        """New tables of a list, or new members of one that is there; a rule gets none in passing."""
        rows = node.value.setdefault(key, Node([], self.layer, path, "added"))
        if not rows.is_rows:  # an empty list is planted as a plain value
            rows.value = []
        for ident, members in wanted.items():
            here = (*path, ident)
            there = self._row(rows, key, ident)
            if not isinstance(members, dict):
                self.report.at_value(here, "a table is needed here")
            elif there is not None and key != "rule" and not members.keys() & there.value.keys():
                self._add(there, members, here, (*at, ident))
            elif there is not None:
                self.report.at_key(
                    here, f"the base has the {key} `{ident[:64]}` already", todo="give it an id of its own"
                )
            else:
                row = planted(members, self.layer, here, "added")
                if BY_ID[key] == ("id",):
                    row.value = {"id": Node(ident, self.layer, here), **row.value}
                elif _ident(row, BY_ID[key]) != ident:
                    self.report.at_key(
                        here, f"the fault's id in it is not `{ident[:64]}`", todo="write the same id twice"
                    )
                rows.value.append(row)

    # --- insert, relax, remove ----------------------------------------------------------------------------------------

    def _insert(self, index: int) -> None:
        wanted, path = self.overlay.insert[index], ("insert", index)
        arrow = self.data["insert"][index]["arrow"]
        if bool(wanted.before) == bool(wanted.after):
            self.report.at_key(path, "an insertion names one arrow: before or after", todo="keep one of the two")
            return
        side = "before" if wanted.before else "after"
        found = self.arrow(wanted.before or wanted.after, (*path, side))
        ident = arrow.get("id", "")
        if not isinstance(ident, str) or not ident:
            self.report.at_key((*path, "arrow"), "an inserted arrow needs an id", todo="add id = …")
        elif any(each.id == ident for each in arrows_in(self.root)):
            self.report.at_value(
                (*path, "arrow", "id"), f"an arrow `{ident[:64]}` is there already", todo="choose another id"
            )
        elif found is not None:
            new = planted(arrow, self.layer, (*path, "arrow"), f"inserted {side} {found.id}")
            found.rows.insert(found.place + (side == "after"), new)

    def _relax(self) -> None:
        for ident, relax in self.overlay.relax.get("rule", {}).items():
            path: Path = ("relax", "rule", ident)
            rules = self.root.value.get("rule")
            row = self._row(rows := rules, "rule", ident) if rules is not None else None
            if row is None:
                known = (
                    [_ident(each, BY_ID["rule"]) for each in rows.value] if rows is not None and rows.is_rows else []
                )
                self.report.at_key(
                    path, f"the base has no rule `{ident[:64]}`", nearest(ident, known), known_words(known)
                )
                continue
            if relax.was:
                self.report.at_key((*path, "was"), "`was` is filled in by the program", todo="leave it out")
            was = plain(row)
            if relax.to:
                for key, value in relax.to.items():
                    row.value[key] = planted(
                        value, self.layer, (*path, "to", key), f"relaxed: {one_line(relax.reason)}"
                    )
            else:
                rules.value.remove(row)
            held = self.root.value.setdefault("relax", Node({}, self.layer, ("relax",)))
            names = held.value.setdefault("rule", Node({}, self.layer, ("relax", "rule")))
            reason, to = relax.reason, relax.to
            if ident in names.value:  # relaxed further down already: what counts is the way from the first base to here
                before = plain(names.value[ident])
                was, reason = before["was"], f"{before['reason']} Then: {reason}"
                to = before.get("to", {}) | to if to else to
            told = {"reason": reason, "was": was} | ({"to": to} if to else {})
            names.value[ident] = planted(told, self.layer, path, "relaxed")

    def _remove(self, index: int) -> None:
        wanted, path = self.overlay.remove[index], ("remove", index)
        given = [
            (kind, getattr(wanted, kind)) for kind in (*KINDS, "step", "arrow", "finding") if getattr(wanted, kind)
        ]
        if len(given) != 1:
            todo = f"name it by one of {', '.join((*KINDS, 'step', 'arrow', 'finding'))}"
            self.report.at_key(path, "a removal names one thing", todo=todo)
            return
        kind, name = given[0]
        if wanted.member:
            self._remove_member(wanted, kind, name, path)
        elif kind == "arrow":
            found = self.arrow(name, (*path, "arrow"))
            if found is not None:
                del found.rows[found.place]
                self.removed.append((kind, found.id, path))
        else:
            holder, key = self._holder(kind, name)
            if holder is None:
                near = nearest(name, self._known(kind))
                self.report.at_value(
                    (*path, kind), f"the base has no {kind} `{name[:64]}`", near, "name one that is there"
                )
            else:
                if isinstance(holder.value, dict):
                    del holder.value[key]
                else:
                    holder.value.remove(key)
                self.removed.append((kind, name, path))

    def _remove_member(self, wanted: Removal, kind: str, name: str | Where, path: Path) -> None:
        node: Node | None
        if kind == "arrow":
            found = self.arrow(name, (*path, "arrow"))
            node = found.node if found is not None else None
        else:
            holder, key = self._holder(kind, str(name))
            node = holder.value[key] if holder is not None and isinstance(holder.value, dict) else key
        if node is None or not isinstance(node, Node) or wanted.member not in node.value:
            if node is not None or kind != "arrow":
                near = nearest(wanted.member, node.value) if isinstance(node, Node) else None
                what = f"the base has no `{wanted.member[:64]}` in that {kind}"
                self.report.at_value((*path, "member"), what, near, "name one that is there")
            return
        if wanted.member == "go":
            self.report.at_value((*path, "member"), "arrows are taken away one by one", todo="name each by arrow = …")
            return
        del node.value[wanted.member]
        self.removed.append((kind, f"{name}.{wanted.member}", path))

    def _holder(self, kind: str, name: str) -> tuple[Node | None, Any]:
        """The table or list that holds a thing of the base, and the key or row by which it does."""
        if kind == "step":
            tracks = self.root.value.get("track")
            for track in tracks.value.values() if tracks is not None else ():
                steps = track.value.get("step")
                if steps is not None and name in steps.value:
                    return steps, name
            return None, None
        if kind == "finding":
            rows = self.root.value.get("finding")
            row = self._row(rows, "finding", name) if rows is not None else None
            return (rows, row) if row is not None else (None, None)
        table = self.root.value.get(KINDS[kind])
        return (table, name) if table is not None and table.is_table and name in table.value else (None, None)

    def _known(self, kind: str) -> Iterable[str]:
        if kind == "step":
            tracks = self.root.value.get("track")
            return [
                step
                for track in (tracks.value.values() if tracks is not None else ())
                if "step" in track.value
                for step in track.value["step"].value
            ]
        table = self.root.value.get("finding" if kind == "finding" else KINDS[kind])
        if table is None:
            return []
        return list(table.value) if table.is_table else [_ident(row, ("id",)) for row in table.value]

    # --- the head -----------------------------------------------------------------------------------------------------

    def _head(self) -> None:
        """What the local file says of itself takes the place of what the base says of itself."""
        self.root.value.pop("approval", None)
        for key in ("id", "version", "title", "about", "approval"):
            if key in self.data:
                self.root.value[key] = planted(self.data[key], self.layer, (key,))
        if self.data.get("waive"):
            rows = self.root.value.setdefault("waive", Node([], self.layer, ("waive",)))
            rows.value = [*rows.value, *planted(self.data["waive"], self.layer, ("waive",)).value]
            for row in rows.value[-len(self.data["waive"]) :]:
                row.note = "added"


def _listed(at: Path) -> bool:
    """Whether a list of tables stands there that is addressed by the ids in it."""
    return at in (("rule",), ("finding",)) or (len(at) == 3 and at[0] == "inject" and at[2] == "forbidden")


def _fits(arrow: ArrowAt, wanted: Where) -> bool:
    return (
        wanted.on in arrow.on
        and wanted.step in ("", arrow.step)
        and wanted.track in ("", arrow.track)
        and wanted.when in (None, arrow.word("when"))
        and wanted.to in (None, arrow.word("to"))
    )


def _ident(row: Node, path: tuple[str, ...]) -> str:
    value: Any = plain(row)
    for key in path:
        value = value.get(key, "") if isinstance(value, dict) else ""
    return value if isinstance(value, str) else ""


def _dotted(path: Path) -> str:
    return ".".join(str(part)[:64] for part in path)


def _languages(node: Node) -> list[str]:
    """The languages of a wording; none where it is another kind of table."""
    texts = [key for key, item in node.value.items() if isinstance(item.value, str) and len(key) in (2, 3, 5, 6)]
    return texts if "en" in node.value and len(texts) == len(node.value) else []


def _said_anew(node: Node, wanted: dict[str, Any]) -> bool:
    """Whether a wording changes in one language at least."""
    return any(key in wanted and not _same(plain(node.value[key]), wanted[key]) for key in _languages(node))


def _same(old: Any, new: Any) -> bool:
    """Whether two plain values say the same; one name and a list of it do."""
    if type(old) is bool or type(new) is bool:
        return old is new
    listed = [value if isinstance(value, list) else [value] for value in (old, new)]
    return bool(listed[0] == listed[1])


def _short(value: Any) -> str:
    """A value as a comment shows it, on one line."""
    text = one_line(
        f'"{value}"' if isinstance(value, str) else str(value).lower() if type(value) is bool else str(value)
    )
    return text if len(text) <= 80 else f"{text[:79]}…"
