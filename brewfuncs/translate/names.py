"""The functions as names of a workbook: LAMBDA formulas that need no add-in, nor a program that can run one.

Each is complete in itself: it reads its arguments (numbers, words, whole ranges, arguments left out), refuses what the
declaration refuses with the same error value, and works the kernel out. Quantity text isn't understood: #VALUE!.
Everything answers element by element where the function does, so nothing here may collapse a range: no AND, OR, MATCH,
INDEX or SWITCH, and no ISTEXT, which not every program takes element by element (`x&""=x` is true of texts and blanks).
"""

import math
import re
from collections import Counter
from collections.abc import Iterable
from functools import cache
from typing import Any

from ..catalogue import _HUGE, CATALOGUE, Function, Parameter
from ..units import DIMENSIONS, Quantity
from .terms import Term, Value, term_of, translated, uses_of, words_of

__all__ = ["COMMENT", "LONGEST", "LambdaName", "lambda_name", "named", "takes_ranges"]

LONGEST = 8192  # characters of a formula, as files write it
COMMENT = 255  # characters of a name's comment


class LambdaName:
    """A function as a name: `text` is the formula as files write it, `comment` what Excel shows beside it."""

    def __init__(self, name: str, text: str, comment: str) -> None:
        self.name, self.text, self.comment = name, text, comment


def named() -> list[str]:
    """The functions that can be names. BREW_REASON takes any number of arguments of any kind and can't."""
    return [f.name for f in CATALOGUE.values() if not f.variable]


@cache
def lambda_name(name: str, beside: tuple[str, ...] = ()) -> LambdaName:
    """The function of that name, of those `named`; `beside` are the functions that BREW_SOURCE knows the source of."""
    function = CATALOGUE[name]
    return LambdaName(name, _Formula(function, beside or tuple(CATALOGUE)).text(), _comment(function))


def _comment(function: Function) -> str:
    """Arguments with their units and the source, as far as there is room."""
    given = [p.name + (f" {p.symbol}" if p.symbol else "") for p in function.params]
    unit = f" in {function.result.symbol}" if isinstance(function.result, Quantity) and function.result.symbol else ""
    text = f"({', '.join(given)}){unit}. {function.source}"
    return text if len(text) <= COMMENT else text[: COMMENT - 1].rstrip(" ,;") + "…"


# -- one function ----------------------------------------------------------------------------------------------------


