"""Days that lie a span of time after others, as a calendar counts them."""

from __future__ import annotations

import numpy as np

from fleetaudit.facts.frame import Codes, Floats
from fleetaudit.schema.quantity import DAY_SECONDS, YEAR_SECONDS

_MONTH_DAYS = YEAR_SECONDS / DAY_SECONDS / 12
#: how far from whole months a span still counts as meant in months, for what rounding of seconds leaves
_ROUNDING = 1e-6
#: longest span that is counted by the calendar, in months
_LONGEST = 12 * 1000


def later(day: Floats, span: Floats) -> Floats:
    """Day (since 1970-01-01) a span of days after another.

    A span of whole months or years, at mean years of 365.25 days, ends on the same day of the month, or on
    the last day of a month that is too short for it: 29 February and one year is 28 February. Any other span
    counts days.

    >>> first = np.datetime64("2020-02-29").astype(float)
    >>> (later(np.array([first, first]), np.array([365.25, 365.0]))).astype("M8[D]").tolist()
    [datetime.date(2021, 2, 28), datetime.date(2021, 2, 28)]
    """
    counted = np.asarray(day + span)
    spans = np.broadcast_to(span / _MONTH_DAYS, counted.shape)
    with np.errstate(invalid="ignore"):
        whole = (np.abs(spans - np.rint(spans)) < _ROUNDING) & (np.abs(spans) < _LONGEST)
    at = np.flatnonzero(whole & np.isfinite(counted))
    if not at.size:
        return counted
    exact = np.broadcast_to(day, counted.shape)[at]
    start = np.floor(exact)
    month, into = months(start.astype(np.int64))
    month += np.rint(spans[at]).astype(np.int64)
    earliest = month.min()
    firsts = np.arange(earliest, month.max() + 2).astype("M8[M]").astype("M8[D]").astype(np.int64)
    month -= earliest
    counted[at] = np.minimum(firsts[month] + into, firsts[month + 1] - 1) + (exact - start)
    return counted


def months(days: Codes) -> tuple[Codes, Codes]:
    """Month of each day (since January 1970) and how far into it the day lies."""
    first = int(days.min())
    range_of_days = np.arange(first, int(days.max()) + 1)
    each = len(range_of_days) > len(days)
    dates = (days if each else range_of_days).astype("M8[D]")
    month = dates.astype("M8[M]")
    number, into = month.astype(np.int64), (dates - month.astype("M8[D]")).astype(np.int64)
    return (number, into) if each else (number[days - first], into[days - first])
