"""The benchmark still runs, and every line of it measures something. How fast anything is, is no test's business."""

import re

import pytest

from tests import bench

LINES = [
    "scalar call, by position / the bare expression",
    "scalar call, by keyword / the bare expression",
    "quantity text, repeated / a bare number",
    "1000 elements, five arrays / the expression in numpy",
    "1000 elements, one array, of minutes / the expression in numpy",
    "1000 elements, one array, of masses / the expression in numpy",
    "wort_gravity, 1000 elements / Newton's method in numpy",
    "dms_boil_minutes, 1000 elements / bisection in numpy",
    "import brewfuncs / python -c pass",
    "brewfuncs call '=WORT_PLATO(1.05)' / python -c pass",
    "engine, 200 rows of HOP_BITTERNESS / the same native formula",
    "brewfuncs new, whole process",
    "brewfuncs record, whole process",
    "brewfuncs embed, whole process",
    "  calculating all of its cells for the first time",
    "  calculating again what a measurement changes",
    "recalc, 200 stale formula cells / openpyxl load + save",
    "growth of a column of cells: 100, 1,000 rows",
    "growth of an array: 100, 1,000 rows",
    "growth of the engine: 100, 1,000 rows",
]


def test_every_line_is_measured(capsys: pytest.CaptureFixture[str]) -> None:
    bench.main(["--small", "--no-hosts"])
    printed = capsys.readouterr().out.splitlines()
    assert printed[::2] == LINES
    for found in printed[1::2]:
        assert re.match(r" {4}[\d.e+]+ (ns|µs|ms|s)\b.*   aim: (under|none|the last)", found), found


def test_nothing_heavy_is_imported(capsys: pytest.CaptureFixture[str]) -> None:
    """The one aim that doesn't depend on the machine."""
    (found, *_) = [line.found for line in bench.starting(bench.SMALL)]
    assert found.endswith("[]"), found
