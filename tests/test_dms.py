"""DMS against differential equations solved by scipy, published half-lives, and what the trade knows."""

import math
from typing import Any

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st
from molmass import Formula
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq
from scipy.special import expi

from brewfuncs.errors import OutOfRange
from brewfuncs.formulas.dms import dms_after_boil as after_boil
from brewfuncs.formulas.dms import dms_after_cooling as after_cooling
from brewfuncs.formulas.dms import dms_at_pitch as at_pitch
from brewfuncs.formulas.dms import dms_boil_minutes as boil_minutes
from brewfuncs.formulas.dms import dms_half_life as half_life
from brewfuncs.formulas.dms import dms_load as load
from brewfuncs.formulas.dms import dms_precursor_left as precursor_left
from tests.sampling import assert_columns_agree

# scipy's solvers are asked for 1e-11; a hundred times that is left for what they don't quite keep
SOLVED = 1e-9


def rate(temp: float, half_life_100: float) -> float:
    """Written anew: Fix's doubling for every 6 °C."""
    return math.log(2) / half_life_100 * math.exp(math.log(2) * (temp - 100) / 6)


def kettle(
    precursor: float,
    minutes: float,
    evaporation: float,
    volatility: float,
    half_life_100: float,
    start: float,
    temp: float,
) -> tuple[float, float]:
    """Precursor and free DMS after a boil, by scipy."""
    k, v = rate(temp, half_life_100), volatility * evaporation / 60

    def change(_: float, y: Any) -> list[float]:
        return [-k * y[0], k * y[0] - v * y[1]]

    solved = solve_ivp(change, (0, minutes), [precursor, start], method="DOP853", rtol=1e-12, atol=1e-9)
    return float(solved.y[0, -1]), float(solved.y[1, -1])


def formed_on_curve(
    precursor: float, minutes: float, coolant: float, cooling: float, start: float, half_life_100: float
) -> float:
    """DMS formed on a Newton cooling curve, by quadrature over time."""

    def at(t: float) -> float:
        return rate(coolant + (start - coolant) * math.exp(-cooling * t), half_life_100)

    bends = [min(minutes, x / max(cooling, 1e-3)) for x in (0.1, 0.3, 1, 3)]
    exposure = quad(
        at, 0, minutes, epsabs=0, epsrel=1e-12, limit=500, points=sorted({*bends} - {0.0, minutes}) or None
    )[0]
    return -precursor * math.expm1(-exposure)


# -- published values and hand calculations --------------------------------------------------------------------------


def test_load() -> None:
    """Fix 1999 (read in a transcription): 6 mg/kg in a mash of 0.2 kg/L is 1200 µg/L."""
    assert load(6, 4.0, 20) == pytest.approx(1200, rel=1e-12)
    assert load([[6], [2], [None]], [[4.0], [1.0], [None]], 20) == pytest.approx(1200 + 100, rel=1e-12)


def test_smm_is_0_38_dms() -> None:
    """The factor that the catalogue gives for analyses written as S-methylmethionine, from molar masses."""
    assert Formula("C2H6S").mass / Formula("C6H14NO2S").mass == pytest.approx(0.38, abs=0.005)


@pytest.mark.parametrize(("temp", "published"), [(100, 38), (94, 76), (88, 152), (82, 304)])
def test_half_life_doubles_every_six_degrees(temp: float, published: float) -> None:
    """Dickenson's 38 min, doubled after Fix; his own figure at 82 °C is 300."""
    assert half_life(temp) == pytest.approx(published, rel=1e-12)


def test_half_life_has_the_activation_energy_that_its_source_implies() -> None:
    """131.6 kJ/mol near 97 °C by Arrhenius' law."""
    slope = math.log(half_life(96.5) / half_life(97.5)) / (1 / 369.65 - 1 / 370.65)
    assert 8.314462618e-3 * slope == pytest.approx(131.6, abs=0.5)


