"""What an input of the batch workbook is, how what is given for it is read, and the sections that inputs stand in."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

from brewfuncs import units
from brewfuncs.catalogue import Between, Parameter, catalogue
from brewfuncs.errors import BrewError
from brewfuncs.units import Quantity

__all__ = ["DATE", "FIRST_DAY", "LONGEST_TEXT", "TEXT", "TIME", "Amount", "Entered", "Input", "Section", "quantity"]


class Amount(NamedTuple):
    """A number and the unit it was written in."""

    number: float
    unit: str


#: what stands in an input: a quantity, a word, a date, a time of day, or nothing
Entered = Amount | str | datetime.date | datetime.time | None

TEXT, DATE, TIME = "text", "date", "time"

LONGEST_TEXT = 80  # characters
FIRST_DAY = datetime.date(2000, 1, 1)  # before it a number was meant for something else: 14 is 1900-01-13


@dataclass(frozen=True)
class Input:
    """One input. `of` says what it is: a parameter of one of our functions ("MASH_STRIKE_TEMP.target"), which brings
    quantity, limits and help along; or a quantity with limits; or text, a date, a time of day, one of several words."""

    key: str
    label: str
    of: str | tuple[Any, Between] | tuple[str, ...]  # how to read it: see above
    default: str | float | datetime.date | None = None
    help: str = ""
    required: bool = False
    optional: bool = False  # whether a workbook has it only where its plan states something of an optional section
    unit: str = ""  # the one its cell starts with in every system, where all brewers use that one

    @property
    def words(self) -> tuple[str, ...]:
        """What it may be, where it is one of several words."""
        if isinstance(self.of, tuple):
            return self.of if isinstance(self.of[0], str) else ()  # type: ignore[return-value]
        if self.of in (TEXT, DATE, TIME) or not self.parameter.is_text:
            return ()
        return tuple((self.parameter.names or {}).values())

    @property
    def is_text(self) -> bool:
        return self.of == TEXT or bool(self.words)

    @property
    def is_date(self) -> bool:
        return self.of == DATE

    @property
    def is_time(self) -> bool:
        """Whether it is a time of day, which a cell holds as a part of a day."""
        return self.of == TIME

    @property
    def is_number(self) -> bool:
        """Whether it is a quantity, a share included."""
        return not (self.is_text or self.is_date or self.is_time)

    @property
    def parameter(self) -> Parameter:
        """Quantity, limits and help, as our functions declare them."""
        return _parameter(self)

    @property
    def quantity(self) -> Quantity:
        found = self.parameter.quantity
        assert isinstance(found, Quantity)
        return found

    @property
    def unit_choices(self) -> tuple[str, ...]:
        """The units its cell may state; none where there is nothing to choose."""
        if not self.is_number or self.is_share:
            return ()
        symbols = tuple(unit.symbol for unit in self.quantity.dimension.units if unit.symbol)
        return symbols if len(symbols) > 1 else ()

    @property
    def is_share(self) -> bool:
        """Whether it is a share, which a cell shows in per cent."""
        return self.is_number and self.quantity.dimension.name.startswith("share")

    def read(self, given: Any) -> Entered:
        """A value as a plan file or a caller gives it; raises BrewError with the reason."""
        if given is None or (given == "" and not self.required and self.default in (None, "")):
            return None
        if self.is_date:
            return _date(given)
        if self.is_time:
            return _time(given)
        if self.words:
            also = self.parameter.also if isinstance(self.of, str) else {}
            words = {word.casefold(): word for word in self.words} | dict(also)
            if (word := words.get(str(given).strip().casefold())) is None:
                raise BrewError(f'"{given}" is none of: {", ".join(self.words)}')
            return word
        if self.is_text:
            if not isinstance(given, str):
                raise BrewError(f"{given!r} is no text: put it in quotes")
            if len(given) > LONGEST_TEXT or not given.isprintable():
                raise BrewError(f"text of one line and at most {LONGEST_TEXT} characters is wanted")
            return given.strip()
        return self._amount(given)

    def in_base(self, value: Amount) -> float:
        """An amount of it in the formulas' unit."""
        symbol = self.quantity.symbol
        return float(units.convert(value.number, value.unit or symbol, symbol))

    def _amount(self, given: Any) -> Amount:
        if isinstance(given, Amount):
            number, symbol = given
        elif isinstance(given, bool) or not isinstance(given, (int, float, str)):
            raise BrewError(f"{given!r} is no quantity")
        else:
            number, symbol = units.parse(given) if isinstance(given, str) else (float(given), "")
        if not symbol and len(self.unit_choices) > 1 and self.quantity.symbol not in ("SG", "min"):
            raise BrewError(f'a unit is missing: write it as in "{_plain(number)} {self.unit_choices[0]}"')
        self.parameter.read(f"{number!r} {symbol}".strip())  # the range, and units of another kind, are refused here
        spellings = self.quantity.dimension.spellings
        unit = spellings.get(symbol) or spellings.get(symbol.casefold()) if symbol else self.quantity.unit
        assert unit is not None
        return Amount(number, unit.symbol)


def _plain(number: float) -> str:
    return f"{number:.10g}"


def _date(given: Any) -> datetime.date:
    if isinstance(given, datetime.datetime):
        return given.date()
    if isinstance(given, datetime.date):
        return given
    try:
        return datetime.date.fromisoformat(str(given).strip())
    except ValueError:
        raise BrewError(f'"{given}" is no date: write it as 2026-03-14') from None


def _time(given: Any) -> datetime.time:
    if isinstance(given, datetime.time):
        return given
    if isinstance(given, float) and 0 <= given < 1:  # as a cell holds it
        return (datetime.datetime.min + datetime.timedelta(days=given)).time()
    try:
        return datetime.time.fromisoformat(str(given).strip().zfill(5))
    except ValueError:
        raise BrewError(f'"{given}" is no time of day: write it as 9:30 or 14:05') from None


def quantity(annotated: Any) -> Quantity:
    """The quantity of a unit of the signatures, such as `units.Litre`."""
    found = annotated.__metadata__[0]
    assert isinstance(found, Quantity)
    return found


@cache
def _parameter(item: Input) -> Parameter:
    if isinstance(item.of, str):
        function, _, name = item.of.partition(".")
        declared = catalogue()[function]
        return declared.params[declared.index[name]]._replace(name=item.key)
    what, limits = item.of
    assert isinstance(limits, Between)
    return Parameter(item.key, quantity(what), limits, item.help)


@dataclass(frozen=True)
class Section:
    """Inputs that belong together: one table of the plan file. With `rows` it is a list of tables, one a row."""

    key: str
    title: str
    inputs: tuple[Input, ...]
    rows: int = 0
    row_name: str = ""  # of a list: what one row is called in the names of cells
    prefix: bool = True  # whether the names of its cells begin with the section
    in_file: bool = True  # measurements are put into the workbook, not into the plan
    start: tuple[Mapping[str, Any], ...] = ()  # of a list: what its rows hold at first
    optional: bool = False  # whether a workbook has it only where its plan does

    def name(self, key: str, row: int | None = None) -> str:
        """The name of the cell that holds an input."""
        if self.rows:
            return f"{self.key}_{key}" if row is None else f"{self.row_name}_{row}_{key}"
        return f"{self.key}_{key}" if self.prefix else key

    @property
    def numbers(self) -> tuple[int | None, ...]:
        """The numbers of its rows; None alone where it is no list."""
        return tuple(range(1, self.rows + 1)) if self.rows else (None,)

    def find(self, key: str) -> Input:
        return next(item for item in self.inputs if item.key == key)
