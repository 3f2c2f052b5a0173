"""The boil: altitude, water driven off, heat, and how fast wort cools.

Boiling wort scalds: leave head space, stir as it comes up, and mind what the burner or element is rated for.
"""

from typing import Annotated, Any

from ..catalogue import Above, AtLeast, Below, Between, NotAbove, worksheet
from ..units import (
    Celsius,
    Gravity,
    Kilowatt,
    KilowattHour,
    Litre,
    LitreAnHour,
    Metre,
    Minute,
    PerMinute,
    Share,
    ShareAnHour,
    plato_of_gravity,
)
from .numeric import log, maximum, minimum, only_if
from .water import AS_RHO, WATER_20
from .wort import PLATO_AND_RHO, SG, mass_and_extract

_N = (1167.0521452767, -724213.16703206, -17.073846940092, 12020.824702470, -3232555.0322333, 14.915108613530,
      -4823.2657361591, 405113.40542057, -0.23855557567849, 650.17534844798)  # fmt: skip
HEAT_CAPACITY = 4.19  # kJ/(kg K), water between 15 and 100 °C within 0.5 %

# the hot time after a boil: what hops and DMS ask of it
BOIL = Between(80, 105)
COOLANT = Between(-10, 60)
COOLING = Between(0, 5)
STAND, STAND_TEMP = Between(0, 600), Between(50, 105)
STAND_ON_THE_WAY = [NotAbove("stand_temp", "boil_temp"), Below("coolant", "stand_temp")]
HELP_COOLING = "Newton cooling constant; immersion chiller 0.1, covered pot 0.01"
HELP_STAND = "time the wort is held at stand_temp on its way down; time at the boil before chilling counts too"
HELP_STAND_TEMP = "temperature of that stand"


def boiling_point(pressure: Any) -> Any:
    """°C at which water boils under `pressure` kPa: IAPWS-IF97, the backward equation of region 4."""
    beta = (pressure / 1000) ** 0.25
    e = beta * beta + _N[2] * beta + _N[5]
    f = _N[0] * beta * beta + _N[3] * beta + _N[6]
    g = _N[1] * beta * beta + _N[4] * beta + _N[7]
    d = 2 * g / (-f - (f * f - 4 * e * g) ** 0.5)
    return (_N[9] + d - ((_N[9] + d) ** 2 - 4 * (_N[8] + _N[9] * d)) ** 0.5) / 2 - 273.15


def saturation_pressure(temp: Any) -> Any:
    """kPa of water vapour over water at `temp` °C: IAPWS-IF97, region 4."""
    kelvin = temp + 273.15
    theta = kelvin + _N[8] / (kelvin - _N[9])
    a = theta * theta + _N[0] * theta + _N[1]
    b = _N[2] * theta * theta + _N[3] * theta + _N[4]
    c = _N[5] * theta * theta + _N[6] * theta + _N[7]
    return 1000 * (2 * c / (-b + (b * b - 4 * a * c) ** 0.5)) ** 4


def air_pressure(altitude: Any) -> Any:
    """kPa at `altitude` m in the standard atmosphere, ISO 2533."""
    geopotential = 6356766 * altitude / (6356766 + altitude)
    return 101.325 * (1 - 0.0065 * geopotential / 288.15) ** 5.25588


def boiling_temp(altitude: Any) -> Any:
    """°C at which water boils at `altitude` m."""
    return boiling_point(air_pressure(altitude))


def latent_heat(temp: Any) -> Any:
    """kJ/kg to evaporate water at `temp` °C: cubic fit, 0 to 130 °C within 0.09 of IAPWS-IF97."""
    return 2500.97 + temp * (-2.38120 + temp * (7.0001e-4 - 1.34096e-5 * temp))


ALTITUDE = Between(-500, 6000)
_LATENT_HEAT = "h_fg = 2500.97 - 2.38120 t + 7.0001e-4 t^2 - 1.34096e-5 t^3 kJ/kg"


