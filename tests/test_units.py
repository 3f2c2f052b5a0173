"""Units: every one and every pair against pint, every spelling, and what must never be read as something else."""

import itertools
import math
from typing import Any

import numpy
import pint
import pytest

from brewfuncs import units
from brewfuncs.catalogue import CATALOGUE, find
from brewfuncs.errors import BadInput, BrewError, OutOfRange
from brewfuncs.units import DIMENSIONS, Dimension, Quantity, Unit, convert, from_pint, parse, registry
from tests import needs
from tests.test_conventions import COMPUTING, base, both_ways, changed, same

# Our symbol -> pint's name, written out here: the oracle must not share the table under test.
PINT = {
    "volume": {
        "L": "liter", "mL": "milliliter", "hL": "hectoliter", "gal": "US_liquid_gallon", "qt": "US_liquid_quart",
        "pt": "pint", "fl oz": "US_fluid_ounce", "imp gal": "imperial_gallon", "imp pt": "imperial_pint",
        "bbl": "beer_barrel",
    },
    "mass": {"g": "gram", "kg": "kilogram", "mg": "milligram", "oz": "avoirdupois_ounce", "lb": "avoirdupois_pound"},
    "temperature": {"°C": "degree_Celsius", "°F": "degree_Fahrenheit", "K": "kelvin"},
    "temperature difference": {"K": "kelvin", "Δ°C": "delta_degree_Celsius", "Δ°F": "delta_degree_Fahrenheit"},
    "time": {"min": "minute", "h": "hour", "s": "second", "d": "day"},
    "pressure": {"bar": "bar", "psi": "pound_force_per_square_inch", "kPa": "kilopascal", "mbar": "millibar",
                 "atm": "standard_atmosphere"},
    "energy": {"kWh": "kilowatt_hour", "MJ": "megajoule", "kJ": "kilojoule", "BTU": "Btu_it"},
    "power": {"kW": "kilowatt", "W": "watt", "BTU/h": "Btu_it / hour"},
    "flow": {
        "L/h": "liter / hour", "mL/min": "milliliter / minute", "gal/h": "US_liquid_gallon / hour",
        "qt/h": "US_liquid_quart / hour", "imp gal/h": "imperial_gallon / hour",
    },
    "length": {
        "m": "meter", "cm": "centimeter", "mm": "millimeter", "µm": "micrometer", "km": "kilometer", "ft": "foot",
        "in": "inch",
    },
    "area": {"m²": "meter ** 2", "cm²": "centimeter ** 2", "ft²": "foot ** 2", "in²": "inch ** 2"},
    "water ratio": {"L/kg": "liter / kilogram", "qt/lb": "US_liquid_quart / avoirdupois_pound"},
    "strength": {
        "mg/L": "milligram / liter", "µg/L": "microgram / liter", "g/L": "gram / liter",
        "oz/gal": "avoirdupois_ounce / US_liquid_gallon", "g/gal": "gram / US_liquid_gallon",
        "gr/gal": "grain / US_liquid_gallon",
    },
    "dose rate": {
        "mL/L": "milliliter / liter", "fl oz/gal": "US_fluid_ounce / US_liquid_gallon",
        "mL/gal": "milliliter / US_liquid_gallon",
    },
    "content": {"mg/kg": "milligram / kilogram", "g/kg": "gram / kilogram"},
    "density": {"kg/L": "kilogram / liter", "kg/m³": "kilogram / meter ** 3", "lb/gal": "pound / US_liquid_gallon"},
    "share": {"": "dimensionless", "%": "percent"},
    "share an hour": {"/h": "1 / hour", "%/h": "percent / hour"},
    "bitterness": {"mg/L": "milligram / liter"},
    "cell density": {"billion/mL": "gigacount / milliliter", "million/mL": "megacount / milliliter"},
    "rate": {"/min": "1 / minute", "/h": "1 / hour"},
}  # fmt: skip
# scales that no general-purpose library has; tested against published values below
OWN = {"gravity", "refractometer reading", "colour", "carbonation", "alkalinity", "hardness"}
PAIRS = [
    (dimension, one, other)
    for dimension in DIMENSIONS
    if dimension.name not in OWN
    for one, other in itertools.product(dimension.units, repeat=2)
]


@pytest.fixture(scope="module")
def ureg() -> Any:
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def test_no_dimension_is_left_out() -> None:
    assert {d.name for d in DIMENSIONS} == PINT.keys() | OWN
    for dimension in DIMENSIONS:
        if dimension.name not in OWN:
            assert [u.symbol for u in dimension.units] == list(PINT[dimension.name]), dimension.name


