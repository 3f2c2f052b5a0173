"""Brewing formulas as spreadsheet functions that can be trusted."""

__version__ = "0.1.0"