class _Formula:
    """LET's names and what they stand for, in order, and the answer.

    An argument `minutes_` is read into `minutes_in`: a workbook's own names hardly end like that. `bad_` adds up the
    arguments' errors, the first of which is the answer where there is one. Whatever goes wrong after that means that
    there is no answer: #NUM!.
    """

    def __init__(self, function: Function, beside: tuple[str, ...] = ()) -> None:
        self.function, self.beside = function, beside
        self.pairs: list[tuple[str, str]] = []
        self.bad: list[str] = []
        self.body: Body | None = None

    def text(self) -> str:
        function = self.function
        self.let("read_", _lambda(["x_"], 'IF(x_.&""=x_.,IF(TRIM(x_.)="",0,#VALUE!),IF(x_.&""=x_.,0,x_.)+0)'))
        wholes = [p for p in function.params if p.whole]
        for p in function.params:
            (self.word if p.is_text else self.whole if p.whole else self.number)(p)
        if wholes:
            self.rows(wholes)
        for relation in function.relations:
            sign = "<" if relation.strict else "<="
            self.bad.append(f"IF({relation.low}_in.{sign}{relation.high}_in.,0,#NUM!)")
        if wholes and _sums_vary(function):
            self.bad += [
                f"IF(ROWS({p.name}_.)*COLUMNS({p.name}_.)>1,#VALUE!,0)" for p in function.params if not p.whole
            ]
        result = self.result()
        self.pairs[1:1] = [
            (f"{name}_", _lambda(["x_"], _SERIES[name])) for name in (self.body.series if self.body else ())
        ]
        self.let("bad_", "+".join(self.bad))
        answer = f"IF(bad_.=0,{result if function.gives_text else f'IFERROR({result},#NUM!)'})"
        if function.zero_when:
            answer = f"IF(IFERROR({function.zero_when}_in.=0,FALSE),{self.brought_along()},{answer})"
        lets = "".join(f"{name}.,{value}," for name, value in self.pairs)
        parameters = "".join(f"{'' if p.required else '?'}{p.name}_.," for p in function.params)
        return _as_files_write_it(f"LAMBDA({parameters}LET({lets}{answer}))")

    def let(self, name: str, value: str) -> None:
        self.pairs.append((name, value))

    def result(self) -> str:
        if self.function.name == "UNIT_CONVERT":
            return _conversion(self)
        if self.function.name == "BREW_SOURCE":
            return _sources(self.beside, LONGEST - 500)
        return self.kernel(translated(self.function))

    def kernel(self, value: Value) -> str:
        if self.body is None:
            self.body = Body(self.pairs)
        return self.body.text(value)

    def brought_along(self) -> str:
        """The first error among the arguments themselves, or 0."""
        return "+".join(
            f'IF(ISOMITTED({p.name}_.),0,({p.name}_.="")*0)'
            for p in self.function.params
            if p.name != self.function.zero_when
        )

    # -- arguments

    def number(self, p: Parameter) -> None:
        read = f"read_.({p.name}_.)"
        if p.table:
            named = "".join(f"IF(TRIM({p.name}_.)={_text(n)},{_number(x)}," for n, x in p.table.items())
            listed = f"{named}#N/A{')' * len(p.table)}"
            read = f'IF({p.name}_.&""={p.name}_.,IF(TRIM({p.name}_.)="",0,{listed}),{read})'
        self.let(f"{p.name}_in", self.unless_omitted(p, read))
        self.bad.append(_within(p, f"{p.name}_in."))

    def unless_omitted(self, p: Parameter, read: str) -> str:
        left_out = "#VALUE!" if p.required else f"{p.same_as}_in." if p.same_as else _number(p.default)
        return f"IF(ISOMITTED({p.name}_.),{left_out},{read})"

    def word(self, p: Parameter) -> None:
        """Which word it is, counted from 1; what is blank is left out."""
        if not p.names:
            self.let(f"{p.name}_in", self.unless_omitted(p, f'IF(TRIM({p.name}_.)="",#VALUE!,TRIM({p.name}_.))'))
            self.bad.append(
                f'IF(ROWS({p.name}_.)*COLUMNS({p.name}_.)>1,#VALUE!,({p.name}_in.="")*0)'
            )  # one, not a range
            return
        words = words_of(self.function)[p.name]
        left_out = "#VALUE!" if p.required else str(words.index(p.default) + 1)
        self.let(f"{p.name}_word", f'IF(ISOMITTED({p.name}_.),"",TRIM({p.name}_.))')
        known = [(word, i) for i, word in enumerate(words, 1)]
        known += [(word, words.index(meant) + 1) for word, meant in p.also.items()]
        which = "+".join(f"({p.name}_word.={_text(word)})" + (f"*{i}" if i > 1 else "") for word, i in known)
        self.let(f"{p.name}_which", which)
        blank = f'({p.name}_word.="")+({p.name}_word.="0")'
        self.let(f"{p.name}_in", f"IF({blank},{left_out},IF({p.name}_which.,{p.name}_which.,#N/A))")
        self.bad.append(f"{p.name}_in.*0")

    def whole(self, p: Parameter) -> None:
        """Its numbers, and where it is blank; a single cell never is, as elsewhere."""
        self.let(f"{p.name}_in", f"IF(ISOMITTED({p.name}_.),#VALUE!,read_.({p.name}_.))")
        self.let(f"{p.name}_blank", f'(TRIM({p.name}_.)="")*(ROWS({p.name}_.)*COLUMNS({p.name}_.)>1)')

    def rows(self, wholes: list[Parameter]) -> None:
        first, *others = (p.name for p in wholes)
        for p in wholes[1:]:
            same = f"(ROWS({first}_.)=ROWS({p.name}_.))*(COLUMNS({first}_.)=COLUMNS({p.name}_.))"
            if p.whole and p.whole.one_for_all:
                same += f"+(ROWS({p.name}_.)*COLUMNS({p.name}_.)=1)"
            self.bad.append(f"IF({same},0,#VALUE!)")
        blank = [
            f"({p.name}_blank.+(ROWS({p.name}_.)*COLUMNS({p.name}_.)=1)>0)"
            if p.whole and p.whole.one_for_all
            else f"{p.name}_blank."
            for p in wholes
        ]
        self.let("rows_", f"1-{'*'.join(blank)}")
        some = "+".join(f"{name}_blank." for name in (first, *others))
        tests = "+".join(_within(p, f"{p.name}_in.") for p in wholes)
        self.bad.append(f"SUM(IF(rows_.,IF({some},#VALUE!,{tests}),0))")