@pytest.mark.parametrize(
    ("dimension", "one", "other"), PAIRS, ids=lambda v: v.symbol if isinstance(v, Unit) else v.name
)
def test_every_pair_against_pint(ureg: Any, dimension: Dimension, one: Unit, other: Unit) -> None:
    names = PINT[dimension.name]
    for value in (3.7, 1.0, 250.0):
        expected = ureg.Quantity(value, names[one.symbol]).to(names[other.symbol]).magnitude
        ours = dimension.convert(value, one, other)
        # 1e-12: exact factors on both sides, multiplied in another order; temperatures cancel near 0 °F
        assert ours == pytest.approx(expected, rel=1e-12, abs=1e-11 if dimension.name == "temperature" else 0)
        if one.symbol and other.symbol and dimension.name != "temperature difference":
            assert convert(value, one.symbol, other.symbol) == pytest.approx(expected, rel=1e-12, abs=1e-11)
            in_sheet = find("UNIT_CONVERT").call(value, one.symbol, other.symbol)
            assert in_sheet == pytest.approx(expected, rel=1e-12, abs=1e-11)


def test_temperature_differences_convert_as_differences() -> None:
    assert convert(18, "Δ°F", "K") == pytest.approx(10, rel=1e-14)
    assert convert(10, "K", "Δ°F") == pytest.approx(18, rel=1e-14)
    assert convert(10, "Δ°C", "Δ°F") == pytest.approx(18, rel=1e-14)
    assert convert(10, "K", "°C") == pytest.approx(-263.15, rel=1e-14)  # between temperatures, K is one


# -- the scales of the trade -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("gravity", "plato"), [(1.04003, 10), (1.06114, 15), (1.08302, 20)])
def test_plato_against_sucrose(gravity: float, plato: float) -> None:
    """CRC Handbook 102nd ed., sucrose at 20 °C; the cubic is within 0.02 °P of it."""
    assert convert(gravity, "SG", "°P") == pytest.approx(plato, abs=0.02)
    assert convert(plato, "°P", "SG") == pytest.approx(gravity, abs=1e-4)


def test_plato_and_gravity_are_inverses_over_the_whole_scale() -> None:
    for gravity in numpy.linspace(0.98, 1.2, 2001):
        assert convert(convert(float(gravity), "SG", "°P"), "°P", "SG") == pytest.approx(gravity, rel=2e-14)


@pytest.mark.parametrize("plato", [-1e300, -500, -40, -5.3, 44, 100, 293.9, 294.1, 440, 450, 1e6, 1e300])
def test_plato_that_no_wort_has_is_never_a_gravity(plato: float) -> None:
    """An inverse that goes astray far from its start would turn 440 °P into some ordinary gravity."""
    with pytest.raises(OutOfRange):
        convert(plato, "°P", "SG")
    with pytest.raises(OutOfRange):
        find("WORT_PLATO").call(f"{plato!r} °P")
    with pytest.raises(OutOfRange):
        find("WORT_GRAVITY").call(plato)
    assert not 0.98 <= units.gravity_of_plato(plato) <= 1.2


def test_nothing_is_colder_than_absolute_zero() -> None:
    assert convert(0, "K", "°C") == -273.15
    assert convert(-459.67, "°F", "K") == pytest.approx(0, abs=1e-9)
    for value, unit in ((-1, "K"), (-274, "°C"), (-460, "°F")):
        with pytest.raises(OutOfRange, match="colder"):
            convert(value, unit, "°C" if unit != "°C" else "K")


def test_colours() -> None:
    """EBC is 25 and SRM 12.7 times the absorbance at 430 nm; SRM = 1.3546 °L - 0.76 (as commonly quoted)."""
    assert convert(12.7, "SRM", "EBC") == pytest.approx(25, rel=1e-14)
    assert convert(10, "°L", "SRM") == pytest.approx(12.786, rel=1e-14)
    assert convert(12.786, "SRM", "°L") == pytest.approx(10, rel=1e-14)
    assert convert(convert(37, "EBC", "°L"), "°L", "EBC") == pytest.approx(37, rel=1e-14)


