"""The declaration of a worksheet function, and the list made from it.

A brewing formula is one typed, documented function; everything else reads it. In its signature every parameter says
what quantity it is, which range is answered and what it means; the decorator names the published source and gives its
equation:

    @worksheet(source="Tinseth 1995-97", equation="mass = mg/L V / (1000 alpha U); U = 1.65 * 0.000125^(S - 1) ...")
    def hop_mass(
        bitterness: Annotated[Bitterness, AtLeast(0), "bitterness wanted from this addition"],
        ...
    ) -> Gram:
        '''What it computes, how accurate it is, and an example that runs.'''

Whatever is missing fails at import. The name that sheets use is the function's own in capitals. The decorated function
takes numbers, quantity text, lists, numpy arrays and pint quantities; its body, the kernel, only ever sees floats (or
arrays of them) within the stated ranges.
"""

import datetime as _dt
import math
import re
import sys
from collections.abc import Container, Iterable, Mapping, Sequence
from types import FunctionType, MappingProxyType
from typing import Any, Callable, NamedTuple, Optional, TypeVar, Union

from .errors import BadInput, BrewError, NotListed, OutOfRange, first_of
from .units import Anything, Quantity, Text, from_pint, shown

__all__ = [
    "CATALOGUE", "Above", "AtLeast", "Below", "Between", "Fitted", "Function", "Named", "NotAbove", "OneOf",
    "Parameter", "SameAs", "WholeRange", "catalogue", "find", "worksheet",
]  # fmt: skip

_HUGE = sys.float_info.max  # the largest finite float: a range that ends here refuses infinity
_PLAIN = (float, int)


# -- what a signature says about a parameter -------------------------------------------------------------------------


class Between(NamedTuple):
    """Answered from low to high, both included; outside it the answer is refused."""

    low: float
    high: float
    above: bool = False  # low itself is refused too

    @property
    def smallest(self) -> float:
        return math.nextafter(self.low, math.inf) if self.above else self.low

    @property
    def ends(self) -> tuple[float, float]:
        """The smallest and the largest number that is answered: the one truth of what `within` means.

        Four places compare with them: one value (Parameter.read), the written front that plain calls run through, a
        column of cells and a block of an array. Each compares in its own way, as a call of a common function for each
        number would cost more than most kernels (tests/bench.py: its lines "scalar call" and "a column of cells").
        """
        return self.smallest, self.high

    def refusal(self, symbol: str) -> str:
        if self.high == _HUGE:
            low = shown(self.low, symbol)
            return f"is not more than {low}" if self.above else f"is not {low} or more"
        excluded = f" ({shown(self.low, symbol)} excluded)" if self.above else ""
        return f"is outside {self.low:.6g} to {shown(self.high, symbol)}{excluded}"

    def words(self, symbol: str) -> str:
        """The range as help shows it."""
        if self.low == -_HUGE:
            return "any number"
        if self.high == _HUGE:
            return f"more than {shown(self.low, symbol)}" if self.above else f"{shown(self.low, symbol)} or more"
        return f"{'above ' if self.above else ''}{self.low:.6g} to {shown(self.high, symbol)}"


def AtLeast(low: float) -> Between:
    """Answered from low on."""
    return Between(low, _HUGE)


def Above(low: float, high: float = _HUGE) -> Between:
    """Answered above low, low itself refused (where 0 means nothing), up to high."""
    return Between(low, high, above=True)


ANY_NUMBER = Between(-_HUGE, _HUGE)


class Fitted(NamedTuple):
    """The range a formula was fitted over: shown in help, never a reason to refuse."""

    low: float
    high: float


class OneOf:
    """One of these names, in any case.

    also: other names for some of them, understood and not listed; was: names they had, refused with the new one.
    """

    __slots__ = ("also", "names", "was")

    def __init__(
        self, *names: str, also: Optional[Mapping[str, str]] = None, was: Optional[Mapping[str, str]] = None
    ) -> None:
        self.names = {name.casefold(): name for name in names}
        self.also = {name.casefold(): meant for name, meant in (also or {}).items()}
        self.was = {name.casefold(): now for name, now in (was or {}).items()}


