"""What the engine does with single values only, done with arrays; and comparisons and texts of numbers to 15 digits.

A formula that `rewrite` has put into the engine's words is read as a tree. A function that takes single values and is
given several is called for each of them; a comparison of numbers, and a number joined to text, go through functions of
`standard`. What can't be put so that it comes out right is Untranslatable.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from typing import NamedTuple

from brewfuncs.errors import BrewError
from brewfuncs.hosts.standard import BUILTINS
from brewfuncs.hosts.standard.operators import APPROXIMATE, DIGITS, EACH, LINES, NUMBERS, OPERATORS, slot
from brewfuncs.xlsx.formula import Token, Untranslatable, plain_name, tokenize, whole_range, words

_MOST_PARTS = 250
#: how tightly the operators between two operands bind
_BINDING = {**dict.fromkeys(OPERATORS, 1), "&": 2, "+": 3, "-": 3, "*": 4, "/": 4, "^": 5}
#: the places, counted from 0, where these take text
_TEXT_PLACES: dict[str, tuple[int, ...]] = {
    **dict.fromkeys(words("LEN LEFT RIGHT MID UPPER LOWER PROPER TRIM REPT CLEAN"), (0,)),
    **dict.fromkeys(words("FIND SEARCH EXACT"), (0, 1)),
    "SUBSTITUTE": (0, 1, 2),
    "REPLACE": (0, 3),
    "CONCATENATE": tuple(range(255)),
    "CONCAT": tuple(range(255)),
    "TEXTJOIN": tuple(range(2, 255)),
}
_GIVE_TEXT = words(
    "LEFT RIGHT MID UPPER LOWER PROPER TRIM REPT CLEAN SUBSTITUTE REPLACE CONCATENATE CONCAT TEXTJOIN TEXT T CHAR"
)
GIVE_ARRAYS = words(
    """SEQUENCE RANDARRAY FILTER SORT SORTBY UNIQUE TRANSPOSE FREQUENCY LINEST LOGEST TREND GROWTH MODE.MULT MAP SCAN
    BYROW BYCOL MAKEARRAY HSTACK VSTACK TOCOL TOROW TAKE DROP CHOOSECOLS CHOOSEROWS WRAPROWS WRAPCOLS EXPAND TEXTSPLIT
    MUNIT MMULT MINVERSE"""
)
#: hand on what they are given, element by element, as the engine does it, too
_HAND_ON = words("IF IFERROR IFNA")
#: give something else than programs do where one of these places is given several values
_NOT_FOR_EACH: dict[str, tuple[int, ...]] = {
    **dict.fromkeys(words("INDEX OFFSET"), (1, 2, 3, 4)),
    **dict.fromkeys(words("CHOOSE SWITCH"), (0,)),
    **dict.fromkeys(words("INDIRECT N T ADDRESS HYPERLINK"), tuple(range(255))),
    "IFS": tuple(range(0, 255, 2)),
    "LOOKUP": (0,),
    "XLOOKUP": (0,),
    "XMATCH": (0,),
    "SUBTOTAL": (0,),
    "AGGREGATE": (0, 1, 3),
}


#: take single values only: in a formula of one cell a range given to them stands for its cell in the same row or column
SINGLE = words(
    """ABS ACOS ACOSH ACOT ACOTH ARABIC ASIN ASINH ATAN ATAN2 ATANH BASE CEILING CEILING.MATH CEILING.PRECISE COMBIN
    COMBINA COS COSH COT COTH CSC CSCH DECIMAL DEGREES EVEN EXP FACT FLOOR FLOOR.MATH FLOOR.PRECISE INT ISO.CEILING LN
    LOG LOG10 MOD ODD POWER RADIANS ROMAN ROUND ROUNDDOWN ROUNDUP SEC SECH SIGN SIN SINH SQRT TAN TANH TRUNC
    CHAR CLEAN CODE CONCATENATE DOLLAR EXACT FIND FINDB FIXED LEFT LEFTB LEN LENB LOWER MID MIDB NUMBERVALUE PROPER
    REPLACE REPT RIGHT RIGHTB SEARCH SEARCHB SUBSTITUTE TEXT TRIM UNICHAR UNICODE UPPER VALUE
    DATE DATEDIF DATEVALUE DAY DAYS DAYS360 HOUR ISOWEEKNUM MINUTE MONTH SECOND TIME TIMEVALUE WEEKDAY YEAR
    ERROR.TYPE ISBLANK ISERR ISERROR ISLOGICAL ISNA ISNONTEXT ISNUMBER ISTEXT NOT
    DB DDB FV IPMT ISPMT NPER PDURATION PMT PPMT PV RATE RRI SLN SYD VDB
    BETA.DIST BETA.INV BETADIST BETAINV BINOM.DIST BINOM.INV BINOMDIST CHIDIST CHIINV CHISQ.DIST CHISQ.DIST.RT CHISQ.INV
    CHISQ.INV.RT CONFIDENCE CONFIDENCE.NORM CONFIDENCE.T CRITBINOM EXPON.DIST EXPONDIST F.DIST F.DIST.RT F.INV F.INV.RT
    FDIST FINV FISHER FISHERINV GAMMA GAMMA.DIST GAMMA.INV GAMMADIST GAMMAINV GAMMALN GAMMALN.PRECISE GAUSS
    HYPGEOM.DIST HYPGEOMDIST LOGINV LOGNORM.DIST LOGNORM.INV LOGNORMDIST NEGBINOM.DIST NEGBINOMDIST NORM.DIST NORM.INV
    NORM.S.DIST NORM.S.INV NORMDIST NORMINV NORMSDIST NORMSINV PERMUT PERMUTATIONA PHI POISSON POISSON.DIST STANDARDIZE
    T.DIST T.DIST.2T T.DIST.RT T.INV T.INV.2T TDIST TINV WEIBULL WEIBULL.DIST"""
)


class _Term(NamedTuple):
    text: str
    many: bool = False  # may be several values
    kind: str = ""  # ref, text, number, test (TRUE or FALSE) or sum (made by arithmetic) where it is known


class _Unreadable(Exception):
    pass


#: a condition such as ">6%"
_PERCENT = re.compile(r'"([<>=]*)(\d+(?:\.\d+)?)%"')
#: a formula without any of these has nothing that could be put otherwise
_WORTH_READING = re.compile(r"[<>=&:{#]|\b(?:" + "|".join(_TEXT_PLACES) + r")\(", re.IGNORECASE)
#: the parts of a range that SUBTOTAL, with the number of a function, takes
Shown = Callable[[int, str], list[str]]


def reshaped(
    formula: str,
    functions: Collection[str],
    arrays: Collection[str],
    ordinary: bool,
    shown: Shown | None = None,
) -> str:
    """The formula with arrays gone through and 15 digits compared; as it is where there is nothing to do.

    `functions` are ours; `arrays` work on arrays even in an `ordinary` formula; `shown` is given where rows are hidden.

    >>> reshaped('SUMPRODUCT(--(LEFT(A1:A9,1)="B"))', (), {"SUMPRODUCT"}, True)
    'SUMPRODUCT(--(_EACH("LEFT",_DIGITS(A1:A9),1)="B"))'
    >>> reshaped('IF(0.1*3>0.3,A1*0.07&" kg","")', (), (), True)
    'IF(_GT(0.1*3,0.3),_DIGITS(A1*0.07)&" kg","")'
    """
    if not _WORTH_READING.search(formula):
        return formula
    reader = _Reader(formula, functions, arrays, ordinary, shown)
    try:
        term = reader.expression()
        if reader.next() is not None:
            raise _Unreadable
    except (_Unreadable, RecursionError):
        return formula
    return term.text if reader.changed else formula


class _Reader:
    def __init__(
        self, formula: str, functions: Collection[str], arrays: Collection[str], ordinary: bool, shown: Shown | None
    ) -> None:
        self.tokens = [*(token for token in tokenize(formula) if token.kind != "space"), None]
        self.at = 0
        self.functions = functions
        self.arrays = arrays
        self.in_arrays = 0 if ordinary else 1
        self.shown = shown
        self.changed = False

    def next(self) -> Token | None:
        return self.tokens[self.at]

    def take(self) -> Token:
        token = self.tokens[self.at]
        if token is None:
            raise _Unreadable
        self.at += 1
        return token

    # ------------------------------------------------------------ operators
    def expression(self, least: int = 0) -> _Term:
        left = self.signed()
        while (token := self.tokens[self.at]) is not None and (binding := _BINDING.get(token.text, 0)) > least:
            self.at += 1
            left = self.combined(token.text, left, self.expression(binding))
        return left

    def combined(self, operator: str, left: _Term, right: _Term) -> _Term:
        many = left.many or right.many
        if operator in OPERATORS:
            if not {"text", "test"}.isdisjoint((left.kind, right.kind)) or "0" in (left.text, right.text):
                return _Term(left.text + operator + right.text, many, "test")
            self.changed = True
            return _Term(f"{OPERATORS[operator]}({left.text},{right.text})", many, "test")
        if operator == "&":
            return _Term(f"{self.digits(left)}&{self.digits(right)}", many, "text")
        return _Term(left.text + operator + right.text, many, "sum")

    def digits(self, term: _Term) -> str:
        if term.kind == "text" or (term.kind == "number" and term.text.isdigit() and len(term.text) < 15):
            return term.text
        self.changed = True
        return f"{DIGITS}({term.text})"

    def signed(self) -> _Term:
        token = self.tokens[self.at]
        if token is None or token.kind != "op":
            return self.marked()
        if token.text not in "+-@":
            raise _Unreadable
        self.at += 1
        term = self.signed()
        return _Term(token.text + term.text, term.many and token.text != "@", "ref" if token.text == "@" else "sum")

    def marked(self) -> _Term:
        term = self.operand()
        while (token := self.tokens[self.at]) is not None and token.kind == "op" and token.text in "%#:":
            self.at += 1
            if token.text == ":":
                other = self.operand()
                term = _Term(f"{term.text}:{other.text}", True, "ref")
            else:
                ref = token.text == "#"
                term = _Term(term.text + token.text, term.many or ref, "ref" if ref else "sum")
        return term

    # ------------------------------------------------------------ operands
    def operand(self) -> _Term:
        kind, text = self.take()
        if kind == "func":
            return self.call(text)
        if kind == "open":
            term = self.expression()
            inside = term.text
            union = False
            while (token := self.next()) is not None and token.kind == "sep":
                self.take()
                inside += "," + self.expression().text
                union = True
            self.close()
            return _Term(f"({inside})", term.many or union, term.kind if term.kind in ("test", "text", "sum") else "")
        if kind == "sheet":
            following = self.take()
            if following.kind not in ("ref", "name", "error"):
                raise _Unreadable
            return _Term(text + following.text, ":" in following.text, "ref")
        if kind == "ref":
            return _Term(text, ":" in text, "ref")
        if kind == "array":
            return _Term(text, True)
        if kind == "name":
            return _Term(text, False, "test" if text.upper() in ("TRUE", "FALSE") else "")
        if kind in ("number", "text", "error"):
            return _Term(text, False, kind)
        raise _Unreadable

    def close(self) -> None:
        if self.take().kind != "close":
            raise _Unreadable

    def call(self, written: str) -> _Term:
        name = plain_name(written)
        inside = name in self.arrays
        self.in_arrays += inside
        arguments: list[_Term] = []
        while True:
            token = self.next()
            if token is None:
                raise _Unreadable
            if token.kind == "close" and not arguments:
                break
            arguments.append(_Term("") if token.kind in ("sep", "close") else self.expression())
            token = self.next()
            if token is None or token.kind != "sep":
                break
            self.take()
        self.close()
        self.in_arrays -= inside
        return self.called(written, name, arguments)

    def called(self, written: str, name: str, arguments: list[_Term]) -> _Term:
        texts = [argument.text for argument in arguments]
        for place in _TEXT_PLACES.get(name, ()):
            if place < len(arguments) and texts[place] and arguments[place].kind not in ("test", "error"):
                texts[place] = self.digits(arguments[place])
        for place, text in enumerate(texts):
            if arguments[place].kind == "text" and self.for_each(name, place) and (share := _PERCENT.fullmatch(text)):
                self.changed = True
                texts[place] = f'"{share[1]}{float(share[2]) / 100!r}"'
        joined = ",".join(texts)
        kind = "text" if name in _GIVE_TEXT else ""
        plain = _Term(f"{written}{joined})", False, kind)
        several = [place for place, argument in enumerate(arguments) if argument.many]
        if name in self.functions or (name in BUILTINS and name in SINGLE):  # go through arrays by themselves
            return plain._replace(many=bool(several))
        if name in ("ROW", "COLUMN") and several and self.in_arrays:
            return self.lines(name, arguments[0])
        if name in ("INDIRECT", "OFFSET") and several in ([], [0]):
            return plain._replace(many=bool(self.in_arrays), kind="ref")
        if name in APPROXIMATE and several[:1] != [0] and self.approximates(name, arguments):
            self.changed = True
            return _Term(f"{APPROXIMATE[name]}({joined})")
        if name == "INDEX" and several in ([], [0]):
            return plain._replace(many=not {"", "0"}.isdisjoint(texts[1:]))
        if name == "SUBTOTAL" and self.shown is not None and 0 not in several:
            return self.subtotal(written, arguments, self.shown)
        if not several:
            return plain._replace(many=name in GIVE_ARRAYS)
        if name in SINGLE or any(self.for_each(name, place) for place in several):
            self.changed = True
            return _Term(f'{EACH}("{name}",{joined})', True, kind)
        if any(place in _NOT_FOR_EACH.get(name, ()) for place in several):
            raise Untranslatable(f"{name} is given several values at once")
        if name == "SUMPRODUCT":
            for place in several:
                if arguments[place].kind not in ("ref", "sum"):
                    self.changed = True
                    texts[place] = f"{NUMBERS}({texts[place]})"
            return _Term(f"{written}{','.join(texts)})")
        return plain._replace(many=name in _HAND_ON or name in GIVE_ARRAYS)

    def for_each(self, name: str, place: int) -> bool:
        """Whether a function of ranges takes a single value in this place."""
        return slot(name, place) == "e"

    @staticmethod
    def approximates(name: str, arguments: list[_Term]) -> bool:
        """Whether a search may stop beside what is sought, which goes right in ordered cells alone."""
        place = {"MATCH": 2, "VLOOKUP": 3, "HLOOKUP": 3}.get(name, 255)
        return len(arguments) <= place or arguments[place].text.upper() in ("1", "-1", "TRUE", "TRUE()")

    def subtotal(self, written: str, arguments: list[_Term], shown: Shown) -> _Term:
        """SUBTOTAL of the rows that aren't hidden."""
        try:
            if any(given.kind != "ref" for given in arguments[1:]):
                raise ValueError
            parts = [part for given in arguments[1:] for part in shown(int(arguments[0].text), given.text)]
        except (BrewError, ValueError, AssertionError):
            raise Untranslatable("SUBTOTAL is given cells that its text doesn't tell, and rows are hidden") from None
        if not 1 <= len(parts) <= _MOST_PARTS:
            raise Untranslatable("SUBTOTAL is given hidden rows alone, or too many")
        if parts != [given.text for given in arguments[1:]]:
            self.changed = True
        return _Term(f"{written}{','.join((arguments[0].text, *parts))})")

    def lines(self, name: str, argument: _Term) -> _Term:
        """The numbers of the rows or columns of a range."""
        across = "" if name == "ROW" else ",TRUE"
        if argument.text.startswith("INDIRECT(") and argument.kind == "ref" and argument.text.endswith(")"):
            self.changed = True
            return _Term(f"{LINES}({argument.text[9:-1]},0{across})", True)
        try:
            box = whole_range(argument.text.rpartition("!")[2])
        except (BrewError, ValueError, AssertionError):
            raise Untranslatable(f"{name} is given cells that its text doesn't tell") from None
        self.changed = True
        first, last = (box.top, box.bottom) if name == "ROW" else (box.left, box.right)
        return _Term(f"{LINES}({first},{last}{across})", True)