def test_no_colour_is_negative() -> None:
    """The line SRM = 1.3546 °L - 0.76 passes 0 at 0.561 °L: what is paler, sugar for instance, has no colour."""
    assert convert(0.3, "°L", "EBC") == convert(0, "°L", "SRM") == 0
    assert convert(0.57, "°L", "EBC") > 0
    assert list(convert(numpy.array([0.0, 0.5, 10.0]), "°L", "SRM")) == pytest.approx([0, 0, 12.786])


def test_alkalinity_and_hardness_as_calcium_carbonate() -> None:
    """1 °dH is 10 mg/L of CaO by definition; a milliequivalent of CaCO3 is half a millimole; by molar masses."""
    molmass = needs.library("molmass")
    carbonate, oxide = molmass.Formula("CaCO3").mass, molmass.Formula("CaO").mass
    assert convert(1, "°dH", "mg/L") == pytest.approx(10 * carbonate / oxide, rel=1e-4)
    assert convert(1, "meq/L", "mg/L") == pytest.approx(carbonate / 2, rel=1e-4)
    assert convert(1, "gr/gal", "mg/L") == pytest.approx(64.79891 / 3.785411784, rel=1e-9)  # grains of 1/7000 lb
    residual = find("WATER_RESIDUAL_ALKALINITY").call
    assert residual("8.404 °dH", 0, 0) == pytest.approx(residual("3 meq/L", 0, 0), rel=2e-3)
    assert residual("8.77 gr/gal", 0, 0) == pytest.approx(150, rel=1e-3)
    with pytest.raises(BadInput):
        find("SANI_PH").call("5 °dH")  # the acid, which is no alkalinity


def test_what_waterworks_write() -> None:
    """°e: a grain of CaCO3 in an imperial gallon, °fH: 10 mg/L of it, by definition; ions by molar masses."""
    molmass = needs.library("molmass")
    half = molmass.Formula("CaCO3").mass / 2
    assert convert(1, "°e", "mg/L CaCO3") == pytest.approx(64.79891 / 4.54609, rel=1e-9)
    assert convert(1, "°fH", "mg/L CaCO3") == pytest.approx(10, rel=1e-14)
    # the usual table of hardness scales, as commonly quoted, to its last digit
    assert convert(1, "°dH", "°e") == pytest.approx(1.252, abs=0.001)
    assert convert(1, "°dH", "°fH") == pytest.approx(1.785, abs=0.001)
    assert convert(1, "mmol/L CaCO3", "°dH") == pytest.approx(5.608, abs=0.001)
    for unit, equivalent in (
        ("mmol/L CaCO3", 0.5),
        ("mg/L Ca", molmass.Formula("Ca").mass / 2),
        ("mg/L Mg", molmass.Formula("Mg").mass / 2),
        ("mmol/L HCO3", 1.0),
        ("mg/L HCO3", molmass.Formula("HCO3").mass),
    ):
        assert convert(1, "meq/L", unit) == pytest.approx(equivalent, rel=1e-4)
        assert convert(half, "mg/L CaCO3", unit) == pytest.approx(equivalent, rel=2e-4)
    assert find("WATER_RESIDUAL_ALKALINITY").call("3 mmol/L HCO3", 0, 0) == pytest.approx(150.12)


@pytest.mark.parametrize(("value", "one", "other"), [(3, "mmol/L", "°dH"), (3, "mmol/L", "mg/L"), (60, "°f", "mg/L")])
def test_what_could_be_two_things_is_refused(value: float, one: str, other: str) -> None:
    """A mmol of alkalinity is 1 meq, a mmol of hardness 2; and °f is a temperature before it is French."""
    with pytest.raises(BadInput):
        convert(value, one, other)
    with pytest.raises(BadInput):
        find("WATER_RESIDUAL_ALKALINITY").call(f"{value} {one}", 0, 0)


def test_hardness_where_an_ion_is_wanted_is_told_the_way() -> None:
    with pytest.raises(BadInput, match="UNIT_CONVERT says how much of an ion"):
        find("WATER_RESIDUAL_ALKALINITY").call(100, "7 °dH", 0)
    with pytest.raises(BadInput, match=r"in mg/L without its name; UNIT_CONVERT says how much of an ion"):
        find("WATER_RESIDUAL_ALKALINITY").call(100, "96 mg/L Ca", 0)
    with pytest.raises(BadInput, match="is a hardness, not an alkalinity"):
        find("WATER_RESIDUAL_ALKALINITY").call("56 mg/L Ca", 0, 0)