def _sums_vary(function: Function) -> bool:
    """Whether a sum over whole ranges holds another argument or a loop's variable: were that a range too, the sum would
    run over both, so such a function takes one value for each of its other arguments."""
    sums = (term for term in uses_of(translated(function)) if term.op == "sum")
    return any(part.op in ("argument", "variable") for term in sums for part in uses_of(term))


def takes_ranges(function: Function, parameter: Parameter) -> bool:
    """Whether a range given for this argument is answered element by element."""
    if parameter.whole or (parameter.is_text and not parameter.names):
        return False
    return not (any(p.whole for p in function.params) and _sums_vary(function))


def _within(p: Parameter, x: str) -> str:
    """0 where the number is within the parameter's limits, and the error where it isn't."""
    tests = []
    if p.limits.low > -_HUGE:
        tests.append(f"({x}{'>' if p.limits.above else '>='}{_number(p.limits.low)})")
    if p.limits.high < _HUGE:
        tests.append(f"({x}<={_number(p.limits.high)})")
    return f"IF({'*'.join(tests)},0,#NUM!)" if tests else f"{x}*0"


# -- kernels ---------------------------------------------------------------------------------------------------------

_BINDS = {"^": 5, "*": 4, "/": 4, "+": 3, "-": 3, "<": 1, "<=": 1, ">": 1, ">=": 1, "=": 1, "<>": 1}
_CALL, _NEGATIVE = 9.0, 2.5
_CALLS = {"where": "IF", "exp": "EXP", "log": "LN", "log10": "LOG10", "sqrt": "SQRT", "tanh": "TANH", "floor": "INT",
          "abs": "ABS"}  # fmt: skip
# what worksheets don't have, without loss of digits where x is small
_SERIES = {
    "expm1": "IF(ABS(x_.)<0.01,x_.*(1+x_./2*(1+x_./3*(1+x_./4*(1+x_./5*(1+x_./6))))),EXP(x_.)-1)",
    "log1p": "IF(ABS(x_.)<0.01,LET(s_.,x_./(2+x_.),2*s_.*(1+s_.^2*(1/3+s_.^2*(1/5+s_.^2/7)))),LN(1+x_.))",
}