def test_wilson_and_booer_kettle() -> None:
    """Wilson & Booer 1979: 0.18/min at 17 %/h; after 20 min next to nothing of what was free at the start is left."""
    assert after_boil(0, 20, 0.17, 0.18 * 60 / 0.17, start_dms=100) == pytest.approx(100 * math.exp(-3.6), rel=1e-12)


def test_how_long_three_malts_boil() -> None:
    """Independent: the last root found by scipy on the closed form of the two linear equations.

    The volatility is the highest that papers give, the boil-off 10 %/h, the chill fast.
    """
    for precursor in (1000.0, 2000.0):
        k, v = rate(100, 38), 76 * 0.10 / 60
        later = formed_on_curve(1, 20, 20, 0.1, 100, 38)

        def over(t: float, s: float = precursor, k: float = k, v: float = v, later: float = later) -> float:
            return k * s / (v - k) * (math.exp(-k * t) - math.exp(-v * t)) + s * math.exp(-k * t) * later - 100

        answer = boil_minutes(precursor, 100, 0.10, 20, volatility=76)
        assert answer == pytest.approx(brentq(over, 20, 1000, xtol=1e-12), rel=SOLVED)
    assert boil_minutes(500, 100, 0.10, 20, volatility=76) < 20


# -- scipy -----------------------------------------------------------------------------------------------------------

BOILS = [
    (1000, 60, 0.10, 65, 38, 0, 100),
    (1000, 90, 0.10, 18, 32.5, 25, 98),
    (300, 5, 0.02, 10, 40, 60, 94.6),  # loss slower than formation
    (600, 45, 0, 65, 38, 0, 100),  # covered
    (800, 60, 60 * math.log(2) / 38 / 65, 65, 38, 10, 100),  # both rates the same
    (800, 60, 60 * math.log(2) / 38 / 65 * (1 + 1e-9), 65, 38, 10, 100),  # and nearly
    (50, 0, 0.10, 65, 38, 7, 100),
]


@pytest.mark.parametrize("boil", BOILS)
def test_boil_against_its_differential_equation(boil: tuple[float, ...]) -> None:
    precursor, minutes, evaporation, volatility, half, start, temp = boil
    left, free = kettle(*boil) if minutes else (precursor, start)
    assert after_boil(precursor, minutes, evaporation, volatility, half, start, temp) == pytest.approx(free, rel=SOLVED)
    assert precursor_left(precursor, minutes, temp, half) == pytest.approx(left, rel=SOLVED)


COOLINGS = [
    (400, 60, 15, 0.01, 100, 38),
    (400, 20, 20, 0.1, 100, 38),
    (1000, 1440, 20, 0.004, 100, 38),  # a covered pot overnight
    (1000, 30, -10, 5, 105, 32.5),  # the quickest there is, over the widest span
    (1000, 30, -10, 0.5, 105, 5),
    (500, 45, 60, 0.02, 80, 40),
    (500, 45, 20, 1e-12, 95, 38),  # so slow that it hardly cools
    (500, 45, 20, 0, 95, 38),
    (500, 45, 20, 0.1, 20, 38),  # as cold as the coolant
    (500, 0, 20, 0.1, 100, 38),
]


@pytest.mark.parametrize("curve", COOLINGS)
def test_cooling_against_quadrature(curve: tuple[float, ...]) -> None:
    assert after_cooling(*curve) == pytest.approx(formed_on_curve(*curve), rel=SOLVED)


def test_cooling_against_exponential_integrals() -> None:
    """The closed form in scipy's Ei, over the whole range of x = ln 2 (start - coolant) / 6."""
    for coolant, start, cooling, minutes in [(-10, 105, 0.3, 12.0), (20, 100, 0.05, 200.0), (60, 80, 0.7, 2.0)]:
        x = math.log(2) / 6 * (start - coolant)
        exposure = rate(coolant, 38) / cooling * (expi(x) - expi(x * math.exp(-cooling * minutes)))
        expected = -1000 * math.expm1(-exposure)
        assert after_cooling(1000, minutes, coolant, cooling, start) == pytest.approx(expected, rel=SOLVED)


