"""The sentences of the page, shared by its forms. Each says no more than was keyed."""

from __future__ import annotations

from functools import partial
from itertools import accumulate

from coach.debrief.approvals import SIGNED
from coach.debrief.json_form import rate_verdict
from coach.debrief.page import Debrief
from coach.debrief.phrases import PARTS, in_step, moment, pause, percent, seconds
from coach.debrief.wording import approval, count, known, words
from coach.measure.episodes import Parts
from coach.measure.findings import Finding, Sentence
from coach.measure.gaps import Gap
from coach.measure.milestones import NAMES
from coach.measure.share import window_ms
from coach.measure.shocks import Shock
from coach.measure.targets import amount, bounds_text, title_of
from coach.text import one_line
from coach.units import clock


def head(page: Debrief) -> list[str]:
    """What was run, by whom and how it was counted, in a few lines."""
    say = partial(words, page.language)
    first = (page.of.title, page.scenario, known(page.language, "mode", page.mode), page.role)
    people = [say("drill", drill=page.name) if page.drill else ""]
    people.append(say("learner", learner=page.learner) if page.learner else "")
    people.append(say("attempt", attempt=page.attempt))
    people.append(say("assessor", assessor=page.assessor) if page.assessor else "")
    how = [known(page.language, "counting", page.counting), _unit(page), say("metronome") if page.metronome else ""]
    ended = known(page.language, "ended", page.happened.ended)
    how.append(say("ended:at", how=ended, at=clock(page.happened.end_e)))
    stands, *turned = approval(page.language, page.of.approval).split(", ")
    sound = page.of.approval.split(", ")[0] in SIGNED
    approved = ", ".join((stands if sound else stands.upper(), *map(str.upper, turned)))
    after = say("after", id=page.of.id, version=page.of.version, guidance=page.of.guidance)
    return [
        " · ".join(part for part in first if part),
        " · ".join(part for part in people if part),
        f"{after} · {approved}",
        " · ".join(part for part in how if part),
    ]


def _unit(page: Debrief) -> str:
    return words(page.language, f"unit:{page.unit}") if page.unit in ("floor", "laptop") else ""


def milestones(page: Debrief) -> list[tuple[str, str, str]]:
    """Name, moment and time from recognition of each milestone; one never reached says until when."""
    say = partial(words, page.language)
    found = page.measures.milestones
    why = known(page.language, "ended", page.happened.ended)
    lines = []
    for name in NAMES:
        at = found.reached[name]
        if at is None:
            lines.append((say(f"milestone:{name}"), say("not-reached", at=clock(found.end)), f"({why})"))
            continue
        since = found.from_recognition(name)
        after = ""
        if since is not None and name != "recognised":
            after = say("after-deciding" if since >= 0 else "before-deciding", time=seconds(abs(since)))
        lines.append((say(f"milestone:{name}"), moment(at), after))
    return lines


def share(page: Debrief) -> str:
    """The hands-on share, and what the same runs would give with stops for breaths only."""
    say = partial(words, page.language)
    on = page.measures.hands_on
    if on.unmarked:
        return say("share:unmarked")
    if on.share is None:
        return say("share:none")
    said = say("share", share=percent(on.share), window=seconds(window_ms(page.measures.windows)))
    if on.ceiling is not None and on.pace is not None and on.breath_gap is not None:
        pace, gap = f"{on.pace:.0f}", f"{on.breath_gap / 1000:g}"
        said += say("share:ceiling", ratio=on.ratio, pace=pace, ceiling=percent(on.ceiling), gap=gap)
        said += say("share:most") if on.at_limit else ""
        if on.own_ceiling is not None and on.own_gap is not None:
            said += say("share:own", ceiling=percent(on.own_ceiling), gap=pause(on.own_gap, page.beats))
        said += "."
    if not page.beats:
        said += say("share:marks")
    return said


