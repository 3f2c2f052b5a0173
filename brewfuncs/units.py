"""The vocabulary of quantities, one strict parser of quantity text, and conversions.

A `Quantity` is what a function's argument or result *is* (a mass in g, a share, a gravity), a `Unit` one way to write
it. Text is read whole or refused: `"1 1/2 oz"` and `"1,5 kg"` are never read as something else.

>>> convert(5, "gal", "L")
18.92706
>>> convert(12, "°P", "SG")
1.04837
>>> read("66 °C", TEMPERATURE)
66.0
"""

import re
from functools import cache, lru_cache
from typing import Annotated, Any, Callable, NamedTuple, Optional

from .errors import BadInput, OutOfRange

__all__ = ["DIMENSIONS", "Quantity", "Unit", "convert", "parse", "read", "registry", "shown"]


# -- the curved scales: their equations live here, the worksheet functions read them ---------------------------


def plato_of_gravity(gravity: Any) -> Any:
    """°P of an SG 20/20 °C: cubic fit to the ASBC table."""
    return -616.868 + gravity * (1111.14 + gravity * (-630.272 + gravity * 135.997))


# That cubic as x³ + p x + q, x = SG - shift: it rises everywhere, so Cardano's formula gives its one root.
_SHIFT = 630.272 / (3 * 135.997)
_P = 1111.14 / 135.997 - 3 * _SHIFT**2
_Q = (plato_of_gravity(_SHIFT)) / 135.997


def gravity_of_plato(plato: Any) -> Any:
    """The exact inverse of `plato_of_gravity`, and no other number however large or small `plato` is."""
    half = (_Q - plato / 135.997) / 2
    root = (half * half + (_P / 3) ** 3) ** 0.5
    gravity = _SHIFT + (root - half) ** (1 / 3) - (root + half) ** (1 / 3)
    slope = 1111.14 + gravity * (-2 * 630.272 + gravity * 3 * 135.997)
    return gravity - (plato_of_gravity(gravity) - plato) / slope  # one step of Newton's against rounding


def srm_of_lovibond(lovibond: Any) -> Any:
    """SRM of a malt colour in °Lovibond: 1.3546 °L - 0.76, as commonly quoted, and 0 where that line is below it."""
    line = 1.3546 * lovibond - 0.76
    return (line + abs(line)) / 2


def lovibond_of_srm(srm: Any) -> Any:
    return (srm + 0.76) / 1.3546


# -- units ---------------------------------------------------------------------------------------------------------


class Unit(NamedTuple):
    """One unit of a dimension: base = factor * value + offset, or the two functions of a curved scale."""

    symbol: str
    factor: float = 1.0
    offset: float = 0.0
    aliases: tuple[str, ...] = ()
    curve: Optional[tuple[Callable[[Any], Any], Callable[[Any], Any]]] = None  # to base, from base

    def to_base(self, value: Any) -> Any:
        return self.curve[0](value) if self.curve else value * self.factor + self.offset

    def from_base(self, value: Any) -> Any:
        return self.curve[1](value) if self.curve else (value - self.offset) / self.factor


class Dimension(NamedTuple):
    """A kind of quantity and the units it may be written in; the first is the base."""

    name: str
    units: tuple[Unit, ...]
    reach: Optional[tuple[float, float, str]] = None  # in the base unit, and why conversions end there

    @property
    def spellings(self) -> dict[str, Unit]:
        return _spellings(self)

    def convert(self, value: Any, from_unit: Unit, to_unit: Unit) -> Any:
        """`value`, a float or an array, in another of the units; raises OutOfRange where a scale doesn't reach.

        A float is rounded to 15 digits, so that 140 °F is 60 °C and 9.884 g/L are 5 volumes where a range ends there.
        """
        if from_unit == to_unit:
            return value
        base = from_unit.to_base(value)
        if self.reach is not None:
            low, high, why = self.reach
            inside: Any = (low <= base) & (base <= high)
            if inside.__class__ is bool and not inside:
                raise OutOfRange(f"{shown(value, from_unit.symbol)} has no meaning: {why}")
            if inside.__class__ is not bool and not inside.all():
                raise OutOfRange(f"not all of these {from_unit.symbol} have a meaning: {why}")
        converted = to_unit.from_base(base)
        return float(f"{converted:.15g}") if converted.__class__ is float else converted


