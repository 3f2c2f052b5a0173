"""Computed columns for a pandas, Polars or Arrow table, from formulas as they stand in a sheet.

A formula is worked out over whole columns: our functions on their array path, operators and a few everyday functions
in numpy. A row that lacks a value (null) lacks the answer; a row in error lacks it too, so that no wrong number passes.
This module needs numpy and narwhals, which speaks to all kinds of table.
"""

from __future__ import annotations

import difflib
import functools
import math
import operator
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal, NamedTuple, TypeVar

import formualizer

from brewfuncs.arrays import distinct, error_at, marked
from brewfuncs.catalogue import Function, find
from brewfuncs.errors import BadInput, BrewError, CellError, NotListed, first_of
from brewfuncs.units import parse

try:
    import narwhals
    import numpy
except ImportError:
    raise ImportError('evaluate_table needs numpy and narwhals: pip install "brewfuncs[tables]"') from None

__all__ = ["evaluate_table"]

Frame = TypeVar("Frame")


def evaluate_table(frame: Frame, formulas: Mapping[str, str], *, errors: Literal["null", "raise"] = "null") -> Frame:
    """The table with one more column for each formula; the table given stays as it is.

    frame: a pandas or Polars DataFrame or an Arrow table.
    formulas: new column -> formula, such as {"ibu": "=HOP_BITTERNESS([mass],[alpha],[minutes],20)*2"}. [mass] or
        [@mass] is the row's value in that column; a formula may use columns that formulas before it have made.
    errors: "null" leaves rows in error empty, like those that lack a value; "raise" says how many and why the first.

    Raises BadInput for a formula that can't be worked out in any row, and whatever is wrong with a value that stands
    in the formula itself.
    """
    if errors not in ("null", "raise"):
        raise ValueError(f'errors is "null" or "raise", not {errors!r}')
    try:
        table: narwhals.DataFrame[Any] = narwhals.from_native(frame, eager_only=True)
    except TypeError:
        kind = f"{type(frame).__module__.partition('.')[0]} {type(frame).__name__}"
        raise BadInput(f"a pandas or Polars DataFrame or an Arrow table is wanted, not a {kind}") from None
    sheet = _Sheet(table)
    new = []
    for name, formula in formulas.items():
        if name in sheet.columns:
            raise BadInput(f"there is a column {name} already")
        try:
            column = sheet.worked_out(formula)
            if errors == "raise":
                sheet.raise_first(column)
            new.append(sheet.series(name, column))
        except CellError as error:
            raise CellError(error.code, f"{name}: {error}") from None
        except BrewError as error:
            raise type(error)(f"{name}: {error}") from None
        sheet.columns[name] = column
    added: Frame = table.with_columns(*new).to_native()
    return added


class _Column(NamedTuple):
    """A value for each row, or one for all; and for which rows not."""

    values: Any  # an array of float, of bool or of objects (texts, or a mixture); or one float, bool or str
    null: Any = False  # a mask: rows that lack a value this one depends on
    error: Any = 0  # for each row what is wrong, as a number (_Sheet.causes); 0 where nothing is

    @property
    def lifts(self) -> bool:
        return isinstance(self.values, numpy.ndarray)

    @property
    def kind(self) -> type:
        """float, bool, str; object for a mixture (and for texts in an array)."""
        if not self.lifts:
            return type(self.values)
        return {"f": float, "b": bool}.get(self.values.dtype.kind, object)


Tree = Mapping[str, Any]  # a formula as the parser gives it
Cause = Callable[[int], BrewError]  # what is wrong in a row

_ERROR_VALUES = ("#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A")
_COLUMN = re.compile(r"\[@?\[(.*)\]\]|\[@?(.*)\]", re.DOTALL)
_ESCAPED = re.compile(r"'([\[\]#'@])")