class Named:
    """A number, or the name of one in a table."""

    __slots__ = ("table",)

    def __init__(self, table: Mapping[str, float]) -> None:
        self.table = {name.casefold(): number for name, number in table.items()}


class WholeRange(NamedTuple):
    """The argument is a whole range and gives one answer; with `one_for_all`, one cell stands for every row."""

    one_for_all: bool = False


class SameAs(NamedTuple):
    """Left out, the argument takes another's value."""

    parameter: str


class Relation(NamedTuple):
    """What must hold between two parameters."""

    low: str
    high: str
    strict: bool

    def holds(self, low: Any, high: Any) -> Any:
        return low < high if self.strict else low <= high

    def refusal(self, low: str, high: str) -> str:
        return f"{self.low} {low} is {'not below' if self.strict else 'above'} {self.high} {high}"


def NotAbove(low: str, high: str) -> Relation:
    """The first may not exceed the second."""
    return Relation(low, high, strict=False)


def Below(low: str, high: str) -> Relation:
    """The first stays under the second."""
    return Relation(low, high, strict=True)


class Parameter(NamedTuple):
    """One parameter as declared."""

    name: str
    quantity: Any  # Quantity, Text or Anything
    limits: Between
    help: str
    default: Any = None
    required: bool = True
    names: Optional[dict[str, str]] = None  # the words it may be, casefolded -> as listed
    also: Mapping[str, str] = MappingProxyType({})  # other words, casefolded -> the listed one they stand for
    was: Mapping[str, str] = MappingProxyType({})  # words it was, casefolded -> the one it is now
    table: Optional[dict[str, float]] = None  # numbers that may be given by name
    whole: Optional[WholeRange] = None
    same_as: Optional[str] = None
    fitted: Optional[Fitted] = None
    variable: bool = False  # *arguments

    @property
    def is_text(self) -> bool:
        return self.quantity.__class__ is Text

    @property
    def symbol(self) -> str:
        return str(self.quantity.symbol)

    @property
    def is_share(self) -> bool:
        return isinstance(self.quantity, Quantity) and self.quantity.dimension.name == "share"

    @property
    def shown_default(self) -> str:
        """The default as help and signatures show it; "" where there is none."""
        if self.same_as:
            return f"as {self.same_as}"
        if self.required or self.variable:
            return ""
        return str(self.default) if self.is_text else f"{self.default:g}"

    # -- reading one value ---------------------------------------------------------------------------------------

    def read(self, value: Any) -> Any:
        """One value as the kernel wants it: a float within the limits, or a listed name.

        None is an argument left out. Raises the BrewError that says what is wrong.
        """
        if value is None:
            if self.required:
                raise BadInput(f"{self.name} is missing")
            return self.default
        if hasattr(value, "dtype"):
            value = _held(value)
        if self.is_text:
            return self._read_name(value)
        number = self.number(value)
        low, high = self.limits.ends
        if not low <= number <= high:
            raise OutOfRange(self.refusal(number))
        return number

    def _read_name(self, value: Any) -> Any:
        if not isinstance(value, str):
            if isinstance(value, (int, float)) and value == 0:  # a blank cell, as some hosts deliver it
                return self.read(None)
            raise NotListed(f"{self.name} {value} is a number where a name is wanted{self._listed()}")
        if not value.strip():
            return self.read(None)
        if self.names is None:
            return value
        word = value.strip().casefold()
        named = self.names.get(word) or self.also.get(word)
        if named is None:
            if word in self.was:
                raise NotListed(f'{self.name} "{value}" is "{self.was[word]}" now')
            raise NotListed(f'{self.name} "{value}" is not listed{self._listed()}')
        return named

    def _listed(self) -> str:
        return f"; one of: {', '.join(self.names.values())}" if self.names and len(self.names) < 16 else ""

    def number(self, value: Any) -> float:
        """The float a value stands for, before any range is looked at."""
        kind = value.__class__
        if kind is float:
            return value  # type: ignore[no-any-return]
        if hasattr(value, "magnitude") and hasattr(value, "units"):
            value = from_pint(value, self.quantity)
            return self.number(value)
        if hasattr(value, "dtype"):
            value = _held(value)
        if isinstance(value, str):
            return self._number_of_text(str(value))
        if isinstance(value, (_dt.date, _dt.time)):
            return _serial(value)
        try:
            if not hasattr(value, "__float__") and not hasattr(value, "__index__"):
                raise TypeError  # float() would read bytes and buffers as text
            return float(value)
        except OverflowError:
            raise OutOfRange(self.refusal(math.inf)) from None
        except (TypeError, ValueError):
            raise BadInput(f"{self.name} {value!r} is not a number") from None

    def _number_of_text(self, text: str) -> float:
        if self.table is not None:
            named = self.table.get(text.strip().casefold())
            if named is not None:
                return named
            if not re.match(r"\s*[-+.]?\d(?!\d*-[a-z])", text, re.ASCII | re.IGNORECASE):  # 3-ethylbutanal is a name
                raise NotListed(f'{self.name} "{text}" is neither a number nor listed; one of: {", ".join(self.table)}')
        try:
            return self.quantity.number(text)  # type: ignore[no-any-return]
        except BrewError as error:
            raise type(error)(f"{self.name} {error}") from None

    def refusal(self, number: float) -> str:
        """The sentence for a number outside the limits."""
        if number != number:
            return f"{self.name} is not a number (NaN)"
        if math.isinf(number):
            return f"{self.name} is too large a number"
        share = self.quantity.dimension.name.startswith("share")
        if share and number > max(1, self.limits.high) and self.limits.high < 2:
            if number > 100:
                return f"{self.name} {number:.6g} is over 1: a share is written as 5.5 % or 0.055"
            return f"{self.name} {number:.6g} is over 1: write {number:.6g} % or {number / 100:.6g}"
        said = shown(number, self.symbol)
        if self.limits.smallest <= float(f"{number:.6g}") <= self.limits.high:  # what is wrong lies further right
            said = f"{number!r} {self.symbol}".rstrip()
        return f"{self.name} {said} {self.limits.refusal(self.symbol)}"