@cache
def _spellings(dimension: Dimension) -> dict[str, Unit]:
    """Every accepted spelling, exact ones first, then without regard to case where that stays unambiguous."""
    exact: dict[str, Unit] = {}
    for unit in dimension.units:
        for text in (unit.symbol, *unit.aliases):
            if text in exact:
                raise TypeError(f"{text!r} stands twice in {dimension.name}")
            exact[text] = unit
    folded: dict[str, list[Unit]] = {}
    for text, unit in exact.items():
        folded.setdefault(text.casefold(), []).append(unit)
    loose = {text: units[0] for text, units in folded.items() if len(set(units)) == 1 and len(text) > 1}
    return {**loose, **exact}


_GALLON, _IMP_GALLON, _POUND, _BTU = 3.785411784, 4.54609, 453.59237, 1055.05585262  # L, L, g, J: exact by definition
_OUNCE, _GRAIN, _INCH, _PSI = _POUND / 16, _POUND / 7000, 0.0254, 6.894757293168361e-2  # g, g, m, bar

_VOLUME = Dimension(
    "volume",
    (
        Unit("L", 1.0, aliases=("l", "litre", "litres", "liter", "liters")),
        Unit("mL", 1e-3, aliases=("ml",)),
        Unit("hL", 100.0, aliases=("hl",)),
        Unit("gal", _GALLON, aliases=("US gal", "gallon", "gallons")),
        Unit("qt", _GALLON / 4, aliases=("US qt", "quart", "quarts")),
        Unit("pt", _GALLON / 8, aliases=("US pt", "pint", "pints")),
        Unit("fl oz", _GALLON / 128, aliases=("US fl oz", "floz")),
        Unit("imp gal", _IMP_GALLON),
        Unit("imp pt", _IMP_GALLON / 8),
        Unit("bbl", 31 * _GALLON, aliases=("US bbl",)),
    ),
)
_MASS = Dimension(
    "mass",
    (
        Unit("g", 1.0, aliases=("gram", "grams")),
        Unit("kg", 1000.0, aliases=("kilogram", "kilograms")),
        Unit("mg", 1e-3),
        Unit("oz", _OUNCE, aliases=("ounce", "ounces")),
        Unit("lb", _POUND, aliases=("lbs", "pound", "pounds")),
    ),
)
_TEMPERATURE = Dimension(
    "temperature",
    (
        Unit("°C", aliases=("C", "degC", "° C", "Celsius")),
        Unit("°F", 5 / 9, -160 / 9, aliases=("F", "degF", "° F", "Fahrenheit")),
        Unit("K", 1.0, -273.15),
    ),
    (-273.15 - 1e-9, 1e300, "nothing is colder than -273.15 °C"),
)
_DIFFERENCE = Dimension(
    "temperature difference", (Unit("K"), Unit("Δ°C", aliases=("delta °C",)), Unit("Δ°F", 5 / 9, aliases=("delta °F",)))
)
_TIME = Dimension(
    "time",
    (
        Unit("min", aliases=("mins", "minute", "minutes")),
        Unit("h", 60.0, aliases=("hour", "hours", "hr", "hrs")),
        Unit("s", 1 / 60, aliases=("second", "seconds", "sec")),
        Unit("d", 1440.0, aliases=("day", "days")),
    ),
)
_GRAVITY = Dimension(
    "gravity",
    (Unit("SG"), Unit("°P", aliases=("P", "Plato", "°Plato"), curve=(gravity_of_plato, plato_of_gravity))),
    (0.98 - 1e-9, 1.2 + 1e-9, "gravity and °P are tied from 0.98 to 1.2 SG, that is -5.26 to 43.91 °P"),
)
_BRIX = Dimension("refractometer reading", (Unit("Brix", aliases=("°Bx", "Bx", "°Brix")),))
_COLOUR = Dimension(
    "colour",
    (
        Unit("SRM"),
        Unit("EBC", 12.7 / 25),
        Unit("°L", aliases=("L", "Lovibond", "°Lovibond"), curve=(srm_of_lovibond, lovibond_of_srm)),
    ),
)
_PRESSURE = Dimension(
    "pressure", (Unit("bar"), Unit("psi", _PSI), Unit("kPa", 0.01), Unit("mbar", 1e-3), Unit("atm", 1.01325))
)
_ENERGY = Dimension("energy", (Unit("kWh"), Unit("MJ", 1 / 3.6), Unit("kJ", 1 / 3600), Unit("BTU", _BTU / 3.6e6)))
_POWER = Dimension("power", (Unit("kW"), Unit("W", 1e-3), Unit("BTU/h", _BTU / 3.6e6)))
_FLOW = Dimension(
    "flow",
    (
        Unit("L/h", aliases=("l/h", "L/hr", "L/hour")),
        Unit("mL/min", 0.06, aliases=("ml/min",)),
        Unit("gal/h", _GALLON, aliases=("gal/hr", "gal/hour")),
        Unit("qt/h", _GALLON / 4, aliases=("qt/hr",)),
        Unit("imp gal/h", _IMP_GALLON, aliases=("imp gal/hr",)),
    ),
)
_LENGTH = Dimension(
    "length", (Unit("m"), Unit("cm", 0.01), Unit("mm", 1e-3), Unit("µm", 1e-6, aliases=("um",)),
               Unit("km", 1000.0), Unit("ft", 12 * _INCH, aliases=("foot", "feet")),
               Unit("in", _INCH, aliases=("inch", "inches")))
)  # fmt: skip
_AREA = Dimension(
    "area",
    (
        Unit("m²", aliases=("m2",)),
        Unit("cm²", 1e-4, aliases=("cm2",)),
        Unit("ft²", (12 * _INCH) ** 2, aliases=("ft2",)),
        Unit("in²", _INCH**2, aliases=("in2",)),
    ),
)
_WATER_RATIO = Dimension("water ratio", (Unit("L/kg", aliases=("l/kg",)), Unit("qt/lb", _GALLON / 4 / _POUND * 1000)))
_STRENGTH = Dimension(
    "strength",
    (
        Unit("mg/L", aliases=("mg/l", "ppm")),
        Unit("µg/L", 1e-3, aliases=("µg/l", "ug/L", "ppb")),
        Unit("g/L", 1000.0, aliases=("g/l",)),
        Unit("oz/gal", _OUNCE * 1000 / _GALLON),
        Unit("g/gal", 1000 / _GALLON),
        Unit("gr/gal", _GRAIN * 1000 / _GALLON, aliases=("gpg",)),
    ),
)
AS_CACO3 = 50.04  # mg of calcium carbonate a milliequivalent
_AS_CARBONATE = (
    Unit("mg/L", aliases=("mg/l", "ppm", "mg/L CaCO3")),
    Unit("meq/L", AS_CACO3, aliases=("meq/l", "mEq/L")),
    Unit("°dH", 17.848, aliases=("dH", "°d")),
    Unit("°e", _GRAIN * 1000 / _IMP_GALLON, aliases=("°Clark", "gr/imp gal")),
    Unit("°fH", 10.0, aliases=("fH",)),  # °f is a temperature
    Unit("gr/gal", _GRAIN * 1000 / _GALLON, aliases=("gpg",)),
)
# A bare mmol/L is in neither: waterworks mean 1 meq by it where it is alkalinity and 2 where it is hardness.
_ALKALINITY = Dimension(
    "alkalinity",
    (
        *_AS_CARBONATE,
        Unit("mmol/L HCO3", AS_CACO3, aliases=("mmol/l HCO3",)),
        Unit("mg/L HCO3", AS_CACO3 / 61.017, aliases=("mg/l HCO3", "ppm HCO3")),
    ),
)
_HARDNESS = Dimension(
    "hardness",
    (
        *_AS_CARBONATE,
        Unit("mmol/L CaCO3", 2 * AS_CACO3, aliases=("mmol/l CaCO3", "mmol/L Ca", "mmol/l Ca")),
        Unit("mg/L Ca", 2 * AS_CACO3 / 40.078, aliases=("mg/l Ca", "ppm Ca")),
        Unit("mg/L Mg", 2 * AS_CACO3 / 24.305, aliases=("mg/l Mg", "ppm Mg")),
    ),
)
_DOSE_RATE = Dimension(
    "dose rate",
    (
        Unit("mL/L", aliases=("ml/L", "ml/l")),
        Unit("fl oz/gal", 1000 / 128, aliases=("floz/gal",)),
        Unit("mL/gal", 1 / _GALLON, aliases=("ml/gal",)),
    ),
)
_CONTENT = Dimension("content", (Unit("mg/kg", aliases=("ppm", "µg/g")), Unit("g/kg", 1000.0)))
_DENSITY = Dimension(
    "density", (Unit("kg/L", aliases=("g/mL", "g/ml", "g/cm³", "kg/l")), Unit("kg/m³", 1e-3, aliases=("g/L",)),
                Unit("lb/gal", _POUND / 1000 / _GALLON))
)  # fmt: skip
_SHARE = Dimension("share", (Unit(""), Unit("%", 0.01, aliases=("percent", "per cent"))))
_SHARE_AN_HOUR = Dimension("share an hour", (Unit("/h", aliases=("", "1/h")), Unit("%/h", 0.01, aliases=("%",))))
_BITTERNESS = Dimension("bitterness", (Unit("mg/L", aliases=("IBU", "IBUs", "mg/l", "ppm")),))
_CARBONATION = Dimension(
    "carbonation", (Unit("vol", aliases=("vols", "volumes")), Unit("g/L", 1 / 1.9768, aliases=("g/l",)))
)
_CELL_DENSITY = Dimension("cell density", (Unit("billion/mL", aliases=("billion/ml",)),
                                          Unit("million/mL", 1e-3, aliases=("million/ml",))))  # fmt: skip
