"""The add-in on this computer: put it there, take it away, look whether all is in place. Windows only."""

from __future__ import annotations

import contextlib
import csv
import importlib
import locale
import os
import re
import site
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

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
    problem = _walled_off() or _missing_xlwings()
    if problem:
        raise WorkbookError(problem)
    folder = _library_folder()
    if folder is None:
        raise WorkbookError(f"{_libraries()[0]}, a part of xlwings, is nowhere in this Python: install xlwings again")
    settings_text = _settings_text(folder)
    if problem := _import_problem(_interpreter()):
        raise WorkbookError(problem)
    from brewfuncs.hosts.excel_build import build
    from brewfuncs.xlsx.replace import write_new

    for path, content in ((_add_in(), build()), (_settings(), settings_text)):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            write_new(path, content)
        except WorkbookError as error:
            raise WorkbookError(f"{error}; close Excel and try again") from None
    trial = _call_problem(_interpreter(), folder)
    return (
        f"{_add_in()} is in place. One step is left: in Excel choose File > Options > Add-ins, press Go beside "
        '"Excel Add-ins", and tick Brewfuncs. =BREW_STATUS() in a cell then says whether Python is reached.'
    ) + (f" It may not be: {trial}." if trial else "")


def uninstall() -> str:
    """Take the add-in and its configuration away."""
    if not _is_windows():
        raise WorkbookError(_ELSEWHERE)
    there = [path for path in (_add_in(), _settings()) if path.exists()]
    for path in there:
        try:
            path.unlink()
        except OSError as error:  # Excel holds an add-in open
            raise WorkbookError(f"{path} can't be removed: {error.strerror}; close Excel and try again") from None
    with contextlib.suppress(OSError):  # it may hold something of the user's
        _settings().parent.rmdir()
    if not _untick() and not there:
        return "the add-in isn't installed; nothing was changed"
    return "the add-in is gone, and out of the list of add-ins that Excel opens at its start"


def status() -> list[tuple[str, str]]:
    """The doctor's findings: ("well", "absent" or "broken", a sentence)."""
    if not _is_windows():
        return [("absent", _ELSEWHERE)]
    if not _settings().exists() and not _add_in().exists():
        return [("absent", "the add-in isn't installed: run  brewfuncs excel install")]
    if problem := _walled_off():
        return [("broken", problem)]
    found = [("broken", f"{problem}: run  brewfuncs excel install") for problem in _problems()]
    return found or [("well", f"add-in {_add_in()}, Python {_interpreter()}; =BREW_STATUS() in a cell tells the rest")]


def _problems() -> Iterator[str]:
    if not _add_in().exists():
        yield f"{_add_in()} is missing"
    if not _settings().exists():
        yield f"the configuration, {_settings()}, is missing"
        return
    settings = _read_settings()
    interpreter, folder = settings.get("INTERPRETER_WIN", ""), Path(settings.get("LIBRARY FOLDER", ""))
    if not Path(interpreter).is_file():
        yield f"the configuration names a Python that isn't there, {interpreter!r}"
    elif not os.path.samefile(interpreter, _interpreter()):
        yield f"the configuration names another Python, {interpreter}, and this one is {_interpreter()}"
    elif problem := _missing_xlwings() or _import_problem(Path(interpreter)):
        yield problem
    elif missing := [name for name in _libraries() if not (folder / name).is_file()]:
        yield f"{', '.join(missing)} not in {folder}"
    elif problem := _call_problem(Path(interpreter), folder):
        yield problem
    if settings.get("VERSION") != __version__:
        yield f"the add-in was built with version {settings.get('VERSION')}, and this is {__version__}"


def _walled_off() -> str:
    """What of Microsoft's Store is between Excel and Python, "" where nothing is (from documentation, not tried)."""
    if _from_store(sys.base_prefix):
        return (
            "this Python comes from Microsoft's Store, and Excel can't call it: install Python from python.org, "
            "and make the virtual environment anew with that"
        )
    return f"{excel_vba.FROM_STORE} ({_excel()})" if _from_store(_excel()) else ""


def _from_store(path: str) -> bool:
    return "windowsapps" in path.casefold().replace("\\", "/").split("/")


def _import_problem(interpreter: Path) -> str:
    """Why that Python can't load the functions, "" where it can: it is started as Excel starts it."""
    problem = _failure([str(interpreter), *excel_vba.FLAGS, "-c", "import xlwings.com_server, brewfuncs.hosts.excel"])
    if not problem:
        return ""
    conda = "; Excel starts Python without activating conda's environment: use a Python from python.org"
    return f"{interpreter} can't load the functions ({problem})" + conda * Path(sys.base_prefix, "conda-meta").is_dir()


