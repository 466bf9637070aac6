"""Tests of the rule book."""
