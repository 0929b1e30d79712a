"""What is typed after an option to SI, with one sentence where it cannot be."""

from __future__ import annotations

import re
from datetime import date
from math import isnan, nan

import click

from fleetaudit import units
from fleetaudit.catalogue.model import Vessel
from fleetaudit.errors import InputError
from fleetaudit.reading import grammar, sizes
from fleetaudit.reading.plain import plain
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Quantity
from fleetaudit.units import from_si, to_si

#: plausible wash rates [m/s]: 0.5 to 80 gpm/ft2
RATES = (0.5 * 6.790972e-4, 80 * 6.790972e-4)
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
        raise InputError(f'{option} "{text}" {typed.problem or "is not a number"}. Write it as {example}')
    unit = typed.unit.name if typed.unit else usual
    if typed.unit is not None and typed.unit.si != quantity.si:
        raise InputError(
            f'{option} "{text}" is in {unit}, which is no {quantity.name}. Write it as {example}'
        )
    value = float(to_si(typed.number, unit))
    low, high = bounds
    if not low <= value <= high:
        ends = f"{from_si(low, unit):.4g} to {from_si(high, unit):.4g} {unit}"
        meant = (
            ""
            if typed.unit
            else f" Without a unit it was taken in {unit}; write the unit if you meant another."
        )
        raise InputError(f'{option} "{text}" cannot be: expected {ends}.{meant}')
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
        raise InputError(f'{option} "{text}" runs from high to low. Write the lower rate first.')
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
        raise InputError(f'{option} "{text}" is not a share from 0% to 99%. Write it as {option} 10%')
    return value


def vessel(option: str, text: str | None, vessels: tuple[Vessel, ...], system: str) -> tuple[float, float]:
    """Nominal diameter and height [m] of a size such as 13x54; NaN where not given."""
    if text is None:
        return nan, nan
    size = sizes.read(plain(text), vessels)
    example = f"{option} 13x54 (inches), or with a unit: {option} 330x1370mm"
    if size.problem or size.guessed or isnan(size.diameter):
        raise InputError(
            f'{option} "{text}" {size.problem or "can be read in two ways"}. Write it as {example}'
        )
    across = size.diameter_unit.name if size.diameter_unit else _possible(size.diameter, system)
    tall = size.height_unit.name if size.height_unit else across
    for unit in (across, tall):
        known = units.find(unit)
        if known is None or known.si != "m":
            raise InputError(f'{option} "{text}" is in {unit}, which is no length. Write it as {example}')
    found = float(to_si(size.diameter, across)), float(to_si(size.height, tall))
    for value, column, unit in zip(found, (fleet.DIAMETER, fleet.HEIGHT), (across, tall), strict=True):
        if not isnan(value) and not _inside(value, column):
            low, high = (f"{from_si(end, unit):.4g}" for end in column.bounds or (0.0, float("inf")))
            raise InputError(
                f'{option} "{text}": {column.title.lower()} must be {low} to {high} {unit}. '
                f"Write it as {example}"
            )
    return found


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
        raise click.BadParameter(f'"{value}" is not a date. Write it as 2026-11-01.', ctx, param) from None


def pairs(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> dict[str, str]:
    """Headings with the column each stands for, of options written as "Their heading=our column"."""
    found = {}
    for value in values:
        heading, sign, column = value.partition("=")
        if not sign or not heading.strip() or not column.strip():
            raise click.BadParameter(
                f'"{value}" has no "=". Write --map "Their heading=our column".', ctx, param
            )
        found[heading.strip()] = column.strip()
    return found
