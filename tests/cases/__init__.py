"""Whole-job cases, written from the trade: readings in, findings and discrepancies out (`*.toml`; `cases.py` reads them)."""
