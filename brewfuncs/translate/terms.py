"""A kernel as terms: what it computes, written down instead of computed.

Kernels don't branch on values, so calling one with terms instead of numbers gives its whole formula as a graph, in
which equal parts are one object. A word picks its branch while the kernel runs; so a kernel is called once for every
combination of its words, and what differs between those graphs becomes a choice.

>>> from brewfuncs.catalogue import find
>>> translated(find("BOIL_OFF"))
/(*(boil_off_rate, minutes), 60)
"""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any, ClassVar

from .. import formulas
from ..catalogue import Function
from ..errors import BrewError
from ..formulas import numeric

__all__ = ["Term", "Untranslatable", "Value", "term_of", "translated", "uses_of", "words_of"]

_FORMULAS = str(Path(formulas.__file__).parent)
_MOST_COMBINATIONS = 10_000


class Untranslatable(Exception):
    """A kernel does what can't be written down; says which one, where and why."""


class Term:
    """An operation, what is fixed about it, and what it works on; equal ones are one object.

    op          data                    args
    argument    name
    each        name                                         the element of a whole range
    variable    depth of its loop, n                         of the loop it stands in
    + - * / ^ < <= > >= = <> & |        two
    neg abs where exp expm1 ...         one; condition, then, otherwise
    sum                                 of this, over the rows of the whole ranges
    bisect      depth                   body, low, high, steps
    repeated    depth, times, which     starts, then bodies; variable 0 counts, the others are the state
    choice      words, which of args    one of which words[0] * ... picks by `data[1]`
    filled      names                   template, parts
    error       code, sentence
    """

    __slots__ = ("args", "data", "free", "op")
    known: ClassVar[dict[tuple[Any, ...], "Term"]] = {}
    op: str
    data: tuple[Any, ...]
    args: tuple["Value", ...]
    free: frozenset[Any]  # the loops it varies in: their depths, and "each"

    def __new__(cls, op: str, data: tuple[Any, ...] = (), args: Sequence["Value"] = ()) -> "Term":
        key = (op, data, *(a if isinstance(a, Term) else (a.__class__, repr(a)) for a in args))
        found = cls.known.get(key)
        if found is None:
            found = object.__new__(cls)
            found.op, found.data, found.args = op, data, tuple(args)
            free = {"each"} if op == "each" else {data[0]} if op == "variable" else set()
            free.update(*(a.free for a in args if isinstance(a, Term)))
            free -= {"each"} if op == "sum" else {data[0]} if op in ("bisect", "repeated") else set()
            found.free = frozenset(free)
            cls.known[key] = found
        return found

    def __repr__(self) -> str:
        said = ", ".join([*map(str, self.data), *map(repr, self.args)])
        return said if self.op in ("argument", "each") else f"{self.op}({said})"


Value = Term | float | str  # a bool is a number too


def words_of(function: Function) -> dict[str, list[str]]:
    """The parameters that are one of some words, and the words."""
    return {p.name: list(dict.fromkeys(p.names.values())) for p in function.params if p.names}


@cache
def translated(function: Function) -> Value:
    """The function's kernel as a term; raises Untranslatable."""
    words = words_of(function)
    if math.prod(map(len, words.values())) > _MOST_COMBINATIONS:
        raise Untranslatable(f"{_place(function)}: too many combinations of words")
    graphs = {
        at: _called(function, {name: listed[i] for (name, listed), i in zip(words.items(), at, strict=True)})
        for at in product(*(range(len(listed)) for listed in words.values()))
    }
    return _merged(graphs, tuple(words), tuple(map(len, words.values())))


def term_of(function: Callable[..., Any], *parameters: str) -> Value:
    """Any other function of plain numbers as a term."""
    with _recording():
        return _result(function(*(_Number(Term("argument", (name,))) for name in parameters)))


def _place(function: Function) -> str:
    code = function.kernel.__code__
    return f"{code.co_filename}:{code.co_firstlineno}: {function.name}"


