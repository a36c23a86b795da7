"""Each check across a file: one planted fault, one problem, at the place where one would mend it."""

from __future__ import annotations

import pytest

from coach.protocol.reading import FileProblems, Problem, read_pads, read_protocol, read_scenario

SOUND = """\
format = 1
id = "erc-2025/sound"
version = "1"
guidance = "ERC 2025"
title = "Sound"

[approval]
effective = "2026-01-01"

[sources.bls]
title = "Made up"
grade = "local"

[facts]
age = { kind = "number", unit = "year", from = 0, to = 110, may_be_unknown = true }
weight = { kind = "number", unit = "kg", from = 2, to = 200, default = 70 }
chest = { kind = "choice", of = ["dry", "wet"], default = "dry" }
implant = { kind = "flag", default = false }
rhythm = { kind = "script", of = ["yes", "no"], counter = "readings", default = ["yes"] }

[counters]
readings = { max = 4 }

[terms]
small = "weight < 25 kg"
child = "small or age < 8 years"

[timers]
remind = { every = "10 s", most = 6 }
period = { after = "2 min" }

[targets]
rate = { from = 100, to = 120, unit = "/min", source = "bls" }

[track.rescuer]
start = "check"
spine = ["check", "push"]

[track.rescuer.step.check]
within = "10 s"
go = [
  { id = "seen", on = "not_breathing", to = "push", mark = "seen" },
  { on = "handover", when = "late.check and unit == floor and this_rhythm == yes" },
]

[track.rescuer.step.push]
done = "compression"
start = "period"
go = [
  { on = "hands_off", start = "remind" },
  { on = "touch", when = "seen and child and readings > 0", unmark = "seen" },
]

[track.unit]
start = "off"
[track.unit.step.off]
go = [{ on = "analysis_begins", add = { readings = 1 }, emit = "verdict" }]
[track.unit.step.on]
go = [{ on = "verdict", to = "off" }]

[inject.gasp]
title = "Gasp"
allowed = "not_breathing"
within = "10 s"
digit = 1
late = { id = "late-gasp", severity = "minor", say = "Late." }

[inject.vomit]
title = "Vomit"
digit = 2
"""


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(FileProblems) as caught:
        read_protocol(text)
    return caught.value.problems


def place(text: str, piece: str, offset: int = 0) -> tuple[int, int]:
    at = text.index(piece) + offset
    return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)


def test_the_sound_file_is_sound() -> None:
    assert read_protocol(SOUND).id == "erc-2025/sound"


