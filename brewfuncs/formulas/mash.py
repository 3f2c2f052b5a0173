"""The mash: heat, water, and pasteurisation units on the way to the boil.

Hot water and wort scald, and acids and dust have their own labels: the usual care applies.
"""

from typing import Annotated, Any

from ..catalogue import Above, AtLeast, Below, Between, Fitted, NotAbove, WholeRange, worksheet
from ..units import Celsius, Kelvin, Kilogram, Litre, LitrePerKilogram, Minute, Number, PasteurUnits, Share
from .numeric import decayed, floor, log, only_if, repeated, where
from .water import WATER_20
from .wort import gravity_of_share

MASH = Between(0, 100)
GRAIN = Between(-20, 60)
HEAT_RATIO = Above(0, 1)
SLAKING = Between(0, 10)
_MOST_SPARGES = 12

_PASTEUR = "Del Vecchio, Dayharsh & Baselt, ASBC Proc. 1951:45"
_MIXING = "Energy balance; heat ratio and slaking heat by moisture: Pauls & Whites Brewing Room Book 1984"
_HELP_RATIO = "heat capacity of the grain over that of water; 0.38 bone dry, 0.40 at 3 to 4 % moisture, 0.42 at 8"
_HELP_SLAKING = "warming from wetting dry grain: 3 K bone dry, 1.5 at 4 % moisture, 1 at 8; 0 leaves it out"
_FITTED_RATIO = Fitted(0.38, 0.42)


def lethal_rate(temp: Any) -> Any:
    """Pasteurisation units per minute at `temp` °C."""
    return 1.393 ** (temp - 60)


@worksheet(source=_PASTEUR, equation="PU = t 1.393^(T - 60)")
def mash_pasteur_units(
    minutes: Annotated[Minute, AtLeast(0), "time at that temperature"],
    temp: Annotated[Celsius, Between(0, 110), "temperature"],
) -> PasteurUnits:
    """Pasteurisation units of a rest; a way of keeping count, not a sterility claim.

    Fitted to beer spoilers in beer near 60 °C: in wort at 76 °C and above it is bookkeeping (King 1978 and Tsang &
    Ingledew 1982 found that it doesn't carry over).

    >>> mash_pasteur_units(10, 76)
    2010.1
    """
    return minutes * lethal_rate(temp)


@worksheet(
    source=f"{_PASTEUR}, integrated over a linear ramp",
    equation="PU = t (1.393^(T2 - 60) - 1.393^(T1 - 60)) / ((T2 - T1) ln 1.393)",
)
def mash_pasteur_ramp(
    start_temp: Annotated[Celsius, Between(0, 110), "temperature at the start"],
    end_temp: Annotated[Celsius, Between(0, 110), "temperature at the end"],
    minutes: Annotated[Minute, AtLeast(0), "time between them"],
) -> PasteurUnits:
    """Pasteurisation units over a straight ramp, up or down; a way of keeping count, not a sterility claim.

    >>> mash_pasteur_ramp(65, 100, 25)
    1234474.0
    """
    return minutes * lethal_rate(start_temp) * decayed(log(1.393) * (start_temp - end_temp), 1.0)


@worksheet(
    source=_MIXING,
    equation="T_strike = T + s / r (T - T_grain), T = target - slaking, s = heat_ratio, r = water_ratio",
    no_answer="the water would have to be hotter than boiling, or ice",
)
def mash_strike_temp(
    target: Annotated[Celsius, MASH, "temperature wanted in the mash"],
    grain_temp: Annotated[Celsius, GRAIN, "temperature of the grain"],
    water_ratio: Annotated[LitrePerKilogram, Above(0), "water over grain"],
    heat_ratio: Annotated[Number, HEAT_RATIO, _FITTED_RATIO, _HELP_RATIO] = 0.4,
    slaking: Annotated[Kelvin, SLAKING, _HELP_SLAKING] = 0.0,
) -> Celsius:
    """Temperature of the water that brings the grain to the mash temperature.

    The tun is left out: preheat it, or add what it takes from experience.

    >>> mash_strike_temp(66, 18, 3)
    72.4
    """
    strike = target - slaking + heat_ratio / water_ratio * (target - slaking - grain_temp)
    return only_if((strike >= 0) & (strike <= 100), strike)


@worksheet(source=_MIXING, equation="T = (s T_grain + r T_strike) / (s + r) + slaking, s = heat_ratio, r = water_ratio")
def mash_rest_temp(
    strike_temp: Annotated[Celsius, MASH, "temperature of the water"],
    grain_temp: Annotated[Celsius, GRAIN, "temperature of the grain"],
    water_ratio: Annotated[LitrePerKilogram, Above(0), "water over grain"],
    heat_ratio: Annotated[Number, HEAT_RATIO, _FITTED_RATIO, _HELP_RATIO] = 0.4,
    slaking: Annotated[Kelvin, SLAKING, _HELP_SLAKING] = 0.0,
) -> Celsius:
    """Temperature of the mash that this water and grain give; the exact inverse of MASH_STRIKE_TEMP.

    The tun is left out.

    >>> mash_rest_temp(72.4, 18, 3)
    66.0
    """
    return (heat_ratio * grain_temp + water_ratio * strike_temp) / (heat_ratio + water_ratio) + slaking


