"""How fast brewfuncs is, beside what it is fair to compare it with: python -m tests.bench

Every line is measured within this run, next to its reference, taken in turns; of all rounds the least counts, since
what disturbs only ever adds. Ratios can be compared between machines, times can't. --small takes seconds and shows that
the benchmark works, not how fast anything is.
"""

from __future__ import annotations

import argparse
import contextlib
import gc
import importlib.util
import json
import math
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
import timeit
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple
from unittest import mock

import numpy

import brewfuncs
from brewfuncs import cells
from brewfuncs.catalogue import find
from brewfuncs.hosts import engine
from brewfuncs.workbook import recalculate
from brewfuncs.workbook.places import find_cell
from brewfuncs.xlsx.package import Package
from tests import office, xlsx_build

ROOT = Path(__file__).parent.parent


class Scale(NamedTuple):
    """How much of everything."""

    rounds: int  # at least, of everything
    runs: int  # of whole processes
    seconds: float  # that one measurement of something quick should take
    array: int  # elements
    solver: int
    rows: int  # of a sheet
    growth: tuple[int, ...]


FULL = Scale(7, 9, 0.02, 1_000_000, 100_000, 200_000, (1_000, 10_000, 100_000, 1_000_000))
SMALL = Scale(1, 1, 0.0, 1_000, 1_000, 200, (100, 1_000))


class Line(NamedTuple):
    """One line of the table."""

    what: str
    against: str
    found: str
    aim: str
    met: bool


# -- measuring -------------------------------------------------------------------------------------------------------


def least(scale: Scale, *actions: Callable[[], object]) -> list[float]:
    """Seconds of the processor that each action takes, the least of some rounds in which they take turns."""
    timers = [timeit.Timer(action, timer=time.process_time) for action in actions]  # it keeps the collector still
    counts = [max(1, int(scale.seconds / max(timer.timeit(1), 1e-7))) for timer in timers]
    rounds = [[t.timeit(n) / n for t, n in zip(timers, counts, strict=True)] for _ in range(scale.rounds)]
    return [min(found) for found in zip(*rounds, strict=True)]


def processes(scale: Scale, *commands: Sequence[str]) -> list[tuple[float, float]]:
    """Seconds and MB of memory that each command takes from start to end, modules compiled before."""
    best = [(math.inf, math.inf)] * len(commands)
    with tempfile.TemporaryDirectory() as compiled:
        environment = {**os.environ, "PYTHONPYCACHEPREFIX": compiled, "PYTHONPATH": str(ROOT)}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        for turn in range(scale.runs + 1):
            for i, command in enumerate(commands):
                run = [sys.executable, "-c", _ALONE, *command]
                printed = subprocess.run(run, env=environment, stdout=subprocess.PIPE, check=True).stdout
                took, memory = map(float, printed.split())
                if turn:  # the first compiles
                    best[i] = min(best[i], (took, memory))
    return best


# A process starts out with the peak of the memory of the one that started it: this one, which is small.
_ALONE = """
import resource, subprocess, sys, time
start = time.perf_counter()
subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, check=True)
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)
"""


def python(*arguments: str) -> list[str]:
    return [sys.executable, *arguments]


def shown(seconds: float) -> str:
    for unit, size in (("s", 1.0), ("ms", 1e-3), ("µs", 1e-6)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds / 1e-9:.3g} ns"


def ratio(what: str, against: str, ours: float, reference: float, under: float) -> Line:
    found = f"{shown(ours)} / {shown(reference)} = {ours / reference:.2f}"
    return Line(what, against, found, f"under {under:g}", ours < under * reference)


# -- calls from Python -----------------------------------------------------------------------------------------------


def bitterness(
    mass: Any, alpha: Any, minutes: Any, volume: Any, gravity: Any = 1.05, exp: Callable[[Any], Any] = math.exp
) -> Any:
    """Tinseth's expression as one would write it by hand."""
    return 1000 * mass * alpha / volume * (1.65 / 4.15 * 0.000125 ** (gravity - 1) * (1 - exp(-0.04 * minutes)))