class _Sheet:
    """The columns there are, and formulas worked out over them."""

    def __init__(self, table: narwhals.DataFrame[Any]) -> None:
        self.table = table
        self.columns: dict[str, _Column | None] = dict.fromkeys(table.columns)  # None: not looked at yet
        self.causes: list[Cause] = []

    # -- in and out ----------------------------------------------------------------------------------------------

    def _column(self, name: str) -> _Column:
        if name not in self.columns:
            near = difflib.get_close_matches(name, self.columns, n=1)
            raise BadInput(f"there is no column {name}" + (f"; did you mean {near[0]}?" if near else ""))
        column = self.columns[name]
        if column is None:
            column = self.columns[name] = self._read(self.table[name])
        return column

    def _read(self, series: narwhals.Series[Any]) -> _Column:
        kind = series.dtype
        null: Any = series.is_null().to_numpy() if series.null_count() else False
        if kind.is_numeric():
            values = series.cast(narwhals.Float64).to_numpy()
            return self.finite(_Column(values, null), lambda row: CellError("#NUM!", f"{series.name} is {values[row]}"))
        if kind == narwhals.Boolean:
            return _Column((series if null is False else series.fill_null(False)).to_numpy().astype(bool), null)
        if kind not in (narwhals.String, narwhals.Categorical, narwhals.Enum, narwhals.Object):
            raise BadInput(f"column {series.name} holds {kind}: formulas take numbers, texts and truth values")
        texts = numpy.fromiter(series.to_list(), object, len(series))
        if null is not False:
            texts[null] = None
        return _Column(texts, null)

    def series(self, name: str, column: _Column) -> narwhals.Series[Any]:
        """A column as the table's own kind of series."""
        rows, backend = len(self.table), self.table.implementation
        values = column.values if column.lifts else numpy.full(rows, column.values, _DTYPES[column.kind])
        missing = numpy.broadcast_to((column.error != 0) | column.null, rows)
        if values.dtype == object:
            cells = [None if gone else value for value, gone in zip(values, missing, strict=True)]
            if not {type(cell) for cell in cells} <= {str, type(None)}:
                raise BadInput(
                    "the formula gives a text, a number, a truth value, as the row may be: a column has one kind"
                )
            return narwhals.new_series(name, cells, narwhals.String, backend=backend)
        dtype = narwhals.Boolean if values.dtype == bool else narwhals.Float64
        if not missing.any():
            return narwhals.new_series(name, values, dtype, backend=backend)
        pair = narwhals.from_dict({"value": values, "there": ~missing}, backend=backend)
        return pair.select(narwhals.when(narwhals.col("there")).then(narwhals.col("value")).alias(name))[name]

    def raise_first(self, column: _Column) -> None:
        error = numpy.broadcast_to(numpy.where(column.null, 0, column.error), len(self.table))
        bad = error != 0
        if bad.any():
            row = int(bad.argmax())
            first = self.causes[error[row] - 1](row)
            if isinstance(first, CellError):
                raise CellError(first.code, str(first_of(f"[{row}]", BadInput(str(first)), int(bad.sum()), len(bad))))
            raise first_of(f"[{row}]", first, int(bad.sum()), len(bad))

    # -- errors --------------------------------------------------------------------------------------------------

    def erring(self, column: _Column, bad: Any, cause: Cause) -> _Column:
        """The column with an error where `bad` holds, unless something else is amiss there already."""
        self.causes.append(cause)
        new = bad & ~numpy.asarray(column.null) & (column.error == 0)
        return column._replace(error=numpy.where(new, numpy.int32(len(self.causes)), column.error))

    def finite(self, column: _Column, cause: Cause) -> _Column:
        """The column of numbers, with an error where one is none."""
        fine = numpy.isfinite(column.values)
        if fine.all():
            return column
        if not column.lifts:
            raise cause(0)
        return self.erring(column, ~fine, cause)

    # -- formulas ------------------------------------------------------------------------------------------------

    def worked_out(self, formula: str) -> _Column:
        text = "=" + formula.strip().removeprefix("=")
        try:
            tree = formualizer.parse(text).to_dict()
        except (formualizer.ParserError, formualizer.TokenizerError) as error:
            from brewfuncs.hosts.engine import parser_message

            raise BadInput(f"the formula can't be read: {parser_message(error, text)}") from None
        return self.value(tree)

    def value(self, tree: Tree) -> _Column:
        kind = tree["node_type"]
        if kind == "Literal":
            if tree["value"] in _ERROR_VALUES:
                raise BadInput(f"{tree['value']} can't stand in a formula for a table")
            return _Column(tree["value"])
        if kind == "Reference":
            match = _COLUMN.fullmatch(tree["reference"])
            name = (match[1] or match[2]) if match else ""
            if not name:
                raise BadInput(f"the formula refers to {tree['reference']}; a value of the row is written [column]")
            return self._column(name if name in self.columns else _ESCAPED.sub(r"\1", name))
        if kind == "UnaryOp":
            return self.arithmetic(tree["operator"], _UNARY[tree["operator"]], self.value(tree["operand"]))
        if kind == "BinaryOp":
            return self._operation(tree["operator"], self.value(tree["left"]), self.value(tree["right"]))
        if kind == "Function":
            return self._function(tree["name"].upper(), tree["args"])
        raise BadInput("an array such as {1;2} stands only where a function takes a whole range")

    def _operation(self, sign: str, left: _Column, right: _Column) -> _Column:
        if sign in _ARITHMETIC:
            return self.arithmetic(sign, _ARITHMETIC[sign], left, right)
        if sign in _COMPARISONS:
            return _joined(_compared(_COMPARISONS[sign], left, right), left, right)
        if sign == "&":
            return _joined(_texts(left) + _texts(right), left, right)
        raise BadInput(f'the operator "{sign}" joins ranges, and a row of a table has none')

    def arithmetic(self, name: str, compute: Callable[..., Any], *columns: _Column) -> _Column:
        """numpy's answer for each row, an error where it is no number."""
        numbers = [self.number(column) for column in columns]

        def cause(row: int) -> BrewError:
            at = [_shown(float(n.values[row] if n.lifts else n.values)) for n in numbers]
            code = "#DIV/0!" if name == "/" and at[1] == "0" else "#NUM!"
            return CellError(code, f"{f' {name} '.join(at) if name in _ARITHMETIC else name} gives {code}")

        with numpy.errstate(all="ignore"):
            values = compute(*(n.values if n.lifts else numpy.float64(n.values) for n in numbers))
        return self.finite(_joined(values if any(n.lifts for n in numbers) else float(values), *numbers), cause)

    def number(self, column: _Column) -> _Column:
        """As numbers: truth values are 1 and 0, and a text has to be a number."""
        if column.kind is float:
            return column
        if not column.lifts:
            return column._replace(values=_number(column.values))
        if column.kind is bool:
            return column._replace(values=column.values.astype(float))
        texts = column.values
        numbers = column._replace(values=_each(_number_or_nan, column, float))
        return self.finite(numbers, lambda row: _no_number(texts[row]))

    def truth(self, column: _Column) -> _Column:
        """As truth values: a number is true unless it is 0."""
        if column.kind is bool:
            return column
        number = self.number(column)
        return number._replace(values=number.values != 0)

    # -- functions -----------------------------------------------------------------------------------------------

    def _function(self, name: str, trees: Sequence[Tree]) -> _Column:
        if name in _BUILT_IN:
            least, most, compute = _BUILT_IN[name]
            if not least <= len(trees) <= most or any(tree["node_type"] == "Omitted" for tree in trees):
                raise BadInput(f"{name} takes {_numbered(least, most)}")
            return compute(self, *trees)
        try:
            function = find(name.removeprefix("BREW."))
        except NotListed as error:
            raise BadInput(f"{name} can't be worked out over columns: {error}") from None
        if function.variable:
            raise BadInput(f'{name} has no use here: errors="raise" gives the sentence')
        if len(trees) > len(function.params):
            raise BadInput(f"{name} takes at most {len(function.params)} arguments, not {len(trees)}")
        return self._ours(function, trees)

    def _ours(self, function: Function, trees: Sequence[Tree]) -> _Column:
        columns: list[_Column] = []
        values: list[Any] = [None] * len(function.params)
        for i, (parameter, tree) in enumerate(zip(function.params, trees, strict=False)):
            if tree["node_type"] == "Omitted":
                continue
            if tree["node_type"] == "Array" and parameter.whole:
                values[i] = [[self.value(cell).values for cell in row] for row in tree["rows"]]
                continue
            column = self.value(tree)
            if column.lifts and parameter.whole:
                raise BadInput(
                    f"{function.name} wants a whole range of {parameter.name}, and a row of a table has none"
                )
            columns.append(column)
            blank = isinstance(column.values, str) and not column.values.strip()
            values[i] = column.values if not blank else None if parameter.is_text else 0.0
        lifted = [i for i, value in enumerate(values) if isinstance(value, numpy.ndarray)]
        if not lifted:
            return _Column(function.scalar(values))
        for i, parameter in enumerate(function.params):
            if i not in lifted and not parameter.whole:
                parameter.read(values[i])  # what is wrong in the formula itself is told, whatever the rows hold
        answers, bad = marked(function, values, lifted)
        column = _joined(answers, *columns)
        if bad is None:
            return column
        return self.erring(column, bad, lambda row: error_at(function, values, lifted, [row], bad.shape))

    def condition(self, test: Tree, then: Tree, otherwise: Tree | None = None) -> _Column:
        """IF: in the branch that isn't taken errors and missing values don't matter; a branch left out has no value."""
        chosen = self.truth(self.value(test))
        if not chosen.lifts:
            taken = then if chosen.values else otherwise
            return self.value(taken) if taken is not None else _Column(0.0, null=True)
        one = self.value(then)
        other = self.value(otherwise) if otherwise is not None else one._replace(null=True, error=0)
        column = _choice(chosen.values, one, other)
        return _joined(column.values, chosen, column)

    def instead_of_error(self, value: Tree, instead: Tree) -> _Column:
        column = self.value(value)
        return _choice(column.error != 0, self.value(instead), column) if numpy.any(column.error) else column

    def blank(self, value: Tree) -> _Column:
        column = self.value(value)
        return _Column(column.null, error=column.error)