class Body:
    """A kernel's terms as names and values of a LET; loops have a LET of their own. Names end in a dot here."""

    def __init__(self, pairs: list[tuple[str, str]], outer: "Body | None" = None, loop: Any = None) -> None:
        self.pairs, self.outer, self.loop = pairs, outer, loop
        self.uses: Counter[Term] = outer.uses if outer else Counter()
        self.names: dict[Term, str] = {}
        self.loops: dict[Any, str] = {}
        self.series: dict[str, None] = outer.series if outer else {}  # those of _SERIES that are needed
        self.count: list[int] = outer.count if outer else [0]

    def text(self, value: Value) -> str:
        """A kernel, or another one beside it."""
        self.uses += uses_of(value)
        return self.part(value)

    def part(self, value: Value, level: float = 0) -> str:
        if not isinstance(value, Term):
            return _constant(value, level)
        if value.op in ("argument", "each"):
            return f"{value.data[0]}_in."
        if value.op == "variable":
            return f"x{value.data[0]}_{value.data[1]}."
        body: Body | None = self
        while body is not None:
            if value in body.names:
                return body.names[value]
            body = body.outer
        home = self
        while home.outer is not None and home.loop not in value.free:
            home = home.outer
        written, binds = home._operation(value)
        if self.uses[value] == 1 and home is self:
            return written if binds >= level else f"({written})"
        home.names[value] = home._named(written)
        return home.names[value]

    def _named(self, written: str) -> str:
        self.count[0] += 1
        self.pairs.append((f"v{self.count[0]}_", written))
        return f"v{self.count[0]}_."

    def _operation(self, term: Term) -> tuple[str, float]:
        op, args = term.op, term.args
        if op == "neg":
            return f"-{self.part(args[0], _CALL)}", _NEGATIVE
        if op in _BINDS:
            binds = _BINDS[op]
            return f"{self.part(args[0], binds)}{op}{self.part(args[1], binds + 0.1)}", binds
        if op == "&":
            return f"({self.part(args[0])})*({self.part(args[1])})", _BINDS["*"]
        if op == "|":
            return f"({self.part(args[0])})+({self.part(args[1])})>0", _BINDS[">"]
        return self._call(term), _CALL

    def _call(self, term: Term) -> str:
        op, data, args = term.op, term.data, term.args
        if op in _SERIES:
            self.series[op] = None
            return f"{op}_.({self.part(args[0])})"
        if op == "bisect":
            return self._bisect(term)
        if op == "repeated":
            return self._repeated(term)
        if op == "sum":
            return f"SUM(IF(rows_.,{self.part(args[0])},0))"
        if op == "choice":
            return self._choice(term)
        if op == "error":
            return str(data[0])
        texts = [self.part(a) for a in args]
        if op == "filled":
            filled = texts[0]
            for name, part in zip(data, texts[1:], strict=True):
                filled = f'SUBSTITUTE({filled},"{{{name}}}",{part})'
            return filled
        return f"{_CALLS[op]}({','.join(texts)})"

    def _inner(self, loop: Any, *results: Value) -> tuple[str, list[str]]:
        """What a loop's LET begins with, and the loop's results."""
        inner = Body([], self, loop)
        texts = [inner.part(result) for result in results]
        lets = "".join(f"{name}.,{value}," for name, value in inner.pairs)
        return lets, texts

    def _bisect(self, term: Term) -> str:
        (depth,), (body, low, high, steps) = term.data, term.args
        n, middle, start, end, below = (f"{name}{depth}_" for name in ("n", "x", "start", "end", "below"))
        lets, (result,) = self._inner(depth, body)
        halved = (
            f"again{depth}_.(again{depth}_.,{n}.+1,IF({below}.,{middle}0.,{start}.),IF({below}.,{end}.,{middle}0.))"
        )
        step = f"LET({middle}0.,({start}.+{end}.)/2,{lets}{below}.,{result}<0,{halved})"
        name = self._loop(depth, [n, start, end], f"IF({n}.>={steps},({start}.+{end}.)/2,{step})")
        return f"{name}({name},0,{self.part(low)},{self.part(high)})"

    def _repeated(self, term: Term) -> str:
        """Which of the state's parts is wanted is an argument: a loop of which several are wanted stands once."""
        depth, times, which = term.data
        count, known = len(term.args) // 2, (depth, times, term.args)
        n, *state = (f"x{depth}_{i}" for i in range(count + 1))
        if known not in self.loops:
            lets, results = self._inner(depth, *term.args[count:])
            again = f"again{depth}_.(again{depth}_.,part{depth}_.,{n}.+1,{','.join(results)})"
            again = f"LET({lets}{again})" if lets else again
            wanted = "".join(f"IF(part{depth}_.={i},{x}.," for i, x in enumerate(state[:-1])) + f"{state[-1]}."
            body = f"IF({n}.>={times},{wanted}{')' * (count - 1)},{again})"
            self.loops[known] = self._loop(depth, [f"part{depth}_", n, *state], body)
        name = self.loops[known]
        return f"{name}({name},{which},0,{','.join(map(self.part, term.args[:count]))})"

    def _loop(self, depth: int, parameters: list[str], body: str) -> str:
        """A function that calls itself: no accumulator could hold ranges side by side."""
        return self._named(_lambda([f"again{depth}_", *parameters], body))

    def _choice(self, term: Term) -> str:
        (words, sizes, table), at = term.data, ""
        for word, size in zip(words, sizes, strict=True):
            at = f"({at}-1)*{size}+{word}_in." if at else f"{word}_in."
        if table != tuple(range(len(table))):
            letters = _LETTERS[: max(table) + 1]
            at = self._named(f"FIND(MID({_text(''.join(letters[k] for k in table))},{at},1),{_text(letters)})")
        *others, last = (self.part(a) for a in term.args)
        return "".join(f"IF({at}={i},{text}," for i, text in enumerate(others, 1)) + last + ")" * len(others)


def _constant(value: Any, level: float = 0) -> str:
    if isinstance(value, str):
        return _text(value)
    text = _number(value)
    return f"({text})" if text.startswith("-") and level > _NEGATIVE else text


def _number(value: Any) -> str:
    """With the 15 digits that worksheets read, so that what is proven is what is read."""
    if isinstance(value, bool):
        return str(value).upper()
    if math.isnan(value):
        return "#NUM!"
    return f"{value:.15g}".upper().replace("E+", "E")


def _text(text: str) -> str:
    """A text; formulas take at most 255 characters in one."""
    parts = [text[i : i + 250] for i in range(0, len(text), 250)] or [""]
    return "&".join('"' + part.replace('"', '""') + '"' for part in parts)


def _lambda(parameters: list[str], body: str) -> str:
    return f"LAMBDA({''.join(f'{p}.,' for p in parameters)}{body})"


