"""Mistakes that a protocol's author makes in an editor on a Friday, each with what a check must say of it and where."""

from __future__ import annotations

from typing import NamedTuple


class Slip(NamedTuple):
    """``old`` becomes ``new`` at its first place. ``named`` is the code of a finding, or the id of a rule that breaks;
    ``line`` a part of the changed text that begins on the line of the finding ("": the rule's own). ``tells`` is found
    in what is said, its witness or story."""

    old: str
    new: str
    named: str
    tells: str
    line: str = ""


SHOCKS = '["shock_pressed", "shock_delivered"]'
RESTING = 'title = { en = "Unit keeps time", es = "El equipo cuenta" }\n'
READING = 'title = { en = "Unit is reading", es = "El equipo lee" }\n'
UNMARK = 'unmark = ["clear_said", "touched"]\n'

CALL_IN_PUSHES = 'on = "call_made"\nwhen = "not called"\nmark = "called"\nstop = "remind_call"\n\n'
BEFORE_SENT = '[[track.rescuer.step.pushing.go]]\non = "helper_sent"'

BASE: dict[str, Slip] = {
    # --- the shock ----------------------------------------------------------------------------------------------------
    "armed forgotten": Slip(
        "armed = true\n", "", "shock-possible", "`shock-clear` waits for it in the step `shock_adv"
    ),
    "armed forgotten, at its line": Slip(
        "armed = true\n",
        "",
        "armed-unheard",
        "no step is armed",
        f'on = {SHOCKS}\nwhen = "in_step(unit, shock_advised)"\nto = "hands_back"\ncue',
    ),
    "armed too early": Slip(
        "[track.unit.step.charging]\n",
        "[track.unit.step.charging]\narmed = true\n",
        "armed-unheard",
        "`charging` is armed",
        "armed = true\n",
    ),
    "a shock taken whatever the unit does": Slip(
        'when = "not alive and in_step(unit, shock_advised)"\nto = "hands_back"',
        'when = "not alive"\nto = "hands_back"',
        "shock-only-when-armed",
        "rule broken here",
    ),
    "the clear call sets no mark": Slip(
        'on = "clear_called"\nmark = "clear_said"\nunmark = "touched"',
        'on = "clear_called"\nunmark = "touched"',
        "shock-possible",
        "in no run without a fault",
    ),
    "the clear call sets no mark while charging": Slip(
        'mark = "clear_said", unmark = "touched" }',
        'unmark = "touched" }',
        "clear-call-counts",
        "unit laptop",
    ),
    "the clear call outlives its shock": Slip(RESTING + UNMARK, RESTING, "clear-call-ends", "rule broken here"),
    "the clear call outlives the next analysis": Slip(READING + UNMARK, READING, "clear-before-shock", "(6 keys"),
    "a touch takes the clear call away and notes nothing": Slip(
        'unmark = "clear_said"\nmark = "touched"\ncue',
        'unmark = "clear_said"\ncue',
        "clear-call-counts",
        "rule broken here",
    ),
    "the laptop's unit deaf to the shock": Slip(
        f'on = {SHOCKS}\nwhen = "unit == laptop',
        'on = ["shock_delivered"]\nwhen = "unit == laptop',
        "reads-again",
        "unit laptop",
    ),
    "a shock to the awake blames nobody": Slip(
        'on = "shock_pressed"\nwhen = "alive"', 'on = "shock_pressed"\nwhen = "not alive"', "no-shock-awake", "signs of"
    ),
    # --- what no story may lead to ------------------------------------------------------------------------------------
    "awake without a sign of life": Slip(
        CALL_IN_PUSHES + BEFORE_SENT,
        CALL_IN_PUSHES.replace("mark", 'to = "awake"\nmark') + BEFORE_SENT,
        "awake-by-signs-only",
        "call made",
    ),
    "who fades is left awake": Slip(
        'on = "not_breathing"\nto = "begin"\n\n[[track.rescuer.step.awake.go]]',
        'on = "not_breathing"\nto = "awake"\n\n[[track.rescuer.step.awake.go]]',
        "back-down-when-it-stops",
        "rule broken here",
    ),
    "a push after a second look is not heard": Slip(
        '[[track.rescuer.step.check_again.go]]\non = ["compression", "hands_placed"]\nto = "pushing"\n',
        "",
        "push-ends-the-second-look",
        "rule broken here",
    ),
    "a touch before the shock leaves the rescuer at the button": Slip(
        '[[track.rescuer.step.press_shock.go]]\non = ["touch", "compression", "hands_placed", "probe_tap", "breath"]\n'
        'to = "say_clear"\n',
        "",
        "touch-sends-back",
        "rule broken here",
    ),
    "pads told as set after the first": Slip(
        'done = "pad_right"\nsource',
        'done = "pad_right"\nemit = "pads_set"\nsource',
        "reads-with-both-pads",
        "unit laptop",
    ),
    "a dead unit goes on to its shock": Slip(
        'when = "unit == laptop"\nstop = ["ask_pads", "settle", "reading", "charge", "shock_window", "unit_period"]',
        'when = "unit == laptop"\nstop = ["ask_pads", "settle", "reading", "shock_window", "unit_period"]',
        "silent-once-failed",
        "unit fault",
    ),
    # --- verdicts and analyses ----------------------------------------------------------------------------------------
    "no shock leads to awake": Slip(
        'to = "hands_back"\ncue = { en = "No shock is not',
        'to = "awake"\ncue = { en = "No shock is not',
        "hands-next",
        "no shock",
    ),
    "both rhythms find no shock": Slip(
        'emit = "shock_advised"', 'emit = "no_shock_advised"', "shock-possible", "unit laptop"
    ),
    "both rhythms find a shock": Slip(
        'emit = "no_shock_advised"', 'emit = "shock_advised"', "no-shock-possible", "unit laptop"
    ),
    "the first analysis never read to its end": Slip(
        'restart = "reading"\nvoice = { en = "Reading', 'voice = { en = "Reading', "verdict-comes", "unit laptop"
    ),
    "a later analysis never read to its end": Slip(
        'restart = "reading"\nvoice = { en = "Two', 'voice = { en = "Two', "verdict-comes", "unit laptop"
    ),
    "the first analysis never begins": Slip(
        'on = "timer:settle"\nemit = "analysis_begins"',
        'on = "timer:settle"\nemit = "pads_set"',
        "no-shock-possible",
        "unit laptop",
    ),
    "no shock ends in a shock advised": Slip(
        'on = "no_shock_advised"\nto = "resting"', 'on = "no_shock_advised"\nto = "shock_advised"', "verdict-comes", ""
    ),
    "not alive turned round": Slip(
        'when = "not alive"\nto = "stand_clear"', 'when = "alive"\nto = "stand_clear"', "stand-clear-next", "unit"
    ),
    "one way into the analysis does not count it": Slip(
        'to = "analysing", add = { analyses = 1 }',
        'to = "analysing"',
        "count-forgotten",
        "analyses",
        'go = [{ on = "analysis_begins", to = "analysing" }]',
    ),
    "signs of life turned round": Slip(
        'on = "signs_of_life"\nwhen = "not alive"', 'on = "signs_of_life"\nwhen = "alive"', "awake-possible", "awake"
    ),
    # --- pushes, pads, the phone --------------------------------------------------------------------------------------
    "the first push leads to breaths": Slip(
        'on = ["compression", "hands_placed"]\nto = "pushing"',
        'on = ["compression", "hands_placed"]\nto = "two_breaths"',
        "push-heard",
        "rule broken here",
    ),
    "breaths that nothing ends": Slip(
        '[[track.rescuer.step.two_breaths.go]]\non = ["compression", "hands_placed"]',
        '[[track.rescuer.step.two_breaths.go]]\non = ["touch"]',
        "push-heard",
        "rule broken here",
    ),
    "pushes heard in one way of counting": Slip(
        'on = ["touch", "compression", "hands_placed", "probe_tap", "breath"]\nwhen = "clear_said"',
        'on = ["touch", "compression", "breath"]\nwhen = "clear_said"',
        "push-forms",
        "`hands_placed` is missing",
        'on = ["touch", "compression", "breath"]',
    ),
    "who pushes is told to push": Slip(
        'when = "running(remind_hands)"\nstop = "remind_hands"',
        'when = "running(remind_hands)"',
        "no-nagging",
        "push now",
    ),
    "who stands clear is told to push": Slip(
        'when = "not unit_reads and not alive and not hands_return"\ncue = { en = "Hands off too long',
        'when = "not alive and not hands_return"\ncue = { en = "Hands off too long',
        "no-nagging",
        "rule broken here",
    ),
    "one pad is enough": Slip(
        'on = "pad_left", to = "other_pad"', 'on = "pad_left", to = "unit_ready"', "pads-before-ready", "left"
    ),
    "after the second pad the chest again": Slip(
        'when = "right_on"\nto = "unit_ready"',
        'when = "right_on"\nto = "bare_chest"',
        "ready-with-both",
        "rule broken here",
    ),
    "who has phoned is asked again": Slip(
        'to = "breathing", mark = "called"', 'to = "breathing"', "asked-once-phoned", "Has anyone phoned"
    ),
    # --- order --------------------------------------------------------------------------------------------------------
    "the spine in a wrong order": Slip(
        '"call", "breathing", "begin"]', '"breathing", "call", "begin"]', "spine-order", "leads back", 'spine = ["scene'
    ),
    "the spine without the call": Slip(
        '"call", "breathing", "begin"]',
        '"breathing", "begin"]',
        "spine-order",
        "`call` lies on the way",
        'spine = ["scene',
    ),
    # --- numbers ------------------------------------------------------------------------------------------------------
    "months for years in a rule": Slip(
        "age >= 18 years", "age >= 18 months", "no-small-pads-on-adults", "age 18 months"
    ),
    "months for years in a fact": Slip(
        'unit = "year"\nfrom = 12', 'unit = "month"\nfrom = 12', "unit-plausible", "are these years", "to = 110"
    ),
    "minutes for seconds in a rule": Slip(
        'at_most = "13 s"', 'at_most = "13 min"', "rule-slack", "no run takes longer than 13 s", 'at_most = "13 min"'
    ),
    "minutes for seconds in a timer": Slip(
        'shock_window = { after = "20 s"', 'shock_window = { after = "20 min"', "verdict-comes", "unit laptop"
    ),
    "minutes for seconds in a step": Slip(
        'severity = "critical"\nwithin = "10 s"',
        'severity = "critical"\nwithin = "10 min"',
        "unit-plausible",
        "10 min",
        'within = "10 min"',
    ),
    "seconds for minutes": Slip(
        'period = { after = "2 min"', 'period = { after = "2 s"', "target-conflict", "120 s", 'period = { after = "2 s"'
    ),
    "a nought too many in a target": Slip(
        "hands_off = { to = 10,", "hands_off = { to = 100,", "target-conflict", "100 s", "hands_off = { to = 100,"
    ),
    "a pause after the shock longer than any may be": Slip(
        "post_shock = { to = 5,", "post_shock = { to = 50,", "target-conflict", "50 s", "post_shock = { to = 50,"
    ),
    # --- what is judged -----------------------------------------------------------------------------------------------
    "an inject that is answered by what it forbids": Slip(
        'allowed = "clear_called"\nwithin = "15 s"',
        'allowed = "shock_pressed"\nwithin = "15 s"',
        "inject-both-ways",
        "`shock_pressed`",
        'allowed = "shock_pressed"',
    ),
    "a pass in spite of faults": Slip(
        "critical_faults = 0", "critical_faults = 10", "pass-lenient", "10 critical", "critical_faults = 10"
    ),
    "a safety rule taken out": Slip(
        'never = { on = ["shock_pressed", "shock_delivered"] }\nunless_since = { mark = "clear_said", after = '
        '{ on = "shock_advised" } }',
        'never = { step = "check_again", when = "alive and not alive" }',
        "rule-missing",
        "clear call",
        "armed = true",
    ),
}
"""In the adult file for one rescuer."""