def test_the_end_of_a_range_is_in_it_in_other_units_too() -> None:
    assert find("WORT_HYDROMETER").call(1.04, "140 °F") == find("WORT_HYDROMETER").call(1.04, 60)
    assert find("BEER_PRIMING").call(20, "9.884 g/L", 1) == find("BEER_PRIMING").call(20, 5, 1)
    assert find("HOP_AROMA_LEFT").call("100 %", 2) == 0
    assert find("BOIL_OFF").call(4, "10 h") == 40
    for function in COMPUTING:
        for p in function.params:
            if p.is_text or p.limits.high > 1e6:
                continue
            if p.symbol == "°C":
                assert p.read(f"{1.8 * p.limits.high + 32:g} °F") == p.limits.high, (function.name, p.name)
            if p.quantity.dimension.name.startswith("share"):
                assert p.read(f"{100 * p.limits.high:g} %") == p.limits.high, (function.name, p.name)
            if p.symbol == "min":
                assert p.read(f"{60 * p.limits.high:g} s") == p.limits.high, (function.name, p.name)


def test_a_volume_of_carbon_dioxide() -> None:
    """The density of CO2 at 0 °C and 1 atm, by CoolProp; the handbook figure has five digits."""
    density = needs.library("CoolProp.CoolProp").PropsSI
    assert convert(1, "vol", "g/L") == pytest.approx(density("D", "T", 273.15, "P", 101325, "CO2"), rel=5e-5)


def test_known_pairs_by_hand() -> None:
    assert convert(1, "fl oz/gal", "mL/L") == 1000 / 128  # a US gallon is 128 fl oz
    assert convert(1, "gal", "L") == 3.785411784  # 231 cubic inches
    assert convert(1, "imp gal", "L") == 4.54609  # by law
    assert convert(1, "bbl", "gal") == pytest.approx(31, rel=1e-14)  # the US beer barrel, not petroleum's 42
    assert convert(16, "oz", "lb") == 1
    assert convert(1, "qt/lb", "L/kg") == pytest.approx(2.0863511, rel=1e-8)  # how mash ratios are printed: 2.086
    assert convert(212, "°F", "°C") == pytest.approx(100, rel=1e-14)


# -- what brewers write ----------------------------------------------------------------------------------------------

