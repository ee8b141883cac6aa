"""The pure-Python formula engine calculates as spreadsheet programs do, function by function.

Expected values are LibreOffice 7.4's, which the second test calculates anew wherever it is installed.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
import xlsxwriter

from tests.support.office import CellError, Office, Value
from tests.support.pure_formulas import FormulaError, Model, evaluate

ENTRIES = {"a": 2.5, "b": 1.5, "empty": None, "word": "Steady", "digits": "12", "day": 46000}
COLUMNS = {
    "readings": [1, 2, None, "text", 4, 2.5],
    "shares": [0.1, 0.2, 0.3, 0.4, 0.5, 0.6],
    "marks": ["low", "ok", None, "Low", "12", None],
    "blanks": [None] * 6,
}

#: Formula over the names above, and what a spreadsheet program shows for it.
CASES: tuple[tuple[str, Value], ...] = (
    ("ROUND(1.005,2)", 1.01),
    ("ROUND(2.5,0)", 3),
    ("ROUND(-2.5,0)", -3),
    ("ROUND(0.285,2)", 0.29),
    ("ROUND(1255,-1)", 1260),
    ("ROUND(a*1.1,6)", 2.75),
    ("ROUND(empty,2)", 0),
    ("ROUND(word,2)", CellError("#VALUE!")),
    ("COUNT(readings)", 4),
    ("COUNT(a,b,empty,word)", 2),
    ("COUNT(digits)", 0),
    ("COUNT(quiet)", 0),
    ("COUNT(blanks)", 0),
    ("COUNT(marks)", 0),
    ("MIN(readings)", 1),
    ("MAX(readings)", 4),
    ("MAX(blanks)", 0),
    ("SUM(readings)", 9.5),
    ("SUM(readings,shares)", 11.6),
    ("SUM(word)", 0),
    ("SUM(digits)", 0),
    ("SUM(quiet)", 0),
    ("MEDIAN(readings)", 2.25),
    ("MEDIAN(a,b,0)", 1.5),
    ("AVERAGE(readings)", 2.375),
    ("ABS(b-a)", 1),
    ("AVERAGE(blanks)", CellError("#DIV/0!")),
    ("AND(a>1,b>1)", 1),
    ("AND(a>1,b>2)", 0),
    ('OR(word="x",a=0)', 0),
    ('OR(word="x",a>0)', 1),
    ("NOT(a)", 0),
    ("NOT(empty)", 1),
    ("N(a)", 2.5),
    ("N(word)", 0),
    ("N(quiet)", 0),
    ("ISNUMBER(a)", 1),
    ("ISNUMBER(digits)", 0),
    ("ISNUMBER(empty)", 0),
    ("ISNUMBER(quiet)", 0),
    ('COUNTIF(readings,">2")', 2),
    ('COUNTIF(readings,"="&a)', 1),
    ('COUNTIF(readings,"TEXT")', 1),
    ('COUNTIF(marks,"low")', 2),
    ('COUNTIF(blanks,"low")', 0),
    ('COUNTIF(shares,"<"&b/5)', 2),
    ("INDEX(readings,2)", 2),
    ("INDEX(shares,MATCH(MAX(readings),readings,0))", 0.5),
    ("INDEX(readings,3)", 0),
    ('MATCH("TEXT",readings,0)', 4),
    ('MATCH("no",readings,0)', CellError("#N/A")),
    ("MATCH(2.5,shares,1)", 6),
    ("SMALL(readings,2)", 2),
    ("LARGE(readings,2)", 2.5),
    ("SQRT(a)", 2.5**0.5),
    ("a^2", 6.25),
    ("-a^2", 6.25),
    ('word&"!"', "Steady!"),
    ('a&" psi"', "2.5 psi"),
    ('150&""', "150"),
    ('a/3&""', "0.833333333333333"),
    ('empty&"x"', "x"),
    ('"say ""°F"""&quiet', 'say "°F"'),
    ('TEXT(a,"0")', "3"),
    ('TEXT(b,"0.00")', "1.50"),
    ('word="STEADY"', 1),
    ('empty=""', 1),
    ('quiet=""', 1),
    ("empty=0", 1),
    ("quiet=0", 0),
    ("quiet>80", 1),
    ("digits=12", 0),
    ("digits+1", 13),
    ("word+1", CellError("#VALUE!")),
    ("quiet+1", CellError("#VALUE!")),
    ("1/0", CellError("#DIV/0!")),
    ("1/empty", CellError("#DIV/0!")),
    ("0.1+0.2=0.3", 1),
    ("0.1+0.2>0.3", 0),
    ('IF(COUNT(empty)=0,"",1/empty)', ""),
    ('IF(a>1,"yes","no")', "yes"),
    ("IF(empty,1,2)", 2),
    ("IF(a,1,2)", 1),
    ("IF(word,1,2)", CellError("#VALUE!")),
    ('IF(AND(COUNT(a)=1,OR(word="x",word="steady")),"ok","no")', "ok"),
    ("SUMPRODUCT((shares>0.25)*(shares<0.55))", 3),
    ('SUMPRODUCT(--(marks="low"))', 2),
    ("(a>1)+(b>1)", 2),
    ("SIN(RADIANS(30))", 0.5),
    ("COS(0)", 1),
    ("1E15+a", 1000000000000002.5),
    ("half*a", 1.25),
    ("day+1", 46001),
    ("Entries!$A$1*'Entries'!A2", 3.75),
)


