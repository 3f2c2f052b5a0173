"""Drives a private headless LibreOffice for tests/office.py; runs under the Python that has LibreOffice's `uno`.

Reads one request a line, [function, arguments], and writes one answer a line, {"result": ...} or {"error": ...}. The
office has a profile of its own, in a temporary folder, and ends with this process.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
import traceback
import uuid

import uno
import unohelper
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException
from com.sun.star.task import XInteractionHandler
from com.sun.star.ucb import XCommandEnvironment, XProgressHandler

FILTERS = {
    ".xlsx": "Calc MS Excel 2007 XML",
    ".ods": "calc8",
    ".pdf": "calc_pdf_Export",
    ".csv": "Text - txt - csv (StarCalc)",
}
ERRORS = {503: "#NUM!", 519: "#VALUE!", 521: "#NULL!", 524: "#REF!", 525: "#NAME?", 532: "#DIV/0!", 32767: "#N/A"}
START_AGAIN = (79, 81)  # how soffice.bin asks for that, after it has made a new profile
PATIENCE = 120  # seconds; a start takes 2, so this only ends what hangs


def url(path):
    return uno.systemPathToFileUrl(os.path.abspath(path))


def properties(**values):
    return tuple(PropertyValue(Name=name, Value=value) for name, value in values.items())


class Approve(unohelper.Base, XCommandEnvironment, XInteractionHandler, XProgressHandler):
    """Says yes to whatever the extension manager asks: unopkg, which would ask nothing, refuses to run as root."""

    def getInteractionHandler(self):
        return self

    def getProgressHandler(self):
        return self

    def push(self, status):
        pass

    def update(self, status):
        pass

    def pop(self):
        pass

    def handle(self, request):
        yes = uno.getTypeByName("com.sun.star.task.XInteractionApprove")
        for continuation in request.getContinuations():
            if continuation.queryInterface(yes):
                continuation.select()
                return


class Office:
    def __init__(self, headless=True):
        self.headless = headless
        self.profile = tempfile.mkdtemp(prefix="office-")
        self.documents = {}
        self.process = None
        self.start()

    # -- the program -------------------------------------------------------------------------------------------------

    def start(self):
        program = os.path.dirname(os.path.realpath(shutil.which("soffice") or shutil.which("libreoffice")))
        binary = os.path.join(program, "soffice.bin")
        pipe = "office" + uuid.uuid4().hex
        command = [
            binary if os.path.exists(binary) else os.path.join(program, "soffice"),
            *(["--headless"] if self.headless else []),
            "--norestore",
            "--nologo",
            "--nodefault",
            f"-env:UserInstallation={url(self.profile)}",
            f"--accept=pipe,name={pipe};urp;",
        ]

        def launch():
            # stdout is the way back to the test: nothing else may write there
            self.process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=sys.stderr)

        launch()
        local = uno.getComponentContext()
        resolver = local.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", local)
        began = time.monotonic()
        while True:
            try:
                self.context = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
                break
            except NoConnectException:
                code = self.process.poll()
                if code in START_AGAIN:
                    launch()
                elif code is not None:
                    raise RuntimeError(f"soffice ended with {code}") from None
                elif time.monotonic() - began > PATIENCE:
                    raise RuntimeError("soffice did not answer") from None
                time.sleep(0.05)
        self.desktop = self.service("com.sun.star.frame.Desktop")

    def service(self, name):
        return self.context.ServiceManager.createInstanceWithContext(name, self.context)

    def stop(self):
        try:
            for document in self.documents.values():
                document.close(True)  # or its lock file stays behind
            self.desktop.terminate()
        except Exception:
            pass  # it ends the connection while it answers
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()

    def restart(self):
        self.stop()
        self.documents.clear()
        self.start()

    def end(self):
        if self.process is not None:
            self.stop()
        shutil.rmtree(self.profile, ignore_errors=True)

    def version(self):
        reader = self.service("com.sun.star.configuration.ConfigurationProvider").createInstanceWithArguments(
            "com.sun.star.configuration.ConfigurationAccess", properties(nodepath="/org.openoffice.Setup/Product")
        )
        return reader.ooSetupVersion

    def install(self, path):
        manager = self.context.getValueByName("/singletons/com.sun.star.deployment.ExtensionManager")
        manager.addExtension(url(path), (), "user", manager.createAbortChannel(), Approve())

    def uninstall(self, identifier):
        manager = self.context.getValueByName("/singletons/com.sun.star.deployment.ExtensionManager")
        installed = manager.getDeployedExtensions("user", manager.createAbortChannel(), Approve())
        (extension,) = [e for e in installed if e.getIdentifier().Value == identifier]
        manager.removeExtension(identifier, extension.getName(), "user", manager.createAbortChannel(), Approve())

    def functions(self):
        """What the function wizard shows: name -> category, description and arguments."""
        found = {}
        for description in self.service("com.sun.star.sheet.FunctionDescriptions"):
            said = {p.Name: p.Value for p in description}
            arguments = [(a.Name, a.Description, a.IsOptional) for a in said["Arguments"] or ()]
            found[said["Name"]] = (said["Category"], said["Description"], arguments)
        return found

    # -- documents ---------------------------------------------------------------------------------------------------

    def _keep(self, document):
        if document is None:
            raise RuntimeError("LibreOffice could not load it")
        key = uuid.uuid4().hex
        self.documents[key] = document
        return key

    def new(self):
        return self._keep(
            self.desktop.loadComponentFromURL("private:factory/scalc", "_blank", 0, properties(Hidden=True))
        )

    def open(self, path):
        return self._keep(self.desktop.loadComponentFromURL(url(path), "_blank", 0, properties(Hidden=True)))

    def close(self, key):
        self.documents.pop(key).close(True)

    def save(self, key, path):
        filter_name = FILTERS[os.path.splitext(path)[1]]
        self.documents[key].storeToURL(url(path), properties(FilterName=filter_name, Overwrite=True))

    def is_modified(self, key):
        return self.documents[key].isModified()

    def recalculate(self, key):
        """Works out every formula anew; the seconds it took."""
        began = time.perf_counter()
        self.documents[key].calculateAll()
        return time.perf_counter() - began

    def sheets(self, key):
        return list(self.documents[key].Sheets.ElementNames)

    def _range(self, key, sheet, cells):
        sheets = self.documents[key].Sheets
        found = sheets.getByIndex(sheet) if isinstance(sheet, int) else sheets.getByName(sheet)
        return found.getCellRangeByName(cells)

    def used(self, key, sheet):
        cursor = self._range(key, sheet, "A1").Spreadsheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        return [cursor.RangeAddress.EndRow + 1, cursor.RangeAddress.EndColumn + 1]

    def values(self, key, sheet, cells):
        """Rows of numbers, texts, nulls for blank cells, and {"error": code}."""
        found = self._range(key, sheet, cells)
        rows = [list(row) for row in found.getDataArray()]
        for y, (row, formulas) in enumerate(zip(rows, found.getFormulaArray(), strict=True)):
            for x, value in enumerate(row):
                if not formulas[x]:
                    row[x] = None
                elif value == "" or not isinstance(value, (str, float)):
                    error = found.getCellByPosition(x, y).getError()
                    if error:
                        row[x] = {"error": ERRORS.get(error, f"Err:{error}")}
        return rows

    def formulas(self, key, sheet, cells):
        return [list(row) for row in self._range(key, sheet, cells).getFormulaArray()]

    def page_breaks(self, key, sheet):
        found = self._range(key, sheet, "A1").Spreadsheet
        return len(found.getColumnPageBreaks()) + len(found.getRowPageBreaks())

    def put(self, key, sheet, cells, rows):
        """Numbers and texts, as they are."""
        self._range(key, sheet, cells).setDataArray(tuple(map(tuple, rows)))

    def enter(self, key, sheet, cells, rows):
        """Formulas, in English, their arguments separated by semicolons."""
        self._range(key, sheet, cells).setFormulaArray(tuple(map(tuple, rows)))

    def fill_down(self, key, sheet, cells):
        """The first row's formulas in all rows, as by dragging."""
        from com.sun.star.sheet.FillDirection import TO_BOTTOM

        self._range(key, sheet, cells).fillAuto(TO_BOTTOM, 1)

    def enter_array(self, key, sheet, cells, formula):
        self._range(key, sheet, cells).setArrayFormula(formula)


def main():
    requests, answers = sys.stdin, sys.stdout
    office = Office()
    try:
        print(json.dumps({"result": office.version()}), file=answers, flush=True)
        for line in requests:
            name, arguments = json.loads(line)
            try:
                answer = {"result": getattr(office, name)(*arguments)}
            except Exception:
                answer = {"error": traceback.format_exc()}
            print(json.dumps(answer), file=answers, flush=True)
    finally:
        office.end()


if __name__ == "__main__":
    main()
