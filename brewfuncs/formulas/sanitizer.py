"""Sanitizers: dose, strength, drying films, and what they do to plastics.

The label comes first: its dose, its contact time, its rinsing, what to wear. Never mix chlorine with acid: it gives off
chlorine gas.
"""

from typing import Annotated, Any

from ..catalogue import Above, AtLeast, Between, Fitted, OneOf, worksheet
from ..errors import NotListed
from ..units import (
    AS_CACO3,
    Alkalinity,
    Celsius,
    HeatTransfer,
    KilogramPerLitre,
    Litre,
    Micrometre,
    Milligram,
    MilligramPerLitre,
    Millilitre,
    MillilitrePerLitre,
    Minute,
    Number,
    Ph,
    Sentence,
    Share,
    SquareMetre,
    Word,
)
from .boil import latent_heat, saturation_pressure
from .numeric import bisect, exp, filled, log10, only_if, sqrt
from .water import density

SHARE = Above(0, 1)
DENSITY = Between(0.6, 2)  # of a liquid, kg/L: 1080 is refused
HUMIDITY = Above(0, 1)

_HELP_SHARE = "active substance in the concentrate, share by mass (w/w), from the label"
_HELP_DENSITY = "of the concentrate, from the label or its data sheet"
_HELP_HUMIDITY = "relative humidity of the air"


# -- dose and strength -----------------------------------------------------------------------------------------------


@worksheet(source="Definition: rate times volume", equation="mL = V dose_rate")
def sani_dose(
    volume: Annotated[Litre, AtLeast(0), "water"],
    dose_rate: Annotated[MillilitrePerLitre, AtLeast(0), "concentrate per litre of water, from the label"],
) -> Millilitre:
    """Concentrate for this much water at the label's dose.

    A label's words are read too: "1 fl oz in 3 gal". More than it says isn't safer: no-rinse holds at its dose alone.

    >>> sani_dose(20, "2.5 mL/L")
    50.0
    """
    return volume * dose_rate


@worksheet(
    source="Mass balance, volumes taken as additive",
    equation="mg/L = 1000 dose_rate density share / (1 + dose_rate / 1000)",
)
def sani_strength(
    dose_rate: Annotated[MillilitrePerLitre, AtLeast(0), "concentrate per litre of water before dosing"],
    share: Annotated[Share, SHARE, _HELP_SHARE],
    density: Annotated[KilogramPerLitre, DENSITY, _HELP_DENSITY],
) -> MilligramPerLitre:
    """Active substance in the mixed solution; the dose's own volume is counted.

    >>> sani_strength(2.5, 0.3, 1.18)
    882.8
    """
    return 1000 * dose_rate * density * share / (1 + dose_rate / 1000)


@worksheet(
    source="Mass balance, volumes taken as additive",
    equation="mL = V strength / (1000 density share - strength / 1000)",
    no_answer="the concentrate itself is no stronger than that",
)
def sani_dose_for(
    strength: Annotated[MilligramPerLitre, AtLeast(0), "active substance wanted in the mixed solution"],
    volume: Annotated[Litre, AtLeast(0), "water before dosing"],
    share: Annotated[Share, SHARE, _HELP_SHARE],
    density: Annotated[KilogramPerLitre, DENSITY, _HELP_DENSITY],
) -> Millilitre:
    """Concentrate that gives this strength; the exact inverse of SANI_STRENGTH.

    >>> sani_dose_for(882.793, 20, 0.3, 1.18)
    50.0
    """
    stronger = 1000 * density * share - strength / 1000
    return volume * strength / only_if(stronger > 0, stronger)


CHLORINE_PER_HYPOCHLORITE = 70.906 / 74.442  # g/mol of Cl2 over NaOCl


@worksheet(
    source="Mass balance; available chlorine by molar masses, Cl2 70.906 over NaOCl 74.442",
    equation="mg/L = 1000 dose density share (70.906 / 74.442) / V",
)
def sani_chlorine(
    dose: Annotated[Millilitre, AtLeast(0), "bleach"],
    volume: Annotated[Litre, Above(0), "water"],
    share: Annotated[Share, SHARE, "sodium hypochlorite in the bleach, share by mass (w/w), from the label"],
    density: Annotated[KilogramPerLitre, DENSITY, "of the bleach"] = 1.08,
) -> MilligramPerLitre:
    """Available chlorine, as Cl2, that fresh plain bleach gives; the dose's own volume is neglected.

    Bleach weakens in store. Keep to the label's strength and rinse. Never mix it with acid: chlorine gas.

    >>> sani_chlorine(10, 10, 0.06)
    61.7
    """
    return 1000 * dose * density * share * CHLORINE_PER_HYPOCHLORITE / volume