def _held(value: Any) -> Any:
    """The Python object in a numpy scalar or an array without dimensions."""
    kind = getattr(value.dtype, "kind", "")
    if kind == "M":  # in nanoseconds it would come out as an int
        value = value.astype("datetime64[us]")
    return value.item() if kind not in ("", "m") else value


def _serial(value: Union[_dt.date, _dt.time]) -> float:
    """A date or time as the serial number a spreadsheet holds for it."""
    if isinstance(value, _dt.time):
        return (value.hour * 3600 + value.minute * 60 + value.second + value.microsecond / 1e6) / 86400
    moment = value if isinstance(value, _dt.datetime) else _dt.datetime(value.year, value.month, value.day)
    return (moment.replace(tzinfo=None) - _dt.datetime(1899, 12, 30)).total_seconds() / 86400


# -- a function ------------------------------------------------------------------------------------------------------

Kernel = Callable[..., Any]


class Function:
    """One worksheet function: its declaration, and the ways to call it.

    `call` is the Python function users import; `scalar` computes one element from values as they come; hosts go
    through `brewfuncs.cells.apply`.
    """

    def __init__(
        self,
        kernel: Kernel,
        params: tuple[Parameter, ...],
        result: Any,
        source: str,
        equation: str,
        revision: int,
        relations: Sequence[Relation],
        zero_when: str,
        no_answer: str,
    ) -> None:
        self.kernel = kernel
        self.name = kernel.__name__.upper()
        self.group = self.name.partition("_")[0]
        self.params = params
        self.result = result
        self.source = source
        self.equation = equation
        self.revision = revision
        self.relations = tuple(relations)
        self.zero_when = zero_when
        self.no_answer = no_answer
        self.doc = _dedent(kernel.__doc__ or "")
        self.index = {p.name: i for i, p in enumerate(params)}
        self.required = sum(p.required for p in params)
        self.variable = bool(params) and params[-1].variable
        self.gives_text = isinstance(result, Text)
        self.call: Kernel = _front(self)

    def __repr__(self) -> str:
        return f"<{self.name}>"

    @property
    def summary(self) -> str:
        """The first sentence of the docstring, on one line."""
        return " ".join(self.doc.partition("\n\n")[0].split())

    @property
    def description(self) -> str:
        """The docstring without its examples."""
        return re.sub(r"\n*^ *>>> .*?(\n\n|\Z)", "\n\n", self.doc + "\n", flags=re.DOTALL | re.MULTILINE).strip()

    @property
    def signature(self) -> str:
        """The function with its arguments as help shows it."""
        shown_params = [
            p.name + ("..." if p.variable else f"={p.shown_default}" if not p.required else "") for p in self.params
        ]
        return f"{self.name}({', '.join(shown_params)})"

    @property
    def example(self) -> str:
        """The docstring's first example as a worksheet formula."""
        match = re.search(r"^ *>>> \w+\((.*)\)$", self.doc, re.MULTILINE)
        assert match is not None  # seen to at declaration
        return f"={self.name}({_as_formula(match.group(1))})"

    @property
    def page(self) -> str:
        """What help() shows: the docstring with each argument's unit and range, the equation and the source."""
        example = self.doc.find(">>> ")
        arguments = []
        for p in self.params:
            said = ["a whole range" if p.whole else "", "share" if p.is_share else "", self.answered(p)]
            said.append(f"default {p.shown_default}" if p.shown_default else "")
            words = ", ".join(word for word in said if word) or "any"
            arguments.append(f"    {p.name} : {words}\n        {p.help}")
        parts = [self.doc[:example].rstrip(), "Arguments:\n" + "\n".join(arguments)]
        if self.result.symbol:
            parts.append(f"Gives {self.result.symbol}.")
        parts += [
            "Equation:\n" + "\n".join(f"    {part}" for part in self.equation_parts),
            f"Source: {self.source} (revision {self.revision}).",
            self.doc[example:],
        ]
        return "\n\n".join(parts) + "\n"

    @property
    def equation_parts(self) -> list[str]:
        """The equation as pages show it, a part a line."""
        return self.equation.split("; ")

    def answered(self, parameter: Parameter) -> str:
        """The range in which an argument is answered, and the one that the formula was fitted over."""
        fitted = parameter.fitted
        return self.range_words(parameter) + (f" (fitted {fitted.low:g} to {fitted.high:g})" if fitted else "")

    def range_words(self, parameter: Parameter) -> str:
        """What a parameter may be, in words."""
        if parameter.names:
            return "one of: " + ", ".join(parameter.names.values())
        if parameter.is_text or parameter.quantity.__class__ is Anything:
            return ""
        words = parameter.limits.words(parameter.symbol)
        return words + (", or one of: " + ", ".join(parameter.table) if parameter.table else "")

    # -- one element ---------------------------------------------------------------------------------------------

    def scalar(self, values: Sequence[Any]) -> Any:
        """The answer for one value a parameter (whole ranges as rows); raises BrewError."""
        if self.zero_when and self.is_empty(values[self.index[self.zero_when]]):
            return 0.0
        return self.compute(self.read(values))

    def is_empty(self, value: Any) -> bool:
        """Whether the argument that makes a row count is 0 or blank."""
        if value is None:
            return False
        if isinstance(value, str) and not value.strip():
            return True
        try:
            return self.params[self.index[self.zero_when]].number(value) == 0
        except BrewError:
            return False

    def read(self, values: Sequence[Any], lifted: Container[int] = ()) -> list[Any]:
        """The values as the kernel wants them, but for those `lifted`: they are left as they are."""
        read: list[Any] = []
        wholes: list[int] = []
        for i, (parameter, value) in enumerate(zip(self.params, values)):
            if parameter.variable:
                break
            if parameter.whole is not None:
                wholes.append(i)
                read.append(value)
            elif i in lifted:
                read.append(value)
            else:
                read.append(parameter.read(value))
        for i, parameter in enumerate(self.params):
            if parameter.same_as and values[i] is None:
                read[i] = read[self.index[parameter.same_as]]
        if wholes:
            for i, column in zip(wholes, _rows([self.params[i] for i in wholes], [read[i] for i in wholes])):
                read[i] = column
        if self.variable:
            read.extend(values[len(self.params) - 1 :])
        return read

    def compute(self, read: Sequence[Any]) -> Any:
        """The kernel's answer for values already read; raises BrewError where there is none."""
        for relation in self.relations:
            low, high = read[self.index[relation.low]], read[self.index[relation.high]]
            if not relation.holds(low, high):
                raise OutOfRange(self._relation_refusal(relation, low, high))
        try:
            result = self.kernel(*read)
        except BrewError:
            raise
        except (ArithmeticError, ValueError):
            raise OutOfRange(self.no_answer_sentence) from None
        if self.gives_text:
            return result
        try:
            number = float(result)
        except TypeError:  # complex: a root or power of something negative
            raise OutOfRange(self.no_answer_sentence) from None
        if not -_HUGE <= number <= _HUGE:
            raise OutOfRange(self.no_answer_sentence)
        return number

    def _relation_refusal(self, relation: Relation, low: float, high: float) -> str:
        low_symbol, high_symbol = (self.params[self.index[n]].symbol for n in relation[:2])
        return relation.refusal(shown(low, low_symbol), shown(high, high_symbol))

    @property
    def no_answer_sentence(self) -> str:
        return f"{self.name} has no answer for these values" + (f": {self.no_answer}" if self.no_answer else "")

    # -- values as Python gives them -----------------------------------------------------------------------------

    def checked(self, values: Sequence[Any]) -> Any:
        """The answer for whatever Python was given: numbers, text, lists, arrays, pint quantities."""
        lifted = [
            i for i, p in enumerate(self.params) if p.whole is None and not p.variable and _has_elements(values[i])
        ]
        if not lifted:
            return self.scalar(values)
        if any(hasattr(values[i], "__array__") or hasattr(values[i], "magnitude") for i in lifted):
            from .arrays import call

            return call(self, values, lifted)
        return self._list(values, lifted)

    def _list(self, values: Sequence[Any], lifted: list[int]) -> Any:
        """Nested lists in, nested lists out; no numpy needed."""
        depths = {i: _depth(values[i]) for i in lifted}
        deepest = max(depths.values())
        lifted = [i for i in lifted if depths[i] == deepest]  # shallower ones go with every row, as in numpy
        lengths = {len(values[i]) for i in lifted}
        count = max(lengths - {1}, default=1)
        if not lengths <= {1, count}:
            raise BadInput(f"{self.name}: arguments of {', '.join(map(str, sorted(lengths)))} rows don't fit together")
        answers, problems = [], []
        for row in range(count):
            one = list(values)
            for i in lifted:
                one[i] = values[i][row if len(values[i]) > 1 else 0]
            try:
                answers.append(self.checked(one))
            except BrewError as error:
                problems.append((f"[{row}]", error))
        if problems:
            raise first_of(*problems[0], len(problems), count)
        return answers