@pytest.mark.parametrize(("half", "volatility", "temp"), [(38.0, 65.0, 100.0), (32.5, 18.0, 94.6)])
def test_at_pitch_is_boil_and_cooling(half: float, volatility: float, temp: float) -> None:
    """The whole evening as one set of differential equations."""
    left, free = kettle(1200, 60, 0.08, volatility, half, 0, temp)
    expected = free + formed_on_curve(left, 40, 12, 0.04, temp, half)
    assert at_pitch(1200, 60, 0.08, 40, 0.04, 12, volatility, half, temp) == pytest.approx(expected, rel=SOLVED)


def evening(
    precursor: float, half: float, volatility: float, *, boil: tuple[float, float, float], stand: tuple[float, ...],
    cool: tuple[float, float, float],
) -> float:  # fmt: skip
    """Free DMS at pitching, one stretch of time after the other, by scipy.

    boil: minutes, share evaporated an hour, °C; stand: minutes, °C, share evaporated an hour; cool: minutes, per
    minute, °C of the coolant.
    """
    state = numpy.array(kettle(precursor, boil[0], boil[1], volatility, half, 0, boil[2]))
    until = min(cool[0], math.log((boil[2] - cool[2]) / (stand[1] - cool[2])) / cool[1])

    def cooling(t: float, y: Any) -> list[float]:
        k = rate(cool[2] + (boil[2] - cool[2]) * math.exp(-cool[1] * t), half)
        return [-k * y[0], k * y[0]]

    def goes(change: Any, start: float, end: float, state: Any) -> Any:
        return solve_ivp(change, (start, end), state, method="DOP853", rtol=1e-12, atol=1e-9).y[:, -1]

    state = goes(cooling, 0, until, state) if until else state
    state = numpy.array(kettle(state[0], stand[0], stand[2], volatility, half, state[1], stand[1]))
    return float(goes(cooling, until, cool[0], state)[1] if cool[0] > until else state[1])


@pytest.mark.parametrize("stand", [(30, 95, 0.0), (30, 95, 0.03), (20, 80, 0.0), (90, 100, 0.0), (45, 70, 0.4)])
@pytest.mark.parametrize("cool", [(20, 0.1, 20), (600, 0.01, 18), (3, 0.1, 12)])
def test_a_stand_on_the_way_down(stand: tuple[float, ...], cool: tuple[float, float, float]) -> None:
    """Cooling to the stand, the stand, cooling on, as differential equations; the last chill ends before the stand."""
    expected = evening(800, 36, 60, boil=(30, 0.1, 100), stand=stand, cool=cool)
    answer = at_pitch(800, 30, 0.1, cool[0], cool[1], cool[2], 60, 36, 100, *stand)
    assert answer == pytest.approx(expected, rel=SOLVED)


def test_half_an_hour_of_hot_stand_is_not_nothing() -> None:
    """What forms in 30 min at 95 °C: a half-life of 38 * 2^(5 / 6) = 67.7 min turns 26.4 % of the precursor."""
    formed = at_pitch(800, 30, 0.1, 0, stand_minutes=30, stand_temp=95) - at_pitch(800, 30, 0.1, 0)
    assert formed == pytest.approx(precursor_left(800, 30) * (1 - 0.5 ** (30 / 67.7)), rel=1e-3)
    assert formed > 100  # µg/L: an off-flavour by itself


def test_covered_it_does_not_matter_when_the_wort_is_held() -> None:
    held = after_cooling(500, 60, 20, 0.03, 98, 38, 25, 85)
    exposure = -math.log(1 - formed_on_curve(1, 60, 20, 0.03, 98, 38)) + 25 * rate(85, 38)
    assert held == pytest.approx(-500 * math.expm1(-exposure), rel=SOLVED)


