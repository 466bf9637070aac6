"""Spreadsheets: the record as tables for people, and people's lists as entries of the record.

Nothing here reads or writes a file: bytes come in and go out, and a plan says what would be added.
"""
