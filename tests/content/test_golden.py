"""The golden key scripts that ship: each is judged as its header says, and each file has a good drill that passes."""

from __future__ import annotations

import functools
from pathlib import Path

import pytest

from coach.check.golden.scripts import FOLDER, GoldenScript, play_script, scripts_for
from coach.protocol.library import load_protocol
from coach.resources import data_dir
from tests.content.shipped import EVERY, PROTOCOLS, path_of

OWN = sorted(data_dir("protocols").glob(f"*/{FOLDER}/*/*.txt"))
read = functools.cache(load_protocol)


@pytest.mark.parametrize("path", OWN, ids=lambda path: f"{path.parts[-4]}-{path.parts[-2]}-{path.stem}")
def test_a_golden_script_is_judged_as_it_says(path: Path) -> None:
    ident = f"{path.parts[-4]}/{path.parts[-2]}"
    assert f"protocol: {ident}\n" in path.read_text(encoding="utf-8")
    played = play_script(GoldenScript(path), *read(ident))
    assert (played.verdict, played.differs) == ("as expected", ())


@pytest.mark.parametrize("ident", sorted(set(EVERY) - set(PROTOCOLS)))
def test_a_good_drill_of_a_file_or_of_its_base_passes_on_it(ident: str) -> None:
    good = [one for one in scripts_for(path_of(ident), read(ident)[0]) if one.name.startswith("good")]
    assert good
    for golden in good:
        played = play_script(golden, *read(ident))
        assert (played.verdict, played.expected) == ("as expected", ()), golden.path
