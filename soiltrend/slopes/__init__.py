"""Slopes of many short series at once, with exact chances: the arithmetic beneath trend and drift."""