def scalar_calls(scale: Scale) -> Iterator[Line]:
    ours = brewfuncs.hop_bitterness
    bare, by_position, by_keyword, text = least(
        scale,
        lambda: bitterness(28.0, 0.055, 60.0, 20.0, 1.05),
        lambda: ours(28.0, 0.055, 60.0, 20.0, 1.05),
        lambda: ours(mass=28.0, alpha=0.055, minutes=60.0, volume=20.0, gravity=1.05),
        lambda: ours("1 oz", 0.055, 60.0, 20.0, 1.05),
    )
    for how, took in (("by position", by_position), ("by keyword", by_keyword)):
        line = ratio(f"scalar call, {how}", "the bare expression", took, bare, 8)
        yield line._replace(aim="under 8, and 3 µs", met=line.met and took < 3e-6)
    yield ratio("quantity text, repeated", "a bare number", text, by_position, 3)


def array_calls(scale: Scale) -> Iterator[Line]:
    draw, n = numpy.random.default_rng(1), scale.array
    mass, alpha, minutes = draw.uniform(10, 50, n), draw.uniform(0.03, 0.15, n), draw.uniform(0, 90, n)
    volume, gravity = draw.uniform(10, 40, n), draw.uniform(1.03, 1.08, n)
    for what, arguments in (
        (f"{n} elements, five arrays", (mass, alpha, minutes, volume, gravity)),
        (f"{n} elements, one array, of minutes", (28.0, 0.055, minutes, 20.0, 1.05)),
        (f"{n} elements, one array, of masses", (mass, 0.055, 60.0, 20.0, 1.05)),
    ):
        ours, by_hand = least(
            scale,
            lambda arguments=arguments: brewfuncs.hop_bitterness(*arguments),  # type: ignore[misc]
            lambda arguments=arguments: bitterness(*arguments, exp=numpy.exp),  # type: ignore[misc]
        )
        yield ratio(what, "the expression in numpy", ours, by_hand, 1.3)


def newton(plato: Any) -> Any:
    """The gravity at which the cubic gives so many °P: Newton's method, to rounding."""
    gravity = 1 + plato / 258.6
    for _ in range(5):
        value = -616.868 + gravity * (1111.14 + gravity * (-630.272 + gravity * 135.997))
        gravity = gravity - (value - plato) / (1111.14 + gravity * (-2 * 630.272 + gravity * 3 * 135.997))
    return gravity


def bisection(precursor: Any, limit: Any, evaporation: Any, formed_later: float) -> Any:
    """The boil after which DMS at pitching is at the limit, by fifty halvings of a day: as far as doubles go."""
    formed, lost = math.log(2) / 38, 65 * evaporation / 60
    low, high = numpy.log(lost / formed) / (lost - formed), numpy.full_like(limit, 1440.0)  # from the peak on
    for _ in range(50):
        middle = (low + high) / 2
        left = numpy.exp(-formed * middle)
        dms = precursor * (formed / (lost - formed) * (left - numpy.exp(-lost * middle)) + left * formed_later)
        above = dms > limit
        low, high = numpy.where(above, middle, low), numpy.where(above, high, middle)
    return (low + high) / 2


