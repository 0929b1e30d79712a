"""Place of a site by trust: its latitude and longitude, else a US postcode; never a guess."""

from __future__ import annotations

import re
from functools import lru_cache
from math import isnan
from typing import Any

from fleetaudit.language import say
from fleetaudit.routing.model import Place

BY_COORDINATES, BY_POSTCODE, BY_SHEET = (
    "coordinates",
    "postcode (centre of its area)",
    "coordinates of the Sites sheet",
)
_FIVE = re.compile(r"^(\d{3,5})(?:-\d{4})?(?:\.0)?$")
_POST_BOX = re.compile(r"\bp\.?\s*o\.?\s*box\b", re.IGNORECASE)
DIGITS = 5


def by_coordinates(
    latitude: float, longitude: float, known_by: str = BY_COORDINATES
) -> tuple[Place | None, str]:
    """Place of a pair [degrees], or why it is none."""
    if isnan(latitude) and isnan(longitude):
        return None, say("no latitude and longitude")
    if isnan(latitude) or isnan(longitude):
        return None, say("only one of latitude and longitude is given")
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        return None, say(
            "latitude {latitude:g}, longitude {longitude:g} lie outside the globe",
            latitude=latitude,
            longitude=longitude,
        )
    if latitude == 0 and longitude == 0:
        return None, say("latitude 0 and longitude 0 stand for a blank")
    return Place(latitude, longitude, known_by), ""


def by_postcode(text: str, address: str = "") -> tuple[Place | None, str]:
    """Centre of a US postcode, offline, or why there is none. Lost leading zeros are put back."""
    found = _FIVE.match(text.strip())
    if found is None:
        why = say('postcode "{code}" is not a US one', code=text) if text.strip() else say("no postcode")
        return None, why
    code = found[1].zfill(DIGITS)
    centre = _centre(code)
    if centre is None:
        return None, say(
            'postcode "{code}" is not in the list of US postcodes, or has no place of its own', code=code
        )
    note = say("post-office box: the place of the post office") if _POST_BOX.search(address) else ""
    return Place(centre[0], centre[1], BY_POSTCODE, centre[2]), note


def can_look_up() -> bool:
    """Whether the list of US postcodes is installed."""
    try:
        import zipcodes  # noqa: F401, PLC0415 - only looked for, and slow to load
    except ImportError:
        return False
    return True


@lru_cache(maxsize=8192)
def _centre(code: str) -> tuple[float, float, bool] | None:
    """Centre of a postcode, and whether its town has others."""
    try:
        import zipcodes  # noqa: PLC0415 - loads the whole list, wanted only where a postcode is looked up
    except ImportError:
        return None
    library: Any = zipcodes
    for row in library.matching(code):
        latitude, longitude = float(row["lat"] or 0), float(row["long"] or 0)
        if latitude or longitude:
            same = library.filter_by(city=row["city"], state=row["state"], zip_code_type="STANDARD")
            return latitude, longitude, len(same) > 1
    return None
