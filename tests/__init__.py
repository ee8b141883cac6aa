"""Tests of the engine-check workbooks."""