def solvers(scale: Scale) -> Iterator[Line]:
    draw, n = numpy.random.default_rng(2), scale.solver
    plato = draw.uniform(2, 25, n)
    assert abs(newton(plato) - brewfuncs.wort_gravity(plato)).max() < 1e-12
    yield ratio(
        f"wort_gravity, {n} elements",
        "Newton's method in numpy",
        *least(scale, lambda: brewfuncs.wort_gravity(plato), lambda: newton(plato)),
        2,
    )
    precursor, limit, evaporation = draw.uniform(900, 1500, n), draw.uniform(30, 60, n), draw.uniform(0.05, 0.15, n)
    later = brewfuncs.dms_after_cooling(1.0, 30.0)
    ours = brewfuncs.dms_boil_minutes(precursor, limit, evaporation, 30.0)
    by_hand = bisection(precursor, limit, evaporation, later)
    assert abs(by_hand - ours).max() < 1e-6
    yield ratio(
        f"dms_boil_minutes, {n} elements",
        "bisection in numpy",
        *least(
            scale,
            lambda: brewfuncs.dms_boil_minutes(precursor, limit, evaporation, 30.0),
            lambda: bisection(precursor, limit, evaporation, later),
        ),
        2,
    )


# -- whole processes -------------------------------------------------------------------------------------------------

HEAVY = ("numpy", "pint", "openpyxl", "xlwings", "formualizer", "rich", "narwhals")