@worksheet(
    source="Air pressure: ISO 2533; boiling point: IAPWS-IF97 region 4",
    equation="p = 101.325 (1 - 0.0065 H / 288.15)^5.25588 kPa, H = 6356766 h / (6356766 + h); "
    "T = (n10 + D - sqrt((n10 + D)^2 - 4 (n9 + n10 D))) / 2 of IAPWS-IF97, eq. 31",
)
def boil_temp(altitude: Annotated[Metre, ALTITUDE, "height above sea level"] = 0.0) -> Celsius:
    """Temperature at which water boils at this altitude.

    On a standard day; the weather moves it by half a degree. Wort boils 0.1 to 0.3 °C higher, which is neglected.

    >>> boil_temp(1609)
    94.62
    """
    return boiling_temp(altitude)


@worksheet(
    source="Heat of evaporation: cubic fit to IAPWS-IF97; energy balance",
    equation=f"L/h = 3600 efficiency power / h_fg / rho20, {_LATENT_HEAT}; {AS_RHO}",
)
def boil_rate(
    power: Annotated[Kilowatt, AtLeast(0), "power of the heater"],
    efficiency: Annotated[Share, Above(0, 1), "share of it that ends in steam"],
    altitude: Annotated[Metre, ALTITUDE, "height above sea level"] = 0.0,
) -> LitreAnHour:
    """Water boiled off in an hour, as litres at 20 °C.

    The efficiency is the kettle's own: find it from one measured boil.

    >>> boil_rate(2.4, 0.85)
    3.26
    """
    return efficiency * power * 3600 / latent_heat(boiling_temp(altitude)) / WATER_20


@worksheet(source="Definition: rate times time", equation="L = rate minutes / 60")
def boil_off(
    boil_off_rate: Annotated[LitreAnHour, AtLeast(0), "boiled off in an hour"],
    minutes: Annotated[Minute, Between(0, 600), "length of the boil"],
) -> Litre:
    """Water boiled off, as litres at 20 °C.

    >>> boil_off(4.5, 30)
    2.25
    """
    return boil_off_rate * minutes / 60


@worksheet(
    source="Definition: share of the starting volume an hour, not compounded",
    equation="L = V share minutes / 60",
    no_answer="it would boil dry before that",
)
def boil_off_share(
    volume: Annotated[Litre, AtLeast(0), "wort at the start of the boil, at 20 °C"],
    share: Annotated[ShareAnHour, Between(0, 0.4), "of that volume boiled off in an hour"],
    minutes: Annotated[Minute, Between(0, 600), "length of the boil"],
) -> Litre:
    """Water boiled off by a share an hour of the starting volume.

    The share belongs to that volume: it can't be carried to a boil of another length. Re-plan with litres an hour.

    >>> boil_off_share(28, 0.10, 30)
    1.40
    """
    return only_if(share * minutes <= 60, volume * share * minutes / 60)


@worksheet(
    source="conservation of mass and extract, at a constant rate of boil-off",
    equation=f"minutes = 60 (m - m P(S) / P(target)) / rho20 / rate, m = rho20 V S; {PLATO_AND_RHO}",
    relations=[NotAbove("pre_gravity", "target")],
    no_answer="without boil-off, or without extract, the gravity never rises",
)
def boil_minutes(
    pre_volume: Annotated[Litre, Above(0), "wort at 20 °C before the boil"],
    pre_gravity: Annotated[Gravity, SG, "its specific gravity"],
    target: Annotated[Gravity, SG, "specific gravity wanted at the end"],
    boil_off_rate: Annotated[LitreAnHour, AtLeast(0), "boiled off in an hour, as water at 20 °C"],
) -> Minute:
    """Minutes of boiling that bring a wort to the target gravity.

    >>> boil_minutes(25.5, 1.0412, 1.050, 4.5)
    60.1
    """
    mass, extract = mass_and_extract(pre_volume, pre_gravity)
    mass_left = 100 * extract / plato_of_gravity(target)
    return 60 * only_if(extract > 0, maximum(mass - mass_left, 0.0)) / WATER_20 / boil_off_rate


