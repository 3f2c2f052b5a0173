"""The file format: addresses, values, XML, worksheets, the package, formula text; no engine and no batch."""
