"""Beer: what fermentation leaves, carbonation, priming, pitching.

Carbonation is pressure: stay under what the weakest part of a bottle, keg or tank is rated for, and keep a relief
valve.
"""

from typing import Annotated, Any

from ..catalogue import Above, AtLeast, Between, Fitted, NotAbove, OneOf, worksheet
from ..units import (
    Bar,
    BillionCells,
    Brix,
    Carbonation,
    Celsius,
    Day,
    Gram,
    Gravity,
    Kelvin,
    KilocaloriePer100Millilitre,
    Litre,
    Metre,
    MilligramPerLitre,
    Number,
    PitchRate,
    Plato,
    Share,
    Word,
    convert,
    gravity_of_plato,
    plato_of_gravity,
)
from .boil import ALTITUDE, air_pressure, saturation_pressure
from .numeric import exp, floor, maximum, minimum, only_if, repeated, where
from .water import AS_RHO, WATER_20
from .wort import ANY_SG, AS_PLATO, PLATO_AND_RHO, SG

_HELP_ALTITUDE = "height above sea level: gauges read from the air's pressure there"
_NO_BEER = "more would have fermented than there was extract"
_FINAL_NOT_ABOVE = [NotAbove("final", "original")]
_HELP_ORIGINAL = "specific gravity of the wort before fermentation"
_HELP_FINAL = "specific gravity now, of the degassed beer"


# -- alcohol and extract ---------------------------------------------------------------------------------------------


def real_extract(original: Any, apparent: Any) -> Any:
    """°P of extract in the beer, from °P of the wort and the beer's apparent °P; no answer below 0.

    The cubic's own -0.003 °P of water is let through.
    """
    real = 0.1808 * original + 0.8192 * apparent
    return only_if(real > -0.01, real)


def alcohol_by_mass(original: Any, real: Any) -> Any:
    """Per cent by mass, from °P of the wort and of the real extract left: Balling."""
    return (original - real) / (2.0665 - 0.010665 * original)


ETHANOL = 0.7907  # relative density 20/20 °C
CO2_PER_VOLUME = convert(1, "vol", "g/L")  # real gas at 0 °C and 1 atm
CO2, WATER = 44.009, 18.015  # g/mol
ALCOHOL_PER_CO2 = 46.069 / CO2  # g/g: fermentation gives as many molecules of one as of the other
VOLUMES = Between(0, 5)


def _extracts(original: Any, final: Any) -> tuple[Any, Any]:
    """°P of the wort and of the real extract, from specific gravities."""
    plato = plato_of_gravity(original)
    return plato, real_extract(plato, plato_of_gravity(final))


def balling(original: Any, final: Any) -> Any:
    return alcohol_by_mass(*_extracts(original, final)) * final / ETHANOL / 100


# the last tenth of a point of each class; the factor is 0.125 in the first and 0.001 more in each that follows
_HMRC_CLASSES = (69, 104, 172, 261, 360, 465, 571, 679, 788, 897, 1007)


def hmrc(original: Any, final: Any) -> Any:
    tenths = floor(10000 * (original - final) + 0.5)
    step = sum((tenths > last) * 1 for last in _HMRC_CLASSES)
    return only_if(tenths <= _HMRC_CLASSES[-1], 1000 * (original - final) * (0.125 + 0.001 * step)) / 100


def simple(original: Any, final: Any) -> Any:
    return 1.3125 * (original - final)


_ALCOHOL = {"balling": balling, "hmrc": hmrc, "simple": simple}


