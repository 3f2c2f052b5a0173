"""How much Excel's way costs on top of the work itself, as ratios: python -m tests.bench_excel

Measured is what Python does for one call that our VBA makes: xlwings' CallUDF with its conversion, this package's
module, and back. Not measured, because they need Excel and Windows: the VBA, COM between the two processes, Excel.
"""

import timeit
from collections.abc import Callable

from brewfuncs import cells
from brewfuncs.catalogue import find
from tests import excel_harness

ROWS = 100_000
MODULE = "brewfuncs.hosts.excel"


def seconds(action: Callable[[], object]) -> float:
    """The least of five measurements, each long enough for the clock."""
    timer = timeit.Timer(action)
    count = max(1, int(0.05 / max(timer.timeit(1), 1e-7)))
    return min(timer.repeat(5, count)) / count


def ratios() -> dict[str, float]:
    """What is compared -> how many times as long."""
    from xlwings import conversion

    call_udf = excel_harness.com_server.XLPython().CallUDF
    function = find("HOP_BITTERNESS")
    scalar = (28.0, 0.055, 60.0, 23.0, 1.05)
    minutes = [(60.0 * row / ROWS,) for row in range(ROWS)]
    column = (28.0, 0.055, tuple(minutes), 23.0, 1.05)
    rows = [*column[:2], [list(row) for row in minutes], *column[3:]]

    one = seconds(lambda: cells.apply(function, scalar))
    many = seconds(lambda: cells.apply(function, rows))
    slow: dict[str, object] = {}
    return {
        "a scalar call: through xlwings / the function alone": seconds(lambda: call_udf(MODULE, function.name, scalar))
        / one,
        f"{ROWS} rows: through xlwings / the function alone": seconds(lambda: call_udf(MODULE, function.name, column))
        / many,
        f"{ROWS} rows in and out: xlwings' own converters / the function alone": seconds(
            lambda: conversion.write(conversion.read(None, column[2], slow), None, slow)
        )
        / many,
    }


if __name__ == "__main__":
    for what, ratio in ratios().items():
        print(f"{ratio:8.2f}  {what}")
