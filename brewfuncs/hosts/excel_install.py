"""The add-in on this computer: put it there, take it away, look whether all is in place. Windows only."""

from __future__ import annotations

import contextlib
import csv
import locale
import os
import site
import subprocess
import sys
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from brewfuncs import __version__
from brewfuncs.errors import WorkbookError
from brewfuncs.hosts import excel_vba

__all__ = ["install", "status", "uninstall"]

_ELSEWHERE = (
    "the functions work in Excel on Windows only; on this system use LibreOffice Calc (brewfuncs calc install) or the "
    "built-in engine (brewfuncs recalc); files for Windows come from  brewfuncs new --macro  and  brewfuncs excel-addin"
)


def _is_windows() -> bool:
    return sys.platform == "win32"


def _settings() -> Path:
    return Path(os.environ["USERPROFILE"], *excel_vba.SETTINGS)


def _add_in() -> Path:
    """Where Excel looks for a user's add-ins."""
    return Path(os.environ["APPDATA"], "Microsoft", "AddIns", "brewfuncs.xlam")


def install() -> str:
    """Write the configuration and place the add-in; gives what is left to do."""
    if not _is_windows():
        raise WorkbookError(_ELSEWHERE)
    problem = _missing_xlwings() or _import_problem(_interpreter())
    if problem:
        raise WorkbookError(problem)
    folder = _library_folder()
    if folder is None:
        raise WorkbookError(f"{_libraries()[0]}, a part of xlwings, is nowhere in this Python: install xlwings again")
    from brewfuncs.hosts.excel_build import build
    from brewfuncs.xlsx.replace import write_new

    settings, add_in = _settings_text(folder), build()
    for path, content in ((_add_in(), add_in), (_settings(), settings)):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            write_new(path, content)
        except WorkbookError as error:
            raise WorkbookError(f"{error}; close Excel and try again") from None
    return (
        f"{_add_in()} is in place. One step is left: in Excel choose File > Options > Add-ins, press Go beside "
        '"Excel Add-ins", and tick Brewfuncs. =BREW_STATUS() in a cell then says whether Python is reached.'
    )


def uninstall() -> str:
    """Take the add-in and its configuration away."""
    if not _is_windows():
        raise WorkbookError(_ELSEWHERE)
    there = [path for path in (_add_in(), _settings()) if path.exists()]
    if not there:
        return "the add-in isn't installed; nothing was changed"
    for path in there:
        try:
            path.unlink()
        except OSError as error:
            raise WorkbookError(f"{path} can't be removed: {error.strerror}; close Excel and try again") from None
    with contextlib.suppress(OSError):  # it may hold something of the user's
        _settings().parent.rmdir()
    return "the add-in is gone. If it was ticked in Excel, Excel will miss it at its next start and offer to forget it."


def status() -> list[tuple[str, str]]:
    """The doctor's findings: ("well", "absent" or "broken", a sentence)."""
    if not _is_windows():
        return [("absent", _ELSEWHERE)]
    if not _settings().exists() and not _add_in().exists():
        return [("absent", "the add-in isn't installed: run  brewfuncs excel install")]
    found = [("broken", f"{problem}: run  brewfuncs excel install") for problem in _problems()]
    return found or [("well", f"add-in {_add_in()}, Python {_interpreter()}; =BREW_STATUS() in a cell tells the rest")]


def _problems() -> Iterator[str]:
    if not _add_in().exists():
        yield f"{_add_in()} is missing"
    if not _settings().exists():
        yield f"the configuration, {_settings()}, is missing"
        return
    settings = _read_settings()
    interpreter = settings.get("INTERPRETER_WIN", "")
    if not Path(interpreter).is_file():
        yield f"the configuration names a Python that isn't there, {interpreter!r}"
    elif not os.path.samefile(interpreter, _interpreter()):
        yield f"the configuration names another Python, {interpreter}, and this one is {_interpreter()}"
    elif problem := _missing_xlwings() or _import_problem(Path(interpreter)):
        yield problem
    folder = Path(settings.get("LIBRARY FOLDER", ""))
    for name in _libraries():
        if not (folder / name).is_file():
            yield f"{name} is not in {folder}"
    if settings.get("VERSION") != __version__:
        yield f"the add-in was built with version {settings.get('VERSION')}, and this is {__version__}"


def _import_problem(interpreter: Path) -> str:
    """Why that Python can't serve Excel, "" where it can: it is started as Excel starts it."""
    command = [str(interpreter), "-B", "-P", "-c", "import xlwings.com_server, brewfuncs.hosts.excel"]
    try:
        subprocess.run(command, capture_output=True, text=True, errors="replace", timeout=60, check=True)
    except subprocess.CalledProcessError as error:
        said = (error.stderr.strip() or f"exit code {error.returncode}").splitlines()[-1]
        return f"{interpreter} can't load the functions ({said})"
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"{interpreter} can't be started ({error})"
    return ""


def _missing_xlwings() -> str:
    """What is wrong with xlwings here, "" where it is as it should be."""
    try:
        found = version("xlwings")
    except PackageNotFoundError:
        return "xlwings is not installed: install brewfuncs[excel]"
    if found != excel_vba.XLWINGS:
        return f"xlwings {found} is installed, and the add-in needs {excel_vba.XLWINGS}: install brewfuncs[excel]"
    return ""


def _libraries() -> tuple[str, str]:
    return tuple(f"xlwings{bits}-{excel_vba.XLWINGS}.dll" for bits in (64, 32))  # type: ignore[return-value]


def _library_folder() -> Path | None:
    """Where pip puts xlwings' DLLs: the root of a Python, of a virtual environment, or of the user's packages."""
    for folder in (sys.prefix, site.getuserbase()):
        if all(Path(folder, name).is_file() for name in _libraries()):
            return Path(folder)
    return None


def _interpreter() -> Path:
    """python.exe, whichever of its relatives runs this."""
    plain = Path(sys.executable).with_name("python.exe")
    return plain if plain.is_file() else Path(sys.executable)


def _settings_text(folder: Path) -> bytes:
    lines = {"INTERPRETER_WIN": _interpreter(), "LIBRARY FOLDER": folder, "VERSION": __version__}
    text = "".join(f'"{key}","{value}"\r\n' for key, value in lines.items())
    try:
        return text.encode(locale.getencoding())  # VBA reads, and Windows starts programs, in the system's code page
    except UnicodeEncodeError as error:
        raise WorkbookError(
            f"Excel can't start Python from a folder with {error.object[error.start : error.end]!r} in its path; "
            "install Python in a folder with plain letters"
        ) from None


def _read_settings() -> dict[str, str]:
    with _settings().open(encoding=locale.getencoding(), errors="replace", newline="") as file:
        return {row[0]: row[1] for row in csv.reader(file) if len(row) == 2}
