"""Our functions as names within a workbook, so that it computes where no add-in can go; nothing else in it changes."""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

from brewfuncs import formulas  # noqa: F401  (fills the catalogue)
from brewfuncs.catalogue import CATALOGUE
from brewfuncs.errors import WorkbookError
from brewfuncs.translate.names import LambdaName, lambda_name, named
from brewfuncs.xlsx.address import address
from brewfuncs.xlsx.formula import functions_in, plain_name, tokenize, without_addin_paths
from brewfuncs.xlsx.package import DefinedName, Package
from brewfuncs.xlsx.worksheet import Sheet
from brewfuncs.xlsx.xml import escape, find_all, parse_xml, quoted

__all__ = ["EmbedReport", "embed", "embedded", "in_numbers", "is_embedded", "is_intact"]


@dataclass
class EmbedReport:
    """What was done to a workbook."""

    path: str
    added: list[str] = field(default_factory=list)
    renewed: list[str] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    cells: int = 0  # whose formulas are written differently now
    missing: list[str] = field(default_factory=list)  # called, but there is no name for it
    written: bool = False
    notes: list[str] = field(default_factory=list)


def embed(path: str | os.PathLike[str], *, everything: bool = False, remove: bool = False) -> EmbedReport:
    """Write the functions that a workbook calls into it, or every one, or take them out again.

    Raises WorkbookError where a name of the user's own is in the way; nothing is written then.
    """
    with Package(path, write=True) as package:
        report, parts = _embedded(package, everything, remove)
        if parts:
            package.save(parts)
            report.notes = package.rewritten(parts)
        return report


def embedded(data: bytes) -> bytes:
    """A workbook in memory with the functions that it calls."""
    with Package("workbook", data=data) as package:
        return package.with_parts(_embedded(package, False, False)[1])


_INTERNAL = re.compile(r"\bbad_", re.IGNORECASE)


def is_embedded(name: DefinedName) -> bool:
    """Whether a name is one of ours, whatever a program has made of it since."""
    lambda_first = name.text.lower().lstrip("=").startswith(("_xlfn.lambda(", "lambda("))
    return name.name.upper() in CATALOGUE and lambda_first and bool(_INTERNAL.search(name.text))


def is_intact(name: DefinedName) -> bool:
    """Whether a name of ours is still written as Excel reads it."""
    return name.text.startswith("_xlfn.LAMBDA(_xl")


def in_numbers(formula: str) -> str:
    """A call of ours with bare numbers where it has text with a unit.

    >>> in_numbers('=BOIL_OFF("75 mL/min",30)')
    '=BOIL_OFF(4.5,30)'
    """
    tokens = tokenize(formula.removeprefix("="))
    function, index, depth, out = CATALOGUE[plain_name(tokens[0].text)], 0, 0, []
    for kind, text in tokens:
        depth += (kind in ("func", "open")) - (kind == "close")
        index += kind == "sep" and depth == 1
        parameter = function.params[min(index, len(function.params) - 1)]
        if kind == "text" and not parameter.is_text and not parameter.variable and not parameter.table:
            text = f"{parameter.read(text[1:-1]):g}"
        out.append(text)
    return "=" + "".join(out)


def _embedded(package: Package, everything: bool, remove: bool) -> tuple[EmbedReport, dict[str, bytes]]:
    report = EmbedReport(package.name)
    there = [name for name in package.names if is_embedded(name)]
    calls = {sheet.name: dict(_calls(sheet)) for sheet in package.sheets}
    called = {function for cells in calls.values() for _, functions in cells.values() for function in functions}
    called |= {f for name in package.names if name not in there for f in _functions(name.text)}
    called |= {f for sheet in package.sheets for f in _functions_in_rules(sheet)}
    wanted: list[str] = []
    made: list[LambdaName] = []
    if not remove:
        present = {name.name.upper() for name in there}
        wanted = [name for name in named() if everything or name in called or name in present]
        report.missing = sorted(called - set(named()))
        made = [lambda_name(name, tuple(wanted) if name == "BREW_SOURCE" else ()) for name in wanted]
        _refuse_clashes(package, there, made)
        report.added = [name for name in wanted if name not in present]
        report.renewed = [name for name in wanted if name in present]
    else:
        report.removed = sorted(name.name for name in there)
    if not wanted and not report.removed:
        return report, {}
    parts = {package.workbook_part: _with_names(package, there, made)}
    mangled = not all(map(is_intact, there))
    cells = {sheet.name: _cells(sheet, calls[sheet.name], remove, mangled) for sheet in package.sheets}
    metadata = 0
    if not remove and any(cells.values()):
        metadata = _dynamic_metadata(package, parts)
    for sheet in package.sheets:
        if cells[sheet.name]:
            parts[sheet.part] = sheet.with_arrays(cells[sheet.name], metadata)
            report.cells += len(cells[sheet.name])
    parts |= _calculation_chain(package, cells, array=not remove)
    parts = {name: content for name, content in parts.items() if not package.has(name) or package.part(name) != content}
    report.written = bool(parts)
    return report, parts


