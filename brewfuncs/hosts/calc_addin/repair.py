"""Enters our functions again where LibreOffice loaded them without knowing them.

LibreOffice 7.4 doesn't connect the plain names of an .xlsx with an add-in, nor does any release those of an .ods that
was written where the add-in was missing. Such a formula shows its function in small letters and keeps the value that
was stored with it, however old, until it is worked out again: then it is #NAME?. Entered again it works.

Runs inside LibreOffice after a spreadsheet was loaded; the document doesn't count as changed by it, unless a chart
redraws itself later.
"""

import contextlib
import os
import re

import unohelper
from com.sun.star.lang import XServiceInfo
from com.sun.star.task import XJob
from com.sun.star.uno import RuntimeException

IMPLEMENTATION = "brewfuncs.calc.Repair"
ANY_FORMULA = 1 | 2 | 4  # com.sun.star.sheet.FormulaResult: value, text or error

with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "names.txt"), encoding="ascii") as _file:
    # Names that LibreOffice knows are shown in capitals and with the service before them: BREW.HOP_BITTERNESS.
    _UNKNOWN = re.compile(r"(?<![\w.])(?:" + "|".join(_file.read().lower().split()) + r")\s*\(")


def repair(document):
    """Enter again every formula with an unknown function of ours."""
    unchanged = not document.isModified()
    document.lockControllers()
    document.addActionLock()
    try:
        repaired = [sheet for sheet in document.Sheets if _repair_sheet(sheet)]
    finally:
        document.removeActionLock()
        document.unlockControllers()
    if repaired and unchanged:
        _call_unchanged(document)


def _call_unchanged(document):
    """Nothing but spelling has changed; a document counts as changed while one of its charts does."""
    for sheet in document.Sheets:
        for name in sheet.Charts.ElementNames:
            sheet.Charts.getByName(name).EmbeddedObject.setModified(False)
    document.setModified(False)


def _repair_sheet(sheet):
    """Whether there was anything to repair."""
    areas = []
    for area in sheet.queryFormulaCells(ANY_FORMULA).RangeAddresses:
        cells = sheet.getCellRangeByPosition(area.StartColumn, area.StartRow, area.EndColumn, area.EndRow)
        rows = cells.getFormulaArray()
        unknown = [(y, x) for y, row in enumerate(rows) for x, formula in enumerate(row) if _UNKNOWN.search(formula)]
        if unknown:
            areas.append((cells, rows, unknown))
    if not areas:
        return False
    opened = sheet.isProtected() and _open(sheet)
    try:
        for cells, rows, unknown in areas:
            _repair_area(cells, rows, unknown)
    finally:
        if opened:
            sheet.protect("")  # with the same permissions as before
    return True


def _open(sheet):
    """Take the protection off a sheet that has no password; whether it came off."""
    with contextlib.suppress(RuntimeException):
        sheet.unprotect("")
    return not sheet.isProtected()


def _repair_area(cells, rows, unknown):
    sheet = cells.Spreadsheet
    arrays = any(formula.startswith("{") for row in rows for formula in row)
    # A sheet that is protected by a password takes single formulas from code, but no block and no array formula.
    closed = sheet.isProtected()
    if not arrays and not closed and len(unknown) == sum(map(len, rows)):
        cells.setFormulaArray(rows)  # ten times faster
        return
    done = set()
    for y, x in unknown:
        cell, formula = cells.getCellByPosition(x, y), rows[y][x]
        if not formula.startswith("{"):
            cell.setFormula(formula)
        elif not closed:
            array = sheet.createCursorByRange(cell)
            array.collapseToCurrentArray()
            if array.AbsoluteName not in done:
                done.add(array.AbsoluteName)
                array.setArrayFormula(formula[1:-1])


class Repair(unohelper.Base, XJob, XServiceInfo):
    def __init__(self, context):
        pass

    def getImplementationName(self):
        return IMPLEMENTATION

    def getSupportedServiceNames(self):
        return ("com.sun.star.task.Job", IMPLEMENTATION)

    def supportsService(self, name):
        return name in self.getSupportedServiceNames()

    def execute(self, arguments):
        environment = next((argument.Value for argument in arguments if argument.Name == "Environment"), ())
        document = next((item.Value for item in environment if item.Name == "Model"), None)
        if document is not None and document.supportsService("com.sun.star.sheet.SpreadsheetDocument"):
            repair(document)


g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(Repair, IMPLEMENTATION, ("com.sun.star.task.Job", IMPLEMENTATION))
