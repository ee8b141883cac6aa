"""Sheet Guide, hidden: what the next test is worked out from, for whoever wants to look, or to argue with the figures."""

from __future__ import annotations

from workbook_tools.guide.choosing import OUTCOME_COLUMNS, TEST_COLUMNS
from workbook_tools.guide.fits import LEARNED_AT_MOST, SLOTS, SUSPECTS
from workbook_tools.guide.suspects import AGAIN_COLUMNS, LEARNED_COLUMNS, SUSPECT_COLUMNS
from workbook_tools.guide.telling import LEAD
from workbook_tools.guide.tests import TESTS
from workbook_tools.language.model import Block, Sheet, Table

GUIDE = Sheet(
    name="Guide",
    purpose="What the next test on Start is worked out from. It ranks; it is not the chance on a real engine.",
    cost="nothing to type; see docs/guide.md",
    parts=(
        Block("What the readings say now", LEAD),
        Table("Suspects", per=len(SUSPECTS), columns=SUSPECT_COLUMNS, row_label="Row"),
        Table("Repairs, by cylinder", per="cylinder", columns=AGAIN_COLUMNS, row_label="Cylinder"),
        Table("Tests", per=len(TESTS), columns=TEST_COLUMNS, row_label="Row"),
        Table("Learned", per=LEARNED_AT_MOST, columns=LEARNED_COLUMNS, row_label="Row"),
        Table("Outcomes", per=len(SLOTS), columns=OUTCOME_COLUMNS, row_label="Row"),
    ),
)
