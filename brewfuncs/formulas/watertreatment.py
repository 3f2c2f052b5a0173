"""Brewing water treated: blended, freed of chlorine, acidified; and the pH of the mash it makes with the malts.

Acids burn: goggles and gloves, acid into water, never near chlorine. The label of the product goes first.
"""

from typing import Annotated, Any

from ..catalogue import Above, AtLeast, Between, NotAbove, OneOf, WholeRange, worksheet
from ..units import AS_CACO3, Alkalinity, Buffering, Gram, Kilogram, Litre, MilligramPerLitre, Ph, Share, Word
from .numeric import bisect, only_if

_CARBONIC = (10**-6.352, 10**-10.329)  # dissociation at 25 °C, as PHREEQC's phreeqc.dat has them
_WATER = 10**-13.995
# g/mol, then the constants of dissociation at 25 °C
_ACIDS = {
    "lactic": (90.078, 10**-3.86, 0.0, 0.0),
    "phosphoric": (97.994, 10**-2.148, 10**-7.198, 10**-12.319),
}
_CHLORINE = 70.906  # g/mol of Cl2
_SULFITES = {"sodium metabisulfite": 190.11, "potassium metabisulfite": 222.32}  # g/mol, two sulfites each

ACID = OneOf(*_ACIDS)
ACID_SHARE = Above(0, 1)
_HELP_SHARE = "acid in the product, by mass, from its label"
_HELP_MASS = "acid as sold, weighed"
_CARBONATE = (
    "alkalinity = C (HCO3 + 2 CO3) + OH - H, C kept; "
    "pK 6.352, 10.329, 13.995; lactic 3.86, phosphoric 2.148, 7.198, 12.319"
)


def _alkaline(ph: Any) -> Any:
    """Charge of a mole of carbonate, and of the water itself in eq/L, at this pH."""
    hydrogen = 10**-ph
    first, second = _CARBONIC
    left = hydrogen * hydrogen + hydrogen * first + first * second
    return (hydrogen * first + 2 * first * second) / left, _WATER / hydrogen - hydrogen


def _carbonate(alkalinity: Any, ph: Any) -> Any:
    """mol/L of carbonate in all its forms; none where the pH alone asks for more alkalinity than there is."""
    charge, water = _alkaline(ph)
    total = (alkalinity / AS_CACO3 / 1000 - water) / charge
    return only_if(total >= 0, total)


def _alkalinity(carbonate: Any, ph: Any) -> Any:
    """eq/L left at this pH."""
    charge, water = _alkaline(ph)
    return carbonate * charge + water


def _acid_charge(acid: str, ph: Any) -> Any:
    """Hydrogen that a mole of the acid has given off at this pH."""
    _, first, second, third = _ACIDS[acid]
    hydrogen = 10**-ph
    ones = hydrogen * hydrogen * first
    twos = hydrogen * first * second
    threes = first * second * third
    return (ones + 2 * twos + 3 * threes) / (hydrogen * hydrogen * hydrogen + ones + twos + threes)


@worksheet(source="Conservation of mass", equation="c = (c1 V1 + c2 V2) / (V1 + V2)")
def water_blend(
    concentration_1: Annotated[MilligramPerLitre, AtLeast(0), "of an ion, or alkalinity, in the first water"],
    volume_1: Annotated[Litre, Above(0), "of the first water"],
    concentration_2: Annotated[MilligramPerLitre, AtLeast(0), "in the second water; 0 in distilled water"],
    volume_2: Annotated[Litre, AtLeast(0), "of the second water"],
) -> MilligramPerLitre:
    """Concentration of an ion, or alkalinity, in two waters mixed; not pH, which doesn't mix so.

    >>> water_blend(120, 15, 0, 10)
    72.0
    """
    return (concentration_1 * volume_1 + concentration_2 * volume_2) / (volume_1 + volume_2)