@worksheet(
    source="Balling's equation, as commonly quoted (agrees with Cutaia, Reid & Speers 2009, J. Inst. Brew. 115:318); "
    "HMRC Notice 226 §30.3; simple: 131.25 times the difference, common practice",
    equation="balling: ABV = A S_final / 0.7907 / 100, "
    "A = (P - RE) / (2.0665 - 0.010665 P), RE = 0.1808 P + 0.8192 AE; "
    f"hmrc: f (OG - FG), f = 0.125, and 0.001 more in each class; simple: 1.3125 (OG - FG); "
    f"priming adds vol 1.9768 (46.069 / 44.009) / (1000 * 0.7907 rho20); {PLATO_AND_RHO}",
    relations=_FINAL_NOT_ABOVE,
    no_answer=f"{_NO_BEER}, or the drop is past the HMRC table's 100.7 points",
)
def beer_abv(
    original: Annotated[Gravity, SG, _HELP_ORIGINAL],
    final: Annotated[Gravity, ANY_SG, _HELP_FINAL],
    method: Annotated[Word, OneOf(*_ALCOHOL), "balling, hmrc or simple"] = "balling",
    priming: Annotated[Carbonation, VOLUMES, "carbonation from priming, which makes alcohol too"] = 0.0,
) -> Share:
    """Alcohol by volume.

    Balling's is within 0.001 of brewery means; the simple form is 0.0003 to 0.004 below it from 1.040 to 1.100. HMRC's
    is not cut to a tenth of a per cent here. Not a measurement for duty or labels.

    >>> beer_abv(1.050, 1.010)
    0.05316
    """
    return _ALCOHOL[method](original, final) + priming * CO2_PER_VOLUME * ALCOHOL_PER_CO2 / (1000 * ETHANOL * WATER_20)


@worksheet(
    source="Definition of apparent attenuation, in °P",
    equation=f"P(final) = P(original) (1 - attenuation); {AS_PLATO}",
    no_answer="that attenuation is past where the gravity scales end",
)
def beer_final(
    original: Annotated[Gravity, SG, _HELP_ORIGINAL],
    attenuation: Annotated[Share, Between(0, 1.2), "apparent attenuation; a dry beer's may pass 1"],
) -> Gravity:
    """Final gravity at an apparent attenuation; the exact inverse of BEER_ATTENUATION.

    >>> beer_final(1.050, 0.78)
    1.0107
    """
    final = gravity_of_plato(plato_of_gravity(original) * (1 - attenuation))
    return only_if(final >= ANY_SG.low - 1e-12, minimum(final, original))  # rounding must not lift it past the wort


@worksheet(
    source="Balling: 0.1808 of the original and 0.8192 of the apparent extract, as commonly quoted",
    equation=f"RE = 0.1808 P(original) + 0.8192 P(final); {AS_PLATO}",
    relations=_FINAL_NOT_ABOVE,
    no_answer=_NO_BEER,
)
def beer_real_extract(
    original: Annotated[Gravity, SG, _HELP_ORIGINAL],
    final: Annotated[Gravity, ANY_SG, _HELP_FINAL],
) -> Plato:
    """Real extract, the extract still in the beer.

    Within 0.12 °P of densities of sugar and alcohol solutions; 0.10 to 0.19 °P under brewery means (Cutaia, Reid &
    Speers 2009, J. Inst. Brew. 115:318).

    >>> beer_real_extract(1.050, 1.010)
    4.34
    """
    return _extracts(original, final)[1]


def _apparent(original: Any, final: Any) -> Any:
    plato = plato_of_gravity(original)
    return (plato - plato_of_gravity(final)) / only_if(plato > 0, plato)


def _real(original: Any, final: Any) -> Any:
    plato, real = _extracts(original, final)
    return (plato - real) / only_if(plato > 0, plato) / (1 - 0.005161 * real)


_ATTENUATION = {"apparent": _apparent, "real": _real}


@worksheet(
    source="Apparent: definition, in °P; real: ASBC degree of fermentation, with 0.005161, as commonly quoted",
    equation=f"apparent: (P - AE) / P; real: (P - RE) / P / (1 - 0.005161 RE), RE = 0.1808 P + 0.8192 AE; {AS_PLATO}",
    relations=_FINAL_NOT_ABOVE,
    no_answer=f"{_NO_BEER}, or there was none",
)
def beer_attenuation(
    original: Annotated[Gravity, SG, _HELP_ORIGINAL],
    final: Annotated[Gravity, ANY_SG, _HELP_FINAL],
    kind: Annotated[Word, OneOf(*_ATTENUATION), "apparent or real"] = "apparent",
) -> Share:
    """Share of the extract that has fermented; apparent passes 1 in a beer lighter than water.

    >>> beer_attenuation(1.048, 1.010)
    0.785
    """
    return _ATTENUATION[kind](original, final)


