"""How fast our functions are in LibreOffice Calc, as ratios: python -m tests.bench_calc

The same Tinseth bitterness as a native formula; by a bare Python add-in function that does the arithmetic and nothing
else, which is the floor: what Calc needs to call Python at all; and by HOP_BITTERNESS, which checks every argument.
Measured are hard recalculations of a sheet.
"""

import re
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from brewfuncs.hosts import calc, rdb
from tests.office import Document, Office

CELLS, ROWS, ROUNDS = 10_000, 100_000, 5

BARE = """
import math
import uno
import unohelper

def bitterness(mass, alpha, minutes, volume, gravity):
    return mass * alpha * 1000 / volume * 1.65 * 0.000125 ** (gravity - 1) * (1 - math.exp(-0.04 * minutes)) / 4.15

class Bare(unohelper.Base, uno.getClass("brewfuncs.bench.XBare")):
    def __init__(self, context):
        pass

    def CELL(self, mass, alpha, minutes, volume, gravity):
        return bitterness(mass, alpha, minutes, volume, gravity)

    def ROWS(self, *columns):
        return tuple([(bitterness(a, b, c, d, e),) for (a,), (b,), (c,), (d,), (e,) in zip(*columns)])

g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(Bare, "bare", ("bare",))
"""
XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
REGISTRY = 'xmlns:oor="http://openoffice.org/2001/registry" oor:package="org.openoffice.Office"'
FUNCTION = (
    '<node oor:name="{0}" oor:op="replace"><prop oor:name="DisplayName"><value xml:lang="en-US">BARE{0}</value></prop>'
    '<node oor:name="Parameters"/></node>'
)


def write_bare_addin(path: Path) -> None:
    """An extension with BARE.CELL and BARE.ROWS."""
    arguments = tuple((name, "any") for name in ("mass", "alpha", "minutes", "volume", "gravity"))
    methods = [rdb.Method("CELL", "any", arguments), rdb.Method("ROWS", "[][]any", arguments)]
    ours = dict(calc.files())
    files = {
        "META-INF/manifest.xml": re.sub(r".*(Jobs|repair).*\n", "", str(ours["META-INF/manifest.xml"])),
        "description.xml": str(ours["description.xml"]).replace(calc.IDENTIFIER, "brewfuncs.bench"),
        "types.rdb": rdb.interface("brewfuncs.bench.XBare", methods),
        "CalcAddIns.xcu": f'{XML}<oor:component-data {REGISTRY} oor:name="CalcAddIns"><node oor:name="AddInInfo">'
        '<node oor:name="bare" oor:op="replace"><node oor:name="AddInFunctions">'
        f"{FUNCTION.format('CELL')}{FUNCTION.format('ROWS')}</node></node></node></oor:component-data>",
        "addin.components": str(ours["addin.components"]).replace('"brew"', '"bare"'),
        "addin.py": BARE,
    }
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in files.items():
            archive.writestr(name, content)


def native(mass: str, alpha: str, minutes: str, volume: str, gravity: str) -> str:
    return f"={mass}*{alpha}*1000/{volume}*1.65*0.000125^({gravity}-1)*(1-EXP(-0.04*{minutes}))/4.15"


def call(name: str) -> Callable[..., str]:
    return lambda *arguments: f"={name}({';'.join(arguments)})"


def recalculation(document: Document, formula: Callable[..., str], *, one_array: bool) -> float:
    """The least seconds of some recalculations of the sheet: what disturbs only ever adds."""
    if one_array:
        count = ROWS
        document.enter_array(0, f"F1:F{count}", formula(*(f"{column}1:{column}{count}" for column in "ABCDE")))
    else:
        count = CELLS
        rows = [[formula(*(f"{column}{row}" for column in "ABCDE"))] for row in range(1, count + 1)]
        document.enter(0, f"F1:F{count}", rows)
    least = min(document.recalculate() for _ in range(ROUNDS))
    last = document.value(f"F{count}")
    assert isinstance(last, float), last  # a formula in error is quick
    return least


def ratios() -> dict[str, float]:
    """What is compared -> how many times as long."""
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        addin, bare = Path(folder) / "brewfuncs.oxt", Path(folder) / "bare.oxt"
        addin.write_bytes(calc.build())
        write_bare_addin(bare)
        office = Office(addin)
        office.install(bare)
        try:
            for one_array, what, bare_name in (
                (False, f"{CELLS} cells", "BARE.CELL"),
                (True, f"one array formula over {ROWS} rows", "BARE.ROWS"),
            ):
                rows = [
                    [30 + i % 7, 0.05 + i % 5 / 1000, 15.0 + i % 60, 20 + i % 3, 1.04 + i % 20 / 1000]
                    for i in range(ROWS if one_array else CELLS)
                ]
                with office.document() as document:
                    document.put(0, f"A1:E{len(rows)}", rows)
                    in_native, floor, ours = (
                        recalculation(document, formula, one_array=one_array)
                        for formula in (native, call(bare_name), call("HOP_BITTERNESS"))
                    )
                found[f"{what}: HOP_BITTERNESS / the same native formula"] = ours / in_native
                found[f"{what}: bare Python function / the same native formula"] = floor / in_native
                found[f"{what}: HOP_BITTERNESS / bare Python function"] = ours / floor
        finally:
            office.close()
    return found


if __name__ == "__main__":
    for what, ratio in ratios().items():
        print(f"{ratio:8.2f}  {what}")