@worksheet(
    source="Stoichiometry: one sulfite for each Cl2, two in a metabisulfite; IUPAC standard atomic weights",
    equation="g = chlorine V / 1000 * M / (2 * 70.906)",
)
def water_sulfite(
    volume: Annotated[Litre, AtLeast(0), "of tap water"],
    chlorine: Annotated[MilligramPerLitre, Between(0, 10), "free chlorine and chloramine together, as Cl2"],
    salt: Annotated[Word, OneOf(*_SULFITES), "as weighed"] = "sodium metabisulfite",
) -> Gram:
    """Metabisulfite that takes the chlorine or chloramine out of tap water; it becomes sulfate and chloride.

    Just as much as is needed, of a fresh powder: an old one holds less. Chloramine leaves a trace of ammonium. Sulfites
    make some people ill. Never add it to bleach or to an acid: keep it to tap water.

    >>> water_sulfite(30, 2)
    0.08043
    """
    return chlorine * volume / 1000 * _SULFITES[salt] / (2 * _CHLORINE)


@worksheet(
    source="Charge balance of carbonate and acid at 25 °C, activities left out; pKa of phreeqc.dat and handbooks",
    equation=f"m = V (alkalinity - alkalinity at the target) / z M / share, z the acid's charge there; {_CARBONATE}",
    relations=[NotAbove("target", "ph")],
    no_answer="water of this pH has more alkalinity than that",
)
def water_acid(
    volume: Annotated[Litre, AtLeast(0), "of water"],
    alkalinity: Annotated[Alkalinity, AtLeast(0), "as CaCO3"],
    ph: Annotated[Ph, Between(5, 10), "of the water as it is"],
    target: Annotated[Ph, Between(4, 8.5), "pH wanted, 5.5 to 6 for sparging"],
    acid: Annotated[Word, ACID, "acid"] = "lactic",
    share: Annotated[Share, ACID_SHARE, _HELP_SHARE] = 0.8,
) -> Gram:
    """Acid, weighed as sold, that brings water to a pH; the exact inverse of WATER_ACID_PH.

    Within 3 % of PHREEQC up to 400 mg/L of alkalinity. No carbon dioxide is lost meanwhile: in open water the pH rises
    again. Acids burn: goggles and gloves, acid into water, and never near chlorine.

    >>> water_acid(15, 150, 7.6, 5.6)
    4.342
    """
    carbonate = _carbonate(alkalinity, ph)
    needed = alkalinity / AS_CACO3 / 1000 - _alkalinity(carbonate, target)
    return volume * needed / _acid_charge(acid, target) * _ACIDS[acid][0] / share


@worksheet(
    source="Charge balance of carbonate and acid at 25 °C, activities left out; pKa of phreeqc.dat and handbooks",
    equation=f"alkalinity at the pH = alkalinity - z m share / (M V), z the acid's charge at the pH; {_CARBONATE}",
    no_answer="water of this pH has more alkalinity than that",
)
def water_acid_ph(
    volume: Annotated[Litre, Above(0), "of water"],
    alkalinity: Annotated[Alkalinity, AtLeast(0), "as CaCO3"],
    ph: Annotated[Ph, Between(5, 10), "of the water as it is"],
    mass: Annotated[Gram, AtLeast(0), _HELP_MASS],
    acid: Annotated[Word, ACID, "acid"] = "lactic",
    share: Annotated[Share, ACID_SHARE, _HELP_SHARE] = 0.8,
) -> Ph:
    """pH at 25 °C of water after an acid; within 0.06 of PHREEQC up to 400 mg/L of alkalinity.

    No carbon dioxide is lost meanwhile. Acids burn: goggles and gloves, acid into water, and never near chlorine.

    >>> water_acid_ph(15, 150, 7.6, 4.342)
    5.6
    """
    carbonate = _carbonate(alkalinity, ph)
    moles = mass * share / _ACIDS[acid][0] / volume

    def above(guess: Any) -> Any:
        return _alkalinity(carbonate, guess) + moles * _acid_charge(acid, guess) - alkalinity / AS_CACO3 / 1000

    return bisect(above, 0.0, ph) + 0 * carbonate