CHILD: dict[str, Slip] = {
    "months for years in a guard": Slip(
        "and age < 8 years)", "and age < 8 months)", "compare-outside", "1 year to 12 years", "small = "
    ),
    "minutes for seconds in a reminder": Slip(
        'remind_first = { after = "20 s"', 'remind_first = { after = "20 min"', "first-breaths-by-prompts", "first"
    ),
    "minutes for seconds in an added rule": Slip(
        'at_most = "23 s"', 'at_most = "23 min"', "rule-slack", "no run takes longer than 23 s", 'at_most = "23 min"'
    ),
    "the spine in a wrong order": Slip(
        '"breathing", "first_breaths"', '"first_breaths", "breathing"', "spine-order", "leads back", 'spine = ["scene"'
    ),
}
"""In the local file for a child, one rescuer."""

CHILD_PART: dict[str, Slip] = {
    "the first pad not noted for who is small": Slip('mark = "right_on"\n', "", "ready-with-both", "rule broken here"),
    "the small pads' arrow leads back": Slip(
        'when = "small"\nto = "second_pad"',
        'when = "small"\nto = "bare_chest"',
        "pads-before-ready",
        "rule broken here",
    ),
    "months for years of age": Slip(
        "from = 1\nto = 12\ndefault = 6",
        'from = "1 month"\nto = "12 months"\ndefault = "6 months"',
        "compare-outside",
        "always holds",
        "small = ",
    ),
}
"""In the part that makes an adult file one for a child."""
