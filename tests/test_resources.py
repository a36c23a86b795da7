"""Shipped files are found from a checkout and from an installed package, from any folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach import resources


def test_the_checkout_wins(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir("/")
    root = Path(resources.__file__).resolve().parent.parent
    assert resources.data_dir("protocols") == root / "protocols"


def test_an_installed_package_uses_its_own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    inside = tmp_path / "coach" / "_data" / "demo"
    inside.mkdir(parents=True)
    (tmp_path / "demo").mkdir()  # a stranger's folder beside it, without pyproject.toml, does not count
    monkeypatch.setattr(resources, "__file__", str(tmp_path / "coach" / "resources.py"))
    assert resources.data_dir("demo") == inside


def test_a_missing_folder_names_both_places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(resources, "__file__", str(tmp_path / "coach" / "resources.py"))
    with pytest.raises(FileNotFoundError, match="_data"):
        resources.data_dir("demo")


def test_the_persons_folder_can_be_chosen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KNEESIDE_DATA_DIR", str(tmp_path))
    assert resources.user_dir() == tmp_path
    monkeypatch.delenv("KNEESIDE_DATA_DIR")
    assert "kneeside" in str(resources.user_dir())
