"""Functions embedded as names: nothing else in the file changes, other engines compute it, commands work on it."""

import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from brewfuncs.batch.record import record
from brewfuncs.catalogue import CATALOGUE, Function
from brewfuncs.cli import main
from brewfuncs.errors import CellError, OutOfRange, WorkbookError
from brewfuncs.translate.names import _SERIES, Body, _number, lambda_name, named
from brewfuncs.translate.terms import Term, translated, uses_of, words_of
from brewfuncs.workbook.check import check
from brewfuncs.workbook.embed import embed
from brewfuncs.workbook.recalculate import recalculate
from brewfuncs.xlsx.package import Package
from tests import needs, parity, xlsx_build
from tests.office import Office

CELLS = """
A1 4.5
B1 =BOIL_OFF(A1,30) | 2.25
C1 =SUM(A1:A1) | 4.5
B2 =1+_xll.boil_off(A1,60) | 5.5
B3 {{=BOIL_OFF(A1:A2,30)}} B3:B4 | 2.25
B6 {=SUM(BOIL_OFF(A1:A2,30))} B6 | 2.25
"""


def _book(path: Path, names: Any = (), cells: str = CELLS, **more: Any) -> Path:
    return xlsx_build.workbook(path / "book.xlsx", {"One": cells, "Two": "A1 =SUM(A2:A3) | 0"}, dict(names), **more)


def _names(path: Path) -> dict[str, str]:
    with Package(path) as package:
        return {name.name: name.text for name in package.names}


def test_the_names_and_the_cells_that_call_them_change_and_nothing_else(tmp_path: Path) -> None:
    path = _book(tmp_path)
    before, raw = xlsx_build.members(path), xlsx_build.raw_members(path)
    report = embed(path)
    assert (report.added, report.cells, report.written) == (["BOIL_OFF"], 2, True)
    after, raw_after = xlsx_build.members(path), xlsx_build.raw_members(path)
    assert set(after) - set(before) == {"xl/metadata.xml"}
    changed = {name for name in raw if raw[name] != raw_after[name]}
    assert changed == {
        "[Content_Types].xml",
        "xl/_rels/workbook.xml.rels",
        "xl/workbook.xml",
        "xl/worksheets/sheet1.xml",
    }
    for content in after.values():
        ElementTree.fromstring(content)
    metadata = ElementTree.fromstring(after["xl/metadata.xml"])
    assert [
        element.attrib for element in metadata.iter() if element.tag.endswith(("}rc", "}dynamicArrayProperties"))
    ] == [
        {"fDynamic": "1", "fCollapsed": "0"},
        {"t": "1", "v": "0"},
    ]
    sheet = after["xl/worksheets/sheet1.xml"].decode()
    assert '<c r="B1" cm="1"><f t="array" ref="B1">BOIL_OFF(A1,30)</f><v>2.25</v></c>' in sheet
    assert '<c r="B2" cm="1"><f t="array" ref="B2">1+BOIL_OFF(A1,60)</f><v>5.5</v></c>' in sheet
    untouched = re.sub(r'<c r="B[12]".*?</c>', "", sheet)
    assert untouched == re.sub(r'<c r="B[12]".*?</c>', "", before["xl/worksheets/sheet1.xml"].decode())
    assert _names(path) == {"BOIL_OFF": lambda_name("BOIL_OFF").text}


def test_done_again_it_renews_and_changes_nothing_that_is_right(tmp_path: Path) -> None:
    path = _book(tmp_path)
    embed(path)
    content = path.read_bytes()
    report = embed(path)
    assert (report.renewed, report.written) == (["BOIL_OFF"], False)
    assert path.read_bytes() == content
    with Package(path, write=True) as package:
        text = package.part("xl/workbook.xml").replace(b"/60,#NUM!)", b"/61,#NUM!)")
        package.save({"xl/workbook.xml": text})
    assert embed(path).written
    assert _names(path) == {"BOIL_OFF": lambda_name("BOIL_OFF").text}


def test_removed_the_sheets_and_names_are_as_they_were(tmp_path: Path) -> None:
    for names in ({}, {"mine": "One!$A$1"}):
        path = _book(tmp_path, names, CELLS.replace("_xll.boil_off", "BOIL_OFF"))
        before = xlsx_build.members(path)
        embed(path, everything=True)
        assert set(_names(path)) == {*named(), *names}
        report = embed(path, remove=True)
        assert sorted(report.removed) == sorted(named())
        after = xlsx_build.members(path)
        for part in ("xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"):
            assert after[part] == before[part]


