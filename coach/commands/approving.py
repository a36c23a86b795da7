"""Signing a protocol file, taking it back, and the sheet that an approver signs for."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.commands.words import (
    FINDINGS,
    FINE,
    Refused,
    complain,
    existing,
    may_write,
    remark,
    say,
    say_json,
    table,
    write_text,
)
from coach.cores import Workers
from coach.text import one_line

if TYPE_CHECKING:
    from coach.check.proof.verdicts import RuleVerdict
    from coach.log.used import Use
    from coach.protocol.model import Protocol, Status
    from coach.protocol.overlay import Effective

HEAD = ("learner", "day", "mode", "verdict", "assessor", "text", "drill")


def approve(
    path: Path,
    *,
    role: str,
    reason: str,
    effective: str,
    review_due: str,
    status: Status,
    json: bool = False,
    today: date | None = None,
) -> int:
    """Write an approval, or another state, into a protocol file; refused, with every reason, where it may not be. Of
    one that is withdrawn it is said which drills were made with it."""
    from coach.commands.lists import asks_for_protocol
    from coach.protocol.approval import approval_state
    from coach.protocol.approved import follow, keep, signed_before
    from coach.protocol.overlay import effective as whole_of
    from coach.protocol.problems import FileProblems
    from coach.protocol.reading import read_text
    from coach.protocol.signing import NotApproved, move_on, signed_otherwise
    from coach.protocol.signing import approve as signed

    path = existing(path).resolve()
    text, folder, day = read_text(path, str(path)), path.parent.parent, today or date.today()
    asks_for_protocol(path, text)
    _own(path)
    refusals: list[str] = []
    changed = ""
    try:
        if status == "approved":
            changed = signed(
                text,
                str(path),
                folder,
                role=role,
                reason=reason,
                effective_from=effective,
                review_due=review_due,
                today=day,
            )
        else:
            changed = move_on(text, str(path), folder, status=status, reason=reason, today=day, role=role)
        if status == "approved":
            whole = whole_of(text, str(path), folder)
            refusals += signed_otherwise(whole.protocol.version, whole.text, signed_before(whole.protocol.id))
    except NotApproved as refused:
        refusals += refused.reasons
    if status in ("approved", "checked") and not refusals:  # a proof takes its time: it comes last
        refusals += _unsound(path, text)
    if refusals:
        if json:
            say_json({"file": str(path), "written": False, "refused": refusals})
        for line in refusals:
            complain(line)
        remark(f"Nothing was written to {path}.")
        return FINDINGS
    _replace(path, changed)
    whole = whole_of(changed, str(path), folder)
    protocol = whole.protocol
    try:
        kept = keep(whole) if status == "approved" else follow(protocol)
        trouble = ""
    except (OSError, FileProblems) as problem:
        kept, trouble = None, f"The file is written, but no copy of it could be kept: {one_line(str(problem))}"
    told = _told(whole, kept) if status == "withdrawn" else None
    if json:
        document: dict[str, Any] = {
            "file": str(path),
            "written": True,
            "protocol": protocol.id,
            "version": protocol.version,
            "status": status,
            "stands": approval_state(protocol, whole.text, day).word,
            "signed_digest": protocol.approval.digest or None,
            "kept_as": None if kept is None else str(kept),
            "signed_with": list(_signed_too(protocol)) if status == "approved" else [],
        }
        say_json(document if told is None else document | told.as_dict())
    else:
        say(f"{path}: {protocol.id} {protocol.version} is {status}.")
        if status == "approved":
            say(f"Signed: {protocol.approval.digest}, in force from {effective}, review due {review_due}.")
            for line in _signed_too(protocol):
                say(line)
        if kept is not None:
            say(f"A copy of what was signed: {kept}")
        if told is not None:
            told.say()
    if trouble:
        remark(trouble)
    return FINE


def _own(path: Path) -> None:
    """Refuse a file that ships: it is a draft for everybody, and the next version of the program replaces it."""
    from coach.resources import data_dir, user_dir

    if path.is_relative_to(data_dir("protocols").resolve()):
        mine = user_dir() / "protocols" / "local" / path.name
        raise Refused(
            "ships with the program and is not signed in place: sign a local file of your own over it",
            where=str(path),
            todo=f"kneeside bench {path.parent.name}/{path.stem}, then O, begins one; then: kneeside approve {mine}",
        )


def _signed_too(protocol: Protocol) -> Iterator[str]:
    """What a signature accepts: rules of the base that are other here, and findings that are waived."""
    from coach.protocol.relaxing import relaxed_words, tightened

    for ident, relax in protocol.relaxed.items():
        how = "tightened" if tightened(relax) else "RELAXED"
        yield one_line(f"Signed with it, a rule {how}: {ident}: {relaxed_words(relax)}; reason: {relax.reason}")
    for waive in protocol.waive:
        place = f" at {waive.where}" if waive.where else ""
        yield one_line(f"Signed with it, a finding WAIVED: {waive.code}{place}; reason: {waive.reason}")


def _unsound(path: Path, text: str) -> list[str]:
    """Why the checker does not let this file pass, with each inject thrown alone too; what it cannot decide does not
    pass either."""
    from coach.check.whole import check_file
    from coach.commands.check import Meter

    with Meter(str(path)) as meter, Workers() as workers:
        found = check_file(text, str(path), folder=path.parent.parent, injects=1, progress=meter.tell, workers=workers)
    # how the present approval stands is what signing is about to change
    failing = [one for one in found.findings if one.counts and one.code != "approval"]
    said = [f"check: {one}" for one in failing]
    said += [
        f"check: the rule {rule.rule.id} is {rule.kind}"
        for rule in found.rules
        if rule.kind in ("not decided", "vacuous", "broken")
    ]
    if found.whole_graph is False:
        said.append("check: a limit was hit before all was known")
    return said


def _replace(path: Path, text: str) -> None:
    """Put ``text`` in the file's place in one go; its rights stay."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    aside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        aside.chmod(path.stat().st_mode & 0o7777)
        aside.replace(path)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise


