"""Files that are no protocols, broken in many ways: scenarios, pads files, parts within the files that take them."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.check.explain import CODES
from coach.check.findings import Finding
from coach.check.others import check_other
from coach.commands import main
from coach.protocol.reading import digest, read_scenario
from tests.check.test_check_command import SOUND
from tests.check.test_lint import TODAY, Slip, changed, line_of

FOLDER = Path(__file__).parents[2] / "protocols"
STORY = (FOLDER / "scenarios/brackhaven/bakery-yard.toml").read_text(encoding="utf-8")
PADS = (FOLDER / "erc-2025/pads.toml").read_text(encoding="utf-8")
PART = (FOLDER / "parts/child.toml").read_text(encoding="utf-8")


def named(kind: str, text: str, folder: Path | None = None) -> list[Finding]:
    return [one for one in check_other(text, "file.toml", kind, folder, today=TODAY).findings if one.counts]


def holds(slip: Slip, kind: str, whole: str) -> None:
    """The slip alone is named, once, at its line."""
    text = changed(slip.old, slip.new, whole)
    assert [(one.code, one.where.line) for one in named(kind, text)] == [(slip.code, line_of(text, slip.line))]
    (one,) = named(kind, text)
    assert slip.words in f"{one.what} {one.help}"
    assert one.level == CODES[slip.code].level


SCENARIO_SLIPS = {
    "another age in one language": Slip(
        "number-differs-between-languages", "driver of 49", "driver of 49, with 12 rolls,", "[story]", "es: 49"
    ),
    "a story without its other language": Slip(
        "translation-missing", 'es = "Las sacudidas', '# "Las sacudidas', "[setting]", "no text in `es`"
    ),
    "a fact that nobody has": Slip("unknown-name", "weight = ", "wieght = ", "wieght", "did you mean `weight`?"),
    "more rescuers than it is for": Slip(
        "number-said", "rescuers = 1\nrhythm", "rescuers = 2\nrhythm", "rescuers = 2", "is for one rescuer"
    ),
    "one inject on two digits": Slip(
        "throw-twice", '[[throw]]\nname = "crew_here"', '[[throw]]\nname = "unit_here"', "digit = 6", "by the digit 1"
    ),
    "one inject twice": Slip(
        "throw-twice",
        '[[throw]]\nname = "unit_here"\ndigit = 1',
        '[[throw]]\nname = "unit_here"\ndigit = 1\nat = "9 s"\n\n[[throw]]\nname = "unit_here"\ndigit = 1\n#',
        'name = "unit_here"\ndigit = 1\n#',
        "stands here already",
    ),
    "minutes for seconds": Slip("throw-late", 'at = "80 s"', 'at = "80 min"', 'at = "80 min"', "after 80 min"),
    "an inject misspelt": Slip(
        "unknown-name", 'name = "crew_here"', 'name = "crew_hear"', 'name = "crew_hear"', "crew_here"
    ),
}


def test_a_story_gives_the_age_of_the_facts_in_each_language() -> None:
    text = changed("age = 49", "age = 94", STORY)
    told = named("scenario", text)
    assert [one.where.line for one in told] == [line_of(text, 'en = "The yard'), line_of(text, 'es = "El patio')]
    assert {one.what for one in told} == {"the story says 49 years, and the fact `age` is 94 years"}


@pytest.mark.parametrize("slip", SCENARIO_SLIPS.values(), ids=SCENARIO_SLIPS.keys())
def test_a_slip_in_a_scenario_is_named_once_at_its_line(slip: Slip) -> None:
    holds(slip, "scenario", STORY)


def test_a_scenario_bears_the_id_by_which_it_is_found() -> None:
    def told(name: str) -> list[str]:
        return [one.code for one in check_other(STORY, name, "scenario", None, today=TODAY).findings if one.counts]

    ident = read_scenario(STORY, "s.toml").id
    assert told(f"protocols/scenarios/{ident}.toml") == [] == told("anywhere/else.toml")
    assert told("protocols/scenarios/brackhaven/boat-shed.toml") == ["id-elsewhere"]


PADS_SLIPS = {
    "a rule that lost its when": Slip(
        "pads-dead", 'id = "standard-by-age"\nwhen', 'id = "standard-by-age"\n#', 'id = "nothing-known"', "has no when"
    ),
    "another weight than the reason's": Slip(
        "number-said", "weight < 25 kg", "weight < 52 kg", 'why = { en = "Under 25 kg', "the guard has 52 kg"
    ),
    "a limit turned round": Slip(
        "number-said", "weight < 25 kg", "weight <= 25 kg", 'why = { en = "Under 25 kg', "holds from there on too"
    ),
    "small pads for adult ones": Slip(
        "pads-reason",
        'size = "paediatric"',
        'size = "adult"',
        'why = { en = "Under 25 kg',
        "says `small pads`, and the rule chooses adult",
    ),
    "another place than the reason's": Slip(
        "pads-reason",
        'size = "paediatric"\nplacement = "front-and-back"',
        'size = "paediatric"\nplacement = "right-and-left"',
        'why = { en = "Under 25 kg',
        "`front and back`",
    ),
    "pounds in one language": Slip(
        "number-differs-between-languages", "Menos de 25 kg:", "Menos de 52 kg:", 'why = { en = "Under 25 kg', "52"
    ),
}


@pytest.mark.parametrize("slip", PADS_SLIPS.values(), ids=PADS_SLIPS.keys())
def test_a_slip_in_a_pads_file_is_named_at_its_line(slip: Slip) -> None:
    text = changed(slip.old, slip.new, PADS)
    told = [one for one in named("pads", text) if one.code == slip.code]
    assert told, [str(one) for one in named("pads", text)]
    assert told[0].where.line == line_of(text, slip.line)
    assert slip.words in f"{told[0].what} {told[0].help}"


def on_child(text: str) -> str:
    return text.replace("parts/child", "parts/quay-child")


PART_SLIPS = {
    "a fact misspelt": Slip("unknown-name", "[change.facts.age]", "[change.facts.aeg]", "[change.facts.aeg]", "`age`"),
    "a guard on a fact that is not there": Slip(
        "unknown-name", 'on = "chest_bared"\nwhen = "small"', 'on = "chest_bared"\nwhen = "smal"', '"smal"', "`small`"
    ),
    "what the file that takes it changes is taken away": Slip(
        "part-unfit",
        '[[remove]]\nfact = "pregnant"',
        '[[remove]]\ntarget = "run_length"\nreason = "no"\n\n[[remove]]\nfact = "pregnant"',
        'id = "parts/child"',
        "cannot take it",
    ),
}


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which one file takes the child's part, and a small one a small part."""
    folder = tmp_path_factory.mktemp("shelf")
    (folder / "quay-1").mkdir()
    taker = (FOLDER / "erc-2025/child-one-rescuer.toml").read_text(encoding="utf-8")
    taker = on_child(taker).replace("erc-2025/child-one", "quay-1/child-one")
    (folder / "quay-1" / "child-one-rescuer.toml").write_text(taker, encoding="utf-8")
    (folder / "tiny-1").mkdir()
    (folder / "tiny-1" / "sound.toml").write_text(SOUND, encoding="utf-8")
    pins = f'[extends]\nid = "tiny-1/sound"\nversion = "1"\ndigest = "{digest(SOUND).canonical}"\n'
    pins += '[[with]]\nid = "parts/small"\nversion = "1"\ndigest = "written over another one"\n'
    (folder / "tiny-1" / "over.toml").write_text(f'format = 1\nid = "tiny-1/over"\nversion = "1"\n{pins}', "utf-8")
    return folder