# -- columns ---------------------------------------------------------------------------------------------------------

_DTYPES = {float: float, bool: bool, str: object}


def _joined(values: Any, *columns: _Column) -> _Column:
    """A column made from others: it lacks what they lack, and what is wrong with the first is wrong with it."""
    null = functools.reduce(operator.or_, (column.null for column in columns), False)
    error: Any = 0
    for column in columns:
        if isinstance(column.error, numpy.ndarray):
            error = numpy.where(error == 0, column.error, error)
    return _Column(values, null, error)


def _choice(test: Any, then: _Column, otherwise: _Column) -> _Column:
    if then.kind is otherwise.kind and then.kind in (float, bool):
        values = numpy.where(test, then.values, otherwise.values)
    else:
        values = numpy.where(test, _objects(then), _objects(otherwise))
    return _Column(values, *(numpy.where(test, one, other) for one, other in zip(then[1:], otherwise[1:], strict=True)))


def _objects(column: _Column) -> Any:
    return column.values.astype(object) if column.lifts else numpy.array(column.values, object)


def _each(compute: Callable[[Any], Any], column: _Column, dtype: Any) -> Any:
    """A function of single values over a column that repeats itself, as texts do."""
    different, codes = distinct(column.values)
    results = numpy.empty(len(different), dtype)
    for i, value in enumerate(different):
        results[i] = compute(value)
    return results[codes]