# --- who must be told -------------------------------------------------------------------------------------------------


class _Told:
    """The drills made with a withdrawn protocol, as it stands or as it was signed, and those with other texts of it."""

    def __init__(self, uses: Sequence[Use], texts: Mapping[str, str], folders: Sequence[Path]) -> None:
        """``texts`` are the digests of the withdrawn texts with what each is, in words."""
        self.uses = [use for use in uses if use.digest in texts]
        self.others = [use for use in uses if use.digest not in texts]
        self.texts = texts
        self.folders = folders

    def as_dict(self) -> dict[str, Any]:
        """The drills as plain values, for JSON."""
        return {
            "texts": dict(self.texts),
            "tell": {
                "learners": sorted({use.learner for use in self.uses if use.learner}),
                "assessors": sorted({use.assessor for use in self.uses if use.assessor}),
                "drills": [use.as_dict() for use in self.uses],
            },
            "with_other_texts": [use.as_dict() for use in self.others],
            "looked_in": [str(folder) for folder in self.folders],
        }

    def say(self) -> None:
        """The drills for people: whom to tell first."""
        say()
        if self.uses:
            say("To be told, since these drills were made with it:")
            rows = _rows(self.uses, lambda use: f"{self.texts[use.digest]} ({use.digest[:12]})")
            say(table([HEAD, *rows]))
        else:
            say(f"No drill here was made with it ({', '.join(digest[:12] for digest in self.texts)}).")
        if self.others:
            say()
            say("Made with other texts of the same id, for you to judge:")
            rows = _rows(self.others, lambda use: f"{use.version}, {use.approval} ({use.digest[:12]})")
            say(table([HEAD, *rows]))
        for use in (*self.uses, *self.others):
            if use.trouble:
                say(f"Beyond its first line this log cannot be believed: {one_line(use.trouble)}")
        say()
        say(f"Only logs in {' and '.join(map(str, self.folders))} were looked at; other computers may hold more.")


def _rows(uses: Sequence[Use], beside: Callable[[Use], str]) -> Iterator[tuple[str, ...]]:
    """One drill a row, by learner and then by time."""
    ordered = sorted(uses, key=lambda use: (not use.learner, use.learner))
    for learner, drills in groupby(ordered, key=lambda use: use.learner):
        shown = learner or "nobody named"
        for use in drills:
            who = use.assessor or "not named"
            yield shown, use.wall[:10], use.mode, _verdict(use), who, beside(use), use.drill
            shown = ""


def _verdict(use: Use) -> str:
    from coach.debrief.signoff import IN_WORDS

    if use.trouble:
        return "not to be read"
    if not use.result:
        return "not signed off"
    said = next((words for result, words in IN_WORDS.items() if result == use.result), use.result)
    return f"{said}, signed by {use.signed_by} on {use.signed_on[:10]}"


def _told(whole: Effective, copy: Path | None) -> _Told:
    """``copy`` is what was signed, where that was kept: the file may have been changed since."""
    from coach.log.places import second_dir
    from coach.log.used import uses_of
    from coach.protocol.reading import digest, read_text
    from coach.settings import home_folder, read_settings

    second = second_dir()
    folders = [home_folder(read_settings()) / "drills", *([] if second is None else [second])]
    texts = {digest(whole.text).canonical: "as it stands"}
    if copy is not None:
        signed = digest(read_text(copy)).canonical
        texts[signed] = "as it stands and was signed" if signed in texts else "as it was signed"
    return _Told(uses_of(whole.protocol.id, folders), texts, folders)


def _pads_text(protocol: Protocol) -> str:
    from coach.protocol.library import NotFound, load_pads

    try:
        return load_pads(protocol.pads)[1] if protocol.pads else ""
    except NotFound:
        return ""


def _base(whole: Effective) -> Protocol | None:
    """What a local file stands over."""
    from coach.protocol.overlay import effective as whole_of

    nearest = whole.protocol.made_from[0].id if whole.protocol.made_from else ""
    for under in whole.under:
        if under.kind == "base" and under.id == nearest:
            return whole_of(under.text, str(under.path), under.path.absolute().parent.parent).protocol
    return None


# --- the sheet --------------------------------------------------------------------------------------------------------


def sheet(name: str, form: str, out: Path | None, proved: bool) -> int:
    """Print the approval sheet of a protocol, with the checker's verdicts unless they are not asked for."""
    from coach.check.approval.sheet import as_html, as_markdown
    from coach.check.approval.sheet import sheet as made
    from coach.check.whole import check_file
    from coach.commands.check import Meter
    from coach.commands.lists import protocol_file
    from coach.protocol.overlay import effective as whole_of

    path, own = protocol_file(name)
    if out is not None:
        may_write(out)  # a proof takes its time: it comes last
    whole = whole_of(own, str(path), path.absolute().parent.parent)
    protocol, text = whole.protocol, whole.text
    verdicts: dict[str, RuleVerdict] = {}
    if proved:
        with Meter(name) as meter, Workers() as workers:
            found = check_file(text, protocol.id, progress=meter.tell, workers=workers)
        verdicts = {one.rule.id: one for one in found.rules}
    page = made(protocol, text, verdicts, date.today(), _pads_text(protocol), _base(whole))
    drawn = as_html(page) if form == "html" else as_markdown(page)
    if out is None:
        say(drawn)
    else:
        write_text(out, f"{drawn}\n")
    return FINE
