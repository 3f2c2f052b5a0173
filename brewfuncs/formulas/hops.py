"""Bitterness and aroma of hops.

No two published models of utilization agree: moving an addition from 60 to 30 minutes takes 1.30 times the hops by
Tinseth, 1.60 by the kinetics, 1.80 by Rager's smooth form and 1.96 by his table. Show the spread.
"""

from typing import Annotated, Any, Callable

from ..catalogue import Above, AtLeast, Below, Between, Fitted, Named, OneOf, SameAs, worksheet
from ..units import (
    Bitterness,
    BitternessPerPoint,
    Celsius,
    Gram,
    Gravity,
    Litre,
    Minute,
    Number,
    PerMinute,
    Share,
    Word,
)
from .boil import (
    BOIL,
    COOLANT,
    COOLING,
    HELP_COOLING,
    HELP_STAND,
    HELP_STAND_TEMP,
    STAND,
    STAND_ON_THE_WAY,
    STAND_TEMP,
    minutes_to,
)
from .numeric import decayed, exp, expm1, log, log1p, maximum, only_if, repeated, tanh, where
from .wort import ANY_SG

ALPHA = Above(0, 0.65)  # carbon dioxide extracts go to some 60 %
MINUTES = Between(0, 240)
VOLUME = Above(0)
METHODS = OneOf("tinseth", "rager smooth", "rager table", "kinetic")
RECOVERED = 0.5  # of the kinetic yield, in a real kettle: 0.48 at 60 min to 0.60 at 30 if Tinseth is taken as truth

_HELP_GRAVITY = "mean specific gravity from the addition to the end of the boil"
_HELP_COOLANT = "the chiller's water, or the room for a pot left alone"
_HELP_VOLUME = "cold wort at the end of the boil, trub included, and what is topped up later: not the packaged beer"
_TINSETH, _RAGER = "Tinseth 1995-97", "Rager, Zymurgy 13(4) 1990 p. 53"
_KINETIC = "Malowicki & Shellhammer, J. Agric. Food Chem. 53 (2005) 4434"
_METHODS = (
    f"tinseth: {_TINSETH}; rager: {_RAGER}, smooth: a tanh fitted to his table, as commonly quoted; "
    f"kinetic: {_KINETIC}, halved for a kettle"
)

_RATES = "k1 = 7.9e11 e^(-11858 / T), k2 = 4.1e12 e^(-12994 / T) per min, T in K"
_ISOMERISATION = f"Y = k1 / (k2 - k1) (e^(-k1 t) - e^(-k2 t)); {_RATES}"
_UTILIZATION = (
    "tinseth: U = 1.65 * 0.000125^(S - 1) (1 - e^(-0.04 t)) / 4.15; "
    "rager smooth: U = 0.1811 + 0.1386 tanh((t - 31.32) / 18.27); "
    "rager table: U by class; rager, both: U / (1 + (S - 1.050) / 0.2) above 1.050; "
    f"kinetic: U = 0.5 Y; {_ISOMERISATION}"
)
_COURSE = "T = coolant + (boil_temp - coolant) e^(-cooling t), held at stand_temp on its way"


# -- the models ------------------------------------------------------------------------------------------------------


def tinseth(minutes: Any, gravity: Any, boil_temp: Any) -> Any:
    return 1.65 / 4.15 * 0.000125 ** (gravity - 1) * -expm1(-0.04 * minutes)


def _rager_gravity(gravity: Any) -> Any:
    return 1 + maximum(gravity - 1.050, 0.0) / 0.2


def rager_smooth(minutes: Any, gravity: Any, boil_temp: Any) -> Any:
    return (0.1811 + 0.1386 * tanh((minutes - 31.32) / 18.27)) / _rager_gravity(gravity)


# up to so many minutes -> utilization; the last class holds for longer boils
_RAGER_CLASSES = ((5, 0.050), (10, 0.060), (15, 0.080), (20, 0.101), (25, 0.121), (30, 0.153), (35, 0.188), (40, 0.228),
                  (45, 0.269), (50, 0.281))  # fmt: skip