def by_length(page: Debrief) -> list[Gap]:
    """The gaps that count, longest first."""
    return sorted((gap for gap in page.measures.gaps if gap.counted), key=lambda gap: (-gap.length, gap.start))


def parts_of(gap: Gap, beats: bool) -> list[tuple[str, int, str]]:
    """The parts of a gap around an analysis as they followed each other: id, ms, and the length as printed."""
    spent: list[tuple[str, int]] = [(name, _part(one, name)) for one in gap.sets for name in PARTS]
    printed = in_step(list(accumulate(length for _, length in spent)), beats)
    parts = [(name, length, said) for (name, length), said in zip(spent, printed, strict=True)]
    return [part for part in parts if not part[2].startswith("0.0 s")]


def _part(parts: Parts, name: str) -> int:
    return int(getattr(parts, name))


def causes(page: Debrief, gap: Gap) -> str:
    """What a gap was for."""
    return ", ".join(known(page.language, "cause", cause) for cause in gap.causes)


def gap_for(page: Debrief, gap: Gap) -> str:
    """What a gap was for, how one around an analysis was spent, and what lies in it that is nobody's."""
    say = partial(words, page.language)
    said = [causes(page, gap)]
    if gap.sets:
        parts = [f"{length} {say(f'part:{name}')}" for name, _, length in parts_of(gap, page.beats)]
        said[0] = say("parts", cause=said[0], parts=" + ".join(parts))
        if len(gap.sets) > 1:
            said.append(say("analyses", count=len(gap.sets)))
    if gap.spans:
        said.append(say("across", stops=", ".join(say(f"stop:{kind}") for kind in gap.spans)))
    if gap.open:
        said.append(say("to-the-end"))
    return "; ".join(said)


def shock(page: Debrief, one: Shock) -> str:
    """One shock with its pauses and the clear call."""
    say = partial(words, page.language)
    pre, post = in_step([one.pre or 0, (one.pre or 0) + (one.post or 0)], page.beats)
    before = say("shock:none-before") if one.pre is None else say("shock:before", time=pre)
    after = say("shock:none-after") if one.post is None else say("shock:after", time=post)
    if page.measures.hands_on.unmarked and one.pre is None and one.post is None:
        before, after = say("shock:unmarked-before"), say("shock:unmarked-after")
    together = "" if one.peri is None else say("shock:together", time=pause(one.peri, page.beats))
    clear = say("shock:no-clear")
    if one.clear_before is not None:
        clear = say("shock:clear", time=seconds(one.clear_before))
    return say("shock", before=before, after=after, together=together, clear=clear)


def shock_at(page: Debrief, one: Shock) -> str:
    """One shock as a sentence, its moment first."""
    return words(page.language, "shock:at", at=moment(one.at), said=shock(page, one))


def marked_touches(page: Debrief) -> tuple[int, ...]:
    """The lines of the touches that were marked from an analysis to its shock or verdict."""
    found = page.measures
    return tuple(
        event.seq
        for event in found.floor.events
        if event.name == "touch" and any(one.start <= event.e <= one.last for one in found.episodes)
    )


def looked_for_touches(page: Debrief) -> tuple[int, ...]:
    """The lines of those touches; where there are none, of each analysis and of its shock or verdict."""
    marks = (mark for one in page.measures.episodes for mark in (one.begins, one.verdict, one.shock))
    return marked_touches(page) or tuple(mark.seq for mark in marks if mark is not None)


def touches(page: Debrief) -> str:
    """What touches were marked from an analysis to its shock or verdict."""
    if not page.measures.episodes:
        return words(page.language, "touch:none-keyed")
    marked = len(marked_touches(page))
    said = count(page.language, "touch:count", marked) if marked else words(page.language, "touch:none")
    return words(page.language, "touch", touches=said)


