"""Worksheet functions called the way Excel calls them: xlwings' DLL starts Python by our own command, the rest is COM.

    python -m brewfuncs.hosts.excel_call FOLDER PYTHON

makes one call and prints the answer; FOLDER holds xlwings' DLLs, PYTHON is the interpreter to start. The doctor and the
installer do this in a process of its own, which may hang or crash without harm. Windows only.
"""

from __future__ import annotations

import ctypes
import struct
import sys
from pathlib import Path
from typing import Any

from brewfuncs.hosts import excel_vba


class _Variant(ctypes.Structure):
    _fields_ = (("kind", ctypes.c_ushort), ("reserved", ctypes.c_ushort * 3), ("value", ctypes.c_void_p * 2))


class Server:
    """xlwings' COM server, as our VBA holds it."""

    def __init__(self, folder: Path, interpreter: Path, starts: int = 0) -> None:
        """`starts` is how many servers went before it: each has an identity of its own."""
        import pythoncom  # type: ignore[import-not-found, import-untyped, unused-ignore]

        pythoncom.CoInitialize()
        dll = ctypes.WinDLL(  # type: ignore[attr-defined, unused-ignore]
            str(folder / f"xlwings{struct.calcsize('P') * 8}-{excel_vba.XLWINGS}.dll")
        )
        dll.XLPyDLLActivateAuto.argtypes = [ctypes.POINTER(_Variant), ctypes.c_char_p, ctypes.c_int]
        dll.XLPyDLLActivateAuto.restype = ctypes.c_long
        answer = _Variant()
        command = excel_vba.start_command(interpreter) + " " * starts
        problem = dll.XLPyDLLActivateAuto(ctypes.byref(answer), command.encode("mbcs"), 1)
        if problem:
            raise OSError(
                ctypes.wstring_at(answer.value[0]) if answer.value[0] else f"error {problem & 0xFFFFFFFF:08X}"
            )
        self._server = pythoncom.ObjectFromAddress(answer.value[0], pythoncom.IID_IDispatch)
        self._method = self._server.GetIDsOfNames("CallUDF")

    def call(self, name: str, *arguments: Any) -> Any:
        """The answer as our VBA gets it; markers are not yet error values."""
        import pythoncom
        from win32com.client import VARIANT  # type: ignore[import-not-found, import-untyped, unused-ignore]

        given = VARIANT(pythoncom.VT_ARRAY | pythoncom.VT_VARIANT, list(arguments))
        kind = pythoncom.DISPATCH_METHOD
        return self._server.Invoke(self._method, 0, kind, True, "brewfuncs.hosts.excel", name, given)


def main() -> None:
    folder, interpreter = map(Path, sys.argv[1:])
    try:
        print(Server(folder, interpreter).call("BOIL_OFF", 4.5, 30.0))
    except OSError as error:
        raise SystemExit(str(error)) from None


if __name__ == "__main__":
    main()