def _call_problem(interpreter: Path, folder: Path) -> str:
    """Why a call made the way Excel makes it fails, "" where it doesn't."""
    python = str(interpreter)
    problem = _failure([python, *excel_vba.FLAGS, "-m", "brewfuncs.hosts.excel_call", str(folder), python])
    return f"a call through xlwings' DLL fails ({problem})" if problem else ""


def _failure(command: list[str]) -> str:
    """The last words of a command that fails, "" where it doesn't."""
    # In a file: what the command starts may keep a pipe open, and waiting for its end would never end.
    with tempfile.TemporaryFile() as words:
        try:
            ended = subprocess.run(
                command, stdin=subprocess.DEVNULL, stdout=words, stderr=words, timeout=60, env=_as_excel_has_it()
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            return str(error)
        words.seek(0)
        said = words.read().decode(errors="replace").strip() or f"exit code {ended.returncode}"
        return said.splitlines()[-1] if ended.returncode else ""


def _as_excel_has_it() -> dict[str, str]:
    """The environment without what activating a Python has added, since Excel isn't started from there."""
    inside = tuple(os.path.normcase(prefix) for prefix in (sys.prefix, sys.base_prefix))
    folders = os.environ.get("PATH", "").split(os.pathsep)
    outside = [folder for folder in folders if not os.path.normcase(folder).startswith(inside)]
    kept = {name: value for name, value in os.environ.items() if not name.upper().startswith(("CONDA", "PYTHON"))}
    return {**kept, "PATH": os.pathsep.join(outside)}


# -- the registry ----------------------------------------------------------------------------------------------------

_OPENED = re.compile(r"OPEN(\d*)", re.IGNORECASE)  # OPEN, OPEN1, OPEN2...: what Excel opens at its start
_OURS = re.compile(r'(^|[\\/" ])brewfuncs\.xlam"?$', re.IGNORECASE)


def _registry() -> Any:
    return importlib.import_module("winreg")


def _excel() -> str:
    """Where Excel is, "" where nobody has said."""
    registry = _registry()
    for root in (registry.HKEY_CURRENT_USER, registry.HKEY_LOCAL_MACHINE):
        with contextlib.suppress(OSError):
            path = r"Software\Microsoft\Windows\CurrentVersion\App Paths\excel.exe"
            return str(registry.QueryValue(root, path) or "")
    return ""


def _untick() -> bool:
    """Take the add-in out of the list of those that Excel opens, as Excel itself does; whether it was there."""
    registry, office, found = _registry(), r"Software\Microsoft\Office", False
    for release in _children(office):
        try:
            access = registry.KEY_READ | registry.KEY_WRITE
            key = registry.OpenKey(registry.HKEY_CURRENT_USER, rf"{office}\{release}\Excel\Options", 0, access)
        except OSError:
            continue
        with key:
            values = [registry.EnumValue(key, i) for i in range(registry.QueryInfoKey(key)[1])]
            opened = sorted(
                (int(match[1] or 0), name, content, kind)
                for name, content, kind in values
                if (match := _OPENED.fullmatch(name))
            )
            kept = [(content, kind) for _, _, content, kind in opened if not _OURS.search(str(content))]
            if len(kept) == len(opened):
                continue
            found = True
            # The numbers have no gaps; the rest moves up before the last is taken away.
            for (_, name, _, _), (content, kind) in zip(opened, kept, strict=False):
                registry.SetValueEx(key, name, 0, kind, content)
            for _, name, _, _ in opened[len(kept) :]:
                registry.DeleteValue(key, name)
    return found


def _children(path: str) -> list[str]:
    registry = _registry()
    try:
        with registry.OpenKey(registry.HKEY_CURRENT_USER, path) as key:
            return [registry.EnumKey(key, i) for i in range(registry.QueryInfoKey(key)[0])]
    except OSError:
        return []


# -- this Python, and what Excel reads of it -------------------------------------------------------------------------


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
    try:  # VBA finds and reads files, and Windows starts programs, in the system's code page
        str(_settings()).encode(locale.getencoding())
        return text.encode(locale.getencoding())
    except UnicodeEncodeError as error:
        strange = error.object[error.start : error.end]
        if strange in str(_settings()):
            raise WorkbookError(
                f"Excel's macros can't read in your user folder, because of {strange!r} in its name; "
                "use LibreOffice Calc (brewfuncs calc install), or a Windows account whose folder has plain letters"
            ) from None
        raise WorkbookError(
            f"Excel can't start Python from a folder with {strange!r} in its path; "
            "install Python in a folder with plain letters"
        ) from None


def _read_settings() -> dict[str, str]:
    with _settings().open(encoding=locale.getencoding(), errors="replace", newline="") as file:
        return {row[0]: row[1] for row in csv.reader(file) if len(row) == 2}