@pytest.mark.parametrize("slip", PART_SLIPS.values(), ids=PART_SLIPS.keys())
def test_a_slip_in_a_part_is_named_in_the_part_itself(slip: Slip, shelf: Path) -> None:
    text = changed(slip.old, slip.new, PART)
    told = [one for one in named("part", on_child(text), shelf) if one.code == slip.code]
    assert [(one.where.file, one.where.line) for one in told] == [("file.toml", line_of(text, slip.line))]
    assert slip.words in f"{told[0].what} {told[0].help}"


SMALL = 'format = 1\nid = "parts/small"\nversion = "1"\n'
ARROW = '[[insert]]\nbefore = "ready.clear_called"\n[insert.arrow]\nid = "quick"\non = "shock_pressed"\n'


@pytest.mark.parametrize(
    ("differences", "code", "line"),
    [
        (f'{ARROW}when = "not wet"\nto = "idle"\n', "rule-broken", "[insert.arrow]"),
        ('[change.facts.wet]\ndefault = true\n[add.terms]\nlater = "wet"\n', "term-unused", "later ="),
        ('[add.facts.wet.title]\nen = "Wet 5"\nes = "Mojado 6"\n', "number-differs-between-languages", "[add.facts"),
        ("[change.facts.wet]\ndefalt = true\n", "unknown-name", "defalt"),
    ],
)
def test_a_part_is_proved_and_linted_within_what_takes_it(differences: str, code: str, line: str, shelf: Path) -> None:
    text = SMALL + differences
    told = [one for one in named("part", text, shelf) if one.code == code]
    assert [one.where.line for one in told] == [line_of(text, line)]


def test_a_sound_part_is_looked_at_within_its_takers_whatever_their_pins_say(shelf: Path) -> None:
    found = check_other(SMALL, "p", "part", shelf, today=TODAY)
    assert found.within == ("tiny-1/over",)
    assert found.findings == () and not found.failed


def test_a_part_is_checked_and_one_that_no_file_takes_is_said_to_be_unchecked(
    shelf: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(shelf / "data"))
    (shelf / "parts").mkdir()
    path = shelf / "parts" / "lonely.toml"
    path.write_text('format = 1\nid = "parts/lonely"\nversion = "1"\n[change.facts.wte]\ndefault = true\n', "utf-8")
    assert main(["check", str(path)]) == 0
    assert "part-untaken" in capsys.readouterr().out
    path.write_text(path.read_text("utf-8").replace("lonely", "small"), "utf-8")
    assert main(["check", str(path)]) == 1
    page = capsys.readouterr().out
    assert "looked at within tiny-1/over" in page
    assert "did you mean `wet`?" in page
