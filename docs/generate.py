"""Makes the reference pages and the functions' types from the catalogue and the table of units.

    python docs/generate.py            write them
    python docs/generate.py --check    say which are out of date, and write nothing

They are checked in, so that they can be read without building anything; a test sees that they are up to date. What
only the built site has is in make_site.py.
"""

from __future__ import annotations

import re
import sys
from itertools import groupby
from pathlib import Path
from typing import Any

DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
sys.path.insert(0, str(DOCS))
sys.path.insert(0, str(ROOT))  # the sources beside this file, whatever is installed

from plots import PLOTS

import brewfuncs
from brewfuncs import units
from brewfuncs.batch.inputs import Input
from brewfuncs.batch.sections import SECTIONS
from brewfuncs.catalogue import Function, Parameter, catalogue

#: the pages of functions: group -> title and what the group answers
GROUPS = {
    "WORT": ("Wort", "Gravity, extract, volume."),
    "BOIL": ("Boil", "Water driven off, heat, altitude."),
    "HOP": ("Hops", "Bitterness and aroma."),
    "DMS": ("DMS", "Precursor, boil, cooling."),
    "MASH": ("Mash", "Heat, water, pH."),
    "SANI": ("Sanitizer", "Dose, strength, drying, plastics."),
    "BEER": ("Beer", "Fermentation, yeast, package."),
    "WATER": ("Water", "Density, salts, alkalinity, acid, chlorine."),
    "UNIT": ("Units", "Conversion."),
    "BREW": ("About functions", "What is wrong with a call, and where a formula comes from."),
}

_GROUP_NOTES = {
    "HOP": "Published models of bitterness disagree by half and more: compare the methods before you trust a number. "
    "[Where they disagree](../sources.md#where-published-models-disagree) shows by how much.",
    "BOIL": "Boiling wort scalds and boils over: leave head space, and stay with it.",
    "DMS": "The volatility that papers give spans 18 to 75: work out both ends and look at the range.",
    "MASH": "Pasteurisation units tell how much heat a wort had. They kill no spores, and are no claim of sterility. "
    "Acids burn: goggles and gloves, and acid into water. [From tap to mash](../water.md) goes to its pH.",
    "SANI": "The product's label comes first, with gloves and eye protection. **Chlorine never meets acid**, not even "
    "as rinse water: the gas that forms is poisonous. Answers here check a label's arithmetic; they don't replace it.",
    "BEER": "Closed vessels burst: bottle and pressurise only at a steady final gravity, and within what bottle, keg "
    "and regulator are rated for. Starters and slurry make gas too: cover them loosely.",
    "WATER": "Acids burn and slaked lime is caustic: gloves and eye protection, acid into water, never water into "
    "acid; the label comes first. **Acid never meets chlorine**: the gas that forms is poisonous. "
    "[From tap to mash](../water.md) goes through a whole treatment.",
}


# -- pages -----------------------------------------------------------------------------------------------------------


def pages() -> dict[Path, str]:
    """Every generated page, page with a generated part, and the types of the functions."""
    found = {DOCS / "functions/index.md": _index(), ROOT / "brewfuncs/_signatures.pyi": stub()}
    for group, members in _grouped():
        found[DOCS / f"functions/{group.lower()}.md"] = _group_page(group, members)
    for name, part in (("units.md", _units), ("sources.md", _sources), ("plan-file.md", _plan_file)):
        found[DOCS / name] = _filled((DOCS / name).read_text(encoding="utf-8"), part())
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    found[ROOT / "README.md"] = re.sub(r"^- \d+(?= worksheet functions)", f"- {len(catalogue())}", readme, flags=re.M)
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
    parts = [f"## {function.name}", f"`{function.signature}`{gives}", prose(function.description)]
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


def prose(text: str) -> str:
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


# -- as a script -----------------------------------------------------------------------------------------------------


def outdated() -> dict[Path, str]:
    """The generated pages whose checked-in text differs from what the catalogue says now."""
    return {
        path: text for path, text in pages().items() if not path.is_file() or path.read_text(encoding="utf-8") != text
    }


def main() -> int:
    stale = outdated()
    if "--check" in sys.argv[1:]:
        for path in stale:
            print(f"{path.relative_to(ROOT)} is out of date: python docs/generate.py")
        return 1 if stale else 0
    for path, text in stale.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
        print(f"{path.relative_to(ROOT)} written")
    if not stale:
        print("the pages say what the catalogue says: nothing written")
    return 0


if __name__ == "__main__":
    sys.exit(main())
