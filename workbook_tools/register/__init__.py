"""The register: all jobs of a shop in one workbook, with the history of every engine.

make_register(folder, out)      read what is new, keep it in the store, write the register anew

job files -> records -> store -> frames -> points, engines, summaries -> book
"""

from __future__ import annotations

from workbook_tools.register.make import RegisterMade, make_register

__all__ = ["RegisterMade", "make_register"]
