"""The sheets of the batch workbook, a module a sheet."""