@worksheet(
    source="Energy balance; worked example in Palmer, How to Brew, as commonly quoted",
    equation="L = (target - T) (s grain + water) / (T_water - target), s = heat_ratio",
    relations=[NotAbove("mash_temp", "target"), Below("target", "water_temp")],
)
def mash_step_water(
    mash_temp: Annotated[Celsius, MASH, "temperature of the mash now"],
    target: Annotated[Celsius, MASH, "temperature wanted"],
    water_temp: Annotated[Celsius, MASH, "temperature of the water to add"],
    grain: Annotated[Kilogram, AtLeast(0), "grain in the mash"],
    water: Annotated[Litre, AtLeast(0), "water in the mash so far, at 20 °C"],
    heat_ratio: Annotated[Number, HEAT_RATIO, _FITTED_RATIO, _HELP_RATIO] = 0.4,
) -> Litre:
    """Hot water, measured at 20 °C, that lifts the mash to the next rest; the tun is left out.

    >>> mash_step_water(52, 66, 98, 4.5, 13.5)
    6.69
    """
    return (target - mash_temp) * (heat_ratio * grain + water) / (water_temp - target)


@worksheet(
    source="Balance of volumes; absorption 1 L/kg is common practice, no source",
    equation="L = preboil_volume + grain absorption + left_behind",
)
def mash_water(
    preboil_volume: Annotated[Litre, AtLeast(0), "wort wanted before the boil, at 20 °C"],
    grain: Annotated[Kilogram, AtLeast(0), "grain"],
    absorption: Annotated[LitrePerKilogram, AtLeast(0), "water in less wort out, per kg of grain"] = 1.0,
    left_behind: Annotated[Litre, AtLeast(0), "wort left in tun, hoses and pump"] = 0.0,
) -> Litre:
    """Brewing water in all, at 20 °C, for mash and sparge together.

    Absorption is the brewery's own, 0.6 (pressed) to 1.1 (common practice): water in less wort out over one batch's
    grain.

    >>> mash_water(26, 4.5)
    30.5
    """
    return preboil_volume + grain * absorption + left_behind


@worksheet(
    source="Balance of mass and extract over mash and run-offs, each sparge mixed evenly; absorption and conversion: "
    "common practice, no source",
    equation="first run-off: f = (mash_water - grain absorption - left_behind) / V(m, E) of m = rho20 mash_water + E, "
    "E = conversion sum(mass_i yield_i); each sparge of w = sparge_water / sparges: m = m (1 - f) + rho20 w, "
    "E = E (1 - f), f = w / V(m, E); efficiency = sum(f E) / sum(mass_i yield_i); "
    "V(m, E) = m / (rho20 S), S of P = 100 E / m",
    no_answer="a mash with no wort to run off, or one stronger than gravity 1.2",
)
def mash_lauter_efficiency(
    malt_masses: Annotated[Kilogram, WholeRange(), AtLeast(0), "each malt in the mash"],
    malt_yields: Annotated[
        Share, WholeRange(), Between(0, 1), "each malt's extract yield, as share of its mass as it is"
    ],
    mash_water: Annotated[Litre, Above(0), "water in the mash when it is run off, at 20 °C"],
    sparge_water: Annotated[Litre, AtLeast(0), "water to sparge with, at 20 °C"] = 0.0,
    sparges: Annotated[Number, Between(1, _MOST_SPARGES), "how many equal batches that is; rounded up"] = 1.0,
    absorption: Annotated[LitrePerKilogram, AtLeast(0), "water in less wort out, per kg of grain"] = 1.0,
    left_behind: Annotated[Litre, AtLeast(0), "wort left in tun, hoses and pump"] = 0.0,
    conversion: Annotated[Share, Between(0, 1), "share of the yield that the mash dissolves"] = 1.0,
) -> Share:
    """Share of the malt's extract that mash and sparge can bring to the kettle, so what a strong beer loses by itself.

    What stays with the grain is wort, so that more grain in the same water leaves more extract behind. An upper bound:
    channels and short stirring cost more. Many small batches come close to a continuous sparge that mixes; one that
    pushes the wort before it does better. Compare with WORT_EFFICIENCY of your own batches, and let the difference
    (or conversion, 0.9 to 1) carry over to another grain bill.

    >>> mash_lauter_efficiency([4.5, 0.5], [0.78, 0.74], 15, 15)
    0.8596
    """
    available = sum(mass * share for mass, share in zip(malt_masses, malt_yields))
    extract = conversion * available
    free = mash_water - sum(malt_masses) * absorption - left_behind
    first = _run_off(mash_water * WATER_20 + extract, extract, only_if(free > 0, free))
    sparge = sparge_water / -floor(-sparges)

    def add_sparge(n: Any, mass: Any, extract: Any, gained: Any) -> Any:
        mass_left, extract_left, gain = _run_off(mass + sparge * WATER_20, extract, sparge)
        more = n < sparges
        return where(more, mass_left, mass), where(more, extract_left, extract), where(more, gained + gain, gained)

    return repeated(_MOST_SPARGES, add_sparge, *first)[2] / available


def _run_off(mass: Any, extract: Any, litres: Any) -> tuple[Any, Any, Any]:
    """kg of wort and of extract that stay where so many litres at 20 °C run off, and the extract in them."""
    volume = mass / (WATER_20 * gravity_of_share(extract, mass))
    share = litres / volume
    return mass * (1 - share), extract * (1 - share), share * extract