def _depth(value: Any) -> int:
    """How deep lists are nested; an array's dimensions count too."""
    if isinstance(value, (list, tuple)):
        return 1 + max(map(_depth, value), default=0)
    return int(getattr(value, "ndim", 0))


def _has_elements(value: Any) -> bool:
    if isinstance(value, (list, tuple)):
        return True
    return bool(getattr(value, "ndim", 0)) if not isinstance(value, (float, int, str)) else False


# -- whole ranges ----------------------------------------------------------------------------------------------------


def _grid(value: Any) -> list[list[Any]]:
    """A cell, a list or an array as a list of rows."""
    if hasattr(value, "to_numpy"):  # a data frame
        value = value.to_numpy()
    if hasattr(value, "tolist"):
        value = value.tolist()
    if not isinstance(value, (list, tuple)):
        return [[value]]
    return [list(row) if isinstance(row, (list, tuple)) else [row] for row in value]


def _rows(params: Sequence[Parameter], values: Sequence[Any]) -> list[Any]:
    """Whole ranges side by side: each as a list of floats, rows blank on all sides left out."""
    if not params:
        return []
    for parameter, value in zip(params, values):
        if value is None:
            raise BadInput(f"{parameter.name} is missing")
    grids = [_grid(value) for value in values]
    for parameter, grid in zip(params, grids):
        if any(len(row) != len(grid[0]) for row in grid):
            raise BadInput(f"{parameter.name} has rows of different length")
    sizes = [(len(grid), len(grid[0]) if grid else 0) for grid in grids]
    shapes = {
        size
        for size, parameter in zip(sizes, params)
        if not (parameter.whole and parameter.whole.one_for_all and size == (1, 1))
    }
    if len(shapes) > 1:
        said = ", ".join(f"{p.name} {r} x {c}" for p, (r, c) in zip(params, sizes))
        raise BadInput(f"ranges of different size: {said}")
    single = [s not in shapes or (s == (1, 1) and bool(p.whole and p.whole.one_for_all)) for s, p in zip(sizes, params)]
    count = max(r * c for r, c in sizes)
    columns = [[cell for row in grid for cell in row] for grid in grids]
    out: list[list[float]] = [[] for _ in params]
    for k in range(count):
        cells = [column[0] if alone else column[k] for column, alone in zip(columns, single)]
        blank = [_is_blank(c) and not alone for c, alone in zip(cells, single)]
        if all(b or alone for b, alone in zip(blank, single)) and any(blank):
            continue
        if any(blank):
            gap, full = params[blank.index(True)].name, params[blank.index(False)].name
            raise BadInput(f"row {k + 1} has {full} but no {gap}")
        for column, parameter, cell in zip(out, params, cells):
            column.append(parameter.read(cell))
    return out