def build(path: Path, formulas: dict[str, str]) -> Path:
    """A workbook with ENTRIES and COLUMNS on one sheet, and named formulas on another."""
    with xlsxwriter.Workbook(path) as book:
        entries, results = book.add_worksheet("Entries"), book.add_worksheet("The results")
        for row, (name, value) in enumerate(ENTRIES.items()):
            _write(entries, row, 0, value)
            book.define_name(name, f"=Entries!$A${row + 1}")
        for column, (name, values) in enumerate(COLUMNS.items(), start=1):
            for row, value in enumerate(values):
                _write(entries, row, column, value)
            letter = "ABCDE"[column]
            book.define_name(name, f"=Entries!${letter}$1:${letter}${len(values)}")
        book.define_name("half", "=0.5")
        for row, (name, formula) in enumerate({"quiet": '""', **formulas}.items()):
            results.write_formula(row, 0, "=" + formula, None, "not calculated")
            book.define_name(name, f"='The results'!$A${row + 1}")
    return path


def _write(sheet: xlsxwriter.worksheet.Worksheet, row: int, column: int, value: float | str | None) -> None:
    if isinstance(value, str):
        sheet.write_string(row, column, value)
    elif value is not None:
        sheet.write_number(row, column, value)


@pytest.fixture(scope="module")
def case_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All cases in one workbook, as case_0, case_1 and so on."""
    formulas = {f"case_{number}": formula for number, (formula, _) in enumerate(CASES)}
    return build(tmp_path_factory.mktemp("pure") / "cases.xlsx", formulas)


def _differences(values: dict[str, Value]) -> dict[str, tuple[Value, Value]]:
    return {
        formula: (values[f"case_{number}"], expected)
        for number, (formula, expected) in enumerate(CASES)
        if values[f"case_{number}"]
        != (pytest.approx(expected, rel=1e-12) if isinstance(expected, float) else expected)
    }


def test_pure_engine_calculates_every_case(case_book: Path) -> None:
    """Each formula gives the number, text or error that a spreadsheet program shows."""
    assert _differences(evaluate(case_book)) == {}


def test_office_calculates_every_case(office: Office, case_book: Path) -> None:
    """LibreOffice gives the same for each, so that the expected values are not ours."""
    assert _differences(office.read_names(case_book)) == {}


def test_entries_replace_contents_for_one_evaluation(tmp_path: Path) -> None:
    """Entries reach every dependent cell, may type over a formula, and are gone in the next evaluation."""
    path = build(
        tmp_path / "book.xlsx", {"double": "a*2", "fourfold": "double*2", "count": "COUNT(readings)"}
    )
    model = Model(path)
    assert model.evaluate({"a": 10}, ["fourfold", "a"]) == {"fourfold": 40, "a": 10}
    assert model.evaluate({"double": 7}, ["fourfold", "a"]) == {"fourfold": 14, "a": 2.5}
    assert model.evaluate({"a": None, "day": dt.date(2031, 2, 28)}, ["fourfold", "a", "day"]) == {
        "fourfold": 0,
        "a": None,
        "day": 47907,
    }
    assert model.evaluate(names=["fourfold"]) == {"fourfold": 10}


@pytest.mark.parametrize(
    ("formula", "message"),
    [
        ("a+no_such_name", "no_such_name: neither a defined name nor an address"),
        ("1+result", "The results!A2 depends on itself"),
        ("SUM(a", "The results!A2: cannot parse"),
    ],
)
def test_what_cannot_be_calculated_is_named(tmp_path: Path, formula: str, message: str) -> None:
    """An unknown name, a circle and a broken formula are refused with the name or cell."""
    with pytest.raises(FormulaError, match=message):
        evaluate(build(tmp_path / "book.xlsx", {"result": formula}))


def test_a_workbook_saved_by_the_program_calculates_the_same(
    office: Office, case_book: Path, tmp_path: Path
) -> None:
    """The engine reads formulas and names as LibreOffice writes them, too."""
    saved = tmp_path / "saved.xlsx"
    office.resave(case_book, saved)
    assert _differences(evaluate(saved)) == {}
