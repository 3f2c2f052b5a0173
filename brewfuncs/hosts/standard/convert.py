"""CONVERT."""

from __future__ import annotations

from typing import Any

from brewfuncs.hosts.standard.declare import MISSING, UNKNOWN, VALUE, Refusal, number, single, sound

_LITRE, _INCH, _POUND = 1e-3, 0.0254, 0.45359237
_GALLON, _IMPERIAL = 231 * _INCH**3, 4.54609e-3
_G = 9.80665
#: kind, size in SI units (NIST SP 811; Microsoft's page on CONVERT says which they are), and whether prefixes may stand
#: before it
_UNITS: dict[str, tuple[str, float, bool]] = {
    **{name: ("mass", size, prefixed) for name, size, prefixed in (
        ("g", 1e-3, True), ("lbm", _POUND, False), ("ozm", _POUND / 16, False), ("grain", _POUND / 7000, False),
        ("cwt", 100 * _POUND, False), ("shweight", 100 * _POUND, False), ("uk_cwt", 112 * _POUND, False),
        ("lcwt", 112 * _POUND, False), ("hweight", 112 * _POUND, False), ("stone", 14 * _POUND, False),
        ("ton", 2000 * _POUND, False), ("uk_ton", 2240 * _POUND, False), ("LTON", 2240 * _POUND, False),
        ("brton", 2240 * _POUND, False),
    )},
    **{name: ("length", size, prefixed) for name, size, prefixed in (
        ("m", 1.0, True), ("mi", 63360 * _INCH, False), ("Nmi", 1852.0, False), ("in", _INCH, False),
        ("ft", 12 * _INCH, False), ("yd", 36 * _INCH, False), ("ang", 1e-10, True), ("ell", 45 * _INCH, False),
        ("pica", _INCH / 6, False), ("Picapt", _INCH / 72, False), ("Pica", _INCH / 72, False),
    )},
    **{name: ("time", size, prefixed) for name, size, prefixed in (
        ("yr", 365.25 * 86400, False), ("day", 86400.0, False), ("d", 86400.0, False), ("hr", 3600.0, False),
        ("mn", 60.0, False), ("min", 60.0, False), ("sec", 1.0, True), ("s", 1.0, True),
    )},
    **{name: ("pressure", size, prefixed) for name, size, prefixed in (
        ("Pa", 1.0, True), ("p", 1.0, True), ("atm", 101325.0, True), ("at", 101325.0, True), ("mmHg", 133.322, True),
        ("psi", _POUND * _G / _INCH**2, False), ("Torr", 101325 / 760, False),
    )},
    **{name: ("force", size, prefixed) for name, size, prefixed in (
        ("N", 1.0, True), ("dyn", 1e-5, True), ("dy", 1e-5, True), ("lbf", _POUND * _G, False),
        ("pond", _G / 1000, True),
    )},
    **{name: ("energy", size, prefixed) for name, size, prefixed in (
        ("J", 1.0, True), ("e", 1e-7, True), ("c", 4.184, True), ("cal", 4.1868, True),
        ("Wh", 3600.0, True), ("wh", 3600.0, True), ("flb", 12 * _INCH * _POUND * _G, False),
        ("BTU", 1055.05585262, False), ("btu", 1055.05585262, False),
    )},
    **{name: ("power", size, prefixed) for name, size, prefixed in (
        ("W", 1.0, True), ("w", 1.0, True), ("HP", 550 * 12 * _INCH * _POUND * _G, False),
        ("h", 550 * 12 * _INCH * _POUND * _G, False), ("PS", 75 * _G, False),
    )},
    **{name: ("volume", size, prefixed) for name, size, prefixed in (
        ("l", _LITRE, True), ("L", _LITRE, True), ("lt", _LITRE, True), ("tsp", _GALLON / 768, False),
        ("tspm", 5e-6, False), ("tbs", _GALLON / 256, False), ("oz", _GALLON / 128, False),
        ("cup", _GALLON / 16, False),
        ("pt", _GALLON / 8, False), ("us_pt", _GALLON / 8, False), ("uk_pt", _IMPERIAL / 8, False),
        ("qt", _GALLON / 4, False), ("uk_qt", _IMPERIAL / 4, False), ("gal", _GALLON, False),
        ("uk_gal", _IMPERIAL, False), ("in3", _INCH**3, False), ("ft3", (12 * _INCH) ** 3, False),
        ("yd3", (36 * _INCH) ** 3, False), ("m3", 1.0, False), ("m^3", 1.0, False), ("barrel", 42 * _GALLON, False),
    )},
    **{name: ("area", size, prefixed) for name, size, prefixed in (
        ("ha", 1e4, False), ("in2", _INCH**2, False), ("ft2", (12 * _INCH) ** 2, False),
        ("yd2", (36 * _INCH) ** 2, False),
        ("mi2", (63360 * _INCH) ** 2, False), ("uk_acre", 4840 * (36 * _INCH) ** 2, False), ("ar", 100.0, True),
    )},
    **{name: ("speed", size, prefixed) for name, size, prefixed in (
        ("m/s", 1.0, True), ("m/sec", 1.0, True), ("m/h", 1 / 3600, True), ("m/hr", 1 / 3600, True),
        ("mph", 63360 * _INCH / 3600, False), ("kn", 1852 / 3600, False),
    )},
    **{name: ("magnetism", size, True) for name, size in (("T", 1.0), ("ga", 1e-4))},
    **{name: ("information", size, True) for name, size in (("bit", 1.0), ("byte", 8.0))},
}  # fmt: skip
_OTHERS = ("pc", "hh", "ev", "eV", "sg", "u")  # units of theirs that aren't known here, though they look like others
_PREFIXES = {
    "Y": 24, "Z": 21, "E": 18, "P": 15, "T": 12, "G": 9, "M": 6, "k": 3, "h": 2, "da": 1, "e": 1,
    "d": -1, "c": -2, "m": -3, "u": -6, "n": -9, "p": -12, "f": -15, "a": -18, "z": -21, "y": -24,
}  # fmt: skip
_KELVIN: dict[str, tuple[float, float]] = {  # kelvin = (degrees + offset) * size
    "K": (0.0, 1.0), "kel": (0.0, 1.0), "C": (273.15, 1.0), "cel": (273.15, 1.0),
    "F": (459.67, 5 / 9), "fah": (459.67, 5 / 9), "Rank": (0.0, 5 / 9), "Reau": (218.52, 1.25),
}  # fmt: skip


def _unit(name: Any) -> tuple[str, float]:
    if not isinstance(sound(name), str):
        raise Refusal(VALUE)
    if name in _UNITS:
        return _UNITS[name][:2]
    for length in (1, 2) if name not in _OTHERS else ():
        prefix, base = name[:length], name[length:]
        if prefix in _PREFIXES and base in _UNITS and _UNITS[base][2]:
            kind, size, _ = _UNITS[base]
            return kind, size * 10.0 ** _PREFIXES[prefix]
    raise Refusal(UNKNOWN)


@single("CONVERT")
def _convert(value: Any, given: Any, wanted: Any) -> float:
    x = number(value)
    if given in _KELVIN and wanted in _KELVIN:
        if given == wanted:
            return x
        (offset, size), (other_offset, other_size) = _KELVIN[given], _KELVIN[wanted]
        return (x + offset) * size / other_size - other_offset
    if given in _KELVIN or wanted in _KELVIN:
        _unit(wanted if given in _KELVIN else given)
        raise Refusal(MISSING)
    (kind, size), (other_kind, other_size) = _unit(given), _unit(wanted)
    if kind != other_kind:
        raise Refusal(MISSING)
    return x if size == other_size else x * size / other_size
