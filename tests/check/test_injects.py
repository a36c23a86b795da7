"""Each inject by itself: what only an inject can break is found, in one process as in several."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from coach.check.proof.checked import Checked, check_rules
from coach.check.proof.injects import Look, looks
from coach.check.proof.rules import Rule, read_rules
from coach.cores import ALONE, Workers
from coach.protocol.model import Protocol
from coach.protocol.reading import read_protocol
from tests.check.models import TINY

TEXT = (
    TINY.format(name="thrown")
    + """[track.unit]
start = "idle"
[track.unit.step.idle]
source = "own"
go = [{ on = "inject:nudge", to = "lost" }, { on = "unit_on", to = "ready" }]
[track.unit.step.ready]
source = "own"
go = [{ on = "inject:pull", to = "idle" }]
[track.unit.step.lost]
source = "own"
[inject.nudge]
title = "A nudge"
source = "own"
[inject.pull]
title = "A pull"
source = "own"
[inject.noise]
title = "Noise"
source = "own"
[[rule]]
id = "never-lost"
never = { step = "lost" }
say = "Never lost."
source = "own"
"""
)
POSSIBLE = """[[rule]]
id = "lost-some-time"
possible = { step = "lost" }
say = "It can be lost."
source = "own"
[[rule]]
id = "ready-some-time"
possible = { step = "ready" }
say = "It can be ready."
source = "own"
"""
PROTOCOL = read_protocol(TEXT)
RULES = tuple(read_rules(PROTOCOL, TEXT))


def each_inject(
    protocol: Protocol, rules: Iterable[Rule], plain: Checked, workers: Workers = ALONE
) -> dict[str, Checked]:
    """The verdicts with each inject alone; what it does not reach is the verdict without any."""
    asked = looks(protocol, rules, plain)
    found: dict[str, Checked] = {}
    for look, again in zip(asked, workers.each(Look.__call__, asked), strict=True):
        fresh = {one.rule.id: one for one in again.rules}
        found[look.name] = replace(again, rules=tuple(fresh.get(one.rule.id, one) for one in plain.rules))
    return found


def told(found: dict[str, Checked]) -> dict[str, tuple[str, tuple[object, ...]]]:
    out = {}
    for name, checked in found.items():
        (verdict,) = checked.rules
        out[name] = verdict.kind, verdict.taught.story.events if verdict.taught.story is not None else ()
    return out


def test_each_inject_is_looked_at_alone_in_one_process_as_in_several() -> None:
    plain = check_rules(PROTOCOL, RULES)
    alone = each_inject(PROTOCOL, RULES, plain)
    with Workers(2) as workers:
        beside = each_inject(PROTOCOL, RULES, plain, workers)
    assert told(alone) == told(beside)
    assert {name: kind for name, (kind, _) in told(alone).items()} == {
        "nudge": "broken",
        "pull": plain.rules[0].kind,
        "noise": plain.rules[0].kind,
    }
    assert told(alone)["nudge"][1] != ()
    assert beside["noise"].rules[0] is plain.rules[0], "what no inject reaches is the verdict without any"


def test_what_is_possible_stands_with_an_inject_and_what_is_not_can_become_so() -> None:
    text = TEXT[: TEXT.index("[[rule]]")] + POSSIBLE
    protocol = read_protocol(text)
    rules = tuple(read_rules(protocol, text))
    plain = check_rules(protocol, rules)
    assert [one.kind for one in plain.rules] == ["broken", "holds"]
    found = each_inject(protocol, rules, plain)
    assert [one.kind for one in found["nudge"].rules] == ["holds", "holds"]
    assert found["nudge"].rules[1] is plain.rules[1]
    assert [one.kind for one in found["noise"].rules] == ["broken", "holds"]


def test_what_waits_for_the_end_of_an_inject_is_reached() -> None:
    """The first look throws injects in any state and leaves their own steps out, but not where their end is heard."""
    text = TEXT.replace("inject:nudge", "closed:nudge").replace(
        'title = "A nudge"\n', 'title = "A nudge"\nallowed = "touch"\n'
    )
    protocol = read_protocol(text)
    found = check_rules(protocol, read_rules(protocol, text), injects=["nudge"])
    assert found.verdict("never-lost").kind == "broken"
