"""Sucrose solutions, the stand-in for wort: ICUMSA densities, and balances worked out with them.

Density: ICUMSA SPS-4 (1998) = Bubnik, Kadlec, Urban & Bruhns, Sugar Technologists Manual (Bartens 1995) p. 164 (read in
a transcription), over the density of water by the library iapws. Gravities are as weighed in air of 1.2 kg/m³.
"""

from collections.abc import Callable
from functools import cache
from typing import Any

from iapws import IAPWS95
from scipy.optimize import brentq

_COEFFICIENTS = (
    (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890),
    (-46.2720, -7.1720, 1.1597, 5.1126, 17.5254),
    (59.7712, 7.2491, 12.3630, -35.4791),
    (-47.2207, -21.6977, 27.6301),
    (18.3184, 12.3081),
)
AIR = 1.2  # kg/m³


@cache
def water(temp: float) -> float:
    """kg/m³ at 1 atm, or just under the pressure of boiling."""
    return float(IAPWS95(T=temp + 273.15, P=0.101325 if temp < 99.9 else 0.102).rho)


def density(share: float, temp: float = 20) -> float:
    """kg/m³ of a solution with this share of sugar by mass."""
    t = (temp - 20) / 100
    added = sum(t**k * sum(c * share ** (i + 1) for i, c in enumerate(row)) for k, row in enumerate(_COEFFICIENTS))
    return water(temp) + added


def gravity(share: float) -> float:
    """Specific gravity 20/20 °C, weighed in air."""
    return (density(share) - AIR) / (water(20) - AIR)


def share_of(specific_gravity: float) -> float:
    return solved(lambda w: gravity(w) - specific_gravity, -0.01, 0.6)


def mass_and_extract(volume: float, specific_gravity: float) -> tuple[float, float]:
    """kg of solution and of sugar in so many litres."""
    share = share_of(specific_gravity)
    mass = volume * density(share) / 1000
    return mass, mass * share


def solved(function: Callable[[float], Any], low: float, high: float) -> float:
    return float(brentq(function, low, high, xtol=1e-14))
