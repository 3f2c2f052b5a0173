"""What every sheet of a generated workbook has in common: what is printed and seen, where the cursor stands, and a file
that programs of other makers open."""

from __future__ import annotations

import io
import re
import subprocess
import zipfile
from itertools import pairwise
from pathlib import Path

import ironcalc
import openpyxl
import pytest
from openpyxl.utils.cell import coordinate_to_tuple, get_column_letter, range_boundaries

from brewfuncs.batch import demo
from brewfuncs.batch.generate import new
from brewfuncs.batch.plan import Plan
from brewfuncs.batch.sections import input_cells
from tests.office import Office

BOOKS = {
    "metric": lambda: new(Plan.of(demo.HARD_WATER), units="metric"),
    "us": lambda: new(Plan.of(demo.HARD_WATER), units="us"),
    "empty": lambda: new(Plan.empty(with_optional=True)),
}
LETTER, A4 = 1, 9  # ECMA-376 18.3.1.63
NOT_PRINTED = {"Functions", "Known answers", "Workings"}


@pytest.fixture(scope="module", params=BOOKS)
def made(request: pytest.FixtureRequest) -> tuple[str, bytes]:
    return request.param, BOOKS[request.param]()


def test_the_sheets_one_uses_are_printed_whole_on_paper_that_is_there(made: tuple[str, bytes]) -> None:
    kind, content = made
    book = openpyxl.load_workbook(io.BytesIO(content))
    for sheet in book.worksheets:
        assert sheet.page_setup.paperSize == (LETTER if kind == "us" else A4)
        assert sheet.page_setup.fitToWidth == 1
        areas = [
            range_boundaries(part.rpartition("!")[2].replace("$", "")) for part in str(sheet.print_area).split(",")
        ]
        seen = [area for area in areas if not sheet.row_dimensions[area[1]].hidden]
        assert len(areas) >= 2
        if sheet.title in NOT_PRINTED:
            assert not seen
            continue
        for (_, _, _, end), (_, start, _, _) in pairwise(seen):
            assert start == end + 1  # nothing is left out
        left, top, right, bottom = seen[0][0], seen[0][1], min(area[2] for area in seen), seen[-1][3]
        filled = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
        assert (left, top) == (1, 1)
        assert bottom >= max(cell.row for cell in filled)
        assert right >= max(cell.column for cell in filled), sheet.title
    assert {sheet.title for sheet in book.worksheets if sheet.sheet_state == "hidden"} == {"Workings"}


def test_no_line_of_a_page_break_crosses_a_sheet_in_libreoffice(
    made: tuple[str, bytes], office: Office, tmp_path: Path
) -> None:
    (tmp_path / "batch.xlsx").write_bytes(made[1])
    with office.document(tmp_path / "batch.xlsx") as document:
        for sheet in document.sheets():
            assert document.page_breaks(sheet) == 0, sheet
        printed = document.save(tmp_path / "batch.pdf")
    pages = (
        subprocess.run(["pdftotext", str(printed), "-"], capture_output=True, check=True).stdout.decode().split("\f")
    )
    assert "Worth a look" in pages[-2]  # the last; a form feed ends each
    assert not any("Known answers" in page.split("\n")[0] for page in pages)


def test_the_cursor_stands_in_the_first_input(made: tuple[str, bytes]) -> None:
    book = openpyxl.load_workbook(io.BytesIO(made[1]))
    seen = 0
    places = [next(book.defined_names[name].destinations) for name in input_cells()]
    for sheet in book.worksheets:
        free = [address.replace("$", "") for title, address in places if title == sheet.title]
        if free:
            (selection,) = sheet.sheet_view.selection
            assert selection.activeCell == min(free, key=coordinate_to_tuple), sheet.title
            seen += 1
    assert seen >= 4


def test_a_figure_stands_once_in_the_unit_chosen(made: tuple[str, bytes]) -> None:
    """In the formulas' unit it stands on the hidden sheet, and nowhere else."""
    book = openpyxl.load_workbook(io.BytesIO(made[1]))
    counted = 0
    for name, defined in book.defined_names.items():
        if re.fullmatch(rf"({'|'.join(input_cells())})_in_\w+", name):
            ((sheet, _),) = defined.destinations
            assert sheet == "Workings", name
            counted += 1
    assert counted > 60


def test_what_is_typed_is_shown_in_full(made: tuple[str, bytes]) -> None:
    book = openpyxl.load_workbook(io.BytesIO(made[1]))
    ((sheet, address),) = book.defined_names["batch_gravity"].destinations
    assert book[sheet][address].number_format == "0.000##"  # 1.050, and 1.0485


def test_relationships_are_written_as_excel_writes_them(made: tuple[str, bytes]) -> None:
    with zipfile.ZipFile(io.BytesIO(made[1])) as package:
        parts = set(package.namelist())
        targets = 0
        for name in parts:
            if name.endswith(".rels"):
                for target in re.findall(r'Target="([^"]*)"', package.read(name).decode()):
                    assert not target.startswith("/"), (name, target)
                    targets += 1
    assert targets > 20


def test_an_engine_that_knows_nothing_of_us_opens_it(
    made: tuple[str, bytes], tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.mktemp("made") / "batch.xlsx"
    path.write_bytes(made[1])
    model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")
    assert {sheet["name"] for sheet in model.get_worksheets_properties()} >= NOT_PRINTED


def test_a_state_is_set_smaller_where_it_is_long_and_never_cut(made: tuple[str, bytes]) -> None:
    """It may hold the name of a malt; it has one line, within its block."""
    book = openpyxl.load_workbook(io.BytesIO(made[1]))
    counted = 0
    for sheet in book.worksheets:
        merged = {(area.min_row, area.min_col): area for area in sheet.merged_cells.ranges}
        for cell in (cell for row in sheet.iter_rows() for cell in row):
            if cell.style != "brewfuncs state" or cell.value is None:
                continue
            area = merged[cell.row, cell.column]
            letters = [get_column_letter(column) for column in range(area.min_col, area.max_col + 1)]
            assert cell.alignment.shrink_to_fit, (sheet.title, cell.coordinate)
            assert sum(sheet.column_dimensions[letter].width for letter in letters) > 30, (sheet.title, cell.coordinate)
            counted += 1
    assert counted > 20
