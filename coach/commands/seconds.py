"""Drills side by side: a second verdict, two assessors of one drill, one learner over their attempts."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.commands.words import FINE, Refused, remark, say, say_json, table, write_text

if TYPE_CHECKING:
    from coach.debrief.page import Debrief
    from coach.measure.agreement import Kappa, Times


def judge(path: Path, other: str, json: bool) -> int:
    """The log under its own protocol and under another one, side by side."""
    from coach.debrief.from_log import debrief_of
    from coach.debrief.json_form import as_dict
    from coach.debrief.second import judged_by
    from coach.log.reading import read_log
    from coach.protocol.library import load_protocol

    record = read_log(path)
    protocol, text = load_protocol(other)
    first, second = debrief_of(record), judged_by(record, protocol, text, date.today())
    if json:
        say_json({"first": as_dict(first), "second": as_dict(second)})
        return FINE
    say(
        table([("", f"{first.of.id} {first.of.version}", f"{second.of.id} {second.of.version}"), *_rows(first, second)])
    )
    say()
    say("The second stands beside the first, and neither takes the other's place. The learner was taught the first.")
    return FINE


def _rows(first: Debrief, second: Debrief) -> list[tuple[str, str, str]]:
    rows = [("verdict", _verdict(first), _verdict(second))]
    statuses = [{step.id: step.status for step in page.measures.steps} for page in (first, second)]
    titles = {step.id: step.title for page in (second, first) for step in page.measures.steps}
    for ident in dict.fromkeys((*statuses[0], *statuses[1])):
        then, now = (known.get(ident, "-") for known in statuses)
        if then != now:
            rows.append((titles[ident], then, now))
    found = [{one.id: one for one in page.judgement.findings} for page in (first, second)]
    for ident in dict.fromkeys((*found[0], *found[1])):
        one = found[0].get(ident) or found[1][ident]
        marks = ["-" if ident not in known else known[ident].severity for known in found]
        rows.append((one.say, marks[0], marks[1]))
    return rows


def _verdict(page: Debrief) -> str:
    from coach.debrief.signoff import IN_WORDS

    verdict = page.verdict
    if verdict is None:
        return "-"
    if verdict.result is not None:
        return IN_WORDS[verdict.result]
    return "open" if verdict.confirm or verdict.again or verdict.reason else "none"


def agree(one: Path, other: Path, json: bool) -> int:
    """Two assessors of one drill: times, steps, kappa."""
    from coach.debrief.from_log import debrief_of
    from coach.debrief.second import agreement
    from coach.log.reading import read_log

    first, second = (debrief_of(read_log(path)) for path in (one, other))
    if first.drill == second.drill and one.resolve() == other.resolve():
        raise Refused("the same log twice says nothing of agreement", where=str(one), todo="Name the other assessor's.")
    if first.of.id != second.of.id:
        raise Refused(f"{first.of.id} and {second.of.id} are not one drill", todo="Compare two logs of one drill.")
    if first.learner != second.learner:
        remark(f"Two learners, {first.learner} and {second.learner}: is this one drill?")
    found = agreement(first, second)
    if json:
        say_json(_as_json(asdict(found), found.times))
        return FINE
    say(table([("", first.assessor or one.name, second.assessor or other.name), *_step_rows(found.differ, first)]))
    say()
    cells = found.table
    say(
        f"Steps  both saw {cells.both}, only the first {cells.first}, only the second {cells.second}, "
        f"neither {cells.neither}"
    )
    if found.agreed is not None:
        low, high = found.agreed
        share = cells.agreed / cells.cases
        say(f"Agreed {share:.0%} of {cells.cases} (95 %: {low:.0%} to {high:.0%})")
    if found.kappa is not None:
        say(_kappa(found.kappa, cells.cases))
    say(_times(found.times))
    if found.pushes[0] is not None and found.pushes[1] is not None:
        say(f"Pushes {found.pushes[0]} and {found.pushes[1]}")
    return FINE


def _step_rows(differ: tuple[tuple[str, str, str], ...], page: Debrief) -> list[tuple[str, str, str]]:
    titles = {step.id: step.title for step in page.measures.steps}
    return [(titles.get(ident, ident), then, now) for ident, then, now in differ] or [("every step alike", "", "")]


def _kappa(found: Kappa, cases: int) -> str:
    kappa = "not defined (all alike)" if found.kappa is None else f"{found.kappa:.2f}, standard error {found.error:.2f}"
    said = f"Kappa  {kappa}; adjusted for prevalence and bias {found.adjusted:.2f}"
    return f"{said}. Under 20 cases these are unstable: look at the table ({cases})." if found.unstable else f"{said}."


def _times(times: Times | None) -> str:
    if times is None:
        return "Times  no mark was made by both"
    said = f"Times  {len(times.pairs)} marks by both; the second {times.offset / 1000:+.1f} s in the median"
    if times.low is not None and times.high is not None:
        said += f", 95 % from {times.low / 1000:+.1f} to {times.high / 1000:+.1f} s"
    alone = len(times.only_first) + len(times.only_second)
    return said + (f"; {alone} by one only" if alone else "")


def _as_json(table: dict[str, Any], times: Times | None) -> dict[str, Any]:
    if times is not None:
        table["times"]["pairs"] = [{**asdict(pair), "apart": pair.apart} for pair in times.pairs]
    return table


def progress(learner: str, folder: Path | None, page: Path | None, language: str, json: bool) -> int:
    """One learner over their attempts: a small chart, and a page of it where one is asked for."""
    from coach.debrief.progress import as_dict, as_lines, progress_of, still_aided
    from coach.debrief.wording import count, words
    from coach.log.places import second_dir
    from coach.settings import home_folder, read_settings

    settings = read_settings()
    spoken = language or settings.language
    second = second_dir()
    own = [home_folder(settings) / "drills", *([] if second is None else [second])]
    folders = own if folder is None else [folder]
    attempts, problems = progress_of(learner, folders, spoken)
    for problem in problems:
        remark(problem)
    if page is not None and attempts:
        from coach.debrief.progress_form import as_html

        write_text(page, as_html(learner, attempts, spoken))
    if json:
        say_json(as_dict(learner, attempts))
        return FINE
    if not attempts:
        say(f"No drill of learner {learner} is here.")
        return FINE
    say(f"{words(spoken, 'learner', learner=learner).capitalize()}, {count(spoken, 'progress:drills', len(attempts))}")
    say(words(spoken, "progress:what"))
    for line in as_lines(attempts, spoken):
        say(line)
    aided = still_aided(attempts)
    say(words(spoken, "progress:still", steps="; ".join(aided)) if aided else words(spoken, "progress:none"))
    if page is not None:
        say(str(page))
    return FINE