# -- the mash --------------------------------------------------------------------------------------------------------

# kind -> pH in a distilled-water mash and meq/kg/pH around pH 5.4, each as low, typical and high
_MALTS: dict[str, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    "pilsner": ((5.6, 5.75, 5.9), (30.0, 38.0, 48.0)),
    "pale": ((5.55, 5.7, 5.85), (30.0, 40.0, 50.0)),
    "vienna": ((5.45, 5.6, 5.7), (32.0, 42.0, 52.0)),
    "munich": ((5.3, 5.45, 5.6), (35.0, 45.0, 55.0)),
    "wheat": ((5.7, 5.95, 6.1), (30.0, 40.0, 55.0)),
    "light caramel": ((5.0, 5.25, 5.5), (35.0, 50.0, 65.0)),
    "caramel": ((4.65, 4.95, 5.2), (40.0, 55.0, 70.0)),
    "dark caramel": ((4.35, 4.65, 4.95), (45.0, 60.0, 80.0)),
    "roasted": ((4.4, 4.65, 4.9), (35.0, 50.0, 80.0)),
    "acidulated": ((3.4, 3.5, 3.6), (105.0, 135.0, 165.0)),  # at pH 5.4 as much acid as 2, 2.5 and 3 % of lactic acid
}
_ENDS = ("low", "typical", "high")
KINDS = OneOf(
    *_MALTS,
    also={
        "lager": "pilsner", "pils": "pilsner", "pale ale": "pale", "light crystal": "light caramel",
        "crystal": "caramel", "dark crystal": "dark caramel", "acid": "acidulated",
    },
)  # fmt: skip
_HELP_KIND = "kind of malt; caramel is light to 50 EBC (20 °L), dark from 150 EBC (60 °L)"
_HELP_ESTIMATE = "low, typical or high of what is quoted for the kind"
_KIND_SOURCE = (
    "Ranges over malts' small mashes and titrations, such as de Lange's (MBAA Tech. Q., 2013 and 2015): as commonly "
    "quoted, from memory; originals not consulted"
)

_MALT_PHS = Between(3, 8)
_HELP_PHS = "each malt's pH in a small mash with distilled water"
_HELP_BUFFERS = "each malt's buffering, from a titration of that mash"
_MASH_SOURCE = (
    "Charge balance of the malts' linear buffers (as commonly described; original not consulted) with Kolbach 1953's "
    "residual alkalinity (as commonly quoted; original not consulted)"
)


def _demand(masses: Any, phs: Any, buffers: Any, ph: Any) -> Any:
    """meq that lift the malts to this pH."""
    return sum(mass * buffer * (ph - own) for mass, own, buffer in zip(masses, phs, buffers))


@worksheet(source=_KIND_SOURCE, equation="none: a table by kind, each with its spread")
def mash_malt_ph(
    kind: Annotated[Word, KINDS, _HELP_KIND],
    estimate: Annotated[Word, OneOf(*_ENDS), _HELP_ESTIMATE] = "typical",
) -> Ph:
    """pH of a kind of malt in a small mash with distilled water, for MASH_PH where the malt isn't measured.

    A stand-in: mash 50 g of the malt, crushed, in 200 mL of distilled water, read the pH of a cooled sample, and use
    that. "low" of all malts and "high" of all malts are the spread to show. Rye, oats and unmalted grain are
    left out: too little of them is quoted, so measure them. Sugar takes no part.

    >>> mash_malt_ph("caramel")
    4.95
    """
    return _MALTS[kind][0][_ENDS.index(estimate)]


