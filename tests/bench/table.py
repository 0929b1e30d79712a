"""The table of figures."""

from __future__ import annotations

from dataclasses import dataclass

_LINE = "{:<54} {:>10} {:>10} {:>7} {:>10} {:>6} {:>6}  {}"


@dataclass(frozen=True)
class Figure:
    """Two measurements in one unit; their ratio must not pass the bar and should not pass the aim.

    `busy` is the ratio of the processor times, which other work on the machine disturbs less.
    """

    what: str
    ours: float
    theirs: float
    unit: str
    bar: float
    aim: float
    busy: float | None = None

    @property
    def ratio(self) -> float:
        """Ours over theirs."""
        return self.ours / self.theirs

    @property
    def missed(self) -> bool:
        """True where the bar does not hold."""
        return self.ratio > self.bar

    @property
    def verdict(self) -> str:
        """What came of it."""
        if self.missed:
            return "FAIL"
        return "pass" if self.ratio <= self.aim else "pass, aim missed"


def title() -> str:
    """Headings."""
    return _LINE.format("figure", "ours", "theirs", "ratio", "processor", "bar", "aim", "")


def line(figure: Figure) -> str:
    """One figure."""
    digits = 0 if figure.unit == "MB" else 3
    ours, theirs = (f"{value:,.{digits}f} {figure.unit}" for value in (figure.ours, figure.theirs))
    busy = "" if figure.busy is None else f"{figure.busy:.2f}"
    return _LINE.format(
        figure.what, ours, theirs, f"{figure.ratio:.2f}", busy, figure.bar, figure.aim, figure.verdict
    )