def rager_table(minutes: Any, gravity: Any, boil_temp: Any) -> Any:
    share: Any = 0.300 + 0 * minutes
    for end, value in reversed(_RAGER_CLASSES):
        share = where(minutes <= end, value, share)
    return share / _rager_gravity(gravity)


def isomerised(minutes: Any, temp: Any) -> Any:
    """Share of the dissolved alpha acid that is iso-alpha after `minutes` at `temp` °C."""
    formed, lost = iso_rates(temp)
    # formed / (lost - formed) * (exp(-formed t) - exp(-lost t)), without the cancellation in cool wort
    return formed * exp(-formed * minutes) * decayed(lost - formed, minutes)


def iso_rates(temp: Any) -> Any:
    """Per minute: iso-alpha formed from alpha acid, and lost again."""
    kelvin = temp + 273.15
    return 7.9e11 * exp(-11858 / kelvin), 4.1e12 * exp(-12994 / kelvin)


def kinetic(minutes: Any, gravity: Any, boil_temp: Any) -> Any:
    return RECOVERED * isomerised(minutes, boil_temp)


MODELS: dict[str, Callable[[Any, Any, Any], Any]] = {
    "tinseth": tinseth,
    "rager smooth": rager_smooth,
    "rager table": rager_table,
    "kinetic": kinetic,
}


# -- the worksheet functions -----------------------------------------------------------------------------------------


@worksheet(source=_METHODS, equation=_UTILIZATION)
def hop_utilization(
    minutes: Annotated[Minute, MINUTES, "time in the boil"],
    gravity: Annotated[Gravity, ANY_SG, _HELP_GRAVITY] = 1.05,
    method: Annotated[Word, METHODS, "bittering model"] = "tinseth",
    boil_temp: Annotated[Celsius, BOIL, Fitted(90, 130), "wort at the boil; for kinetic"] = 100.0,
) -> Share:
    """Share of the alpha acid added that ends as bitterness in the wort.

    Models differ by half and more; the ratio of two additions is surer than either. Gravity doesn't enter the
    kinetics, altitude (through boil_temp) enters nothing else.

    >>> hop_utilization(60)
    0.2307
    """
    return MODELS[method](minutes, gravity, boil_temp)


@worksheet(source=_METHODS, equation=f"mg/L = 1000 mass alpha U / V; {_UTILIZATION}", zero_when="mass")
def hop_bitterness(
    mass: Annotated[Gram, AtLeast(0), "hops added"],
    alpha: Annotated[Share, ALPHA, "their alpha acid, share by mass"],
    minutes: Annotated[Minute, MINUTES, "time in the boil"],
    volume: Annotated[Litre, VOLUME, _HELP_VOLUME],
    gravity: Annotated[Gravity, ANY_SG, _HELP_GRAVITY] = 1.05,
    method: Annotated[Word, METHODS, "bittering model"] = "tinseth",
    boil_temp: Annotated[Celsius, BOIL, Fitted(90, 130), "wort at the boil; for kinetic"] = 100.0,
) -> Bitterness:
    """Bitterness that one hop addition gives, in mg/L (IBU).

    A row whose mass is 0 or blank gives 0 whatever else is in it. Compare methods: one model is one opinion.

    >>> hop_bitterness(28, 0.055, 60, 20, 1.05)
    17.76
    """
    return 1000 * mass * alpha / volume * MODELS[method](minutes, gravity, boil_temp)


@worksheet(
    source=_METHODS,
    equation=f"mass = mg/L V / (1000 alpha U); {_UTILIZATION}",
    no_answer="an addition that gives no bitterness at that time",
)
def hop_mass(
    bitterness: Annotated[Bitterness, AtLeast(0), "bitterness wanted from this addition"],
    alpha: Annotated[Share, ALPHA, "the hops' alpha acid, share by mass"],
    minutes: Annotated[Minute, MINUTES, "time in the boil"],
    volume: Annotated[Litre, VOLUME, _HELP_VOLUME],
    gravity: Annotated[Gravity, ANY_SG, _HELP_GRAVITY] = 1.05,
    method: Annotated[Word, METHODS, "bittering model"] = "tinseth",
    boil_temp: Annotated[Celsius, BOIL, Fitted(90, 130), "wort at the boil; for kinetic"] = 100.0,
) -> Gram:
    """Hops that give a bitterness; the exact inverse of HOP_BITTERNESS.

    >>> hop_mass(20, 0.055, 60, 20)
    31.53
    """
    return bitterness * volume / (1000 * alpha * MODELS[method](minutes, gravity, boil_temp))


