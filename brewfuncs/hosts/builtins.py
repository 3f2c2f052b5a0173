"""Functions of spreadsheet programs that the engine works out otherwise, as the programs do.

The engine is given these in place of its own. Where what a program does isn't documented, or differs from one to the
next (the midpoints of MROUND, whether 0.7/0.1 is 7), the answer is UNKNOWN: the cell is then left as it is.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import wraps
from typing import Any

from brewfuncs.errors import BrewError
from brewfuncs.xlsx.formula import whole_range, words


class Refusal(Exception):
    """An error value in place of an answer."""

    def __init__(self, kind: str) -> None:
        super().__init__(kind)
        self.kind = kind


DIVISION, MISSING, NUMBER, VALUE = "Div", "Na", "Num", "Value"
#: what right is can't be told: stops the formula, whose stored value stays
UNKNOWN = "NImpl"

#: the functions by name, as the engine calls them: with floats, texts, truth values, None for blanks, errors as dicts
BUILTINS: dict[str, Callable[..., Any]] = {}

MOST = 200_000  # elements of arrays that are gone through


class Unknown:
    """How often an answer was UNKNOWN: a formula may have taken the error for one of its data, as IFERROR does."""

    count = 0


def error(kind: str) -> dict[str, str]:
    """An error value as the engine takes it."""
    if kind == UNKNOWN:
        Unknown.count += 1
    return {"type": "Error", "kind": kind}


# ---------------------------------------------------------------- what is given
_PLAIN_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")


def number(value: Any) -> float:
    """A cell where a number is wanted."""
    if value.__class__ is float:
        return value
    if value is None:
        return 0.0
    if isinstance(value, (bool, int)):
        return float(value)
    if isinstance(value, dict):
        raise Refusal(str(value.get("kind")))
    text = str(value).strip()
    if _PLAIN_NUMBER.fullmatch(text):
        return float(text)
    # a date, an amount of money, a number with separators, a percentage: by the country
    raise Refusal(UNKNOWN if any(sign.isdigit() for sign in text) else VALUE)


def whole(value: Any) -> int:
    return math.trunc(number(value))


def elements(values: Iterable[Any]) -> Iterator[Any]:
    """All cells of some arguments, single ones and arrays."""
    for value in values:
        if isinstance(value, list):
            for row in value:
                yield from row
        else:
            yield value


def rows_of(value: Any) -> list[list[Any]]:
    return value if isinstance(value, list) else [[value]]


def answered(function: Callable[..., Any], arguments: Sequence[Any]) -> Any:
    """A function's answer, errors as the engine takes them."""
    try:
        answer = function(*arguments)
    except Refusal as refusal:
        return error(refusal.kind)
    except (ZeroDivisionError, OverflowError, ValueError):
        return error(NUMBER)
    except TypeError:  # too many or too few arguments, which no program would have let be typed
        return error(UNKNOWN)
    if isinstance(answer, int) and not isinstance(answer, bool):
        return float(answer)
    if isinstance(answer, float) and not math.isfinite(answer):
        return error(NUMBER)
    return answer


def element(given: Any, row: int, column: int) -> Any:
    """An element of an array; one row or column is repeated, and #N/A where there is none."""
    if not isinstance(given, list):
        return given
    row, column = row if len(given) > 1 else 0, column if len(given[0]) > 1 else 0
    inside = row < len(given) and column < len(given[0])
    return given[row][column] if inside else error(MISSING)


def spread(function: Callable[..., Any], arguments: Sequence[Any]) -> Any:
    """A function of single values, called for each element where it is given arrays."""
    blocks = [argument for argument in arguments if isinstance(argument, list)]
    if not blocks:
        return answered(function, arguments)
    height = max(len(block) for block in blocks)
    width = max(len(block[0]) for block in blocks)
    if height * width > MOST:
        return error(UNKNOWN)
    return [
        [answered(function, [element(argument, row, column) for argument in arguments]) for column in range(width)]
        for row in range(height)
    ]