_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"  # of alternatives; FIND tells large from small
_NEW = ("LAMBDA", "LET", "ISOMITTED", "REDUCE", "SEQUENCE", "XMATCH")
_WRITTEN = re.compile(rf'("(?:[^"]|"")*")|\b({"|".join(_NEW)})(?=\()|(\?)?\b([a-z]\w*)\.(?!\w)')


def _as_files_write_it(text: str) -> str:
    """Names with the prefixes of parameters, newer functions with theirs; texts as they are."""

    def written(match: "re.Match[str]") -> str:
        if match[1]:
            return match[1]
        if match[2]:
            return f"_xlfn.{match[2]}"
        return f"{'_xlop' if match[3] else '_xlpm'}.{match[4]}"

    return _WRITTEN.sub(written, text)


# -- look-ups in the declarations -----------------------------------------------------------------------------------


def _conversion(formula: _Formula) -> str:
    """UNIT_CONVERT: every spelling with its dimension and unit, every unit with its factor and offset."""
    units = [unit for dimension in DIMENSIONS for unit in dimension.units]
    spelled = [
        (text, d, units.index(unit) + 1)
        for d, dimension in enumerate(DIMENSIONS, 1)
        for text, unit in dimension.spellings.items()
        if text
    ]
    formula.let("spelling_", _row(_text(text) for text, _, _ in spelled))
    formula.let("kind_", _row(str(d) for _, d, _ in spelled))
    formula.let("unit_", _row(str(u) for _, _, u in spelled))
    formula.let("factor_", _row(_number(unit.factor) for unit in units))
    formula.let("offset_", _row(_number(unit.offset) for unit in units))
    for name in ("from", "to"):  # as written, and in small letters
        formula.let(f"{name}_exact", f"EXACT(spelling_.,{name}_unit_in.)")
        formula.let(f"{name}_loose", f"EXACT(spelling_.,LOWER({name}_unit_in.))")
    both = "*".join(f"SUM(({name}_exact.+{name}_loose.)*(kind_.=k_.))" for name in ("from", "to"))
    first = _lambda(["found_", "k_"], f"IF(found_.,found_.,IF({both},k_.,0))")
    formula.let("dimension_", f"REDUCE(0,SEQUENCE({len(DIMENSIONS)}),{first})")
    for name in ("from", "to"):
        formula.let(f"{name}_here", f"{name}_exact.*(kind_.=dimension_.)")
        formula.let(
            f"{name}_",
            f"IF(SUM({name}_here.),SUM({name}_here.*unit_.),SUM({name}_loose.*(kind_.=dimension_.)*unit_.))",
        )
    formula.let(
        "base_in",
        _curved(formula, "to_base", "from_", "value_in", "value_in.*INDEX(factor_.,from_.)+INDEX(offset_.,from_.)"),
    )
    result = _curved(formula, "from_base", "to_", "base_in", "(base_in.-INDEX(offset_.,to_.))/INDEX(factor_.,to_.)")
    for d, dimension in enumerate(DIMENSIONS, 1):
        if dimension.reach:
            low, high, _ = dimension.reach
            result = f"IF((dimension_.={d})*((base_in.<{_number(low)})+(base_in.>{_number(high)})),#NUM!,{result})"
    formula.bad.append("IF(dimension_.=0,#VALUE!,0)")
    return f"IF(from_.=to_.,value_in.,{result})"


def _curved(formula: _Formula, way: str, unit: str, argument: str, straight: str) -> str:
    units = [u for dimension in DIMENSIONS for u in dimension.units]
    for curved in (u for u in units if u.curve):
        value = term_of(getattr(curved, way), argument.removesuffix("_in"))
        straight = f"IF({unit}.={units.index(curved) + 1},{formula.kernel(value)},{straight})"
    return straight


def _row(items: Iterable[str]) -> str:
    return f"{{{','.join(items)}}}"


def _sources(functions: Iterable[str], room: int) -> str:
    """BREW_SOURCE of these functions; cut short where they don't fit."""
    told = {name: f"{CATALOGUE[name].source}; revision {CATALOGUE[name].revision}" for name in functions}
    for length in range(250, 20, -10):
        texts = [text if len(text) <= length else text[:length] + "…" for text in told.values()]
        different = list(dict.fromkeys(texts))
        which = _row(str(different.index(text) + 1) for text in texts)
        names = _row(map(_text, told))
        result = f"CHOOSE(INDEX({which},XMATCH(function_name_in.,{names})),{','.join(map(_text, different))})"
        if len(result) <= room:
            return result
    return "#N/A"