@pytest.mark.parametrize("name", ["BOIL_OFF", "boil_off", "bad_"])
def test_a_name_of_the_users_own_stays(name: str, tmp_path: Path) -> None:
    path = _book(tmp_path, {name: "One!$A$1"})
    content = path.read_bytes()
    with pytest.raises(WorkbookError, match=f"has a name {name} of its own"):
        embed(path)
    assert path.read_bytes() == content
    assert embed(path, remove=True).written is False


def test_what_looks_like_an_escape_of_the_file_format_stays_as_it_is(tmp_path: Path) -> None:
    """Text that reads _x0041_ is written _x005F_x0041_ (ECMA-376 part 1, 22.9.2.19); else it would become A."""
    path = _book(tmp_path, cells='A1 4.5\nB1 =BOIL_OFF(A1,30)&"_x005F_x0041_" | "2.25_x005F_x0041_"')
    embed(path)
    sheet = xlsx_build.members(path)["xl/worksheets/sheet1.xml"].decode()
    assert 'BOIL_OFF(A1,30)&amp;"_x005F_x0041_"</f>' in sheet


def test_shared_formulas_and_rules(tmp_path: Path) -> None:
    cells = (
        '<row r="1"><c r="A1"><v>1</v></c><c r="B1"><f t="shared" ref="B1:B2" si="0">BOIL_OFF(A1,30)</f><v>0.5</v></c>'
        '</row><row r="2"><c r="A2"><v>2</v></c><c r="B2"><f t="shared" si="0"/><v>1</v></c></row>'
    )
    rule = (
        '<conditionalFormatting sqref="A1"><cfRule type="expression" priority="1">'
        "<formula>WORT_PLATO(A1)&gt;1</formula></cfRule></conditionalFormatting>"
    )
    path = xlsx_build.workbook(tmp_path / "book.xlsx", {"One": xlsx_build.sheet(cells, after=rule)})
    assert embed(path).added == ["WORT_PLATO", "BOIL_OFF"]
    sheet = xlsx_build.members(path)["xl/worksheets/sheet1.xml"].decode()
    assert '<f t="array" ref="B1">BOIL_OFF(A1,30)</f>' in sheet
    assert '<c r="B2" cm="1"><f t="array" ref="B2">BOIL_OFF(A2,30)</f><v>1</v></c>' in sheet


def _with_metadata(path: Path, metadata: str) -> Path:
    embed(_book(path))
    with Package(path / "book.xlsx", write=True) as package:
        package.save({"xl/metadata.xml": metadata.encode()})
    return path / "book.xlsx"


@pytest.mark.parametrize("future", ["", '<futureMetadata name="XLRICHVALUE" count="1"><bk/></futureMetadata>'])
@pytest.mark.parametrize("cells", ["", '<cellMetadata count="1"><bk><rc t="1" v="7"/></bk></cellMetadata>'])
def test_metadata_that_is_there_is_added_to(future: str, cells: str, tmp_path: Path) -> None:
    """Such as that of pictures in cells."""
    other = (
        f'<metadata xmlns="{xlsx_build.MAIN}"><metadataTypes count="1"><metadataType name="XLRICHVALUE"/>'
        f"</metadataTypes>{future}{cells}</metadata>"
    )
    path = _with_metadata(tmp_path, other)
    with Package(path, write=True) as package:
        sheet = package.part("xl/worksheets/sheet1.xml")
        package.save({"xl/worksheets/sheet1.xml": sheet.replace(b' cm="1"><f t="array" ref="B1"', b"><f")})
    embed(path)
    members = xlsx_build.members(path)
    root = ElementTree.fromstring(members["xl/metadata.xml"])
    kinds = [element.tag.rpartition("}")[2] for element in root]
    assert kinds == ["metadataTypes", *["futureMetadata"] * (2 if future else 1), "cellMetadata"]
    assert [e.get("name") for e in root[0]] == ["XLRICHVALUE", "XLDAPR"]
    assert root[0].get("count") == "2"
    number = len(root[-1])
    assert root[-1][number - 1][0].attrib == {"t": "2", "v": "0"}
    assert f'<c r="B1" cm="{number}">'.encode() in members["xl/worksheets/sheet1.xml"]