@worksheet(
    source=_METHODS,
    equation=f"new mass = mass U(old) / U(new); {_UTILIZATION}",
    zero_when="mass",
    no_answer="by Tinseth and the kinetics an addition at 0 min gives no bitterness to match",
)
def hop_swap_mass(
    mass: Annotated[Gram, AtLeast(0), "hops in the old schedule"],
    old_minutes: Annotated[Minute, MINUTES, "time in the old boil"],
    new_minutes: Annotated[Minute, MINUTES, "time in the new boil"],
    method: Annotated[Word, METHODS, "bittering model"] = "tinseth",
    old_gravity: Annotated[Gravity, ANY_SG, _HELP_GRAVITY] = 1.05,
    new_gravity: Annotated[Gravity, ANY_SG, SameAs("old_gravity"), "the same in the new boil"] = None,
    boil_temp: Annotated[Celsius, BOIL, Fitted(90, 130), "wort at the boil; for kinetic"] = 100.0,
) -> Gram:
    """Hops that give the same bitterness at another boiling time.

    From 60 to 30 minutes: 1.30 times by Tinseth at an unchanged gravity, 1.60 kinetic, 1.80 and 1.96 by Rager.

    >>> hop_swap_mass(30, 60, 30)
    39.04
    """
    model = MODELS[method]
    old = model(old_minutes, old_gravity, boil_temp)
    return mass * only_if(old > 0, old) / model(new_minutes, new_gravity, boil_temp)


@worksheet(source=f"{_KINETIC}", equation=_ISOMERISATION)
def hop_iso_yield(
    minutes: Annotated[Minute, Between(0, 600), "time at that temperature"],
    temp: Annotated[Celsius, Between(50, 130), Fitted(90, 130), "temperature"] = 100.0,
) -> Share:
    """Share of dissolved alpha acid present as iso-alpha after a time at one temperature.

    Fitted 90 to 130 °C in buffer of pH 5.2; below 90 °C it is an extrapolation. Kettles recover about half of it.

    >>> hop_iso_yield(60)
    0.4759
    """
    return isomerised(minutes, temp)


@worksheet(
    source=f"{_KINETIC}; Newton's law of cooling",
    equation=f"dA/dt = -k1 A, dI/dt = k1 A - k2 I; {_RATES}; {_COURSE}",
    relations=STAND_ON_THE_WAY,
)
def hop_iso_yield_cooling(
    boil_minutes: Annotated[Minute, Between(0, 600), "time in the boil"],
    cool_minutes: Annotated[Minute, Between(0, 1440), "time of cooling after it"],
    coolant: Annotated[Celsius, COOLANT, _HELP_COOLANT] = 20.0,
    cooling: Annotated[PerMinute, COOLING, HELP_COOLING] = 0.1,
    boil_temp: Annotated[Celsius, BOIL, Fitted(90, 130), "wort at the boil"] = 100.0,
    stand_minutes: Annotated[Minute, STAND, HELP_STAND] = 0.0,
    stand_temp: Annotated[Celsius, STAND_TEMP, Fitted(90, 130), SameAs("boil_temp"), HELP_STAND_TEMP] = None,
) -> Share:
    """Share of dissolved alpha acid present as iso-alpha after a boil and the hot time that follows.

    The wort cools by Newton's law, and is held at stand_temp on its way down. Below 90 °C the rates are an
    extrapolation.

    >>> hop_iso_yield_cooling(30, 20, 20, 0.05)
    0.3
    """
    after_boil = held(1.0, 0.0, boil_minutes, boil_temp)
    return course(*after_boil, boil_temp, cool_minutes, coolant, cooling, stand_minutes, stand_temp)[1]