# (what stands there, what is put instead, where in it the problem is, what it says, the nearest word)
FAULTS = [
    ('id = "erc-2025/sound"', 'id = "Sound"', 5, "not <guidance folder>/<name>", None),
    ('id = "erc-2025/sound"', 'id = "aha-2025/sound"', 5, "not that of the guidance", "erc-2025/sound"),
    ('effective = "2026-01-01"', 'effective = "2026-02-30"', 12, "no such day", None),
    ('effective = "2026-01-01"', 'effective = "soon"', 12, "a date is written", None),
    ('title = "Sound"', 'title = { English = "Sound" }', 10, "a language is a code", None),
    ('title = "Sound"', "title = { en = 3 }", 15, "text is needed", None),
    ("age = {", "Age = {", 0, "not the form of a name", "age"),
    ("default = 70", "default = 1", 10, "out of range", None),
    ("default = 70", 'default = "70 years"', 10, "one of the units", None),
    (", default = 70 }", " }", None, "no default", None),
    ("from = 2, to", "from = 300, to", None, "ends before it begins", None),
    ('default = "dry"', 'default = "dri"', 10, "no word of this choice", "dry"),
    ('of = ["dry", "wet"]', 'of = ["dry", "dry"]', 13, "stands twice", None),
    ('of = ["dry", "wet"], default = "dry"', 'default = "dry"', None, "`of` is missing", None),
    ("default = false", 'default = "no"', 10, "true or false", None),
    ("default = false", "default = { a = 1 }", 10, "true or false or a number or text or a list is needed", None),
    ("default = 70", "default = [70]", 11, "text is needed", None),
    ('kind = "flag", default', 'kind = "flag", unit = "kg", default', 22, "has no unit", None),
    ('counter = "readings"', 'counter = "reading"', 10, "unknown counter", "readings"),
    ('counter = "readings", ', "", None, "`counter` is missing", None),
    ("readings = { max = 4 }", "readings = { max = 0 }", 19, "out of bounds", None),
    ("readings = { max = 4 }", 'readings = { max = "4" }', 19, "a whole number is needed", None),
    ("small = \"weight < 25 kg\"", "small = \"weight < 25\"", 18, "the unit is missing", None),
    ("small = \"weight < 25 kg\"", "small = \"weight < 25 years\"", 18, "not in years", "kg"),
    ("small = \"weight < 25 kg\"", "small = \"chest < 25 kg\"", 9, "is a choice, not a number", None),
    ("small = \"weight < 25 kg\"", "small = \"wieght < 25 kg\"", 9, "unknown name", "weight"),
    ("small = \"weight < 25 kg\"", "small = \"weight == age\"", 19, "is a fact", None),
    ("small = \"weight < 25 kg\"", "small = \"weight == wet\"", 9, "has no words", None),
    ("small = \"weight < 25 kg\"", "small = \"child\"", 0, "leads back to itself: small -> child -> small", None),
    ("small = \"weight < 25 kg\"", "small = \"chest\"", 9, "needs a comparison", None),
    ("small = \"weight < 25 kg\"", "small = \"rhythm == yes\"", 9, "one entry at a time", "this_rhythm"),
    ("small = \"weight < 25 kg\"", "small = \"this_chest == wet\"", 9, "is no script", "chest"),
    ("small = \"weight < 25 kg\"", "small = \"unknown(wieght)\"", 17, "unknown fact", "weight"),
    ("small = \"weight < 25 kg\"", "small = \"running(priod)\"", 17, "unknown timer", "period"),
    ("small = \"weight < 25 kg\"", "small = \"in_step(rescer, push)\"", 17, "unknown track", "rescuer"),
    ("small = \"weight < 25 kg\"", "small = \"in_step(rescuer, puch)\"", 26, "unknown step", "push"),
    ("small = \"weight < 25 kg\"", "small = \"in_step(hands, hands_on)\"", 24, "unknown step", "hands_on_chest"),
    ("small = \"weight < 25 kg\"", "small = \"chest in (wet, damp)\"", 24, "no word of `chest`", None),
    ("small = \"weight < 25 kg\"", "small = \"unit == flor\"", 17, "no word of `unit`", "floor"),
    ("small = \"weight < 25 kg\"", "small = \"readings\"", 9, "needs a comparison", None),
    ("small = \"weight < 25 kg\"", "small = \"readings > 3 kg\"", 20, "has no unit", None),
    ("small = \"weight < 25 kg\"", "small = \"readings >= 5\"", 21, "never counted beyond 4", None),
    ("small = \"weight < 25 kg\"", "readings = \"weight < 25 kg\"\nsmall = \"implant\"", 0, "already a counter", None),
    ("remind = { every", "remind = { evry", 11, "unknown key `evry`", "every"),
    ("remind = { every = \"10 s\", most = 6 }", "remind = { most = 6 }", 0, "never fires", None),
    ("every = \"10 s\"", "every = 10", 8, "the unit is missing", None),
    ("every = \"10 s\"", "every = \"0 s\"", 8, "zero", None),
    ("rate = { from = 100, to = 120, unit = \"/min\", source", "rate = { source", 0, "has no bound", None),
    ("from = 100, to = 120, unit = \"/min\"", "from = \"100\"", 7, "the unit is missing", None),
    ('source = "bls" }', 'source = "bsl" }', 9, "unknown source", "bls"),
    ('start = "check"', 'start = "chek"', 8, "unknown step", "check"),
    ('spine = ["check", "push"]', 'spine = ["check", "puhs"]', 18, "unknown step", "push"),
    ('done = "compression"\n', "", None, "has no done", None),
    ('done = "compression"', 'done = "compresion"', 7, "unknown observation", "compression"),
    ('within = "10 s"\ngo', 'within = "10"\ngo', 9, "the unit is missing", None),
    ('to = "push", mark', 'to = "pusch", mark', 5, "unknown step", "push"),
    ('on = "handover"', 'on = "timer:priod"', 5, "unknown timer", "period"),
    ('on = "handover"', 'on = "inject:gaps"', 5, "unknown inject", "gasp"),
    ('on = "handover"', 'on = "timr:period"', 5, "no kind of event", "timer"),
    ('on = "handover"', "on = []", 5, "waits for nothing", None),
    ('{ on = "handover",', '{ id = "seen", on = "handover",', 7, "another arrow", None),
    ('on = "handover"', 'no = "handover"', 0, "unknown key `no`", "on"),
    ("late.check and", "late.chek and", 0, "unknown name", "late.check"),
    ('unmark = "seen"', 'unmark = "sene"', 9, "unknown mark", "seen"),
    ('mark = "seen" }', 'mark = ["seen", "chest"] }', 16, "already a fact", None),
    ('mark = "seen" }', 'mark = ["seen", "Seen!"] }', 16, "not the form", None),
    ('start = "period"', 'start = ["period", "period"]', 19, "started twice by one step", None),
    ('start = "remind" }', 'start = ["remind", "remind"] }', 19, "started twice by one arrow", None),
    ('mark = "seen" }', 'mark = "seen", start = "period" }', 23, "and again by the step", None),
    ("add = { readings = 1 }", "add = { readings = 5 }", 19, "beyond the counter's max", None),
    ("add = { readings = 1 }", "add = { readings = -1 }", 19, "never falls", None),
    ("add = { readings = 1 }", "add = { reading = 1 }", 8, "unknown counter", "readings"),
    ('emit = "verdict" }]', 'emit = ["verdict", "hands_on"] }]', 19, "comes of pushes alone", None),
    ('{ on = "verdict", to = "off" }', '{ on = "verdict", emit = "verdict" }', 25, "leads to itself", None),
    ("[inject.gasp]", "[track.hands]\nstart = \"a\"\n[track.hands.step.a]\n[inject.gasp]", 7, "built in", None),
    ("[track.unit.step.on]", "[track.unit.step.push]", 17, "stands in the track `rescuer` too", None),
    ('allowed = "not_breathing"', 'allowed = "not_breathin"', 10, "unknown observation", "not_breathing"),
    ("digit = 2", "digit = 1", 8, "throws `gasp` already", None),
    ("digit = 2", "digit = 7", 8, "out of bounds", None),
    ('within = "10 s"\ndigit', "digit", None, "late without within", None),
    ('severity = "minor"', 'severity = "miner"', 11, "not allowed here", "minor"),
    ("[inject.vomit]", "[keys]\ng = \"call_mad\"\n[inject.vomit]", 11, "unknown observation or control", "call_made"),
    ("[inject.vomit]", "[observations.touch]\nlabel = \"x\"\n[inject.vomit]", 14, "shared vocabulary", None),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "offset", "what", "near"), FAULTS)
