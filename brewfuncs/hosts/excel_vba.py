"""The VBA inside our Excel files, written out from the catalogue, and what can be wrong with names in VBA.

Two modules: `brew_functions` holds one function a worksheet function and what translates values on the way to Python
(`excel`, which says how the two speak); `brew_server` starts xlwings' COM server.

Why not xlwings' own VBA: a range handed to Python costs 17 to 32 calls back into Excel for each formula, exceptions
become text in cells, and it is made for programmers: any workbook could run Python code with the formula
=RunPython("..."), and could name the interpreter to run in a sheet or a file beside it. Here the interpreter comes from
the user's own folder, nothing else is read, and only the functions can be called.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path, PurePath

import brewfuncs.formulas  # noqa: F401  (fills the catalogue)
from brewfuncs import __version__
from brewfuncs.catalogue import CATALOGUE, Function
from brewfuncs.errors import WorkbookError
from brewfuncs.xlsx.address import parse_address

__all__ = [
    "CODE_PAGE",
    "FLAGS",
    "FROM_STORE",
    "MARK",
    "NUMBERS",
    "OMITTED",
    "SETTINGS",
    "XLWINGS",
    "lint",
    "modules",
    "notice",
    "start_command",
]

XLWINGS = "0.37.8"  # the VBA names xlwings' DLL with its version: the pin in pyproject.toml is the same
SETTINGS = (".brewfuncs", "excel.conf")  # in the user's folder; `excel_install` writes it
CODE_PAGE = "cp1252"  # of the VBA project

#: how Python is started. -E: whatever PYTHONPATH and PYTHONHOME say; -P: no module that lies beside a workbook
FLAGS = ("-E", "-B", "-P")
_SERVE = "import xlwings; xlwings.serve('$(CLSID)')"
FROM_STORE = (
    "if Excel came from Microsoft's Store, it runs walled off and can't reach Python: install Office from its own site"
)

MARK = "\x01"
OMITTED = MARK + "448"  # VBA's own number for an argument left out
#: Excel's numbers of the error values: XlCVError of its object library; those from 2043 on from memory
NUMBERS = {
    "#NULL!": 2000,
    "#DIV/0!": 2007,
    "#VALUE!": 2015,
    "#REF!": 2023,
    "#NAME?": 2029,
    "#NUM!": 2036,
    "#N/A": 2042,
    "#GETTING_DATA": 2043,
    "#SPILL!": 2045,
    "#CONNECT!": 2046,
    "#BLOCKED!": 2047,
    "#UNKNOWN!": 2048,
    "#FIELD!": 2049,
    "#CALC!": 2050,
}

_HELPERS = """\
Private server As Object      ' xlwings' COM server, once it runs
Private failure As String     ' why it can't be reached, "" where it can
Private failedAt As Single
Private patience As Single      ' the seconds after a failure in which Python isn't asked again

Public Function BREW_STATUS() As Variant
    Dim answer As Variant
    Application.Volatile
    answer = Ask("BREW_STATUS", Array("@VERSION@"))
    If failure = "" Then BREW_STATUS = answer Else BREW_STATUS = failure
End Function

' The answer of a function in Python; #VALUE! where Python can't be reached.
Private Function Ask(ByVal functionName As String, ByVal given As Variant) As Variant
    Dim answer As Variant, attempt As Long, began As Single
    Ask = CVErr(@VALUE@)
    ' A sheet has a thousand cells: one that had to wait in vain spares the others the waiting.
    If failure <> "" And Abs(Timer - failedAt) < patience Then Exit Function
    began = Timer
    For attempt = 1 To 2      ' Python may have been ended since: once more with a new one
        failure = ""
        On Error Resume Next
        Err.Clear
        If server Is Nothing Then Set server = BrewServer()
        If Err.Number = 0 Then answer = server.CallUDF("@MODULE@", functionName, given)
        If Err.Number <> 0 Then failure = "Python can't be reached: " & Err.Description
        On Error GoTo 0
        If failure = "" Then
            Ask = Outgoing(answer)
            Exit Function
        End If
        Set server = Nothing
        If Abs(Timer - began) > 2 Then Exit For      ' what takes long to fail would take as long again
    Next attempt
    failedAt = Timer
    patience = 10 + 10 * Abs(failedAt - began)