def _called(function: Function, words: Mapping[str, str]) -> Value:
    arguments: list[Any] = []
    for p in function.params:
        if p.variable or (p.is_text and not p.names):
            raise Untranslatable(f"{_place(function)}: {p.name} may be any text")
        arguments.append(words.get(p.name) or (_Column(p.name) if p.whole else _Number(Term("argument", (p.name,)))))
    try:
        with _recording():
            return _result(function.kernel(*arguments))
    except BrewError as error:
        return Term("error", (error.code, str(error)))
    except Exception as error:
        lines, trace = [_place(function)], error.__traceback__
        while trace is not None:  # the last line of a formula that had to do with it
            code = trace.tb_frame.f_code
            if code.co_filename.startswith(_FORMULAS) and code.co_filename != numeric.__file__:
                lines.append(f"{code.co_filename}:{trace.tb_lineno}: {function.name}")
            trace = trace.tb_next
        raise Untranslatable(f"{lines[-1]} can't be translated: {error}") from error


def _result(result: Any) -> Value:
    value = _value(result)
    if isinstance(value, Term) and value.free:
        raise TypeError("an element of a whole range is used outside of sum()")
    return value


def uses_of(value: Value) -> Counter[Term]:
    """How many terms each term is part of."""
    uses: Counter[Term] = Counter()
    todo = [value]
    while todo:
        term = todo.pop()
        if isinstance(term, Term):
            uses[term] += 1
            if uses[term] == 1:
                todo += term.args
    return uses


# -- what kernels compute with while they are written down -----------------------------------------------------------


class _Number:
    """Stands for a number in a kernel, and writes down what is done to it."""

    __slots__ = ("term",)
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, term: Term) -> None:
        self.term = term

    @property
    def library(self) -> "type[_Library]":
        return _Library

    def __bool__(self) -> bool:
        raise TypeError("the kernel branches on a value; `where` and `only_if` can be translated")

    def __neg__(self) -> "_Number":
        return _Number(Term("neg", (), (self.term,)))

    def __abs__(self) -> "_Number":
        return _Number(Term("abs", (), (self.term,)))

    def __radd__(self, other: Any) -> "_Number":
        if other.__class__ is int and other == 0 and "each" in self.term.free:  # what sum() does to the first element
            return _Number(Term("sum", (), (self.term,)))
        return _number("+", other, self)


def _number(op: str, *values: Any) -> _Number:
    return _Number(Term(op, (), [_value(v) for v in values]))


def _value(value: Any) -> Value:
    if isinstance(value, _Number):
        return value.term
    if isinstance(value, Term | float | int | str):
        return value
    raise TypeError(f"{value!r} is no number")


def _define(method: str, op: str) -> None:
    setattr(_Number, f"__{method}__", lambda a, b: _number(op, a, b))
    if method not in ("lt", "le", "gt", "ge", "eq", "ne", "add"):
        setattr(_Number, f"__r{method}__", lambda a, b: _number(op, b, a))


for _method, _op in {
    "add": "+", "sub": "-", "mul": "*", "truediv": "/", "pow": "^", "and": "&", "or": "|", "lt": "<", "le": "<=",
    "gt": ">", "ge": ">=", "eq": "=", "ne": "<>",
}.items():  # fmt: skip
    _define(_method, _op)


class _Library:
    """exp, log and the like of a `_Number`; what numeric.py finds there."""

    @staticmethod
    def where(condition: Any, then: Any, otherwise: Any) -> _Number:
        return _number("where", condition, then, otherwise)


for _name in ("exp", "expm1", "floor", "log", "log10", "log1p", "sqrt", "tanh"):
    setattr(_Library, _name, staticmethod(lambda x, name=_name: _number(name, x)))


class _Column:
    """Stands for a whole range: one element that stands for all of them."""

    def __init__(self, name: str) -> None:
        self.name = name

    def __iter__(self) -> Iterator[_Number]:
        return iter([_Number(Term("each", (self.name,)))])