def test_one_fault_is_one_problem(old: str, new: str, offset: int | None, what: str, near: str | None) -> None:
    assert SOUND.count(old) >= 1
    text = SOUND.replace(old, new, 1)
    (found,) = problems(text)
    assert what in found.what
    assert found.nearest == near
    if offset is not None:
        at = SOUND.index(old) + offset
        assert (found.line, found.column) == (text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))


def test_a_table_that_lacks_something_is_shown_at_its_name() -> None:
    (found,) = problems(SOUND.replace(', default = "dry" }', " }"))
    assert (found.line, found.column) == place(SOUND, "chest = {")
    (found,) = problems(SOUND.replace('done = "compression"\n', ""))
    assert (found.line, found.column) == place(SOUND, "[track.rescuer.step.push]", 20)
    (found,) = problems(SOUND.replace('on = "handover", ', ""))
    assert (found.line, found.column, found.what) == (*place(SOUND, '{ on = "handover"'), "`on` is missing")


def test_a_key_of_an_observation_that_the_file_gives_to_another_is_found() -> None:
    added = '[observations.x]\nlabel = "x"\nkey = "g"\n[keys]\ng = "touch"\n[inject.vomit]'
    text = SOUND.replace("[inject.vomit]", added)
    (found,) = problems(text)
    assert "the key `g` means `touch` already" in found.what
    assert (found.line, found.column) == place(text, 'key = "g"', 6)


