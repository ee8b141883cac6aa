"""A year of an invented shop, month by month: no job and no cent is lost, and the bookkeeper is told what to ask."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from tests.support.shop_year import SKIPPED, TWICE, YEAR, play
from tests.test_register_book import rows


def test_a_year_month_by_month(tmp_path: Path) -> None:
    year = play(tmp_path, 36)
    last = year.registers[-1]
    assert last.jobs == 36 and last.missing == len(year.lost) == 2
    assert [made.jobs for made in year.registers[:12]] == [36 * month // 12 for month in range(1, 13)]
    assert sum(len(made.moved) for made in year.registers) == len(year.renamed) == 2
    assert [len(made.gone) for made in year.registers].count(1) == 2
    told = pd.read_csv(tmp_path / "tables" / "months.csv").set_index("month")
    expected = year.expected
    for name, heading in (("gross", "total"), ("tax", "tax"), ("paid", "paid"), ("open", "open")):
        cents = (told[heading] * 100).round().astype(int)
        assert cents[cents != 0].to_dict() == expected[name][expected[name] != 0].to_dict(), name
    points = rows(last.out, "Open points")
    kinds = {row["Kind"] for row in points}
    assert {"invoice number twice", "invoice numbers missing", "formula replaced"} <= kinds
    missing = " ".join(str(row["What is open"]) for row in points if row["Kind"] == "invoice numbers missing")
    assert f"R-{YEAR}-{SKIPPED[1]:04d}" in missing
    twice = [row for row in points if row["Kind"] == "invoice number twice"]
    assert {row["Job"] for row in twice} == {f"J-{TWICE:05d}", f"J-{TWICE + 1:05d}"}
    assert any(row["Outlook"] for row in rows(last.out, "Engines"))
    assert {row["Technician"] for row in rows(last.out, "Technicians")} == {
        f"Technician {name} (invented)" for name in "ABC"
    }
