"""Shipped files, and what is kept of them between runs."""

from __future__ import annotations

import os
import sys
import tomllib
from importlib.util import cache_from_source
from pathlib import Path

import pytest

from fleetaudit import assets

TABLE = "data/prices.toml"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A package folder of its own with one table, and Python free to keep what it compiles."""
    (tmp_path / "data").mkdir()
    (tmp_path / TABLE).write_text("water = 1.5\n", encoding="utf-8")
    monkeypatch.setattr(assets, "_HERE", tmp_path)
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(sys, "pycache_prefix", None)
    return tmp_path


def _kept(home: Path) -> Path:
    return Path(cache_from_source(f"{home / TABLE}.py"))


def test_a_table_is_what_the_standard_library_reads(home: Path) -> None:
    expected = tomllib.loads((home / TABLE).read_text(encoding="utf-8"))
    assert assets.read_table(TABLE) == expected
    assert _kept(home).is_file()
    assert assets.read_table(TABLE) == expected


def test_a_table_is_parsed_once(home: Path) -> None:
    calls: list[str] = []

    def parse(text: str) -> dict[str, object]:
        calls.append(text)
        return tomllib.loads(text)

    assert assets.prepared(TABLE, parse) == assets.prepared(TABLE, parse)
    assert len(calls) == 1
    assets.prepared(TABLE, parse, stamp="another maker")
    assert len(calls) == 2


def test_a_changed_file_is_read_anew(home: Path) -> None:
    assets.read_table(TABLE)
    (home / TABLE).write_text("water = 2.5\n", encoding="utf-8")
    os.utime(home / TABLE, ns=(1, 1))
    assert assets.read_table(TABLE) == {"water": 2.5}


@pytest.mark.parametrize("damage", [b"", b"no table at all", b"\xe9\xff\xff\xff\x7f"])
def test_a_damaged_cache_does_no_harm(home: Path, damage: bytes) -> None:
    assets.read_table(TABLE)
    _kept(home).write_bytes(damage)
    assert assets.read_table(TABLE) == {"water": 1.5}


def test_a_folder_that_takes_no_cache_does_no_harm(home: Path) -> None:
    (home / "data" / "__pycache__").write_text("a file stands where the folder would be", encoding="utf-8")
    assert assets.read_table(TABLE) == {"water": 1.5}


def test_what_the_cache_cannot_hold_is_made_anew(home: Path) -> None:
    (home / TABLE).write_text("since = 2021-04-05\n", encoding="utf-8")
    assert assets.read_table(TABLE) == assets.read_table(TABLE)
    assert not _kept(home).exists()


def test_nothing_is_kept_where_python_is_told_so(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert assets.read_table(TABLE) == {"water": 1.5}
    assert not _kept(home).exists()