@worksheet(
    source="ASBC Beer-33: 6.9 per g of alcohol, 4 per g of real extract less ash, as commonly quoted",
    equation="kcal/100 g = 6.9 A + 4 (RE - 0.1), times S_final rho20; "
    f"A = (P - RE) / (2.0665 - 0.010665 P), RE = 0.1808 P + 0.8192 AE; {PLATO_AND_RHO}",
    relations=_FINAL_NOT_ABOVE,
    no_answer=_NO_BEER,
)
def beer_energy(
    original: Annotated[Gravity, SG, _HELP_ORIGINAL],
    final: Annotated[Gravity, ANY_SG, _HELP_FINAL],
) -> KilocaloriePer100Millilitre:
    """Food energy of the beer, per 100 mL; an estimate, not a label.

    >>> beer_energy(1.048, 1.010)
    44.2
    """
    plato, real = _extracts(original, final)
    per_100_g = 6.9 * alcohol_by_mass(plato, real) + 4 * maximum(real - 0.1, 0.0)
    return maximum(per_100_g, 0.0) * final * WATER_20


# -- refractometer ---------------------------------------------------------------------------------------------------


# One fit an author, the one that refractive indices of sugar and alcohol speak for (tests/test_beer.py): of Novotny's
# two the linear one is nearer from 20 to 85 % attenuation, of Terrill's two the linear one from 75 to 85 %.


def novotny(i: Any, f: Any) -> Any:
    return 1 - 0.002349 * i + 0.006276 * f


def terrill(i: Any, f: Any) -> Any:
    """For finished beer: from 61 % apparent attenuation on."""
    final = 1 - 8.5683e-4 * i + 3.4941e-3 * f
    return only_if(i - plato_of_gravity(final) >= 0.61 * i, final)


_REFRACTOMETER = {"novotny": novotny, "terrill": terrill}
_FITS = OneOf(
    *_REFRACTOMETER,
    was={f"{author} {shape}": author for author, shape in (
        ("novotny", "quadratic"), ("novotny", "linear"), ("terrill", "cubic"), ("terrill", "linear"),
    )},
)  # fmt: skip


@worksheet(
    source="Novotny, Refractometer calculations, Zymurgy 2017, as commonly quoted, original not consulted; "
    "Terrill, Refractometer FG Results, 2011",
    equation="i, f = Brix / factor, before and now; "
    "novotny: 1 - 0.002349 i + 0.006276 f; "
    "terrill: 1 - 8.5683e-4 i + 3.4941e-3 f",
    revision=2,
    relations=[NotAbove("current_brix", "original_brix")],
    no_answer="Terrill's fits are for finished beer (61 % attenuation and more), and no beer is lighter than 0.98",
)
def beer_refractometer(
    original_brix: Annotated[Brix, Above(0, 45), "refractometer reading of the wort"],
    current_brix: Annotated[Brix, Between(0, 45), "reading of the beer now"],
    factor: Annotated[Number, Between(0.9, 1.2), "the instrument's wort correction factor"] = 1.04,
    method: Annotated[Word, _FITS, "the fit, by its author"] = "novotny",
) -> Gravity:
    """Specific gravity of fermenting or finished beer from two refractometer readings.

    Refractive indices of sugar and alcohol put Novotny's fit 0.0012 low from 20 to 85 % attenuation, and Terrill's
    within 0.001 from 75 to 80 %; before 61 % that one is refused. Either may miss by 2 points: a hydrometer is surer.

    >>> beer_refractometer(12.5, 6.4)
    1.0104
    """
    final = _REFRACTOMETER[method](original_brix / factor, current_brix / factor)
    return only_if((final >= ANY_SG.low) & (final <= ANY_SG.high), final)


# -- carbonation -----------------------------------------------------------------------------------------------------

KEPT = Between(-2, 60)  # from nearly freezing to the boot of a car in the sun
_FITTED_KEPT = Fitted(1, 60)  # Henry's constant begins there
_AGAINST_WATER = 0.99  # beer's solubility: the trade's table from 0 to 10 °C and 2 to 3 volumes asks for 0.985 to 1.004