def _number(value: Any) -> float:
    """A single value as a number; raises where it is none."""
    if isinstance(value, str):
        try:
            number, unit = parse(value)
        except BrewError:
            raise _no_number(value) from None
        if unit:
            raise _no_number(value)
        return number
    try:
        return float(value)
    except (TypeError, ValueError):
        raise _no_number(value) from None


def _number_or_nan(value: Any) -> float:
    try:
        return _number(value)
    except BrewError:
        return math.nan


def _no_number(value: Any) -> BadInput:
    return BadInput(f'"{value}" is not a number')


def _texts(column: _Column) -> Any:
    return _each(_shown, column, object) if column.lifts else _shown(column.values)


def _shown(value: Any) -> str:
    """A value as & joins it: 15 digits, as sheets show them."""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, (int, float)):
        return f"{value:.15g}".upper()
    return "" if value is None else str(value)


def _compared(compare: Callable[[Any, Any], Any], left: _Column, right: _Column) -> Any:
    """As sheets compare: case doesn't matter; any number is less than any text, and that less than FALSE and TRUE."""
    if left.kind is right.kind and left.kind in (float, bool):
        return compare(left.values, right.values)
    if left.lifts and right.lifts:
        keys = (_each(_rank, column, object) for column in (left, right))
        return numpy.frompyfunc(compare, 2, 1)(*keys).astype(bool)
    if left.lifts:
        other = _rank(right.values)
        return _each(lambda value: compare(_rank(value), other), left, bool)
    if right.lifts:
        other = _rank(left.values)
        return _each(lambda value: compare(other, _rank(value)), right, bool)
    return compare(_rank(left.values), _rank(right.values))


