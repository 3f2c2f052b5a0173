"""One list of worksheet formulas, and what every host has to answer.

A host joins with one function:

    compute(formulas: Sequence[str]) -> Sequence[value]

which enters each formula (with its "=", in English spelling) into a cell of its own, works them out, and gives a value
for each: a number, a text, TRUE or FALSE as Python has them, or an error: `Code("#NUM!")`, or anything that has a
`code`, such as a BrewError. No formula gives an array: elements are asked for with INDEX. The only cell that formulas
speak of is ZZ999, which stays blank. And with another,

    calls() -> Counter

which tells how often each worksheet function has been called so far, counted as far out on the host's own path as can
be. Then

    assert differences(compute, host="calc", calls=calls) == []

compares with Python (`python`, below): numbers to 1e-12 of their size, texts letter by letter, errors code by code.
Where a host can't but differ, EXCEPTIONS says so and why; an exception that is no longer needed is a difference too.
So are answers that didn't come through the host: each formula calls its functions once, neither less nor more.
"""

import csv
import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from enum import Enum
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import brewfuncs.formulas  # noqa: F401  (fills the catalogue)
from brewfuncs import cells
from brewfuncs.catalogue import _HUGE, CATALOGUE, Function, Parameter
from brewfuncs.errors import BrewError, CellError
from brewfuncs.units import DIMENSIONS, SLIPS, Anything

TABLES = Path(__file__).parent / "tables"
BLANK_CELL = "ZZ999"
RELATIVE = 1e-12  # what different libraries' exp and log differ by, a few times over


class Code(str):
    """An error value as a cell shows it: "#NUM!" the error, not the text."""

    __slots__ = ()

    def __repr__(self) -> str:
        return str(self)


VALUE, NUM, NA, DIV = Code("#VALUE!"), Code("#NUM!"), Code("#N/A"), Code("#DIV/0!")
Value = float | str | bool
Compute = Callable[[Sequence[str]], Sequence[Any]]
Called = Callable[[str, list[Any]], Any]
Calls = Callable[[], Counter[str]]


class Case(NamedTuple):
    """A formula, and the error it must give where it must give one."""

    id: str
    formula: str
    error: Code | None = None


class Gives(Enum):
    """What a host gives in an exempt case, where it isn't one value."""

    ANYTHING = "such as a refusal to take the formula"
    THE_SAME = "as Python does"


NEVER = (0, 0)


class Exempt(NamedTuple):
    """Cases (a pattern of their ids) in which a host does otherwise for reasons of its own, and what it gives there."""

    ids: str
    gives: Value | Gives
    why: str
    calls: tuple[int, float] = (1, 1)  # how often it calls the function: at least, at most


EXCEPTIONS: dict[str, list[Exempt]] = {
    "engine": [],
    "calc": [
        Exempt(
            "*: * error value",
            Gives.THE_SAME,
            "Calc answers an error value among the arguments with the same error value, before any call",
            NEVER,
        ),
        Exempt(
            "*: * error within a range",
            Gives.ANYTHING,
            "Calc takes no error in an inline array, and answers a range that holds one with Err:504 before any call",
            NEVER,
        ),
        Exempt(
            "*, the sentence",
            Gives.THE_SAME,
            "where a function takes any number of arguments, Calc calls it anew for each row of an inline array",
            (1, math.inf),
        ),
    ],
    "excel": [
        Exempt(
            "BREW_REASON: function_name missing",
            Gives.THE_SAME,
            "beside a ParamArray no argument can be Optional: Excel answers #VALUE! before any call",
            NEVER,
        ),
    ],
    "javascript": [],
}


# -- formulas --------------------------------------------------------------------------------------------------------


class Omitted:
    """An argument left out, F(1,,3)."""


class Reference:
    """The blank cell."""


OMITTED, BLANK = Omitted(), Reference()


def literal(value: Any) -> str:
    """A value as formulas write it; a list of rows is an inline array."""
    if value is OMITTED:
        return ""
    if value is BLANK:
        return BLANK_CELL
    if isinstance(value, list):
        return "{" + ";".join(",".join(literal(cell) for cell in row) for row in value) + "}"
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, Code):
        return "(1/0)" if value == DIV else "NA()"
    if isinstance(value, str):
        return '"' + value.replace('"', '""') + '"'
    return repr(value).upper()