_CARBONATION = (
    "Henry's constant of CO2 in water: IAPWS G7-04; beer takes 0.99 of it, by the usual force-carbonation table, 0 to "
    "10 °C; air pressure: ISO 2533"
)
_CARBONATION_EQUATION = (
    "0.99 kH x = p e^(b p), x = n / (n + 1000 rho20 / 18.015), n = 1.9768 vol / 44.009; "
    "p = gauge + ambient - p_water; "
    "ln(kH / p_water) = -8.55445 / Tr + 4.01195 (1 - Tr)^0.355 / Tr + 9.52345 Tr^-0.41 e^(1 - Tr), Tr = T / 647.096; "
    f"b = (-4.64 + 14606 / T - 1.49149e7 / T^2 - 33) / (83.1446 T) per bar; {AS_RHO}"
)


def henry(temp: Any) -> Any:
    """bar of CO2 over water at `temp` °C, for each unit of its mole fraction in it: IAPWS G7-04."""
    reduced = (temp + 273.15) / 647.096
    over = 1 - reduced
    exponent = (-8.55445 + 4.01195 * over**0.355) / reduced + 9.52345 * reduced**-0.41 * exp(over)
    return saturation_pressure(temp) / 100 * exp(exponent)


def _correction(temp: Any) -> Any:
    """Per bar: how CO2 falls short of an ideal gas, and is pressed into the water.

    The second virial coefficient is fitted to Span & Wagner's equation from -2 to 60 °C; CO2 takes 33 cm3/mol in water.
    """
    kelvin = temp + 273.15
    virial = -4.64 + 14606 / kelvin - 1.49149e7 / kelvin**2  # cm3/mol
    return (virial - 33) / (83.1446 * kelvin)


def _ambient(temp: Any, altitude: Any) -> Any:
    """bar of dry gas over a beer whose gauge shows 0."""
    return (air_pressure(altitude) - saturation_pressure(temp)) / 100


_WATER_PER_LITRE = 1000 * WATER_20 / WATER  # mol


def pressure_over(temp: Any, volumes: Any) -> Any:
    """bar of CO2 over beer in equilibrium with it."""
    moles = volumes * CO2_PER_VOLUME / CO2
    ideal = henry(temp) / _AGAINST_WATER * moles / (moles + _WATER_PER_LITRE)
    correction = _correction(temp)

    def closer(_: Any, pressure: Any) -> Any:
        growth = exp(correction * pressure)
        return (pressure - (pressure * growth - ideal) / ((1 + correction * pressure) * growth),)

    return repeated(6, closer, ideal)[0]


def volumes_under(temp: Any, pressure: Any) -> Any:
    """Volumes in beer in equilibrium with CO2 of that pressure, bar; the exact inverse."""
    share = _AGAINST_WATER * pressure * exp(_correction(temp) * pressure) / henry(temp)
    return share / (1 - share) * _WATER_PER_LITRE * CO2 / CO2_PER_VOLUME


@worksheet(source=_CARBONATION, equation=_CARBONATION_EQUATION, revision=2)
def beer_co2_pressure(
    temp: Annotated[Celsius, KEPT, _FITTED_KEPT, "temperature of the beer"],
    volumes: Annotated[Carbonation, VOLUMES, "carbonation"],
    altitude: Annotated[Metre, ALTITUDE, _HELP_ALTITUDE] = 0.0,
) -> Bar:
    """Gauge pressure that holds a carbonation at a temperature; negative below the air's own pressure.

    Within 0.05 bar of the usual table from 0 to 10 °C; above that beer is less known, and other fits ask for up to 7 %
    more of the whole pressure at 40 °C. A closed bottle comes to it when it warms up: look at the warmest place it will
    be kept. Stay under the rated pressure of bottle, keg and regulator.

    >>> beer_co2_pressure(10, 2.5)
    1.230
    """
    return pressure_over(temp, volumes) - _ambient(temp, altitude)


