"""Mean, spread and what stands out over several batches, against numpy and scipy."""

from __future__ import annotations

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from brewfuncs.batch.brewhouse import MEASURED, Batch, brewhouse, by_gravity, spread
from brewfuncs.batch.sections import INPUTS
from brewfuncs.batch.sheets.brewhouse import remarks

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


@pytest.mark.parametrize(("far", "named_out"), [(10.37, False), (10.39, True)])
def test_where_standing_out_begins(far: float, named_out: bool) -> None:
    """By hand: the median of these is 0.70 and their median absolute deviation 0.02, so that 3.5 is reached at 3.5 /
    0.6745 of it, 0.1038."""
    found = spread(named([0.70 + off / 100 for off in (-3, -2, -1, 0, 1, 2, far)]))
    assert found is not None
    assert found.stand_out == (("batch 7",) if named_out else ())


def test_five_are_enough_to_stand_out_from_and_nobody_does_where_all_are_alike() -> None:
    five = spread(named([0.72, 0.73, 0.72, 0.71, 0.4]))
    assert five is not None
    assert five.stand_out == ("batch 5",)
    alike = spread(named([0.7] * 6))
    assert alike is not None
    assert alike.stand_out == ()


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


def test_a_line_from_ten_points_of_gravity_on_through_batches_that_tell_both() -> None:
    pairs = [(1.040, 0.78), (1.043, 0.77), (1.046, 0.75), (1.050, 0.74)]
    found = by_gravity(batches(pairs), 1.045)
    assert found is not None
    assert found.count == 4
    others = [Batch("no gravity", None, "ale", None, {"mash.efficiency": 0.2}), Batch("nothing", None, "ale", 1.09, {})]
    assert by_gravity([*batches(pairs), *others], 1.045) == found
    assert by_gravity([*batches(pairs[:3]), *others], 1.045) is None
    assert by_gravity(batches([*pairs[:3], (1.0499, 0.74)]), 1.045) is None


def test_what_is_expected_of_the_next_batch() -> None:
    """Attenuation of its own yeast, efficiency at its gravity, all else as the mean."""
    made = [
        Batch(name, None, yeast, gravity, {"mash.efficiency": e, "yeast.attenuation": a, "kettle.boil_off": rate})
        for name, yeast, gravity, e, a, rate in (
            ("one", "Ale yeast", 1.040, 0.78, 0.76, 4.0), ("two", "ale yeast", 1.050, 0.76, 0.78, 4.4),
            ("three", "Lager yeast", 1.060, 0.74, 0.84, 4.2), ("four", "Lager yeast", 1.070, 0.72, 0.86, 4.6),
        )
    ]  # fmt: skip
    found = brewhouse(made, "Ale yeast", 1.055)
    assert found.expected == pytest.approx(
        {"mash.efficiency": 0.75, "yeast.attenuation": 0.77, "kettle.boil_off": 4.3}  # 2 % each ten points, exactly
    )
    assert found.spreads["yeast.attenuation"].count == 2
    few = brewhouse(made[:3], "Wheat yeast", 1.055)
    assert few.expected == pytest.approx({"mash.efficiency": 0.76, "kettle.boil_off": 4.2})
    assert few.line is None


def test_remarks_name_what_stands_out_among_the_batches_that_count() -> None:
    """Five of one yeast, alike, and one of another: that tells nothing of this one, and isn't counted in."""
    ours = [Batch(f"ours {n}", None, "ale", None, {"yeast.attenuation": 0.75 + n / 100}) for n in range(5)]
    other = Batch("other", None, "lager", None, {"yeast.attenuation": 0.5})
    assert not [said for said in remarks(brewhouse([*ours, other], "ale", 1.05)) if "other stands out" in said]
    same = Batch("odd", None, "ale", None, {"yeast.attenuation": 0.5})
    said = remarks(brewhouse([*ours, same], "ale", 1.05))
    assert "Attenuation: odd stands out from the others (modified z-score over 3.5). It is counted in." in said


def test_remarks_name_what_is_off_the_line() -> None:
    pairs = [(1.040 + n / 1000, 0.80 - n / 200 + (n % 3 - 1) / 500) for n in range(0, 40, 5)]
    said = remarks(brewhouse(batches(pairs), "ale", 1.05))
    assert "The plan's efficiency is the one of the batches' straight line at the gravity wanted." in said
    assert not [one for one in said if "Off that line" in one]
    pairs[3] = (pairs[3][0], pairs[3][1] - 0.1)
    assert "Off that line: batch 4. It is counted in." in remarks(brewhouse(batches(pairs), "ale", 1.05))
    assert remarks(brewhouse(batches(pairs[:1]), "ale", 1.05))[0].startswith("One batch gives no spread")


def test_what_is_measured_are_inputs_of_the_plan() -> None:
    assert set(MEASURED) <= set(INPUTS)