def starting(scale: Scale) -> Iterator[Line]:
    (nothing, _), (importing, _), (calling, _) = processes(
        scale,
        python("-c", "pass"),
        python("-c", "import brewfuncs"),
        python("-m", "brewfuncs", "call", "=WORT_PLATO(1.05)"),
    )
    listing = python("-c", f"import brewfuncs, sys; print([name for name in {HEAVY} if name in sys.modules])")
    loaded = subprocess.run(listing, cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()
    line = _more("import brewfuncs", importing, nothing, 0.060)
    yield line._replace(
        aim=f"{line.aim}, nothing heavy", met=line.met and loaded == "[]", found=f"{line.found}, {loaded}"
    )
    yield _more("brewfuncs call '=WORT_PLATO(1.05)'", calling, nothing, 0.150)


def _more(what: str, took: float, nothing: float, most: float) -> Line:
    found = f"{shown(took)} - {shown(nothing)} = {shown(max(took - nothing, 0))} more"
    return Line(what, "python -c pass", found, f"under {shown(most)} more", took - nothing < most)


MEASUREMENT = "preboil_gravity"


def batch_workbook(scale: Scale) -> Iterator[Line]:
    with tempfile.TemporaryDirectory() as name:
        path = Path(name, "batch.xlsx")
        ((new, _),) = processes(scale, python("-m", "brewfuncs", "new", "--force", "-o", str(path)))
        yield Line("brewfuncs new, whole process", "", shown(new), "under 1 s", new < 1)
        ((record, _),) = processes(scale, python("-m", "brewfuncs", "record", str(path), f"{MEASUREMENT}=1.046"))
        yield Line("brewfuncs record, whole process", "", shown(record), "under 500 ms", record < 0.5)
        ((embed, _),) = processes(scale, python("-m", "brewfuncs", "embed", str(path)))
        yield Line("brewfuncs embed, whole process", "", shown(embed), "under 500 ms", embed < 0.5)
        processes(scale._replace(runs=1), python("-m", "brewfuncs", "embed", str(path), "--remove"))
        yield from _in_the_batch(scale, path)


def _in_the_batch(scale: Scale, path: Path) -> Iterator[Line]:
    """What of `record` is calculation: of the whole file, and again once it is loaded."""
    calculate, loaded, spent = engine.Calculation.calculate, [], []

    def timed(calculation: engine.Calculation) -> None:
        start = time.perf_counter()
        calculate(calculation)
        spent[-1] += time.perf_counter() - start
        loaded.append(calculation)

    with Package(path) as package:
        place = find_cell(package, MEASUREMENT)
    with mock.patch.object(engine.Calculation, "calculate", timed):
        for turn in range(scale.rounds + 1):
            spent.append(0.0)
            loaded.clear()
            recalculate.record(path, {MEASUREMENT: 1.04 + turn / 1000})
        whole = min(spent)
    again = math.inf
    for turn in range(scale.rounds + 1):
        start = time.perf_counter()
        loaded[-1].set_value(*place, 1.05 + turn / 1000)
        loaded[-1].calculate()
        again = min(again, time.perf_counter() - start)
    yield Line("  calculating all of its cells for the first time", "", shown(whole), "none", True)
    yield Line("  calculating again what a measurement changes", "", shown(again), "under 20 ms", again < 0.02)


OPENPYXL = "import openpyxl, sys; openpyxl.load_workbook(sys.argv[1]).save(sys.argv[2])"
NATIVE = "1000*A{0}*B{0}/D{0}*(1.65/4.15*0.000125^(E{0}-1)*(1-EXP(-0.04*C{0})))"
OURS = "HOP_BITTERNESS(A{0},B{0},C{0},D{0},E{0})"


def additions(rows: int) -> list[list[float]]:
    """Plausible arguments, other ones in every row."""
    draw = random.Random(3).uniform
    ranges = ((10, 50, 1), (0.03, 0.15, 4), (0, 90, 0), (10, 40, 1), (1.03, 1.08, 3))  # low, high, decimals
    return [[round(draw(low, high), decimals) for low, high, decimals in ranges] for _ in range(rows)]


def column_of(formula: str, rows: int, path: Path) -> Path:
    """A workbook of additions, and beside each a formula whose stored value is stale."""
    written = []
    for number, values in enumerate(additions(rows), 1):
        inputs = "".join(f'<c r="{c}{number}"><v>{v!r}</v></c>' for c, v in zip("ABCDE", values, strict=True))
        written.append(f'<row r="{number}">{inputs}<c r="F{number}"><f>{formula.format(number)}</f><v>0</v></c></row>')
    return xlsx_build.workbook(path, {"S": xlsx_build.sheet("".join(written))})


def large_workbook(scale: Scale) -> Iterator[Line]:
    with tempfile.TemporaryDirectory() as name:
        path, other = Path(name, "large.xlsx"), Path(name, "saved.xlsx")
        column_of(OURS, scale.rows, path)
        once = scale._replace(runs=min(scale.runs, 2))
        fresh, code = Path(name, "fresh.xlsx"), "import shutil, sys; from brewfuncs.cli import main;"
        shutil.copy(path, fresh)
        code += "shutil.copy(sys.argv[1], sys.argv[2]); main(['recalc', sys.argv[2]])"  # all of it is stale each time
        (ours, memory), (reference, _) = processes(
            once, python("-c", code, str(fresh), str(path)), python("-c", OPENPYXL, str(fresh), str(other))
        )
        line = ratio(f"recalc, {scale.rows} stale formula cells", "openpyxl load + save", ours, reference, 0.3)
        found, aim = f"{line.found}, {memory:.0f} MB", f"{line.aim}, and 500 MB"
        yield line._replace(found=found, aim=aim, met=line.met and memory < 500)


# -- the engine, and growth ------------------------------------------------------------------------------------------


def calculation(formula: str, rows: int) -> float:
    """Seconds the engine takes for a column of a formula."""
    with tempfile.TemporaryDirectory() as name:
        calculation = engine.Calculation(column_of(formula, rows, Path(name, "column.xlsx")).read_bytes())
    with _collector_still():
        start = time.perf_counter()
        calculation.calculate()
        took = time.perf_counter() - start
    assert isinstance(calculation.value("S", rows, 6), float)
    return took


@contextlib.contextmanager
def _collector_still() -> Iterator[None]:
    """As recalculation of workbooks has it, and timeit."""
    gc.collect()
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def in_the_engine(scale: Scale) -> Iterator[Line]:
    rounds = [(calculation(OURS, scale.rows), calculation(NATIVE, scale.rows)) for _ in range(min(scale.rounds, 3))]
    ours, native = (min(took) for took in zip(*rounds, strict=True))
    yield ratio(f"engine, {scale.rows} rows of HOP_BITTERNESS", "the same native formula", ours, native, 3)


def growth(scale: Scale) -> Iterator[Line]:
    function = find("HOP_BITTERNESS")

    def column(rows: int) -> Callable[[], object]:
        minutes: list[list[cells.Cell]] = [[90.0 * row / rows] for row in range(rows)]
        return lambda: cells.apply(function, [28.0, 0.055, minutes, 20.0, 1.05])

    def array(rows: int) -> Callable[[], object]:
        minutes = numpy.linspace(0, 90, rows)
        return lambda: brewfuncs.hop_bitterness(28.0, 0.055, minutes, 20.0)

    quick = scale._replace(rounds=min(scale.rounds, 3))
    ways: dict[str, Callable[[int], float]] = {
        "a column of cells": lambda rows: least(quick, column(rows))[0],
        "an array": lambda rows: least(quick, array(rows))[0],
        "the engine": lambda rows: calculation(OURS, rows),
    }
    sizes = ", ".join(f"{rows:,}" for rows in scale.growth)
    for what, seconds in ways.items():
        each = [seconds(rows) / rows for rows in scale.growth]
        found = ", ".join(map(shown, each)) + " a row"
        yield Line(
            f"growth of {what}: {sizes} rows", "", found, "the last under 2 x the least", each[-1] < 2 * min(each)
        )


# -- all of it -------------------------------------------------------------------------------------------------------

PARTS: tuple[Callable[[Scale], Iterator[Line]], ...] = (
    scalar_calls, array_calls, solvers, starting, in_the_engine, batch_workbook, large_workbook, growth,
)  # fmt: skip


def hosts(small: bool) -> Iterator[tuple[str, dict[str, float]]]:
    """The ratios of the programs that are installed here."""
    if importlib.util.find_spec("xlwings"):
        from tests import bench_excel

        with mock.patch.object(bench_excel, "ROWS", 100) if small else contextlib.nullcontext():
            yield "Excel's way, without Excel", bench_excel.ratios()
    if shutil.which("node"):
        yield "JavaScript", javascript()
    if office.python_with_uno():
        from tests import bench_calc

        sizes = {"CELLS": 50, "ROWS": 50, "ROUNDS": 1} if small else {}
        with mock.patch.multiple(bench_calc, **sizes) if small else contextlib.nullcontext():
            yield "LibreOffice Calc", bench_calc.ratios()


def javascript() -> dict[str, float]:
    """Milliseconds in Node.js: the script loaded, and calls one after another (aims: 50 each)."""
    from brewfuncs.translate.javascript import core

    script = f"""
        const start = performance.now();
        const apply = new Function({json.dumps(core() + "return apply;")})();
        const loaded = performance.now();
        for (let i = 0; i < 1000; i++) apply("HOP_BITTERNESS", [28, 0.055, 1 + i % 90, 20, 1.05]);
        console.log(JSON.stringify([loaded - start, performance.now() - loaded]));
    """
    runs = [subprocess.run(["node"], input=script, capture_output=True, text=True, check=True) for _ in range(3)]
    loading, calling = (min(times) for times in zip(*(json.loads(run.stdout) for run in runs), strict=True))
    return {"ms to load the script": loading, "ms for 1,000 calls of HOP_BITTERNESS": calling}


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--small", action="store_true", help="the least that runs every line")
    parser.add_argument("--no-hosts", action="store_true", help="without Excel's and Calc's part")
    given = parser.parse_args(arguments)
    for part in PARTS:
        for line in part(SMALL if given.small else FULL):
            print(line.what + (f" / {line.against}" if line.against else ""))
            verdict = "" if given.small or line.aim == "none" else ", met" if line.met else ", NOT MET"
            print(f"    {line.found}   aim: {line.aim}{verdict}", flush=True)
    for host, ratios in () if given.no_hosts else hosts(given.small):
        print(host)
        for what, times in ratios.items():
            print(f"    {what}: {times:.2f}", flush=True)


if __name__ == "__main__":
    main()
