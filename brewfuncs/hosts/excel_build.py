"""Files for Microsoft Excel on Windows: the add-in, and batch workbooks that hold the same functions.

A workbook that holds its functions needs no add-in, and its formulas never turn into the path of somebody's add-in on
another computer. Built on any machine, without Excel: pyopenvba writes the VBA project as Excel writes one for a first
macro (a module for the workbook and one for each sheet, bound by code names); every other part stays as it is.
"""

from __future__ import annotations

import io
import tempfile
import zipfile
from pathlib import Path

from brewfuncs.errors import WorkbookError
from brewfuncs.hosts import excel_vba

__all__ = ["add_macro", "build"]

_CONTENT_TYPES = "[Content_Types].xml"
_WORKBOOK = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
_WITH_MACROS = b"application/vnd.ms-excel.sheet.macroEnabled.main+xml"
_ADD_IN = b"application/vnd.ms-excel.addin.macroEnabled.main+xml"


def build() -> bytes:
    """The add-in, an .xlam file."""
    import openpyxl

    book = openpyxl.Workbook()
    # Excel's list of add-ins shows the title, and below it the comments.
    book.properties.title = "brewfuncs"
    book.properties.creator = "brewfuncs"
    book.properties.description = (
        "Brewing formulas as worksheet functions. The code that starts Python is derived from xlwings "
        "(BSD 3-clause licence, in the VBA module brew_server and on the hidden sheet)."
    )
    sheet = book.active
    assert sheet is not None
    sheet.title = "Licence of xlwings"
    for line in excel_vba.notice().splitlines():
        sheet.append([line])
    out = io.BytesIO()
    book.save(out)
    return _retyped(add_macro(out.getvalue()), _WITH_MACROS, _ADD_IN)


def add_macro(workbook: bytes) -> bytes:
    """A workbook (.xlsx) with the functions inside it (.xlsm)."""
    try:
        from pyopenvba import ExcelFile
    except ImportError:
        raise WorkbookError("files for Excel need the extra packages: install brewfuncs[excel]") from None

    with tempfile.TemporaryDirectory(prefix="brewfuncs-") as folder:
        path = Path(folder) / "workbook.xlsm"
        path.write_bytes(_retyped(workbook, _WORKBOOK, _WITH_MACROS))
        with ExcelFile(path) as file:
            project = file.add_vba_project()
            for name, code in excel_vba.modules().items():
                project.add_module(name, code)
            file.save()
        return path.read_bytes()


def _retyped(package: bytes, old: bytes, new: bytes) -> bytes:
    """The package with another type for its workbook part."""
    out = io.BytesIO()
    try:
        with zipfile.ZipFile(io.BytesIO(package)) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
            types = source.read(_CONTENT_TYPES)
            if types.count(old) != 1:
                raise KeyError
            for member in source.infolist():
                content = source.read(member)
                target.writestr(member, types.replace(old, new) if member.filename == _CONTENT_TYPES else content)
    except (zipfile.BadZipFile, KeyError):
        raise WorkbookError("this isn't a workbook of the kind that functions can be put into") from None
    return out.getvalue()