@worksheet(source="Conservation: film times area times strength", equation="mg = film area strength / 1000")
def sani_residue(
    film: Annotated[Micrometre, AtLeast(0), "thickness of the film left after draining"],
    area: Annotated[SquareMetre, AtLeast(0), "surface"],
    strength: Annotated[MilligramPerLitre, AtLeast(0), "of the solution"],
) -> Milligram:
    """What a drained film leaves behind on a surface.

    A well drained wall keeps some 20 to 100 µm (common practice, no source).

    >>> sani_residue(50, 0.5, 300)
    7.5
    """
    return film * area * strength / 1000


# -- pH --------------------------------------------------------------------------------------------------------------

PHOSPHORIC_ACID = 97.995  # g/mol
_CONSTANTS = (10**-2.148, 10**-7.198, 10**-12.319)  # of phosphoric acid at 25 °C
_WATER = 1e-14
_CARBONATE_COUNTS = 4.5


def _charge(hydrogen: Any, acid: Any, base: Any) -> Any:
    """Charge in excess, mol/L, and the activity coefficient of single ions, at this concentration of hydrogen ions.

    `acid` is phosphoric acid, `base` a fully dissociated one. Activity by Davies: ions of charge z have the coefficient
    of single ions to the power z². The ionic strength needs the anions, and they it; as long as charges balance it is
    little more than hydrogen + base, so three rounds from there settle it.
    """
    strength = hydrogen + base
    for _ in range(3):
        root = sqrt(strength)
        single = 10 ** (-0.509 * (root / (1 + root) - 0.3 * strength))
        first = _CONSTANTS[0] / single**2 / hydrogen
        second = _CONSTANTS[1] / single**4 / hydrogen
        third = _CONSTANTS[2] / single**6 / hydrogen
        singly = acid * first / (1 + first * (1 + second * (1 + third)))
        doubly = singly * second
        triply = doubly * third
        hydroxide = _WATER / single**2 / hydrogen
        strength = (hydrogen + base + singly + 4 * doubly + 9 * triply + hydroxide) / 2
    return hydrogen + base - singly - 2 * doubly - 3 * triply - hydroxide, single


@worksheet(
    source="Charge balance; pKa 2.148, 7.198, 12.319; activity by Davies; 25 °C",
    equation="[H] + base = [H2PO4] + 2 [HPO4] + 3 [PO4] + [OH]; "
    "log g = -0.509 z^2 (sqrt(I) / (1 + sqrt(I)) - 0.3 I); pKa 2.148, 7.198, 12.319; pH = -log10(g [H])",
    no_answer="above pH 4.5 the carbonate left out here counts: measure it",
)
def sani_ph(
    phosphoric: Annotated[MilligramPerLitre, Between(0, 50000), Fitted(49, 9800), "phosphoric acid"],
    alkalinity: Annotated[Alkalinity, AtLeast(0), "of the water, as CaCO3"] = 0.0,
) -> Ph:
    """pH at 25 °C of phosphoric acid in water of this alkalinity, which counts as strong base.

    Within 0.01 of PHREEQC from 49 to 9800 mg/L and up to 400 mg/L of alkalinity. Carbonate and
    surfactants are left out. A pH alone doesn't make a sanitizer: the label's dose does.

    >>> sani_ph(979.952)
    2.27
    """
    acid, base = phosphoric / 1000 / PHOSPHORIC_ACID, alkalinity / 1000 / AS_CACO3

    def missing(scale: Any) -> Any:
        return -_charge(10**-scale, acid, base)[0]

    hydrogen = 10 ** -bisect(missing, 0.0, 8.0)
    answer = -log10(hydrogen * _charge(hydrogen, acid, base)[1])
    return only_if(answer <= _CARBONATE_COUNTS, answer)


# -- drying films ----------------------------------------------------------------------------------------------------


