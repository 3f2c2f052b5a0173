"""The extension for LibreOffice Calc, built from the catalogue: no SDK, no LibreOffice, the same bytes every time.

An .oxt is a zip of: a type library that says which functions there are and what they take; a configuration file with
their names and help; the code that Calc calls (`calc_addin/`); and this package's formulas with what they need, which
run there as they are.
"""

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import brewfuncs.formulas  # noqa: F401  (fills the catalogue)
from brewfuncs import __version__
from brewfuncs.catalogue import CATALOGUE, Function, Parameter
from brewfuncs.hosts import rdb
from brewfuncs.units import Text
from brewfuncs.xlsx.xml import escape, quoted

__all__ = ["IDENTIFIER", "build", "files"]

IDENTIFIER = "brewfuncs.calc"
# Service and method names are part of saved files: BREW.HOP_BITTERNESS is the service "brew" and its method.
_SERVICE, _INTERFACE, _REPAIR = "brew", "brewfuncs.calc.XFunctions", "brewfuncs.calc.Repair"
_LIBRARY = "brewfuncs"  # of Basic; its folder has to be called the same
_ABOUT = (
    "{count} brewing formulas as worksheet functions: wort, boil, hops, DMS, mash, sanitizer, beer, water and units. "
    "=BREW_SOURCE() tells where a formula was published, =BREW_REASON() what is wrong with a call.\n"
)
_OLDEST = "7.4"  # the oldest LibreOffice it was run in

_PACKAGE = Path(__file__).parents[1]
_ADDIN = _PACKAGE / "hosts" / "calc_addin"
_VENDORED = ("catalogue.py", "cells.py", "errors.py", "units.py")
_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_REGISTRY = 'xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"'


def build() -> bytes:
    """The extension."""
    out = io.BytesIO()
    # Stored, not deflated: releases of zlib compress differently, and the bytes are to be the same everywhere.
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for name, content in files():
            entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            entry.create_system, entry.external_attr = 3, 0o644 << 16
            archive.writestr(entry, content)
    return out.getvalue()


def files() -> Iterator[tuple[str, bytes | str]]:
    """What the extension consists of: names and contents, in order."""
    yield "META-INF/manifest.xml", _manifest()
    yield "description.xml", _description()
    yield "description.txt", _ABOUT.format(count=len(CATALOGUE))
    yield "types.rdb", rdb.interface(_INTERFACE, [_method(function) for function in CATALOGUE.values()])
    yield "CalcAddIns.xcu", _functions()
    yield "addin.components", _component("addin.py", _SERVICE, _SERVICE)
    yield "Jobs.xcu", _jobs()
    yield "repair.components", _component("repair.py", _REPAIR, "com.sun.star.task.Job")
    for name in ("addin.py", "repair.py", "probe.py"):
        yield name, _source(_ADDIN / name)
    yield "Events.xcu", _events()
    yield f"{_LIBRARY}/script.xlb", _library('<library:element library:name="Guard"/>')
    yield f"{_LIBRARY}/dialog.xlb", _library("")  # without it every start shows an error
    yield f"{_LIBRARY}/Guard.xba", _guard()
    yield "names.txt", "\n".join(CATALOGUE) + "\n"
    yield "pythonpath/brewfuncs/__init__.py", f'"""What the functions need."""\n\n__version__ = "{__version__}"\n'
    for name in _VENDORED:
        yield f"pythonpath/brewfuncs/{name}", _source(_PACKAGE / name)
    for path in sorted((_PACKAGE / "formulas").glob("*.py")):
        yield f"pythonpath/brewfuncs/formulas/{path.name}", _source(path)


def _source(path: Path) -> str:
    return path.read_text(encoding="utf-8")  # whatever line ends a checkout has, here they are newlines


def _method(function: Function) -> rdb.Method:
    # Only `any` lets an argument be left out or be a range as well as a single value, and only rows of cells can be
    # the result of an array formula.
    arguments = tuple((p.name, "[]any" if p.variable else "any") for p in function.params)
    return rdb.Method(function.name, "[][]any", arguments)


# -- what people read ------------------------------------------------------------------------------------------------


def _functions() -> str:
    functions = "\n".join(_function(function) for function in CATALOGUE.values())
    return (
        f'{_HEAD}<oor:component-data {_REGISTRY} oor:name="CalcAddIns" oor:package="org.openoffice.Office">\n'
        f'<node oor:name="AddInInfo"><node oor:name="{_SERVICE}" oor:op="replace"><node oor:name="AddInFunctions">\n'
        f"{functions}\n</node></node></node>\n</oor:component-data>\n"
    )


def _function(function: Function) -> str:
    parameters = "".join(
        f'<node oor:name={quoted(p.name)} oor:op="replace">'
        f"{_localised('DisplayName', p.name)}{_localised('Description', _parameter_help(function, p))}</node>"
        for p in function.params
    )
    # CompatibilityName is what an .xlsx calls the function: there the plain name, as in Excel.
    return (
        f'<node oor:name="{function.name}" oor:op="replace">'
        f"{_localised('DisplayName', function.name)}{_localised('Description', _function_help(function))}"
        f'<prop oor:name="Category"><value>Add-In</value></prop>{_localised("CompatibilityName", function.name)}'
        f'<node oor:name="Parameters">{parameters}</node></node>'
    )


def _localised(name: str, text: str) -> str:
    return f'<prop oor:name="{name}"><value xml:lang="en-US">{escape(text)}</value></prop>'


def _function_help(function: Function) -> str:
    unit = "" if isinstance(function.result, Text) else function.result.symbol
    return function.summary + (f" Answer in {unit}." if unit and unit not in function.summary.split() else "")