def test_a_stand_hotter_than_the_boil_or_colder_than_the_coolant_is_refused() -> None:
    with pytest.raises(OutOfRange, match="stand_temp 98 °C is above boil_temp 95 °C"):
        at_pitch(500, 30, 0.1, 20, boil_temp=95, stand_minutes=10, stand_temp=98)
    with pytest.raises(OutOfRange, match="coolant 60 °C is not below stand_temp 55 °C"):
        at_pitch(500, 30, 0.1, 20, coolant=60, stand_minutes=10, stand_temp=55)


# -- properties ------------------------------------------------------------------------------------------------------

kettles = {
    "precursor": st.floats(10, 5000),
    "evaporation": st.floats(0.005, 0.4),
    "cool_minutes": st.floats(0, 600),
    "cooling": st.floats(0, 1),
    "coolant": st.floats(-10, 60),
    "volatility": st.floats(5, 100),
    "half_life_100": st.floats(20, 60),
    "boil_temp": st.floats(90, 105),
    "stand_minutes": st.one_of(st.just(0.0), st.floats(0, 120)),
    "stand_temp": st.floats(61, 90),
    "stand_evaporation": st.one_of(st.just(0.0), st.floats(0, 0.4)),
}


@given(limit=st.floats(1, 400), later=st.floats(0, 1000), **kettles)
def test_boil_minutes_is_the_last_time_at_the_limit(
    limit: float, later: float, precursor: float, **rest: float
) -> None:
    minutes = boil_minutes(precursor, limit, **rest)
    if minutes:
        assert at_pitch(precursor, minutes, **rest) == pytest.approx(limit, rel=1e-9)
        assert at_pitch(precursor, minutes * (1 - 1e-6), **rest) >= limit * (1 - 1e-9)
    assert at_pitch(precursor, minutes + later, **rest) <= limit * (1 + 1e-9)


@given(minutes=st.floats(0, 300), **kettles)
def test_boil_minutes_0_means_never_above(minutes: float, precursor: float, **rest: float) -> None:
    """A limit a hair over the highest of a fine grid."""
    grid = at_pitch(precursor, numpy.linspace(0, 3000, 30001), **rest)
    assert boil_minutes(precursor, 1.01 * float(grid.max()), **rest) == 0
    assert at_pitch(precursor, minutes, **rest) <= 1.01 * grid.max()


@given(
    precursor=st.floats(1, 5000), minutes=st.floats(0, 500), evaporation=st.floats(0, 0.4),
    volatility=st.floats(1, 100), start=st.floats(0, 500),
)  # fmt: skip
def test_nothing_comes_from_nothing(
    precursor: float, minutes: float, evaporation: float, volatility: float, start: float
) -> None:
    """Precursor left and free DMS are never more than what was there; with a lid on they are all of it."""
    left = precursor_left(precursor, minutes)
    free = after_boil(precursor, minutes, evaporation, volatility, start_dms=start)
    assert 0 <= free <= (precursor - left + start) * (1 + 1e-12) + 1e-12 * precursor  # the difference rounds
    assert after_boil(precursor, minutes, 0, volatility, start_dms=start) + left == pytest.approx(
        precursor + start, rel=1e-12
    )


@given(
    minutes=st.floats(0, 500), slower=st.floats(0, 1), faster=st.floats(0, 1), colder=st.floats(-10, 60),
    warmer=st.floats(-10, 60),
)  # fmt: skip
def test_a_faster_or_colder_chill_forms_less(
    minutes: float, slower: float, faster: float, colder: float, warmer: float
) -> None:
    slower, faster = sorted((slower, faster))
    colder, warmer = sorted((colder, warmer))
    slack = 1 + 1e-12
    assert after_cooling(1000, minutes, 20, faster) <= after_cooling(1000, minutes, 20, slower) * slack
    assert after_cooling(1000, minutes, colder, 0.1) <= after_cooling(1000, minutes, warmer, 0.1) * slack


