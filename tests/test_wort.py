"""Gravity, extract and volume of wort: against sucrose solutions, by hand, and by what must be conserved."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brewfuncs.errors import OutOfRange
from brewfuncs.formulas.water import water_density
from brewfuncs.formulas.wort import (
    wort_blend,
    wort_color,
    wort_efficiency,
    wort_extract,
    wort_extract_to_add,
    wort_gravity,
    wort_gravity_of_extract,
    wort_hydrometer,
    wort_mash_gravity,
    wort_plato,
    wort_postboil_gravity,
    wort_postboil_volume,
    wort_preboil_gravity,
    wort_preboil_volume,
    wort_refractometer,
    wort_volume_at,
    wort_water_to_add,
)
from tests import sucrose

volumes = st.floats(0.5, 5000)
gravities = st.floats(1.001, 1.12)
# SG of the cubic against sucrose: 0.02 °P is 0.00008
SG = 1e-4


# -- against sucrose solutions ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("plato", range(2, 21))
def test_plato_and_gravity_against_icumsa(plato: int) -> None:
    """The docstring's claim: within 0.02 °P from 2 to 20 °P."""
    gravity = sucrose.gravity(plato / 100)
    assert wort_plato(gravity) == pytest.approx(plato, abs=0.02)
    assert wort_gravity(plato) == pytest.approx(gravity, abs=SG)


def test_plato_of_water_is_the_cubics_own() -> None:
    assert wort_plato(1) == pytest.approx(-0.003, abs=1e-12)  # the four constants added up
    assert wort_gravity(0) == pytest.approx(1, abs=2e-5)


@pytest.mark.parametrize("gravity", [1.01, 1.03, 1.05, 1.07, 1.083])
def test_extract_against_icumsa(gravity: float) -> None:
    # 0.02 °P of 100 g/L and more, plus what weighing in air leaves: 0.3 g/L
    assert wort_extract(20, gravity) == pytest.approx(sucrose.mass_and_extract(20, gravity)[1], abs=20 * 0.0003)


@pytest.mark.parametrize("extract", [0.5, 1.5, 2.6, 4.0])
def test_gravity_of_extract_against_icumsa(extract: float) -> None:
    share = sucrose.solved(lambda w: w * sucrose.density(w) * 20 / 1000 - extract, 0, 0.5)
    assert wort_gravity_of_extract(extract, 20) == pytest.approx(sucrose.gravity(share), abs=2 * SG)
    assert wort_mash_gravity([extract / 0.8], [0.8], 1, 20) == pytest.approx(sucrose.gravity(share), abs=2 * SG)
    assert wort_mash_gravity([extract / 0.6], [0.8], 0.75, 20) == pytest.approx(sucrose.gravity(share), abs=2 * SG)


def test_efficiency_against_icumsa() -> None:
    """Sugar in 24 L of a solution of 1.042 over the extract that 4 kg at 78 % and 0.5 kg at 74 % bring."""
    extract = sucrose.mass_and_extract(24, 1.042)[1]
    assert wort_efficiency([4.0, 0.5], [0.78, 0.74], 24, 1.042) == pytest.approx(extract / 3.49, abs=0.002)


@pytest.mark.parametrize(("gravity", "target"), [(1.055, 1.05), (1.09, 1.04), (1.05, 1.002)])
def test_water_to_add_against_icumsa(gravity: float, target: float) -> None:
    mass, extract = sucrose.mass_and_extract(20, gravity)
    water = (extract / sucrose.share_of(target) - mass) / sucrose.water(20) * 1000
    assert wort_water_to_add(20, gravity, target) == pytest.approx(water, rel=0.01 if target > 1.01 else 0.03, abs=0.03)


@pytest.mark.parametrize(("gravity", "target"), [(1.045, 1.05), (1.0, 1.04), (1.04, 1.08)])
def test_extract_to_add_against_icumsa(gravity: float, target: float) -> None:
    mass, extract = sucrose.mass_and_extract(20, gravity)
    share = sucrose.share_of(target)
    assert wort_extract_to_add(20, gravity, target) == pytest.approx((share * mass - extract) / (1 - share), rel=0.01)
    syrup = (share * mass - extract) / (0.8 - share)  # a syrup of 80 % brings water of its own
    assert wort_extract_to_add(20, gravity, target, 0.8) == pytest.approx(syrup, rel=0.01)