def _parameter_help(function: Function, parameter: Parameter) -> str:
    """Help, unit, range and default of one argument, as the function wizard shows them."""
    said = [parameter.help]
    if parameter.symbol:
        said.append(f"in {parameter.symbol}")
    if parameter.whole:
        said.append("a whole range" + (" or one cell for all rows" if parameter.whole.one_for_all else ""))
    words = function.range_words(parameter)
    if words and words != "any number":
        said.append(words)
    if parameter.required:
        said.append("needed")  # Calc calls every argument of an add-in optional
    elif not parameter.variable:
        said.append(f"if left out: {parameter.shown_default}")
    return "; ".join(said)


# -- what LibreOffice reads ------------------------------------------------------------------------------------------


def _manifest() -> str:
    kinds = {
        "types.rdb": "application/vnd.sun.star.uno-typelibrary;type=RDB",
        "addin.components": "application/vnd.sun.star.uno-components",
        "repair.components": "application/vnd.sun.star.uno-components",
        "CalcAddIns.xcu": "application/vnd.sun.star.configuration-data",
        "Jobs.xcu": "application/vnd.sun.star.configuration-data",
        "Events.xcu": "application/vnd.sun.star.configuration-data",
        f"{_LIBRARY}/": "application/vnd.sun.star.basic-library",
    }
    entries = "".join(
        f'<manifest:file-entry manifest:media-type="{kind}" manifest:full-path="{name}"/>\n'
        for name, kind in kinds.items()
    )
    return (
        f'{_HEAD}<manifest:manifest xmlns:manifest="http://openoffice.org/2001/manifest">\n'
        f"{entries}</manifest:manifest>\n"
    )


def _description() -> str:
    return (
        f'{_HEAD}<description xmlns="http://openoffice.org/extensions/description/2006" '
        f'xmlns:lo="http://libreoffice.org/extensions/description/2011" xmlns:xlink="http://www.w3.org/1999/xlink">\n'
        f'<identifier value="{IDENTIFIER}"/>\n<version value="{__version__}"/>\n'
        f'<extension-description><src lang="en" xlink:href="description.txt"/></extension-description>\n'
        f'<display-name><name lang="en">Brewing functions (brewfuncs)</name></display-name>\n'
        f'<dependencies><lo:LibreOffice-minimal-version value="{_OLDEST}" name="LibreOffice {_OLDEST}"/>'
        f"</dependencies>\n</description>\n"
    )


def _component(file: str, implementation: str, service: str) -> str:
    """A component that is loaded when it is first wanted, not at start-up."""
    services = "".join(f'<service name="{name}"/>' for name in dict.fromkeys((service, implementation)))
    return (
        f'{_HEAD}<components xmlns="http://openoffice.org/2010/uno-components">'
        f'<component loader="com.sun.star.loader.Python" uri="{file}">'
        f'<implementation name="{implementation}">{services}</implementation></component></components>\n'
    )


def _jobs() -> str:
    """The repair runs after a spreadsheet, and nothing but a spreadsheet, was loaded."""
    return (
        f'{_HEAD}<oor:component-data {_REGISTRY} oor:name="Jobs" oor:package="org.openoffice.Office">\n'
        f'<node oor:name="Jobs"><node oor:name="{_REPAIR}" oor:op="replace">'
        f'<prop oor:name="Service"><value>{_REPAIR}</value></prop>'
        f'<prop oor:name="Context"><value>com.sun.star.sheet.SpreadsheetDocument</value></prop></node></node>\n'
        f'<node oor:name="Events"><node oor:name="OnLoadFinished" oor:op="fuse"><node oor:name="JobList">'
        f'<node oor:name="{_REPAIR}" oor:op="replace"/></node></node></node>\n</oor:component-data>\n'
    )


def _events() -> str:
    """The guard looks before the first file is loaded, and tells what it did in a file's window."""
    bindings = "".join(
        f'<node oor:name="{event}" oor:op="replace"><prop oor:name="BindingURL" oor:type="xs:string"><value>'
        f"vnd.sun.star.script:{_LIBRARY}.Guard.{sub}?language=Basic&amp;location=application</value></prop></node>"
        for event, sub in (("OnStartApp", "Started"), ("OnLoad", "Loaded"))
    )
    return (
        f'{_HEAD}<oor:component-data {_REGISTRY} oor:name="Events" oor:package="org.openoffice.Office">\n'
        f'<node oor:name="ApplicationEvents"><node oor:name="Bindings">{bindings}</node></node>\n'
        f"</oor:component-data>\n"
    )


def _library(modules: str) -> str:
    return (
        f'{_HEAD}<!DOCTYPE library:library PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "library.dtd">\n'
        f'<library:library xmlns:library="http://openoffice.org/2000/library" library:name="{_LIBRARY}" '
        f'library:readonly="true" library:passwordprotected="false">{modules}</library:library>\n'
    )


def _guard() -> str:
    code = _source(_ADDIN / "guard.bas")
    groups = "|".join(dict.fromkeys(function.group for function in CATALOGUE.values()))
    for name, value in {"addin": _SERVICE, "repair": _REPAIR, "identifier": IDENTIFIER, "groups": groups}.items():
        code = code.replace("{" + name + "}", value)
    return (
        f'{_HEAD}<!DOCTYPE script:module PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">\n'
        f'<script:module xmlns:script="http://openoffice.org/2000/script" script:name="Guard" '
        f'script:language="StarBasic">{escape(code)}</script:module>\n'
    )
