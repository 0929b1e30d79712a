"""Audit of backwashing media filters from a workbook of installed units.

The public names are loaded on first use, so that importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from fleetaudit.schema.version import VERSION as __version__

if TYPE_CHECKING:
    from fleetaudit.auditing.run import audit
    from fleetaudit.reading.company import load_catalogue
    from fleetaudit.reading.fleet import read_fleet
    from fleetaudit.route_file import plan_route

__all__ = ["__version__", "audit", "load_catalogue", "plan_route", "read_fleet"]

_HOME = {
    "audit": "fleetaudit.auditing.run",
    "load_catalogue": "fleetaudit.reading.company",
    "plan_route": "fleetaudit.route_file",
    "read_fleet": "fleetaudit.reading.fleet",
}


def __getattr__(name: str) -> Any:
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'fleetaudit' has no attribute '{name}'")