def _is_blank(cell: Any) -> bool:
    return cell is None or (cell.__class__ is str and not cell.strip())


# -- the fast way in -------------------------------------------------------------------------------------------------


def _front(function: Function) -> Kernel:
    """The Python function users call. Its body is written at the first call: most programs call a few of the functions,
    and all import them all.
    """
    kernel = function.kernel
    scope: dict[str, Any] = {"__builtins__": __builtins__}
    front: Any = FunctionType(_unwritten.__code__, scope, kernel.__name__)
    scope["write"] = lambda: _write(front, function)
    front.__module__, front.__qualname__ = kernel.__module__, kernel.__qualname__
    front.__wrapped__ = FunctionType(
        kernel.__code__, {}, kernel.__name__, kernel.__defaults__
    )  # for its signature: help
    # shows names and defaults, the page the rest
    return front  # type: ignore[no-any-return]


def _unwritten(*values: Any, **named: Any) -> Any:
    """A front before its first call; its globals are a scope of its own."""
    return globals()["write"]()(*values, **named)


def _write(front: Any, function: Function) -> Any:
    """Real parameters, and a short way through when every value is a plain number within its range (some ten times
    faster than looking at each value in turn). Written out from the declaration, as dataclasses are.
    """
    kernel, names, scope = function.kernel, [p.name for p in function.params], front.__globals__
    scope.update(kernel=kernel, checked=function.checked, PLAIN=_PLAIN, HUGE=_HUGE, LEAST=-_HUGE)
    signature, tests, lines = [], [], []
    for p in function.params:
        if p.variable:
            signature.append(f"*{p.name}")
            continue
        scope[f"default_{p.name}"] = p.default
        signature.append(p.name if p.required else f"{p.name}=default_{p.name}")
        if p.same_as:
            lines.append(f"    if {p.name} is None: {p.name} = {p.same_as}")
        if p.is_text:
            scope[f"names_{p.name}"] = frozenset((p.names or {}).values())
            tests.append(f"{p.name}.__class__ is str and {p.name} in names_{p.name}")
        else:
            scope[f"seen_{p.name}"] = p.quantity.seen if isinstance(p.quantity, Quantity) else {}
            lines.append(f"    if {p.name}.__class__ is str: {p.name} = seen_{p.name}.get({p.name}, {p.name})")
            scope[f"low_{p.name}"], scope[f"high_{p.name}"] = p.limits.ends
            tests.append(f"{p.name}.__class__ in PLAIN and low_{p.name} <= {p.name} <= high_{p.name}")
    tests += [f"{r.low} {'<' if r.strict else '<='} {r.high}" for r in function.relations]
    packed = f"({', '.join('*' + n if p.variable else n for n, p in zip(names, function.params))},)"
    if not function.gives_text and not any(p.whole or p.variable for p in function.params):
        lines += [
            f"    if {' and '.join(tests)}:",
            "        try:",
            f"            result = kernel({', '.join(names)})",
            "            if result.__class__ is float and LEAST <= result <= HUGE: return result",
            "        except Exception: pass  # told in full by checked",
        ]
    lines.append(f"    return checked({packed})")
    exec(f"def {kernel.__name__}({', '.join(signature)}):\n" + "\n".join(lines), scope)
    written = scope[kernel.__name__]
    front.__code__, front.__defaults__ = written.__code__, written.__defaults__
    return front