@worksheet(
    source=f"Inverse of BEER_CO2_PRESSURE. {_CARBONATION}",
    equation=f"the vol that solves {_CARBONATION_EQUATION}",
    revision=2,
    no_answer="the carbonation would be outside 0 to 5 volumes",
)
def beer_co2(
    temp: Annotated[Celsius, KEPT, _FITTED_KEPT, "temperature of the beer"],
    pressure: Annotated[Bar, Between(-1.1, 20), "gauge pressure of carbon dioxide over it"],
    altitude: Annotated[Metre, ALTITUDE, _HELP_ALTITUDE] = 0.0,
) -> Carbonation:
    """Carbonation that a pressure holds at a temperature, at rest; the exact inverse of BEER_CO2_PRESSURE.

    >>> beer_co2(10, 1.230)
    2.50
    """
    volumes = volumes_under(temp, pressure + _ambient(temp, altitude))
    return only_if((volumes > VOLUMES.low - 1e-9) & (volumes < VOLUMES.high + 1e-9), volumes)


@worksheet(source=f"Under an airlock the gauge is 0. {_CARBONATION}", equation=_CARBONATION_EQUATION, revision=2)
def beer_residual_co2(
    temp: Annotated[Celsius, KEPT, _FITTED_KEPT, "warmest temperature since fermentation ended"],
    altitude: Annotated[Metre, ALTITUDE, _HELP_ALTITUDE] = 0.0,
) -> Carbonation:
    """Carbonation that a beer keeps after fermenting under an airlock at this temperature.

    Not for beer that fermented under pressure. A young beer may hold more: gas leaves it slowly.

    >>> beer_residual_co2(20)
    0.83
    """
    return volumes_under(temp, _ambient(temp, altitude))


def _gravity_extract(original: Any, gravity: Any) -> Any:
    """g of real extract in a litre of beer of this gravity."""
    return _extracts(original, gravity)[1] / 100 * gravity * WATER_20 * 1000


@worksheet(
    source="Balling: 0.9565 g of CO2 from 2.0665 g of extract, real extract 0.1808/0.8192, as commonly quoted",
    equation="vol = (RE g/L now - RE g/L at the end) 0.9565 / 2.0665 / 1.9768, RE = 0.1808 P(original) + 0.8192 P(S); "
    f"{AS_PLATO}",
    relations=[NotAbove("final", "current"), NotAbove("current", "original")],
    no_answer=_NO_BEER,
)
def beer_co2_to_come(
    original: Annotated[Gravity, SG, _HELP_ORIGINAL],
    current: Annotated[Gravity, ANY_SG, "specific gravity now"],
    final: Annotated[Gravity, ANY_SG, "specific gravity at which fermentation will end"],
) -> Carbonation:
    """Carbonation that unfinished fermentation would still add in a closed vessel.

    Bottles burst from this: 4 points too early are 2 volumes on top of what is there and of the priming. Be sure of the
    final gravity before closing anything.

    >>> beer_co2_to_come(1.050, 1.014, 1.010)
    2.01
    """
    fermented = _gravity_extract(original, current) - _gravity_extract(original, final)
    return fermented * 0.9565 / 2.0665 / CO2_PER_VOLUME


# g of CO2 from a g of sugar, by molar masses: each hexose unit gives two CO2 of 44.009
_SUGARS = {
    "sucrose": 4 * CO2 / 342.297,
    "glucose": 2 * CO2 / 180.156,
    "glucose monohydrate": 2 * CO2 / 198.171,
    "maltose monohydrate": 4 * CO2 / 360.312,
}
# as they are sold: dextrose and corn sugar with a molecule of water
_SUGARS |= {
    "table sugar": _SUGARS["sucrose"],
    **dict.fromkeys(("dextrose", "corn sugar"), _SUGARS["glucose monohydrate"]),
}