WRITTEN = [
    # text, dimension, value in the dimension's base unit
    ("25.5 L", "volume", 25.5), ("25.5L", "volume", 25.5), ("750 mL", "volume", 0.75), ("2 hL", "volume", 200),
    ("5 gal", "volume", 18.92705892), ("1 qt", "volume", 0.946352946), ("1 pt", "volume", 0.473176473),
    ("1 fl oz", "volume", 0.0295735295625), ("1 imp gal", "volume", 4.54609), ("1 imp pt", "volume", 0.56826125),
    ("1 bbl", "volume", 117.347765304), ("5 gallons", "volume", 18.92705892), ("5 GAL", "volume", 18.92705892),
    ("2 Liters", "volume", 2), ("1  imp   gal", "volume", 4.54609),
    ("28 g", "mass", 28), ("4.5 kg", "mass", 4500), ("1 oz", "mass", 28.349523125), ("10 lb", "mass", 4535.9237),
    ("10 lbs", "mass", 4535.9237), ("2.5 KG", "mass", 2500),
    ("66 °C", "temperature", 66), ("66°C", "temperature", 66), ("152 °F", "temperature", 200 / 3),
    ("339.15 K", "temperature", 66), ("66 C", "temperature", 66), ("152 F", "temperature", 200 / 3),
    ("66 ºC", "temperature", 66), ("66 ˚C", "temperature", 66), ("−2 °C", "temperature", -2),
    ("66\u2009°C", "temperature", 66),
    ("-2 °C", "temperature", -2), ("66\u00a0°C", "temperature", 66),
    ("3 K", "temperature difference", 3), ("3 Δ°C", "temperature difference", 3),
    ("9 Δ°F", "temperature difference", 5), ("9 delta °F", "temperature difference", 5),
    ("60 min", "time", 60), ("1.5 h", "time", 90), ("90 s", "time", 1.5), ("2 d", "time", 2880),
    ("2 days", "time", 2880), ("1 hour", "time", 60),
    ("1.050", "gravity", 1.05), ("1.050 SG", "gravity", 1.05), ("1.050 sg", "gravity", 1.05),
    ("12.5 Brix", "refractometer reading", 12.5), ("12.5 °Bx", "refractometer reading", 12.5),
    ("12.7 SRM", "colour", 12.7), ("25 EBC", "colour", 12.7), ("10 °L", "colour", 12.786), ("10 L", "colour", 12.786),
    ("1 bar", "pressure", 1), ("14.5037737730 psi", "pressure", 1), ("100 kPa", "pressure", 1),
    ("2 kWh", "energy", 2), ("3.6 MJ", "energy", 1),
    ("2.4 kW", "power", 2.4), ("2400 W", "power", 2.4), ("3412.141633 BTU/h", "power", 1),
    ("4.5 L/h", "flow", 4.5), ("1 gal/h", "flow", 3.785411784),
    ("1609 m", "length", 1609), ("5280 ft", "length", 1609.344), ("50 µm", "length", 5e-5),
    ("50 μm", "length", 5e-5), ("50 um", "length", 5e-5),
    ("2 m²", "area", 2), ("2 m2", "area", 2), ("1 ft²", "area", 0.09290304), ("1 ft2", "area", 0.09290304),
    ("3 L/kg", "water ratio", 3), ("1.5 qt/lb", "water ratio", 3.12952667),
    ("200 ppm", "strength", 200), ("200 mg/L", "strength", 200), ("200 µg/L", "strength", 0.2),
    ("2.5 meq/L", "alkalinity", 125.1), ("7 °dH", "alkalinity", 124.936), ("7 dH", "alkalinity", 124.936),
    ("14 °e", "alkalinity", 199.552745), ("14 °Clark", "hardness", 199.552745), ("20 °fH", "hardness", 200),
    ("2 mmol/l CaCO3", "hardness", 200.16), ("183.051 mg/L HCO3", "alkalinity", 150.12),
    ("40.078 ppm Ca", "hardness", 100.08), ("24.305 mg/l Mg", "hardness", 100.08),
    ("150 ppm", "alkalinity", 150), ("1 atm", "pressure", 1.01325), ("3 gr/gal", "strength", 51.35418314),
    ("2 g/L", "strength", 2000), ("1 oz/gal", "strength", 7489.15171),
    ("2.5 mL/L", "dose rate", 2.5), ("0.32 fl oz/gal", "dose rate", 2.5),
    # as labels have it; a gallon is 128 fl oz: 1000/512
    ("1 fl oz in 4 gal", "dose rate", 1.953125), ("2 fl oz per 8 gal", "dose rate", 1.953125),
    ("25 mL in 10 L", "dose rate", 2.5), ("2.5 ml per l", "dose rate", 2.5), ("5 g  in 2.5 L", "strength", 2000),
    ("5 mg/kg", "content", 5), ("5 ppm", "content", 5),
    ("1.08 kg/L", "density", 1.08), ("1.08 g/mL", "density", 1.08), ("1080 kg/m³", "density", 1.08),
    ("5.5 %", "share", 0.055), ("5.5%", "share", 0.055), ("0.055", "share", 0.055),
    ("10 %/h", "share an hour", 0.1), ("10 %", "share an hour", 0.1), ("0.1 /h", "share an hour", 0.1),
    ("30 IBU", "bitterness", 30), ("30 mg/L", "bitterness", 30),
    ("2.5 vol", "carbonation", 2.5), ("2.5 volumes", "carbonation", 2.5), ("4.942 g/L", "carbonation", 2.5),
    ("1200 million/mL", "cell density", 1.2), ("1.2 billion/ml", "cell density", 1.2),
    ("0.1 /min", "rate", 0.1), ("6 /h", "rate", 0.1),
    ("1e3 mL", "volume", 1), ("1.5E-3 hL", "volume", 0.15), ("+5 L", "volume", 5), (".5 L", "volume", 0.5),
    ("5. L", "volume", 5), ("  5 L\t", "volume", 5), ("0005 L", "volume", 5),
]  # fmt: skip


@pytest.mark.parametrize(("text", "dimension", "expected"), WRITTEN)
def test_what_brewers_write(text: str, dimension: str, expected: float) -> None:
    quantity = Quantity(next(d for d in DIMENSIONS if d.name == dimension))
    # 1e-8: as many digits as the expected values are written with
    assert quantity.number(text) == pytest.approx(expected, rel=1e-8)
    assert units.read(text, quantity) == quantity.number(text)  # from memory the second time


@pytest.mark.parametrize("text", ["12 °P", "12 P", "12 Plato", "12 °Plato", "12 plato", "12°P"])
def test_plato_is_not_poise(text: str) -> None:
    assert find("WORT_EXTRACT").call(1, text) == pytest.approx(0.12 * 1.04837 * 0.998203, rel=1e-4)
    assert find("WORT_GRAVITY").call(text) == find("WORT_GRAVITY").call(12)