End Function

' An argument as Python takes it: cells as their values, errors and what was left out as markers.
Private Function Incoming(Optional ByVal given As Variant) As Variant
    Dim values As Variant, i As Long, j As Long
    If IsMissing(given) Then
        Incoming = Chr$(1) & "@OMITTED@"
        Exit Function
    End If
    If IsObject(given) Then
        If given.Areas.Count > 1 Then      ' a union has no rows and columns
            Incoming = Chr$(1) & "@VALUE@"
            Exit Function
        End If
        values = InUse(given).Value2      ' no dates, no currencies
    Else
        values = given
    End If
    Select Case Dimensions(values)
        Case 0
            If VarType(values) = vbError Then values = Marker(values)
        Case 1
            For i = LBound(values) To UBound(values)
                If VarType(values(i)) = vbError Then values(i) = Marker(values(i))
            Next i
        Case Else
            For i = LBound(values, 1) To UBound(values, 1)
                For j = LBound(values, 2) To UBound(values, 2)
                    If VarType(values(i, j)) = vbError Then values(i, j) = Marker(values(i, j))
                Next j
            Next i
    End Select
    Incoming = values
End Function

' Whole columns end where the sheet's last used row does, and whole rows likewise: they have a million cells.
Private Function InUse(ByVal given As Object) As Object
    Dim last As Long
    Set InUse = given
    With given.Worksheet
        If given.Rows.Count = .Rows.Count Then
            last = .UsedRange.Row + .UsedRange.Rows.Count - 1
            Set InUse = InUse.Resize(last, given.Columns.Count)
        End If
        If given.Columns.Count = .Columns.Count Then
            last = .UsedRange.Column + .UsedRange.Columns.Count - 1
            Set InUse = InUse.Resize(InUse.Rows.Count, last)
        End If
    End With
End Function

' An answer of Python as cells take it: markers as error values.
Private Function Outgoing(ByVal values As Variant) As Variant
    Dim i As Long, j As Long
    Select Case Dimensions(values)
        Case 0
            If IsMarker(values) Then values = CVErr(CLng(Mid$(values, 2)))
        Case 1
            For i = LBound(values) To UBound(values)
                If IsMarker(values(i)) Then values(i) = CVErr(CLng(Mid$(values(i), 2)))
            Next i
        Case Else
            For i = LBound(values, 1) To UBound(values, 1)
                For j = LBound(values, 2) To UBound(values, 2)
                    If IsMarker(values(i, j)) Then values(i, j) = CVErr(CLng(Mid$(values(i, j), 2)))
                Next j
            Next i
    End Select
    Outgoing = values
End Function

Private Function Dimensions(ByRef values As Variant) As Long
    Dim last As Long
    If Not IsArray(values) Then Exit Function
    Dimensions = 1
    On Error Resume Next
    last = UBound(values, 2)
    If Err.Number = 0 Then Dimensions = 2
    On Error GoTo 0
End Function

Private Function IsMarker(ByRef value As Variant) As Boolean
    If VarType(value) = vbString Then IsMarker = (Left$(value, 1) = Chr$(1))
End Function

' "Error 2042", whatever language Excel speaks
Private Function Marker(ByRef value As Variant) As String
    Marker = Chr$(1) & Right$(CStr(value), 4)
End Function
"""

_SERVER = """\
Option Private Module      ' out of reach for formulas and other files

#If Mac Then
#ElseIf Win64 Then
    Private Const LIBRARY As String = "xlwings64-@XLWINGS@.dll"
    Private Declare PtrSafe Function Activate Lib "xlwings64-@XLWINGS@.dll" Alias "XLPyDLLActivateAuto" _
        (ByRef result As Variant, ByVal config As String, ByVal mode As Long) As Long
    Private Declare PtrSafe Function LoadLibrary Lib "kernel32" Alias "LoadLibraryA" (ByVal path As String) As LongPtr
