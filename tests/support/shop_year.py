"""A year of a shop that does not exist, month by month: `python -m tests.support.shop_year FOLDER --jobs 400`.

Three technicians, invoices numbered through with two numbers left out and one used twice, bills paid on the form or in the
bookkeeper's column, files renamed, lost and written over, a bill whose total somebody typed over, and an engine that comes
back with less compression each time. Each month the bookkeeper makes the register; what it should say is worked out
here from what was typed, with decimals, and summed by pandas.
"""

from __future__ import annotations

import argparse
import datetime as dt
import random
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pandas as pd
from openpyxl import load_workbook

from tests.support.many_jobs import Engine, engines, filled_bytes, readings
from workbook_tools.form import the_form
from workbook_tools.register.make import RegisterMade, make_register

YEAR, TECHNICIANS = 2025, ("Technician A (invented)", "Technician B (invented)", "Technician C (invented)")
SKIPPED, TWICE = (17, 31), 23
CENT = Decimal("0.01")


@dataclass
class ShopYear:
    """The folder, what was done in it, and each month's register."""

    folder: Path
    bills: list[dict[str, object]] = field(default_factory=list)
    registers: list[RegisterMade] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    renamed: list[str] = field(default_factory=list)
    typed_over: str = ""
    paid_by_hand: dict[str, dt.date] = field(default_factory=dict)

    @property
    def expected(self) -> pd.DataFrame:
        """Gross, paid and open by month, in cents."""
        bills = pd.DataFrame(self.bills)
        paid = [bill["paid_on"] or self.paid_by_hand.get(str(bill["job"])) for bill in self.bills]
        bills["paid"] = [gross if day else 0 for gross, day in zip(bills["gross"], paid, strict=True)]
        bills["open"] = bills["gross"] - bills["paid"]
        return bills.groupby("month")[["gross", "tax", "paid", "open"]].sum()


def bill_of(typed: dict[str, object]) -> tuple[int, int]:
    """Tax and gross in cents, line by line: each line rounded once, tax on the parts."""
    parts = labour = Decimal(0)
    rate = Decimal(str(typed["labour_rate"]))
    for line in range(1, 21):
        quantity, price = typed.get(f"quantity_{line}"), typed.get(f"unit_price_{line}")
        hours = typed.get(f"hours_{line}")
        of_parts = Decimal(str(quantity)) * Decimal(str(price)) if quantity is not None else Decimal(0)
        of_labour = Decimal(str(hours)) * rate if hours is not None else Decimal(0)
        whole = (of_parts + of_labour).quantize(CENT, ROUND_HALF_UP)
        parts += of_parts.quantize(CENT, ROUND_HALF_UP)
        labour += whole - of_parts.quantize(CENT, ROUND_HALF_UP)
    tax = (parts * Decimal(str(typed["tax_percent"])) / 100).quantize(CENT, ROUND_HALF_UP)
    return int(tax * 100), int((parts + labour + tax) * 100)