@worksheet(
    source="Conservation: only water leaves a drying film",
    equation="factor = 1 / (f + (1 - f) water_left), f = nonvolatile",
    no_answer="nothing would be left of the film",
)
def sani_dry_factor(
    nonvolatile: Annotated[Share, Between(0, 1), "what can't evaporate, share of the solution by volume"],
    water_left: Annotated[Share, Between(0, 1), "share of the water still there"] = 0.0,
) -> Number:
    """How many times stronger a film gets while it dries: 1 as long as it stays wet, hundreds at the end.

    A bound: acid holds on to some water for good, see SANI_DRY_FACTOR_IN_AIR.

    >>> sani_dry_factor(0.001)
    1000.0
    """
    return 1 / (nonvolatile + (1 - nonvolatile) * water_left)


WATER = 18.015  # g/mol
_MARGULES = 5.5


def water_activity(water: Any) -> Any:
    """Relative humidity over phosphoric acid in which `water` is the mole fraction of water."""
    return water * exp(-_MARGULES * (1 - water) ** 2)


def acid_in_balance(humidity: Any) -> Any:
    """Mass share of phosphoric acid that neither dries further nor takes up water in air of this humidity."""
    water = bisect(lambda share: water_activity(share) - humidity, 0.0, 1.0)
    acid = (1 - water) * PHOSPHORIC_ACID
    return acid / (acid + water * WATER)


_HUMIDITY_FITTED = Fitted(0.07, 0.83)  # where the acid's share is 0.88 to 0.40
_DRY_ACID = "One-constant Margules fit to a maker's table of vapour pressures over phosphoric acid, 20 °C"


@worksheet(
    source=_DRY_ACID,
    equation="humidity = x exp(-5.5 (1 - x)^2), x the mole fraction of water; "
    "by mass (1 - x) 97.995 / ((1 - x) 97.995 + x 18.015)",
)
def sani_dry_acid(humidity: Annotated[Share, HUMIDITY, _HUMIDITY_FITTED, _HELP_HUMIDITY]) -> Share:
    """Mass share of phosphoric acid at which a film of it stops drying in this air.

    Within 0.01 from 0.40 to 0.88 of acid and 15 to 30 °C; weaker acid (damper air) is an extrapolation. Strong acid
    burns skin and eyes.

    >>> sani_dry_acid(0.5)
    0.662
    """
    return acid_in_balance(humidity)


@worksheet(source=_DRY_ACID, equation="factor = SANI_DRY_ACID(humidity) / acid_share")
def sani_dry_factor_in_air(
    acid_share: Annotated[Share, SHARE, "phosphoric acid in the solution, share by mass"],
    humidity: Annotated[Share, HUMIDITY, _HUMIDITY_FITTED, _HELP_HUMIDITY],
) -> Number:
    """How many times stronger, by mass, a film of phosphoric acid is when it stops drying in this air.

    Under 1 where the acid takes up water from the air instead.

    >>> sani_dry_factor_in_air(0.001, 0.5)
    662.0
    """
    return acid_in_balance(humidity) / acid_share


_AIR = 101.325  # kPa


def _moisture(pressure: Any) -> Any:
    """kg of water per kg of dry air at this pressure of vapour, kPa."""
    return 0.621945 * pressure / (_AIR - pressure)


def wet_bulb(temp: Any, humidity: Any) -> Any:
    """°C to which air of `temp` °C cools a wet surface: the psychrometer's heat balance as ASHRAE writes it."""
    moisture = _moisture(humidity * saturation_pressure(temp))

    def too_warm(wet: Any) -> Any:
        fed = (2501 - 2.326 * wet) * _moisture(saturation_pressure(wet)) - 1.006 * (temp - wet)
        return fed - moisture * (2501 + 1.86 * temp - 4.186 * wet)

    return bisect(too_warm, -2.0, temp)