def rate(page: Debrief) -> str:
    """The rate with how sure it is."""
    say = partial(words, page.language)
    found, rate = page.measures, page.measures.rate
    if rate is None:
        return say("rate:none")
    what = "run" if page.beats else "probe"
    over = say(f"rate:{what}")
    if rate.runs > 1:
        over = say(f"rate:{what}s", low=f"{rate.low:.0f}", high=f"{rate.high:.0f}", runs=rate.runs)
    said = say("rate", median=f"{rate.median:.0f}", plus_minus=f"{rate.plus_minus:.1f}", over=over)
    verdict = rate_verdict(page)
    if verdict is not None and found.band is not None:
        said += say(f"rate:{verdict}", low=f"{found.band[0]:.0f}", high=f"{found.band[1]:.0f}")
    if rate.in_band is not None:
        said += say("rate:means", inside=round(rate.in_band * rate.windows), windows=rate.windows)
    return said + "."


RUNS_SHOWN = 16
"""Runs whose shape is written out."""


def shape(page: Debrief) -> str:
    """Compressions and breaths by run; empty where there was none."""
    found = page.measures
    if found.seen is not None:
        inferred = words(page.language, "beats:inferred", count=found.inferred) if found.inferred else ""
        shown = " ".join(
            f"{run.count}" + (f"+{run.breaths_after}" if run.breaths_after else "") for run in found.runs[:RUNS_SHOWN]
        )
        more = " …" if len(found.runs) > RUNS_SHOWN else ""
        return words(page.language, "beats", seen=found.seen, inferred=inferred, shape=shown, more=more)
    if found.runs:
        breaths = " ".join(str(run.breaths_after) for run in found.runs[:RUNS_SHOWN])
        return count(page.language, "runs", len(found.runs), breaths=breaths)
    return ""


def periods(page: Debrief) -> list[str]:
    """From hands back on after one analysis to the next."""
    return [
        words(
            page.language,
            "period",
            length=clock(period.length),
            cut=words(page.language, "period:cut") if period.cut else "",
        )
        for period in page.measures.periods
    ]


def rhythm(page: Debrief) -> list[str]:
    """The rate with how sure it is, the shape of the runs, and the periods."""
    return [said for said in (rate(page), shape(page), *periods(page)) if said]


def by_eye(page: Debrief) -> list[str]:
    """Impressions, in words and counts of looks only."""
    if not page.looks:
        return [words(page.language, "eye:none")]
    return [
        count(
            page.language,
            "eye:concern" if one.concern else "eye:looked",
            one.looked,
            target=known(page.language, "look", one.target),
            concern=one.concern,
            looked=one.looked,
        )
        for one in page.looks
    ]


def at_the_limit(page: Debrief) -> list[str]:
    """The values that are past a limit by no more than their uncertainty: no findings, but said."""
    said = []
    for one in page.judgement.judged:
        if one.verdict == "at the limit":
            said.append(
                words(
                    page.language,
                    "target" if one.reading.at is None else "target:at",
                    target=title_of(one.target, page.language),
                    at=moment(one.reading.at),
                    amount=amount(one.reading.value, one.quantity),
                    limit=bounds_text(one.low, one.high, one.quantity),
                )
            )
    return said


def finding(page: Debrief, one: Finding) -> str:
    """How grave, when, what."""
    severity = words(page.language, f"severity:{one.severity}")
    if one.at is None:
        return words(page.language, "finding", severity=severity, say=one.say)
    return words(page.language, "finding:at", severity=severity, at=moment(one.at), say=one.say)


STATUSES = (
    "omitted",
    "out of order",
    "prompted",
    "cued",
    "independent",
    "not observed",
    "not reached",
    "not applicable",
)


def steps(page: Debrief) -> list[tuple[str, str]]:
    """For each status that occurs, the steps that have it, with their moments."""
    lines = []
    for status in STATUSES:
        named = [
            step.title if step.at is None else f"{moment(step.at)} {step.title}"
            for step in page.measures.steps
            if step.status == status
        ]
        if named:
            lines.append((words(page.language, f"status:{status}"), "; ".join(named)))
    return lines


