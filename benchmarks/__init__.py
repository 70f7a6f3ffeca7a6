"""Figures on demand: ``python -m benchmarks.NAME``. Never part of the tests."""