def call(name: str, arguments: Sequence[Any]) -> str:
    return f"{name}({','.join(map(literal, arguments))})"


def arguments_of(formula: str) -> list[Any]:
    """The arguments of a formula that is one call with literals."""
    parser = _Parser(formula, lambda name, arguments: None)
    parser.next()
    return [OMITTED if a is cells.OMITTED else a for a in parser.arguments()]


# -- the list of cases -----------------------------------------------------------------------------------------------


class Row(NamedTuple):
    """A published or independently computed value."""

    id: str
    formula: str
    expected: float
    tolerance: float
    source: str
    provenance: str


def rows() -> list[Row]:
    """Every row of every table."""
    found = []
    for path in sorted(TABLES.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                found.append(
                    Row(
                        row["id"],
                        row["formula"],
                        float(row["expected"]),
                        float(row["tolerance"]),
                        row["source"],
                        row["provenance"],
                    )
                )
    return found


@cache
def cases() -> tuple[Case, ...]:
    """All of it: the tables, every function's example, every kind of error of every function, and their sentences."""
    found = [Case(row.id, row.formula) for row in rows()]
    for function in CATALOGUE.values():
        found.append(Case(f"{function.name}: example", function.example))
        errors = list(error_cases(function))
        found += errors
        found += [sentence_case(case) for case in errors if "error" not in case.id.partition(":")[2]]
        found += value_cases(function)
    return tuple(found)


def sentence_case(case: Case) -> Case:
    """BREW_REASON of the same call."""
    name, rest = re.fullmatch(r"=(?:INDEX\()?(\w+)\((.*)", case.formula, re.DOTALL).groups()
    call_text = f'BREW_REASON("{name}"' + ("" if rest.startswith(")") else ",") + rest
    return Case(case.id + ", the sentence", ("=INDEX(" if case.formula.startswith("=INDEX(") else "=") + call_text)


def base_arguments(function: Function) -> list[Any]:
    """The example's arguments, filled up with the defaults."""
    given = arguments_of(function.example)
    for parameter in function.params[len(given) :]:
        if parameter.variable:
            break
        given.append(OMITTED if parameter.same_as or parameter.default is None else parameter.default)
    return given


def error_cases(function: Function) -> Iterable[Case]:
    """One case of every kind of error for each argument."""
    base = base_arguments(function)

    def case(what: str, error: Code, changes: dict[int, Any]) -> Case:
        arguments = [changes.get(i, value) for i, value in enumerate(base)]
        return Case(f"{function.name}: {what}", "=" + call(function.name, arguments), error)

    for i, p in enumerate(function.params):
        if p.variable:
            continue
        if p.required:
            yield case(f"{p.name} missing", VALUE, {i: OMITTED})
        yield case(f"{p.name} error value", NA, {i: NA})
        yield case(f"{p.name} another error value", DIV, {i: DIV})
        if p.whole:
            sound = as_rows(base[i])
            yield case(f"{p.name} error within a range", NA, {i: [[NA], *sound[1:]]})
            for what, error, value in bad_values(function, p):
                yield case(f"{p.name} {what} in a range", error, {i: [[value], *sound[1:]]})
            if not p.whole.one_for_all:
                yield case(f"{p.name} range of another size", VALUE, {i: [*sound, sound[0]]})
                yield case(f"{p.name} row blank on one side", VALUE, {i: [[""], *sound[1:]]})
            continue
        for what, error, value in bad_values(function, p):
            yield case(f"{p.name} {what}", error, {i: value})
        if function.name != "BREW_REASON":
            yield from _array_cases(function, i, p, base)
    lifting = [i for i, p in enumerate(function.params) if not p.whole and not p.variable and base[i] is not OMITTED]
    if len(lifting) > 1 and function.name != "BREW_REASON":
        one, other = lifting[:2]
        yield case("shapes that don't fit", VALUE, {one: [[base[one]]] * 2, other: [[base[other]]] * 3})
    for n, relation in enumerate(function.relations):
        low, high = function.index[relation.low], function.index[relation.high]
        if base[low] != base[high] and OMITTED not in (base[low], base[high]):
            yield case(f"relation {n + 1}", NUM, {low: base[high], high: base[low]})


def _array_cases(function: Function, i: int, p: Parameter, base: list[Any]) -> Iterable[Case]:
    """A column with a sound and a bad element: the sound one keeps its answer."""
    bad = next(iter(bad_values(function, p)), None)
    if bad is None or base[i] is OMITTED:
        return
    what, error, value = bad
    arguments = [[[base[i]], [value]] if k == i else argument for k, argument in enumerate(base)]
    formula = call(function.name, arguments)
    yield Case(f"{function.name}: {p.name} {what} in an array", f"=INDEX({formula},2)", error)


def bad_values(function: Function, p: Parameter) -> Iterable[tuple[str, Code, Any]]:
    """What is wrong, the error it must give, and a value for it."""
    if p.is_text:
        if p.names:
            yield "unknown name", NA, "dollop"
            yield "a number for a name", NA, 7
            for word in p.was:  # sentences are compared too: they name the new word
                yield f"old name {word}", NA, word
        elif function.name in ("BREW_SOURCE", "BREW_REASON"):
            yield "unknown name", NA, "dollop"
        else:
            yield "unknown unit", VALUE, "dollop"
        return
    if isinstance(p.quantity, Anything):
        return
    spellings = p.quantity.dimension.spellings
    unit = next(u for u in ("kg", "min", "bar") if u not in spellings)
    yield "text", NA if p.table else VALUE, "dollop"
    yield "wrong dimension", VALUE, f"5 {unit}"
    yield "unknown unit", VALUE, "5 dollop"
    yield "decimal comma", VALUE, "1,5"
    yield "fraction", VALUE, "1 1/2"
    amount, _, so_much = p.symbol.partition("/")
    if amount and so_much:
        yield "amount in nothing", VALUE, f"5 {amount} in 0 {so_much}"
    for given, wanted in SLIPS:  # what has a sentence of its own
        if wanted == p.quantity.dimension.name:
            units = next(d.units for d in DIMENSIONS if d.name == given)
            symbol = next(unit.symbol for unit in units if unit.symbol not in p.quantity.dimension.spellings)
            yield given, VALUE, f"12 {symbol.casefold()}"
    low, high = p.limits.low, p.limits.high
    if low > -_HUGE:
        yield "too low", NUM, low - max(1, abs(low))
        if p.limits.above:
            yield "excluded end", NUM, low
    if high < _HUGE:
        yield "too high", NUM, high + max(1, abs(high))
    if p.quantity.dimension.name.startswith("share") and high <= 1:
        yield "share as 5.5", NUM, 5.5


def as_rows(value: Any) -> list[list[Any]]:
    return value if isinstance(value, list) else [[value]]


def value_cases(function: Function) -> Iterable[Case]:
    """The readings that all hosts must share: blanks, TRUE, numbers and quantities as text, columns, rows, blocks."""
    if function.name == "BREW_REASON":
        return
    base = base_arguments(function)
    wholes = [i for i, p in enumerate(function.params) if p.whole]

    def case(what: str, changes: dict[int, Any], element: str = "") -> Case:
        formula = call(function.name, [changes.get(i, value) for i, value in enumerate(base)])
        return Case(f"{function.name}: {what}", f"=INDEX({formula},{element})" if element else f"={formula}")

    for i, p in enumerate(function.params):
        yield case(f"{p.name} blank", {i: BLANK})
        yield case(f"{p.name} empty text", {i: ""})
        if p.whole:
            (first,), *rest = as_rows(base[i])
            readings = [("TRUE", True), ("number as text", f" {first!r} "), ("quantity as text", written(p, first))]
            for what, value in readings:
                yield case(f"{p.name} {what} in a range", {i: [[value], *rest]})
        elif p.is_text:
            yield case(f"{p.name} in capitals", {i: f" {base[i] or p.default}".upper()})
            for word in p.also:  # understood, and not listed
                yield case(f"{p.name} {word}", {i: word.upper()})
        else:
            yield case(f"{p.name} TRUE", {i: True})
            if isinstance(base[i], int | float):
                yield case(f"{p.name} number as text", {i: f" {base[i]!r} "})
                yield case(f"{p.name} quantity as text", {i: written(p, base[i])})
                amount, _, so_much = p.symbol.partition("/")
                if amount and so_much:
                    yield case(f"{p.name} as labels have it", {i: f"{2 * base[i]!r} {amount} in 2 {so_much}"})
        if not p.whole and base[i] is not OMITTED:
            yield case(f"{p.name} a column", {i: [[base[i]], [base[i]]]}, "2")
            yield case(f"{p.name} a row", {i: [["", base[i]]]}, "1,2")
            yield case(f"{p.name} a block", {i: [[base[i], ""], ["", base[i]]]}, "2,2")
            yield case(f"{p.name} an empty text in an array", {i: [[base[i]], [""]]}, "2")
    if wholes:
        yield case("blank rows", {i: [[""], *as_rows(base[i]), [" "]] for i in wholes if len(as_rows(base[i])) > 1})
        yield case("rows instead of columns", {i: [[row[0] for row in as_rows(base[i])]] for i in wholes})
        yield case("ranges of one cell", {i: as_rows(base[i])[0][0] for i in wholes})
    lifting = [i for i, p in enumerate(function.params) if not p.whole and base[i] is not OMITTED]
    if len(lifting) > 1:
        down, across = lifting[:2]
        spread = {down: [["dollop"], [base[down]]], across: [["dollop", base[across]]]}
        yield case("a column and a row spread over each other", spread, "2,2")


def written(p: Parameter, value: float) -> str:
    """A number of a parameter as text, in another unit of its kind where there is one."""
    dimension, own = p.quantity.dimension, p.quantity.unit
    unit = next((u for u in dimension.units if u != own and u.symbol), own)
    return f"{dimension.convert(value, own, unit):.12g} {unit.symbol}"


# -- Python as a host ------------------------------------------------------------------------------------------------

_TOKEN = re.compile(
    r"""\s*(?:(?P<number>\d+\.?\d*(?:E[+-]?\d+)?|\.\d+(?:E[+-]?\d+)?)|(?P<text>"(?:[^"]|"")*")"""
    r"""|(?P<name>[A-Z_][A-Z0-9_.]*)|(?P<sign>[-+*/(){},;]))""",
    re.IGNORECASE,
)


class _Parser:
    """Just enough of the formula language for the cases: calls, numbers, texts, inline arrays, + - * /."""

    def __init__(self, formula: str, call: Called) -> None:
        self.call = call
        text = formula.removeprefix("=")
        self.tokens: list[tuple[str, str]] = []
        at = 0
        while text[at:].strip():
            match = _TOKEN.match(text, at)
            assert match is not None, f"can't read {formula} at {text[at:]}"
            kind = match.lastgroup or ""
            self.tokens.append((kind, match.group(kind)))
            at = match.end()
        self.tokens.append(("end", ""))
        self.at = 0

    def evaluate(self) -> Any:
        value = self.sum()
        assert self.tokens[self.at][0] == "end", self.tokens[self.at :]
        return value

    def next(self) -> tuple[str, str]:
        token = self.tokens[self.at]
        self.at += 1
        return token

    def peek(self) -> str:
        return self.tokens[self.at][1]

    def expect(self, sign: str) -> None:
        assert self.next()[1] == sign

    def sum(self) -> Any:
        value = self.product()
        while self.peek() in ("+", "-"):
            sign = self.next()[1]
            other = self.product()
            value = _arithmetic(sign, value, other)
        return value

    def product(self) -> Any:
        value = self.unary()
        while self.peek() in ("*", "/"):
            sign = self.next()[1]
            value = _arithmetic(sign, value, self.unary())
        return value

    def unary(self) -> Any:
        kind, text = self.next()
        if text == "-":
            return -self.unary()
        if kind == "number":
            return float(text)
        if kind == "text":
            return text[1:-1].replace('""', '"')
        if text == "(":
            value = self.sum()
            self.expect(")")
            return value
        if text == "{":
            return self.array()
        if text.upper() in ("TRUE", "FALSE"):
            return text.upper() == "TRUE"
        if text.upper() == BLANK_CELL:
            return cells.BLANK
        return _called(text.upper(), self.arguments(), self.call)

    def array(self) -> list[list[Any]]:
        table: list[list[Any]] = [[self.unary()]]
        while (sign := self.next()[1]) != "}":
            if sign == ";":
                table.append([])
            table[-1].append(self.unary())
        return table

    def arguments(self) -> list[Any]:
        self.expect("(")
        if self.peek() == ")":
            self.next()
            return []
        found = []
        while True:
            found.append(cells.OMITTED if self.peek() in (",", ")") else self.sum())
            if self.next()[1] == ")":
                return found


def _arithmetic(sign: str, a: Any, b: Any) -> Any:
    if sign == "/":
        return a / b if b else CellError("#DIV/0!")
    return {"+": a.__add__, "-": a.__sub__, "*": a.__mul__}[sign](b)


def _called(name: str, arguments: list[Any], call: Called) -> Any:
    if name == "NA":
        return CellError("#N/A")
    if name == "INDEX":
        table, *at = arguments
        if not isinstance(table, list):
            return table
        row, column = int(at[0]), int(at[1]) if len(at) > 1 else 1
        return table[row - 1][column - 1]
    return call(name, arguments) if name in CATALOGUE else CellError("#NAME?")


def answered(formulas: Sequence[str], call: Called) -> list[Any]:
    """The formulas' values where `call` answers each function of ours: cells in, cells out, as in cells.apply."""
    return [_Parser(formula, call).evaluate() for formula in formulas]


def python(formulas: Sequence[str]) -> list[Any]:
    """Python itself as a host."""
    return answered(formulas, lambda name, arguments: cells.apply(CATALOGUE[name], arguments))


# -- comparing -------------------------------------------------------------------------------------------------------


def run(compute: Compute, of: Sequence[Case] | None = None) -> list[Value]:
    """What a host gives for every case: floats, texts, booleans and Codes."""
    of = cases() if of is None else of
    values = [_plain(value) for value in compute([case.formula for case in of])]
    assert len(values) == len(of), f"{len(values)} values for {len(of)} formulas"
    return values


def _plain(value: Any) -> Value:
    if isinstance(value, list | tuple) and len(value) == 1:  # a 1 x 1 array is its cell
        return _plain(value[0])
    if isinstance(value, BrewError) or hasattr(value, "code"):
        return Code(value.code)
    if isinstance(value, bool | str):
        return value
    return float(value)


def agree(ours: Any, theirs: Value) -> bool:
    """The same value, or the same error."""
    if type(ours) is not type(theirs):
        return False
    if isinstance(ours, float) and isinstance(theirs, float):
        return math.isfinite(theirs) and math.isclose(ours, theirs, rel_tol=RELATIVE, abs_tol=1e-15)
    return ours == theirs


@cache
def _expected() -> dict[Case, Value]:
    return dict(zip(cases(), run(python), strict=True))


def called(formula: str) -> Counter[str]:
    """How often a formula calls each worksheet function."""
    names = re.findall(r"(\w+)\(", re.sub('"[^"]*"', "", formula))
    return Counter(name for name in names if name in CATALOGUE)


def differences(
    compute: Compute, host: str, calls: Calls, rounds: int = 1, of: Sequence[Case] | None = None
) -> list[str]:
    """Where a host's answers differ from Python's and no exception is declared: one line each, with the formula.

    `rounds` says how often the host works each formula out; `of` is less than all cases.
    """
    listed = cases() if of is None else of
    before = calls()
    answers = run(compute, listed)
    made = calls() - before
    found, used = [], set()
    least, most = Counter[str](), Counter[str]()
    for case, theirs in zip(listed, answers, strict=True):
        ours = _expected()[case]
        exempt = next((e for e in EXCEPTIONS[host] if fnmatchcase(case.id, e.ids)), None)
        low, high = exempt.calls if exempt else (1, 1)
        if (low, high) != (1, 1):
            used.add(exempt)  # whether it is needed shows in the count
        for name, count in called(case.formula).items():
            least[name] += low * count * rounds
            most[name] += high * count * rounds
        if agree(ours, theirs):
            continue
        if exempt is not None:
            used.add(exempt)
            if exempt.gives is Gives.ANYTHING or agree(exempt.gives, theirs):
                continue
        found.append(f"{case.id}: {case.formula} gives {theirs!r}, Python {ours!r}")
    if of is None:
        found += [f"exception no longer needed: {e.ids} ({e.why})" for e in EXCEPTIONS[host] if e not in used]
    found += [
        f"{name} was called {made[name]} times where the cases call it {least[name]} to {most[name]} times"
        for name in sorted({*made, *least})
        if not least[name] <= made[name] <= most[name]
    ]
    return found
