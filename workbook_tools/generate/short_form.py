"""Short forms: which sheets a form shows where only some tests are wanted.

sheets_for("vacuum, compression")       names of the sheets to show, for new_workbook(sheets=...)
"""

from __future__ import annotations

from workbook_tools.errors import BadRequest
from workbook_tools.form.all_sheets import SHOWN as SHEETS

#: Shown in every form: whose engine it is, whether it is ready to be tested, what came of it, what is dangerous.
ALWAYS = ("Start", "Job", "Engine", "Warm-up", "Customer", "Cautions")
TESTS = tuple(sheet.name for sheet in SHEETS if sheet.name not in ALWAYS)


def sheets_for(tests: str) -> tuple[str, ...]:
    """The sheets of the tests named, between commas, and those of every form, in the order of the work.

    A name may be shortened as long as one sheet fits: `fuel` is Fuel and air, `plugs` Spark plugs. Raises BadRequest for a name that
    fits no sheet or several.
    """
    names = [each.strip() for each in tests.split(",") if each.strip()]
    if not names:
        raise BadRequest(f"Name the tests that are wanted, between commas: {_listed()}.")
    wanted = {_sheet(name) for name in names}
    return tuple(sheet.name for sheet in SHEETS if sheet.name in wanted or sheet.name in ALWAYS)


def _sheet(asked: str) -> str:
    name = asked.lower()
    exact = [sheet.name for sheet in SHEETS if sheet.name.lower() == name]
    fitting = exact or [test for test in TESTS if any(word.startswith(name) for word in test.lower().split())]
    if len(fitting) != 1:
        problem = "fits several sheets" if fitting else "is no sheet of the form"
        raise BadRequest(f"{asked} {problem}; name one of {_listed()}.")
    return fitting[0]


def _listed() -> str:
    return ", ".join(test.lower() for test in TESTS)