def test_a_misspelt_table_is_one_problem_not_one_for_each_use() -> None:
    for table in ("[timers]", "[counters]", "[facts]", "[terms]"):
        (found,) = problems(SOUND.replace(table, f"{table[:-1]}z]"))
        assert found.nearest == table.strip("[]")


def test_a_long_row_of_terms_and_a_ring_are_told_once() -> None:
    row = "\n".join(f't{number} = "t{number + 1}"' for number in range(30))
    (found,) = problems(SOUND.replace("[terms]", f'[terms]\n{row}\nt30 = "implant"'))
    assert "more than 16 terms in a row" in found.what
    (found,) = problems(SOUND.replace("[terms]", '[terms]\na = "b"\nb = "not a"\nc = "b"'))
    assert "a -> b -> a" in found.what


def test_an_emit_ring_over_a_step_and_an_inject_is_found() -> None:
    ring = SOUND.replace("[track.unit.step.on]", '[track.unit.step.on]\nemit = "analysis_begins"').replace(
        '{ on = "verdict", to = "off" }', '{ on = "verdict", to = "on" }'
    )
    (found,) = problems(ring)
    assert "analysis_begins -> verdict -> analysis_begins" in found.what
    (found,) = problems(
        SOUND.replace("[inject.vomit]", '[inject.vomit]\nemit = "xx"\nallowed = "xx"')
        + """
[track.third]
start = "only"
[track.third.step.only]
go = [{ on = "closed:vomit", emit = "xx" }]
"""
    )
    assert "closed:vomit -> xx -> closed:vomit" in found.what


def test_two_tracks_may_not_write_one_mark_on_one_event_even_by_a_step() -> None:
    text = SOUND.replace("[track.unit.step.on]", '[track.unit.step.on]\nunmark = "seen"').replace(
        '{ on = "verdict", to = "off" }', '{ on = "not_breathing", to = "on" }'
    )
    (found,) = problems(text)
    assert "`seen` is written by the tracks `rescuer` and `unit` on one event, `not_breathing`" in found.what
    assert (found.line, found.column) == place(text, 'unmark = "seen"\ngo = [{ on', 9)


def test_one_track_may_write_twice_and_two_tracks_on_two_events() -> None:
    read_protocol(SOUND.replace('{ on = "verdict", to = "off" }', '{ on = "verdict", to = "off", unmark = "seen" }'))


SCENARIO = """\
format = 1
id = "harbour/fruit-stall"
title = "Fruit stall"
story = "He sat down and fell."
[facts]
weight = 74
chest = "wet"
rhythm = ["yes", "no"]
[[throw]]
name = "gasp"
digit = 1
at = "80 s"
[[throw]]
name = "vomit"
digit = 2
after = { on = "compression", by = "10 s" }
[[throw]]
name = "gasp"
digit = 1
at = { from = "10 s", to = "20 s" }
"""

