"""What audits of several parts of one fleet need not work out again."""

from __future__ import annotations

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.facts import draws
from fleetaudit.hydraulics.kept import Kept

#: how many are kept: four kilobytes for each bed's room, eight for each medium in a water
_ROOMS, _WATERS = 8192, 2048


class Worked:
    """Draws of velocities by medium and water, and by the room above a bed; they hang on the catalogue too.

    It belongs to one catalogue and is passed from part to part (`scale.partitions.audited`); no result
    changes by it. A frame audited by itself keeps none: its beds and waters are gone through once.
    """

    def __init__(self, catalogue: Catalogue, *, keep: bool = True) -> None:
        self.catalogue = catalogue
        self.rooms = Kept(_ROOMS if keep else 0, draws.DRAWS)
        self.waters = Kept(_WATERS if keep else 0, 2 * draws.DRAWS + 4)
