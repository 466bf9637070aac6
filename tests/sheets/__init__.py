"""Spreadsheets out and in."""