# ---------------------------------------------------------------- which cells call which functions
def _functions(formula: str) -> set[str]:
    if not any(plain_name(word) in CATALOGUE for word in _CALLED.findall(formula)):
        return set()
    return functions_in(formula) & CATALOGUE.keys()


_CALLED = re.compile(r"[A-Za-z_][\w.]*(?=\()")
_MIGHT_CALL = re.compile(rb"[A-Za-z]_[A-Za-z]")  # as all of our names do


def _calls(sheet: Sheet) -> Iterator[tuple[tuple[int, int], tuple[str, set[str]]]]:
    """The formulas that call functions of ours, by their cells, with what they call."""
    for place, cell in sheet.formulas.items():
        master = sheet.master(cell)
        if cell.kind != "dataTable" and master is not None and _MIGHT_CALL.search(master.raw_formula):
            text = sheet.text(cell)
            functions = _functions(text)
            if functions:
                yield place, (text, functions)


_RULES = re.compile(rb"<(?:\w+:)?(?:formula[12]?|f|sqref)>([^<]*)<")


def _functions_in_rules(sheet: Sheet) -> set[str]:
    """What conditional formats and validations call."""
    texts = (text for text in _RULES.findall(sheet.data) if _MIGHT_CALL.search(text))
    return {f for text in texts for f in _functions(text.decode("utf-8", "replace"))}


def _cells(
    sheet: Sheet, calls: dict[tuple[int, int], tuple[str, set[str]]], remove: bool, mangled: bool
) -> dict[tuple[int, int], str]:
    """The formulas to be written differently: Excel takes a call of a name for one only in a formula that may spill.

    An array formula of the old kind is the user's own, unless a program that `mangled` the names made it of such a one.
    """
    found, names = {}, set(named())
    for place, (text, functions) in calls.items():
        cell = sheet.formulas[place]
        array, single = cell.kind == "array", cell.box.size == 1
        if not functions & names:
            continue
        if remove and array and single and cell.dynamic:
            found[place] = text
        elif not remove and (not array or (mangled and single and not cell.dynamic)):
            found[place] = _plain(text)
    return found


def _plain(formula: str) -> str:
    """With our functions called by their plain names."""
    if not re.search(r"!|_xl|BREW\.", formula, re.IGNORECASE):
        return formula
    tokens = tokenize(without_addin_paths(formula, CATALOGUE))
    ours = (kind == "func" and plain_name(text) in CATALOGUE for kind, text in tokens)
    return "".join(
        plain_name(text) + "(" if mine and text.rstrip("(").upper() not in CATALOGUE else text
        for mine, (_, text) in zip(ours, tokens, strict=True)
    )


# ---------------------------------------------------------------- names
_LOCAL = re.compile(r"_xl[op][pm]\.(\w+)")


def _refuse_clashes(package: Package, there: Collection[DefinedName], made: Collection[LambdaName]) -> None:
    others = {name.name.upper(): name.name for name in package.names if name not in there}
    for new in made:
        if new.name in others:
            raise WorkbookError(
                f"{package.name} has a name {others[new.name]} of its own: rename it first; nothing was written"
            )
        inside = {local.upper() for local in _LOCAL.findall(new.text)}
        if clash := inside & others.keys():
            own = others[min(clash)]
            raise WorkbookError(
                f"{package.name} has a name {own} of its own, which {new.name} uses within: "
                "rename it first; nothing was written"
            )


