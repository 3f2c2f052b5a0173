"""The boil: against steam tables, the standard atmosphere and ODEs, by hand, and by what must be conserved."""

import math
from itertools import pairwise

import numpy
import pytest
from ambiance import Atmosphere
from hypothesis import assume, given
from hypothesis import strategies as st
from iapws import IAPWS97
from scipy.integrate import solve_ivp

from brewfuncs.errors import OutOfRange
from brewfuncs.formulas import boil
from brewfuncs.formulas.boil import (
    boil_cooling,
    boil_evaporation_energy,
    boil_heat_energy,
    boil_heat_minutes,
    boil_minutes,
    boil_off,
    boil_off_share,
    boil_rate,
    boil_temp,
)
from brewfuncs.formulas.wort import wort_extract, wort_postboil_gravity, wort_postboil_volume
from tests import sucrose

WATER_20 = sucrose.water(20) / 1000  # kg/L


def steam(temp: float, quality: int) -> IAPWS97:
    return IAPWS97(T=temp + 273.15, x=quality)


def evaporation_heat(temp: float) -> float:
    """kJ/kg by IAPWS-IF97."""
    return float(steam(temp, 1).h - steam(temp, 0).h)


# -- steam and air ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("altitude", [-400, 0, 150, 1000, 1609, 2240, 3000, 4500, 6000])
def test_boiling_point_against_ambiance_and_iapws(altitude: float) -> None:
    pressure = Atmosphere(altitude).pressure[0] / 1e6  # MPa
    # 0.002 K: ISO 2533 rounds its constants where ambiance does not
    assert boil_temp(altitude) == pytest.approx(IAPWS97(P=pressure, x=0).T - 273.15, abs=0.002)


def test_boiling_at_sea_level() -> None:
    """One atmosphere boils at 99.974 °C on the scale of 1990, not at 100."""
    assert boil_temp() == pytest.approx(99.974, abs=0.001)


@pytest.mark.parametrize("temp", [1, 20, 45, 70, 90, 100, 120])
def test_vapour_pressure_and_heat_against_iapws(temp: float) -> None:
    assert boil.saturation_pressure(temp) == pytest.approx(steam(temp, 0).P * 1000, rel=1e-6)
    assert boil.boiling_point(boil.saturation_pressure(temp)) == pytest.approx(temp, abs=1e-6)
    assert boil.latent_heat(temp) == pytest.approx(evaporation_heat(temp), abs=0.09)  # the fit's own claim


@given(st.floats(-500, 5999))
def test_it_boils_cooler_higher_up(altitude: float) -> None:
    assert boil_temp(altitude + 1) < boil_temp(altitude)


# -- water driven off ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("power", "efficiency", "altitude"), [(2.4, 0.85, 0), (5.5, 0.6, 1609), (50, 1, 3000)])
def test_rate_against_iapws(power: float, efficiency: float, altitude: float) -> None:
    temp = IAPWS97(P=Atmosphere(altitude).pressure[0] / 1e6, x=0).T - 273.15
    expected = efficiency * power * 3600 / evaporation_heat(temp) / WATER_20
    assert boil_rate(power, efficiency, altitude) == pytest.approx(expected, rel=1e-4)  # 0.09 of 2257 kJ/kg


def test_rate_by_rule() -> None:
    """1 kW that all goes to steam boils off 1.595 kg an hour (3600 / 2256.5)."""
    assert boil_rate(1, 1) * WATER_20 == pytest.approx(1.595, abs=0.001)


def test_off_by_hand() -> None:
    assert boil_off(4.5, 30) == 2.25
    assert boil_off(4.5, 0) == 0
    assert boil_off("1 gal/h", "1 h") == pytest.approx(3.785411784)
    # 10 % an hour of 28 L: half an hour takes 1.40 L; compounded it would be 1.44
    assert boil_off_share(28, 0.10, 30) == pytest.approx(1.40, rel=1e-15)
    assert boil_off_share(28, "10 %/h", "30 min") == pytest.approx(1.40, rel=1e-15)


def test_no_more_boils_off_than_there_is() -> None:
    assert boil_off_share(28, 0.4, 150) == pytest.approx(28)
    with pytest.raises(OutOfRange, match="boil dry"):
        boil_off_share(28, 0.4, 151)


@pytest.mark.parametrize("evaporated", [0.5, 3, 12])
def test_evaporation_energy_against_iapws(evaporated: float) -> None:
    expected = evaporated * WATER_20 * evaporation_heat(99.974) / 3600
    assert boil_evaporation_energy(evaporated) == pytest.approx(expected, rel=1e-4)


@given(st.floats(0.1, 100))
def test_an_hours_rate_takes_an_hours_energy(power: float) -> None:
    assert boil_evaporation_energy(boil_rate(power, 1)) == pytest.approx(power, rel=1e-12)


# -- minutes ---------------------------------------------------------------------------------------------------------


def test_minutes_against_icumsa() -> None:
    """28 L at 1.040 losing 5 L/h: when does the sugar solution reach 1.0487?"""
    mass, extract = sucrose.mass_and_extract(28, 1.04)
    left = extract / sucrose.share_of(1.0487)
    expected = (mass - left) / WATER_20 / 5 * 60
    # 0.0001 in each gravity is 0.7 min
    assert boil_minutes(28, 1.04, 1.0487, 5) == pytest.approx(expected, abs=0.7)