@worksheet(
    source=f"{_KINETIC}: the rate of isomerisation over a cooling curve, over that at the boil",
    equation=f"minutes = integral of k1(T(t)) dt / k1(boil_temp); {_RATES}; {_COURSE}",
    relations=STAND_ON_THE_WAY,
)
def hop_equivalent_minutes(
    cool_minutes: Annotated[Minute, Between(0, 1440), "time of cooling after the boil, without the stand"],
    coolant: Annotated[Celsius, COOLANT, _HELP_COOLANT] = 20.0,
    cooling: Annotated[PerMinute, COOLING, HELP_COOLING] = 0.1,
    boil_temp: Annotated[Celsius, BOIL, Fitted(90, 130), "wort at the boil"] = 100.0,
    stand_minutes: Annotated[Minute, STAND, HELP_STAND] = 0.0,
    stand_temp: Annotated[Celsius, STAND_TEMP, Fitted(90, 130), SameAs("boil_temp"), HELP_STAND_TEMP] = None,
) -> Minute:
    """Minutes of boiling that isomerise as much alpha acid as the hot time after the boil.

    Added to the minutes of a boiled addition it carries chilling, a stand or a pot left to cool into any bittering
    model. With "kinetic" that is sound; for the others it is an estimate, as they know nothing of temperature.

    >>> hop_equivalent_minutes(600, 20, 0.01)
    16.5
    """
    alpha = course(1.0, 0.0, boil_temp, cool_minutes, coolant, cooling, stand_minutes, stand_temp)[0]
    return -log(alpha) / iso_rates(boil_temp)[0]


_STEPS = 64


def held(alpha: Any, iso: Any, minutes: Any, temp: Any) -> tuple[Any, Any]:
    """Alpha and iso-alpha after `minutes` at one temperature."""
    formed, lost = iso_rates(temp)
    return alpha * exp(-formed * minutes), iso * exp(-lost * minutes) + alpha * isomerised(minutes, temp)


def cooled(alpha: Any, iso: Any, minutes: Any, coolant: Any, cooling: Any, start_temp: Any) -> tuple[Any, Any]:
    """Alpha and iso-alpha after cooling: Runge-Kutta of fourth order over a time that is stretched as the wort cools.

    The rates fall e-fold within 0.15 / cooling, then ever more slowly; steps equal in log(1 + cooling t / 0.3) follow
    them, so that a minute under a chiller and a night in a covered pot take the same number of steps.
    """
    cooling = maximum(cooling, 1e-12)
    stretch = 0.3 / cooling
    step = log1p(minutes / stretch) / _STEPS
    drop = start_temp - coolant

    def change(at: Any, alpha: Any, iso: Any) -> Any:
        speed = exp(at)
        formed, lost = iso_rates(coolant + drop * exp(-0.3 * expm1(at)))
        return -formed * alpha * speed * stretch, (formed * alpha - lost * iso) * speed * stretch

    def advance(n: Any, alpha: Any, iso: Any) -> Any:
        at, half = n * step, step / 2
        a1, i1 = change(at, alpha, iso)
        a2, i2 = change(at + half, alpha + half * a1, iso + half * i1)
        a3, i3 = change(at + half, alpha + half * a2, iso + half * i2)
        a4, i4 = change(at + step, alpha + step * a3, iso + step * i3)
        return alpha + step / 6 * (a1 + 2 * a2 + 2 * a3 + a4), iso + step / 6 * (i1 + 2 * i2 + 2 * i3 + i4)

    return repeated(_STEPS, advance, alpha, iso)  # type: ignore[no-any-return]


def course(
    alpha: Any,
    iso: Any,
    boil_temp: Any,
    cool_minutes: Any,
    coolant: Any,
    cooling: Any,
    stand_minutes: Any,
    stand_temp: Any,
) -> tuple[Any, Any]:
    """Alpha and iso-alpha after the hot time that follows a boil: cooling to the stand, the stand, cooling on."""
    to_stand = minutes_to(stand_temp, boil_temp, cool_minutes, coolant, cooling)
    at_stand = cooled(alpha, iso, to_stand, coolant, cooling, boil_temp)
    after_stand = held(*at_stand, stand_minutes, stand_temp)
    return cooled(*after_stand, cool_minutes - to_stand, coolant, cooling, stand_temp)