@pytest.mark.parametrize(("volume", "gravity", "evaporated"), [(25, 1.045, 3), (28, 1.04, 5), (60, 1.06, 12)])
def test_boil_against_icumsa(volume: float, gravity: float, evaporated: float) -> None:
    mass, extract = sucrose.mass_and_extract(volume, gravity)
    left = mass - evaporated * sucrose.water(20) / 1000
    after, after_volume = sucrose.gravity(extract / left), left / sucrose.density(extract / left) * 1000
    assert wort_postboil_gravity(volume, gravity, evaporated) == pytest.approx(after, abs=2 * SG)
    # the same 0.0002 in the gravity is 0.0002 of the volume
    assert wort_postboil_volume(volume, gravity, evaporated) == pytest.approx(after_volume, rel=2e-4)
    assert wort_preboil_gravity(after_volume, after, evaporated) == pytest.approx(gravity, abs=2 * SG)
    assert wort_preboil_volume(after_volume, after, evaporated) == pytest.approx(volume, rel=2e-4)


@pytest.mark.parametrize("temp", [5, 40, 60, 80, 95, 99.9])
def test_volume_at_against_iapws_and_icumsa(temp: float) -> None:
    assert wort_volume_at(1, 20, temp) == pytest.approx(sucrose.water(20) / sucrose.water(temp), abs=2e-5)
    for share in (0.12, 0.15):  # the docstring's claim for wort
        of_wort = sucrose.density(share, 20) / sucrose.density(share, temp)
        assert wort_volume_at(1, 20, temp) == pytest.approx(of_wort, abs=2e-4 if temp >= 95 else 1.2e-3)


@pytest.mark.parametrize(("temp", "off"), [(10, 6e-4), (15.56, 2.5e-4), (20, 0), (30, -4e-4), (40, -6e-4), (60, -7e-4)])
@pytest.mark.parametrize("calibration", [15.56, 20])
def test_hydrometer_against_icumsa(temp: float, off: float, calibration: float) -> None:
    """A glass float in a 12 °P solution: it sinks until it displaces its mass, its glass wider when warm. The answer is
    off by what the docstring says, since sugar solutions expand more than water."""
    glass = 1 + 25e-6 * (temp - calibration)
    reading = sucrose.density(0.12, temp) * glass / sucrose.water(calibration)
    truth = sucrose.density(0.12) / sucrose.water(20)
    assert wort_hydrometer(reading, temp, calibration) - truth == pytest.approx(off, abs=7e-5)


@pytest.mark.parametrize("temp", [5, 15.56, 30, 60])
def test_hydrometer_in_water_reads_water(temp: float) -> None:
    glass = 1 + 25e-6 * (temp - 20)
    assert wort_hydrometer(sucrose.water(temp) * glass / sucrose.water(20), temp) == pytest.approx(1, abs=2e-5)


def test_hydrometer_is_refused_in_hot_wort() -> None:
    with pytest.raises(OutOfRange, match="temp 61 °C is outside 0 to 60 °C"):
        wort_hydrometer(1.04, 61)


# -- by hand ---------------------------------------------------------------------------------------------------------


def test_refractometer_by_definition() -> None:
    assert wort_refractometer(12.48) == wort_gravity(12)
    assert wort_refractometer(12, 1.0) == wort_gravity(12)


def test_color_by_hand() -> None:
    """4 kg at 2.5 °L and 0.5 kg at 40 °L in 21 L: 66.139 lb °L in 5.5476 gal are 11.922 MCU;
    1.4922 * 11.922^0.6859 = 8.168 SRM (Morey, as commonly quoted), 25/12.7 of that in EBC."""
    assert wort_color([4.0, 0.5], [2.5, 40], 21) == pytest.approx(8.168 * 25 / 12.7, rel=1e-4)
    one_mcu = wort_color(["1 lb"], [1], "1 gal")
    assert one_mcu == pytest.approx(1.4922 * 25 / 12.7, rel=1e-12)


def test_water_holds_no_extract() -> None:
    """The cubic's -0.003 °P of water would be half a gram less than none."""
    assert wort_extract(20, 1.0) == 0
    assert wort_efficiency([4], [0.8], 20, 1.0) == 0
    assert wort_gravity_of_extract(wort_extract(20, 1.0), 20) == pytest.approx(1, abs=2e-5)


@given(volumes, gravities)
def test_nothing_to_add_is_nothing_and_not_less(volume: float, gravity: float) -> None:
    """A hair of rounding below 0 would be refused by the next function that takes it."""
    for call in (wort_water_to_add, wort_extract_to_add):
        assert 0 <= call(volume, gravity, gravity) < 1e-9 * volume


def test_a_calibration_in_fahrenheit_is_refused() -> None:
    with pytest.raises(OutOfRange, match="calibration 60 °C is outside 0 to 40 °C"):
        wort_hydrometer(1.045, 25, 60)
    assert wort_hydrometer(1.045, 25, "60 °F") == pytest.approx(wort_hydrometer(1.045, 25, 140 / 9), rel=1e-14)


