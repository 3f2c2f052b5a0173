"""Makes the reference pages and the functions' types from the catalogue and the table of units.

    python docs/generate.py            write them
    python docs/generate.py --check    say which are out of date, and write nothing

They are checked in, so that they can be read without building anything; a test sees that they are up to date. As a
mkdocs hook this module adds what only the built site has: a plot of each function where one helps, and the changelog.
"""

from __future__ import annotations

import ast
import io
import re
import sys
from itertools import groupby
from os.path import normpath
from pathlib import Path
from typing import Any, NamedTuple

import brewfuncs
from brewfuncs import units
from brewfuncs.batch.plan import SECTIONS, Input
from brewfuncs.catalogue import Function, Parameter
from brewfuncs.errors import BrewError
from brewfuncs.hosts.engine import catalogue

DOCS = Path(__file__).resolve().parent
CHANGELOG = DOCS.parent / "CHANGELOG.md"

#: the pages of functions: group -> title and what the group answers
GROUPS = {
    "WORT": ("Wort", "Gravity, extract, volume."),
    "BOIL": ("Boil", "Water driven off, heat, altitude."),
    "HOP": ("Hops", "Bitterness and aroma."),
    "DMS": ("DMS", "Precursor, boil, cooling."),
    "MASH": ("Mash", "Heat and water."),
    "SANI": ("Sanitizer", "Dose, strength, drying, plastics."),
    "BEER": ("Beer", "Fermentation and package."),
    "WATER": ("Water", "Density, salts, alkalinity."),
    "UNIT": ("Units", "Conversion."),
    "BREW": ("About functions", "What is wrong with a call, and where a formula comes from."),
}

_GROUP_NOTES = {
    "HOP": "Published models of bitterness disagree by half and more: compare the methods before you trust a number. "
    "[Where they disagree](../sources.md#where-published-models-disagree) shows by how much.",
    "BOIL": "Boiling wort scalds and boils over: leave head space, and stay with it.",
    "DMS": "The volatility that papers give spans 18 to 75: work out both ends and look at the range.",
    "MASH": "Pasteurisation units tell how much heat a wort had. They kill no spores, and are no claim of sterility.",
    "SANI": "The product's label comes first, with gloves and eye protection. **Chlorine never meets acid**, not even "
    "as rinse water: the gas that forms is poisonous. Answers here check a label's arithmetic; they don't replace it.",
    "BEER": "Closed vessels burst: bottle and pressurise only at a steady final gravity, and within what bottle, keg "
    "and regulator are rated for.",
    "WATER": "Slaked lime is caustic: gloves and eye protection, and what its label says.",
}


# -- pages -----------------------------------------------------------------------------------------------------------


def pages() -> dict[str, str]:
    """Every generated page, page with a generated part, and the types of the functions, by its path from docs/."""
    found = {"functions/index.md": _index(), "../brewfuncs/_signatures.pyi": stub()}
    for group, members in _grouped():
        found[f"functions/{group.lower()}.md"] = _group_page(group, members)
    for name, part in (("units.md", _units), ("sources.md", _sources), ("plan-file.md", _plan_file)):
        found[name] = _filled((DOCS / name).read_text(encoding="utf-8"), part())
    return found


# -- types -----------------------------------------------------------------------------------------------------------

_STUB_HEAD = '''# ruff: noqa
# fmt: off
"""Made by docs/generate.py: what a caller may give each function, for type checkers. There is no such module to import.

One value a parameter gives a float (a text where the function gives texts); lists and arrays give the same shape back.
"""

from collections.abc import Sequence
from datetime import date, time
from decimal import Decimal
from fractions import Fraction
from typing import Any, Protocol, TypeAlias, overload

class _Array(Protocol):
    def __array__(self) -> Any: ...

class _Pint(Protocol):
    @property
    def magnitude(self) -> Any: ...
    @property
    def units(self) -> Any: ...

_One: TypeAlias = float | str | date | time | Decimal | Fraction
_Given: TypeAlias = _One | _Array | _Pint | Sequence[_Given]
_Names: TypeAlias = str | _Array | Sequence[_Names]
'''


def stub() -> str:
    """`brewfuncs/_signatures.pyi`: the types of the exported functions."""
    return "\n".join([_STUB_HEAD, *(_typed(f) for f in sorted(catalogue().values(), key=lambda f: f.name))])


