"""The bed of one vessel from the name of its medium, where no workbook stands around it."""

from __future__ import annotations

from math import isnan, pi

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import InputError
from fleetaudit.facts.frame import Layer
from fleetaudit.language import say
from fleetaudit.reading.media import Reader
from fleetaudit.schema.column import Missing, Origin
from fleetaudit.sizing import Bed


def read_bed(text: str, catalogue: Catalogue, diameter_m: float) -> Bed:
    """Bed of a medium, of layers or of a blend, as a cell of a workbook would say it; a guess is asked about.

    `diameter_m` turns volumes of layers into depths.
    """
    reading = Reader(catalogue).read(text)
    if reading.non_bed:
        raise InputError(
            say(
                '"{text}" is no backwashing bed ({kind}), so there is no flow to work out.',
                text=text,
                kind=reading.non_bed,
            )
        )
    if reading.missing is Missing.BLANK:
        raise InputError(say("The medium is not given. Name one, such as activated carbon."))
    if reading.missing is not Missing.KNOWN or reading.code < 0:
        wrong = (
            say("Medium {problem}", problem=say(reading.told))
            if reading.told
            else say('Medium "{text}" is not known.', text=text)
        )
        raise InputError(f"{wrong} {say('All media: fleetaudit catalogue media')}")
    if reading.origin is Origin.GUESSED:
        raise InputError(
            say('Medium "{text}" is not known. Did you mean {name}?', text=text, name=say(reading.assumed))
        )
    several = reading.parts if len(reading.parts) > 1 else ()
    area = pi / 4 * diameter_m**2
    layers = tuple(
        Layer(part.code, part.depth_m if isnan(part.volume_m3) else part.volume_m3 / area, part.share)
        for part in several
    )
    return Bed(reading.code, not reading.usual_mesh, layers)