@worksheet(source=_KIND_SOURCE, equation="none: a table by kind, each with its spread")
def mash_malt_buffering(
    kind: Annotated[Word, KINDS, _HELP_KIND],
    estimate: Annotated[Word, OneOf(*_ENDS), _HELP_ESTIMATE] = "typical",
) -> Buffering:
    """Buffering of a kind of malt around the mash's pH, for MASH_PH where the malt isn't titrated.

    A stand-in, good to a third either way. An acidulated malt's is that of the 2 to 3 % of lactic acid on it, at pH
    5.4: where its maker states the acid, give MASH_PH that much acid and count the malt as pilsner.

    >>> mash_malt_buffering("caramel")
    55.0
    """
    return _MALTS[kind][1][_ENDS.index(estimate)]


@worksheet(
    source=_MASH_SOURCE,
    equation="sum(m_i b_i (pH - pH_i)) = V RA / 50.04 - z acid share / M, z the acid's charge at the pH",
)
def mash_ph(
    malt_masses: Annotated[Kilogram, WholeRange(), Above(0), "each malt as weighed in"],
    malt_phs: Annotated[Ph, WholeRange(), _MALT_PHS, _HELP_PHS],
    malt_buffers: Annotated[Buffering, WholeRange(), Between(5, 200), _HELP_BUFFERS],
    water: Annotated[Litre, Above(0), "in the mash"],
    residual: Annotated[Alkalinity, Between(-1000, 1000), "WATER_RESIDUAL_ALKALINITY of that water, salts counted"],
    mass: Annotated[Gram, AtLeast(0), _HELP_MASS] = 0.0,
    acid: Annotated[Word, ACID, "acid"] = "lactic",
    share: Annotated[Share, ACID_SHARE, _HELP_SHARE] = 0.8,
) -> Ph:
    """pH of the mash, of a sample cooled to 25 °C; an estimate.

    With measured malts expect 0.1 either way, with malts guessed by kind (MASH_MALT_PH, MASH_MALT_BUFFERING) 0.2: work
    it out with both ends, and measure.

    >>> mash_ph([4.5, 0.3], [5.7, 4.8], [38, 50], 16, 60)
    5.73
    """
    moles = 1000 * mass * share / _ACIDS[acid][0]

    def above(guess: Any) -> Any:
        demand = _demand(malt_masses, malt_phs, malt_buffers, guess)
        return demand + moles * _acid_charge(acid, guess) - water * residual / AS_CACO3

    return bisect(above, 0.0, 14.0)


@worksheet(
    source=_MASH_SOURCE,
    equation="acid = (V RA / 50.04 - sum(m_i b_i (pH - pH_i))) M / (z share), z the acid's charge at the pH",
    no_answer="the mash is below that pH without any acid",
)
def mash_acid(
    malt_masses: Annotated[Kilogram, WholeRange(), Above(0), "each malt as weighed in"],
    malt_phs: Annotated[Ph, WholeRange(), _MALT_PHS, _HELP_PHS],
    malt_buffers: Annotated[Buffering, WholeRange(), Between(5, 200), _HELP_BUFFERS],
    water: Annotated[Litre, Above(0), "in the mash"],
    residual: Annotated[Alkalinity, Between(-1000, 1000), "WATER_RESIDUAL_ALKALINITY of that water, salts counted"],
    target: Annotated[Ph, Between(4.5, 7), "pH wanted, of a sample cooled to 25 °C"],
    acid: Annotated[Word, ACID, "acid"] = "lactic",
    share: Annotated[Share, ACID_SHARE, _HELP_SHARE] = 0.8,
) -> Gram:
    """Acid, weighed as sold, that brings the mash to a pH; the exact inverse of MASH_PH.

    No better than that estimate: add half, stir, measure, then the rest. Acids burn: goggles and gloves.

    >>> mash_acid([4.5, 0.3], [5.7, 4.8], [38, 50], 16, 60, 5.4)
    7.123
    """
    surplus = water * residual / AS_CACO3 - _demand(malt_masses, malt_phs, malt_buffers, target)
    grams = surplus / _acid_charge(acid, target) * _ACIDS[acid][0] / share / 1000
    return only_if(grams >= 0, grams)
