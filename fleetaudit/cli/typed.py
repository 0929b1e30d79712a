"""What is typed after an option to SI, with one sentence where it cannot be."""

from __future__ import annotations

import re
from datetime import date
from math import isnan, nan

import click

from fleetaudit import units
from fleetaudit.catalogue.model import Vessel
from fleetaudit.errors import InputError
from fleetaudit.language import later, say
from fleetaudit.reading import grammar, sizes
from fleetaudit.reading.plain import plain
from fleetaudit.reading.remarks import spoken
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Quantity
from fleetaudit.units import from_si, to_si

#: columns of the workbook whose values options take
COLUMNS = (
    fleet.INSIDE, fleet.DEPTH, fleet.FREEBOARD, fleet.COLD, fleet.WARM, fleet.RESTRICTOR,
)  # fmt: skip
#: what the size of a vessel is given in
LENGTH = "length"
#: plausible wash rates [m/s]: 0.5 to 80 gpm/ft2
RATES = (0.5 * 6.790972e-4, 80 * 6.790972e-4)
#: what is wrong with what was typed, where its reader found nothing wrong
IS_NO_NUMBER, TWO_WAYS = later("is not a number"), later("can be read in two ways")
_BETWEEN = re.compile(r"\s*(?:-|\bto\b|\.\.)\s*(?=[0-9.])", re.IGNORECASE)


def number(
    option: str, text: str | None, quantity: Quantity, system: str, bounds: tuple[float, float]
) -> float:
    """Value [SI] of an option, NaN where not given; a bare number is in the unit of the system."""
    if text is None:
        return nan
    usual = quantity.unit(system)
    example = f"{option} {_example(quantity, usual)}"
    typed = grammar.read(plain(text))
    if typed.problem or isnan(typed.number):
        raise _unread(option, text, typed.problem or IS_NO_NUMBER, example)
    unit = typed.unit.name if typed.unit else usual
    if typed.unit is not None and typed.unit.si != quantity.si:
        raise _of_another_kind(option, text, unit, quantity.name, example)
    value = float(to_si(typed.number, unit))
    low, high = bounds
    if not low <= value <= high:
        wrong = say(
            '{option} "{text}" cannot be: expected {low:.4g} to {high:.4g} {unit}.',
            option=option,
            text=text,
            low=from_si(low, unit),
            high=from_si(high, unit),
            unit=unit,
        )
        if typed.unit is None:
            wrong += " " + say(
                "Without a unit it was taken in {unit}; write the unit if you meant another.", unit=unit
            )
        raise InputError(wrong)
    return value


def of_column(option: str, text: str | None, column: Column, system: str) -> float:
    """Value [SI] of an option that says what a column of the workbook says."""
    return number(option, text, column.quantity, system, column.bounds or (0.0, float("inf")))


def rates(option: str, text: str | None, system: str) -> tuple[float, float] | None:
    """Wash rate [m/s], one or a range."""
    if text is None:
        return None
    ends = _BETWEEN.split(plain(text))
    if len(ends) != 2:
        one = number(option, text, q.FLUX, system, RATES)
        return one, one
    last = grammar.read(ends[1]).unit
    bare = grammar.read(ends[0]).unit is None and last is not None
    low, high = (
        number(option, end, q.FLUX, system, RATES)
        for end in (f"{ends[0]} {last.name}" if bare and last else ends[0], ends[1])
    )
    if low > high:
        raise InputError(
            say(
                '{option} "{text}" runs from high to low. Write the lower rate first.',
                option=option,
                text=text,
            )
        )
    return low, high


def share(option: str, text: str | None) -> float:
    """A share: 10% or 0.1; NaN where it was not given."""
    if text is None:
        return nan
    typed = grammar.read(plain(text))
    value = typed.number * (typed.unit.factor if typed.unit is not None and typed.unit.si == "1" else 1.0)
    if (
        typed.problem
        or isnan(value)
        or (typed.unit is not None and typed.unit.si != "1")
        or not 0 <= value < 1
    ):
        raise InputError(
            say(
                '{option} "{text}" is not a share from 0% to 99%. Write it as {option} 10%',
                option=option,
                text=text,
            )
        )
    return value


