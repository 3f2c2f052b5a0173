"""Yeast by definitions, inverses and balances of mass; what is quoted of growth lies within its spread."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewfuncs.errors import OutOfRange
from brewfuncs.formulas.beer import beer_pitch
from brewfuncs.formulas.wort import wort_extract
from brewfuncs.formulas.yeast import (
    beer_dry_yeast,
    beer_slurry_cells,
    beer_slurry_volume,
    beer_starter_cells,
    beer_starter_volume,
    beer_viability,
    beer_viability_loss,
)

ESTIMATES = ("low", "typical", "high")


def test_a_pitch_from_slurry_and_from_a_packet() -> None:
    """0.75 million/mL/°P for 20 L of 12 °P (SG 1.0484): 180 billion."""
    wanted = beer_pitch(20, "12 °P")
    assert wanted == pytest.approx(180, rel=1e-9)
    assert beer_slurry_volume(wanted, 1.5, 0.8) == pytest.approx(150, rel=1e-9)
    assert beer_dry_yeast(wanted, 9) == pytest.approx(20, rel=1e-9)
    assert beer_dry_yeast(wanted, 9, 0.5) == pytest.approx(40, rel=1e-9)


@given(volume=st.floats(0, 1e5), density=st.floats(0.01, 20), viability=st.floats(0.01, 1))
def test_slurry_and_cells_are_inverse(volume: float, density: float, viability: float) -> None:
    cells = beer_slurry_cells(volume, density, viability)
    assert cells <= volume * density
    assert beer_slurry_volume(cells, density, viability) == pytest.approx(volume, rel=1e-12)


# -- storage ---------------------------------------------------------------------------------------------------------


def test_a_month_takes_what_a_month_takes() -> None:
    assert beer_viability(0.9, 0.3, 30) == pytest.approx(0.63, rel=1e-12)
    assert beer_viability(0.9, 0.3, 0) == 0.9
    assert beer_viability(0.9, 0, 365) == 0.9
    assert beer_viability(0.9, 0.01, 7, 1) == pytest.approx(
        0.9 * 0.99**7, rel=1e-12
    )  # a day's loss, as makers state it


@given(
    viability=st.floats(0.05, 1),
    loss=st.floats(0, 0.95),
    days=st.floats(0, 400),
    more=st.floats(0, 400),
    per=st.floats(1, 365),
)
def test_two_stretches_are_one(viability: float, loss: float, days: float, more: float, per: float) -> None:
    once = beer_viability(viability, loss, days + more, per)
    first = beer_viability(viability, loss, days, per)
    assert once <= first <= viability
    if first > 1e-9:
        assert beer_viability(first, loss, more, per) == pytest.approx(once, rel=1e-9)


@given(viability=st.floats(0.05, 1), loss=st.floats(0, 0.95), days=st.floats(1, 60), per=st.floats(10, 60))
def test_the_loss_is_found_again_from_two_counts(viability: float, loss: float, days: float, per: float) -> None:
    later = beer_viability(viability, loss, days, per)
    assert beer_viability_loss(viability, min(later, viability), days, per) == pytest.approx(loss, abs=1e-9)


def test_yeast_that_has_come_back_to_life_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"second 0\.9 is above first 0\.8"):
        beer_viability_loss(0.8, 0.9, 30)


# -- starters --------------------------------------------------------------------------------------------------------


def test_growth_against_what_is_quoted_of_beer() -> None:
    """10 million cells/mL become 45 to 65 in a beer of 12 °P (common practice): no less than the low estimate's, which
    stands for that, and less than half of the high one's, that nothing but sugar holds back.
    """
    low, typical, high = (beer_starter_cells(10, 1, "12 °P", 0.78, e) for e in ESTIMATES)
    assert 45 < low < 65
    assert low < typical < high
    assert high > 2 * 65


def test_growth_is_a_share_of_the_extract() -> None:
    """Dry mass grown over extract fermented is the yield; real attenuation is 0.8192 of apparent (Balling)."""
    fermented = 1000 * wort_extract(2, 1.040) * 0.8192 * 0.75
    for estimate, cell, share in (("low", 50e-12, 0.03), ("typical", 37.5e-12, 0.065), ("high", 25e-12, 0.10)):
        grown = (beer_starter_cells(80, 2, 1.040, 0.75, estimate) - 80) * 1e9 * cell
        assert grown / fermented == pytest.approx(share, rel=1e-9)


@given(
    cells=st.floats(1, 1e4),
    volume=st.floats(0, 50),
    gravity=st.floats(1.005, 1.1),
    attenuation=st.floats(0.1, 1),
    estimate=st.sampled_from(ESTIMATES),
)
def test_starter_and_volume_are_inverse(
    cells: float, volume: float, gravity: float, attenuation: float, estimate: str
) -> None:
    after = beer_starter_cells(cells, volume, gravity, attenuation, estimate)
    assert after >= cells
    found = beer_starter_volume(cells, after, gravity, attenuation, estimate)
    assert found == pytest.approx(volume, rel=1e-9, abs=1e-9)


def test_what_does_not_ferment_grows_nothing() -> None:
    assert beer_starter_cells(100, 2, 1.040, 0) == 100
    assert beer_starter_cells(100, 2, 1.0) == 100
    assert beer_starter_cells(100, 0) == 100
    with pytest.raises(OutOfRange, match="doesn't ferment"):
        beer_starter_volume(100, 200, 1.040, 0)
    with pytest.raises(OutOfRange, match="is above wanted"):
        beer_starter_volume(300, 200)