@given(st.floats(5, 1000), st.floats(1.005, 1.1), st.floats(0, 240), st.floats(0.01, 0.2))
def test_minutes_undo_the_boil(volume: float, gravity: float, minutes: float, share: float) -> None:
    rate = volume * share
    evaporated = boil_off(rate, minutes)
    assume(evaporated < 0.4 * volume)
    target = wort_postboil_gravity(volume, gravity, evaporated)
    assert boil_minutes(volume, gravity, max(target, gravity), rate) == pytest.approx(minutes, rel=1e-9, abs=1e-6)
    left = wort_postboil_volume(volume, gravity, evaporated)
    assert wort_extract(left, target) == pytest.approx(wort_extract(volume, gravity), rel=1e-11)


@given(st.floats(1, 1000), st.floats(1.001, 1.2))
def test_at_the_target_already_takes_no_time(volume: float, gravity: float) -> None:
    """Nor less than none, which the next function would refuse."""
    assert 0 <= boil_minutes(volume, gravity, gravity, 4.5) < 1e-9 * volume
    assert boil_off(4.5, boil_minutes(volume, gravity, gravity, 4.5)) >= 0


def test_minutes_that_never_come() -> None:
    for call, sentence in (
        (lambda: boil_minutes(25, 1.04, 1.05, 0), "without boil-off"),
        (lambda: boil_minutes(25, 1.0, 1.05, 4), "without boil-off, or without extract"),
        (lambda: boil_minutes(25, 1.05, 1.04, 4), "pre_gravity 1.05 SG is above target 1.04 SG"),
    ):
        with pytest.raises(OutOfRange, match=sentence):
            call()


# -- heating and cooling ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("start", "end"), [(15, 65), (65, 99.9), (20, 99.9), (10, 30)])
def test_heat_against_iapws(start: float, end: float) -> None:
    liquid = [IAPWS97(T=t + 273.15, P=0.101325).h for t in (start, end)]
    expected = 25.5 * WATER_20 * (liquid[1] - liquid[0]) / 3600
    assert boil_heat_energy(25.5, start, end) == pytest.approx(expected, rel=0.005)  # the docstring's claim
    assert boil_heat_minutes(25.5, start, end, 2.4, 0.85) == pytest.approx(expected / 2.4 / 0.85 * 60, rel=0.005)


def test_heat_by_hand() -> None:
    """25.5 L are 25.454 kg; times 4.19 kJ/(kg K) and 35 K they are 3733 kJ, 1.037 kWh; 30.5 min at 2.04 kW."""
    assert boil_heat_energy(25.5, 65, 100) == pytest.approx(3733 / 3600, rel=2e-4)
    assert boil_heat_minutes(25.5, 65, 100, 2.4, 0.85) == pytest.approx(30.5, abs=0.01)
    assert boil_heat_energy(25.5, 100, 65) == -boil_heat_energy(25.5, 65, 100)


@pytest.mark.parametrize(("constant", "coolant"), [(0.1, 15), (0.01, 20), (0.35, 4)])
def test_cooling_against_an_ode(constant: float, coolant: float) -> None:
    minutes = 1.5 / constant
    solution = solve_ivp(
        lambda t, temp: -constant * (temp - coolant), (0, minutes), [98.0], rtol=1e-11, atol=1e-11, method="DOP853"
    )
    assert boil_cooling(98, solution.y[0, -1], minutes, coolant) == pytest.approx(constant, rel=1e-8)


def test_cooling_by_hand() -> None:
    """Half way to the coolant in ten minutes: ln 2 / 10."""
    assert boil_cooling(100, 60, 10) == pytest.approx(math.log(2) / 10, rel=1e-15)
    assert boil_cooling(100, 100, 10) == 0


@given(st.floats(40, 110), st.floats(1e-4, 1), st.floats(1, 60), st.floats(-10, 35))
def test_cooling_is_found_again(start: float, constant: float, minutes: float, coolant: float) -> None:
    end = coolant + (start - coolant) * math.exp(-constant * minutes)
    assume(max(coolant + 1e-3, 0) < end <= start)
    # near the coolant the last digits of the temperature are all there is to tell the constant by
    assert boil_cooling(start, end, minutes, coolant) == pytest.approx(constant, rel=1e-9, abs=1e-11)


def test_cooling_needs_a_coolant_below() -> None:
    for readings, sentence in (
        ((100, 20, 10, 20), "coolant 20 °C is not below end_temp 20 °C"),
        ((100, 15, 10, 20), "coolant 20 °C is not below end_temp 15 °C"),
        ((40, 60, 10, 20), "end_temp 60 °C is above start_temp 40 °C"),
    ):
        with pytest.raises(OutOfRange, match=sentence):
            boil_cooling(*readings)


# -- common practice, no source --------------------------------------------------------------------------------------


def test_directions_of_the_trade() -> None:
    """Common practice, no source: half the boil drives off half the water and saves the heat for it; the higher the
    kettle stands, the cooler it boils, about 1 °C for 300 m; steam is where the energy of a boil goes."""
    assert boil_off(4, 30) == boil_off(4, 60) / 2
    cooler = [boil_temp(low) - boil_temp(high) for low, high in pairwise(range(0, 3001, 300))]
    assert all(0.9 < drop < 1.1 for drop in cooler)
    boiled_off = boil_evaporation_energy(boil_off(4, 60))
    assert boiled_off > 2 * boil_heat_energy(25, 65, 100)


def test_columns() -> None:
    minutes = numpy.array([0, 30, 60, 90.0])
    assert boil_off(4.5, minutes) == pytest.approx([0, 2.25, 4.5, 6.75], rel=1e-15)
