"""Water against IAPWS-95, molar masses from molmass, Kolbach's equivalents."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS95
from molmass import Formula

from brewfuncs.catalogue import find
from brewfuncs.errors import NotListed, OutOfRange
from brewfuncs.formulas.water import (
    water_density,
    water_residual_alkalinity,
    water_salt,
    water_salt_alkalinity,
    water_salt_mass,
)
from tests.sampling import assert_columns_agree


@pytest.mark.parametrize("temp", [0.01, 4, 12, 20, 37, 50, 65, 80, 99.9])
def test_density_against_iapws_95(temp: float) -> None:
    """IAPWS R6-95, at 101.325 kPa; Kell's polynomial stays within 0.007 kg/m³ of it."""
    assert 1000 * water_density(temp) == pytest.approx(IAPWS95(T=273.15 + temp, P=0.101325).rho, abs=0.0075)


SALTS = {
    "gypsum": "CaSO4(H2O)2",
    "calcium chloride anhydrous": "CaCl2",
    "calcium chloride dihydrate": "CaCl2(H2O)2",
    "epsom salt": "MgSO4(H2O)7",
    "table salt": "NaCl",
    "baking soda": "NaHCO3",
    "chalk": "CaCO3",
    "magnesium chloride hexahydrate": "MgCl2(H2O)6",
    "slaked lime": "Ca(OH)2",
}
IONS = ("Ca", "Mg", "Na", "Cl", "SO4", "HCO3", "CO3")
HELD = {
    "gypsum": {"Ca": 1, "SO4": 1},
    "calcium chloride anhydrous": {"Ca": 1, "Cl": 2},
    "calcium chloride dihydrate": {"Ca": 1, "Cl": 2},
    "epsom salt": {"Mg": 1, "SO4": 1},
    "table salt": {"Na": 1, "Cl": 1},
    "baking soda": {"Na": 1, "HCO3": 1},
    "chalk": {"Ca": 1, "CO3": 1},
    "magnesium chloride hexahydrate": {"Mg": 1, "Cl": 2},
    "slaked lime": {"Ca": 1},
}


@pytest.mark.parametrize("salt", SALTS)
@pytest.mark.parametrize("ion", IONS)
def test_salts_against_molar_masses(salt: str, ion: str) -> None:
    """molmass keeps newer atomic weights of sulphur and chlorine: 5e-5 apart."""
    share = HELD[salt].get(ion, 0) * Formula(ion).mass / Formula(SALTS[salt]).mass
    assert water_salt(salt, ion, 3, 20) == pytest.approx(3000 / 20 * share, rel=1e-4)


@given(salt=st.sampled_from([*SALTS]), ion=st.sampled_from(IONS), mass=st.floats(0, 1e4), volume=st.floats(0.01, 1e4))
def test_the_mass_of_a_salt_is_the_inverse(salt: str, ion: str, mass: float, volume: float) -> None:
    added = water_salt(salt, ion, mass, volume)
    if HELD[salt].get(ion):
        assert water_salt_mass(salt, ion, added, volume) == pytest.approx(mass, rel=1e-12)
    else:
        with pytest.raises(OutOfRange, match="doesn't hold that ion"):
            water_salt_mass(salt, ion, added, volume)


@pytest.mark.parametrize("salt", SALTS)
def test_alkalinity_of_salts_against_molar_masses(salt: str) -> None:
    """An equivalent of baking soda, half a mole of chalk or lime, is as much as half a mole of CaCO3."""
    charges = {"baking soda": 1, "chalk": 2, "slaked lime": 2}.get(salt, 0)
    expected = charges / 2 * Formula("CaCO3").mass / Formula(SALTS[salt]).mass * 1000 * 3 / 20
    assert water_salt_alkalinity(salt, 3, 20) == pytest.approx(expected, rel=2e-4)


def test_every_listed_salt_and_ion_is_checked() -> None:
    salt, ion = find("WATER_SALT").params[:2]
    assert set((salt.names or {}).values()) == set(SALTS)
    assert set((ion.names or {}).values()) == set(IONS)


def test_names_in_any_case_and_unknown_ones() -> None:
    assert water_salt("Gypsum", "so4", 1, 1) == water_salt("gypsum", "SO4", 1, 1)
    with pytest.raises(NotListed, match="saltpetre"):
        water_salt("saltpetre", "Na", 1, 1)
    with pytest.raises(OutOfRange, match="volume 0 L"):
        water_salt("gypsum", "Ca", 1, 0)


@pytest.mark.parametrize("metal", ["Ca", "Mg"])
def test_residual_alkalinity_by_equivalents(metal: str) -> None:
    """Kolbach 1953 (as commonly quoted): 3.5 equivalents of calcium, or 7 of magnesium, undo one of alkalinity."""
    per_equivalent = Formula(metal).mass / 2
    ions = {"Ca": (per_equivalent, 0), "Mg": (0, per_equivalent)}[metal]
    undone = -water_residual_alkalinity(0, *ions)
    expected = Formula("CaCO3").mass / 2 / {"Ca": 3.5, "Mg": 7.0}[metal]
    assert undone == pytest.approx(expected, rel=0.005)  # 1.4 and 1.7 have two digits


@given(st.floats(0, 1000), st.floats(0, 500), st.floats(0, 200))
def test_hardness_only_lowers_it(alkalinity: float, calcium: float, magnesium: float) -> None:
    assert water_residual_alkalinity(alkalinity, calcium, magnesium) <= alkalinity
    assert water_residual_alkalinity(alkalinity, 0, 0) == alkalinity


SPANS = [
    ("WATER_DENSITY", (0, 100)),
    ("WATER_SALT", "gypsum", "SO4", (0, 20), (1, 100)),
    ("WATER_RESIDUAL_ALKALINITY", (0, 500), (0, 300), (0, 100)),
]


@pytest.mark.parametrize("span", SPANS, ids=lambda span: span[0])
def test_columns_agree_with_single_values(span: tuple[Any, ...]) -> None:
    assert_columns_agree(*span)