@worksheet(
    source="Heat balance of a wet surface; wet bulb by ASHRAE; heat transfer: common practice",
    equation="minutes = film rho h_fg / (h (T - T_wet)) / 60; "
    "wet bulb: (2501 - 2.326 T_wet) W(T_wet) - 1.006 (T - T_wet) = W (2501 + 1.86 T - 4.186 T_wet), "
    "W = 0.621945 p / (101.325 - p)",
    no_answer="air that is saturated, or so cold and dry that the film freezes",
)
def sani_dry_minutes(
    film: Annotated[Micrometre, AtLeast(0), "thickness of the film of water"],
    temp: Annotated[Celsius, Between(0, 60), "temperature of the air"],
    humidity: Annotated[Share, HUMIDITY, _HELP_HUMIDITY],
    heat_transfer: Annotated[HeatTransfer, Above(0), "5 to 10 in still air, 25 before a fan"] = 8.0,
) -> Minute:
    """Minutes until a film of water is gone from a wall that gives it no heat; not a contact time.

    Good for its size only: a warm wall shortens it, and what the acid holds on to never dries.

    >>> sani_dry_minutes(50, 20, 0.5)
    41.3
    """
    wet = wet_bulb(temp, humidity)
    depression = only_if((wet > 0) & (humidity < 1), temp - wet)
    heat = film * 1e-6 * 1000 * density(wet) * 1000 * latent_heat(wet)  # J/m²
    return heat / (heat_transfer * depression) / 60


# -- plastics and what else a brewery is made of ---------------------------------------------------------------------

_CHEMISTRIES = (
    "acid anionic", "phosphoric acid", "chlorine", "peracetic acid", "iodophor", "alcohol", "caustic cleaner",
    "percarbonate cleaner",
)  # fmt: skip
_ACIDS = ("acid anionic", "phosphoric acid", "iodophor")

# What each material bears, chemistry by chemistry: soaked for hours at label strength, then dried on (A no harm known,
# B some harm, C attacked), and how that is known. "--": not known, and never guessed.
_RESISTANCE = {
    #                    acid     phos-    chlo-    per-     iodo-    alco-    caustic  percar-
    #                    anionic  phoric   rine     acetic   phor     hol      cleaner  bonate
    "ABS":              "BB?      AB~      BB~      --       --       BB~      AB~      AB?",
    "acetal":           "BC?      BC~      CC=      CC~      BC?      AA=      BB~      AB?",
    "aluminium":        "BC?      CC=      CC=      CC~      CC?      AA=      CC=      CC~",
    "brass":            "BC?      BC~      CC=      CC~      CC?      AA=      BB~      BB?",
    "copper":           "BC?      BC~      CC=      CC~      CC?      AA=      BB~      BB?",
    "EPDM":             "AAp      AA=      BB~      AB~      BB~      AA=      AB~      AA?",
    "glass":            "AAp      AA=      AA=      AA=      AA~      AA=      AB~      AAp",
    "HDPE":             "AAp      AA=      BB~      BB~      BB~      AA=      AA=      AAp",
    "nitrile":          "BB?      BB~      CC~      CC=      BB~      BB~      BB~      BB?",
    "nylon":            "CC?      CC=      CC=      CC=      CC?      BB~      BB~      BB?",
    "PET":              "AAp      AB~      AB~      BB?      BB~      AA=      CC=      BB?",
    "polycarbonate":    "BB?      AB~      BB~      BB?      BB?      BB~      CC=      BB?",
    "polyketone":       "AB?      AB~      --       --       --       AA~      --       --",
    "polypropylene":    "AAp      AA=      BB~      BB~      BB~      AA=      AA=      AAp",
    "PVC":              "AAp      AA=      AB~      AB~      BB~      BB~      AA=      AAp",
    "silicone":         "ABp      AB~      BB~      BB~      BB~      AA=      BB~      AA?",
    "stainless steel":  "AAp      AA=      CC=      AB~      BC~      AA=      AA=      AAp",
}  # fmt: skip
_SHOWN = {
    "acetal": "acetal (POM)",
    "polyketone": "aliphatic polyketone (not PEEK)",
    "silicone": "silicone rubber",
    "EPDM": "EPDM rubber",
    "nitrile": "nitrile rubber",
    "acid anionic": "acid anionic sanitizer",
}
_WHY = {
    **{("acetal", acid): "acid cuts its chains" for acid in _ACIDS},
    **{("nylon", acid): "acid cuts its chains" for acid in _ACIDS},
    ("acetal", "chlorine"): "oxidisers crack it",
    ("acetal", "peracetic acid"): "oxidisers crack it",
    ("aluminium", "caustic cleaner"): "it gives off hydrogen, which burns",
    ("aluminium", "percarbonate cleaner"): "alkali dissolves it",
    ("aluminium", "chlorine"): "chloride pits it",
    ("glass", "caustic cleaner"): "alkali etches it",
    ("nitrile", "chlorine"): "oxidisers harden it",
    ("nitrile", "peracetic acid"): "oxidisers harden it",
    ("PET", "caustic cleaner"): "alkali splits polyesters",
    ("polycarbonate", "caustic cleaner"): "alkali splits it",
    ("polycarbonate", "alcohol"): "stressed parts craze",
    ("ABS", "alcohol"): "stressed parts craze",
    ("PVC", "alcohol"): "hose loses its softener",
    ("stainless steel", "chlorine"): "chloride pits it",
    ("stainless steel", "iodophor"): "it can pit",
}
_BASIS = {
    "=": "Resistance charts, as commonly quoted, agree",
    "~": "Resistance charts, as commonly quoted, differ by grade",
    "?": "Inferred from its ingredients, not tested",
    "p": "Common practice, no source",
}
_STATES = ("contact", "soaked", "rinsed", "dried")
_SAID = {
    ("contact", "A"): "No harm known: {c} on {p}, wet for the label's time",
    ("contact", "B"): "No harm known: {c} on {p}, wet for the label's time, not for hours",
    ("contact", "C"): "Caution: {c} attacks {p}; the label's time at most, then rinse",
    ("soaked", "A"): "No harm known: {p} left for hours in {c} at label strength",
    ("soaked", "B"): "Caution: hours in {c} can harm {p}",
    ("soaked", "C"): "Strong caution: {c} attacks {p}; don't soak it",
    ("rinsed", "A"): "No harm known: {c} rinsed off {p} after the label's time",
    ("rinsed", "B"): "No harm known: {c} rinsed off {p} after the label's time",
    ("rinsed", "C"): "Caution: {c} attacks {p}; rinsing ends that but mends nothing",
    ("dried", "A"): "No harm known: {c} dried on {p}",
    ("dried", "B"): "Caution: {c} dried on {p} can harm it; rinse",
    ("dried", "C"): "Strong caution: {c} dried on {p} attacks it; rinse",
}
_MIND = {
    **dict.fromkeys((*_ACIDS, "chlorine", "peracetic acid"), " Never mix acid and chlorine."),
    "alcohol": " It burns: no flame, no spark.",
    "caustic cleaner": " Never mix it with acid.",
    "percarbonate cleaner": " Never mix it with acid or chlorine.",
}