@pytest.mark.parametrize("dimension", DIMENSIONS, ids=lambda d: d.name)
def test_every_spelling(dimension: Dimension) -> None:
    quantity = Quantity(dimension)
    for unit in dimension.units:
        reference = unit.to_base(1.1)
        for spelling in (unit.symbol, *unit.aliases):
            glued = f"1.1{spelling}" if not spelling[:1].isdigit() else "1.1 " + spelling
            for text in (f"1.1 {spelling}", glued, f" 1.1  {spelling} "):
                assert quantity.number(text) == pytest.approx(reference, rel=1e-14), text
            for text in {spelling.upper(), spelling.lower(), spelling.title()} - dimension.spellings.keys():
                try:
                    number = quantity.number(f"1.1 {text}")
                except BadInput:
                    continue  # another case may be refused, but never read as another unit
                assert number == pytest.approx(reference, rel=1e-14), text


def test_spellings_that_differ_in_case_alone_are_one_unit() -> None:
    for dimension in DIMENSIONS:
        by_folded: dict[str, set[str]] = {}
        for spelling, unit in dimension.spellings.items():
            by_folded.setdefault(spelling.casefold(), set()).add(unit.symbol)
        assert all(len(symbols) == 1 for symbols in by_folded.values()), dimension.name


@pytest.mark.parametrize("function", COMPUTING, ids=lambda f: f.name)
def test_every_argument_takes_every_unit_of_its_kind(function: Any) -> None:
    for i, p in enumerate(function.params):
        own = base(function)[i]
        if p.is_text or own is None:
            continue
        dimension, own_unit = p.quantity.dimension, p.quantity.unit
        x = own[0][0] if p.whole else own
        for unit in dimension.units:
            text = f"{dimension.convert(x, own_unit, unit)!r} {unit.symbol}"
            value: Any = [[text], *own[1:]] if p.whole else text
            outcome = both_ways(function, changed(base(function), (i, value)))
            assert same(outcome, both_ways(function, base(function)), 1e-9), (p.name, text, outcome)


# -- what must be refused --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1 1/2 oz", "fraction"), ("1/2 oz", "fraction"), ("1½ oz", "fraction"), ("1 ½ oz", "fraction"),
        ("3 / 4 oz", "fraction"), ("1 1⁄2 oz", "fraction"),
        ("1,5 kg", "comma"), ("1,500 g", "comma"), ("1.500,5 g", "comma"), ("1, 5 kg", "comma"),
        ("½ oz", "not a number"), ("", "not a number"), ("oz", "not a number"), ("kg 5", "not a number"),
        ("$5", "not a number"), ("--5 g", "not a number"), ("nan g", "not a number"), ("inf", "not a number"),
        ("5 stone", "not a unit"), ("5 kg.", "not a unit"), ("5 kg kg", "not a unit"), ("5 x", "not a unit"),
        ("1 000 g", "not a unit"), ("1'000 g", "not a unit"), ("1_000 g", "not a unit"), ("0x10 g", "not a unit"),
        ("5-6 g", "not a unit"), ("5+1", "not a unit"), ("5 g + 1 g", "not a unit"), ("1.2.3 g", "not a unit"),
        ("1 lb 8 oz", "not a unit"), ("5..2", "not a unit"),
        ("5 L", "is a volume"), ("5 fl oz", "is a volume"), ("5 min", "is a time"), ("5 °C", "is a temperature"),
        ("5 %", "is a share"), ("5 mg/L", "is a strength"),
        ("1 fl oz in 4 gal", "is a dose rate"), ("1 oz in 4 kg", "not a unit"), ("1 oz in 0 gal", "in nothing"),
        ("1 oz in", "not a unit"), ("1 in 4 gal", "not a unit"), ("1 oz in 4", "not a unit"),
        ("1 oz in -4 gal", "not a unit"),
    ],
)  # fmt: skip
def test_refused_for_a_mass(text: str, says: str) -> None:
    mass = find("HOP_BITTERNESS").params[0]
    with pytest.raises(BadInput, match=says) as caught:
        mass.read(text)
    assert str(caught.value).startswith(f'mass "{text}"')