def test_limits() -> None:
    assert precursor_left(1000, 0) == 1000
    assert after_boil(1000, 0, 0.1) == 0
    assert after_boil(1000, 0, 0.1, start_dms=30) == 30
    assert after_cooling(1000, 0) == 0
    assert after_cooling(1000, 38, cooling=0) == pytest.approx(500, rel=1e-12)  # it stays at 100 °C for a half-life
    assert at_pitch(0, 60, 0.1, 30) == 0
    assert boil_minutes(0, 50, 0.1, 30) == 0
    assert boil_minutes(1000, 1000, 0.1, 30) == 0


def test_a_covered_kettle_never_gets_there() -> None:
    with pytest.raises(OutOfRange, match="covered"):
        boil_minutes(1000, 100, 0, 30)


def test_a_chiller_warmer_than_the_wort_is_refused() -> None:
    with pytest.raises(OutOfRange, match="coolant 40 °C is above start_temp 30 °C"):
        after_cooling(1000, 10, 40, 0.1, 30)


# -- common practice, no source --------------------------------------------------------------------------------------


def test_thirty_more_minutes_matter_for_malt_rich_in_precursor() -> None:
    """Common practice, no source: 90 minutes for high-precursor malt; for low-precursor malt they change little."""
    rich = at_pitch(2000, 60, 0.08, 20) - at_pitch(2000, 90, 0.08, 20)
    poor = at_pitch(300, 60, 0.08, 20) - at_pitch(300, 90, 0.08, 20)
    assert rich > 50  # more than what can be tasted
    assert poor < 15  # a fraction of it
    assert at_pitch(300, 60, 0.08, 20) < 50 < at_pitch(2000, 60, 0.08, 20)


def test_a_lid_keeps_dms_in() -> None:
    """Common practice, no source."""
    assert after_boil(600, 60, 0) > 5 * after_boil(600, 60, 0.08)


def test_a_slow_chill_brings_dms_back() -> None:
    """Common practice, no source: chill fast after a boil of pale malt; the difference can be tasted."""
    assert at_pitch(800, 60, 0.08, 120, 0.01) - at_pitch(800, 60, 0.08, 120, 0.2) > 30


# -- columns ---------------------------------------------------------------------------------------------------------

SPANS = [
    ("DMS_HALF_LIFE", (0, 120), (20, 60)),
    ("DMS_PRECURSOR_LEFT", (0, 3000), (0, 200), (60, 105), (20, 60)),
    ("DMS_AFTER_BOIL", (0, 3000), (0, 200), (0, 0.4), (5, 100), (20, 60), (0, 100), (80, 105)),
    ("DMS_AFTER_COOLING", (0, 3000), (0, 600), (-10, 60), (0, 1), (60, 105), (20, 60)),
    ("DMS_AT_PITCH", (0, 3000), 30.0, 0.1, (0, 600), (0, 1), 20.0, 65.0, 38.0, 100.0, (0, 90), (70, 100), (0, 0.1)),
    ("DMS_AT_PITCH", (0, 3000), (0, 200), (0, 0.4), (0, 600), (0, 1), (-10, 60), (5, 100), (20, 60), (80, 105)),
    (
        "DMS_BOIL_MINUTES",
        (100, 3000),
        (5, 200),
        (0.01, 0.4),
        (0, 60),
        (0.02, 1),
        (-10, 60),
        (5, 100),
        (20, 60),
        (90, 105),
    ),
    ("DMS_BOIL_MINUTES", (100, 3000), 100.0, 0.1, 30.0),
]


@pytest.mark.parametrize("span", SPANS, ids=lambda span: span[0])
def test_columns_agree_with_single_values(span: tuple[Any, ...]) -> None:
    assert_columns_agree(*span)