_PER_MINUTE = Dimension("rate", (Unit("/min", aliases=("1/min",)), Unit("/h", 1 / 60, aliases=("1/h",))))


def _plain(name: str, symbol: str) -> Dimension:
    """A dimension with one unit: nothing to convert, but a name for messages and help."""
    return Dimension(name, (Unit(symbol),))


SLIPS: dict[tuple[str, str], str] = {}  # (kind given, kind wanted) -> the way from one to the other, by who knows it


class Quantity:
    """What a number is and the unit it is computed in.

    `dimension` says in which units its text may be written, `unit` is the one the formulas use.
    """

    __slots__ = ("dimension", "seen", "unit")

    def __init__(self, dimension: Dimension, unit: str = "") -> None:
        self.dimension = dimension
        self.unit = dimension.spellings[unit or dimension.units[0].symbol]
        self.seen: dict[str, float] = {}  # quantity text read before: sheets repeat themselves

    @property
    def symbol(self) -> str:
        return self.unit.symbol

    def __repr__(self) -> str:
        return f"Quantity({self.dimension.name!r}, {self.symbol!r})"

    def number(self, text: str) -> float:
        """The number that quantity text stands for, in this quantity's own unit."""
        try:
            return self.seen[text]
        except KeyError:
            number = self._read(text)
            if len(self.seen) < 4096:
                self.seen[text] = number
            return number

    def _read(self, text: str) -> float:
        number, symbol = parse(text)
        if not symbol:
            return number
        unit = self.dimension.spellings.get(symbol) or self.dimension.spellings.get(symbol.casefold())
        if unit is not None:
            return float(self.dimension.convert(number, unit, self.unit))
        if self.dimension is _DIFFERENCE and symbol in _TEMPERATURE.spellings:
            raise BadInput(f'"{text}" is a temperature; a temperature difference is written in K or Δ°F')
        other = _dimension_of(symbol)
        way = SLIPS.get((other.name, self.dimension.name)) if other else None
        if other is not None and way:
            raise BadInput(f'"{text}" is {_article(other.name)}: {way}')
        symbols = ", ".join(u.symbol for u in self.dimension.units if u.symbol)
        if other is None:
            wanted = f"{self.dimension.name} is written in {symbols}" if symbols else "a bare number is wanted"
            raise BadInput(f'"{text}": "{symbol}" is not a unit known here; {wanted}')
        wanted = f"{_article(self.dimension.name)} ({symbols})" if symbols else "a bare number"
        raise BadInput(f'"{text}" is {_article(other.name)}, not {wanted}')