def _with_names(package: Package, old: Collection[DefinedName], new: Collection[LambdaName]) -> bytes:
    """The workbook part without the old names and with the new ones; every other byte as it is."""
    data = package.part(package.workbook_part)
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or re.search(rb"<\?xml[^>]*encoding=[\"'](?!utf-8)", data, re.IGNORECASE):
        raise WorkbookError(f"{package.name} has its workbook part in an encoding that can't be changed safely")
    prefix = re.search(rb"<(\w+:)?workbook[\s>]", data)
    p = prefix[1] or b"" if prefix else b""
    gone = {name.name.upper().encode() for name in old}

    def without(match: re.Match[bytes]) -> bytes:
        name = re.search(rb"\sname=[\"']([^\"']*)[\"']", match[1])
        return b"" if name and name[1].upper() in gone and b"localSheetId" not in match[1] else match[0]

    data = re.sub(rb"<%sdefinedName(\s[^<>]*)>[^<]*</%sdefinedName>" % (p, p), without, data)
    made = b"".join(
        f"<{p.decode()}definedName name={quoted(n.name)} comment={quoted(n.comment)}>{escape(n.text)}"
        f"</{p.decode()}definedName>".encode()
        for n in sorted(new, key=lambda n: n.name)
    )
    data = re.sub(rb"<%sdefinedNames\s*/>" % p, b"", data)
    closing = b"</%sdefinedNames>" % p
    at = data.find(closing)
    if at >= 0:
        data = data[:at] + made + data[at:]
        return re.sub(rb"<%sdefinedNames\s*>\s*</%sdefinedNames>" % (p, p), b"", data)
    if not made:
        return data
    after = re.compile(rb"</%s(?:sheets|functionGroups|externalReferences)>" % p)
    places = [match.end() for match in after.finditer(data)]
    if not places:
        raise WorkbookError(f"{package.name} lists its sheets in a way that can't be changed safely")
    at = places[-1]
    return data[:at] + b"<%sdefinedNames>%s%s" % (p, made, closing) + data[at:]


# ---------------------------------------------------------------- Excel's list of the cells to calculate
def _calculation_chain(
    package: Package, cells: Mapping[str, Collection[tuple[int, int]]], *, array: bool
) -> dict[str, bytes]:
    """Excel notes in it which cells hold array formulas."""
    relations = package.relations(package.workbook_part)
    part = next((part for kind, part in relations.values() if kind.endswith("/calcChain") and package.has(part)), None)
    if part is None or not any(cells.values()):
        return {}
    root = parse_xml(package.part(package.workbook_part), package.workbook_part)
    numbers = {sheet.get("sheetId", ""): sheet.get("name", "") for sheet in find_all(root, "sheet")}
    changed = {name: {address(*place).encode() for place in places} for name, places in cells.items()}
    number = ""

    def noted(match: re.Match[bytes]) -> bytes:
        nonlocal number
        attributes = dict(re.findall(rb'\s(\w+)="([^"]*)"', match[1]))
        number = attributes.get(b"i", number.encode()).decode()  # left out where it is as before
        if attributes.get(b"r") not in changed.get(numbers.get(number, ""), ()):
            return match[0]
        plain = re.sub(rb'\sa="[^"]*"', b"", match[1])
        return b"<c%s%s/>" % (plain.rstrip(), b' a="1"' if array else b"")

    return {part: re.sub(rb"<c(\s[^<>]*?)/>", noted, package.part(part))}


# ---------------------------------------------------------------- the metadata of formulas that may spill
_METADATA_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheetMetadata+xml"
_METADATA_RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/sheetMetadata"
_DYNAMIC = (
    '<metadataType name="XLDAPR" minSupportedVersion="120000" copy="1" pasteAll="1" pasteValues="1" merge="1" '
    'splitFirst="1" rowColShift="1" clearFormats="1" clearComments="1" assign="1" coerce="1" cellMeta="1"/>'
)
_FUTURE = (
    '<futureMetadata name="XLDAPR" count="1"><bk><extLst><ext uri="{bdbb8cdc-fa1e-496e-a857-3c3f30c029c3}">'
    '<xda:dynamicArrayProperties xmlns:xda="http://schemas.microsoft.com/office/spreadsheetml/2017/dynamicarray" '
    'fDynamic="1" fCollapsed="0"/></ext></extLst></bk></futureMetadata>'
)
_METADATA = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    '<metadata xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    f'<metadataTypes count="1">{_DYNAMIC}</metadataTypes>{_FUTURE}'
    '<cellMetadata count="1"><bk><rc t="1" v="0"/></bk></cellMetadata></metadata>'
)