def test_a_temperature_difference_is_not_a_temperature() -> None:
    strike, ramp = find("MASH_STRIKE_TEMP").call, find("BEER_RAMP_TEMP").call
    for wrong in ("3 °C", "3 °F", "3 C"):
        with pytest.raises(BadInput, match="temperature difference is written in K or Δ°F"):
            strike(66, 18, 3, 0.4, wrong)
        with pytest.raises(BadInput, match="temperature difference"):
            ramp(7, 18, 5, 21, wrong)
    for wrong in ("66 Δ°C", "66 delta °F"):
        with pytest.raises(BadInput, match="temperature difference"):
            strike(wrong, 18, 3)
    assert strike(66, 18, 3, 0.4, "5.4 Δ°F") == pytest.approx(strike(66, 18, 3, 0.4, 3), rel=1e-14)


def test_a_refractometer_reading_is_not_a_gravity() -> None:
    with pytest.raises(BadInput, match="WORT_REFRACTOMETER"):
        find("WORT_EXTRACT").call(20, "12 Brix")


@pytest.mark.parametrize(
    ("from_unit", "to_unit", "says"),
    [
        ("kg", "L", '"kg" is a mass and "L" a volume: no conversion'),
        ("°C", "min", "temperature"),
        ("oz", "fl oz", "no conversion"),
        ("dollop", "L", '"dollop" is not a unit known here'),
        ("L", "dollop", '"dollop" is not a unit known here'),
        ("°P", "EBC", "no conversion"),
        ("SG", "Brix", "no conversion"),
    ],
)
def test_pairs_without_a_conversion(from_unit: str, to_unit: str, says: str) -> None:
    with pytest.raises(BadInput) as caught:
        find("UNIT_CONVERT").call(1, from_unit, to_unit)
    assert says in str(caught.value)


def test_an_unknown_unit_is_told_what_is_wanted() -> None:
    with pytest.raises(BadInput, match=r'"dollop" is not a unit known here; volume is written in L, '):
        find("BOIL_OFF_SHARE").call("5 dollop", 0.1, 60)
    with pytest.raises(BadInput, match=r'"dollop" is not a unit known here; a bare number is wanted'):
        find("MASH_STRIKE_TEMP").call(66, 18, 3, "0.4 dollop")


def test_a_capital_letter_alone_is_no_small_one() -> None:
    """K is kelvin and k nothing by itself; longer units may be shouted or whispered."""
    assert convert(300, "K", "°C") == pytest.approx(26.85)
    with pytest.raises(BadInput):
        convert(300, "k", "°C")
    assert convert(100, "FT", "m") == convert(100, "ft", "M")


def test_a_scale_reaches_to_its_ends_and_no_further() -> None:
    for dimension in DIMENSIONS:
        if dimension.reach is None:
            continue
        low, high, _ = dimension.reach
        base, other = dimension.units[0], dimension.units[1]
        for end in (low, high):
            dimension.convert(end, base, other)
        for beyond in (math.nextafter(low, -math.inf), math.nextafter(high, math.inf)):
            with pytest.raises(OutOfRange, match="has no meaning"):
                dimension.convert(beyond, base, other)


def test_units_of_the_same_name_mean_what_their_partner_means() -> None:
    """K, g/L, ppm, L and /h each belong to several kinds; the other unit decides."""
    assert convert(1, "g/L", "mg/L") == pytest.approx(1000)
    assert convert(1.9768, "g/L", "vol") == pytest.approx(1)
    assert convert(1080, "g/L", "kg/L") == pytest.approx(1.08)
    assert convert(10, "L", "SRM") == pytest.approx(12.786)
    assert convert(10, "L", "gal") == pytest.approx(2.641720524)
    assert convert(6, "/h", "/min") == pytest.approx(0.1)
    assert convert(0.1, "/h", "%/h") == pytest.approx(10)
    assert convert(5, "ppm", "g/kg") == pytest.approx(0.005)
    assert convert(5, "ppm", "g/L") == pytest.approx(0.005)


def test_a_long_text_is_read_in_a_moment() -> None:
    """32,767 characters fit in a cell; a pattern that goes back and forth over them would take seconds for each."""
    assert parse("5 x" + " " * 30000 + "x") == (5, "x x")
    assert parse(" " * 30000 + "5" + " " * 30000) == (5, "")
    assert parse("5" * 30000 + "x") == (math.inf, "x")  # which every range refuses
    assert parse("5 kg" * 8000) == (5, "kg" + "5 kg" * 7999)
    with pytest.raises(OutOfRange, match="mass is too large a number"):
        find("HOP_BITTERNESS").call("5" * 30000 + " g", 0.05, 60, 20)
    with pytest.raises(BadInput, match="is not a unit known here"):
        find("HOP_BITTERNESS").call("5 kg" * 8000, 0.05, 60, 20)


