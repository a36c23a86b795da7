"""A shipped protocol, broken in many ways: each is named at its line."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import NamedTuple

import pytest

from coach.check import findings
from coach.check.explain import CODES
from coach.check.findings import Finding
from coach.check.lint.file import Linted, failing, lint
from coach.protocol.approval import approval_digest
from coach.protocol.model import Approval
from coach.protocol.problems import FileProblems

SHIPPED = sorted((Path(__file__).parents[2] / "protocols").glob("*-*/[!p]*.toml"))
BASE = next(path for path in SHIPPED if path.parts[-2:] == ("erc-2025", "adult-one-rescuer.toml"))
TEXT = BASE.read_text(encoding="utf-8")
TODAY = date(2026, 11, 25)
SECOND_PAD = TEXT[TEXT.index("[[track.unit.step.second_pad.go]]") : TEXT.index("[track.unit.step.other_pad]")]


def linted(text: str, today: date = TODAY) -> Linted:
    return lint(text, "file.toml", today=today)


def changed(old: str, new: str, text: str = TEXT) -> str:
    """The text with the first place of ``old`` changed; there must be one."""
    assert old in text, old
    return text.replace(old, new, 1)


def line_of(text: str, part: str) -> int:
    """The line on which a part of a text begins."""
    return text[: text.index(part)].count("\n") + 1


def found(text: str, code: str, today: date = TODAY) -> list[Finding]:
    return [one for one in linted(text, today).findings if one.code == code]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: "/".join(path.parts[-2:]))
def test_no_shipped_protocol_draws_a_finding(path: Path) -> None:
    every = lint(path.read_text(encoding="utf-8"), str(path), today=TODAY).findings
    assert [str(one) for one in every if not one.waived] == []


class Slip(NamedTuple):
    """What an author did, the code that names it, a part of the changed text on the line that is named, and words that
    the finding or its witness must hold."""

    code: str
    old: str
    new: str
    line: str
    words: str


SLIPS = {
    "a step misspelt": Slip(
        "unknown-name", 'to = "two_breaths"', 'to = "two_breath"', 'to = "two_breath"', "two_breath"
    ),
    "a key misspelt": Slip(
        "unknown-name", 'severity = "minor"\nwithin', 'severty = "minor"\nwithin', "severty", "severity"
    ),
    "a time without its unit": Slip(
        "bad-file", 'severity = "minor"\nwithin = "10 s"', 'severity = "minor"\nwithin = 10', "within = 10\n", '"10 s"'
    ),
    "a step that nothing enters": Slip(
        "unreachable-step",
        'on = "timer:period"\nto = "period_over"\n\n# The instructor cuts the two minutes short, so that a class of '
        'twelve sees the next check too.\n[[track.period.step.period_runs.go]]\non = "period_cut"\n'
        'stop = ["period", "period_warning"]\nto = "period_over"',
        'on = "timer:period"\nto = "no_period"\n\n[[track.period.step.period_runs.go]]\non = "period_cut"\n'
        'stop = ["period", "period_warning"]\nto = "no_period"',
        "[track.period.step.period_over]",
        "by no arrow at all",
    ),
    "a step without an exit": Slip(
        "dead-end",
        'go = [{ on = "crew_arrived", to = "crew_beside" }]\n\n[track.crew.step.crew_beside]',
        'go = [{ on = "crew_arrived", to = "lost" }]\n\n[track.crew.step.lost]\nsource = "common"\n\n'
        "[track.crew.step.crew_beside]",
        "[track.crew.step.lost]",
        "nothing leads out",
    ),
    "an exit for some facts only": Slip(
        "missing-exit",
        'go = [{ on = "handover", to = "handing_over" }]',
        'go = [{ on = "handover", when = "weight < 100 kg", to = "handing_over" }]',
        "[track.crew.step.crew_beside]",
        "weight 100 kg",
    ),
    "a step deaf to its own deed": Slip(
        "done-unheard",
        'done = ["compression", "hands_placed"]\nseverity = "major"',
        'done = "swapped"\nseverity = "major"',
        'done = "swapped"',
        "swapped",
    ),
    "a guard that contradicts itself": Slip(
        "guard-never",
        'when = "not called"\nmark = "called"\nstop',
        'when = "not called and called"\nmark = "called"\nstop',
        '"not called and called"',
        "can never hold",
    ),
    "a number outside of the fact": Slip(
        "guard-never",
        'when = "bystander and not sent"',
        'when = "age < 8 years and not sent"',
        '"age < 8 years',
        "age < 8 years",
    ),
    "an arrow behind one that takes all": Slip(
        "guard-never",
        'id = "shock-clear"\non = ["shock_pressed", "shock_delivered"]\nwhen = "clear_said"',
        'id = "shock-clear"\non = ["shock_pressed", "shock_delivered"]',
        'on = ["shock_pressed", "shock_delivered"]\nwhen = "touched"',
        "those before it take every case",
    ),
    "or for and": Slip(
        "guard-always",
        'when = "bystander and not sent"',
        'when = "sent or not sent"',
        '"sent or not sent"',
        "always holds",
    ),
    "a gap at the border": Slip(
        "guard-gap",
        SECOND_PAD,
        'go = [\n  { on = "pad_left", when = "weight < 25 kg", to = "unit_ready" },\n'
        '  { on = "pad_left", when = "weight > 25 kg or unknown(weight)", to = "other_pad" },\n]\n\n',
        '"weight > 25 kg or unknown(weight)"',
        "weight 25 kg",
    ),
    "an overlap": Slip(
        "guard-overlap",
        '  { on = "pad_left", to = "other_pad" },\n]',
        '  { on = "pad_left", when = "rescuers <= 2", to = "second_pad" },\n'
        '  { on = "pad_left", when = "rescuers >= 2", to = "other_pad" },\n]',
        '"rescuers >= 2"',
        "rescuers 2",
    ),
    "a fact that may be unknown": Slip(
        "reads-unknown",
        'when = "bystander and not sent"',
        'when = "age >= 60 years and not sent"',
        '"age >= 60 years',
        "age",
    ),
    "a timer that nothing starts": Slip(
        "timer-never-started", 'restart = "remind_back"\n', "", "remind_back = {", "never started"
    ),
    "a timer that nothing hears": Slip(
        "timer-unhandled",
        'on = "timer:remind_back"\ncue',
        'on = "swapped"\ncue',
        "remind_back = {",
        "nothing waits",
    ),
    "two timers at once": Slip(
        "timer-tie",
        'on = "timer:period"\nto = "period_over"',
        'on = "timer:period"\nto = "period_over"\n\n[[track.period.step.period_runs.go]]\non = "timer:unit_period"\n'
        'to = "no_period"\n\n[[track.period.step.no_period.go]]\non = "period_cut"\n'
        'restart = ["period", "unit_period"]\nto = "period_runs"',
        "[[track.period.step.no_period.go]]",
        "same millisecond",
    ),
    "a timer left running": Slip(
        "timer-leak",
        'when = "not in_step(period, no_period)"\nstop = ["period", "period_warning"]',
        'when = "not in_step(period, no_period)"\nstop = "period"',
        '[[track.period.go]]\non = ["analysis_begins"',
        "period_warning",
    ),
    "a reminder without end": Slip(
        "endless-reminder",
        'remind_start = { after = "10 s", every = "5 s", most = 6,',
        'remind_start = { after = "10 s", every = "5 s",',
        "remind_start = {",
        "without end",
    ),
    "a reminder faster than speech": Slip(
        "reminder-shorter-than-its-speech",
        'remind_start = { after = "10 s", every = "5 s"',
        'remind_start = { after = "10 s", every = "2 s"',
        "remind_start = {",
        "words take 2.8 s",
    ),
    "a reminder that starts itself": Slip(
        "zero-time-loop",
        'cue = { en = "Hands off too long: push now.", es = "Demasiado sin manos: comprime ya." }',
        'cue = { en = "Hands off too long: push now.", es = "Demasiado sin manos: comprime ya." }\n'
        'restart = "remind_hands"',
        '[[track.reminders.go]]\non = "timer:remind_hands"\nwhen = "not unit_reads and not alive and not '
        'hands_return"\ncue',
        "due at once",
    ),
    "a share out of reach": Slip(
        "unattainable-target",
        "hands_on_share = { from = 60,",
        "hands_on_share = { from = 80,",
        "hands_on_share = {",
        "it can reach 76%",
    ),
    "a target upside down": Slip(
        "target-empty",
        "compression_rate = { from = 100, to = 120,",
        "compression_rate = { from = 120, to = 100,",
        "compression_rate = {",
        "120",
    ),
    "cycles for minutes": Slip(
        "cycle-arithmetic",
        '"Two minutes of pushing"',
        '"Two minutes, 5 cycles"',
        '"Two minutes, 5 cycles"',
        "last 104 s, not 120",
    ),
    "pounds for kilograms": Slip(
        "unit-plausible",
        'when = "bystander and not sent"',
        'when = "weight < 55 kg and not sent"',
        '"weight < 55 kg',
        "25 kg read in pounds",
    ),
    "months for years": Slip(
        "unit-plausible", "to = 110\ndefault = 60", "to = 1320\ndefault = 60", "to = 1320", "months"
    ),
    "milliseconds for seconds": Slip(
        "unit-plausible", 'settle = { after = "2 s"', 'settle = { after = "2 ms"', "settle = {", "2 ms"
    ),
    "depth as a criterion": Slip(
        "by-eye-criterion",
        'over = { target = "breath_gap" }',
        'over = { target = "depth" }',
        'target = "depth"',
        "depth",
    ),
    "a pass by eye": Slip("by-eye-criterion", 'by_eye = "never"', 'by_eye = "impression"', "by_eye", "eye"),
    "a finding without its target": Slip(
        "finding-idle",
        'over = { target = "breath_gap" }',
        'over = { target = "breath_gaps" }',
        "breath_gaps",
        "breath_gap",
    ),
    "a number without source": Slip(
        "no-source",
        'concern = { after = "15 s", every = "15 s", most = 2, source = "common" }',
        'concern = { after = "15 s", every = "15 s", most = 2 }',
        "concern = {",
        "concern",
    ),
    "a source long unseen": Slip(
        "stale-source",
        'grade = "second-hand"\nchecked = "2026-11-25"',
        'grade = "second-hand"\nchecked = "2021-01-01"',
        'checked = "2021-01-01"',
        "2021-01-01",
    ),
    "a cue too long": Slip(
        "cue-too-long",
        'en = "Speak up and rock both shoulders."',
        'en = "Speak up, speak clearly, and then please rock both of the shoulders."',
        "Speak up, speak clearly",
        "12 words",
    ),
    "a language left out": Slip(
        "translation-missing",
        'late_cue = { en = "Enough: no answer is an answer.", es = "Basta: si no contesta, ya lo sabes." }',
        'late_cue = { en = "Enough: no answer is an answer." }',
        "Enough: no answer",
        "`es`",
    ),
    "a language that the title forgets": Slip(
        "translation-missing",
        'en = "Adult, one rescuer"\nes = "Adulto, un reanimador"\n',
        'en = "Adult, one rescuer"\n',
        "[title]",
        "the title has no text in `es`",
    ),
    "thirty in one language, fifteen in the other": Slip(
        "number-differs-between-languages",
        "Van treinta: ",
        "Van quince: ",
        "Van quince",
        "30",
    ),
    "a promise": Slip(
        "promise",
        'en = "Push again now, two more',
        'en = "You save lives: back, two more',
        "save lives",
        "save lives",
    ),
    "two negations": Slip(
        "double-negative",
        'en = "No pushes yet: hands on the chest."',
        'en = "Do not leave it without pushing."',
        "Do not leave",
        "negates twice",
    ),
    "clear beside shock": Slip(
        "key-conflict",
        "[observations.mouth_cleared]",
        '[keys]\n"\'" = "clear_called"\n\n[observations.mouth_cleared]',
        '"\'" = ',
        "neighbours",
    ),
    "one key, two meanings": Slip(
        "key-conflict",
        'by = "learner"\n\n# ====',
        'by = "learner"\nkey = "b"\n\n# ====',
        'key = "b"',
        "would mean both",
    ),
    "an inject without a deadline": Slip(
        "inject-without-deadline",
        'allowed = ["helper_sent", "call_made"]\nwithin = "30 s"\n',
        'allowed = ["helper_sent", "call_made"]\n',
        "[inject.helper_here]",
        "no deadline",
    ),
    "a mark that nobody reads": Slip(
        "mark-unused",
        'when = "breaths and pushes == 29"\n',
        'when = "breaths and pushes == 29"\nmark = "thirty"\n',
        'mark = "thirty"',
        "thirty",
    ),
    "a counter that stays nought": Slip(
        "counter-unused", "shocks = { max = 12 }", "shocks = { max = 12 }\nlaps = { max = 3 }", "laps =", "laps"
    ),
    "a term of no use": Slip("term-unused", "[terms]\n", '[terms]\nsmall = "weight < 25 kg"\n', "small =", "small"),
    "an event that nobody hears": Slip(
        "emit-unheard", 'emit = "shock_lapsed"', 'emit = ["shock_lapsed", "shock_gone"]', '"shock_gone"', "shock_gone"
    ),
    "an observation that nobody can mark": Slip(
        "event-without-key",
        'by = "learner"\n\n[observations.oxygen_moved]',
        'by = "learner"\ntimed = true\n\n[observations.oxygen_moved]',
        "[observations.mouth_cleared]",
        "no key",
    ),
    "two tracks write one counter": Slip(
        "write-conflict",
        '[[track.count.go]]\non = "hands_on"',
        '[[track.count.go]]\non = "analysis_begins"\nadd = { analyses = 1 }\n\n[[track.count.go]]\non = "hands_on"',
        "analyses = 1 }\n\n[[track.count",
        "tracks",
    ),
    "an event that leads to itself": Slip(
        "zero-time-loop",
        '[[track.count.go]]\non = "hands_on"',
        '[[track.count.go]]\non = "echo"\nemit = "echo"\n\n[[track.count.go]]\non = "hands_on"',
        'emit = "echo"',
        "echo",
    ),
    "a rule that is no sentence": Slip(
        "bad-rule",
        'always_possible = { step = "handing_over" }',
        'never = { on = "hand_over" }',
        "hand_over",
        "hand_over",
    ),
    "signed by its author": Slip("approval", 'status = "draft"', 'status = "in-force"', 'digest = ""', "no signature"),
    "a waiver that covers nothing": Slip(
        "waive-unused",
        "[[finding]]",
        '[[waive]]\ncode = "cue-too-long"\nreason = "it was long"\n\n[[finding]]',
        "[[waive]]",
        "cue-too-long",
    ),
}


def names_it(slip: Slip) -> None:
    """The slip is named by its code, at its line, with its words, and the check fails."""
    text = changed(slip.old, slip.new)
    every = linted(text).findings
    mine = [one for one in every if one.code == slip.code]
    assert mine, [str(one) for one in every]
    line = line_of(text, slip.line)
    told = [one for one in mine if one.where.line == line]
    assert told, (line, [str(one) for one in mine])
    said = " ".join([told[0].what, told[0].help, *told[0].witness])
    assert slip.words in said
    assert told[0].level == CODES[slip.code].level
    assert told[0].where.column >= 1
    assert failing(every)


@pytest.mark.parametrize("slip", SLIPS.values(), ids=SLIPS.keys())
def test_each_slip_is_named_at_its_line(slip: Slip) -> None:
    names_it(slip)


def test_a_place_inside_a_guard_is_told_by_its_column() -> None:
    text = changed('when = "bystander and not sent"', 'when = "not sent and weight < 55 kg"')
    (one,) = found(text, "unit-plausible")
    line = text.split("\n")[one.where.line - 1]
    assert line[one.where.column - 1 :].startswith("55 kg")


def test_arithmetic_is_shown() -> None:
    (one,) = found(changed("hands_on_share = { from = 60,", "hands_on_share = { from = 80,"), "unattainable-target")
    assert one.what == "a share of 80% with 30:2 at 110/min and 5 s for the breaths: it can reach 76%"
    assert one.witness == ("a run lasts 29 x 60/110 = 15.8 s", "15.8 of every 20.8 s is 76%")


def test_a_waiver_with_a_reason_covers_its_finding_alone() -> None:
    text = changed("hands_on_share = { from = 60,", "hands_on_share = { from = 80,")
    waive = '[[waive]]\ncode = "unattainable-target"\nwhere = "hands_on_share"\nreason = "an aim for champions"\n\n'
    waived = linted(changed("[[finding]]", waive + "[[finding]]", text)).findings
    assert [(one.code, one.waived) for one in waived] == [("unattainable-target", "an aim for champions")]
    assert not failing(waived)
    elsewhere = changed(
        '"hands_on_share"\nreason', '"hands_off"\nreason', changed("[[finding]]", waive + "[[finding]]", text)
    )
    assert sorted(one.code for one in failing(linted(elsewhere).findings)) == ["unattainable-target", "waive-unused"]


@pytest.mark.parametrize("where", ["targets", "targets.hands_on_share", "hands_on_share", ""])
def test_a_waiver_names_a_thing_or_all_below_it(where: str) -> None:
    text = changed("hands_on_share = { from = 60,", "hands_on_share = { from = 80,")
    waive = f'[[waive]]\ncode = "unattainable-target"\nwhere = "{where}"\nreason = "an aim"\n\n'
    assert not failing(linted(changed("[[finding]]", waive + "[[finding]]", text)).findings)


@pytest.mark.parametrize("code", ["rule-broken", "vacuous-rule", "bad-rule"])
def test_a_rule_that_does_not_hold_cannot_be_waived(code: str) -> None:
    text = changed("[[finding]]", f'[[waive]]\ncode = "{code}"\nreason = "we know"\n\n[[finding]]')
    (said,) = failing(linted(text).findings)
    assert said.code == "waive-refused" and said.where.line == text[: text.index("[[waive]]")].count("\n") + 1


def test_a_waiver_without_a_reason_waives_nothing() -> None:
    text = changed("hands_on_share = { from = 60,", "hands_on_share = { from = 80,")
    waive = '[[waive]]\ncode = "unattainable-target"\nreason = " "\n\n'
    codes = [one.code for one in failing(linted(changed("[[finding]]", waive + "[[finding]]", text)).findings)]
    assert sorted(codes) == ["unattainable-target", "waive-without-reason"]


def signed(**more: str) -> str:
    """The shipped file, signed as it is but for ``more``."""
    fields = {"author": "protocol desk", "approver": "medical director", "approved_on": "2026-06-01"}
    fields |= {"effective": "2026-07-01", "review_due": "2027-06-01", **more}
    digest = approval_digest(TEXT, Approval(status="in-force", **fields))
    table = "".join(f'{key} = "{value}"\n' for key, value in {"status": "in-force", **fields, "digest": digest}.items())
    start = TEXT.index("[approval]\n")
    return TEXT[:start] + "[approval]\n" + table + TEXT[TEXT.index("\n\n", start) + 1 :]


def test_a_signature_that_holds_is_no_finding() -> None:
    assert linted(signed()).findings == ()


@pytest.mark.parametrize(
    ("text", "today", "words"),
    [
        (signed().replace('every = "5 s", most = 6,', 'every = "6 s", most = 6,', 1), TODAY, "changed since"),
        (signed(approver="Protocol desk"), TODAY, "its own author"),
        (signed(effective="2026-05-01"), TODAY, "before"),
        (signed(), date(2027, 6, 2), "review was due"),
        (signed(), date(2026, 1, 1), "lies ahead"),
    ],
)
def test_a_signature_that_does_not_hold(text: str, today: date, words: str) -> None:
    told = found(text, "approval", today)
    assert len(told) == 1
    assert words in told[0].what


def test_sources_grow_stale_with_the_years() -> None:
    assert not found(TEXT, "stale-source", date(2028, 11, 25))
    assert len(found(TEXT, "stale-source", date(2028, 11, 26))) == TEXT.count("\n[sources.")


def test_what_is_no_toml_is_no_finding_but_an_error() -> None:
    with pytest.raises(FileProblems):
        linted("a = = 1")


def test_every_code_has_its_help_and_is_reported_by_something() -> None:
    for code, about in CODES.items():
        assert about.level in ("error", "warning", "note")
        assert about.title.endswith(".") and about.help.endswith(".")
        assert len(about.help.split()) >= 8, code
    sources = "".join(path.read_text(encoding="utf-8") for path in Path(findings.__file__).parent.rglob("*.py"))
    unsaid = [code for code in CODES if sources.count(f'"{code}"') < 2]
    assert unsaid == []