SCENARIO_FAULTS = [
    ('story = "He', f'story = "{"word " * 60}He', 8, "the story has 65 words", None),
    ('at = "80 s"', 'at = "80"', 5, "the unit is missing", None),
    ('at = "80 s"', "at = 80", 5, "the unit is missing", None),
    ('to = "20 s"', 'to = "5 s"', 5, "ends before it begins", None),
    ('to = "20 s" }', 'too = "20 s" }', 0, "unknown key `too`", "to"),
    ('on = "compression"', 'on = "compresion"', 5, "unknown observation", "compression"),
    ("digit = 2", "digit = 1", 8, "throws `gasp` already", None),
    ('at = "80 s"', 'at = "80 s"\nafter = { on = "touch", by = "1 s" }', 12, "exclude each other", None),
    ('at = "80 s"', "at = []", 5, "text with a unit", None),
    ('at = "80 s"', 'at = { from = "10", to = "20 s" }', 14, "the unit is missing", None),
    ('name = "vomit"', 'name = "vomitt"', 7, "unknown inject", "vomit"),
    ("weight = 74", "weight = 700", 9, "out of range", None),
    ("weight = 74", 'weight = "unknown"', 9, "always known", None),
    ('"yes", "no"]', '"yes", "noo"]', 7, "no word of this choice", "no"),
    ('"yes", "no"]', '"yes", "no", "no", "no", "no"]', -1, "at most 4", None),
    ('chest = "wet"', "chest = true", 8, "a word of the choice", None),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "offset", "what", "near"), SCENARIO_FAULTS)
def test_scenario_faults(old: str, new: str, offset: int, what: str, near: str | None) -> None:
    protocol = read_protocol(SOUND)
    assert read_scenario(SCENARIO, protocol=protocol).facts["weight"] == 74
    text = SCENARIO.replace(old, new, 1)
    with pytest.raises(FileProblems) as caught:
        read_scenario(text, protocol=protocol)
    found = caught.value.problems[0]
    assert what in found.what and found.nearest == near
    at = SCENARIO.index(old) + offset
    assert (found.line, found.column) == (text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))


def test_a_scenario_alone_knows_the_shared_vocabulary_only() -> None:
    read_scenario(SCENARIO.replace('on = "compression"', 'on = "coat_taken_off_by_somebody"'))
    with pytest.raises(FileProblems, match="compression"):
        read_scenario(SCENARIO.replace('on = "compression"', 'on = "compresion"'))


PADS = """\
format = 1
id = "erc-2025/pads"
guidance = "ERC 2025"
[sources.a]
title = "Made up"
grade = "local"
[facts]
weight = { kind = "number", unit = "kg", from = 2, to = 200, may_be_unknown = true }
[[rule]]
id = "small"
when = "weight < 25 kg"
size = "paediatric"
placement = "front-and-back"
why = "Small."
source = "a"
[[rule]]
id = "rest"
size = "adult"
placement = "right-and-left"
why = "All others."
source = "a"
"""

PADS_FAULTS = [
    ('id = "rest"', 'id = "small"', 5, "another rule"),
    ('id = "rest"', 'id = "rest"\nwhen = "weight > 1 kg"', -7, "does not always hold"),
    ("weight < 25 kg", "wieght < 25 kg", 0, "unknown name"),
    ("weight < 25 kg", "small_one", 0, "unknown name"),
    ('source = "a"\n[[rule]]', 'source = "b"\n[[rule]]', 9, "unknown source"),
    ('size = "paediatric"', 'size = "child"', 7, "not allowed here"),
]


@pytest.mark.parametrize(("old", "new", "offset", "what"), PADS_FAULTS)
def test_pads_faults(old: str, new: str, offset: int, what: str) -> None:
    assert read_pads(PADS).rule[0].id == "small"
    text = PADS.replace(old, new, 1)
    with pytest.raises(FileProblems) as caught:
        read_pads(text)
    (found,) = caught.value.problems
    assert what in found.what
    at = PADS.index(old) + offset
    assert (found.line, found.column) == (text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))
