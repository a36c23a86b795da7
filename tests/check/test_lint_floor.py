"""What may not be graded so low, or left out so, that a grave mistake passes; findings that the debrief cannot make."""

from __future__ import annotations

import pytest

from coach.protocol.names import RESCUER_ROLES
from screens.briefing import ROLES
from tests.check.test_lint import TEXT, Slip, changed, found, line_of, names_it

CALL = 'done = "call_made"\nseverity = "critical"\n'
SHOCK = 'done = ["shock_pressed", "shock_delivered"]\nseverity = "critical"\n'
BEGIN = 'done = ["compression", "hands_placed"]\nseverity = "critical"\n'

SLIPS = {
    "a finding whose condition asks for what is gone": Slip(
        "finding-idle",
        'when = "not drowning"             # five',
        'when = "not called"             # five',
        'when = "not called"             # five',
        "asks for `called` after the drill",
    ),
    "a finding whose condition is misspelt": Slip(
        "finding-idle",
        'when = "not drowning"             # five',
        'when = "not drownig"             # five',
        'when = "not drownig"',
        "did you mean `drowning`?",
    ),
    "a finding that cites nobody": Slip(
        "unknown-name",
        'source = ["ilcor-bls", "training"]\n\n[[finding]]\nid = "hands-off-long"',
        'source = ["ilcor-blz", "training"]\n\n[[finding]]\nid = "hands-off-long"',
        'source = ["ilcor-blz", "training"]',
        "did you mean `ilcor-bls`?",
    ),
    "a finding about another target than its own": Slip(
        "finding-alike",
        'over = { target = "hands_off", owner = "rescuer" }',
        'over = { target = "breath_gap", owner = "rescuer" }',
        'over = { target = "breath_gap" }',
        "`breath-gap-long` judges `breath_gap` as `hands-off-long` does",
    ),
    "a finding for some about what is judged for all": Slip(
        "finding-alike",
        'over = { target = "start_after_recognition" }',
        'over = { target = "hands_off" }',
        'over = { target = "hands_off", owner = "rescuer" }',
        "`hands-off-long` judges `hands_off` as `start-late` does",
    ),
    "what never came, after no time at all": Slip(
        "finding-idle",
        'absent = { this = "breath", over = "60 s" }',
        'absent = { this = "breath", over = "60" }',
        'absent = { this = "breath", over = "60" }',
        "does not say after how much work",
    ),
    "what never came, misspelt": Slip(
        "finding-idle",
        'absent = { this = "breath"',
        'absent = { this = "breaht"',
        'absent = { this = "breaht"',
        "did you mean `breath`?",
    ),
    "a critical step that nobody need do": Slip(
        "critical-unjudged",
        'done = "clear_called"\nseverity = "critical"\n',
        'done = "clear_called"\nrequired = false\nseverity = "critical"\n',
        'required = false\nseverity = "critical"',
        "`say_clear` is critical",
    ),
    "a critical step that nothing does": Slip(
        "critical-unjudged",
        'done = "scene_checked"\nseverity = "major"',
        'severity = "critical"',
        "[track.rescuer.step.scene]",
        "no observation does it",
    ),
    "the call graded down": Slip(
        "severity-floor", CALL, CALL.replace("critical", "minor"), 'severity = "minor"', "is the call"
    ),
    "the call without a grade": Slip(
        "severity-floor", CALL, 'done = "call_made"\n', "[track.rescuer.step.call]", "leaving it out is major"
    ),
    "the clear call graded down": Slip(
        "severity-floor",
        'done = "clear_called"\nseverity = "critical"',
        'done = "clear_called"\nseverity = "major"',
        'severity = "major"\nwithin = "10 s"\nsource = ["common", "training"]',
        "is the clear call",
    ),
    "the shock graded down": Slip(
        "severity-floor",
        SHOCK,
        SHOCK.replace("critical", "major"),
        'severity = "major"\nwithin = "10 s"\nsource = ["bls", "cheskes-2011"]',
        "is the shock",
    ),
    "the first push graded down": Slip(
        "severity-floor",
        BEGIN,
        BEGIN.replace("critical", "minor"),
        'severity = "minor"\nwithin = "10 s"\nrestart = "remind_start"',
        "is the first push",
    ),
    "a shock without a clear call made minor": Slip(
        "severity-floor",
        'fault.id = "shock-without-clear"\nfault.severity = "critical"',
        'fault.id = "shock-without-clear"\nfault.severity = "minor"',
        'fault.severity = "minor"\nfault.say = { en = "A shock, and no clear',
        "noted at a shock",
    ),
    "a shock on a bystander made major": Slip(
        "severity-floor",
        'fault.id = "shock-with-bystander"\nfault.severity = "critical"',
        'fault.id = "shock-with-bystander"\nfault.severity = "major"',
        'fault.severity = "major"\nfault.say = { en = "A shock with a bystander',
        "the clear call that is asked for",
    ),
    "hands on at the shock made minor": Slip(
        "severity-floor",
        'hands_on_over = { what = "shock" }\nseverity = "critical"',
        'hands_on_over = { what = "shock" }\nseverity = "minor"',
        'severity = "minor"\nsay = { en = "Pushes were marked without a stop',
        "`pushed-over-shock`",
    ),
    "every step left out made minor": Slip(
        "severity-floor",
        'omitted = { severity = "as the step" }',
        'omitted = { severity = "minor" }',
        "omitted = {",
        "every step left out as minor",
    ),
    "a shock that no observation does": Slip(
        "critical-unjudged",
        SHOCK,
        'severity = "critical"\n',
        "[track.rescuer.step.press_shock]",
        "no observation does it",
    ),
    "a pass without critical steps": Slip(
        "pass-lenient", 'critical_steps = "independent"', 'critical_steps = "none"', "critical_steps", '"independent"'
    ),
    "a finding on a step that is not there": Slip(
        "finding-idle", '"unit_beside", "press_shock"]', '"unit_besides", "press_shock"]', "late = {", "`unit_beside`?"
    ),
    "a finding on a step without a limit": Slip(
        "finding-idle", '"unit_beside", "press_shock"]', '"bare_chest", "press_shock"]', "late = {", "has no limit"
    ),
    "two findings of one id": Slip(
        "finding-twice",
        'id = "share-low"',
        'id = "rate-outside"',
        'id = "rate-outside"\nunder',
        "another finding",
    ),
    "over a target that has a floor only": Slip(
        "finding-idle",
        'under = { target = "hands_on_share" }',
        'over = { target = "hands_on_share" }',
        'over = { target = "hands_on_share" }',
        "has no to",
    ),
    "under a target that has a limit only": Slip(
        "finding-idle",
        'over = { target = "post_shock" }',
        'under = { target = "post_shock" }',
        'under = { target = "post_shock" }',
        "has no from",
    ),
    "a target without its bound": Slip(
        "finding-idle",
        'post_shock = { to = 5, unit = "s"',
        'post_shock = { from = 5, unit = "s"',
        'over = { target = "post_shock" }',
        "has no to",
    ),
    "a target that nothing measures": Slip(
        "finding-idle",
        'over = { target = "post_shock" }',
        'over = { target = "afterwards" }\n[targets.afterwards]\nto = 5\nunit = "s"\nsource = "bls"\n[[finding]]\n'
        'id = "post-shock-late"\nover = { target = "post_shock" }',
        'over = { target = "afterwards" }',
        "nothing measures",
    ),
    "an observation that is not there": Slip(
        "finding-idle",
        'earlier = { this = "unit_on"',
        'earlier = { this = "unit_onn"',
        'earlier = { this = "unit_onn"',
        "`unit_on`?",
    ),
    "a severity that there is not": Slip(
        "finding-grade",
        'what = "shock" }\nseverity = "critical"',
        'what = "shock" }\nseverity = "critcal"',
        'severity = "critcal"',
        "`critical`?",
    ),
    "a late cue without a limit": Slip(
        "late-cue-never",
        'within = "15 s"\nsource = ["common", "training"]\ngo = [{ on = "handover"',
        'source = ["common", "training"]\ngo = [{ on = "handover"',
        'late_cue = { en = "Say it while you push',
        "within",
    ),
    "an emit that nearly everybody waits for": Slip(
        "unknown-name", 'emit = "pads_set"', 'emit = "pads_sett"', 'emit = "pads_sett"', "`pads_set`?"
    ),
    "a severity misspelt": Slip(
        "word-idle",
        'what = "shock" }\nseverity = "critical"',
        'what = "shock" }\nseverty = "critical"',
        'severty = "critical"',
        "did you mean `severity`?",
    ),
    "an owner misspelt": Slip(
        "finding-idle",
        'target = "hands_off", owner = "rescuer"',
        'target = "hands_off", owner = "rescuers"',
        'over = { target = "hands_off"',
        "did you mean `rescuer`?",
    ),
    "a word of a form misspelt": Slip(
        "word-idle",
        'target = "run_length", by = 2',
        'target = "run_length", bye = 2',
        'outside = { target = "run',
        "`by`?",
    ),
    "a word of the pass misspelt": Slip(
        "word-idle", "critical_faults = 0", "critical_fault = 0", "critical_fault = 0", "`critical_faults`?"
    ),
    "a pass on a target that is not there": Slip(
        "finding-idle",
        "critical_faults = 0",
        'critical_faults = 0\ntargets = ["hand_off"]',
        "targets = [",
        "`hands_off`?",
    ),
    "a role that nobody has": Slip(
        "role-unknown",
        'over = { target = "post_shock" }\n',
        'over = { target = "post_shock" }\nroles = "secnd"\n',
        'roles = "secnd"',
        "`second`?",
    ),
}


@pytest.mark.parametrize("slip", SLIPS.values(), ids=SLIPS.keys())
def test_each_slip_is_named_at_its_line(slip: Slip) -> None:
    names_it(slip)


def test_a_call_that_lost_its_done_is_still_the_call() -> None:
    text = changed('done = "clear_called"\nseverity = "critical"\n', 'severity = "minor"\n')
    (one,) = found(text, "severity-floor")
    assert one.where.line == line_of(text, 'severity = "minor"\nwithin = "10 s"\nsource = ["common", "training"]')
    assert "is the clear call" in one.what


def test_a_lower_grade_that_is_meant_can_be_waived() -> None:
    text = changed(CALL, CALL.replace("critical", "major"))
    waive = '[[waive]]\ncode = "severity-floor"\nwhere = "call"\nreason = "a watchman phones here"\n\n'
    (one,) = found(changed("[[waive]]", f"{waive}[[waive]]", text), "severity-floor")
    assert one.waived == "a watchman phones here"


def test_the_roles_that_a_file_may_name_are_those_that_a_briefing_offers() -> None:
    assert tuple(role.id for role in ROLES) == RESCUER_ROLES
    assert found(TEXT, "role-unknown") == []