def test_color_of_no_malt_is_none() -> None:
    assert wort_color([0, 0], [3, 40], 20) == 0
    assert wort_color([None, 4], [None, 5], 20) == wort_color([4], [5], 20)


def test_efficiency_given_once_or_for_each_row() -> None:
    """Sugar dissolves whole: a row of its own with yield and efficiency 1."""
    with_sugar = wort_mash_gravity([4.0, 0.5], [0.78, 1], [0.75, 1], 24)
    assert with_sugar == pytest.approx(wort_gravity_of_extract(4 * 0.78 * 0.75 + 0.5, 24), rel=1e-15)
    assert wort_mash_gravity([4.0, 0.5], [0.78, 0.7], 0.75, 24) == wort_mash_gravity(
        [4.0, 0.5], [0.78, 0.7], [0.75, 0.75], 24
    )


def test_no_answer_where_there_is_none() -> None:
    for call, sentence in (
        (lambda: wort_efficiency([0], [0.8], 20, 1.04), "no answer"),
        (lambda: wort_gravity_of_extract(15, 20), "more extract than a wort of gravity 1.2 holds"),
        (lambda: wort_blend(0, 1.04, 0, 1.05), "no answer"),
        (lambda: wort_postboil_gravity(20, 1.05, 20.9), "boil dry"),
        (lambda: wort_postboil_gravity(20, 1.05, 21.1), "boil dry"),
        (lambda: wort_postboil_volume(20, 1.05, 1e9), "boil dry"),
        (lambda: wort_water_to_add(20, 1.04, 1.05), "target 1.05 SG is above gravity 1.04 SG"),
        (lambda: wort_water_to_add(20, 1.04, 1.0), "target 1 SG is outside"),
        (lambda: wort_water_to_add(20, 1.04, 1.000001), "no amount of water"),
        (lambda: wort_extract_to_add(20, 1.05, 1.04), "gravity 1.05 SG is above target 1.04 SG"),
        (lambda: wort_extract_to_add(20, 1.04, 1.05, 0.1), "as weak as that"),
        (lambda: wort_refractometer(45, 0.9), "no answer"),
    ):
        with pytest.raises(OutOfRange, match=sentence):
            call()


def test_every_drop_that_boils_off_makes_a_wort_or_none() -> None:
    """Nearly dry, the balance passes any gravity there is: it may not come back into the scale."""
    last = 1.05
    for litres in range(1, 2110):
        try:
            gravity = wort_postboil_gravity(20, 1.05, litres / 100)
        except OutOfRange:
            gravity = math.inf
        assert gravity > last, litres
        last = gravity if math.isfinite(gravity) else 1.2


# -- what must hold --------------------------------------------------------------------------------------------------


@given(st.floats(1.0, 1.2))
def test_plato_and_gravity_are_exact_inverses(gravity: float) -> None:
    assert wort_gravity(wort_plato(gravity)) == pytest.approx(gravity, rel=4e-15)


@given(volumes, gravities)
def test_extract_and_gravity_of_extract_are_inverses(volume: float, gravity: float) -> None:
    assert wort_gravity_of_extract(wort_extract(volume, gravity), volume) == pytest.approx(gravity, rel=1e-13)


@given(volumes, gravities, st.floats(0, 0.4))
def test_boiling_conserves_extract_and_takes_off_water(volume: float, gravity: float, share: float) -> None:
    evaporated = share * volume
    after, left = wort_postboil_gravity(volume, gravity, evaporated), wort_postboil_volume(volume, gravity, evaporated)
    assert wort_extract(left, after) == pytest.approx(wort_extract(volume, gravity), rel=1e-11)
    mass = (volume * gravity - evaporated) * water_density(20)
    assert left * after * water_density(20) == pytest.approx(mass, rel=1e-13)
    assert wort_preboil_gravity(left, after, evaporated) == pytest.approx(gravity, rel=1e-12)
    assert wort_preboil_volume(left, after, evaporated) == pytest.approx(volume, rel=1e-12)


@given(volumes, gravities)
def test_nothing_boiled_off_changes_nothing(volume: float, gravity: float) -> None:
    assert wort_postboil_gravity(volume, gravity, 0) == pytest.approx(gravity, rel=1e-14)
    assert wort_postboil_volume(volume, gravity, 0) == pytest.approx(volume, rel=1e-14)


@given(volumes, st.floats(1.0001, 1.12), volumes, st.floats(1.0001, 1.12))
def test_blending_conserves_extract_and_mass(volume: float, gravity: float, other: float, its: float) -> None:
    mixed = wort_blend(volume, gravity, other, its)
    mass = volume * gravity + other * its
    extract = wort_extract(volume, gravity) + wort_extract(other, its)
    assert wort_extract(mass / mixed, mixed) == pytest.approx(extract, rel=1e-9, abs=1e-9 * volume)
    assert min(gravity, its) - 1e-12 <= mixed <= max(gravity, its) + 1e-12
    assert mixed == pytest.approx(wort_blend(other, its, volume, gravity), rel=1e-14)
    wort_plato(mixed)  # what comes out of one function goes into the next


