"""Sanitizers against PHREEQC, psychrometry, molar masses, balances by hand, and what the trade knows."""

import math
import re
from itertools import product
from typing import Any

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97
from molmass import Formula
from scipy.optimize import brentq

from brewfuncs.catalogue import find
from brewfuncs.errors import NotListed, OutOfRange
from brewfuncs.formulas.sanitizer import (
    sani_chlorine,
    sani_dose,
    sani_dose_for,
    sani_dry_acid,
    sani_dry_factor,
    sani_dry_factor_in_air,
    sani_dry_minutes,
    sani_ph,
    sani_plastic,
    sani_residue,
    sani_strength,
)
from tests import needs
from tests.sampling import assert_columns_agree

# -- dose and strength -----------------------------------------------------------------------------------------------


def test_a_fluid_ounce_in_four_gallons() -> None:
    """Exact by the definition of the US gallon, 128 fl oz: 1/512 of the volume."""
    assert sani_dose("4 gal", "0.25 fl oz/gal") == pytest.approx(4 * 3785.411784 / 512, rel=1e-12)
    assert sani_dose(20, 2.5) == 50


def test_strength_by_hand() -> None:
    """10 mL of 50 % at 1.3 kg/L are 6.5 g, in 1.01 L."""
    assert sani_strength(10, 0.5, 1.3) == pytest.approx(6500 / 1.01, rel=1e-12)


def test_dose_for_by_hand() -> None:
    """100 mL of pure 1 kg/L in 0.9 L of water: 100 g in the litre."""
    assert sani_dose_for(100_000, 0.9, 1, 1) == pytest.approx(100, rel=1e-12)


@given(
    rate=st.floats(0, 500), volume=st.floats(0.1, 1000), share=st.floats(0.001, 1), density=st.floats(0.7, 1.9)
)  # fmt: skip
def test_strength_and_dose_undo_each_other(rate: float, volume: float, share: float, density: float) -> None:
    dose = sani_dose_for(sani_strength(rate, share, density), volume, share, density)
    assert dose == pytest.approx(sani_dose(volume, rate), rel=1e-11)


def test_no_dose_is_stronger_than_the_concentrate() -> None:
    with pytest.raises(OutOfRange, match="concentrate"):
        sani_dose_for(650_000, 10, 0.5, 1.3)
    with pytest.raises(OutOfRange, match=r"write 50 % or 0\.5"):
        sani_strength(1, 50, 1.3)


def test_chlorine_by_molar_masses() -> None:
    """One NaOCl bleaches like one Cl2."""
    ratio = Formula("Cl2").mass / Formula("NaOCl").mass
    assert sani_chlorine(16, 8, 0.05, 1.07) == pytest.approx(16 * 1.07 * 0.05 * 1000 / 8 * ratio, rel=1e-4)


def test_residue_by_hand() -> None:
    """50 µm over 0.5 m² is 25 mL; at 300 mg/L that holds 7.5 mg."""
    assert sani_residue(50, 0.5, 300) == pytest.approx(7.5, rel=1e-12)
    assert sani_residue("50 µm", "0.5 m²", "0.3 g/L") == pytest.approx(7.5, rel=1e-12)


# -- pH --------------------------------------------------------------------------------------------------------------

ACIDS = [60, 200, 500, 1000, 3000, 9000]
NEUTRALISED = [0, 0.1, 0.5, 0.9]  # share of the first proton that the alkalinity takes


@pytest.fixture(scope="module")
def phreeqc() -> Any:
    return needs.library("phreeqpython").PhreeqPython(database="phreeqc.dat")


@pytest.mark.parametrize(("acid", "alkalinity"), [*product(ACIDS, [0, 50, 200, 400])])
def test_ph_against_phreeqc(phreeqc: Any, acid: float, alkalinity: float) -> None:
    """phreeqc.dat has ion-size parameters of its own and counts by kg of water: 0.01 in any water to brew with."""
    moles, base = acid / Formula("H3PO4").mass, alkalinity / Formula("CaCO3").mass * 2  # mmol/L
    solution = phreeqc.add_solution_simple({"H3PO4": moles, "NaOH": base}, temperature=25)
    if solution.pH < 4.45:
        assert sani_ph(acid, alkalinity) == pytest.approx(solution.pH, abs=0.01)
    else:
        assert solution.pH > 4.55  # none lies where the two could differ about the limit
        with pytest.raises(OutOfRange, match="measure it"):
            sani_ph(acid, alkalinity)
    solution.forget()