class _Recorder:
    """Writes loops and sentences down. Loops are told apart by how deep they lie, so that equal ones are one term."""

    depth = 0

    def _variables(self, count: int) -> list[_Number]:
        return [_Number(Term("variable", (self.depth, i))) for i in range(count)]

    @contextmanager
    def _deeper(self) -> Iterator[None]:
        self.depth += 1
        try:
            yield
        finally:
            self.depth -= 1

    def bisect(self, function: Any, low: Any, high: Any, steps: int) -> _Number:
        with self._deeper():
            body = _value(function(*self._variables(1)))
            depth = self.depth
        return _Number(Term("bisect", (depth,), (body, _value(low), _value(high), steps)))

    def repeated(self, times: int, step: Any, *state: Any) -> tuple[_Number, ...]:
        with self._deeper():
            bodies = [_value(v) for v in step(*self._variables(1 + len(state)))]
            depth = self.depth
        parts = [*map(_value, state), *bodies]
        return tuple(_Number(Term("repeated", (depth, times, i), parts)) for i in range(len(state)))

    def filled(self, template: str, **parts: Any) -> Term:
        return Term("filled", tuple(parts), [template, *parts.values()])


@contextmanager
def _recording() -> Iterator[None]:
    numeric.recorder = _Recorder()
    try:
        yield
    finally:
        numeric.recorder = None


# -- words -----------------------------------------------------------------------------------------------------------

_Place = tuple[int, ...]  # which of its words each parameter is


def _merged(graphs: Mapping[_Place, Value], words: tuple[str, ...], sizes: tuple[int, ...]) -> Value:
    """One graph for all combinations of words: what is the same stands once, what differs is a choice."""
    if len({*map(_identity, graphs.values())}) == 1:
        return next(iter(graphs.values()))
    kinds: dict[Any, dict[_Place, Value]] = {}
    for at, value in graphs.items():
        kinds.setdefault(_kind(value), {})[at] = value
    if len(kinds) > 1:
        which = {at: k for k, alike in enumerate(kinds.values()) for at in alike}
        return _choice(which, [_merged(alike, words, sizes) for alike in kinds.values()], words, sizes)
    first = next(iter(graphs.values()))
    if isinstance(first, Term):
        columns = zip(*(value.args for value in graphs.values() if isinstance(value, Term)), strict=True)
        args = [_merged(dict(zip(graphs, column, strict=True)), words, sizes) for column in columns]
        return Term(first.op, first.data, args)
    distinct = {_identity(value): value for value in graphs.values()}
    numbers = {identity: k for k, identity in enumerate(distinct)}
    which = {at: numbers[_identity(value)] for at, value in graphs.items()}
    return _choice(which, list(distinct.values()), words, sizes)


def _identity(value: Value) -> Any:
    return value if isinstance(value, Term) else (value.__class__, repr(value))


def _kind(value: Value) -> Any:
    return (value.op, value.data, len(value.args)) if isinstance(value, Term) else isinstance(value, str)


def _choice(
    which: Mapping[_Place, int], alternatives: Sequence[Value], words: tuple[str, ...], sizes: tuple[int, ...]
) -> Term:
    """By as few of the words as tell the alternatives apart; combinations that don't occur take any."""
    keep = list(range(len(words)))
    for word in range(len(words)):
        fewer = [i for i in keep if i != word]
        seen: dict[_Place, int] = {}
        if all(seen.setdefault(tuple(at[i] for i in fewer), k) == k for at, k in which.items()):
            keep = fewer
    found = {tuple(at[i] for i in keep): k for at, k in which.items()}
    table = tuple(found.get(at, 0) for at in product(*(range(sizes[i]) for i in keep)))
    return Term("choice", (tuple(words[i] for i in keep), tuple(sizes[i] for i in keep), table), alternatives)