def test_parse_shows_what_it_read() -> None:
    assert parse("25.5 L") == (25.5, "L")
    assert parse(" -2.5e-1°C ") == (-0.25, "°C")
    assert parse("12") == (12.0, "")


# -- pint ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("dimension", DIMENSIONS, ids=lambda d: d.name)
def test_pint_quantities_of_the_notebook_registry(dimension: Dimension) -> None:
    """Every unit has a name in the registry that brings it back as the same number."""
    ureg = registry()
    for unit in dimension.units:
        name = units._PINT.get(unit.symbol, unit.symbol)
        quantity = Quantity(dimension)
        given = ureg.Quantity(1.1, name)
        assert from_pint(given, quantity) == pytest.approx(unit.to_base(1.1), rel=1e-12), name
        arrays = from_pint(ureg.Quantity(numpy.array([1.1, 1.15]), name), quantity)
        assert arrays == pytest.approx([unit.to_base(1.1), unit.to_base(1.15)], rel=1e-12)


def test_a_temperature_is_written_as_a_number_times_its_unit() -> None:
    """As in a notebook; pint refuses that of a scale with a zero of its own unless it is told otherwise."""
    assert (40 * registry().degC).to("kelvin").magnitude == pytest.approx(313.15, rel=1e-12)


def test_pint_quantities_of_any_registry(ureg: Any) -> None:
    density, bitterness = find("WATER_DENSITY").call, find("HOP_BITTERNESS").call
    assert density(ureg.Quantity(68, "degF")) == pytest.approx(density(20), rel=1e-12)
    assert bitterness(ureg.Quantity(1, "oz"), ureg.Quantity(5.5, "percent"), ureg.Quantity(1, "hour"), 20) == (
        pytest.approx(bitterness(28.349523125, 0.055, 60, 20), rel=1e-12)
    )
    masses = ureg.Quantity(numpy.array([1.0, 2.0]), "oz")
    expected = [bitterness(28.349523125, 0.055, 60, 20), bitterness(56.69904625, 0.055, 60, 20)]
    assert bitterness(masses, 0.055, 60, 20) == pytest.approx(expected, rel=1e-12)
    by_name = [expected[0], bitterness(56.69904625, 0.055, 60, 20, 1.05, "rager table")]
    with_names = bitterness(masses, 0.055, 60, 20, 1.05, ["tinseth", "rager table"])
    assert with_names == pytest.approx(by_name, rel=1e-12), "the units must not get lost where names lift too"
    assert bitterness([ureg.Quantity(1, "oz"), "2 oz"], 0.055, 60, 20) == pytest.approx(expected, rel=1e-12)
    color = find("WORT_COLOR").call
    assert color(ureg.Quantity([8.0, 1.0], "lb"), [2, 40], ureg.Quantity(5, "gallon")) == pytest.approx(
        color(["8 lb", "1 lb"], [2, 40], "5 gal"), rel=1e-12
    )


@pytest.mark.parametrize(
    ("name", "wrong"),
    [
        ("WATER_DENSITY", (5, "kg")),
        ("WATER_DENSITY", (20, "delta_degC")),
        ("WORT_PLATO", (1, "liter")),
        ("BOIL_TEMP", (1, "s")),
        ("BOIL_EVAPORATION_ENERGY", (5, "g")),
    ],
)
def test_pint_quantities_of_another_kind(ureg: Any, name: str, wrong: tuple[float, str]) -> None:
    with pytest.raises(BadInput):
        find(name).call(ureg.Quantity(*wrong))


def test_a_temperature_from_pint_is_not_a_difference(ureg: Any) -> None:
    with pytest.raises(BrewError):
        find("MASH_STRIKE_TEMP").call(66, 18, 3, 0.4, ureg.Quantity(3, "degC"))
    assert find("MASH_STRIKE_TEMP").call(66, 18, 3, 0.4, ureg.Quantity(3, "delta_degC")) == pytest.approx(
        find("MASH_STRIKE_TEMP").call(66, 18, 3, 0.4, 3)
    )


def test_answers_carry_the_declared_unit() -> None:
    """What a result's unit is called exists in the vocabulary, so that sheets can convert it."""
    for function in CATALOGUE.values():
        if not function.gives_text:
            assert function.result.unit in function.result.dimension.units
            assert math.isfinite(function.result.unit.factor)
