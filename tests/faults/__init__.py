"""Faults: fault levels, devices, conductors; against outside engines, published tables and figures worked by hand."""
