"""The worksheet functions as LibreOffice Calc calls them.

Runs inside LibreOffice, on its Python 3.9 or later with the standard library alone. It knows no formula: the class Calc
calls is made from the catalogue, and all it does is translate Calc's values.
"""

import os
import struct
import sys

import uno
import unohelper
from com.sun.star.lang import XServiceInfo

# LibreOffice puts an extension's own modules last on the path; another brewfuncs may be installed for the same Python.
_MODULES = os.path.join(os.path.dirname(os.path.abspath(__file__)), "pythonpath")
sys.path.insert(0, _MODULES)
try:
    import brewfuncs.formulas  # noqa: F401  (fills the catalogue)
    from brewfuncs.catalogue import CATALOGUE
    from brewfuncs.cells import OMITTED, apply
    from brewfuncs.errors import BrewError
finally:
    sys.path.remove(_MODULES)

SERVICE = "brew"  # the first half of BREW.HOP_BITTERNESS: part of saved files, never to be renamed
INTERFACE = "brewfuncs.calc.XFunctions"

_CODES = {"#NUM!": 503, "#VALUE!": 519, "#NULL!": 521, "#REF!": 524, "#NAME?": 525, "#DIV/0!": 532, "#N/A": 0x7FFF}


def _nan(code):
    """Calc reads the lower half of a NaN as the number of an error."""
    return struct.unpack("<d", struct.pack("<Q", 0x7FF8000000000000 | code))[0]


_ERRORS = {shown: _nan(code) for shown, code in _CODES.items()}


def _argument(value):
    """None is an argument left out, a tuple of tuples a range; the blank cells in a range are '', elsewhere 0."""
    if value is None:
        return OMITTED
    return list(value) if value.__class__ is tuple else value


def _cell(value):
    return _ERRORS[value.code] if isinstance(value, BrewError) else value


def _slowly(function, given):
    result = apply(function, [_argument(value) for value in given])
    if result.__class__ is list:
        return tuple([tuple([x if x.__class__ is float else _cell(x) for x in row]) for row in result])
    return ((_cell(result),),)


def _method(function):
    """What Calc calls: every argument comes, those left out as None, and the result is rows of cells."""
    call, defaults = function.call, [parameter.default for parameter in function.params]

    if function.variable:

        def method(self, *given):
            return _slowly(function, given[:-1] + given[-1])

    elif any(parameter.whole for parameter in function.params):

        def method(self, *given):
            return _slowly(function, given)

    else:

        def method(self, *given):
            if tuple not in map(type, given):
                try:  # the short way, for single cells; what it refuses may still be a blank text
                    return ((call(*[d if g is None else g for g, d in zip(given, defaults)]),),)
                except BrewError:
                    pass
            return _slowly(function, given)

    return method


class _Service(unohelper.Base, XServiceInfo, uno.getClass(INTERFACE)):
    def __init__(self, context):
        pass

    def getImplementationName(self):
        return SERVICE

    def getSupportedServiceNames(self):
        return (SERVICE,)

    def supportsService(self, name):
        return name == SERVICE


AddIn = type("AddIn", (_Service,), {name: _method(function) for name, function in CATALOGUE.items()})

g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(AddIn, SERVICE, (SERVICE,))