def _dynamic_metadata(package: Package, parts: dict[str, bytes]) -> int:
    """The number that cells have as `cm` where their formula may spill; what is needed for it goes into `parts`."""
    relations = package.relations(package.workbook_part)
    existing = next((part for kind, part in relations.values() if kind.endswith("/sheetMetadata")), None)
    if existing is not None and package.has(existing):
        return _metadata_number(package, existing, parts)
    folder, _, base = package.workbook_part.rpartition("/")
    part = f"{folder}/metadata.xml".lstrip("/")
    if package.has(part):
        raise WorkbookError(f"{package.name} has a part {part} that nothing refers to")
    where = f"{folder}/_rels/{base}.rels".lstrip("/")
    free = next(f"rId{n}" for n in range(1, len(relations) + 1000) if f"rId{n}" not in relations)
    relation = f'<Relationship Id="{free}" Type="{_METADATA_RELATION}" Target="metadata.xml"/>'
    parts[where] = _appended(package, where, "Relationships", relation)
    override = f'<Override PartName="/{part}" ContentType="{_METADATA_TYPE}"/>'
    parts["[Content_Types].xml"] = _appended(package, "[Content_Types].xml", "Types", override)
    parts[part] = _METADATA.encode()
    return 1


def _appended(package: Package, part: str, root: str, element: str) -> bytes:
    data = package.part(part)
    match = re.search(rb"</(\w+:)?%s\s*>" % root.encode(), data)
    if match is None or match[1]:
        raise WorkbookError(f"{package.name} has a part {part} of a kind that can't be changed safely")
    return data[: match.start()] + element.encode() + data[match.start() :]


def _metadata_number(package: Package, part: str, parts: dict[str, bytes]) -> int:
    """Where there is metadata already: the entry for formulas that may spill, made if there is none."""
    data = package.part(part).decode("utf-8")
    types = re.findall(r"<metadataType\s[^<>]*?name=\"([^\"]*)\"", data)
    blocks = re.search(r"<cellMetadata\b[^<>]*>(.*?)</cellMetadata>", data, re.DOTALL)
    entries = re.findall(r"<bk>(.*?)</bk>", blocks[1], re.DOTALL) if blocks else []
    if "XLDAPR" in types:
        mine = rf'<rc\s+t="{types.index("XLDAPR") + 1}"\s+v="0"\s*/>'
        for number, entry in enumerate(entries, 1):
            if re.fullmatch(mine, entry.strip()):
                return number
    if "XLDAPR" in types or not re.search(r"</metadataTypes>", data):
        raise WorkbookError(f"{package.name} has metadata of its cells that can't be added to safely")
    data = data.replace("</metadataTypes>", f"{_DYNAMIC}</metadataTypes>", 1)
    data = re.sub(r'(<metadataTypes count=")\d+', rf"\g<1>{len(types) + 1}", data, count=1)
    entry = f'<bk><rc t="{len(types) + 1}" v="0"/></bk>'
    futures = [match.end() for match in re.finditer(r"</futureMetadata>|</mdxMetadata>|</metadataStrings>", data)]
    at = futures[-1] if futures else data.index("</metadataTypes>") + len("</metadataTypes>")
    data = data[:at] + _FUTURE + data[at:]
    if blocks:
        data = data.replace("</cellMetadata>", f"{entry}</cellMetadata>", 1)
        data = re.sub(r'(<cellMetadata count=")\d+', rf"\g<1>{len(entries) + 1}", data, count=1)
    else:
        at = data.index(_FUTURE) + len(_FUTURE)
        data = data[:at] + f'<cellMetadata count="1">{entry}</cellMetadata>' + data[at:]
    parts[part] = data.encode("utf-8")
    return len(entries) + 1
