"""Lambda and the doubt about a shifted point, tried on real exhaust records.

    python -m tests.benchmarks.lambda_on_records RECORDS.csv

RECORDS.csv has one petrol car a line, with the columns `source_line`, `raised_co`, `raised_co2`, `raised_o2`
(% vol), `raised_hc_ppm` (as hexane) and `raised_lambda`, decimal commas or points. Such records are open data
of the Estonian Road Administration (GitHub maanteeamet/opendata, MIT licence, file
LIIKLUSREGISTER/tüp_heitmed.csv),
with the columns renamed so; they are not kept here.

What is a slip is decided by the lambda that the analyser recorded, which knows nothing of our rule:

    slip        ten times the typed CO2 is possible (20 % at most) and gives the recorded lambda, and the
                typed CO2 does not
    undecided   ten times is possible, and both give the recorded lambda
    clean       every other record, those included whose recorded lambda fits neither

The recorded lambda was itself computed by the analyser, so that this proves the computation and the handling
of typing slips; the physics is checked with equilibrium chemistry in tests/test_exhaust_gas.py.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from workbook_tools.science.exhaust_gas import MOST_CARBON_SUM, brettschneider_lambda, doubted_co2

AGREEMENT = 0.005
LEAST_SHARE_AGREEING = 0.99
LEAST_SHARE_OF_SLIPS_FOUND = 0.95
MOST_SHARE_OF_CLEAN_FLAGGED = 0.005


@dataclass(frozen=True)
class Record:
    """One inspection: gases in % vol, hydrocarbons in ppm, and the lambda that the analyser recorded."""

    line: str
    co: float
    co2: float
    hc_ppm: float
    o2: float
    recorded: float

    def agrees(self, co2: float) -> bool:
        """Whether the recorded lambda follows from the gases with this CO2 in % vol."""
        found = brettschneider_lambda(self.co, co2, self.hc_ppm, self.o2)
        return found is not None and abs(found - self.recorded) <= AGREEMENT

    def kind(self) -> str:
        """`slip`, `undecided` or `clean`, as the module says."""
        shifted = self.co2 * 10
        if shifted > MOST_CARBON_SUM or not self.agrees(shifted):
            return "clean"
        return "undecided" if self.agrees(self.co2) else "slip"

    def suggestion(self) -> float | None:
        """CO2 in % vol that our rule suggests, or None where it does not doubt the typed one."""
        return doubted_co2(self.co, self.co2, self.o2)


def read_records(path: Path) -> tuple[list[Record], int]:
    """The complete records of a file, and how many were left out for a blank or unreadable figure."""
    records, left_out = [], 0
    with path.open(newline="", encoding="utf-8-sig") as lines:
        for row in csv.DictReader(lines):
            try:
                figures = [
                    float(row[column].strip().replace(",", "."))
                    for column in ("raised_co", "raised_co2", "raised_hc_ppm", "raised_o2", "raised_lambda")
                ]
            except ValueError:
                left_out += 1
                continue
            records.append(Record(row["source_line"], *figures))
    return records, left_out


def share(part: int, whole: int) -> float:
    """Part over whole; none of nothing is 0."""
    return part / whole if whole else 0.0


def report(records: Iterable[Record]) -> tuple[list[str], bool]:
    """The lines to print, and whether all three targets are met."""
    by_kind: dict[str, list[Record]] = {"clean": [], "slip": [], "undecided": []}
    for record in records:
        by_kind[record.kind()].append(record)
    clean, slips, undecided = by_kind["clean"], by_kind["slip"], by_kind["undecided"]
    agreeing = sum(record.agrees(record.co2) for record in clean)
    # A slip counts as found only with the suggestion that gives the recorded lambda.
    found = sum(s is not None and record.agrees(s) for record in slips for s in [record.suggestion()])
    flagged = sum(record.suggestion() is not None for record in clean)
    undecided_flagged = sum(record.suggestion() is not None for record in undecided)
    targets = (
        share(agreeing, len(clean)) >= LEAST_SHARE_AGREEING,
        share(found, len(slips)) >= LEAST_SHARE_OF_SLIPS_FOUND,
        bool(clean) and share(flagged, len(clean)) < MOST_SHARE_OF_CLEAN_FLAGGED,
    )
    verdicts = ["met" if target else "MISSED" for target in targets]
    lines = [
        f"clean records: {len(clean)}, slips: {len(slips)}, undecided by lambda: {len(undecided)}",
        f"clean, lambda within {AGREEMENT} of the recorded: {agreeing} of {len(clean)} = "
        f"{share(agreeing, len(clean)):.2%} (target at least {LEAST_SHARE_AGREEING:.0%}: {verdicts[0]})",
        f"slips flagged with the right CO2: {found} of {len(slips)} = {share(found, len(slips)):.2%} "
        f"(target at least {LEAST_SHARE_OF_SLIPS_FOUND:.0%}: {verdicts[1]})",
        f"clean records flagged: {flagged} of {len(clean)} = {share(flagged, len(clean)):.2%} "
        f"(target under {MOST_SHARE_OF_CLEAN_FLAGGED:.1%}: {verdicts[2]})",
        f"undecided records flagged: {undecided_flagged} of {len(undecided)} (no target)",
    ]
    missed = [record.line for record in slips if record.suggestion() is None]
    if missed:
        lines.append(f"slips not flagged, source lines: {', '.join(missed)}")
    return lines, all(targets)


def main() -> int:
    """Print the figures for the file named on the command line; 0 where all targets are met, else 1."""
    parser = argparse.ArgumentParser(description="Lambda and shifted decimal points on real exhaust records.")
    parser.add_argument("records", type=Path, help="CSV of exhaust records")
    records, left_out = read_records(parser.parse_args().records)
    lines, met = report(records)
    print(f"complete records: {len(records)} ({left_out} left out)")
    print("\n".join(lines))
    return 0 if met else 1


if __name__ == "__main__":
    raise SystemExit(main())