# -- the decorator and the list --------------------------------------------------------------------------------------

CATALOGUE: dict[str, Function] = {}
F = TypeVar("F", bound=Callable[..., Any])


def worksheet(
    *,
    source: str,
    equation: str,
    revision: int = 1,
    relations: Iterable[Relation] = (),
    zero_when: str = "",
    no_answer: str = "",
) -> Callable[[F], F]:
    """Declare a worksheet function; the decorated name becomes the checked function that Python users call.

    source: the published source, or "common practice, no source".
    equation: as it stands in the source, in plain ASCII or TeX, its parts parted by "; ". What isn't explained in it is
        an argument's name or letter. A function without one says "none: " and what it does instead.
    revision: counts up when a constant is corrected.
    relations: what must hold between parameters.
    zero_when: a parameter that makes the answer 0 where it is 0 or blank, whatever else the row holds.
    no_answer: why there may be no answer, for the sentence that says so.
    """

    def declare(kernel: F) -> F:
        function = Function(
            kernel=kernel,
            params=_parameters(kernel),
            result=_result(kernel),
            source=source,
            equation=equation,
            revision=revision,
            relations=tuple(relations),
            zero_when=zero_when,
            no_answer=no_answer,
        )
        _complete(function)
        function.call.__doc__ = function.page
        CATALOGUE[function.name] = function
        return function.call  # type: ignore[return-value]

    return declare