#Else
    Private Const LIBRARY As String = "xlwings32-@XLWINGS@.dll"
    Private Declare PtrSafe Function Activate Lib "xlwings32-@XLWINGS@.dll" Alias "XLPyDLLActivateAuto" _
        (ByRef result As Variant, ByVal config As String, ByVal mode As Long) As Long
    Private Declare PtrSafe Function LoadLibrary Lib "kernel32" Alias "LoadLibraryA" (ByVal path As String) As LongPtr
#End If

Private starts As Long

' xlwings' COM server in the user's Python, started if it doesn't run.
Public Function BrewServer() As Object
#If Mac Then
    Err.Raise 1000, Description:="brewfuncs' functions work in Excel for Windows only"
#Else
    Dim answer As Variant, problem As Long, said As String
    If LoadLibrary(Setting("LIBRARY FOLDER") & "\\" & LIBRARY) = 0 Then
        Err.Raise 1001, Description:=LIBRARY & " can't be loaded; run  brewfuncs doctor"
    End If
    problem = Activate(answer, StartCommand(Setting("INTERPRETER_WIN")), 1)
    starts = starts + 1
    If problem <> 0 Then
        said = CStr(answer)
        If problem = &H80040154 Then said = said & "; @FROM STORE@"
        Err.Raise 1002, Description:=said
    End If
    Set BrewServer = answer
#End If
End Function

' What xlwings' DLL starts: Python itself, whose end it notices at once, and not a command prompt, which would live on.
' The DLL keeps the identity of a server for each command; a blank more gets a new one where the old server has died.
Private Function StartCommand(ByVal interpreter As String) As String
    Dim quote As String
    quote = Chr$(34)
    StartCommand = quote & interpreter & quote & " @FLAGS@ -c " & quote & "@SERVE@" & quote & Space$(starts)
End Function

' A line of the file that  brewfuncs excel install  wrote into the user's own folder.
Private Function Setting(ByVal wanted As String) As String
    Dim path As String, number As Integer, found As String, content As String
    path = Environ$("USERPROFILE") & "\\@SETTINGS@"
    If Dir$(path) = "" Then
        Err.Raise 1003, Description:="brewfuncs is not set up on this computer; " & _
            "install Python and brewfuncs, then run  brewfuncs excel install"
    End If
    number = FreeFile
    Open path For Input As #number
    Do Until EOF(number)
        Input #number, found, content
        If found = wanted Then Setting = content
    Loop
    Close #number
End Function
"""


def notice() -> str:
    """xlwings' licence, which goes with whatever holds code of it."""
    return (Path(__file__).parent / "xlwings_notice.txt").read_text(encoding="utf-8")


def start_command(interpreter: PurePath) -> str:
    """What xlwings' DLL is given to start; $(CLSID) is the DLL's to fill in."""
    return f'"{interpreter}" {" ".join(FLAGS)} -c "{_SERVE}"'


def modules(functions: Iterable[Function] | None = None) -> dict[str, str]:
    """The VBA modules by name, as the VBA editor exports them."""
    functions = CATALOGUE.values() if functions is None else functions
    value = NUMBERS["#VALUE!"]
    fill = {
        "@VERSION@": __version__,
        "@MODULE@": "brewfuncs.hosts.excel",
        "@VALUE@": str(value),
        "@OMITTED@": OMITTED[1:],
        "@XLWINGS@": XLWINGS,
        "@SETTINGS@": "\\".join(SETTINGS),
        "@FLAGS@": " ".join(FLAGS),
        "@SERVE@": _SERVE,
        "@FROM STORE@": FROM_STORE,
    }

    def filled(text: str) -> str:
        return re.sub("@[A-Z ]+@", lambda match: fill[match[0]], text)

    licence = "".join(f"' {line}".rstrip() + "\n" for line in notice().splitlines())
    texts = {
        "brew_functions": "Option Explicit\n\n" + filled(_HELPERS) + "\n" + "\n".join(map(_function, functions)),
        "brew_server": licence + "\nOption Explicit\n" + filled(_SERVER),
    }
    return {name: f'Attribute VB_Name = "{name}"\n{text}'.replace("\n", "\r\n") for name, text in texts.items()}


