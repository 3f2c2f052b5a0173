"""Water: density, brewing salts, alkalinity."""

from typing import Annotated, Any

from ..catalogue import Above, AtLeast, Between, OneOf, worksheet
from ..units import AS_CACO3, SLIPS, Alkalinity, Celsius, Gram, KilogramPerLitre, Litre, MilligramPerLitre, Word
from .numeric import only_if


def density(temp: Any) -> Any:
    """kg/L of water at `temp` °C."""
    mass = 999.83952 + temp * (
        16.952577 + temp * (-7.9905127e-3 + temp * (-46.241757e-6 + temp * (105.84601e-9 - 281.03006e-12 * temp)))
    )
    return mass / (1 + 16.887236e-3 * temp) / 1000


WATER_20 = density(20.0)
AS_RHO = "rho20 as WATER_DENSITY(20)"  # what an equation means by it


@worksheet(
    source="Kell 1975, J. Chem. Eng. Data 20:97",
    equation="rho = (999.83952 + 16.952577 t - 7.9905127e-3 t^2 - 46.241757e-6 t^3 + 105.84601e-9 t^4 "
    "- 281.03006e-12 t^5) / (1 + 16.887236e-3 t) kg/m3",
)
def water_density(temp: Annotated[Celsius, Between(0, 100), "temperature"]) -> KilogramPerLitre:
    """Density of air-free water at 1 atm; within 0.007 kg/m³ of IAPWS-95.

    >>> water_density(20)
    0.99820
    """
    return density(temp)


# -- salts -----------------------------------------------------------------------------------------------------------

# g/mol, from IUPAC standard atomic weights
_PARTS = {
    "Ca": 40.078, "Mg": 24.305, "Na": 22.990, "Cl": 35.453, "SO4": 96.062, "HCO3": 61.017, "CO3": 60.009, "OH": 17.007,
    "H2O": 18.015,
}  # fmt: skip
_SALTS: dict[str, dict[str, int]] = {
    "gypsum": {"Ca": 1, "SO4": 1, "H2O": 2},
    "calcium chloride anhydrous": {"Ca": 1, "Cl": 2},
    "calcium chloride dihydrate": {"Ca": 1, "Cl": 2, "H2O": 2},
    "epsom salt": {"Mg": 1, "SO4": 1, "H2O": 7},
    "table salt": {"Na": 1, "Cl": 1},
    "baking soda": {"Na": 1, "HCO3": 1},
    "chalk": {"Ca": 1, "CO3": 1},
    "magnesium chloride hexahydrate": {"Mg": 1, "Cl": 2, "H2O": 6},
    "slaked lime": {"Ca": 1, "OH": 2},
}
_IONS = ("Ca", "Mg", "Na", "Cl", "SO4", "HCO3", "CO3")

_ION_OF = 'UNIT_CONVERT says how much of an ion that is, as with "°dH" and "mg/L Ca"'
SLIPS["alkalinity", "strength"] = _ION_OF
SLIPS["hardness", "strength"] = f"an ion is written in mg/L without its name; {_ION_OF}"


def molar_mass(salt: str) -> float:
    """g/mol"""
    return sum(count * _PARTS[part] for part, count in _SALTS[salt].items())


def ion_share(salt: str, ion: str) -> float:
    """Share of the salt's mass that is that ion; 0 where it holds none."""
    return _SALTS[salt].get(ion, 0) * _PARTS[ion] / molar_mass(salt)


@worksheet(
    source="Molar masses, from IUPAC standard atomic weights", equation="mg/L = 1000 mass (n M_ion / M_salt) / V"
)
def water_salt(
    salt: Annotated[Word, OneOf(*_SALTS), "salt as weighed"],
    ion: Annotated[Word, OneOf(*_IONS), "ion"],
    mass: Annotated[Gram, AtLeast(0), "of the salt"],
    volume: Annotated[Litre, Above(0), "water it is dissolved in"],
) -> MilligramPerLitre:
    """Ion that a salt adds to the water; 0 for an ion that the salt doesn't hold.

    All of it dissolved: chalk hardly dissolves in plain water. Calcium chloride draws water, so open packets hold less.
    Slaked lime is caustic: gloves and goggles, and mind its label.

    >>> water_salt("gypsum", "SO4", 5, 25)
    111.6
    """
    return 1000 * mass * ion_share(salt, ion) / volume


@worksheet(
    source="Inverse of WATER_SALT. Molar masses, from IUPAC standard atomic weights",
    equation="mass = mg/L V / (1000 n M_ion / M_salt)",
    no_answer="the salt doesn't hold that ion",
)
def water_salt_mass(
    salt: Annotated[Word, OneOf(*_SALTS), "salt as weighed"],
    ion: Annotated[Word, OneOf(*_IONS), "ion"],
    concentration: Annotated[MilligramPerLitre, AtLeast(0), "of the ion, to be added to what the water holds"],
    volume: Annotated[Litre, AtLeast(0), "water it is dissolved in"],
) -> Gram:
    """Salt that adds so much of an ion to the water; the exact inverse of WATER_SALT.

    For another volume salts go by the water: the same mg/L, so twice the mass in twice the water. What it brings of its
    other ion comes along. Slaked lime is caustic: gloves and goggles, and mind its label.

    >>> water_salt_mass("gypsum", "Ca", 50, 25)
    5.370
    """
    share = ion_share(salt, ion)
    return only_if(share > 0, concentration * volume / 1000 / (share or 1.0))


_BASES = {"HCO3": 1, "CO3": 2, "OH": 1}  # charges that take up acid


@worksheet(
    source="Stoichiometry, from IUPAC standard atomic weights: HCO3 and OH take up one charge of acid each, CO3 two",
    equation="mg/L as CaCO3 = 1000 mass n z 50.04 / M_salt / V",
)
def water_salt_alkalinity(
    salt: Annotated[Word, OneOf(*_SALTS), "salt as weighed"],
    mass: Annotated[Gram, AtLeast(0), "of the salt"],
    volume: Annotated[Litre, Above(0), "water it is dissolved in"],
) -> Alkalinity:
    """Alkalinity, as CaCO3, that a salt adds to the water: baking soda, chalk and slaked lime; 0 for the others.

    All of it dissolved: chalk hardly dissolves in plain water, and in the mash only in part. Slaked lime is caustic:
    gloves and goggles, and mind its label.

    >>> water_salt_alkalinity("baking soda", 2, 20)
    59.57
    """
    charges = sum(_SALTS[salt].get(part, 0) * charge for part, charge in _BASES.items())
    return 1000 * mass * charges * AS_CACO3 / molar_mass(salt) / volume


@worksheet(
    source="Kolbach 1953, as commonly quoted: 1/3.5 of the equivalents of Ca and 1/7 of those of Mg, as CaCO3",
    equation="RA = alkalinity - Ca / 1.4 - Mg / 1.7",
)
def water_residual_alkalinity(
    alkalinity: Annotated[Alkalinity, AtLeast(0), "as CaCO3"],
    calcium: Annotated[MilligramPerLitre, AtLeast(0), "Ca"],
    magnesium: Annotated[MilligramPerLitre, AtLeast(0), "Mg"],
) -> Alkalinity:
    """Residual alkalinity, as CaCO3: what is left of the alkalinity against the mash; may be negative.

    >>> water_residual_alkalinity(150, 56, 17)
    100.0
    """
    return alkalinity - calcium / 1.4 - magnesium / 1.7