def plastic_caution(plastic: Any, chemistry: Any, state: Any) -> str:
    """The caution as a sentence, made from the material's rating by rule."""
    ratings = dict(zip(_CHEMISTRIES, _RESISTANCE[plastic].split()))
    if ratings[chemistry] == "--":
        raise NotListed(f"{chemistry} on {plastic} is not listed: ask the maker for the data sheet")
    said = _SAID[state, ratings[chemistry][state == "dried"]]
    why = _WHY.get((plastic, chemistry), "iodine stains it" if chemistry == "iodophor" else "")
    if state == "dried" and chemistry in _ACIDS:
        why = "drying makes its acid hundreds of times stronger"
    told = why and "aution" in said
    return filled(
        "{said}{why}. {basis}; the maker's data sheet decides.{mind}",
        said=filled(said, p=_SHOWN.get(plastic, plastic), c=_SHOWN.get(chemistry, chemistry)),
        why=f" ({why})" if told else "",
        basis=_BASIS[ratings[chemistry][2]],
        mind=_MIND[chemistry],
    )


@worksheet(
    source="Chemical resistance charts, as commonly quoted, inference, common practice: as each sentence says",
    equation="none: a table of ratings, made into a sentence by rule",
)
def sani_plastic(
    plastic: Annotated[Word, OneOf(*_RESISTANCE, also={"POM": "acetal"}), "plastic, rubber, metal or glass"],
    chemistry: Annotated[Word, OneOf(*_CHEMISTRIES), "what it meets"],
    state: Annotated[Word, OneOf(*_STATES), "wet for the label's time, soaked for hours, rinsed, or dried on"],
) -> Sentence:
    """The caution for a material and a cleaner or sanitizer, as a sentence that says how sure it is.

    At label strength and room temperature. Heat, stress and grade change the answer: the maker's data sheet decides.
    Caustic never goes into a vessel that holds carbon dioxide: it swallows the gas, and the vessel collapses.

    >>> sani_plastic("polypropylene", "alcohol", "contact")
    "No harm known: alcohol on polypropylene, wet for the label's time. Resistance charts, as commonly quoted, agree;
    the maker's data sheet decides. It burns: no flame, no spark."
    """
    return plastic_caution(plastic, chemistry, state)