def vessel(option: str, text: str | None, vessels: tuple[Vessel, ...], system: str) -> tuple[float, float]:
    """Nominal diameter and height [m] of a size such as 13x54; NaN where not given."""
    if text is None:
        return nan, nan
    size = sizes.read(plain(text), vessels)
    example = say("{option} 13x54 (inches), or with a unit: {option} 330x1370mm", option=option)
    if size.problem or size.guessed or isnan(size.diameter):
        raise _unread(option, text, size.problem or TWO_WAYS, example)
    across = size.diameter_unit.name if size.diameter_unit else _possible(size.diameter, system)
    tall = size.height_unit.name if size.height_unit else across
    for unit in (across, tall):
        known = units.find(unit)
        if known is None or known.si != "m":
            raise _of_another_kind(option, text, unit, LENGTH, example)
    found = float(to_si(size.diameter, across)), float(to_si(size.height, tall))
    for value, column, unit in zip(found, (fleet.DIAMETER, fleet.HEIGHT), (across, tall), strict=True):
        if not isnan(value) and not _inside(value, column):
            low, high = (float(from_si(end, unit)) for end in column.bounds or (0.0, float("inf")))
            raise InputError(
                say(
                    '{option} "{text}": {column} must be {low:.4g} to {high:.4g} {unit}. '
                    "Write it as {example}",
                    option=option,
                    text=text,
                    column=spoken(column),
                    low=low,
                    high=high,
                    unit=unit,
                    example=example,
                )
            )
    return found


def _unread(option: str, text: str, problem: str, example: str) -> InputError:
    return InputError(
        say(
            '{option} "{text}" {problem}. Write it as {example}',
            option=option,
            text=text,
            problem=say(problem),
            example=example,
        )
    )


def _of_another_kind(option: str, text: str, unit: str, quantity: str, example: str) -> InputError:
    return InputError(
        say(
            '{option} "{text}" is in {unit}, which is no {quantity}. Write it as {example}',
            option=option,
            text=text,
            unit=unit,
            quantity=say(quantity),
            example=example,
        )
    )


def _possible(diameter: float, system: str) -> str:
    """Unit in which a vessel can have a bare diameter: inches and millimetres never overlap."""
    usual, other = q.SIZE.unit(system), q.SIZE.unit("us" if system == "metric" else "metric")
    return other if _inside(float(to_si(diameter, other)), fleet.DIAMETER) else usual


def _inside(value: float, column: Column) -> bool:
    low, high = column.bounds or (0.0, float("inf"))
    return low * (1 - 1e-9) <= value <= high * (1 + 1e-9)


def _example(quantity: Quantity, unit: str) -> str:
    shown = {
        "degF": "50F",
        "degC": "10C",
        "gpm/ft2": "10gpm/ft2",
        "m/h": "24m/h",
        "gpm": "9gpm",
        "L/min": "34L/min",
    }
    return shown.get(unit, f"30{unit}")


def day(ctx: click.Context, param: click.Parameter, value: str | None) -> date | None:
    """Date of an option written as 2026-11-01."""
    if value is None:
        return None
    try:
        return date.fromisoformat(value)
    except ValueError:
        wrong = say('"{text}" is not a date. Write it as 2026-11-01.', text=value)
        raise click.BadParameter(wrong, ctx, param) from None


def pairs(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> dict[str, str]:
    """Headings with the column each stands for, of options written as "Their heading=our column"."""
    found = {}
    for value in values:
        heading, sign, column = value.partition("=")
        if not sign or not heading.strip() or not column.strip():
            wrong = say('"{text}" has no "=". Write --map "Their heading=our column".', text=value)
            raise click.BadParameter(wrong, ctx, param)
        found[heading.strip()] = column.strip()
    return found
