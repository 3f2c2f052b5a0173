' Takes the functions out of a LibreOffice that was started where its Python can't work.
'
' LibreOffice as Linux distributions build it looks for Python's library beside the first python3 of the PATH. Started
' from a shell with a virtual environment it finds one that lacks its own modules, and a component in Python then ends
' in std::bad_alloc, which no program catches: the file that called it can't be opened. That happens before a line of a
' component's own code runs, so this is in Basic. It runs at the start, before any file is loaded: the files then open
' with the values that are stored in them, and a line above the sheet says why nothing is worked out.

Option Explicit

Global off As Boolean

Sub Started(Optional event As Variant)
	Dim services As Variant
	On Error GoTo Leave
	If Not AnotherPython() Then Exit Sub
	If Works() Then Exit Sub
	services = GetProcessServiceManager()
	off = True
	services.remove("{addin}")
	services.remove("{repair}")
Leave:
End Sub

' Whether LibreOffice has no Python of its own, and the first on the PATH is not the system's.
Function AnotherPython() As Boolean
	Dim folder As Variant
	AnotherPython = False
	If GetGUIType() = 1 Then Exit Function
	If Not FileExists(Expanded("$BRAND_BASE_DIR/program/pythonloader.unorc")) Then Exit Function
	If Expanded("${$BRAND_BASE_DIR/program/pythonloader.unorc:PYUNO_LOADER_PYTHONHOME}") <> "" Then Exit Function
	AnotherPython = True
	If Environ("PYTHONHOME") <> "" Or Environ("PYTHONPATH") <> "" Then Exit Function
	For Each folder In Split(Environ("PATH"), ":")
		If folder <> "" Then
			If FileExists(ConvertToURL(folder & "/python3")) Then
				AnotherPython = folder <> "/usr/bin" And folder <> "/bin"
				Exit Function
			End If
		End If
	Next
	AnotherPython = False
End Function

' What the Python in LibreOffice would find, tried in a process of its own. What can't be tried is left as it is.
Function Works() As Boolean
	Dim here As String, answer As Variant, file As Integer, said As String
	Works = True
	If Not FileExists(ConvertToURL("/usr/bin/python3")) Then Exit Function
	here = GetDefaultContext().getValueByName("/singletons/com.sun.star.deployment.PackageInformationProvider").getPackageLocation("{identifier}")
	answer = CreateUnoService("com.sun.star.io.TempFile")
	Shell("/usr/bin/python3", 0, "-I " & Quoted(here & "/probe.py") & Quoted(Expanded("$BRAND_BASE_DIR/program")) & Quoted(answer.Uri), True)
	file = FreeFile
	Open answer.Uri For Input As #file
	If Not EOF(file) Then Line Input #file, said
	Close #file
	Works = said <> "no"
End Function

Function Quoted(url As String) As String
	Quoted = """" & ConvertFromURL(url) & """ "
End Function

Function Expanded(text As String) As String
	Expanded = GetDefaultContext().getValueByName("/singletons/com.sun.star.util.theMacroExpander").expandMacros(text)
End Function

Sub Loaded(event As Variant)
	Dim document As Variant, title As String, reason As String
	On Error GoTo Leave
	If Not off Then Exit Sub
	document = event.Source
	If Not document.supportsService("com.sun.star.sheet.SpreadsheetDocument") Then Exit Sub
	If Not Uses(document) Then Exit Sub
	title = "The brewing functions are off."
	reason = "LibreOffice was started where another Python comes first, such as an active virtual environment; the values are those stored in the file. " & _
		"To work with it, close LibreOffice and start it from the desktop, or leave the environment first (deactivate)."
	document.CurrentController.appendInfobar("brewfuncs", title, reason, com.sun.star.frame.InfobarType.WARNING, Array(), True)
Leave:
End Sub

' Whether a formula of the document calls one of the functions.
Function Uses(document As Variant) As Boolean
	Dim wanted As Variant, number As Integer
	Uses = True
	For number = 0 To document.Sheets.Count - 1
		wanted = document.Sheets(number).createSearchDescriptor()
		wanted.SearchRegularExpression = True
		wanted.SearchString = "\b({groups})_[A-Z0-9_]+\("
		If Not IsNull(document.Sheets(number).findFirst(wanted)) Then Exit Function
	Next
	Uses = False
End Function