@given(volumes, st.floats(1.0, 1.2))
def test_mixing_with_nothing_or_with_itself_changes_nothing(volume: float, gravity: float) -> None:
    assert wort_blend(volume, gravity, 0, 1.0) == pytest.approx(gravity, rel=1e-14)
    assert wort_blend(volume, gravity, volume, gravity) == pytest.approx(gravity, rel=1e-14)
    assert 1.0 <= wort_blend(volume, 1.0, volume, 1.0) <= 1.2
    assert 1.0 <= wort_blend(volume, 1.2, volume, 1.2) <= 1.2


@given(volumes, gravities, st.floats(0.05, 1))
def test_dilution_conserves_extract(volume: float, gravity: float, part: float) -> None:
    target = 1 + (gravity - 1) * part
    assume(target > 1.0005)
    water = wort_water_to_add(volume, gravity, target)
    assert water >= -1e-9 * volume
    assert wort_blend(volume, gravity, max(water, 0), 1.0) == pytest.approx(target, abs=2e-5)  # water's own -0.003 °P
    assert wort_postboil_gravity(volume + water, target, 0) == pytest.approx(target)


@given(volumes, gravities, st.floats(0, 0.05), st.floats(0.3, 1))
def test_extract_added_is_extract_gained(volume: float, gravity: float, up: float, purity: float) -> None:
    assume(purity > wort_plato(gravity + up) / 100 + 0.05)
    added = wort_extract_to_add(volume, gravity, gravity + up, purity)
    mass = volume * gravity * water_density(20) + added
    extract = wort_extract(volume, gravity) + added * purity
    assert wort_gravity(100 * extract / mass) == pytest.approx(gravity + up, rel=1e-12)


@given(st.floats(1.0001, 1.199), st.floats(1e-6, 1e-3))
def test_more_gravity_is_more_extract(gravity: float, more: float) -> None:
    assert wort_plato(gravity + more) > wort_plato(gravity)
    assert wort_extract(20, gravity + more) > wort_extract(20, gravity)


@given(volumes, st.floats(0, 100), st.floats(0, 100))
def test_volume_there_and_back(volume: float, one: float, other: float) -> None:
    assert wort_volume_at(wort_volume_at(volume, one, other), other, one) == pytest.approx(volume, rel=1e-14)


@given(st.floats(0.99, 1.15), st.floats(0, 40))
def test_hydrometer_at_its_own_temperature_reads_as_it_is(reading: float, temp: float) -> None:
    assert wort_hydrometer(reading, temp, temp) == pytest.approx(reading, rel=1e-15)


@given(st.lists(st.tuples(st.floats(0, 50), st.floats(0, 1)), min_size=1, max_size=6), st.floats(0.3, 1))
def test_efficiency_undoes_mash_gravity(rows: list[tuple[float, float]], efficiency: float) -> None:
    masses, yields = [m for m, _ in rows], [y for _, y in rows]
    available = sum(m * y for m, y in rows)
    assume(available > 0.1)
    volume = available * 6
    gravity = wort_mash_gravity(masses, yields, efficiency, volume)
    assert wort_efficiency(masses, yields, volume, gravity) == pytest.approx(efficiency, rel=1e-9)


# -- common practice, no source --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("volume", "gravity"), [(20, 1.03), (25, 1.05), (40, 1.08)])
def test_points_times_litres_is_a_fair_rule(volume: float, gravity: float) -> None:
    """Common practice, no source: gravity points times volume stay the same in a boil; right to 0.0003 up to 1.09."""
    left = wort_postboil_volume(volume, gravity, volume * 0.12)
    rule = 1 + (gravity - 1) * volume / left
    assert wort_postboil_gravity(volume, gravity, volume * 0.12) == pytest.approx(rule, abs=4e-4)


def test_hot_wort_fills_about_four_per_cent_more() -> None:
    """Common practice, no source: 4 % from the boil to 20 °C."""
    assert wort_volume_at(100, 20, 100) == pytest.approx(104, abs=0.3)


def test_a_shorter_boil_needs_less_wort_before_it() -> None:
    """Common practice, no source: with the same kettle, 30 min instead of 60 at 4 L/h ask for some 2 L less."""
    saved = wort_preboil_volume(20, 1.05, 4) - wort_preboil_volume(20, 1.05, 2)
    assert saved == pytest.approx(2, abs=0.01)
    assert wort_preboil_gravity(20, 1.05, 2) > wort_preboil_gravity(20, 1.05, 4)
