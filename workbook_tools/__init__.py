"""Engine-check workbooks: write the form, read it back filled, find the fault and prove it."""

__version__ = "0.1.0"