def _function(function: Function) -> str:
    """One worksheet function.

    Every parameter is Optional: which must be given is Python's to say, with a sentence. (VBA allows no Optional beside
    a ParamArray.)
    """
    name, names = function.name, [p.name for p in function.params]
    if function.variable:
        first, rest = names[:-1], names[-1]
        signature = ", ".join([*(f"{p} As Variant" for p in first), f"ParamArray {rest}() As Variant"])
        body = [
            "    Dim given() As Variant, i As Long",
            f"    ReDim given(0 To UBound({rest}) + {len(first)})",
            *(f"    given({i}) = Incoming({p})" for i, p in enumerate(first)),
            f"    For i = 0 To UBound({rest})",
            f"        given(i + {len(first)}) = Incoming({rest}(i))",
            "    Next i",
            f'    {name} = Ask("{name}", given)',
        ]
    else:
        signature = ", ".join(f"Optional {p} As Variant" for p in names)
        body = [f'    {name} = Ask("{name}", Array({", ".join(f"Incoming({p})" for p in names)}))']
    said = function.summary.replace('"', '""')
    lines = [
        f"Public Function {name}({signature}) As Variant",
        f'Attribute {name}.VB_Description = "{said}"',
        rf'Attribute {name}.VB_ProcData.VB_Invoke_Func = " \n14"',  # 14: the category "User Defined"
        *body,
        "End Function",
    ]
    return "".join(_wrapped(line) + "\n" for line in lines)


def _wrapped(line: str, width: int = 120) -> str:
    """A long line continued after commas; a string is never broken, nor an Attribute line."""
    pieces, indent = [], ""
    while len(indent + line) > width and not line.startswith("Attribute"):
        cut = line.rfind(", ", 0, width - len(indent)) + 2
        if cut < 2:
            break
        pieces.append(indent + line[:cut] + "_\n")
        line, indent = line[cut:], "        "
    return "".join(pieces) + indent + line


# -- what can be wrong -----------------------------------------------------------------------------------------------

#: Words that can't name an argument: the reserved identifiers of [MS-VBAL] 3.3.5.2 (from memory), and words that are
#: reserved in some places only, which are better left alone
_RESERVED_WORDS = """
    abs addressof alias and any append array as attribute base beep binary boolean byref byte byval call case
    cbool cbyte ccur cdate cdbl cdec cdecl cint circle clng clnglng clngptr close compare const csng cstr
    currency cvar cverr database date debug decimal declare defbool defbyte defcur defdate defdbl defdec defint
    deflng deflnglng deflngptr defobj defsng defstr defvar dim do doevents double each else elseif empty end
    endif enum eqv erase error event exit explicit false fix for friend function get global go gosub goto if imp
    implements in input inputb int integer is lbound len lenb let lib like line linput local lock long longlong
    longptr loop lset me mid midb mod module name new next not nothing null object off on open option optional
    or output paramarray preserve print private property pset ptrsafe public put raiseevent random randomize
    read redim rem reset resume return rset scale seek select set sgn shared single spc static step stop string
    sub tab text then time to true type typeof ubound unlock until variant version wend while width with
    withevents write xor
"""
_RESERVED = frozenset(_RESERVED_WORDS.split())
#: what the body of a generated function calls or declares; an argument of that name would hide it
_USED = frozenset({"array", "ask", "given", "i", "incoming", "ubound"})
#: functions of Excel that openpyxl's list doesn't have
_NEWER_WORDS = """
    ACOT ACOTH AGGREGATE ARABIC ARRAYTOTEXT BASE BYCOL BYROW CHOOSECOLS CHOOSEROWS COMBINA CONCAT COPILOT COT
    COTH CSC CSCH DAYS DECIMAL DETECTLANGUAGE DROP EXPAND FIELDVALUE FILTER FILTERXML FORMULATEXT GAMMA GAUSS
    GROUPBY HSTACK IFNA IFS IMAGE ISFORMULA ISOWEEKNUM LAMBDA LET MAKEARRAY MAP MAXIFS MINIFS MUNIT NUMBERVALUE
    PDURATION PERCENTOF PHI PIVOTBY PY RANDARRAY REDUCE REGEXEXTRACT REGEXREPLACE REGEXTEST RRI SCAN SEC SECH
    SEQUENCE SHEET SHEETS SINGLE SORT SORTBY STOCKHISTORY SWITCH TAKE TEXTAFTER TEXTBEFORE TEXTJOIN TEXTSPLIT
    TOCOL TOROW TRANSLATE TRIMRANGE UNICHAR UNICODE UNIQUE VALUETOTEXT VSTACK WEBSERVICE WRAPCOLS WRAPROWS
    XLOOKUP XMATCH XOR
"""
_NEWER = frozenset(_NEWER_WORDS.split())


