"""How the trade writes quantities: in which unit, by the system of units, and with how many digits."""

from __future__ import annotations

from brewfuncs.batch.inputs import DATE, TIME

__all__ = ["MOMENT_FORMATS", "SYSTEMS", "entered_format", "house_unit", "number_format"]

SYSTEMS = ("metric", "us", "imperial")

#: the unit an input cell starts with, by the formulas' unit, where it differs from that: metric, US, imperial
_HOUSE_UNITS = {
    "L": ("L", "gal", "imp gal"),
    "kg": ("kg", "lb", "lb"),
    "g": ("g", "oz", "oz"),
    "°C": ("°C", "°F", "°F"),
    "K": ("K", "Δ°F", "Δ°F"),
    "L/h": ("L/h", "gal/h", "imp gal/h"),
    "L/kg": ("L/kg", "qt/lb", "L/kg"),
    "m": ("m", "ft", "ft"),
    "bar": ("bar", "psi", "psi"),
    "°L": ("EBC", "°L", "EBC"),
    "EBC": ("EBC", "SRM", "EBC"),
    "mL": ("mL", "fl oz", "mL"),
    "mL/L": ("mL/L", "fl oz/gal", "mL/L"),
    "m²": ("m²", "ft²", "ft²"),
}


def house_unit(symbol: str, system: str) -> str:
    """The unit that a brewer of this system reads a quantity in."""
    return _HOUSE_UNITS.get(symbol, (symbol,) * 3)[SYSTEMS.index(system)]


_SMALL = "[<10]0.00;0.0"  # a second decimal for small batches, for gallons, and for bar, which may be shown in psi
_FORMATS = {
    "SG": "0.000", "°P": "0.0", "Brix": "0.0",
    "L": _SMALL, "gal": _SMALL, "imp gal": _SMALL, "qt": "0.0", "pt": "0.0", "hL": "0.00", "bbl": "0.00", "mL": "0.0",
    "fl oz": "0.00", "g": "[<10]0.0;0", "oz": "0.00", "kg": _SMALL, "lb": _SMALL, "°C": "0.0", "°F": "0.0",
    "K": "0.0", "Δ°F": "0.0", "min": "0", "h": "0.00", "d": "General",
    "L/h": _SMALL, "gal/h": _SMALL, "imp gal/h": _SMALL,
    "L/kg": "0.0", "qt/lb": "0.00", "m": "0", "ft": "0", "bar": _SMALL, "psi": "0.0", "mg/L": "0", "µg/L": "0",
    "mg/kg": "[<10]0.0;0", "EBC": "0", "SRM": "0", "°L": "0.0", "kWh": "0.0", "kW": "0.0", "vol": "0.0",
    "/min": "0.000",
    "mL/L": "0.0", "fl oz/gal": "0.00", "PU": "0", "pH": "0.00", "kcal/100 mL": "0", "billion cells": "0",
    "meq/kg/pH": "0", "billion/g": "0.0", "billion/mL": "0.00", "million/mL": "0",
    "mg/L per point": "0.00", "kg/L": "0.00", "µm": "0", "m²": "0.00", "million/mL/°P": "0.00", "W/m²K": "0",
}  # fmt: skip
_ENTERED = {
    "0.000": "0.000##", "0.0": "0.0##", "0.00": "0.00##", _SMALL: "0.0##", "[<10]0.0;0": "0.0##", "0": "General",
    "0.0 %": "0.0# %",
}  # fmt: skip
#: of what isn't a number to a brewer, by what the input is
MOMENT_FORMATS = {DATE: "yyyy-mm-dd", TIME: "hh:mm"}


def number_format(symbol: str, share: bool = False) -> str:
    """How the trade writes a number in this unit."""
    return "0.0 %" if share else _FORMATS.get(symbol, "General" if not symbol else "0.0")


def entered_format(symbol: str, share: bool = False) -> str:
    """The same for what is typed: no digit of it is hidden."""
    return _ENTERED.get(number_format(symbol, share), number_format(symbol, share))