def _parameters(kernel: Kernel) -> tuple[Parameter, ...]:
    code, defaults = kernel.__code__, kernel.__defaults__ or ()
    names = list(code.co_varnames[: code.co_argcount])
    first_default = len(names) - len(defaults)
    variable = code.co_varnames[code.co_argcount] if code.co_flags & 0x04 else None
    found = []
    for i, name in enumerate([*names, variable] if variable else names):
        said = getattr(kernel.__annotations__.get(name), "__metadata__", ())
        kinds: dict[Any, Any] = {item.__class__: item for item in said}
        quantity = kinds.get(Quantity) or kinds.get(Text) or kinds.get(Anything)
        if quantity is None or str not in kinds:
            raise TypeError(f"{kernel.__name__}: {name} needs a quantity and a help text")
        if isinstance(quantity, Quantity) and Between not in kinds:
            raise TypeError(f"{kernel.__name__}: {name} needs a range")
        has_default = i >= first_default and name != variable
        same_as = kinds.get(SameAs)
        found.append(
            Parameter(
                name=name,
                quantity=quantity,
                limits=kinds.get(Between, ANY_NUMBER),
                help=kinds[str],
                default=defaults[i - first_default] if has_default else None,
                required=not has_default and name != variable,
                names=kinds[OneOf].names if OneOf in kinds else None,
                also=kinds[OneOf].also if OneOf in kinds else {},
                was=kinds[OneOf].was if OneOf in kinds else {},
                table=kinds[Named].table if Named in kinds else None,
                whole=kinds.get(WholeRange),
                same_as=same_as.parameter if same_as else None,
                fitted=kinds.get(Fitted),
                variable=name == variable,
            )
        )
    return tuple(found)


