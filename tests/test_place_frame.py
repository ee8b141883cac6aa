"""A frame as a sheet in somebody's workbook: values as they were, everything else as it was, and the examples of the docs."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import re
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from tests.place_sheet_samples import parts, rich_host, small_host
from workbook_tools.errors import BadRequest
from workbook_tools.package.cells import SheetCells
from workbook_tools.package.parts import Package
from workbook_tools.report import place_frame

DOCS = Path(__file__).parent.parent / "docs" / "placing-sheets.md"
ODD = ["=1+1", "+1", "@SUM(A1)", "http://no.example", "tab\there", "_x0041_", "café", "'quoted"]


def shown(path: Path, name: str) -> list[tuple[object, ...]]:
    return [tuple(cell.value for cell in row) for row in load_workbook(path)[name].iter_rows()]


def test_a_frame_comes_back_as_it_was(tmp_path: Path) -> None:
    frame = pd.DataFrame(
        {
            "text": ODD,
            "whole": range(8),
            "part": [0.1, None, -3.5, 1e300, 5, 6, 7, 8],
            "day": pd.to_datetime(["2026-03-01"] * 7 + [None]),
            "truth": [True, False] * 4,
            "moment": [dt.datetime(2026, 3, 1, 10, 20, 30)] * 8,
        }
    )
    host = tmp_path / "host.xlsx"
    host.write_bytes(small_host("A"))
    assert place_frame(frame, host, host, "Stock") == "Stock"
    book = load_workbook(host)
    assert book.sheetnames == ["A", "Stock"]
    page = book["Stock"]
    # openpyxl leaves the escapes of the file format as they are, so the texts are read by our own reader.
    cells = SheetCells(Package(host.read_bytes(), str(host)))
    assert [cells.content("Stock", f"A{row}") for row in range(1, 10)] == ["text", *ODD]
    assert {cell.data_type for cell in page["A"]} == {"s"}
    assert [cell.value for cell in page["C"]][1:4] == [0.1, None, -3.5]
    assert page["D2"].value == dt.datetime(2026, 3, 1) and page["D9"].value is None
    assert page["E2"].value is True and page["F2"].value == dt.datetime(2026, 3, 1, 10, 20, 30)
    assert page.freeze_panes == "A2" and page.auto_filter.ref == "A1:F9"


def test_everything_else_is_left_as_it_was(tmp_path: Path) -> None:
    """A workbook with charts, shapes, links and a macro sheet's kin: each part of it is there, byte for byte; twice is once."""
    host = tmp_path / "host.xlsx"
    host.write_bytes(rich_host())
    before = parts(host)
    frame = pd.DataFrame({"a": [1, 2]})
    place_frame(frame, host, tmp_path / "out.xlsx", "Stock")
    after = parts(tmp_path / "out.xlsx")
    index = {
        "[Content_Types].xml",
        "xl/workbook.xml",
        "xl/_rels/workbook.xml.rels",
        "xl/styles.xml",
        "docProps/app.xml",
    }
    assert {name: data for name, data in before.items() if name not in index} == {
        name: after[name] for name in before if name not in index
    }
    place_frame(frame, tmp_path / "out.xlsx", tmp_path / "out.xlsx", "Stock")
    assert parts(tmp_path / "out.xlsx").keys() == after.keys()


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
@given(
    st.lists(
        st.one_of(
            st.none(),
            st.floats(allow_nan=True, allow_infinity=True),
            st.integers(-(10**15), 10**15),
            st.text(max_size=20),
            st.booleans(),
            st.dates(dt.date(1800, 1, 1)),
            st.timedeltas(),
            st.binary(max_size=5),
        ),
        max_size=12,
    ),
    st.booleans(),
)
def test_any_frame_is_a_sheet(tmp_path: Path, values: list[object], index: bool) -> None:
    host = tmp_path / "host.xlsx"
    host.write_bytes(small_host("A"))
    frame = pd.DataFrame({"values": pd.Series(values, dtype=object)})
    name = place_frame(frame, host, tmp_path / "out.xlsx", "Stock", index=index)
    rows = shown(tmp_path / "out.xlsx", name)
    assert len(rows) <= len(values) + 1
    assert not any(
        cell.data_type == "f" for row in load_workbook(tmp_path / "out.xlsx")[name] for cell in row
    )


@pytest.mark.parametrize("name", ["", " ", "a" * 32, "a/b", "what?", "'a'", "[x]"])
def test_a_name_that_no_sheet_can_have_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadRequest, match="give a name"):
        place_frame(pd.DataFrame(), tmp_path / "x.xlsx", tmp_path / "y.xlsx", name)


def test_frames_that_no_sheet_can_hold_are_refused(tmp_path: Path) -> None:
    twice = pd.DataFrame([[1, 2]], columns=["a", "a"])
    wide = pd.DataFrame([range(16_385)])
    for frame in (twice, wide):
        with pytest.raises(BadRequest, match="give"):
            place_frame(frame, tmp_path / "x.xlsx", tmp_path / "y.xlsx", "Stock")


def test_the_examples_of_the_docs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each example runs as it stands, one after the other, and prints what stands below it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "book.xlsx").write_bytes(small_host("A"))
    text = DOCS.read_text(encoding="utf-8")
    examples = re.findall(r"```python\n(.*?)```\n\n`([^`]+)`", text, re.S)
    assert len(examples) == text.count("```python") == 2
    for code, printed in examples:
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            exec(compile(code, str(DOCS), "exec"), {})
        assert out.getvalue().strip() == printed
    assert load_workbook(tmp_path / "book.xlsx").sheetnames == ["A", "Prices"]