def _typed(function: Function) -> str:
    def overload(one: str, name: str, answer: str) -> str:
        arguments = []
        for p in function.params:
            kind = name if p.is_text else "_Given" if p.whole else "Any" if p.variable else one
            default = "" if p.required or p.variable else f" | None = {p.default!r}"
            arguments.append(f"{'*' * p.variable}{p.name}: {kind}{default}")
        return f"def {function.name.lower()}({', '.join(arguments)}) -> {answer}: ...\n"

    single = overload("_One", "str", "str" if function.gives_text else "float")
    return single if function.variable else f"@overload\n{single}@overload\n{overload('_Given', '_Names', 'Any')}"


_PART = re.compile(r"(<!-- made by generate.py -->\n).*?(<!-- to here -->)", re.DOTALL)


def _filled(page: str, part: str) -> str:
    assert _PART.search(page), "the page has no place for its generated part"
    return _PART.sub(lambda match: f"{match[1]}\n{part}\n{match[2]}", page)


def _grouped() -> list[tuple[str, list[Function]]]:
    functions = catalogue().values()
    order = list(GROUPS)
    ordered = sorted(functions, key=lambda f: order.index(f.group))  # within a group as they are declared
    return [(group, list(members)) for group, members in groupby(ordered, key=lambda f: f.group)]


