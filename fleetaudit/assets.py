"""Finds the files shipped beside the code: in a wheel, an editable install or a plain checkout."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from fleetaudit.errors import InputError


def read_bytes(name: str) -> bytes:
    """Bytes of a shipped file, `name` as in "data/media.toml" or "templates/summary.html.j2"."""
    packaged = files("fleetaudit").joinpath(name)
    if packaged.is_file():
        return packaged.read_bytes()
    beside = _checkout_file(name)
    if beside is not None:
        return beside.read_bytes()
    raise InputError(f"The installation is incomplete: {name} is missing. Install fleetaudit again.")


def read_text(name: str) -> str:
    """Text of a shipped file (UTF-8)."""
    return read_bytes(name).decode("utf-8")


def _checkout_file(name: str) -> Path | None:
    root = Path(__file__).resolve().parent.parent
    if not (root / "pyproject.toml").is_file():
        return None
    candidate = root / name
    if candidate.is_file():
        return candidate
    sample = root / Path(name).name
    return sample if name == "data/sample_fleet.xlsx" and sample.is_file() else None