@worksheet(
    source="Heat capacity of water 4.19 kJ/(kg K), mean of IAPWS-IF97 from 15 to 100 °C; energy balance",
    equation=f"kWh = rho20 V 4.19 (T2 - T1) / 3600; {AS_RHO}",
)
def boil_heat_energy(
    volume: Annotated[Litre, AtLeast(0), "wort or water at 20 °C"],
    from_temp: Annotated[Celsius, Between(0, 110), "temperature at the start"],
    to_temp: Annotated[Celsius, Between(0, 110), "temperature at the end"],
) -> KilowattHour:
    """Heat that goes into the liquid; the kettle and its losses come on top. Negative when it cools.

    As water, within 0.5 %; wort of 12 °P takes 4 to 7 % less for its mass (as commonly quoted): a little high for it.

    >>> boil_heat_energy(25.5, 65, 100)
    1.037
    """
    return heat(volume, from_temp, to_temp)


def heat(volume: Any, from_temp: Any, to_temp: Any) -> Any:
    """kWh."""
    return volume * WATER_20 * HEAT_CAPACITY * (to_temp - from_temp) / 3600


@worksheet(
    source="Heat capacity of water 4.19 kJ/(kg K), mean of IAPWS-IF97 from 15 to 100 °C; energy balance",
    equation=f"minutes = 60 rho20 V 4.19 (T2 - T1) / 3600 / (power efficiency); {AS_RHO}",
    relations=[NotAbove("from_temp", "to_temp")],
)
def boil_heat_minutes(
    volume: Annotated[Litre, AtLeast(0), "wort or water at 20 °C"],
    from_temp: Annotated[Celsius, Between(0, 110), "temperature at the start"],
    to_temp: Annotated[Celsius, Between(0, 110), "temperature wanted"],
    power: Annotated[Kilowatt, Above(0), "power of the heater"],
    efficiency: Annotated[Share, Above(0, 1), "share of it that heats the liquid"],
) -> Minute:
    """Minutes to heat up.

    >>> boil_heat_minutes(25.5, 65, 100, 2.4, 0.85)
    30.5
    """
    return 60 * heat(volume, from_temp, to_temp) / (power * efficiency)


@worksheet(
    source="Newton's law of cooling",
    equation="k = ln((T1 - coolant) / (T2 - coolant)) / minutes",
    relations=[Below("coolant", "end_temp"), NotAbove("end_temp", "start_temp")],
)
def boil_cooling(
    start_temp: Annotated[Celsius, Between(0, 110), "temperature at the first reading"],
    end_temp: Annotated[Celsius, Between(0, 110), "temperature at the second"],
    minutes: Annotated[Minute, Above(0, 10000), "time between them"],
    coolant: Annotated[Celsius, COOLANT, "what it cools towards: the chiller's water, or the room"] = 20.0,
) -> PerMinute:
    """Cooling constant per minute from two temperatures and the time between them.

    An immersion chiller reaches about 0.1, a covered pot left alone 0.01 (common practice, no source).

    >>> boil_cooling(100, 40, 15)
    0.0924
    """
    return log((start_temp - coolant) / (end_temp - coolant)) / minutes


def minutes_to(temp: Any, start_temp: Any, minutes: Any, coolant: Any, cooling: Any) -> Any:
    """Minutes of Newton's cooling down to `temp`, at most `minutes`."""
    return minimum(minutes, log((start_temp - coolant) / (temp - coolant)) / maximum(cooling, 1e-12))


@worksheet(
    source="Heat of evaporation at 100 °C: cubic fit to IAPWS-IF97",
    equation=f"kWh = rho20 V h_fg / 3600, {_LATENT_HEAT} at the boil; {AS_RHO}",
)
def boil_evaporation_energy(
    evaporated: Annotated[Litre, AtLeast(0), "boiled off, as L of water at 20 °C"],
) -> KilowattHour:
    """Heat that leaves with the steam.

    >>> boil_evaporation_energy(3)
    1.877
    """
    return evaporated * WATER_20 * latent_heat(boiling_temp(0.0)) / 3600
