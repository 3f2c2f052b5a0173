"""What a brewhouse does, from several of its batches: mean and spread of each figure, and what stands out.

The figures are those that a batch's own sheets measured. Nothing is dropped: a batch that stands out is named.
"""

from __future__ import annotations

import datetime
import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

__all__ = ["MEASURED", "OF_THE_YEAST", "Batch", "Brewhouse", "Spread", "brewhouse", "by_gravity", "spread"]


#: the plan's inputs that batches measure, by key, with the heads of their columns
MEASURED = {
    "mash.efficiency": "Extract reaching the kettle",
    "kettle.boil_off": "Boils off in an hour",
    "chill.cooling": "Cooling constant",
    "kettle.loss": "Left in the kettle",
    "kettle.fermenter_loss": "Left in the fermenter",
    "yeast.attenuation": "Attenuation",
}
OF_THE_YEAST = "yeast.attenuation"  # of which only batches of the same yeast tell anything

#: Iglewicz & Hoaglin 1993, How to Detect and Handle Outliers: a modified z-score over 3.5 is worth a look
_STANDS_OUT = 3.5
_NORMAL = 0.6745  # median absolute deviation of a normal distribution over its standard deviation
_FEW = 5  # batches, below which nothing can be said to stand out
_GRAVITIES_APART = 0.010  # that batches must span before efficiency is drawn over gravity


@dataclass(frozen=True)
class Batch:
    """One finished batch: its name, its yeast, and what it measured; what it didn't isn't there."""

    name: str
    date: datetime.date | None
    yeast: str
    gravity: float | None  # of the wort pitched
    measured: Mapping[str, float]  # by the plan's key, in the formulas' unit


@dataclass(frozen=True)
class Spread:
    """A figure over several batches."""

    count: int
    mean: float
    deviation: float | None  # sample standard deviation; None for one batch, which has no spread
    stand_out: tuple[str, ...] = ()  # the batches far from the others, all counted in


def spread(named: Sequence[tuple[str, float]]) -> Spread | None:
    """Mean, sample standard deviation and what stands out; None where nothing was measured.

    >>> spread([("one", 0.72), ("two", 0.76)])
    Spread(count=2, mean=0.74, deviation=0.0283, stand_out=())
    """
    values = [value for _, value in named]
    if not values:
        return None
    mean = statistics.fmean(values)
    if len(values) == 1:
        return Spread(1, mean, None)
    return Spread(len(values), mean, statistics.stdev(values), _standing_out(named))


def _standing_out(named: Sequence[tuple[str, float]]) -> tuple[str, ...]:
    """Whose modified z-score is over the limit: the distance from the median in median absolute deviations."""
    if len(named) < _FEW:
        return ()
    middle = statistics.median(value for _, value in named)
    usual = statistics.median(abs(value - middle) for _, value in named)
    return tuple(name for name, value in named if _NORMAL * abs(value - middle) > _STANDS_OUT * usual)


def by_gravity(batches: Iterable[Batch], gravity: float) -> Spread | None:
    """The efficiency to expect at a gravity: the straight line through the batches (least squares) where there are at
    least four over a span of gravities, with the deviation from that line; None where there is no such line."""
    points = [
        (batch.gravity, batch.measured["mash.efficiency"], batch.name)
        for batch in batches
        if batch.gravity is not None and "mash.efficiency" in batch.measured
    ]
    gravities = [point[0] for point in points]
    if len(points) < 4 or max(gravities) - min(gravities) < _GRAVITIES_APART:
        return None
    line = statistics.linear_regression(gravities, [point[1] for point in points])
    residuals = [efficiency - line.intercept - line.slope * at for at, efficiency, _ in points]
    # two of the degrees of freedom went into the line
    deviation = (sum(residual**2 for residual in residuals) / (len(points) - 2)) ** 0.5
    nearest = min(max(gravity, min(gravities)), max(gravities))  # no further than batches have gone
    named = [(name, residual) for (_, _, name), residual in zip(points, residuals, strict=True)]
    return Spread(len(points), line.intercept + line.slope * nearest, deviation, _standing_out(named))


@dataclass(frozen=True)
class Brewhouse:
    """Several batches, and what they tell of the next."""

    batches: tuple[Batch, ...]
    spreads: Mapping[str, Spread]  # by the plan's key, of the batches that count for it
    line: Spread | None  # the efficiency by gravity, where there is such a line

    @property
    def expected(self) -> dict[str, float]:
        """What to expect of the next batch, by the plan's key: as far as it was measured."""
        found = {key: one.mean for key, one in self.spreads.items()}
        return found | {"mash.efficiency": self.line.mean} if self.line else found


def brewhouse(batches: Sequence[Batch], yeast: str, gravity: float) -> Brewhouse:
    """What batches tell of one that is planned with this yeast and this gravity."""
    found = {}
    of_this_yeast = [batch for batch in batches if batch.yeast.casefold() == yeast.casefold()]
    for key in MEASURED:
        counted = [b for b in (of_this_yeast if key == OF_THE_YEAST else batches) if key in b.measured]
        one = spread([(batch.name, batch.measured[key]) for batch in counted])
        if one is not None:
            found[key] = one
    return Brewhouse(tuple(batches), found, by_gravity(batches, gravity))
