"""Sheet Cautions: every caution of the form in one place, to read before the work begins."""

from __future__ import annotations

from workbook_tools.language.model import Notes, Sheet
from workbook_tools.sheets.cautions import CAUTIONS, DEFER

CAUTIONS_SHEET = Sheet(
    name="Cautions",
    purpose="Read these before the work begins. Each stands again at the step that needs it.",
    cost="5 minutes",
    parts=(
        Notes("Cautions", tuple(CAUTIONS.values())),
        Notes("What comes first", (DEFER,)),
    ),
)