def lint(functions: Iterable[Function] | None = None) -> list[str]:
    """What Excel or VBA would trip over in the names and texts of these functions; [] where all is well."""
    functions = list(CATALOGUE.values() if functions is None else functions)
    found = [problem for function in functions for problem in _problems(function)]
    seen: dict[str, str] = {"brew_status": "BREW_STATUS", "brew_functions": "a module", "brew_server": "a module"}
    for function in functions:
        folded = function.name.casefold()
        if folded in seen:
            found.append(f"{function.name}: the same name as {seen[folded]} to VBA")
        seen[folded] = function.name
    for module, text in modules(functions).items():
        found += [f"{module}: {problem}" for problem in _source_problems(text)]
    return found


def _problems(function: Function) -> Iterator[str]:
    from openpyxl.utils import FORMULAE

    name = function.name
    if not _is_identifier(name):
        yield f"{name}: not a name in VBA"
    if name.casefold() in _RESERVED or name.casefold() in _USED:
        yield f"{name}: VBA has a meaning for the name"
    if _looks_like_cell(name):
        yield f"{name}: looks like a cell"
    if name in FORMULAE or name in _NEWER:
        yield f"{name}: Excel's own function goes first"
    if len(function.summary) > 255:
        yield f"{name}: the description is longer than 255 characters"
    if len(function.params) > 60:
        yield f"{name}: more than 60 arguments"
    seen: set[str] = {name.casefold()}
    for parameter in function.params:
        folded = parameter.name.casefold()
        if not _is_identifier(parameter.name):
            yield f"{name}: {parameter.name} is not a name in VBA"
        if folded in _RESERVED:
            yield f"{name}: {parameter.name} is a reserved word in VBA"
        if folded in _USED:
            yield f"{name}: {parameter.name} hides what the code calls"
        if folded in seen:
            yield f"{name}: {parameter.name} is taken, since VBA doesn't tell capitals from small letters"
        seen.add(folded)


def _is_identifier(name: str) -> bool:
    return re.fullmatch(r"[A-Za-z][A-Za-z0-9_]{0,254}", name) is not None


def _looks_like_cell(name: str) -> bool:
    """SRM1, R1C1, RC, C5: Excel reads a cell."""
    if re.fullmatch(r"R\d*(C\d*)?|C\d*", name, re.IGNORECASE):
        return True
    try:
        parse_address(name)
    except WorkbookError:
        return False
    return True


def _source_problems(text: str) -> Iterator[str]:
    """Limits of the VBA editor: 1,023 characters a line, 24 continuations, one code page."""
    try:
        text.encode(CODE_PAGE)
    except UnicodeEncodeError as error:
        yield f"{error.object[error.start : error.end]!r} is not in the code page"
    continued = 0
    for number, line in enumerate(text.split("\r\n"), 1):
        if len(line) > 1023:
            yield f"line {number} is longer than 1023 characters"
        continued = continued + 1 if line.endswith(" _") else 0
        if continued > 24:
            yield f"line {number} is continued for the 25th time"