def balanced(acid: float, base: float) -> float:
    """pH where charges balance: scipy's root over the activity of hydrogen, until ionic strength settles."""
    k1, k2, k3 = 10**-2.148, 10**-7.198, 10**-12.319
    strength, ph = 0.01, 2.0
    for _ in range(60):
        log_g = -0.509 * (math.sqrt(strength) / (1 + math.sqrt(strength)) - 0.3 * strength)
        g = [10 ** (log_g * z * z) for z in range(4)]

        def species(ph: float, g: list[float] = g) -> tuple[list[float], float, float]:
            h = 10**-ph
            parts = [1, k1 / h / g[1], k1 * k2 / h**2 / g[2], k1 * k2 * k3 / h**3 / g[3]]
            return [acid * part / sum(parts) for part in parts], h / g[1], 1e-14 / h / g[1]

        def charge(ph: float) -> float:
            anions, hydrogen, hydroxide = species(ph)
            return hydrogen + base - hydroxide - sum(z * c for z, c in enumerate(anions))

        ph = brentq(charge, 0, 12, xtol=1e-14)
        anions, hydrogen, hydroxide = species(ph)
        strength = (hydrogen + base + hydroxide + sum(z * z * c for z, c in enumerate(anions))) / 2
    return ph


@pytest.mark.parametrize(("acid", "neutralised"), [*product([5, *ACIDS, 49_000], NEUTRALISED)])
def test_ph_against_a_charge_balance(acid: float, neutralised: float) -> None:
    moles = acid / 1000 / 97.995
    expected = balanced(moles, moles * neutralised)
    if expected > 4.501:
        with pytest.raises(OutOfRange, match=r"above pH 4\.5"):
            sani_ph(acid, moles * neutralised * 50_040)
        return
    assert expected < 4.499  # none lies where the two could differ about the limit
    # three rounds for the ionic strength leave 1e-5 in the strongest, half neutralised
    assert sani_ph(acid, moles * neutralised * 50_040) == pytest.approx(expected, abs=2e-5)


@given(st.floats(100, 20_000), st.floats(1.001, 2))
def test_more_acid_is_sourer_and_alkalinity_less(acid: float, times: float) -> None:
    assert sani_ph(min(acid * times, 50_000)) <= sani_ph(acid)
    assert sani_ph(acid, 0.2 * acid) > sani_ph(acid)


@pytest.mark.parametrize(("acid", "alkalinity"), [(0, 0), (1, 0), (0, 100), (98, 55), (98, 500)])
def test_ph_above_4_5_is_refused(acid: float, alkalinity: float) -> None:
    with pytest.raises(OutOfRange, match=r"above pH 4\.5"):
        sani_ph(acid, alkalinity)


# -- drying ----------------------------------------------------------------------------------------------------------


def test_dry_factor_by_hand() -> None:
    """A litre with 2 mL that can't evaporate, down to a tenth of its 998 mL of water: 101.8 mL are left."""
    assert sani_dry_factor(0.002, 0.1) == pytest.approx(1000 / 101.8, rel=1e-12)
    assert sani_dry_factor(0.002) == pytest.approx(500, rel=1e-12)
    assert sani_dry_factor(0, 0.5) == 2
    assert sani_dry_factor(1) == 1


@given(st.floats(1e-9, 1), st.floats(0, 1))
def test_a_wet_film_is_no_stronger(nonvolatile: float, left: float) -> None:
    assert sani_dry_factor(nonvolatile, 1) == pytest.approx(1, rel=1e-15)
    assert sani_dry_factor(nonvolatile, left) >= 1 - 1e-15


def test_water_alone_leaves_nothing_to_be_strong() -> None:
    with pytest.raises(OutOfRange, match="nothing would be left"):
        sani_dry_factor(0)


# A maker's table of vapour pressures over phosphoric acid, 20 °C: mass share of acid, mm Hg; water has 17.6
VAPOUR = [(0.50, 13.0), (0.75, 5.65), (0.85, 2.16)]


@pytest.mark.parametrize(("acid", "pressure"), VAPOUR)
def test_dry_acid_against_published_vapour_pressures(acid: float, pressure: float) -> None:
    assert sani_dry_acid(pressure / 17.6) == pytest.approx(acid, abs=0.01)


@pytest.mark.parametrize("humidity", [1e-6, 0.05, 0.3, 0.5, 0.75, 0.95, 1])
def test_dry_acid_solves_its_equation(humidity: float) -> None:
    """x exp(-5.5 (1 - x)²) = humidity, by scipy."""
    x = brentq(lambda x: x * math.exp(-5.5 * (1 - x) ** 2) - humidity, 0, 1, xtol=1e-15)
    water, acid = x * Formula("H2O").mass, (1 - x) * Formula("H3PO4").mass
    assert sani_dry_acid(humidity) == pytest.approx(acid / (acid + water), rel=1e-4, abs=1e-14)
    assert sani_dry_factor_in_air(0.004, humidity) == pytest.approx(sani_dry_acid(humidity) / 0.004, rel=1e-12)


