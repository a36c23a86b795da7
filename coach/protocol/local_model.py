"""What stands in a local file over a base and in a part: differences only, each by id, as their authors write them.

:mod:`coach.protocol.overlay` makes the protocol in force of them, which is a :class:`coach.protocol.model.Protocol`.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from coach.protocol.model import Approval, Authored, Line, Pin, Reason, Relax, Waive, Wording


class Where(Authored):
    """An arrow that has no id of its own, told by where it stands and what it waits for; one arrow must fit."""

    track: str = ""
    step: str = ""
    on: str
    when: str | None = None
    to: str | None = None


class Removal(Authored):
    """One thing of the base that a local file takes away, named by its kind and id, with the reason.

    ``member`` takes one member of the thing away instead of the whole thing.
    """

    reason: Reason
    source: str = ""
    fact: str = ""
    counter: str = ""
    term: str = ""
    timer: str = ""
    target: str = ""
    observation: str = ""
    key: str = ""
    track: str = ""
    step: str = ""
    arrow: str | Where = ""
    inject: str = ""
    finding: str = ""
    member: str = ""


class Insertion(Authored):
    """A new arrow of a local file, to be tried directly before or after one of the base."""

    before: str | Where = ""
    after: str | Where = ""
    arrow: dict[str, Any]


class Part(Authored):
    """Differences that several local files share, each by id: laid over a base by the files that name it."""

    format: Literal[1]
    id: str
    version: Line
    title: Wording = Field(default={})
    about: Wording = Field(default={})
    change: dict[str, Any] = Field(default={})
    add: dict[str, Any] = Field(default={})
    remove: list[Removal] = Field(default=[])
    insert: list[Insertion] = Field(default=[])
    relax: dict[Literal["rule"], dict[str, Relax]] = Field(default={})


class Overlay(Part):
    """A local file over a base, as its author writes it: only differences, each by id, under ``change`` (must be
    there), ``add`` (must not), ``remove``, ``insert`` and ``relax``. In force is the base, then the parts that ``with``
    names in their order, then the file itself; `kneeside flatten` prints it."""

    approval: Approval = Approval()
    extends: Pin
    with_: list[Pin] = Field(default=[], alias="with")
    waive: list[Waive] = Field(default=[])
