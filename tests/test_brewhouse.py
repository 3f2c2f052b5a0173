"""Mean, spread and what stands out over several batches, against numpy and scipy."""

from __future__ import annotations

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from brewfuncs.batch.brewhouse import MEASURED, Batch, by_gravity, spread
from brewfuncs.batch.plan import INPUTS

SHARES = st.lists(st.floats(0.4, 0.95), min_size=2, max_size=12)


def named(values: list[float]) -> list[tuple[str, float]]:
    return [(f"batch {n}", value) for n, value in enumerate(values, 1)]


def batches(pairs: list[tuple[float, float]]) -> list[Batch]:
    return [Batch(f"batch {n}", None, "ale", g, {"mash.efficiency": e}) for n, (g, e) in enumerate(pairs, 1)]


@given(SHARES)
def test_mean_and_deviation(values: list[float]) -> None:
    found = spread(named(values))
    assert found is not None
    assert found.deviation is not None
    assert found.mean == pytest.approx(numpy.mean(values), rel=1e-12)
    assert found.deviation == pytest.approx(numpy.std(values, ddof=1), rel=1e-9, abs=1e-15)


def test_one_batch_has_no_spread_and_none_has_nothing() -> None:
    found = spread(named([0.7]))
    assert found is not None
    assert (found.count, found.mean, found.deviation) == (1, 0.7, None)
    assert spread([]) is None


def test_what_stands_out_is_named_and_counted_in() -> None:
    """By the modified z-score of Iglewicz & Hoaglin 1993 (scipy's median absolute deviation), limit 3.5."""
    usual = [0.72, 0.74, 0.73, 0.71, 0.75]
    middle, mad = numpy.median([*usual, 0.55]), stats.median_abs_deviation([*usual, 0.55])
    assert abs(0.6745 * (0.55 - middle) / mad) > 3.5
    found = spread(named([*usual, 0.55]))
    assert found is not None
    assert found.stand_out == ("batch 6",)
    assert found.mean == pytest.approx(numpy.mean([*usual, 0.55]))
    calm = spread(named([*usual, 0.69]))
    assert calm is not None
    assert calm.stand_out == ()
    few = spread(named([0.72, 0.73, 0.72, 0.4]))  # of four nothing can be said
    assert few is not None
    assert few.stand_out == ()


def test_efficiency_over_gravity() -> None:
    pairs = [(1.040, 0.78), (1.048, 0.755), (1.055, 0.75), (1.070, 0.70)]
    line = stats.linregress(*zip(*pairs, strict=True))
    residuals = [e - line.intercept - line.slope * g for g, e in pairs]
    found = by_gravity(batches(pairs), 1.060)
    assert found is not None
    assert found.mean == pytest.approx(line.intercept + line.slope * 1.060, rel=1e-9)
    assert found.deviation == pytest.approx(numpy.sqrt(numpy.sum(numpy.square(residuals)) / 2), rel=1e-9)
    beyond = by_gravity(batches(pairs), 1.110)  # no further than batches have gone
    assert beyond is not None
    assert beyond.mean == pytest.approx(line.intercept + line.slope * 1.070, rel=1e-9)


@pytest.mark.parametrize(
    "pairs", [[], [(1.040, 0.78), (1.060, 0.7), (1.07, 0.7)], [(1.05, 0.7), (1.051, 0.8), (1.052, 0.72), (1.059, 0.73)]]
)
def test_no_line_through_few_or_alike(pairs: list[tuple[float, float]]) -> None:
    assert by_gravity(batches(pairs), 1.05) is None


def test_what_is_measured_are_inputs_of_the_plan() -> None:
    assert set(MEASURED) <= set(INPUTS)
