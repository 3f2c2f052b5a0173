"""A workbook's formulas put into words the engine understands.

The engine's own tokenizer stops at the escapes of table columns (`Hops[Alpha '[%']]`), and the engine resolves neither
tables nor names that are formulas, so this is done here, in memory only: a file keeps its formulas as they are.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from brewfuncs.hosts.shapes import GIVE_ARRAYS, SINGLE, reshaped
from brewfuncs.hosts.standard import BUILTINS
from brewfuncs.hosts.standard.declare import OMITTED_TEXT
from brewfuncs.xlsx.address import column_letters
from brewfuncs.xlsx.formula import (
    MAX_FORMULA,
    Token,
    Untranslatable,
    has_reversed_range,
    in_order,
    is_external,
    is_range,
    plain_name,
    quoted,
    sheet_name,
    shift,
    tokenize,
    whole_range,
    words,
)
from brewfuncs.xlsx.package import DefinedName, Table

_MAX_DEPTH, _MAX_NAMES = 20, 500  # how deep names may refer to names, and how many one formula may take
#: give one value however large the range they are given
_AGGREGATES = words(
    """SUM SUMSQ SUMIF SUMIFS SUMPRODUCT PRODUCT AVERAGE AVERAGEA AVERAGEIF AVERAGEIFS COUNT COUNTA COUNTBLANK COUNTIF
    COUNTIFS MIN MINA MINIFS MAX MAXA MAXIFS MEDIAN MODE STDEV STDEV.S STDEV.P STDEVP VAR VAR.S VAR.P VARP LARGE SMALL
    RANK RANK.EQ RANK.AVG PERCENTILE PERCENTILE.INC QUARTILE QUARTILE.INC VLOOKUP HLOOKUP MATCH XMATCH ROWS COLUMNS AND
    OR XOR NPV IRR XNPV XIRR SLOPE INTERCEPT CORREL RSQ FORECAST FORECAST.LINEAR SUBTOTAL AGGREGATE CONCAT TEXTJOIN
    ISREF AREAS GEOMEAN HARMEAN"""
)
#: work on arrays element by element even in a cell that wasn't entered as an array formula
_ARRAY_CONTEXT = words(
    """SUMPRODUCT MMULT LOOKUP INDEX FILTER SORT SORTBY UNIQUE XLOOKUP XMATCH AGGREGATE FREQUENCY LINEST LOGEST TREND
    GROWTH LET LAMBDA MAP REDUCE SCAN BYROW BYCOL MAKEARRAY HSTACK VSTACK TOCOL TOROW TAKE DROP CHOOSECOLS CHOOSEROWS
    WRAPROWS WRAPCOLS EXPAND"""
)
#: may give several values without being given any
_SPILLING = GIVE_ARRAYS | words("CHOOSE COLUMN INDEX INDIRECT LAMBDA LET OFFSET ROW XLOOKUP")
#: that the engine works out as spreadsheet programs do, errors included, in all that foreign workbooks and random calls
#: beside an independent engine have shown
COMMON = words(
    """ABS ACOS AND ATAN2 AVERAGE CHOOSE COLUMN COLUMNS COMBIN CONCAT CONCATENATE COUNT COUNTA COUNTBLANK COUNTIF
    COUNTIFS DATE DAY EVEN EXACT EXP EXPON.DIST EXPONDIST FALSE FV GAMMALN GAMMALN.PRECISE GEOMEAN HARMEAN HLOOKUP IF
    IFERROR IFNA IFS INDEX INT ISBLANK ISERROR ISNA ISNUMBER ISTEXT LARGE LEFT LEN LN LOG10 LOWER MATCH MAX
    MEDIAN MID MIN MONTH NA NORM.DIST NORM.INV NORMDIST NORMINV NOT NOW ODD OR PERCENTILE PERCENTILE.INC PERMUT PI PMT
    POISSON POISSON.DIST POWER PRODUCT PV QUARTILE QUARTILE.INC QUOTIENT RAND RANDBETWEEN REPLACE REPT RIGHT ROUND
    ROUNDDOWN ROUNDUP ROW ROWS SIGN SINGLE SLOPE SMALL SQRT SQRTPI STDEV STDEV.S SUM SUMIF SUMIFS SUMPRODUCT SUMSQ
    TODAY TRIM TRUE TRUNC UPPER VALUE VLOOKUP YEAR"""
)
#: that come out right for some numbers and not for others (parts of numbers, edges of a range, days before March 1900,
#: the order of what is searched): compared at random with an independent engine, and with what Excel stores
DIFFERING = words(
    """ACCRINT ACCRINTM ADDRESS AGGREGATE AMORDEGRC AMORLINC BASE BETA.INV BETAINV BIN2DEC BIN2HEX BIN2OCT
    BINOM.DIST.RANGE BINOM.INV CEILING CEILING.MATH CEILING.PRECISE CHIDIST CHIINV CHISQ.DIST CHISQ.DIST.RT CHISQ.INV
    CHISQ.INV.RT CHISQ.TEST CHITEST COMBINA CONFIDENCE CONFIDENCE.NORM CONFIDENCE.T CONVERT COUPNUM CRITBINOM CUMIPMT
    CUMPRINC DATEDIF DAVERAGE DAYS360 DB DCOUNT DCOUNTA DDB DEC2BIN DEC2HEX DEC2OCT DECIMAL DGET DISC DMAX DMIN DOLLAR
    DOLLARDE DOLLARFR DPRODUCT DROP DSTDEV DSTDEVP DSUM DURATION DVAR DVARP F.DIST F.DIST.RT F.INV F.INV.RT F.TEST
    FACTDOUBLE FDIST FINV FLOOR FLOOR.MATH FLOOR.PRECISE FREQUENCY FTEST GAMMA GCD GROWTH HEX2BIN HEX2DEC HEX2OCT
    HSTACK HYPGEOM.DIST HYPGEOMDIST IMABS IMSUM INTRATE IPMT IRR ISO.CEILING ISOWEEKNUM LCM LINEST LOGEST MDURATION MIRR
    MODE MODE.MULT MODE.SNGL MROUND MULTINOMIAL NEGBINOM.DIST NEGBINOMDIST NETWORKDAYS NETWORKDAYS.INTL OCT2BIN OCT2DEC
    OCT2HEX PERCENTILE.EXC PERCENTRANK PERCENTRANK.EXC PERCENTRANK.INC PPMT PRICE PRICEDISC QUARTILE.EXC RATE RECEIVED
    ROMAN RRI SEARCHB SECOND SERIESSUM SHEET SHEETS SKEW.P SORT SORTBY T.DIST T.DIST.2T T.DIST.RT T.INV T.INV.2T T.TEST
    TAKE TBILLEQ TBILLPRICE TBILLYIELD TDIST TEXTAFTER TEXTBEFORE TEXTSPLIT TIME TIMEVALUE TINV TREND TTEST VALUETOTEXT
    VDB VSTACK WEEKNUM WORKDAY WORKDAY.INTL XIRR XNPV YEARFRAC YIELD Z.TEST ZTEST"""
)
#: with more arguments than these they search in ways of their own
_SEARCHES = {"XLOOKUP": 4, "XMATCH": 2}
#: take errors for data
_HIDING = words(
    "IFERROR IFNA ISERROR ISERR ISNA ISNUMBER ISTEXT ISNONTEXT ISLOGICAL ERROR.TYPE COUNT COUNTA TYPE MATCH"
)
#: give another value at every calculation; TODAY doesn't count, since it stays for a day
VOLATILE = frozenset(("NOW", "RAND", "RANDBETWEEN", "RANDARRAY"))


def engine_name(sheet: str) -> str:
    """What a sheet is called in the engine, which makes a Sheet1 of its own beside one that is written otherwise."""
    return "Sheet1" if sheet.casefold() == "sheet1" else sheet


@dataclass(frozen=True)
class Profile:
    """What can be said of a formula whatever row it stands in."""

    functions: frozenset[str]
    rewrite: bool
    may_spill: bool
    volatile: bool
    timed: bool  # depends on the clock or on chance, so that its stored value proves nothing
    hides: bool  # may take an error for one of its data, and that error come from a function that doesn't know
    #: what the engine is given for this formula, where its text alone decides: no table, hidden row, or name that is
    #: more than a fixed place
    ready: str | None
    differing: str  # a function in it that the engine is known to work out otherwise at times; "" for none


@dataclass
class _Call:
    name: str  # plain; "" for a bare parenthesis
    ours: bool
    wants_argument: bool  # right after ( or , of a function that is told which arguments were left out
    hash_after: bool = False  # ANCHORARRAY(x): x#


_SIMPLE_NAME = re.compile(r"(?:'(?:[^']|'')+'|[\w.]+)!\$[A-Z]{1,3}\$\d+(?::\$[A-Z]{1,3}\$\d+)?")


@dataclass
class Rewriter:
    """Knows the functions, tables, names and sheets that formulas of one workbook mean."""

    functions: Collection[str]
    tables: Iterable[Table]
    names: Iterable[DefinedName]
    sheets: Collection[str]
    #: the rows of each sheet that SUBTOTAL passes over: those that a filter hides, and all that are hidden
    filtered_rows: Mapping[str, Collection[int]] = field(default_factory=dict)
    hidden_rows: Mapping[str, Collection[int]] = field(default_factory=dict)
    _tables: dict[str, Table] = field(init=False)
    _names: dict[tuple[str, str | None], DefinedName] = field(init=False)
    _taken: int = field(init=False, default=0)  # how many names the last formula took that are formulas
    _of_sheets: set[str] = field(init=False)  # names that a sheet has for itself
    _simple: set[DefinedName] = field(init=False)

    def __post_init__(self) -> None:
        self._tables = {table.name.casefold(): table for table in self.tables}
        self._names = {
            (name.name.casefold(), name.sheet.casefold() if name.sheet else None): name for name in self.names
        }
        self._of_sheets = {key for key, sheet in self._names if sheet is not None}
        self._sheets = {sheet.casefold(): engine_name(sheet) for sheet in self.sheets}
        self._simple = {name for name in self._names.values() if self._fixed(name)}

    # ------------------------------------------------------------ names
    def name(self, name: str, sheet: str) -> DefinedName | None:
        """What a name means on a sheet: the sheet's own name goes before the workbook's."""
        key = name.casefold()
        return self._names.get((key, sheet.casefold())) or self._names.get((key, None))

    def is_simple(self, name: DefinedName) -> bool:
        """Whether the engine can be left to look the name up: a fixed place on a sheet that is there."""
        return name in self._simple

    def _fixed(self, name: DefinedName) -> bool:
        if name.sheet is not None or not _SIMPLE_NAME.fullmatch(name.text):
            return False
        if name.name.casefold() in self._of_sheets:
            return False
        if has_reversed_range(name.text):
            return False
        sheet = sheet_name(name.text.rpartition("!")[0] + "!")
        return sheet in self.sheets and engine_name(sheet) == sheet

    # ------------------------------------------------------------ what a formula needs
    def examine(self, formula: str, sheet: str, ordinary: bool) -> Profile:
        """What the engine needs to be told about a formula, and about all others of the same `template`."""
        called: set[str] = set()
        try:
            new = self._reshaped(self._translate(formula, sheet, 1, 1, ordinary, called, trial=True), sheet, ordinary)
        except Untranslatable:
            new = ""
        passes_over = bool(self.hidden_rows) and "SUBTOTAL" in called
        elsewhere = not new or passes_over or self._taken or "table" in (token.kind for token in tokenize(formula))
        return Profile(
            frozenset(called),
            rewrite=new != formula or passes_over,
            may_spill=ordinary and _may_spill(tokenize(new or formula)),
            volatile=not VOLATILE.isdisjoint(called),
            timed=not VOLATILE.isdisjoint(called) or "TODAY" in called,
            hides=not _HIDING.isdisjoint(called) and (new != formula or not BUILTINS.keys().isdisjoint(called)),
            ready=None if elsewhere else new,
            differing=self._differing(formula, called),
        )

    def _differing(self, formula: str, called: set[str]) -> str:
        known = called & DIFFERING - BUILTINS.keys()
        if known:
            return min(known)
        counts: list[tuple[str, int]] = []
        for kind, text in tokenize(formula):
            if kind in ("func", "open"):
                counts.append((plain_name(text) if kind == "func" else "", 1))
            elif kind == "sep" and counts:
                counts[-1] = counts[-1][0], counts[-1][1] + 1
            elif kind == "close" and counts:
                name, count = counts.pop()
                if count > _SEARCHES.get(name, count):
                    return name
        return ""

    # ------------------------------------------------------------ the new text
    def rewrite(self, formula: str, sheet: str, row: int, column: int, ordinary: bool) -> str:
        """The formula for the engine; raises Untranslatable where there is none.

        `ordinary` is a formula that fills one cell, where a range stands for its cell in the same row or column.
        """
        return self._reshaped(self._translate(formula, sheet, row, column, ordinary, set()), sheet, ordinary)

    def _reshaped(self, formula: str, sheet: str, ordinary: bool) -> str:
        if self.hidden_rows and "SUBTOTAL(" in formula.upper():
            return reshaped(formula, self.functions, _ARRAY_CONTEXT, ordinary, partial(self._shown, sheet))
        return reshaped(formula, self.functions, _ARRAY_CONTEXT, ordinary)

    def _shown(self, sheet: str, function: int, reference: str) -> list[str]:
        """The parts of a range that SUBTOTAL takes; above 100 it passes over rows hidden by hand, too."""
        place, mark, cells = reference.rpartition("!")
        box = whole_range(cells)
        hidden = self.hidden_rows if function > 100 else self.filtered_rows
        name = sheet_name(place) if mark else sheet
        rows = hidden.get(name.casefold(), ())
        edges = [box.top - 1, *sorted(row for row in rows if box.top <= row <= box.bottom), box.bottom + 1]
        if len(edges) == 2:
            return [reference]
        left, right = column_letters(box.left), column_letters(box.right)
        return [
            f"{place}{mark}{left}{above + 1}:{right}{below - 1}"
            for above, below in itertools.pairwise(edges)
            if above + 1 < below
        ]

    def _translate(
        self,
        formula: str,
        sheet: str,
        row: int,
        column: int,
        ordinary: bool,
        called: set[str],
        *,
        trial: bool = False,
        depth: int = 0,
    ) -> str:
        if len(formula) > MAX_FORMULA:
            raise Untranslatable(f"it is longer than {MAX_FORMULA} characters")
        self._taken = self._taken + 1 if depth else 0
        if depth > _MAX_DEPTH or self._taken > _MAX_NAMES:
            raise Untranslatable("its names refer to each other without end")
        tokens = tokenize(formula)
        if trial:  # the functions are wanted even if something before them can't be translated
            called.update(plain_name(text) for kind, text in tokens if kind == "func")
        out: list[str] = []
        calls: list[_Call] = []
        prefix = ""  # the sheet in front of what comes next
        for index, (kind, text) in enumerate(tokens):
            if kind == "space":
                out.append(text)
                continue
            call = calls[-1] if calls else None
            if kind == "sheet":
                following = tokens[index + 1] if index + 1 < len(tokens) else None
                prefix = self._prefix(text, following)
                if call:
                    call.wants_argument = False
                continue
            if call and call.wants_argument and kind in ("sep", "close"):
                out.append(f'"{OMITTED_TEXT}"')
            if call and kind != "sep":
                call.wants_argument = False
            if kind == "func":
                self._open(tokens, index, calls, out, prefix)
                called.add(plain_name(text))
            elif kind == "open":
                calls.append(_Call("", False, False))
                out.append(text)
            elif kind == "close":
                if calls:
                    out.append("#" if calls.pop().hash_after else text)
                else:
                    out.append(text)
            elif kind == "sep":
                if call:
                    call.wants_argument = call.ours or call.name in BUILTINS
                out.append(text)
            elif kind in ("ref", "table", "name"):
                meant = self._operand(kind, text, prefix, sheet, row, column, trial)
                if meant is None:  # a name that is a formula
                    name = self.name(text, sheet_name(prefix) or sheet)
                    assert name is not None
                    inner = shift(name.text, row - 1, column - 1, wrap=True)
                    meant = self._translate(inner, sheet, row, column, False, called, trial=trial, depth=depth + 1)
                    meant = meant if _SIMPLE_NAME.fullmatch(meant) else f"({meant})"
                if kind == "name" and meant == text and (found := self.name(text, sheet)) and is_range(found.text):
                    meant = found.text
                if is_range(meant) and ordinary and self._intersects(tokens, index, prefix, calls):
                    out.append("@")
                out.append(meant)
            else:
                out.append(prefix + text)
            prefix = ""
        return "".join(out)

    def _prefix(self, text: str, following: Token | None) -> str:
        """The sheet prefix as the engine wants it; "" where it is another computer's path to a function of ours."""
        if following and following.kind == "func":
            if plain_name(following.text) in self.functions:
                return ""
            raise Untranslatable(f"it calls {following.text.rstrip('(')} of another file")
        if is_external(text):
            raise Untranslatable("it reads another workbook")
        name = sheet_name(text)
        if ":" in name and name.casefold() not in self._sheets:
            raise Untranslatable("it reads the same cells of several sheets")
        real = self._sheets.get(name.casefold())
        return text if real is None or real == name else quoted(real)

    def _open(self, tokens: Sequence[Token], index: int, calls: list[_Call], out: list[str], prefix: str) -> None:
        text = tokens[index].text
        plain = plain_name(text)
        ours = plain in self.functions
        following = _beside(tokens, index, 1)
        empty = following is None or following.kind == "close"
        calls.append(_Call(plain, ours, (ours or plain in BUILTINS) and not empty, hash_after=plain == "ANCHORARRAY"))
        if plain == "SINGLE":
            out.append("@(")
        elif plain != "ANCHORARRAY":
            out.append(prefix + (plain + "(" if ours or plain in BUILTINS else text))

    def _intersects(self, tokens: Sequence[Token], index: int, prefix: str, calls: list[_Call]) -> bool:
        """Whether a range stands for one of its cells: an operand, or all there is, in a formula of one cell."""
        if any(call.name in _ARRAY_CONTEXT or call.ours or call.hash_after for call in calls):
            return False
        before, after = _beside(tokens, index - 1 if prefix else index, -1), _beside(tokens, index, 1)
        if before is None and after is None:
            return True
        if any(token and token.kind == "op" and token.text in ("@", "#", ":") for token in (before, after)):
            return False
        if calls and calls[-1].name in SINGLE:
            return True
        return any(token is not None and token.kind == "op" for token in (before, after))

    def _operand(self, kind: str, text: str, prefix: str, sheet: str, row: int, column: int, trial: bool) -> str | None:
        """A reference, name or table as the engine wants it; None for a name to be replaced by what it says."""
        if kind == "ref":
            return prefix + in_order(text)
        if kind == "table":
            name, _, _ = text.partition("[")
            specification = text[len(name) + 1 : -1]
            table = self.table(name) if name else None if trial else self.table_around(sheet, row, column)
            if table is None:
                if trial and not name:
                    return (
                        prefix + text + " "
                    )  # the trial run has no row: what matters is that there is something to do
                raise Untranslatable(f"there is no table {name}" if name else "it isn't in a table")
            return self._table_reference(table, specification, None if trial else row)
        if text.casefold() in self._tables and self.name(text, sheet) is None:
            return self._table_reference(self._tables[text.casefold()], "", row)
        name_sheet = sheet_name(prefix)
        name_found = self.name(text, name_sheet or sheet)
        if name_found is None or (not prefix and self.is_simple(name_found)):
            return prefix + text
        return None

    def _table_reference(self, table: Table, specification: str, row: int | None) -> str:
        return table_reference(replace(table, sheet=engine_name(table.sheet)), specification, row)

    def table(self, name: str) -> Table | None:
        return self._tables.get(name.casefold())

    def table_around(self, sheet: str, row: int, column: int) -> Table | None:
        """The table a cell stands in."""
        return next(
            (table for table in self._tables.values() if table.sheet == sheet and table.box.holds(row, column)), None
        )