def one_thing(page: Debrief) -> str:
    """The one thing to do, where the protocol says that, else what was seen; or the strength to keep."""
    thing = page.judgement.one_thing
    return (thing.again or thing.say) if thing.finding else words(page.language, "one:keep", say=thing.say)


def one_seen(page: Debrief) -> str:
    """What was seen that makes it the one thing; empty where the one thing itself says that."""
    thing = page.judgement.one_thing
    return thing.say if thing.finding and thing.again else ""


def handover(page: Debrief) -> str:
    """What of the handover was said, and what was not."""
    told = page.judgement.handover
    missing = ", ".join(words(page.language, f"item:{item}") for item in told.missing)
    said = words(page.language, "handover", said=len(told.said), total=len(told.said) + len(told.missing))
    return said + (words(page.language, "handover:missing", missing=missing) if missing else ".")


def record(page: Debrief) -> str:
    """What was changed by hand in the record."""
    changed = page.adjusted
    numbers = {
        "voided": len(changed.voided),
        "moved": len(changed.nudged),
        "added": len(changed.added_later),
        "dropped": changed.dropped,
    }
    said = [count(page.language, f"record:{what}", number) for what, number in numbers.items() if number]
    for stop in page.happened.breaks:
        kind = words(page.language, f"stop:{stop.kind}")
        said.append(
            words(page.language, "record:stop", stop=kind, at=clock(stop.e), length=clock(stop.t_to - stop.t_from))
        )
    return words(page.language, "record", changes="; ".join(said) or words(page.language, "record:nothing"))


def pads(page: Debrief) -> str:
    """The pads decision in words; empty where there is none."""
    chosen = page.pads
    if chosen is None:
        return ""
    placement = words(page.language, f"place:{chosen.placement or ''}")
    said = words(page.language, f"pads:{chosen.size or 'none'}", placement=placement, why=chosen.why)
    return words(page.language, "pads", said=said)


def signoff(page: Debrief) -> list[Sentence]:
    """What the rule says of the drill, and what that rests on; nothing where no rule was asked."""
    verdict = page.verdict
    if verdict is None:
        return []
    say = partial(words, page.language)
    steps = [one for one in page.measures.steps if one.severity == "critical" and one.status != "not applicable"]
    if verdict.never:
        said = [Sentence(f"{say('sign:none')} {verdict.never}")]
    elif verdict.result is None:
        said = [Sentence(say("sign:open"))]
    else:
        said = [Sentence(say(f"sign:{verdict.result}", says=verdict.says).strip())]
    done = [one for one in steps if one.status == "independent"]
    unaided = tuple(seq for one in done for seq in one.events)
    said.append(Sentence(say("sign:critical", done=len(done), total=len(steps)), unaided))
    majors = [one for one in page.judgement.findings if one.severity == "major"] if verdict.result == "pass" else []
    if majors:
        rests = tuple(seq for one in majors for seq in one.events)
        said.append(Sentence(count(page.language, "sign:majors", len(majors)), rests))
    said += [Sentence(text, events) for text, events in zip(verdict.not_yet, verdict.rests, strict=True)]
    if verdict.confirm:
        asked = tuple(seq for one in verdict.confirm for seq in one.events)
        said.append(Sentence(count(page.language, "sign:confirm", len(verdict.confirm)), asked))
    said += [Sentence(say("sign:again", part=part)) for part in verdict.again]
    said += [Sentence(say("sign:reason", why=why)) for why in verdict.reason]
    return said


def signed(page: Debrief) -> str:
    """Who signed what; empty where nobody did."""
    one = page.happened.signed
    if one is None:
        return ""
    said = words(page.language, "signed", result=known(page.language, "result", one.result), who=one_line(one.who))
    return said + (words(page.language, "signed:reason", reason=one_line(one.reason)) if one.reason else "")
