"""Dimethyl sulphide: formed from the malt's precursor while the wort is hot, driven off while it boils.

Three published pieces, each one function here: first-order decay of the precursor, its dependence on temperature, and
first-order loss with the steam. How fast DMS leaves a kettle is where sources part: see the volatility.
"""

from typing import Annotated, Any

from ..catalogue import Above, AtLeast, Between, Fitted, NotAbove, SameAs, WholeRange, worksheet
from ..units import (
    Celsius,
    Kilogram,
    Litre,
    MicrogramPerLitre,
    MilligramPerKilogram,
    Minute,
    Number,
    PerMinute,
    ShareAnHour,
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
from .numeric import bisect, decayed, exp, expm1, log, log1p, maximum, minimum, only_if, repeated, where

LN2 = 0.6931471805599453
DOUBLING = 6.0  # K lower for a half-life twice as long

PRECURSOR = AtLeast(0)
MINUTES = AtLeast(0)
EVAPORATION = Between(0, 0.4)
RELATIVE_VOLATILITY = Above(0)
HALF_LIFE = Above(0)
_FITTED_VOLATILITY = Fitted(18, 75)  # what the sources span

_HELP_PRECURSOR = "precursor in the wort, as DMS"
_HELP_EVAPORATION = "L/h boiled off over the mean kettle volume; 0 for a covered kettle"
_HELP_VOLATILITY = "effective relative volatility of DMS; papers span 18 to 75"
_HELP_HALF_LIFE = "the precursor's half-life at 100 °C; 38 at pH 5.2, 32.5 at pH 5.5"
_HELP_COOLANT = "the chiller's water, or the room for a covered pot left alone"
_HELP_STAND_EVAPORATION = "L/h that steam off during the stand over the volume; 0 where it is covered"

_HALF_LIFE_SOURCE = (
    "half-life: Dickenson 1979, J. Inst. Brew. 85:235; doubling per 6 °C: after Fix 1999; as commonly quoted"
)
_LOSS_SOURCE = "loss with the steam: Wilson & Booer 1979, J. Inst. Brew. 85:144"

_DECAY = "k = ln 2 / (half_life_100 2^((100 - T) / 6))"
_BOIL_EQUATION = (
    "D = k S0 / (v - k) (e^(-k t) - e^(-v t)) + D0 e^(-v t); v = volatility evaporation / 60; "
    f"S = S0 e^(-k t); {_DECAY}"
)
_COOLING_EQUATION = (
    "D = S0 (1 - exp(-integral of k(T(t)) dt)); "
    f"T = coolant + (T0 - coolant) e^(-cooling t), held at stand_temp on its way; {_DECAY}"
)


# -- the published pieces --------------------------------------------------------------------------------------------


def half_life(temp: Any, half_life_100: Any) -> Any:
    """min, of the precursor at `temp` °C."""
    return half_life_100 * 2 ** ((100 - temp) / DOUBLING)


def decay(temp: Any, half_life_100: Any) -> Any:
    """Share of the precursor that turns to DMS per minute at `temp` °C."""
    return LN2 / half_life(temp, half_life_100)


def loss(evaporation: Any, volatility: Any) -> Any:
    """Share of the free DMS that leaves with the steam per minute."""
    return volatility * evaporation / 60


def free_after_boil(precursor: Any, minutes: Any, formed: Any, lost: Any) -> Any:
    """Free DMS after `minutes` of first-order formation and first-order loss, from none.

    k S (exp(-k t) - exp(-v t)) / (v - k), written so that nothing cancels where the two rates are close or equal.
    """
    return formed * precursor * exp(-minimum(formed, lost) * minutes) * decayed(abs(lost - formed), minutes)


_TERMS = 64  # at most (105 °C, coolant -10 °C) the terms peak at the 13th and are below rounding by the 60th


def exposed(minutes: Any, coolant: Any, cooling: Any, start_temp: Any, half_life_100: Any) -> Any:
    """The rate of decay integrated over `minutes` of Newton's cooling: exp(-exposed) of the precursor is left.

    The rate is exponential in a temperature that falls exponentially, so its integral is a difference of exponential
    integrals, Ei(x) - Ei(x q) with q = exp(-cooling minutes). Their power series converges for every x there is; in
    the differences 1 - q^n the factor 1 - q is taken out, so that slow or no cooling costs no digits.
    """
    x = LN2 / DOUBLING * (start_temp - coolant)
    left = exp(-cooling * minutes)

    def add_term(n: Any, power: Any, powers: Any, total: Any) -> Any:
        power = power * x / (n + 1)
        powers = 1 + left * powers  # 1 + q + ... + q^n
        return power, powers, total + power * powers / (n + 1)

    total = repeated(_TERMS - 1, add_term, 1.0, 0.0, 0.0)[2]
    return decay(coolant, half_life_100) * (minutes + decayed(cooling, minutes) * total)


# -- the worksheet functions -----------------------------------------------------------------------------------------


@worksheet(
    source="Conservation of mass; after a worked example in Fix 1999, as commonly quoted",
    equation="ug/L = 1000 sum(content_i mass_i) / V",
)
def dms_load(
    malt_precursors: Annotated[MilligramPerKilogram, WholeRange(), AtLeast(0), "each malt's precursor, mg/kg as DMS"],
    malt_masses: Annotated[Kilogram, WholeRange(), AtLeast(0), "each malt as weighed in"],
    volume: Annotated[Litre, Above(0), "wort at 20 °C at the end of the boil"],
) -> MicrogramPerLitre:
    """Precursor that a grain bill brings into the wort, as DMS, if all of it gets there: an upper bound.

    A malt analysis given as SMM is multiplied by 0.38. Pilsner malt holds 5 to 15 mg/kg in older texts, 5 or less
    today; pale ale malt under 2; crystal and roasted malt, kilned hotter still, next to none (as commonly quoted).

    >>> dms_load([5, 2], [4.0, 0.5], 21)
    1000.0
    """
    return 1000 * sum(content * mass for content, mass in zip(malt_precursors, malt_masses)) / volume


@worksheet(source=_HALF_LIFE_SOURCE, equation="t_half = half_life_100 2^((100 - T) / 6)")
def dms_half_life(
    temp: Annotated[Celsius, Between(0, 120), Fitted(76, 100), "temperature of the wort"] = 100.0,
    half_life_100: Annotated[Minute, HALF_LIFE, _HELP_HALF_LIFE] = 38.0,
) -> Minute:
    """Half-life of the DMS precursor in wort at this temperature.

    Sources give 32.5 (pH 5.5), 35, 38 (pH 5.2) and 40 min at the boil. Doubling for every 6 °C lower is an activation
    energy of 132 kJ/mol; 120 to 150 is plausible, and below 76 °C it is an extrapolation.

    >>> dms_half_life(94)
    76.0
    """
    return half_life(temp, half_life_100)


@worksheet(source=f"First-order decay; {_HALF_LIFE_SOURCE}", equation=f"S = S0 e^(-k t); {_DECAY}")
def dms_precursor_left(
    precursor: Annotated[MicrogramPerLitre, PRECURSOR, _HELP_PRECURSOR],
    minutes: Annotated[Minute, MINUTES, "time at that temperature"],
    temp: Annotated[Celsius, Between(0, 120), Fitted(76, 100), "temperature of the wort"] = 100.0,
    half_life_100: Annotated[Minute, HALF_LIFE, _HELP_HALF_LIFE] = 38.0,
) -> MicrogramPerLitre:
    """Precursor left after a time at one temperature.

    After 90 min at the boil a fifth is left: 19 % at a half-life of 38 min, 21 % at 40.

    >>> dms_precursor_left(1000, 90)
    193.7
    """
    return precursor * exp(-decay(temp, half_life_100) * minutes)


@worksheet(source=f"First-order formation and loss; {_HALF_LIFE_SOURCE}; {_LOSS_SOURCE}", equation=_BOIL_EQUATION)
def dms_after_boil(
    precursor: Annotated[MicrogramPerLitre, PRECURSOR, "precursor at the start of the boil, as DMS"],
    minutes: Annotated[Minute, MINUTES, "length of the boil"],
    evaporation: Annotated[ShareAnHour, EVAPORATION, _HELP_EVAPORATION],
    volatility: Annotated[Number, RELATIVE_VOLATILITY, _FITTED_VOLATILITY, _HELP_VOLATILITY] = 65.0,
    half_life_100: Annotated[Minute, HALF_LIFE, _HELP_HALF_LIFE] = 38.0,
    start_dms: Annotated[MicrogramPerLitre, AtLeast(0), "free DMS at the start of the boil"] = 0.0,
    boil_temp: Annotated[Celsius, BOIL, "wort at the boil"] = 100.0,
) -> MicrogramPerLitre:
    """Free DMS at the end of the boil.

    How fast it leaves is uncertain by a factor of four: 0.18/min at 17 %/h (Wilson & Booer, a volatility of 63) against
    0.014 to 0.044/min in a lab kettle (Desobgo 2015, J. ASBC 73:84). Show the range. A covered kettle keeps
    it all.

    >>> dms_after_boil(1000, 60, 0.10)
    67.47
    """
    formed, lost = decay(boil_temp, half_life_100), loss(evaporation, volatility)
    return free_after_boil(precursor, minutes, formed, lost) + start_dms * exp(-lost * minutes)


@worksheet(
    source=f"First-order decay on Newton's cooling curve; {_HALF_LIFE_SOURCE}",
    equation=_COOLING_EQUATION,
    relations=[NotAbove("coolant", "start_temp"), NotAbove("stand_temp", "start_temp")],
)
def dms_after_cooling(
    precursor: Annotated[MicrogramPerLitre, PRECURSOR, "precursor at the start of cooling, as DMS"],
    minutes: Annotated[Minute, MINUTES, "time of cooling"],
    coolant: Annotated[Celsius, COOLANT, _HELP_COOLANT] = 20.0,
    cooling: Annotated[PerMinute, COOLING, HELP_COOLING] = 0.1,
    start_temp: Annotated[Celsius, Between(0, 105), Fitted(76, 100), "wort at the start of cooling"] = 100.0,
    half_life_100: Annotated[Minute, HALF_LIFE, _HELP_HALF_LIFE] = 38.0,
    stand_minutes: Annotated[Minute, STAND, HELP_STAND] = 0.0,
    stand_temp: Annotated[Celsius, Between(0, 105), SameAs("start_temp"), HELP_STAND_TEMP] = None,
) -> MicrogramPerLitre:
    """DMS formed while the wort is covered and cooling, all of which stays in it.

    Add the free DMS that the boil left. A cooling constant of 0 is wort that stays hot. Covered, it doesn't matter when
    in the cooling the wort is held.

    >>> dms_after_cooling(400, 60, 15, 0.01)
    74.3
    """
    exposure = exposed(minutes, coolant, cooling, start_temp, half_life_100)
    return precursor * -expm1(-exposure - decay(stand_temp, half_life_100) * stand_minutes)


def hot_time(
    cool_minutes: Any,
    cooling: Any,
    coolant: Any,
    half_life_100: Any,
    boil_temp: Any,
    stand_minutes: Any,
    stand_temp: Any,
    stand_lost: Any,
) -> tuple[Any, Any]:
    """What the hot time after the boil makes of a unit of free DMS, and of a unit of precursor: free DMS at pitching.

    Cooling to the stand and on from it is covered; in the stand DMS leaves at `stand_lost` per minute.
    """
    to_stand = minutes_to(stand_temp, boil_temp, cool_minutes, coolant, cooling)
    before = exposed(to_stand, coolant, cooling, boil_temp, half_life_100)
    after = exposed(cool_minutes - to_stand, coolant, cooling, stand_temp, half_life_100)
    formed = decay(stand_temp, half_life_100)
    kept = exp(-stand_lost * stand_minutes)
    in_stand = free_after_boil(exp(-before), stand_minutes, formed, stand_lost)
    return kept, -expm1(-before) * kept + in_stand + exp(-before - formed * stand_minutes) * -expm1(-after)


def at_pitch(precursor: Any, minutes: Any, formed: Any, lost: Any, kept: Any, formed_later: Any) -> Any:
    """Free DMS at pitching: of the boil's, a share is `kept`, and of the precursor left a share is `formed_later`."""
    return free_after_boil(precursor, minutes, formed, lost) * kept + precursor * exp(-formed * minutes) * formed_later


_AT_PITCH_SOURCE = (
    "First-order formation and loss: Wilson & Booer 1979; half-life: Dickenson 1979, Fix 1999, as commonly quoted"
    "; Newton's law of cooling"
)


@worksheet(
    source=_AT_PITCH_SOURCE,
    relations=STAND_ON_THE_WAY,
    equation=f"the boil: {_BOIL_EQUATION}; cooling, S0 what the boil left, adds {_COOLING_EQUATION}; "
    "an open stand is a boil at its own temperature and evaporation",
)
def dms_at_pitch(
    precursor: Annotated[MicrogramPerLitre, PRECURSOR, "precursor at the start of the boil, as DMS"],
    boil_minutes: Annotated[Minute, MINUTES, "length of the boil"],
    evaporation: Annotated[ShareAnHour, EVAPORATION, _HELP_EVAPORATION],
    cool_minutes: Annotated[Minute, MINUTES, "time of cooling, covered"],
    cooling: Annotated[PerMinute, COOLING, HELP_COOLING] = 0.1,
    coolant: Annotated[Celsius, COOLANT, _HELP_COOLANT] = 20.0,
    volatility: Annotated[Number, RELATIVE_VOLATILITY, _FITTED_VOLATILITY, _HELP_VOLATILITY] = 65.0,
    half_life_100: Annotated[Minute, HALF_LIFE, _HELP_HALF_LIFE] = 38.0,
    boil_temp: Annotated[Celsius, BOIL, "wort at the boil"] = 100.0,
    stand_minutes: Annotated[Minute, STAND, HELP_STAND] = 0.0,
    stand_temp: Annotated[Celsius, STAND_TEMP, SameAs("boil_temp"), HELP_STAND_TEMP] = None,
    stand_evaporation: Annotated[ShareAnHour, EVAPORATION, _HELP_STAND_EVAPORATION] = 0.0,
) -> MicrogramPerLitre:
    """Free DMS in the wort at pitching, after the boil and the hot time that follows it.

    The wort's, not the beer's: fermentation drives much of it off, and yeast makes some too. 30 to 50 µg/L is tasted
    (as commonly quoted), over 100 is an off-flavour (MEBAK B-400.35). The volatility decides, and sources disagree on
    it: show the range. A stand that is covered keeps what it forms; an open one steams far less than a boil.

    >>> dms_at_pitch(600, 60, 0.10, 30)
    44.97
    """
    stand_lost = loss(stand_evaporation, volatility)
    hot = hot_time(cool_minutes, cooling, coolant, half_life_100, boil_temp, stand_minutes, stand_temp, stand_lost)
    return at_pitch(precursor, boil_minutes, decay(boil_temp, half_life_100), loss(evaporation, volatility), *hot)


@worksheet(
    source=f"The last root of DMS_AT_PITCH. {_AT_PITCH_SOURCE}",
    equation="the last t at which DMS_AT_PITCH(precursor, t, ...) = limit",
    relations=STAND_ON_THE_WAY,
    no_answer="a covered kettle keeps its DMS in, however long it boils",
)
def dms_boil_minutes(
    precursor: Annotated[MicrogramPerLitre, PRECURSOR, "precursor at the start of the boil, as DMS"],
    limit: Annotated[MicrogramPerLitre, Above(0), "free DMS wanted at pitching, at most"],
    evaporation: Annotated[ShareAnHour, EVAPORATION, _HELP_EVAPORATION],
    cool_minutes: Annotated[Minute, MINUTES, "time of cooling, covered"],
    cooling: Annotated[PerMinute, COOLING, HELP_COOLING] = 0.1,
    coolant: Annotated[Celsius, COOLANT, _HELP_COOLANT] = 20.0,
    volatility: Annotated[Number, RELATIVE_VOLATILITY, _FITTED_VOLATILITY, _HELP_VOLATILITY] = 65.0,
    half_life_100: Annotated[Minute, HALF_LIFE, _HELP_HALF_LIFE] = 38.0,
    boil_temp: Annotated[Celsius, BOIL, "wort at the boil"] = 100.0,
    stand_minutes: Annotated[Minute, STAND, HELP_STAND] = 0.0,
    stand_temp: Annotated[Celsius, STAND_TEMP, SameAs("boil_temp"), HELP_STAND_TEMP] = None,
    stand_evaporation: Annotated[ShareAnHour, EVAPORATION, _HELP_STAND_EVAPORATION] = 0.0,
) -> Minute:
    """Shortest boil after which DMS at pitching stays at or under the limit.

    DMS_AT_PITCH rises before it falls, so the last crossing counts; 0 where it never gets above the limit. The answer
    hangs on the volatility: below it is 43 min at 65 but 139 at 18. Compute it for both ends.

    >>> dms_boil_minutes(1000, 100, 0.10, 30)
    43.42
    """
    formed, lost = decay(boil_temp, half_life_100), only_if(evaporation > 0, loss(evaporation, volatility))
    stand_lost = loss(stand_evaporation, volatility)
    kept, later = hot_time(
        cool_minutes, cooling, coolant, half_life_100, boil_temp, stand_minutes, stand_temp, stand_lost
    )

    def below_limit(minutes: Any) -> Any:
        return limit - at_pitch(precursor, minutes, formed, lost, kept, later)

    # A sum of two exponentials that starts upwards has one peak, where its slope is 0, and one that starts downwards
    # only falls ...
    faster = lost - formed
    same = faster == 0
    start = minimum(later / maximum(kept, 1e-300), 1.0)
    rise = (1 - start) / (formed + start * faster)
    peak = where(same, rise, log1p(rise * faster) / (faster + same))
    # ... and is under the limit where a bound of it is: t exp(-t s) <= exp(-t s / 2) 2 / (e s).
    slower = minimum(formed, lost)
    bound = precursor * (2 * formed * kept / (2.718281828459045 * slower) + later) / limit
    end = maximum(peak, 2 / slower * log(maximum(bound, 1.0)))
    # 48 halvings of that span, some tens of 1 / s, change the answer's DMS by 1e-13 of itself.
    return where(below_limit(peak) >= 0, 0 * lost, bisect(below_limit, peak, end, steps=48))