_ITEM = re.compile(r"\[((?:[^\[\]']|'.)*)\]|([,:])|\s+|([^\[\],:\s][^\[\],:]*)", re.DOTALL)


def _items(specification: str) -> Iterator[str]:
    """The parts of what stands between a table's brackets: columns, #items, and the colon of a range of columns."""
    for match in _ITEM.finditer(specification):
        bracketed, punctuation, bare = match.groups()
        if bracketed is not None:
            yield re.sub(r"'(.)", r"\1", bracketed) if not bracketed.startswith("#") else bracketed
        elif punctuation == ":":
            yield ":"
        elif bare:
            yield bare.strip()


def table_reference(table: Table, specification: str, row: int | None) -> str:
    """The cells a structured reference means, as an ordinary one; `row` is the row of the formula, None: any.

    >>> from brewfuncs.xlsx.address import Box
    >>> hops = Table("Hops", "Plan", Box(3, 1, 6, 2), ("Hop", "Mass"), 1, 0)
    >>> table_reference(hops, "Mass", None), table_reference(hops, "[#This Row],[Mass]", 5)
    ("'Plan'!$B$4:$B$6", "'Plan'!$B$5")
    """
    text = specification.strip()
    this_row = text.startswith("@")
    text = text[1:].strip() if this_row else text
    if text.startswith(("[", "#")) and (text.startswith("[") or "," in text):
        parts = list(_items(text))
    else:
        parts = [text if text.startswith("#") else re.sub(r"'(.)", r"\1", text)] if text else []
    items = {part.lower() for part in parts if part.startswith("#")} | ({"#this row"} if this_row else set())
    names = [part for part in parts if not part.startswith("#") and part != ":"]
    known = [column.casefold() for column in table.columns]
    try:
        places = [known.index(name.casefold()) for name in names]
    except ValueError:
        missing = next(name for name in names if name.casefold() not in known)
        raise Untranslatable(f"the table {table.name} has no column {missing!r}") from None
    box = table.box
    if not places:
        left, right = box.left, box.right
    elif len(places) == 1 or (len(places) == 2 and ":" in parts):
        left, right = box.left + min(places), box.left + max(places)
    else:
        raise Untranslatable(f"it takes columns of {table.name} that don't stand together")
    first, last = box.top + table.header_rows, box.bottom - table.totals_rows
    if "#this row" in items:
        top = bottom = first if row is None else row
        if not first <= top <= last:
            raise Untranslatable(f"it reads its own row of {table.name} from outside the table")
    else:
        spans: Mapping[str, tuple[int, int]] = {
            "#all": (box.top, box.bottom),
            "#data": (first, last),
            "#headers": (box.top, first - 1),
            "#totals": (last + 1, box.bottom),
        }
        wanted = [spans.get(item) for item in items or {"#data"}]
        if None in wanted:
            raise Untranslatable(f"{table.name}[{specification}] isn't known")
        top, bottom = min(span[0] for span in wanted if span), max(span[1] for span in wanted if span)
        if top > bottom:
            raise Untranslatable(f"the table {table.name} has no such row")
    start = f"${column_letters(left)}${top}"
    end = f"${column_letters(right)}${bottom}"
    return quoted(table.sheet) + (start if start == end else f"{start}:{end}")


