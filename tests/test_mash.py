"""The mash against scipy, worked examples, energy balances by hand, and what the trade knows."""

import math
from typing import Any

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

import brewfuncs
from brewfuncs.errors import OutOfRange
from brewfuncs.formulas.mash import (
    mash_lauter_efficiency,
    mash_pasteur_ramp,
    mash_pasteur_units,
    mash_rest_temp,
    mash_step_water,
    mash_strike_temp,
    mash_water,
)
from tests import sucrose
from tests.sampling import assert_columns_agree

# -- pasteurisation units --------------------------------------------------------------------------------------------


def test_one_unit_is_a_minute_at_60() -> None:
    """The definition: Del Vecchio, Dayharsh & Baselt 1951."""
    assert mash_pasteur_units(1, 60) == 1


def test_ten_times_as_lethal_in_one_z() -> None:
    """King 1978 (read): z is 12.5 °F."""
    z = 12.5 * 5 / 9
    assert mash_pasteur_units(1, 60 + z) == pytest.approx(10, rel=1e-3)  # 1.393 has four digits


@pytest.mark.parametrize("ramp", [(65, 100, 25), (100, 20, 40), (60, 60, 7), (72, 72 + 1e-9, 10)])
def test_ramp_against_quadrature(ramp: tuple[float, float, float]) -> None:
    start, end, minutes = ramp
    expected = quad(lambda t: 1.393 ** (start + (end - start) * t / minutes - 60), 0, minutes, epsabs=0, epsrel=1e-12)
    assert mash_pasteur_ramp(*ramp) == pytest.approx(expected[0], rel=1e-11)


@given(st.floats(0, 110), st.floats(0, 110), st.floats(0, 600))
def test_a_ramp_counts_between_its_ends(start: float, end: float, minutes: float) -> None:
    ramp = mash_pasteur_ramp(start, end, minutes)
    low, high = (mash_pasteur_units(minutes, temp) for temp in sorted((start, end)))
    assert low * (1 - 1e-12) <= ramp <= high * (1 + 1e-12)
    assert mash_pasteur_ramp(end, start, minutes) == pytest.approx(ramp, rel=1e-12)


def test_mash_out_is_far_past_a_tunnel() -> None:
    """Common practice, no source: tunnels give beer 15 to 30 PU; mash-out is 10 min at 76 °C."""
    assert mash_pasteur_units(10, 76) > 50 * 30


# -- heat ------------------------------------------------------------------------------------------------------------


def test_rest_of_a_published_example() -> None:
    """Pauls & Whites Brewing Room Book 1984/85 (read in a transcription): strike 69 °C, grain 27 °C, 2.68 L/kg,
    2 % moisture: heat ratio 0.39, slaking 2.3 °C.
    """
    assert mash_rest_temp(69, 27, 2.68, 0.39, 2.3) == pytest.approx(65.96, abs=0.005)


@given(
    strike=st.floats(20, 100), grain=st.floats(-20, 60), ratio=st.floats(1, 10), heat=st.floats(0.3, 0.5),
    slaking=st.floats(0, 3),
)  # fmt: skip
def test_strike_and_rest_undo_each_other(
    strike: float, grain: float, ratio: float, heat: float, slaking: float
) -> None:
    rest = mash_rest_temp(strike, grain, ratio, heat, slaking)
    if rest <= 100 and 1e-9 < strike < 100 - 1e-9:  # a hair inside: rounding may carry the edge out
        assert mash_strike_temp(rest, grain, ratio, heat, slaking) == pytest.approx(strike, rel=1e-11)


@given(ratio=st.floats(1, 10), grain=st.floats(-20, 60), heat=st.floats(0.3, 0.5))
def test_heat_is_conserved(ratio: float, grain: float, heat: float) -> None:
    """What the water loses the grain takes up, a kg of grain and `ratio` kg of water."""
    rest = mash_rest_temp(75, grain, ratio, heat)
    assert ratio * (75 - rest) == pytest.approx(heat * (rest - grain), rel=1e-9)


def test_strike_water_past_boiling_is_refused() -> None:
    with pytest.raises(OutOfRange, match="hotter than boiling"):
        mash_strike_temp(78, 5, 1)
    with pytest.raises(OutOfRange, match="ice"):
        mash_strike_temp(5, 40, 1)


@given(
    now=st.floats(30, 70), rise=st.floats(0, 20), water_temp=st.floats(91, 100), grain=st.floats(0, 10),
    water=st.floats(0, 40),
)  # fmt: skip
def test_step_conserves_heat(now: float, rise: float, water_temp: float, grain: float, water: float) -> None:
    added = mash_step_water(now, now + rise, water_temp, grain, water)
    before = now * (0.4 * grain + water) + water_temp * added
    assert before == pytest.approx((now + rise) * (0.4 * grain + water + added), rel=1e-9)


def test_no_step_takes_no_water() -> None:
    assert mash_step_water(66, 66, 98, 4.5, 13.5) == 0


@pytest.mark.parametrize(("mash_temp", "target", "water_temp"), [(70, 66, 98), (60, 98, 98), (60, 80, 75)])
def test_steps_that_cannot_be(mash_temp: float, target: float, water_temp: float) -> None:
    with pytest.raises(OutOfRange, match=r"above|below"):
        mash_step_water(mash_temp, target, water_temp, 4.5, 13.5)


