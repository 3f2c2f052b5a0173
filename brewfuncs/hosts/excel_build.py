"""Files for Microsoft Excel on Windows: the add-in, and batch workbooks that hold the same functions.

A workbook that holds its functions needs no add-in, and its formulas never turn into the path of somebody's add-in on
another computer. Built on any machine, without Excel: pyopenvba writes the VBA project as Excel writes one for a first
macro (a module for the workbook and one for each sheet, bound by code names); every other part stays as it is.
"""

from __future__ import annotations

import io
import re
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from brewfuncs.errors import WorkbookError
from brewfuncs.hosts import excel_vba

__all__ = ["add_macro", "build"]

_WORKBOOK = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
_WITH_MACROS = b"application/vnd.ms-excel.sheet.macroEnabled.main+xml"
_ADD_IN = b"application/vnd.ms-excel.addin.macroEnabled.main+xml"
_TIME = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")


def build() -> bytes:
    """The add-in, an .xlam file: the same bytes every time."""
    import openpyxl

    book = openpyxl.Workbook()
    # Excel's list of add-ins shows the title, and below it the comments.
    book.properties.title = "Brewfuncs"
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
    package = _rewritten(
        out.getvalue(), "docProps/core.xml", lambda core: _TIME.sub(rb"\g<1>1980-01-01T00:00:00Z", core)
    )
    return _retyped(add_macro(package), _WITH_MACROS, _ADD_IN)


def add_macro(workbook: bytes) -> bytes:
    """A workbook (.xlsx) with the functions inside it (.xlsm)."""
    try:
        from pyopenvba import ExcelFile, PyOpenVBAError
    except ImportError:
        raise WorkbookError("files for Excel need the extra packages: install brewfuncs[excel]") from None

    with tempfile.TemporaryDirectory(prefix="brewfuncs-") as folder:
        path = Path(folder) / "workbook.xlsm"
        path.write_bytes(_retyped(workbook, _WORKBOOK, _WITH_MACROS))
        try:
            with ExcelFile(path) as file:
                project = file.add_vba_project()
                for name, code in excel_vba.modules().items():
                    project.add_module(name, code)
                file.save()
        except PyOpenVBAError as error:
            raise WorkbookError(f"the functions can't be put into this workbook: {error}") from None
        return path.read_bytes()


def _retyped(package: bytes, old: bytes, new: bytes) -> bytes:
    """The package with another type for its workbook part."""

    def change(types: bytes) -> bytes:
        if types.count(old) != 1:
            raise KeyError(old)
        return types.replace(old, new)

    try:
        return _rewritten(package, "[Content_Types].xml", change)
    except (zipfile.BadZipFile, KeyError):
        raise WorkbookError("this isn't a workbook of the kind that functions can be put into") from None


def _rewritten(package: bytes, part: str, change: Callable[[bytes], bytes]) -> bytes:
    """The package with one part changed, and no trace of when."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(package)) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        content = {name: source.read(name) for name in source.namelist()}
        content[part] = change(content[part])
        for name in content:
            entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(entry, content[name])
    return out.getvalue()