def play(folder: Path, count: int, seed: int = 3) -> ShopYear:
    """Play the year with that many jobs."""
    chance = random.Random(seed)
    year = ShopYear(folder)
    (folder / "jobs").mkdir(parents=True)
    fleet = engines(max(count // 3, 6), chance)
    worn = fleet[0]
    worn.compression, worn.unit, worn.odometer = [150.0] * worn.cylinders, "mi", 60_000
    worn_visits = 0
    for month in range(1, 13):
        share = count * month // 12 - count * (month - 1) // 12
        for _ in range(share):
            number = len(year.bills) + 1
            engine = chance.choice(fleet[1:])
            came = dt.date(YEAR, month, chance.randrange(1, 22))
            if worn_visits < 4 and month % 3 == 1 and not any(b["worn"] == month for b in year.bills):
                engine, worn_visits = worn, worn_visits + 1
                worn.odometer += 6_000
                worn.compression = [150 - (worn.odometer - 60_000) / 1000] * worn.cylinders
            _job(year, engine, number, came, month, chance, worn)
        _disturb(year, month, chance)
        made = make_register(
            folder / "jobs",
            folder / "register.xlsx",
            today=dt.date(YEAR, month, 28),
            csv_dir=folder / "tables",
        )
        year.registers.append(made)
        _pay_by_hand(year, made.out, month, chance)
    year.registers.append(
        make_register(
            folder / "jobs", folder / "register.xlsx", today=dt.date(YEAR, 12, 31), csv_dir=folder / "tables"
        )
    )
    return year


def _job(
    year: ShopYear,
    engine: Engine,
    number: int,
    came: dt.date,
    month: int,
    chance: random.Random,
    worn: Engine,
) -> None:
    typed = readings(engine, number, came, chance)
    for name in [
        name for name in typed if engine is worn and name.split("_")[0] in ("after", "work", "concluded")
    ]:
        del typed[name]
    if engine is worn:
        for cylinder, value in enumerate(engine.compression, start=1):
            typed[f"compression_dry_{cylinder}"] = round(value)
            typed.pop(f"compression_wet_{cylinder}", None)
        typed |= {"timing": 6}
    invoice = number - 1 if number == TWICE + 1 else number
    left = typed["date_out"]
    assert isinstance(left, dt.date)
    paid = left + dt.timedelta(chance.randrange(0, 20)) if chance.random() < 0.5 else None
    typed |= {
        "technician": TECHNICIANS[number % 3],
        "invoice_number": "" if number in SKIPPED else f"R-{YEAR}-{invoice:04d}",
        "invoice_date": left + dt.timedelta(1) if number % 2 else None,
        "paid_on": paid,
    }
    if number in SKIPPED:
        typed["invoice_number"] = f"R-{YEAR}-{invoice + 5000:04d}" if number == SKIPPED[0] else "by hand"
    (year.folder / "jobs" / f"{typed['job_number']}.xlsx").write_bytes(filled_bytes(engine, typed))
    tax, gross = bill_of(typed)
    day = typed["invoice_date"] or left
    assert isinstance(day, dt.date)
    year.bills.append(
        {
            "job": typed["job_number"],
            "month": f"{day:%Y-%m}",
            "tax": tax,
            "gross": gross,
            "paid_on": paid,
            "worn": month if engine is worn else 0,
        }
    )


def _disturb(year: ShopYear, month: int, chance: random.Random) -> None:
    """What happens to files: one is lost, one renamed, one bill's total typed over."""
    # Files that the register has seen: another was never there for the bookkeeper.
    seen = {str(bill["job"]) for bill in year.bills[: year.registers[-1].jobs if year.registers else 0]}
    jobs = [path for path in sorted((year.folder / "jobs").glob("*.xlsx")) if path.stem in seen]
    if month in (4, 9):
        gone = chance.choice(jobs)
        year.lost.append(gone.stem)
        gone.unlink()
        jobs.remove(gone)
    if month in (5, 10):
        moved = chance.choice(jobs)
        (year.folder / "jobs" / "done").mkdir(exist_ok=True)
        moved.rename(year.folder / "jobs" / "done" / f"renamed {moved.name}")
        year.renamed.append(moved.stem)
        jobs.remove(moved)
    if month == 6:
        path = jobs[0]
        book = load_workbook(path)
        sheet, address = book.defined_names["bill_total"].attr_text.replace("$", "").split("!")
        book[sheet.strip("'")][address] = 1
        book.save(path)
        year.typed_over = path.stem


def _pay_by_hand(year: ShopYear, register: Path, month: int, chance: random.Random) -> None:
    """The bookkeeper types a day beside a job or two that are not paid yet."""
    book = load_workbook(register)
    page = book["Jobs"]
    heads = {cell.value: cell.column for cell in page[4]}
    unpaid = [row for row in range(5, page.max_row + 1) if page.cell(row, heads["Paid on"]).value is None]
    for row in chance.sample(unpaid, min(2, len(unpaid))):
        day = dt.date(YEAR, month, 27)
        page.cell(row, heads["Paid on"]).value = day
        page.cell(row, heads["Paid on"]).number_format = "yyyy-mm-dd"
        year.paid_by_hand[str(page.cell(row, heads["Job"]).value)] = day
    book.save(register)


def main() -> None:
    """Play it, and say what the registers said."""
    asked = argparse.ArgumentParser(description="Play a year of an invented shop.")
    asked.add_argument("folder", type=Path)
    asked.add_argument("--jobs", type=int, default=400)
    options = asked.parse_args()
    year = play(options.folder, options.jobs)
    for made in year.registers:
        print(made.jobs, "jobs", made.open_points, "open points", made.gone, made.moved, made.missing)
    told = pd.read_csv(options.folder / "tables" / "months.csv")
    print(year.expected)
    print(told)
    print("lost", year.lost, "renamed", year.renamed, "typed over", year.typed_over)


assert the_form.FORM_VERSION >= 4

if __name__ == "__main__":
    main()
