"""The batch workbook: its plan, its sheets and the generator that makes it."""
