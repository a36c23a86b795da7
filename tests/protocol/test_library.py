"""Files are found by id, by bare name and by path, the nearest folder first."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.protocol import library
from coach.protocol.library import NotFound
from coach.protocol.reading import FileProblems
from coach.resources import data_dir


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder of the person's own files."""
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path))
    return tmp_path / "protocols"


def put(folder: Path, name: str, text: str = "x = 1") -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def test_what_ships_is_listed(own: Path) -> None:
    ids = [entry.id for entry in library.list_protocols()]
    assert ids == sorted(ids)
    assert {"erc-2025/adult-one-rescuer", "aha-2025/adult-two-rescuers"} <= set(ids)
    assert not any("scenarios" in ident or ident.endswith("/pads") for ident in ids)
    assert {entry.id for entry in library.list_pads()} == {"erc-2025/pads", "aha-2025/pads", "anzcor-2021/pads"}
    scenarios = library.list_scenarios()
    assert len(scenarios) >= 6 and {entry.where for entry in scenarios} == {"shipped"}


def test_a_bare_name_works_where_one_file_bears_it(own: Path) -> None:
    put(own, "erc-2025/night-shift.toml")
    assert library.find_protocol("night-shift").id == "erc-2025/night-shift"
    assert library.find_protocol("erc-2025/adult-one-rescuer").where == "shipped"
    assert library.find_scenario("ferry-deck").path.stem == "ferry-deck"
    with pytest.raises(NotFound, match=r"several protocols are called adult-one-rescuer: aha-2025/.*, erc-2025/"):
        library.find_protocol("adult-one-rescuer")


def test_the_nearest_folder_wins(own: Path, tmp_path: Path) -> None:
    name = "erc-2025/adult-one-rescuer"
    mine = put(own, f"{name}.toml")
    assert (library.find_protocol(name).path, library.find_protocol(name).where) == (mine, "own")
    given = put(tmp_path / "given", f"{name}.toml")
    found = library.find_protocol(name, tmp_path / "given")
    assert (found.path, found.where) == (given, "given")


def test_a_path_is_taken_as_it_is(own: Path, tmp_path: Path) -> None:
    path = put(tmp_path, "somewhere.toml")
    assert library.find_protocol(str(path)).path == path
    with pytest.raises(FileProblems, match="no such file"):
        library.load_protocol(str(tmp_path / "gone.toml"))


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("erc-2025/adult-one-rescur", "erc-2025/adult-one-rescuer"),
        ("adult-one-rescur", "erc-2025/adult-one-rescuer"),
        ("zzz", None),
        ("../../etc/passwd", None),
        ("", None),
    ],
)
def test_an_unknown_name_gives_the_nearest(own: Path, name: str, near: str | None) -> None:
    with pytest.raises(NotFound) as caught:
        library.find_protocol(name)
    assert caught.value.nearest == near


def test_pads_are_found_by_guidance(own: Path) -> None:
    shipped = data_dir("protocols") / "erc-2025" / "pads.toml"
    for name in ("ERC 2025", "erc-2025", "erc-2025/pads"):
        assert library.find_pads(name).path == shipped
    assert library.load_pads("AHA 2025")[0].guidance == "AHA 2025"
    with pytest.raises(NotFound, match=r"no pads rules for the guidance ERC 2024.*Did you mean erc-2025"):
        library.find_pads("ERC 2024")


def test_loading_gives_the_value_and_the_text_and_names_the_file_in_problems(own: Path) -> None:
    protocol, text = library.load_protocol("erc-2025/adult-one-rescuer")
    assert protocol.id == "erc-2025/adult-one-rescuer" and text.count("\n") > 50
    scenario, _ = library.load_scenario("ferry-deck", protocol=protocol)
    assert scenario.id == "brackhaven/ferry-deck"
    path = put(own, "erc-2025/broken.toml", "x = ")
    with pytest.raises(FileProblems) as caught:
        library.load_protocol("broken")
    assert caught.value.problems[0].file == str(path)
