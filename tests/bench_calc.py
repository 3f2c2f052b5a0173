"""How fast our functions are in LibreOffice Calc, as ratios: python -m tests.bench_calc

The same Tinseth bitterness as a native formula; by a bare Python add-in function that does the arithmetic and nothing
else, which is the floor: what Calc needs to call Python at all; and by HOP_BITTERNESS, which checks every argument.
Measured are hard recalculations of a sheet.
"""

import re
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from contextlib import ExitStack
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


def data(path: Path, count: int) -> Path:
    """A .csv file with plausible arguments in columns A to E."""
    rows = ((30 + i % 7, 0.05 + i % 5 / 1000, 15 + i % 60, 20 + i % 3, 1.04 + i % 20 / 1000) for i in range(count))
    path.write_text("".join("{},{:.3f},{},{},{:.3f}\n".format(*row) for row in rows))
    return path


def many_cells(document: Document, formula: Callable[..., str]) -> None:
    document.enter(0, "F1", [[formula("A1", "B1", "C1", "D1", "E1")]])
    document.fill_down(0, f"F1:F{CELLS}")


def one_array(document: Document, formula: Callable[..., str]) -> None:
    document.enter_array(0, f"F1:F{ROWS}", formula(*(f"{column}1:{column}{ROWS}" for column in "ABCDE")))


def recalculations(documents: Sequence[Document], count: int) -> list[float]:
    """The least seconds of some recalculations of each, in turns: what disturbs only ever adds."""
    rounds = [[document.recalculate() for document in documents] for _ in range(ROUNDS)]
    for document in documents:
        assert isinstance(document.value(f"F{count}"), float)  # a formula in error is quick
    return [min(seconds) for seconds in zip(*rounds, strict=True)]


def ratios() -> dict[str, float]:
    """What is compared -> how many times as long."""
    found = {}
    with tempfile.TemporaryDirectory() as name, ExitStack() as stack:
        folder = Path(name)
        (folder / "brewfuncs.oxt").write_bytes(calc.build())
        write_bare_addin(folder / "bare.oxt")
        office = Office(folder / "brewfuncs.oxt")
        stack.callback(office.close)
        office.install(folder / "bare.oxt")
        for fill, count, what, bare in (
            (many_cells, CELLS, f"{CELLS} cells", "BARE.CELL"),
            (one_array, ROWS, f"one array formula over {ROWS} rows", "BARE.ROWS"),
        ):
            documents = []
            for kind, formula in enumerate((native, call(bare), call("HOP_BITTERNESS"))):
                documents.append(office.document(data(folder / f"{count}-{kind}.csv", count)))
                fill(documents[-1], formula)
            in_native, floor, ours = recalculations(documents, count)
            found[f"{what}: HOP_BITTERNESS / the same native formula"] = ours / in_native
            found[f"{what}: bare Python function / the same native formula"] = floor / in_native
            found[f"{what}: HOP_BITTERNESS / bare Python function"] = ours / floor
    return found


if __name__ == "__main__":
    for what, ratio in ratios().items():
        print(f"{ratio:8.2f}  {what}")
