"""Water: density, brewing salts, alkalinity."""

from typing import Annotated, Any

from ..catalogue import Between, worksheet
from ..units import Celsius, KilogramPerLitre


def density(temp: Any) -> Any:
    """kg/L of water at `temp` °C."""
    mass = 999.83952 + temp * (
        16.952577 + temp * (-7.9905127e-3 + temp * (-46.241757e-6 + temp * (105.84601e-9 - 281.03006e-12 * temp)))
    )
    return mass / (1 + 16.887236e-3 * temp) / 1000


WATER_20 = density(20.0)


@worksheet(source="Kell 1975, J. Chem. Eng. Data 20:97 (read in a transcription)")
def water_density(temp: Annotated[Celsius, Between(0, 100), "temperature"]) -> KilogramPerLitre:
    """Density of air-free water at 1 atm; within 0.007 kg/m³ of IAPWS-95.

    >>> water_density(20)
    0.99820
    """
    return density(temp)