def _rank(value: Any) -> tuple[int, Any]:
    if isinstance(value, bool):
        return 2, value
    if isinstance(value, (int, float)):
        return 0, value
    return 1, "" if value is None else str(value).casefold()


# -- what a formula may use besides our functions --------------------------------------------------------------------

_UNARY: dict[str, Callable[..., Any]] = {"-": operator.neg, "+": operator.pos, "%": lambda x: x / 100}
_ARITHMETIC: dict[str, Callable[..., Any]] = {
    "+": operator.add, "-": operator.sub, "*": operator.mul, "/": operator.truediv, "^": operator.pow,
}  # fmt: skip
_COMPARISONS: dict[str, Callable[..., Any]] = {
    "=": operator.eq, "<>": operator.ne, "<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge,
}  # fmt: skip

_HAIR = 2.0**-50  # what decimal fractions such as 1.005 lose in binary, and rounding gives back


def _rounding(nearest: Callable[[Any], Any]) -> Callable[[Any, Any], Any]:
    """Rounding of the amount, whatever its sign, to so many decimals."""

    def rounded(x: Any, digits: Any) -> Any:
        scale = 10.0 ** numpy.trunc(digits)
        return numpy.copysign(nearest(abs(x) * scale) / scale, x) + 0.0

    return rounded


def _numeric(name: str, compute: Callable[..., Any]) -> Callable[..., _Column]:
    return lambda sheet, *trees: sheet.arithmetic(name, compute, *map(sheet.value, trees))


def _logical(compute: Callable[..., Any]) -> Callable[..., _Column]:
    def column(sheet: _Sheet, *trees: Tree) -> _Column:
        columns = [sheet.truth(sheet.value(tree)) for tree in trees]
        values = compute(*(c.values for c in columns))
        return _joined(values if isinstance(values, numpy.ndarray) else bool(values), *columns)

    return column


def _folded(compute: Callable[[Any, Any], Any]) -> Callable[..., Any]:
    return lambda *values: functools.reduce(compute, values)


_MANY = 255
_BUILT_IN: dict[str, tuple[int, int, Callable[..., _Column]]] = {
    "IF": (2, 3, _Sheet.condition),
    "IFERROR": (2, 2, _Sheet.instead_of_error),
    "ISBLANK": (1, 1, _Sheet.blank),
    "AND": (1, _MANY, _logical(_folded(operator.and_))),
    "OR": (1, _MANY, _logical(_folded(operator.or_))),
    "NOT": (1, 1, _logical(numpy.logical_not)),
    "MIN": (1, _MANY, _numeric("MIN", _folded(numpy.minimum))),
    "MAX": (1, _MANY, _numeric("MAX", _folded(numpy.maximum))),
    "SUM": (1, _MANY, _numeric("SUM", _folded(operator.add))),
    "AVERAGE": (1, _MANY, _numeric("AVERAGE", lambda *values: _folded(operator.add)(*values) / len(values))),
    "ABS": (1, 1, _numeric("ABS", abs)),
    "INT": (1, 1, _numeric("INT", numpy.floor)),
    "ROUND": (2, 2, _numeric("ROUND", _rounding(lambda x: numpy.floor(x * (1 + _HAIR) + 0.5)))),
    "ROUNDUP": (2, 2, _numeric("ROUNDUP", _rounding(lambda x: numpy.ceil(x * (1 - _HAIR))))),
    "ROUNDDOWN": (2, 2, _numeric("ROUNDDOWN", _rounding(lambda x: numpy.floor(x * (1 + _HAIR))))),
    "SQRT": (1, 1, _numeric("SQRT", numpy.sqrt)),
    "POWER": (2, 2, _numeric("POWER", operator.pow)),
    "EXP": (1, 1, _numeric("EXP", numpy.exp)),
    "LN": (1, 1, _numeric("LN", numpy.log)),
    "LOG10": (1, 1, _numeric("LOG10", numpy.log10)),
}


def _numbered(least: int, most: int) -> str:
    if most == _MANY:
        return f"{least} argument or more"
    return f"{least} argument{'s' * (most > 1)}" if least == most else f"{least} or {most} arguments"
