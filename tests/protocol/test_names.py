"""Arrow ids are stable, and every shipped file reads without a problem."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.protocol import library
from coach.protocol.names import DASHED, NAME, arrow_ids, arrows, guidance_folder
from coach.protocol.reading import digest, read_pads, read_protocol, read_scenario, read_text
from coach.resources import data_dir

ROOT = data_dir("protocols")
PROTOCOLS = [entry.path for entry in library.list_protocols() if entry.where == "shipped"]
SCENARIOS = sorted((ROOT / "scenarios").rglob("*.toml"))


@pytest.mark.parametrize("path", PROTOCOLS, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_shipped_protocol_reads_and_stands_under_its_id(path: Path) -> None:
    protocol = read_protocol(path)
    assert path == ROOT / f"{protocol.id}.toml"
    assert protocol.approval.status == "draft" and not protocol.approval.approver
    assert len(digest(read_text(path)).canonical) == 64
    if protocol.pads:
        assert library.find_pads(protocol.pads)


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_every_shipped_scenario_fits_the_protocols_that_it_suits(path: Path) -> None:
    scenario = read_scenario(path)
    assert scenario.suits
    for ident in scenario.suits:
        read_scenario(path, protocol=read_protocol(ROOT / f"{ident}.toml"))


def test_every_shipped_pads_file_reads() -> None:
    for folder in ("erc-2025", "aha-2025"):
        assert guidance_folder(read_pads(ROOT / folder / "pads.toml").guidance) == folder


@pytest.mark.parametrize("path", PROTOCOLS, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_arrow_has_an_id_of_its_own_the_same_each_time(path: Path) -> None:
    first, second = read_protocol(path), read_protocol(path)
    ids = [arrow_ids(first)[id(placed.arrow)] for placed in arrows(first)]
    assert len(set(ids)) == len(ids)
    assert ids == [arrow_ids(second)[id(placed.arrow)] for placed in arrows(second)]


def test_made_ids_never_meet_authored_ones() -> None:
    text = (ROOT / "erc-2025" / "adult-one-rescuer.toml").read_text(encoding="utf-8")
    protocol = read_protocol(text)
    made = arrow_ids(protocol)
    for placed in arrows(protocol):
        ident = made[id(placed.arrow)]
        if placed.arrow.id:
            assert ident == placed.arrow.id and "." not in ident
        else:
            assert ident.startswith(f"{placed.step or placed.track}.{placed.arrow.on[0]}")


def test_the_forms_of_names() -> None:
    assert NAME.fullmatch("clear_said") and DASHED.fullmatch("clear-before-shock")
    for bad in ("", "Clear", "1st", "a-b", "a.b", "a b", "é", "a" * 65, "a\n"):
        assert not NAME.fullmatch(bad)
    assert guidance_folder("ERC 2025") == "erc-2025"
    assert guidance_folder("Rescue & Co. 2026") == "rescue-co-2026"