def _single(*names: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Declare a function that takes single values, and arrays element by element."""

    def declare(function: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(function)
        def called(*arguments: Any) -> Any:
            return spread(function, arguments)

        BUILTINS.update(dict.fromkeys(names, called))
        return function

    return declare


def _entire(*names: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Declare a function that takes ranges and arrays as they are."""

    def declare(function: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(function)
        def called(*arguments: Any) -> Any:
            return answered(function, arguments)

        BUILTINS.update(dict.fromkeys(names, called))
        return function

    return declare


# ---------------------------------------------------------------- to a multiple
def _steps(number: float, step: float, toward: Callable[[float], float]) -> float:
    """How many steps a number is, rounded; UNKNOWN where that hangs on the last digit."""
    count = number / step
    nearest = round(count)
    if count != nearest and math.isclose(count, nearest, rel_tol=1e-14) and toward(count) != nearest:
        raise Refusal(UNKNOWN)
    return toward(count)


@_single("CEILING")
def _ceiling(value: Any, significance: Any) -> float:
    x, step = number(value), number(significance)
    if step == 0 or x == 0:
        return 0.0
    if x > 0 > step:
        raise Refusal(NUMBER)
    return _steps(x, step, math.ceil) * step


@_single("FLOOR")
def _floor(value: Any, significance: Any) -> float:
    x, step = number(value), number(significance)
    if x == 0:
        return 0.0
    if step == 0:
        raise Refusal(DIVISION)
    if x > 0 > step:
        raise Refusal(NUMBER)
    return _steps(x, step, math.floor) * step


@_single("CEILING.MATH")
def _ceiling_math(value: Any, significance: Any = 1.0, mode: Any = 0.0) -> float:
    x, step = number(value), abs(number(significance))
    if step == 0:
        return 0.0
    return _steps(x, step, math.floor if x < 0 and number(mode) else math.ceil) * step


@_single("FLOOR.MATH")
def _floor_math(value: Any, significance: Any = 1.0, mode: Any = 0.0) -> float:
    x, step = number(value), abs(number(significance))
    if step == 0:
        return 0.0
    return _steps(x, step, math.ceil if x < 0 and number(mode) else math.floor) * step


@_single("CEILING.PRECISE", "ISO.CEILING")
def _ceiling_precise(value: Any, significance: Any = 1.0) -> float:
    return _ceiling_math(value, significance)  # type: ignore[no-any-return]


@_single("FLOOR.PRECISE")
def _floor_precise(value: Any, significance: Any = 1.0) -> float:
    return _floor_math(value, significance)  # type: ignore[no-any-return]


@_single("MROUND")
def _mround(value: Any, multiple: Any) -> float:
    x, step = number(value), number(multiple)
    if x == 0 or step == 0:
        return 0.0
    if (x > 0) != (step > 0):
        raise Refusal(NUMBER)
    count = x / step
    # "the direction of rounding is undefined for midpoint numbers" where the multiple is a decimal (Microsoft's page)
    if not step.is_integer() and math.isclose(count % 1, 0.5, rel_tol=1e-9):
        raise Refusal(UNKNOWN)
    return math.floor(count + 0.5) * step


# ---------------------------------------------------------------- of whole numbers
def _wholes(values: Iterable[Any]) -> list[int]:
    found = []
    for value in values:
        if isinstance(value, list):
            for cell in elements([value]):
                if isinstance(cell, bool):
                    raise Refusal(VALUE)
                if cell is not None:
                    found.append(whole(cell))
        elif isinstance(value, bool):
            raise Refusal(VALUE)
        elif value is not None:
            found.append(whole(value))
    if any(value < 0 or value >= 2**53 for value in found):
        raise Refusal(NUMBER)
    return found


@_entire("GCD")
def _gcd(*values: Any) -> int:
    return math.gcd(*_wholes(values))


@_entire("LCM")
def _lcm(*values: Any) -> int:
    found = math.lcm(*_wholes(values))
    if found >= 2**53:
        raise Refusal(NUMBER)
    return found


@_single("FACTDOUBLE")
def _factdouble(value: Any) -> float:
    n = whole(value)
    if n < -1 or n > 300:
        raise Refusal(NUMBER)
    if n < 0 and not number(value).is_integer():
        raise Refusal(UNKNOWN)
    return float(math.prod(range(n, 0, -2)))


@_single("COMBINA")
def _combina(value: Any, chosen: Any) -> int:
    n, k = whole(value), whole(chosen)
    if n < 0 or k < 0 or (n == 0 < k):
        raise Refusal(NUMBER)
    return math.comb(n + k - 1, k) if n else 1


@_single("PERMUTATIONA")
def _permutationa(value: Any, chosen: Any) -> float:
    n, k = whole(value), whole(chosen)
    if n < 0 or k < 0:
        raise Refusal(NUMBER)
    return float(n**k) if k < 2000 else math.inf


@_entire("MULTINOMIAL")
def _multinomial(*values: Any) -> float:
    found = _wholes(values)
    return math.factorial(sum(found)) // math.prod(map(math.factorial, found)) if sum(found) <= 170 else math.inf


# ---------------------------------------------------------------- conditions, as databases have them
def _text_pattern(text: str, *, begins: bool) -> re.Pattern[str]:
    """* and ? stand for any characters and any one; a tilde before them takes that away."""
    parts = re.findall(r"~[*?~]|.", text, re.DOTALL)
    signs = {"*": ".*", "?": "."}
    pattern = "".join(signs.get(part) or re.escape(part.removeprefix("~") if len(part) > 1 else part) for part in parts)
    return re.compile(pattern + (".*" if begins else ""), re.IGNORECASE | re.DOTALL)


def _meets(criterion: Any) -> Callable[[Any], bool]:
    """The condition in a cell of a criteria range."""
    if isinstance(criterion, dict):
        raise Refusal(UNKNOWN)
    if criterion is None or criterion == "":
        return lambda cell: True
    if isinstance(criterion, bool):
        return lambda cell: cell is criterion
    if isinstance(criterion, (int, float)):
        wanted = float(criterion)
        return lambda cell: cell.__class__ is float and cell == wanted
    match = re.match(r"<>|<=|>=|<|>|=", criterion)
    operator = match[0] if match else ""
    rest = criterion[len(operator) :]
    if operator == "=" and not rest:
        return lambda cell: cell is None
    if operator == "<>" and not rest:
        return lambda cell: cell is not None
    if _PLAIN_NUMBER.fullmatch(rest.strip()):
        limit = float(rest)
        compared: dict[str, Callable[[float], bool]] = {
            "": lambda x: x == limit,
            "=": lambda x: x == limit,
            "<>": lambda x: x != limit,
            "<": lambda x: x < limit,
            "<=": lambda x: x <= limit,
            ">": lambda x: x > limit,
            ">=": lambda x: x >= limit,
        }
        holds = compared[operator]
        return lambda cell: holds(cell) if cell.__class__ is float else operator == "<>"
    if operator in ("", "=", "<>") and not (rest[:1].isdigit() or rest.upper() in ("TRUE", "FALSE")):
        pattern = _text_pattern(rest, begins=operator == "")
        return lambda cell: (isinstance(cell, str) and pattern.fullmatch(cell) is not None) is (operator != "<>")
    raise Refusal(UNKNOWN)  # a date, or texts by their order


def _named_column(headers: list[Any], field: Any) -> int:
    if isinstance(field, str):
        known = [str(header).casefold() for header in headers]
        if field.casefold() not in known:
            raise Refusal(VALUE)
        return known.index(field.casefold())
    column = whole(field)
    if not 1 <= column <= len(headers):
        raise Refusal(VALUE)
    return column - 1


def _selected(database: Any, criteria: Any) -> list[list[Any]]:
    """The rows of a database that meet any row of the criteria."""
    headers, *records = rows_of(database)
    asked, *alternatives = rows_of(criteria)
    if not alternatives or not records:
        raise Refusal(VALUE)
    known = [header.casefold() if isinstance(header, str) else header for header in headers]
    columns = []
    for place, name in enumerate(asked):
        key = name.casefold() if isinstance(name, str) else name
        if key is not None and key in known:
            columns.append((place, known.index(key)))
        elif any(row[place] is not None for row in alternatives):
            raise Refusal(UNKNOWN)  # a condition that is a formula
    conditions = [[(column, _meets(row[place])) for place, column in columns] for row in alternatives]
    return [record for record in records if any(all(meets(record[c]) for c, meets in tests) for tests in conditions)]


def _database(name: str, worked_out: Callable[[list[float]], float]) -> None:
    def function(database: Any, field: Any, criteria: Any) -> float:
        column = _named_column(rows_of(database)[0], field)
        found = [record[column] for record in _selected(database, criteria)]
        for cell in found:
            if isinstance(cell, dict):
                raise Refusal(str(cell.get("kind")))
        return worked_out([cell for cell in found if cell.__class__ is float])

    _entire(name)(function)


def _variance(numbers: list[float], fewer: int) -> float:
    if len(numbers) <= fewer:
        raise Refusal(DIVISION)
    mean = math.fsum(numbers) / len(numbers)
    return math.fsum((x - mean) ** 2 for x in numbers) / (len(numbers) - fewer)


def _average(numbers: list[float]) -> float:
    if not numbers:
        raise Refusal(DIVISION)
    return math.fsum(numbers) / len(numbers)


for _name, _worked_out in (
    ("DSUM", math.fsum),
    ("DPRODUCT", lambda numbers: math.prod(numbers) if numbers else 0.0),
    ("DMAX", lambda numbers: max(numbers, default=0.0)),
    ("DMIN", lambda numbers: min(numbers, default=0.0)),
    ("DAVERAGE", _average),
    ("DVAR", lambda numbers: _variance(numbers, 1)),
    ("DVARP", lambda numbers: _variance(numbers, 0)),
    ("DSTDEV", lambda numbers: math.sqrt(_variance(numbers, 1))),
    ("DSTDEVP", lambda numbers: math.sqrt(_variance(numbers, 0))),
):
    _database(_name, _worked_out)


@_entire("DCOUNT")
def _dcount(database: Any, field: Any, criteria: Any) -> int:
    found = _selected(database, criteria)
    if field is None or field == 0.0:
        return len(found)
    column = _named_column(rows_of(database)[0], field)
    return sum(record[column].__class__ is float for record in found)


@_entire("DCOUNTA")
def _dcounta(database: Any, field: Any, criteria: Any) -> int:
    found = _selected(database, criteria)
    if field is None or field == 0.0:
        return len(found)
    column = _named_column(rows_of(database)[0], field)
    return sum(record[column] is not None for record in found)


@_entire("DGET")
def _dget(database: Any, field: Any, criteria: Any) -> Any:
    column = _named_column(rows_of(database)[0], field)
    found = [record[column] for record in _selected(database, criteria)]
    if len(found) != 1:
        raise Refusal(NUMBER if found else VALUE)
    return 0.0 if found[0] is None else found[0]


# ---------------------------------------------------------------- units
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
        ("yd3", (36 * _INCH) ** 3, False), ("barrel", 42 * _GALLON, False),
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
_PREFIXES = {
    "Y": 24, "Z": 21, "E": 18, "P": 15, "T": 12, "G": 9, "M": 6, "k": 3, "h": 2, "da": 1, "e": 1,
    "d": -1, "c": -2, "m": -3, "u": -6, "n": -9, "p": -12, "f": -15, "a": -18, "z": -21, "y": -24,
}  # fmt: skip
_KELVIN: dict[str, tuple[float, float]] = {  # kelvin = (degrees + offset) * size
    "K": (0.0, 1.0), "kel": (0.0, 1.0), "C": (273.15, 1.0), "cel": (273.15, 1.0),
    "F": (459.67, 5 / 9), "fah": (459.67, 5 / 9), "Rank": (0.0, 5 / 9), "Reau": (218.52, 1.25),
}  # fmt: skip


def _unit(name: Any) -> tuple[str, float]:
    if not isinstance(name, str):
        raise Refusal(VALUE if not isinstance(name, dict) else str(name.get("kind")))
    if name in _UNITS:
        return _UNITS[name][:2]
    for length in (1, 2):
        prefix, base = name[:length], name[length:]
        if prefix in _PREFIXES and base in _UNITS and _UNITS[base][2]:
            kind, size, _ = _UNITS[base]
            return kind, size * 10.0 ** _PREFIXES[prefix]
    raise Refusal(UNKNOWN)


@_single("CONVERT")
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


# ---------------------------------------------------------------- texts and comparisons
def _digits(x: float) -> str:
    """A number as it is joined to text: 15 digits."""
    if x == 0:
        return "0"
    if not 1e-4 <= abs(x) < 1e15:  # programs change to an exponent at different sizes
        if x.is_integer() and abs(x) < 1e15:
            return str(int(x))
        raise Refusal(UNKNOWN)
    text = f"{x:.15g}"
    return text if "e" not in text else str(int(float(text)))


def written(value: Any) -> Any:
    """A cell where text is wanted; numbers as spreadsheet programs write them, all else as it is."""
    return _digits(value) if value.__class__ is float else value


def _single_own(name: str, function: Callable[..., Any]) -> None:
    def called(*arguments: Any) -> Any:
        return spread(function, arguments)

    BUILTINS[name] = called


def _order(one: Any, other: Any) -> int:
    """-1, 0 or 1; numbers go before texts, texts before truth values, and numbers have 15 digits."""
    for value in (one, other):
        if isinstance(value, dict):
            raise Refusal(str(value.get("kind")))
    if one is None:
        one = "" if isinstance(other, str) else False if isinstance(other, bool) else 0.0
    if other is None:
        other = "" if isinstance(one, str) else False if isinstance(one, bool) else 0.0
    kinds = [0 if isinstance(v, float) else 2 if isinstance(v, bool) else 1 for v in (one, other)]
    if kinds[0] != kinds[1]:
        return -1 if kinds[0] < kinds[1] else 1
    if kinds[0] == 0 and one != other:
        if abs(one - other) > 4e-15 * max(abs(one), abs(other)):
            return -1 if one < other else 1
        if f"{one:.14e}" != f"{other:.14e}":
            raise Refusal(UNKNOWN)  # programs part between 15 and 16 digits
        return 0
    if kinds[0] == 1:
        one, other = one.casefold(), other.casefold()
        if one != other and not (one + other).replace(" ", "").isalnum():
            return 2  # not equal; which goes first hangs on the language
    return 0 if one == other else -1 if one < other else 1


def _told(one: Any, other: Any) -> int:
    order = _order(one, other)
    if order == 2:
        raise Refusal(UNKNOWN)
    return order


#: what the translator writes in place of operators: their answers hang on 15 digits, where the engine has 17
OPERATORS = {"=": "_EQ", "<>": "_NE", "<": "_LT", "<=": "_LE", ">": "_GT", ">=": "_GE"}
DIGITS, NUMBERS = "_DIGITS", "_NUMBERS"
#: calls a function of the engine for each element: _EACH("LEN",A1:A9); a Calculation has it
EACH = "_EACH"
#: which arguments of a function of ranges are (e)ach single, and which the (w)hole range; the last two repeat
SLOTS = {
    **dict.fromkeys(words("COUNTIF COUNTIFS LARGE SMALL PERCENTILE PERCENTILE.INC QUARTILE QUARTILE.INC"), "we"),
    **dict.fromkeys(words("SUMIF AVERAGEIF"), "wew"),
    **dict.fromkeys(words("SUMIFS AVERAGEIFS MINIFS MAXIFS"), "wwe"),
    **dict.fromkeys(words("MATCH RANK RANK.EQ RANK.AVG"), "ewe"),
    **dict.fromkeys(words("VLOOKUP HLOOKUP"), "ewee"),
}
#: the numbers of the rows, or of the columns, of a range: _LINES(3,9), _LINES("A3:A9",0); and LOOKUP in an array
LINES, LOOKUP = "_LINES", "_LOOKUP"


@_entire(LINES)
def _lines(first: Any, last: float, across: bool = False) -> list[list[float]]:
    if not isinstance(first, float):
        try:
            box = whole_range(first.rpartition("!")[2])
        except (BrewError, AttributeError, ValueError, AssertionError):
            raise Refusal(UNKNOWN) from None
        first, last = (box.left, box.right) if across else (box.top, box.bottom)
    if last - first >= MOST:
        raise Refusal(UNKNOWN)
    numbers = [float(line) for line in range(int(first), int(last) + 1)]
    return [numbers] if across else [[line] for line in numbers]


@_entire(LOOKUP)
def _lookup(wanted: Any, vector: Any, results: Any = None) -> Any:
    rows = rows_of(vector)
    across = len(rows[0]) > len(rows)
    searched = rows[0] if across else [row[0] for row in rows]
    itself = rows[-1] if across else [row[-1] for row in rows]
    found = itself if results is None else list(elements([results]))
    if isinstance(wanted, dict):
        raise Refusal(str(wanted.get("kind")))
    if wanted is None or len(found) != len(searched):
        raise Refusal(UNKNOWN)
    # cells of another kind and errors are passed over, so that LOOKUP(2,1/(condition),...) gives the last
    places = [place for place, cell in enumerate(searched) if cell.__class__ is wanted.__class__]
    orders = [_told(searched[place], wanted) for place in places]
    below = sum(order <= 0 for order in orders)
    if any(order > 0 for order in orders[:below]):
        raise Refusal(UNKNOWN)  # not in ascending order: halving leads anywhere
    if not below:
        raise Refusal(MISSING)
    return 0.0 if found[places[below - 1]] is None else found[places[below - 1]]


_single_own(OPERATORS["="], lambda one, other: _order(one, other) == 0)
_single_own(OPERATORS["<>"], lambda one, other: _order(one, other) != 0)
_single_own(OPERATORS["<"], lambda one, other: _told(one, other) < 0)
_single_own(OPERATORS["<="], lambda one, other: _told(one, other) <= 0)
_single_own(OPERATORS[">"], lambda one, other: _told(one, other) > 0)
_single_own(OPERATORS[">="], lambda one, other: _told(one, other) >= 0)
_single_own(DIGITS, written)
#: an element of an array as a sum of products takes it: what isn't a number counts as 0
_single_own(NUMBERS, lambda value: value if value.__class__ in (float, dict) else 0.0)