@given(st.floats(0.001, 1), st.floats(0.001, 1))
def test_drier_air_leaves_stronger_acid(one: float, other: float) -> None:
    drier, damper = sorted((one, other))
    assert sani_dry_acid(drier) >= sani_dry_acid(damper)


AIR = [(10, 0.3), (15, 0.8), (20, 0.5), (25, 0.4), (35, 0.1), (50, 0.6), (60, 0.05)]


@pytest.mark.parametrize(("temp", "humidity"), AIR)
def test_drying_time_against_psychrometry(temp: float, humidity: float) -> None:
    """Wet bulb by psychrolib (to 0.001 K), water by IAPWS-IF97. A film's time is 1/depression: 0.03 K of it are 1 %."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    wet = psychrolib.GetTWetBulbFromRelHum(temp, humidity, 101325)
    water = IAPWS97(T=wet + 273.15, x=0)
    heat = IAPWS97(T=wet + 273.15, x=1).h - water.h  # kJ/kg
    seconds = 80e-6 * water.rho * heat * 1000 / (12 * (temp - wet))
    assert sani_dry_minutes(80, temp, humidity, 12) == pytest.approx(seconds / 60, rel=0.01)


@given(st.floats(1, 200), st.floats(15, 40), st.floats(0.2, 0.9), st.floats(5, 30))
def test_drying_goes_with_film_and_air(film: float, temp: float, humidity: float, transfer: float) -> None:
    minutes = sani_dry_minutes(film, temp, humidity, transfer)
    assert sani_dry_minutes(2 * film, temp, humidity, transfer) == pytest.approx(2 * minutes, rel=1e-12)
    assert sani_dry_minutes(film, temp, humidity, 2 * transfer) == pytest.approx(minutes / 2, rel=1e-12)
    assert sani_dry_minutes(film, temp, humidity + 0.05, transfer) > minutes
    assert sani_dry_minutes(0, temp, humidity, transfer) == 0


@pytest.mark.parametrize(("temp", "humidity"), [(20, 1), (2, 0.3)])
def test_no_drying_in_saturated_or_freezing_air(temp: float, humidity: float) -> None:
    with pytest.raises(OutOfRange, match="saturated"):
        sani_dry_minutes(50, temp, humidity)


def test_a_dried_acid_film_is_hundreds_of_times_stronger() -> None:
    """Common practice, no source: at label strength, about 1 g/kg of acid, in the air of a room."""
    assert 300 < sani_dry_factor_in_air(0.001, 0.5) < 1000
    assert sani_dry_factor(0.001) > 300
    assert sani_dry_factor(0.001, 0.95) < 1.1  # wet through the contact time


# -- plastics --------------------------------------------------------------------------------------------------------

PLASTICS, CHEMISTRIES, STATES = (tuple((p.names or {}).values()) for p in find("SANI_PLASTIC").params)
ACID = ("acid anionic", "phosphoric acid", "iodophor")


def cautioned(plastic: str, chemistry: str, state: str) -> bool:
    return "caution" in str(sani_plastic(plastic, chemistry, state)).casefold()


def told() -> list[tuple[str, str, str, str]]:
    """Every entry there is."""
    found = []
    for case in product(PLASTICS, CHEMISTRIES, STATES):
        try:
            found.append((*case, str(sani_plastic(*case))))
        except NotListed:
            continue
    return found


def test_what_it_knows() -> None:
    """The materials and chemistries of a brewery; nearly all pairs."""
    assert {"acetal", "polyketone", "polypropylene", "HDPE", "PET", "polycarbonate", "PVC", "ABS", "silicone", "EPDM",
            "nitrile", "nylon", "stainless steel", "aluminium", "brass", "copper",
            "glass"} == set(PLASTICS)  # fmt: skip
    assert list(PLASTICS) == sorted(PLASTICS, key=str.casefold)
    assert {"acid anionic", "phosphoric acid", "chlorine", "peracetic acid", "iodophor", "alcohol",
            "caustic cleaner", "percarbonate cleaner"} == set(CHEMISTRIES)  # fmt: skip
    assert set(STATES) == {"contact", "soaked", "rinsed", "dried"}
    assert len(told()) > 0.9 * len(PLASTICS) * len(CHEMISTRIES) * len(STATES)


def test_every_sentence_says_how_sure_it_is_and_who_decides() -> None:
    for _, chemistry, state, sentence in told():
        assert len(sentence) < 256, sentence
        assert ("commonly quoted" in sentence) + ("no source" in sentence) + ("Inferred" in sentence) == 1, sentence
        assert "the maker's data sheet decides" in sentence
        assert sentence.startswith(("No harm known: ", "Caution: ", "Strong caution: "))
        if chemistry in (*ACID, "chlorine", "peracetic acid"):
            assert "Never mix acid and chlorine" in sentence
        if chemistry in ACID and state == "dried" and "aution" in sentence:
            assert "hundreds of times stronger" in sentence


def test_sooner_is_never_worse() -> None:
    """Contact is cautioned only where a soak is, and where the label's time does harm rinsing doesn't mend it."""
    for plastic, chemistry, state, _ in told():
        if state == "contact":
            assert cautioned(plastic, chemistry, "contact") <= cautioned(plastic, chemistry, "soaked")
            assert cautioned(plastic, chemistry, "rinsed") == cautioned(plastic, chemistry, "contact")
            assert cautioned(plastic, chemistry, "soaked") <= cautioned(plastic, chemistry, "dried")


def test_acetal_and_acid_sanitizer() -> None:
    """Common practice, no source: dried on it is what harms; wet for the label's time and rinsing don't."""
    for name, acid in product(("acetal", "POM"), ("acid anionic", "phosphoric acid")):
        assert cautioned(name, acid, "dried")
        assert "Strong" in sani_plastic(name, acid, "dried")
        assert not cautioned(name, acid, "contact")
        assert not cautioned(name, acid, "rinsed")
    assert sani_plastic("POM", "acid anionic", "dried") == sani_plastic("acetal", "acid anionic", "dried")


def test_no_material_is_praised_over_another() -> None:
    """A sentence speaks of the material that was asked for, and of no other."""
    for plastic, _, _, sentence in told():
        others = {name for name in PLASTICS if name != plastic}
        assert not [name for name in others if re.search(rf"\b{re.escape(name)}\b", sentence)], sentence
        assert "better" not in sentence


def test_what_can_hurt() -> None:
    """Hydrogen from caustic on aluminium, heat from caustic and acid, alcohol that burns: as safety sheets have it."""
    assert "gives off hydrogen, which burns" in sani_plastic("aluminium", "caustic cleaner", "contact")
    for plastic, chemistry, _, sentence in told():
        if chemistry == "alcohol":
            assert "It burns: no flame" in sentence, plastic
        if chemistry == "caustic cleaner":
            assert "Never mix it with acid" in sentence
        if chemistry == "percarbonate cleaner":
            assert "Never mix it with acid or chlorine" in sentence


def test_well_known_enemies() -> None:
    """General resistance charts, as commonly quoted."""
    for state in STATES:
        assert cautioned("stainless steel", "chlorine", state)
        assert cautioned("polycarbonate", "caustic cleaner", state)
        assert cautioned("PET", "caustic cleaner", state)
        assert cautioned("nylon", "phosphoric acid", state)
        assert cautioned("acetal", "chlorine", state)
        assert not cautioned("stainless steel", "caustic cleaner", state)
        assert not cautioned("polypropylene", "phosphoric acid", state)


@pytest.mark.parametrize("pair", [("PEEK", "chlorine"), ("polyketone", "peracetic acid"), ("acetal", "vinegar")])
def test_what_is_not_known_is_not_guessed(pair: tuple[str, str]) -> None:
    with pytest.raises(NotListed, match="not listed"):
        sani_plastic(*pair, "dried")


def test_plastics_lift() -> None:
    assert sani_plastic(["hdpe", "Nylon"], "chlorine", "DRIED") == [
        sani_plastic("HDPE", "chlorine", "dried"),
        sani_plastic("nylon", "chlorine", "dried"),
    ]


# -- columns ---------------------------------------------------------------------------------------------------------

SPANS = [
    ("SANI_DOSE", (0, 100), (0, 10)),
    ("SANI_STRENGTH", (0, 100), (0.001, 1), (0.6, 2)),
    ("SANI_DOSE_FOR", (0, 5000), (0, 100), (0.1, 1), (0.6, 2)),
    ("SANI_CHLORINE", (0, 100), (1, 100), (0.001, 0.2), (1, 1.3)),
    ("SANI_RESIDUE", (0, 100), (0, 10), (0, 1000)),
    ("SANI_PH", (10, 20000), (0, 300)),
    ("SANI_DRY_FACTOR", (0, 1), (0, 1)),
    ("SANI_DRY_ACID", (0.01, 1)),
    ("SANI_DRY_FACTOR_IN_AIR", (0.0001, 1), (0.01, 1)),
    ("SANI_DRY_MINUTES", (0, 200), (0, 60), (0.01, 1), (5, 30)),
]


@pytest.mark.parametrize("span", SPANS, ids=lambda span: span[0])
def test_columns_agree_with_single_values(span: tuple[Any, ...]) -> None:
    assert_columns_agree(*span)