@worksheet(
    source="Stoichiometry, by molar masses; 1 volume is 1.9768 g/L, CO2 as a real gas at 0 °C",
    equation="g = V (target - residual) 1.9768 / y, y = 4 * 44.009 / 342.297 for sucrose",
    relations=[NotAbove("residual", "target")],
)
def beer_priming(
    volume: Annotated[Litre, AtLeast(0), "beer to be primed"],
    target: Annotated[Carbonation, Between(0, 5), "carbonation wanted"],
    residual: Annotated[Carbonation, Between(0, 5), "carbonation that is there: BEER_RESIDUAL_CO2"],
    sugar: Annotated[Word, OneOf(*_SUGARS), "what it is primed with"] = "sucrose",
) -> Gram:
    """Sugar that brings a fully fermented beer to a carbonation in closed bottles or casks.

    Growing yeast takes a few per cent. Table sugar is sucrose; dextrose and corn sugar are sold as the monohydrate, so
    that is what their names mean here: write glucose where the label says anhydrous. Bottles burst where fermentation
    wasn't over (BEER_CO2_TO_COME) or the target is past what they are made for.

    >>> beer_priming(20, 2.5, 0.86)
    126.1
    """
    return volume * (target - residual) * CO2_PER_VOLUME / _SUGARS[sugar]


# -- fermentation ----------------------------------------------------------------------------------------------------


@worksheet(
    source="Common practice: 0.75 million cells per mL and °P for ales, 1.5 for lagers; no source",
    equation=f"billion cells = rate V P(S); {AS_PLATO}",
)
def beer_pitch(
    volume: Annotated[Litre, AtLeast(0), "wort"],
    gravity: Annotated[Gravity, SG, "its specific gravity"],
    rate: Annotated[PitchRate, Above(0, 10), "0.75 for ales, 1.5 for lagers"] = 0.75,
) -> BillionCells:
    """Living yeast cells to pitch.

    >>> beer_pitch(20, 1.050)
    185.8
    """
    return rate * volume * maximum(plato_of_gravity(gravity), 0.0)


def dissolved_oxygen(temp: Any) -> Any:
    """mg/L in fresh water under air saturated with vapour, at 101.325 kPa."""
    inverse = 1 / (temp + 273.15)
    terms = 1.575701e5 + inverse * (-6.642308e7 + inverse * (1.2438e10 - inverse * 8.621949e11))
    return exp(-139.34411 + inverse * terms)


@worksheet(
    source="Benson & Krause 1984, Limnol. Oceanogr. 29:620 (as commonly quoted; original not consulted); air: ISO 2533",
    equation="C = e^(-139.34411 + 1.575701e5 / T - 6.642308e7 / T^2 + 1.2438e10 / T^3 - 8.621949e11 / T^4) "
    "(p - p_water) / (101.325 - p_water), T in K",
)
def beer_oxygen(
    temp: Annotated[Celsius, Between(0, 40), "temperature of the wort"],
    altitude: Annotated[Metre, ALTITUDE, "height above sea level"] = 0.0,
) -> MilligramPerLitre:
    """Oxygen that air, shaken or bubbled in, can dissolve in water: at most that much in wort, which takes less.

    Yeast is usually given 8 to 10 mg/L (common practice, no source); where air can't bring that, pure oxygen can.
    Oxygen feeds fire: no flame, no oil or grease on its fittings.

    >>> beer_oxygen(20)
    9.09
    """
    vapour = saturation_pressure(temp)
    return dissolved_oxygen(temp) * (air_pressure(altitude) - vapour) / (101.325 - vapour)


@worksheet(
    source="Common practice, no source: a hold, then a straight ramp",
    equation="T = start + min(per_day max(day - ramp_day, 0), end - start), either way",
)
def beer_ramp_temp(
    day: Annotated[Day, AtLeast(0), "day asked for, counted from pitching"],
    start_temp: Annotated[Celsius, Between(-2, 45), "temperature until the ramp"],
    ramp_day: Annotated[Day, AtLeast(0), "day on which the ramp begins"],
    end_temp: Annotated[Celsius, Between(-2, 45), "temperature it ends at and then holds"],
    per_day: Annotated[Kelvin, Above(0, 50), "change a day, whether it warms or cools"] = 1.0,
) -> Celsius:
    """Temperature to set on a day of a fermentation that is warmed towards its end, or cooled after it.

    >>> beer_ramp_temp(7, 18, 5, 21)
    20.0
    """
    moved = per_day * maximum(day - ramp_day, 0.0)
    rise = end_temp - start_temp
    return start_temp + where(rise > 0, minimum(moved, rise), maximum(-moved, rise))
