"""Finds the files shipped beside the code: in a wheel, an editable install or a plain checkout.

What takes long to work out from such a file (its parsed table, its compiled template) is kept beside it in
`__pycache__`, as Python keeps compiled modules, and made anew when the file changes.
"""

from __future__ import annotations

import marshal
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from importlib.util import cache_from_source
from pathlib import Path
from typing import Any

from fleetaudit.errors import InputError
from fleetaudit.schema.version import VERSION

_HERE = Path(__file__).resolve().parent


def read_bytes(name: str) -> bytes:
    """Bytes of a shipped file, `name` as in "data/media.toml" or "templates/summary.html.j2"."""
    beside = _file(name)
    if beside is not None:
        return beside.read_bytes()
    from importlib.resources import files  # noqa: PLC0415 - slow to import, needed inside a zip only

    packaged = files("fleetaudit").joinpath(name)
    if packaged.is_file():
        return packaged.read_bytes()
    raise InputError(f"The installation is incomplete: {name} is missing. Install fleetaudit again.")


def read_text(name: str) -> str:
    """Text of a shipped file (UTF-8)."""
    return read_bytes(name).decode("utf-8")


def read_table(name: str) -> dict[str, Any]:
    """Content of a shipped TOML file."""
    table: dict[str, Any] = prepared(name, _parsed)
    return table


def _parsed(text: str) -> dict[str, Any]:
    import tomllib  # noqa: PLC0415 - not where the table comes from the cache

    return tomllib.loads(text)


def prepared(name: str, make: Callable[[str], Any], stamp: str = "") -> Any:
    """What `make` gives for the text of a shipped file, from the cache where file and stamp are the same.

    The cache takes plain values and compiled code; anything else is made anew each time.
    """
    source = _file(name)
    if source is None:
        return make(read_text(name))
    seen = source.stat()
    stamps = (sys.version, VERSION, stamp, seen.st_mtime_ns, seen.st_size)
    kept = Path(cache_from_source(f"{source}.py"))
    with suppress(OSError, EOFError, ValueError, TypeError):
        known, value = marshal.loads(kept.read_bytes())
        if known == stamps:
            return value
    value = make(read_text(name))
    if not sys.dont_write_bytecode:
        with suppress(OSError, ValueError):
            _keep(kept, marshal.dumps((stamps, value)))
    return value


def _keep(path: Path, data: bytes) -> None:
    """Write a cache file in one step, so that no other process reads half of it."""
    path.parent.mkdir(exist_ok=True)
    half = path.with_name(f"{path.name}.{os.getpid()}")
    half.write_bytes(data)
    half.replace(path)


def _file(name: str) -> Path | None:
    """Path of a shipped file, None where the code does not lie in a folder or the file is not there."""
    inside = _HERE / name
    if inside.is_file():
        return inside
    root = _HERE.parent
    if not (root / "pyproject.toml").is_file():
        return None
    candidate = root / name
    if candidate.is_file():
        return candidate
    sample = root / Path(name).name
    return sample if name == "data/sample_fleet.xlsx" and sample.is_file() else None