def test_water_by_hand() -> None:
    """26 L into the kettle, 4.5 kg of grain that keep 0.9 L/kg, 1.5 L left in the tun: 26 + 4.05 + 1.5."""
    assert mash_water(26, 4.5, 0.9, 1.5) == pytest.approx(31.55, rel=1e-12)
    assert mash_water(26, 4.5) == pytest.approx(30.5, rel=1e-12)
    assert mash_water(26, 0) == 26


def test_common_practice_strike() -> None:
    """Common practice, no source: at 3 L/kg and room-warm malt, strike 5 to 8 K above the rest."""
    assert 5 < mash_strike_temp(66, 20, 3) - 66 < 8


# -- mash and sparge -------------------------------------------------------------------------------------------------


def lautered(grain: float, share: float, mash: float, sparge: float, sparges: int, held: float, left: float) -> float:
    """Efficiency by a balance of water, extract and volume on ICUMSA densities of sucrose."""
    water, extract, gained = mash * sucrose.water(20) / 1000, grain * share, 0.0
    run_off = mash - held * grain - left
    for n in range(sparges + 1):
        if n:
            water, run_off = water + sparge / sparges * sucrose.water(20) / 1000, sparge / sparges
        volume = (water + extract) / (sucrose.density(extract / (water + extract)) / 1000)
        gained += extract * run_off / volume
        water, extract = water * (1 - run_off / volume), extract * (1 - run_off / volume)
    return gained / (grain * share)


@pytest.mark.parametrize("grain", [3.0, 5.0, 8.0])
@pytest.mark.parametrize(("sparge", "sparges"), [(0.0, 1), (15.0, 1), (15.0, 2), (12.0, 6)])
def test_efficiency_against_a_balance_on_sucrose(grain: float, sparge: float, sparges: int) -> None:
    expected = lautered(grain, 0.78, 4 * grain, sparge, sparges, 0.9, 0.5)
    got = mash_lauter_efficiency([grain], [0.78], 4 * grain, sparge, sparges, 0.9, 0.5)
    assert got == pytest.approx(expected, abs=3e-4)  # the ASBC cubic against ICUMSA: 0.02 °P of 20


def test_efficiency_of_a_mash_with_hardly_any_extract() -> None:
    """Where extract adds no volume, each run-off leaves held / (held + water): (1 L of 4) times (1 of 3.5) squared."""
    got = mash_lauter_efficiency([1.0], [1e-6], 4, 5, 2)
    assert got == pytest.approx(1 - 1 / 4 * (1 / 3.5) ** 2, rel=1e-5)


@given(st.floats(1, 10), st.floats(2.5, 5), st.floats(0, 30), st.integers(1, 11))
def test_more_batches_and_more_water_bring_more(grain: float, ratio: float, sparge: float, sparges: int) -> None:
    def efficiency(water: float, times: int) -> float:
        return mash_lauter_efficiency([grain], [0.78], ratio * grain, water, times)

    some = efficiency(sparge, sparges)
    assert 0 < some <= 1
    assert efficiency(sparge, sparges + 1) >= some - 1e-12
    assert efficiency(sparge + 1, sparges) >= some - 1e-12
    # the limit of ever smaller batches: what is held is washed out as exp(-sparge / held volume); none gets past it
    volume = (ratio * grain * 0.9982 + 0.78 * grain) / (0.998203 * brewfuncs.wort_gravity(78 / (ratio * 0.9982 + 0.78)))
    held = volume - (ratio - 1) * grain
    assert some <= 1 - held / volume * math.exp(-sparge / held) + 2e-3  # what is held shrinks a little as it thins


def test_a_strong_beer_gets_less_from_the_same_water() -> None:
    """26 L of wort each, mashed at 3 L/kg: twice the grain loses more of its extract."""
    weak, strong = (mash_lauter_efficiency([g], [0.78], 3 * g, 26 + g - 3 * g) for g in (4.0, 8.0))
    assert strong < weak - 0.05


def test_sparges_are_whole_and_a_dry_mash_has_no_answer() -> None:
    assert mash_lauter_efficiency([5], [0.78], 15, 15, 2.5) == mash_lauter_efficiency([5], [0.78], 15, 15, 3)
    assert mash_lauter_efficiency([5], [0.78], 15, 15, conversion=0.9) < 0.9
    with pytest.raises(OutOfRange):
        mash_lauter_efficiency([5], [0.78], 5)
    with pytest.raises(OutOfRange):
        mash_lauter_efficiency([5], [0.78], 15, 15, 0)


SPANS = [
    ("MASH_PASTEUR_UNITS", (0, 600), (0, 110)),
    ("MASH_PASTEUR_RAMP", (0, 110), (0, 110), (0, 600)),
    ("MASH_STRIKE_TEMP", (40, 75), (-20, 40), (2, 6), (0.3, 0.5), (0, 3)),
    ("MASH_REST_TEMP", (40, 100), (-20, 40), (2, 6), (0.3, 0.5), (0, 3)),
    ("MASH_STEP_WATER", (30, 60), (60, 80), (80, 100), (0, 10), (0, 40), (0.3, 0.5)),
    ("MASH_WATER", (0, 100), (0, 20), (0, 2), (0, 5)),
]


@pytest.mark.parametrize("span", SPANS, ids=lambda span: span[0])
def test_columns_agree_with_single_values(span: tuple[Any, ...]) -> None:
    assert_columns_agree(*span)


def test_a_flat_ramp_in_a_column_of_ramps() -> None:
    ramps = mash_pasteur_ramp(numpy.array([60.0, 65.0]), numpy.array([60.0, 75.0]), 10)
    assert ramps[0] == pytest.approx(10, rel=1e-15)
    assert math.isfinite(ramps[1])