def test_excels_list_of_the_cells_to_calculate_says_which_are_arrays(tmp_path: Path) -> None:
    path, chain = tmp_path / "book.xlsx", "xl/calcChain.xml"
    members = xlsx_build.parts({"One": CELLS.replace("_xll.boil_off", "BOIL_OFF"), "Two": "A1 =SUM(A2:A3) | 0"})
    listed = b'<c r="B1" i="1" l="1"/><c r="C1"/><c r="B2" s="1"/><c r="B3" a="1"/><c r="A1" i="2"/><c r="B1"/>'
    members[chain] = b'<calcChain xmlns="%s">%s</calcChain>' % (xlsx_build.MAIN.encode(), listed)
    where = "xl/_rels/workbook.xml.rels"
    relation = f'<Relationship Id="chain" Type="{xlsx_build.OFFICE}/calcChain" Target="calcChain.xml"/></Relationships>'
    members[where] = members[where].replace(b"</Relationships>", relation.encode())
    path.write_bytes(xlsx_build.zipped(members))
    embed(path)
    noted = listed.replace(b'l="1"/>', b'l="1" a="1"/>').replace(b's="1"/>', b's="1" a="1"/>')
    assert noted in xlsx_build.members(path)[chain]
    embed(path, remove=True)
    assert listed.replace(b' a="1"', b"") in xlsx_build.members(path)[chain].replace(b' a="1"', b"")
    assert b'<c r="B1" i="1" l="1"/><c r="C1"/><c r="B2" s="1"/>' in xlsx_build.members(path)[chain]


def test_the_command(tmp_path: Path) -> None:
    path = _book(tmp_path)
    run = CliRunner()
    first = run.invoke(main, ["embed", str(path)])
    assert (first.exit_code, first.output) == (
        0,
        "added: BOIL_OFF\nbook.xlsx: saved, 2 formulas written as today's Excel writes them\n",
    )
    assert run.invoke(main, ["embed", str(path)]).output == "renewed: BOIL_OFF\nbook.xlsx: nothing to change\n"
    assert run.invoke(main, ["embed", str(path), "--all"]).output.startswith("added: ")
    assert "taken out" in run.invoke(main, ["embed", str(path), "--remove"]).output
    assert run.invoke(main, ["embed", str(path), "--all", "--remove"]).exit_code == 2
    plain = xlsx_build.workbook(tmp_path / "plain.xlsx", {"One": "A1 =1+1 | 2"})
    assert "calls none of the functions" in run.invoke(main, ["embed", str(plain)]).output
    assert run.invoke(main, ["embed", str(tmp_path / "none.xlsx")]).exit_code == 3


# -- the other commands on such files ---------------------------------------------------------------------------------


def test_recalc_and_check_work_on_it_as_on_others(tmp_path: Path) -> None:
    path = _book(tmp_path, cells=CELLS.replace("| 2.25", "| 2.5", 1) + "B4 0")
    embed(path)
    report = recalculate(path)
    assert [(c.cell, c.old, c.new) for c in report.changes] == [("B1", 2.5, 2.25)]
    assert check(path).findings == []
    assert (
        b'<f t="array" ref="B1">BOIL_OFF(A1,30)</f><v>2.25</v>' in xlsx_build.members(path)["xl/worksheets/sheet1.xml"]
    )


def test_check_finds_cells_that_rely_on_quantity_text(tmp_path: Path) -> None:
    cells = """
    A1 "4.5 L/h"
    B1 =BOIL_OFF(A1,30) | 2.25
    B2 =BOIL_OFF("9 L/h",30) | 4.5
    B3 =HOP_AROMA_LEFT(0.05,"linalool") | 0.16608
    B4 =HOP_UTILIZATION(60,1.05,"kinetic") | 0.238
    """
    path = _book(tmp_path, cells=cells)
    recalculate(path)
    assert check(path).findings == []  # an add-in understands them
    embed(path)
    found = {finding.cell: finding for finding in check(path).findings}
    assert set(found) == {"A1", "B2"}
    assert found["A1"].kind == "quantity-text"
    assert found["A1"].repair == "4.5"
    assert found["A1"].message == (
        '"4.5 L/h" is text, which BOIL_OFF in One!B1 reads as 4.5 L/h only where an add-in computes it: '
        "as a name of the workbook it gives #VALUE!"
    )


def test_check_finds_functions_that_are_called_and_not_embedded(tmp_path: Path) -> None:
    path = _book(tmp_path, cells=CELLS + "B4 0")
    embed(path)
    with Package(path, write=True) as package:
        sheet = package.part("xl/worksheets/sheet2.xml").replace(b"SUM(A2:A3)", b"HOP_BALANCE(A2,1.05)")
        package.save({"xl/worksheets/sheet2.xml": sheet})
    (finding,) = check(path).findings
    assert (finding.kind, finding.sheet, finding.cell) == ("missing-name", "Two", "A1")
    assert finding.message.startswith("HOP_BALANCE isn't among the names of the workbook")
    assert embed(path).added == ["HOP_BALANCE"]
    assert check(path).findings == []


# -- engines that know nothing of ours --------------------------------------------------------------------------------


