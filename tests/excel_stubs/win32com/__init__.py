"""Stands in for pywin32's win32com; see README.md here."""
