"""Where a fleet came from and what is asked of its report."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from msgspec import Struct, field

from fleetaudit.accepting import Accepted
from fleetaudit.needs import Stocked
from fleetaudit.schema.remark import Remark


class Origin(Struct, frozen=True):
    """Where the fleet came from."""

    version: str
    path: str
    file: str
    sheets: tuple[str, ...]
    sha256: str
    remarks: Sequence[Remark]
    as_of: date
    system: str
    every_not_checked: bool = False
    account: str = ""
    crew: str = ""
    hide_crew_names: bool = False
    accepted: Sequence[Accepted] = ()
    stock: Sequence[Stocked] = ()
    #: latitude and longitude [degrees] of units whose site is known, by position, where the list has none
    places: dict[int, tuple[float, float]] = field(default_factory=dict)
    #: day, counted from 1970-01-01, and crew of the plan for each unit it holds, by unit id
    route_days: dict[str, tuple[int, str]] = field(default_factory=dict)
    shared_stock: Sequence[Stocked] = ()
    #: True where other workbooks draw on the shared stock too
    others_share: bool = False
