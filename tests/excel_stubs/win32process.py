"""Stands in for a module of pywin32 that is imported and not used; see README.md here."""
