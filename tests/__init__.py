"""Tests, in the shape of the package."""