def _article(noun: str) -> str:
    return noun if noun in ("energy", "power", "carbonation", "bitterness") else f"a{'n' * (noun[0] in 'aeiou')} {noun}"


class Text:
    """A word or sentence rather than a number: the quantity of names, and of results that are text."""

    __slots__ = ()
    symbol = ""

    def __repr__(self) -> str:
        return "Text()"


class Anything:
    """An argument handed on as it is: a number, a text, a range (the variable arguments of BREW_REASON)."""

    __slots__ = ()
    symbol = ""

    def __repr__(self) -> str:
        return "Anything()"


TEMPERATURE = Quantity(_TEMPERATURE)

# What the formulas' signatures say. To a type checker they are Any: a kernel takes floats or arrays, its caller
# numbers, arrays, quantity text or pint quantities.
Litre = Annotated[Any, Quantity(_VOLUME, "L")]
Millilitre = Annotated[Any, Quantity(_VOLUME, "mL")]
Gram = Annotated[Any, Quantity(_MASS, "g")]
Kilogram = Annotated[Any, Quantity(_MASS, "kg")]
Milligram = Annotated[Any, Quantity(_MASS, "mg")]
Celsius = Annotated[Any, TEMPERATURE]
Kelvin = Annotated[Any, Quantity(_DIFFERENCE)]
Minute = Annotated[Any, Quantity(_TIME, "min")]
Day = Annotated[Any, Quantity(_TIME, "d")]
Gravity = Annotated[Any, Quantity(_GRAVITY, "SG")]
Plato = Annotated[Any, Quantity(_GRAVITY, "°P")]
Brix = Annotated[Any, Quantity(_BRIX)]
Ebc = Annotated[Any, Quantity(_COLOUR, "EBC")]
Lovibond = Annotated[Any, Quantity(_COLOUR, "°L")]
Bar = Annotated[Any, Quantity(_PRESSURE)]
KilowattHour = Annotated[Any, Quantity(_ENERGY)]
Kilowatt = Annotated[Any, Quantity(_POWER)]
LitreAnHour = Annotated[Any, Quantity(_FLOW)]
Metre = Annotated[Any, Quantity(_LENGTH, "m")]
Micrometre = Annotated[Any, Quantity(_LENGTH, "µm")]
SquareMetre = Annotated[Any, Quantity(_AREA)]
LitrePerKilogram = Annotated[Any, Quantity(_WATER_RATIO)]
MilligramPerLitre = Annotated[Any, Quantity(_STRENGTH, "mg/L")]
Alkalinity = Annotated[Any, Quantity(_ALKALINITY, "mg/L")]
Hardness = Annotated[Any, Quantity(_HARDNESS, "mg/L")]
MicrogramPerLitre = Annotated[Any, Quantity(_STRENGTH, "µg/L")]
MillilitrePerLitre = Annotated[Any, Quantity(_DOSE_RATE)]
MilligramPerKilogram = Annotated[Any, Quantity(_CONTENT)]
KilogramPerLitre = Annotated[Any, Quantity(_DENSITY)]
Share = Annotated[Any, Quantity(_SHARE)]
ShareAnHour = Annotated[Any, Quantity(_SHARE_AN_HOUR)]
Bitterness = Annotated[Any, Quantity(_BITTERNESS)]
Carbonation = Annotated[Any, Quantity(_CARBONATION)]
PerMinute = Annotated[Any, Quantity(_PER_MINUTE)]
Number = Annotated[Any, Quantity(_plain("number", ""))]
PasteurUnits = Annotated[Any, Quantity(_plain("pasteurisation", "PU"))]
BillionCells = Annotated[Any, Quantity(_plain("yeast", "billion cells"))]
CellDensity = Annotated[Any, Quantity(_CELL_DENSITY)]
CellsPerGram = Annotated[Any, Quantity(_plain("cells in dry yeast", "billion/g"))]
PitchRate = Annotated[Any, Quantity(_plain("pitching rate", "million/mL/°P"))]
KilocaloriePer100Millilitre = Annotated[Any, Quantity(_plain("food energy", "kcal/100 mL"))]
Buffering = Annotated[Any, Quantity(_plain("buffering", "meq/kg/pH"))]
HeatTransfer = Annotated[Any, Quantity(_plain("heat transfer", "W/m²K"))]
BitternessPerPoint = Annotated[Any, Quantity(_plain("balance", "mg/L per point"))]
Ph = Annotated[Any, Quantity(_plain("pH", "pH"))]
Word = Annotated[Any, Text()]
Sentence = Annotated[Any, Text()]
Anyhow = Annotated[Any, Anything()]