def _result(kernel: Kernel) -> Any:
    for item in getattr(kernel.__annotations__.get("return"), "__metadata__", ()):
        if isinstance(item, (Quantity, Text)):
            return item
    raise TypeError(f"{kernel.__name__}: the return annotation needs a quantity")


def _complete(function: Function) -> None:
    """Whatever a declaration leaves out fails here, at import."""
    name = function.name
    if name in CATALOGUE:
        raise TypeError(f"{name} is declared twice")
    if not function.equation or not function.equation.isascii():
        raise TypeError(f"{name} needs an equation, in plain ASCII or TeX")
    if not function.source or len(function.source) > 240:
        raise TypeError(f"{name} needs a source of at most 240 characters")
    if not any(line.startswith(f">>> {name.lower()}(") and line.endswith(")") for line in function.doc.split("\n")):
        raise TypeError(f"{name} needs an example in its docstring: >>> {name.lower()}(...)")
    if len(function.summary) > 255:
        raise TypeError(f"{name}: the first paragraph is longer than 255 characters, more than function wizards show")
    for relation in function.relations:
        for other in relation[:2]:
            if other not in function.index:
                raise TypeError(f"{name}: a relation names {other}, which is no parameter")


def catalogue() -> dict[str, Function]:
    """The worksheet functions, by name."""
    from . import formulas  # noqa: F401  (importing it fills the catalogue)

    return CATALOGUE


def find(name: str) -> Function:
    """The function of that name, in any case; raises NotListed with the nearest names."""
    found = catalogue().get(name.strip().upper())
    if found is None:
        from difflib import get_close_matches

        near = get_close_matches(name.strip().upper(), CATALOGUE, n=3, cutoff=0.6)
        raise NotListed(f'there is no function "{name}"' + (f"; near: {', '.join(near)}" if near else ""))
    return found


def _dedent(doc: str) -> str:
    lines = doc.split("\n")
    margin = min((len(line) - len(line.lstrip()) for line in lines[1:] if line.strip()), default=0)
    return "\n".join([lines[0].strip(), *(line[margin:].rstrip() for line in lines[1:])]).strip()


def _as_formula(arguments: str) -> str:
    """Python literals as worksheet ones: "x" stays, [[1], [2]] and [1, 2] become {1;2}, True becomes TRUE."""
    import ast

    def cell(value: Any) -> str:
        if isinstance(value, bool):
            return str(value).upper()
        if isinstance(value, str):
            return '"' + value.replace('"', '""') + '"'
        return repr(value)

    def text(value: Any) -> str:
        if isinstance(value, (list, tuple)):
            return (
                "{" + ";".join(",".join(map(cell, r)) if isinstance(r, (list, tuple)) else cell(r) for r in value) + "}"
            )
        return cell(value)

    values = ast.literal_eval(f"({arguments},)") if arguments.strip() else ()
    return ",".join(text(v) for v in values)