def _may_spill(tokens: Sequence[Token]) -> bool:
    """Whether a formula in the engine's words may give several values; names are left in it for single cells only."""
    for (kind, text), calls in _with_calls(tokens):
        several = (
            (kind == "ref" and ":" in text)
            or kind in ("array", "table")
            or (kind == "op" and text in "#:")
            or (kind == "func" and calls[-1] in _SPILLING)
        )
        if several and _AGGREGATES.isdisjoint(calls):
            return True
    return False


def _beside(tokens: Sequence[Token], index: int, step: int) -> Token | None:
    """The next token after one (step 1) or before it (-1) that isn't space."""
    index += step
    while 0 <= index < len(tokens):
        if tokens[index].kind != "space":
            return tokens[index]
        index += step
    return None


def _with_calls(tokens: Iterable[Token]) -> Iterator[tuple[Token, list[str]]]:
    """Each token with the functions around it, outermost first; "" for a bare parenthesis."""
    calls: list[str] = []
    for token in tokens:
        if token.kind in ("func", "open"):
            calls.append(plain_name(token.text) if token.kind == "func" else "")
        yield token, calls
        if token.kind == "close" and calls:
            calls.pop()


def reads_whole_lines(formula: str) -> bool:
    """Whether whole rows or columns come out of a formula, rather than go into a sum or a search.

    >>> reads_whole_lines("A:A*2"), reads_whole_lines("SUM(A:A)*2")
    (True, False)
    """
    return any(
        token.kind == "ref"
        and ":" in token.text
        and (token.text.upper() == token.text.lower() or not re.search(r"\d", token.text))
        and _AGGREGATES.isdisjoint(calls)
        and _ARRAY_CONTEXT.isdisjoint(calls)
        for token, calls in _with_calls(tokenize(formula))
    )
