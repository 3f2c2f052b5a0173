"""Runs under Python 3.9 with its standard library alone, started by test_python39.py.

The folder given holds the package as the Calc extension carries it. Every doctest runs; then each call read from stdin
(one JSON list [name, arguments] a line) is answered with one line, so that the answers can be compared.
"""

import doctest
import importlib
import json
import pkgutil
import re
import sys
from fractions import Fraction

sys.path.insert(0, sys.argv[1])

import brewfuncs.formulas
from brewfuncs import cells
from brewfuncs.catalogue import CATALOGUE
from brewfuncs.errors import BrewError

NUMBER = re.compile(r"-?\d+\.\d*(?:e[+-]?\d+)?")


class Checker(doctest.OutputChecker):
    """A number is right when it rounds to what the example shows, as the project's own test settings have it."""

    def check_output(self, want, got, options):
        wanted, gotten = NUMBER.findall(want), NUMBER.findall(got)
        if wanted and len(wanted) == len(gotten) and NUMBER.split(want) == NUMBER.split(got):
            return all(self._near(*pair) for pair in zip(wanted, gotten))
        return super().check_output(want, got, options)

    @staticmethod
    def _near(wanted, gotten):
        digits, _, exponent = wanted.partition("e")
        step = Fraction(10) ** (int(exponent or 0) - len(digits.partition(".")[2]))
        return abs(Fraction(wanted) - Fraction(gotten)) <= step


def doctests():
    runner = doctest.DocTestRunner(Checker(), verbose=False, optionflags=doctest.NORMALIZE_WHITESPACE)
    names = ["brewfuncs." + name for _, name, _ in pkgutil.iter_modules(brewfuncs.__path__)]
    names += ["brewfuncs.formulas." + name for _, name, _ in pkgutil.iter_modules(brewfuncs.formulas.__path__)]
    for name in names:
        for test in doctest.DocTestFinder().find(importlib.import_module(name)):
            if not re.search(r"import (numpy|pint)", test.docstring or ""):
                runner.run(test)
    return {"modules": names, "attempted": runner.tries, "failed": runner.failures}


def argument(value):
    """{"is": ...} stands for what JSON can't say."""
    if isinstance(value, list):
        return [[argument(cell) for cell in row] for row in value]
    return {"omitted": cells.OMITTED, "blank": cells.BLANK}[value["is"]] if isinstance(value, dict) else value


def answer(value):
    if isinstance(value, list):
        return [[answer(cell) for cell in row] for row in value]
    return [value.code, str(value)] if isinstance(value, BrewError) else value


if __name__ == "__main__":
    print(json.dumps(doctests()))
    for line in sys.stdin:
        name, arguments = json.loads(line)
        print(json.dumps(answer(cells.apply(CATALOGUE[name], [argument(value) for value in arguments]))))