def _computed(path: Path) -> tuple[int, list[str]]:
    """How many formula cells another engine worked out, and where it differs from what is stored."""
    model = needs.library("ironcalc").load_from_xlsx(str(path), "en", "UTC", "en")
    model.evaluate()
    different, count = [], 0
    with Package(path) as package:
        for index, sheet in enumerate(package.sheets):
            for place, cell in sheet.formulas.items():
                count += 1
                ours, theirs = sheet.stored(cell), model.get_cell_value(index, *place)
                ours = ours.code if isinstance(ours, CellError) else ours
                if isinstance(ours, float) and isinstance(theirs, float):
                    # Known answers has differences of numbers up to 1e6, of which the last digits are left
                    least = 1e2 if sheet.name == "Known answers" else 1e-3
                    same = abs(ours - theirs) <= 1e-9 * max(abs(ours), least)
                else:
                    same = (ours or "") == (theirs or "")
                if not same:
                    different.append(f"{sheet.name}!{cell.address} {theirs!r}, stored {ours!r}: {cell.text}")
    return count, different


def test_another_engine_computes_an_embedded_workbook(tmp_path: Path) -> None:
    batch = tmp_path / "batch.xlsx"
    result = CliRunner().invoke(main, ["new", "--embed", "-o", str(batch)])
    assert result.exit_code == 0, result.output
    assert check(batch).findings == []
    count, different = _computed(batch)
    assert different == []
    assert count > 1_000
    again = tmp_path / "again.xlsx"
    result = CliRunner().invoke(main, ["new", "--embed", "--like", str(batch), "-o", str(again)])
    assert result.exit_code == 0, result.output
    record(again, {"preboil_gravity": "1.046", "batch_volume": "19 L"})
    assert _computed(again)[1] == []


class _Inline(Body):
    """LibreOffice has LET but no LAMBDA, and takes no LET within a LET."""

    def _call(self, term: Term) -> str:
        if term.op not in _SERIES:
            return super()._call(term)
        x = self._named(self.part(term.args[0]))
        if term.op == "expm1":
            return _SERIES["expm1"].replace("x_.", x)
        s = self._named(f"{x}/(2+{x})")
        return f"IF(ABS({x})<0.01,2*{s}*(1+{s}^2*(1/3+{s}^2*(1/5+{s}^2/7))),LN(1+{x}))"


def _let(function: Function, values: list[Any]) -> str:
    """The kernel as one LET for these values."""
    words, pairs = words_of(function), []
    for p, value in zip(function.params, values, strict=True):
        given = words[p.name].index(value) + 1 if p.names else value
        pairs.append((f"{p.name}_in", _number(given)))
    result = _Inline(pairs).text(translated(function))
    text = "LET(" + "".join(f"{name}.,{value}," for name, value in pairs) + result + ")"
    return "=_xlfn." + re.sub(r"\b([a-z]\w*)\.(?!\w)", r"_xlpm.\1", text)


def test_libreoffice_is_a_second_witness_of_the_bodies(bare_office: Office) -> None:
    formulas, answers = [], []
    for function in CATALOGUE.values():
        if any(p.whole or p.variable or (p.is_text and not p.names) for p in function.params) or function.gives_text:
            continue
        if any(t.op in ("bisect", "repeated") for t in uses_of(translated(function)) if isinstance(t, Term)):
            continue
        example = [None if a is parity.OMITTED else a for a in parity.arguments_of(function.example)]
        given = function.read([*example, *([None] * (len(function.params) - len(example)))])
        for kind, listed in words_of(function).items() or [("", [""])]:
            for word in listed:
                values = [word if p.name == kind else v for p, v in zip(function.params, given, strict=True)]
                try:
                    answers.append(function.call(*values))
                except OutOfRange:  # a salt without that ion
                    continue
                formulas.append(_let(function, values))
    got = bare_office.compute(formulas)
    different = [
        f"{formula} gives {theirs!r}, Python {ours!r}"
        for formula, ours, theirs in zip(formulas, answers, got, strict=True)
        if not _near(ours, theirs)
    ]
    assert different == []
    assert len(formulas) > 75


def _near(ours: float, theirs: Any) -> bool:
    return isinstance(theirs, float) and abs(ours - theirs) <= 1e-11 * abs(ours) + 1e-13


def test_what_libreoffice_makes_of_the_names_is_seen_and_mended(bare_office: Office, tmp_path: Path) -> None:
    path, saved = _book(tmp_path), tmp_path / "saved.xlsx"
    embed(path)
    with bare_office.document(path) as document:
        document.save(saved)
    assert "_xlfn.lambda" in _names(saved)["BOIL_OFF"]  # or the promise that it is seen has become idle
    assert "changed-name" in {finding.kind for finding in check(saved).findings}
    assert embed(saved).renewed == ["BOIL_OFF"]
    recalculate(saved)
    assert check(saved).findings == []
    assert _names(saved)["BOIL_OFF"] == lambda_name("BOIL_OFF").text
    assert _computed(saved)[1] == []