def _table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    lines = [head, tuple("---" for _ in head), *rows]
    return "\n".join("| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in lines)


def _index() -> str:
    parts = [
        "# Functions",
        f"{len(catalogue())} worksheet functions, in every host under these names, with these arguments in this order. "
        "An argument with a default may be left out. In Excel and in `brewfuncs call` arguments are separated by "
        "commas, in LibreOffice Calc by semicolons. [Units](../units.md) tells how quantities are written, "
        "[errors](../errors.md) what a cell shows when something is wrong.",
        "On the command line, `brewfuncs functions HOP_SWAP_MASS` shows the same page.",
    ]
    for group, members in _grouped():
        title, answers = GROUPS[group]
        rows = [(f"[{f.name}]({group.lower()}.md#{f.name.lower()})", f.summary) for f in members]
        parts += [f"## {title}", answers, _table(("function", "answers"), rows)]
    return "\n\n".join(parts) + "\n"


def _group_page(group: str, members: list[Function]) -> str:
    title, answers = GROUPS[group]
    parts = [f"# {title}", answers]
    if group in _GROUP_NOTES:
        parts.append(_GROUP_NOTES[group])
    for function in members:
        parts += _function(function)
    return "\n\n".join(parts) + "\n"


def _function(function: Function) -> list[str]:
    unit = _unit_of(function.result)
    gives = f" gives {'a ' if unit == 'share' else ''}**{unit}**" if unit != "-" else ""
    parts = [f"## {function.name}", f"`{function.signature}`{gives}", _prose(function.description)]
    if function.name in PLOTS:
        parts.append(f"<!-- plot {function.name} -->")
    parts.append(
        _table(
            ("argument", "unit", "answered", "left out", "what it is"),
            [
                (
                    f"`{p.name}`",
                    _unit_of(p.quantity),
                    function.answered(p) or "-",
                    _left_out(p),
                    ("a whole range: " if p.whole else "") + p.help,
                )
                for p in function.params
            ],
        )
    )
    notes = [_relation(relation) for relation in function.relations]
    if function.zero_when:
        notes.append(f"Where `{function.zero_when}` is 0 or blank the answer is 0, whatever else the row holds.")
    if function.no_answer:
        notes.append(f"No answer (#NUM!): {function.no_answer}.")
    if notes:
        parts.append("\n".join(f"- {note}" for note in notes))
    parts.append(_table(("example", "answer"), [(f"`{function.example}`", _answer(function))]))
    parts.append("Equation:\n\n" + "\n".join(f"    {part}" for part in function.equation_parts))
    parts.append(f"Source: {function.source} (revision {function.revision}).")
    return parts


def _prose(text: str) -> str:
    """The docstring's text, its bare list of names not taken for markup."""
    return text.replace("*", "\\*").replace("_", "\\_")


def _unit_of(quantity: Any) -> str:
    """The unit as a table shows it; a share has none, but is worth naming."""
    if quantity.symbol or not isinstance(quantity, units.Quantity):
        return quantity.symbol or "-"
    return "share" if quantity.dimension.name == "share" else "-"


def _left_out(parameter: Parameter) -> str:
    said = parameter.shown_default
    return f"as `{parameter.same_as}`" if parameter.same_as else said or "-"


def _relation(relation: Any) -> str:
    return f"`{relation.low}` {'stays below' if relation.strict else 'is not above'} `{relation.high}`."


def _answer(function: Function) -> str:
    value = brewfuncs.evaluate(function.example)
    if not isinstance(value, float):
        return str(value)
    unit = function.result.symbol
    if function.name == "UNIT_CONVERT":
        unit = function.example.split('"')[-2]
    return f"{value:.6g} {unit}".rstrip()


def _units() -> str:
    rows = []
    for dimension in units.DIMENSIONS:
        base = dimension.units[0]
        for unit in dimension.units:
            also = ", ".join(f"`{alias}`" for alias in unit.aliases if alias)
            name = dimension.name if unit is base else ""
            rows.append((name, f"`{unit.symbol}`" if unit.symbol else "a bare number", also, _worth(unit, base)))
    return _table(("quantity", "unit", "also written", "which is"), rows)


def _worth(unit: units.Unit, base: units.Unit) -> str:
    if unit is base:
        return ""
    value = {"SG": 1.048, "°P": 12, "°F": 68, "K": 293.15, "EBC": 10, "SRM": 10, "°L": 10}.get(unit.symbol, 1)
    symbol = f"{value:g} {unit.symbol}"
    return f"{symbol} = {unit.to_base(value):.7g} {base.symbol}".rstrip()


def _plan_file() -> str:
    """Every key of a plan file, from the list of the workbook's inputs."""
    parts = []
    for section in SECTIONS:
        if not section.in_file:
            continue
        head = f"[[{section.key}]]" if section.rows else f"[{section.key}]"
        rows = f", up to {section.rows} of them" if section.rows else ""
        parts.append(f"### `{head}` {section.title}{rows}\n")
        lines = [
            (f"`{item.key}`", item.label, _written_as(item), _limits(item), _default(item), _note(item))
            for item in section.inputs
        ]
        parts.append(_table(("key", "what it is", "written as", "range", "left out", "note"), lines))
        parts.append("")
    return "\n".join(parts).strip()


def _written_as(item: Input) -> str:
    if item.words:
        return " or ".join(f'`"{word}"`' for word in item.words)
    if item.is_date:
        return "a date, `2026-03-14`"
    if item.is_text:
        return "text"
    if item.is_share:
        return "%, or a share"
    return ", ".join(item.unit_choices) or item.quantity.symbol or "a number"


def _limits(item: Input) -> str:
    if item.is_text or item.is_date:
        return ""
    if item.is_share:
        return f"{100 * item.parameter.limits.low:g} to {100 * item.parameter.limits.high:g} %"
    return item.parameter.limits.words(item.parameter.symbol)


def _default(item: Input) -> str:
    if item.required:
        return "**needed**"
    return "blank" if item.default in (None, "") else str(item.default)


def _note(item: Input) -> str:
    text = item.help or ("" if item.is_text or item.is_date else item.parameter.help)
    return text[:1].upper() + text[1:]


def _sources() -> str:
    by_source: dict[str, list[str]] = {}
    for group, members in _grouped():
        for f in members:
            link = f"[{f.name}](functions/{group.lower()}.md#{f.name.lower()})"
            by_source.setdefault(f.source, []).append(link)
    return _table(("source", "functions"), [(source, ", ".join(links)) for source, links in by_source.items()])


# -- plots, for the built site only ----------------------------------------------------------------------------------


class Plot(NamedTuple):
    """The argument that is varied, from where to where; `series` is another one and the values it takes.

    All other arguments are as in the function's example. Without `series`, a function with methods shows each.
    """

    over: str
    low: float
    high: float
    series: tuple[str, tuple[Any, ...]] | None = None
    logarithmic: bool = False


_VOLATILITIES = ("volatility", (18, 65, 75))

PLOTS = {
    "WORT_PLATO": Plot("gravity", 1.0, 1.12),
    "WORT_GRAVITY": Plot("plato", 0, 28),
    "WORT_PREBOIL_GRAVITY": Plot("evaporated", 0, 10),
    "WORT_PREBOIL_VOLUME": Plot("evaporated", 0, 10),
    "WORT_POSTBOIL_GRAVITY": Plot("evaporated", 0, 10),
    "WORT_WATER_TO_ADD": Plot("gravity", 1.05, 1.08),
    "WORT_EXTRACT_TO_ADD": Plot("gravity", 1.03, 1.05),
    "WORT_VOLUME_AT": Plot("to_temp", 0, 100),
    "WORT_HYDROMETER": Plot("temp", 5, 60),
    "WORT_REFRACTOMETER": Plot("brix", 0, 25, ("factor", (1.0, 1.04, 1.06))),
    "BOIL_TEMP": Plot("altitude", 0, 3000),
    "BOIL_RATE": Plot("power", 1, 5, ("efficiency", (0.7, 0.85))),
    "BOIL_MINUTES": Plot("target", 1.0412, 1.07),
    "BOIL_HEAT_MINUTES": Plot("power", 1.5, 6, ("efficiency", (0.7, 0.85))),
    "BOIL_COOLING": Plot("minutes", 5, 60),
    "HOP_UTILIZATION": Plot("minutes", 0, 90),
    "HOP_BITTERNESS": Plot("minutes", 0, 90),
    "HOP_MASS": Plot("minutes", 10, 90),
    "HOP_SWAP_MASS": Plot("new_minutes", 10, 90),
    "HOP_ISO_YIELD": Plot("minutes", 0, 120, ("temp", (100, 90, 80))),
    "HOP_ISO_YIELD_COOLING": Plot("cool_minutes", 0, 120, ("cooling", (0.01, 0.05, 0.1))),
    "HOP_STAND_BITTERNESS": Plot("temp", 60, 100),
    "HOP_AROMA_LEFT": Plot("evaporated", 0, 0.2, ("volatility", ("2-phenylethanol", "linalool", "DMS"))),
    "DMS_HALF_LIFE": Plot("temp", 80, 105),
    "DMS_PRECURSOR_LEFT": Plot("minutes", 0, 120, ("temp", (100, 95))),
    "DMS_AFTER_BOIL": Plot("minutes", 0, 120, _VOLATILITIES),
    "DMS_AFTER_COOLING": Plot("minutes", 0, 120, ("cooling", (0.01, 0.05, 0.1))),
    "DMS_AT_PITCH": Plot("boil_minutes", 0, 120, _VOLATILITIES),
    "DMS_BOIL_MINUTES": Plot("precursor", 200, 2000, _VOLATILITIES),
    "MASH_PASTEUR_UNITS": Plot("temp", 55, 80, logarithmic=True),
    "MASH_STRIKE_TEMP": Plot("water_ratio", 2, 5, ("grain_temp", (10, 18, 25))),
    "MASH_STEP_WATER": Plot("target", 55, 75),
    "SANI_PH": Plot("phosphoric", 100, 3000, ("alkalinity", (0, 100))),
    "SANI_DRY_FACTOR": Plot("water_left", 0, 0.1),
    "SANI_DRY_ACID": Plot("humidity", 0.1, 0.9),
    "SANI_DRY_FACTOR_IN_AIR": Plot("humidity", 0.1, 0.9),
    "SANI_DRY_MINUTES": Plot("humidity", 0.1, 0.9),
    "BEER_ABV": Plot("final", 1.0, 1.05),
    "BEER_FINAL": Plot("attenuation", 0.6, 1),
    "BEER_REFRACTOMETER": Plot("current_brix", 5, 12.5),
    "BEER_CO2_PRESSURE": Plot("temp", 0, 20, ("volumes", (2, 2.5, 3))),
    "BEER_CO2": Plot("pressure", 0, 2.5, ("temp", (2, 10, 20))),
    "BEER_RESIDUAL_CO2": Plot("temp", 0, 28),
    "BEER_PRIMING": Plot("target", 1.5, 3),
    "BEER_RAMP_TEMP": Plot("day", 0, 14),
    "WATER_DENSITY": Plot("temp", 0, 100),
}

# ink, accent, second, quiet: told apart by their dashes as well
_LINES = (("#2F6B5E", "-"), ("#B45309", "--"), ("#1F2933", "-."), ("#6B7280", ":"))
_INK, _QUIET, _RULE = "#1F2933", "#6B7280", "#D6D3CC"
_POINTS = 240


def _example_arguments(function: Function) -> dict[str, Any]:
    match = re.search(r"^ *>>> (\w+\(.*\))$", function.doc, re.MULTILINE)
    assert match is not None
    call = ast.parse(match[1], mode="eval").body
    assert isinstance(call, ast.Call)
    return {p.name: ast.literal_eval(value) for p, value in zip(function.params, call.args, strict=False)}


def _series(function: Function, plot: Plot) -> tuple[str, tuple[Any, ...]]:
    if plot.series:
        return plot.series
    for parameter in function.params:
        if parameter.name == "method" and parameter.names:
            return "method", tuple(parameter.names.values())
    return "", ("",)


def caption(function: Function) -> str:
    """What the plot shows, for those who can't see it as well."""
    plot = PLOTS[function.name]
    other, values = _series(function, plot)
    by = f", {other} {', '.join(str(v) for v in values)}" if other else ""
    rest = [f"{k} {v}" for k, v in _example_arguments(function).items() if k not in (plot.over, other)]
    symbol = function.params[function.index[plot.over]].symbol
    return (
        f"{function.name} over {plot.over}, {plot.low:g} to {plot.high:g} {symbol}".rstrip()
        + by
        + (f"; {', '.join(rest)}" if rest else "")
    )


def draw(function: Function) -> bytes:
    """The function over its main argument, as SVG: the same bytes every time."""
    import matplotlib as mpl

    mpl.use("svg")
    from matplotlib.figure import Figure

    plot = PLOTS[function.name]
    other, values = _series(function, plot)
    at = [plot.low + (plot.high - plot.low) * n / _POINTS for n in range(_POINTS + 1)]
    with mpl.rc_context({"svg.hashsalt": "brewfuncs", "font.size": 10, "text.color": _INK, "axes.labelcolor": _INK}):
        figure = Figure(figsize=(6.4, 3.2), layout="constrained")
        axes = figure.add_subplot()
        for value, (color, dashes) in zip(values, _LINES, strict=False):
            arguments = _example_arguments(function) | ({other: value} if other else {})
            axes.plot(at, [_point(function, arguments | {plot.over: x}) for x in at], dashes, color=color, label=value)
        axes.set_xlabel(_axis(plot.over, function.params[function.index[plot.over]].symbol))
        axes.set_ylabel(_axis(function.name, function.result.symbol))
        if plot.logarithmic:
            axes.set_yscale("log")
        else:
            axes.ticklabel_format(useOffset=False)
        axes.grid(axis="y", color=_RULE, linewidth=0.6)
        axes.tick_params(color=_RULE, labelcolor=_QUIET)
        for side, spine in axes.spines.items():
            spine.set_visible(side == "bottom")
            spine.set_color(_RULE)
        if other:
            figure.legend(loc="outside lower center", ncols=len(values), frameon=False, title=other, title_fontsize=9)
        file = io.BytesIO()
        figure.savefig(file, format="svg", metadata={"Date": None})
    return file.getvalue()


def _axis(name: str, symbol: str) -> str:
    return f"{name}, {symbol}" if symbol else name


def _point(function: Function, arguments: dict[str, Any]) -> float:
    try:
        return float(function.call(**arguments))
    except BrewError:
        return float("nan")  # no answer there: a gap in the line


# -- as a mkdocs hook ------------------------------------------------------------------------------------------------


def on_files(files: Any, config: Any) -> Any:
    from mkdocs.structure.files import File

    for name in PLOTS:
        picture = File.generated(config, f"functions/plots/{name}.svg", content=draw(catalogue()[name]))
        files.append(picture)
    files.append(File.generated(config, "changes.md", content=CHANGELOG.read_text(encoding="utf-8")))
    return files


def on_page_markdown(markdown: str, page: Any, **_: Any) -> str:
    markdown = re.sub(
        r"<!-- plot (\w+) -->",
        lambda match: (
            f"![{caption(catalogue()[match[1]])}](plots/{match[1]}.svg)\n\n*{_prose(caption(catalogue()[match[1]]))}*"
        ),
        markdown,
    )
    # what lies outside docs/ in the source tree has its place in the site, or is only named there
    markdown = markdown.replace("](../CHANGELOG.md)", "](changes.md)")
    return re.sub(r"\[([^\]]*)\]\(\.\./(?:LICENSE|brewfuncs/[^)]*|DEVELOPERS\.md|README\.md)\)", r"\1", markdown)


# -- as a script -----------------------------------------------------------------------------------------------------


def outdated() -> dict[str, str]:
    """The generated pages whose checked-in text differs from what the catalogue says now."""
    return {
        path: text
        for path, text in pages().items()
        if not (DOCS / path).is_file() or (DOCS / path).read_text(encoding="utf-8") != text
    }


def main() -> int:
    stale = outdated()
    if "--check" in sys.argv[1:]:
        for path in stale:
            print(f"{normpath(f'docs/{path}')} is out of date: python docs/generate.py")
        return 1 if stale else 0
    for path, text in stale.items():
        (DOCS / path).parent.mkdir(parents=True, exist_ok=True)
        (DOCS / path).write_text(text, encoding="utf-8", newline="\n")
        print(f"{normpath(f'docs/{path}')} written")
    return 0


if __name__ == "__main__":
    sys.exit(main())
