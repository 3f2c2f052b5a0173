"""Units of a batch by factors of our own, and a plan's inputs in base units."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from brewfuncs.batch.inputs import Amount
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.sections import input_cells
from tests import batch_physics as physics

_GALLON, _IMPERIAL, _POUND, _FOOT, _GRAIN = 3.785411784, 4.54609, 0.45359237, 0.3048, 64.79891
#: of each unit, in L, kg, min, K, bar, m, m², mg/L and what is made of them: exact, by definition
FACTORS = {
    "": 1,
    "L": 1, "mL": 1e-3, "hL": 100, "gal": _GALLON, "qt": _GALLON / 4, "pt": _GALLON / 8, "fl oz": _GALLON / 128,
    "imp gal": _IMPERIAL, "imp pt": _IMPERIAL / 8, "bbl": 31 * _GALLON,
    "kg": 1, "g": 1e-3, "mg": 1e-6, "lb": _POUND, "oz": _POUND / 16,
    "min": 1, "h": 60, "s": 1 / 60, "d": 1440, "/min": 1, "/h": 1 / 60,
    "L/h": 1, "mL/min": 0.06, "gal/h": _GALLON, "qt/h": _GALLON / 4, "imp gal/h": _IMPERIAL,
    "L/kg": 1, "qt/lb": _GALLON / 4 / _POUND, "kg/L": 1, "kg/m³": 1e-3, "lb/gal": _POUND / _GALLON,
    "K": 1, "Δ°C": 1, "Δ°F": 1 / 1.8,
    "bar": 1, "kPa": 0.01, "mbar": 1e-3, "atm": 1.01325, "psi": 0.0689475729,
    "m": 1, "cm": 1e-2, "mm": 1e-3, "µm": 1e-6, "km": 1000, "ft": _FOOT, "in": _FOOT / 12,
    "m²": 1, "cm²": 1e-4, "ft²": _FOOT**2, "in²": (_FOOT / 12) ** 2,
    "mg/L": 1, "µg/L": 1e-3, "g/L": 1000, "oz/gal": _POUND / 16 * 1e6 / _GALLON, "g/gal": 1000 / _GALLON,
    "gr/gal": _GRAIN / _GALLON, "°e": _GRAIN / _IMPERIAL, "°fH": 10, "mg/kg": 1, "g/kg": 1000,
    "billion/mL": 1, "million/mL": 1e-3,
}  # fmt: skip
#: those that rest on atomic masses, in mg/L as CaCO3
AS_CARBONATE = {
    "°dH": 17.848, "meq/L": 50.04, "mmol/L HCO3": 50.04, "mg/L HCO3": 50.04 / 61.017, "mmol/L CaCO3": 2 * 50.04,
}  # fmt: skip
#: what isn't a factor
CURVES: dict[str, Callable[[float], float]] = {
    "°F": lambda f: (f - 32) / 1.8,
    "°P": physics.gravity_of,
    "EBC": lambda ebc: (ebc * 12.7 / 25 + 0.76) / 1.3546,  # a malt's, to °L
    "SRM": lambda srm: (srm + 0.76) / 1.3546,
}


def converted(number: float, unit: str, base: str) -> float:
    if unit == base:
        return number
    if unit == "%":
        return number / 100
    if (unit, base) == ("K", "°C"):
        return number - 273.15
    return CURVES[unit](number) if unit in CURVES else number * _factor(unit) / _factor(base)


def _factor(unit: str) -> float:
    return AS_CARBONATE[unit] if unit in AS_CARBONATE else FACTORS[unit]


class Given:
    """The plan's inputs by the names of their cells, in base units; a blank is None."""

    def __init__(self, plan: Plan) -> None:
        self.entries = dict(plan.entries())
        self.inputs = {name: item for name, (item, _) in input_cells().items()}

    def __getitem__(self, name: str) -> Any:
        value = self.entries.get(name)
        if isinstance(value, Amount):
            return converted(value.number, value.unit, self.inputs[name].quantity.symbol)
        return None if value == "" else value

    def in_unit(self, name: str, unit: str) -> float:
        """An amount in another unit than the one it is written in, or in that one."""
        value = self.entries[name]
        assert isinstance(value, Amount)
        return value.number if value.unit == unit else in_unit(self[name], self.inputs[name].quantity.symbol, unit)

    def rows(self, name: str, count: int) -> list[dict[str, Any]]:
        """Rows of a table, with their numbers from 1 on."""
        found = []
        for n in range(1, count + 1):
            start = f"{name}_{n}_"
            keys = [key.removeprefix(start) for key in self.entries if key.startswith(start)]
            found.append({"n": n} | {key: self[start + key] for key in keys})
        return found


#: base units, as the ending of a cell's name tells them, where that isn't the unit itself
_BASES = {"C": "°C", "L_h": "L/h", "L_kg": "L/kg", "kg_L": "kg/L", "mg_L": "mg/L", "mg_kg": "mg/kg", "ug_L": "µg/L",
          "per_min": "/min", "Lovibond": "°L", "um": "µm", "m2": "m²", "billion_mL": "billion/mL"}  # fmt: skip


def base_of(name: str) -> str:
    """The base unit that a cell's name ends with."""
    found = re.fullmatch(r"(.+)_in_([A-Za-z]\w*)", name)
    assert found is not None, name
    return _BASES.get(found[2], found[2])


def in_unit(value: float, base: str, unit: str) -> float:
    """A value in base units, as it is shown in another."""
    if unit == base:
        return value
    if unit == "°P":
        return physics.plato(value)
    if unit == "°F":
        return value * 1.8 + 32
    if unit == "K" and base == "°C":
        return value + 273.15
    if base == "EBC":  # of a beer; a malt's is converted to °L
        return value * 12.7 / 25
    return value * FACTORS[base] / FACTORS[unit]


def known(unit: str, base: str) -> bool:
    """Whether it rests on a definition alone: amounts of substance rest on atomic masses, and are tested elsewhere."""
    return unit == base or unit in CURVES or (unit in FACTORS and base in FACTORS and base != "vol")