DIMENSIONS: tuple[Dimension, ...] = (
    _VOLUME, _MASS, _TEMPERATURE, _DIFFERENCE, _TIME, _GRAVITY, _BRIX, _COLOUR, _PRESSURE, _ENERGY, _POWER, _FLOW,
    _LENGTH, _AREA, _WATER_RATIO, _STRENGTH, _ALKALINITY, _HARDNESS, _DOSE_RATE, _CONTENT, _DENSITY, _SHARE,
    _SHARE_AN_HOUR, _BITTERNESS, _CARBONATION, _PER_MINUTE, _CELL_DENSITY,
)  # fmt: skip


# -- reading -------------------------------------------------------------------------------------------------------

_NUMBER_THEN_UNIT = re.compile(r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)", re.DOTALL | re.ASCII)
_LOOKALIKES = str.maketrans({"º": "°", "˚": "°", "μ": "µ", "\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " "})
_FRACTION = re.compile(r"\d*\s*[/\u2044]\s*\d|[\u00bc-\u00be\u2150-\u215e]", re.ASCII)
#: what a label says after its amount: "fl oz in 4 gal", "mL per L"
_IN_SO_MUCH = re.compile(r"(\S.*?) (?:in|per) (?:(\d+(?:\.\d*)?) ?)?(\D.*)", re.DOTALL | re.ASCII)


def parse(text: str) -> tuple[float, str]:
    """Quantity text as (number, unit symbol as written); the symbol is "" for a bare number.

    >>> parse("25.5 L")
    (25.5, 'L')

    A dose as a label has it is a rate:

    >>> parse("1 fl oz in 4 gal")
    (0.25, 'fl oz/gal')

    Raises BadInput for decimal commas, fractions, and what doesn't begin with a number.
    """
    match = _NUMBER_THEN_UNIT.fullmatch(text.translate(_LOOKALIKES).rstrip())
    if match is None:
        raise BadInput(f'"{text}" is not a number or a quantity such as 5.5 kg')
    number, unit = match.groups()
    if unit[:1] == "," or re.search(r"\d,\d", text):
        raise BadInput(f'"{text}" has a comma: write a decimal point and no thousands separators, as in 1.5 kg')
    if _FRACTION.match(unit):
        raise BadInput(f'"{text}" has a fraction: write a decimal number, as in 1.5 oz')
    unit = re.sub(r"\s+", " ", unit)
    label = _IN_SO_MUCH.fullmatch(unit)
    if label is None:
        return float(number), unit
    so_much = float(label[2] or 1)
    if so_much == 0:
        raise BadInput(f'"{text}" is an amount in nothing')
    return float(number) / so_much, f"{label[1]}/{label[3]}"


def read(text: str, quantity: Quantity) -> float:
    """The number that `text` stands for in `quantity`'s own unit."""
    return quantity.number(text)


def _dimension_of(*symbols: str) -> Optional[Dimension]:
    """The first dimension in which every one of these symbols is a unit."""
    for dimension in DIMENSIONS:
        if all(s in dimension.spellings or s.casefold() in dimension.spellings for s in symbols):
            return dimension
    return None


@lru_cache(maxsize=1024)
def _pair(from_unit: str, to_unit: str) -> tuple[Dimension, Unit, Unit]:
    names = [re.sub(r"\s+", " ", u.translate(_LOOKALIKES)).strip() for u in (from_unit, to_unit)]
    dimension = _dimension_of(*names)
    if dimension is None:
        for name in names:
            if _dimension_of(name) is None:
                raise BadInput(f'"{name}" is not a unit known here')
        one, other = (_dimension_of(name) for name in names)
        assert one is not None
        assert other is not None
        raise BadInput(f'"{names[0]}" is {_article(one.name)} and "{names[1]}" {_article(other.name)}: no conversion')
    spellings = dimension.spellings
    first, second = (spellings.get(n) or spellings[n.casefold()] for n in names)
    return dimension, first, second


def convert(value: Any, from_unit: str, to_unit: str) -> Any:
    """`value` in another unit of the same kind; `value` may be an array.

    >>> convert(1, "fl oz/gal", "mL/L")
    7.8125

    Raises BadInput where a unit is unknown or the two are of different kinds, OutOfRange where a scale doesn't reach.
    """
    dimension, first, second = _pair(from_unit, to_unit)
    return dimension.convert(value, first, second)


def shown(value: float, symbol: str) -> str:
    """A number with its unit as messages show it.

    >>> shown(120.0, "°C")
    '120 °C'
    """
    return f"{value + 0.0:.6g} {symbol}".rstrip()  # 0 that comes as -0.0 is 0


# -- pint: an oracle for the tests, a registry for notebooks, quantities accepted from Python -----------------------

_PINT = {
    "": "dimensionless", "%": "percent", "/h": "1/hour", "%/h": "percent/hour", "/min": "1/minute", "°C": "degC",
    "°F": "degF", "K": "kelvin", "Δ°C": "delta_degC", "Δ°F": "delta_degF", "gal": "gallon", "qt": "quart", "pt": "pint",
    "fl oz": "fluid_ounce", "imp gal": "imperial_gallon", "imp pt": "imperial_pint", "bbl": "beer_barrel", "h": "hour",
    "min": "minute", "s": "second", "d": "day", "lb": "pound", "oz": "ounce", "psi": "psi", "BTU": "Btu_it",
    "BTU/h": "Btu_it/hour", "gal/h": "gallon/hour", "qt/h": "quart/hour", "imp gal/h": "imperial_gallon/hour",
    "mL/min": "mL/minute", "L/h": "L/hour", "m²": "m**2", "cm²": "cm**2", "ft²": "foot**2", "in²": "inch**2",
    "ft": "foot", "in": "inch", "qt/lb": "quart/pound", "oz/gal": "ounce/gallon", "g/gal": "gram/gallon",
    "gr/gal": "grain/gallon", "meq/L": "meq_CaCO3/L",
    "°dH": "degdH", "°e": "grain/imperial_gallon", "°fH": "degfH", "mmol/L HCO3": "meq_CaCO3/L",
    "mmol/L CaCO3": "mmol_CaCO3/L", "mg/L HCO3": "mg_HCO3/L", "mg/L Ca": "mg_Ca/L", "mg/L Mg": "mg_Mg/L",
    "mL/gal": "mL/gallon", "fl oz/gal": "fluid_ounce/gallon", "lb/gal": "pound/gallon",
    "kg/m³": "kg/m**3", "SG": "SG", "°P": "degPlato", "Brix": "Brix",
    "EBC": "EBC", "SRM": "SRM", "°L": "degLovibond", "vol": "vol_CO2",
}  # fmt: skip
_CURVED = ("SG", "°P", "Brix", "EBC", "SRM", "°L")


@lru_cache(maxsize=1)
def registry() -> Any:
    """A pint UnitRegistry with the brewing units defined, for notebooks; needs pint.

    SG, degPlato, Brix, EBC, SRM and degLovibond are labels there, converted by this package's own functions.
    """
    import pint

    ureg: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    for name in _CURVED:
        ureg.define(f"{_PINT[name]} = []")
    ureg.define("million = 1e6 count")
    ureg.define("billion = 1e9 count")
    ureg.define("vol_CO2 = 1.9768 * gram / liter")
    ureg.define(f"meq_CaCO3 = {AS_CACO3} * milligram")
    for name, factor in (("mmol_CaCO3", 2.0), ("mg_HCO3", 1 / 61.017), ("mg_Ca", 2 / 40.078), ("mg_Mg", 2 / 24.305)):
        ureg.define(f"{name} = {factor!r} * meq_CaCO3")
    ureg.define("degdH = 17.848 * milligram / liter")
    ureg.define("degfH = 10 * milligram / liter")
    return ureg


def from_pint(value: Any, quantity: Quantity) -> Any:
    """The magnitude of a pint quantity in `quantity`'s own unit.

    Raises BadInput where pint knows no conversion.
    """
    for symbol in _CURVED:
        if str(value.units) == _PINT[symbol]:
            return convert(value.magnitude, symbol, quantity.symbol)
    try:
        return value.to(_PINT.get(quantity.symbol, quantity.symbol)).magnitude
    except Exception as error:  # pint's errors are many and change between releases
        raise BadInput(f"{value} is not {_article(quantity.dimension.name)}: {error}") from None