@worksheet(
    source=f"{_KINETIC}, extrapolated below 90 °C; recovery is common practice, no source",
    equation=f"mg/L = 1000 mass alpha recovery Y / V; {_ISOMERISATION}; "
    "while cooling dA/dt = -k1 A, dI/dt = k1 A - k2 I",
    relations=[Below("coolant", "temp")],
    zero_when="mass",
)
def hop_stand_bitterness(
    mass: Annotated[Gram, AtLeast(0), "hops added"],
    alpha: Annotated[Share, ALPHA, "their alpha acid, share by mass"],
    minutes: Annotated[Minute, Between(0, 240), "time of the stand"],
    temp: Annotated[Celsius, Between(50, 105), Fitted(90, 130), "temperature it is held at"],
    volume: Annotated[Litre, VOLUME, _HELP_VOLUME],
    recovery: Annotated[Share, Above(0, 1), "share of the kinetic yield that a kettle recovers"] = 0.5,
    cool_minutes: Annotated[Minute, Between(0, 1440), "time of cooling after the stand"] = 0.0,
    coolant: Annotated[Celsius, COOLANT, _HELP_COOLANT] = 20.0,
    cooling: Annotated[PerMinute, COOLING, HELP_COOLING] = 0.1,
) -> Bitterness:
    """Bitterness from hops held below the boil, in mg/L.

    An extrapolation of boiling kinetics: good for its size, not for its second digit. The cooling after the stand
    counts where cool_minutes is given.

    >>> hop_stand_bitterness(40, 0.10, 20, 80, 20)
    4.1
    """
    after_stand = held(1.0, 0.0, minutes, temp)
    return 1000 * mass * alpha * recovery / volume * cooled(*after_stand, cool_minutes, coolant, cooling, temp)[1]


# y/x at infinite dilution near 100 °C, computed from the Henry constants of Hertel & Sommer 2005/06 and Hertel 2007 as
# quoted in Sander 2015
VOLATILITY = {
    "DMS": 73,
    "2-methylbutanal": 55,
    "3-methylbutanal": 54,
    "hexanal": 48,
    "linalool": 35,
    "benzaldehyde": 20,
    "phenylacetaldehyde": 5.2,
    "2-phenylethanol": 2.2,
}


@worksheet(
    source="Rayleigh 1902; volatilities from Henry constants of Hertel & Sommer 2005/06 and Hertel 2007 in Sander, "
    "Atmos. Chem. Phys. 15 (2015) 4399",
    equation="left = (1 - evaporated)^volatility",
)
def hop_aroma_left(
    evaporated: Annotated[Share, Between(0, 1), "share of the wort boiled off after the addition"],
    volatility: Annotated[Number, Between(0, 10000), Named(VOLATILITY), "relative volatility, or a substance by name"],
) -> Share:
    """Share of a volatile that is left after that share of the wort has boiled off.

    An open, well mixed kettle at equilibrium with its steam: real losses of what is slow to leave the hop are smaller.

    >>> hop_aroma_left(0.05, "linalool")
    0.1661
    """
    return (1 - where(volatility > 0, evaporated, 0.0)) ** volatility  # to spreadsheets 0^0 is an error


@worksheet(
    source="Daniels, Designing Great Beers, 1996, as commonly quoted", equation="balance = bitterness / (1000 (S - 1))"
)
def hop_balance(
    bitterness: Annotated[Bitterness, AtLeast(0), "of the beer"],
    gravity: Annotated[Gravity, Above(1.0, 1.2), "original gravity"],
) -> BitternessPerPoint:
    """Bitterness per point of original gravity: about 0.3 tastes malty, 0.5 even, 1 bitter.

    >>> hop_balance(30, 1.050)
    0.6
    """
    return bitterness / (1000 * (gravity - 1))
