"""Workbooks that nobody should have made: refused in a sentence or judged, and never anything else.

The mutations are seeded, so that a failure can be had again. What a spreadsheet shows for such entries (an
error value) is common knowledge of spreadsheets; no figure here comes from the trade.
"""

from __future__ import annotations

import dataclasses
import io
import random
import warnings
import zipfile
from pathlib import Path

import openpyxl
import pytest
from lxml import etree

from tests.support.filled import causes_of, defaults, diagnosis_of, filled, form_with, shape_of
from workbook_tools.checking.check import check_workbook
from workbook_tools.diagnose.conclusions import named_cylinders
from workbook_tools.diagnose.diagnosis import diagnose
from workbook_tools.errors import EngineCheckError
from workbook_tools.form import the_form
from workbook_tools.language.model import Field
from workbook_tools.package.parts import q

FILLED = Path(__file__).parents[1] / "sample_workbooks" / "filled" / "S-101-pump-burned-valve.xlsx"
FILES = 3
FORMS = 25

#: Cell type (ECMA-376 part 1, 18.18.11, from memory) and value.
CELLS = (
    ("n", "1e308"),
    ("n", "-1e308"),
    ("n", "-0"),
    ("n", "NaN"),
    ("n", "1e-300"),
    ("b", "1"),
    ("e", "#N/A"),
    ("d", "2026-01-05"),
    ("str", "=1+1"),
    ("str", "9" * 5000),
    ("str", "x" * 33000),
    ("str", "_x0000_"),
    ("str", "1/0"),
)
ENTRIES = (
    *("145 psi", "1,5", "1,450", "~12", "18 thou", "1/2", "12-14", ">200", "?", "=1+1", "#N/A", "1e999"),
    *("9" * 5000, "12:30", "5 €", "1/0", "", "²", "٣"),
    *(0.0, -1.0, 1e308, -1e308, float("nan"), float("inf"), True),
)


def odd_cells(chance: random.Random, data: bytes) -> bytes:
    """The sheets with a share of their stored values replaced, formulas' results among them."""
    share, made = chance.choice((0.02, 0.1, 0.4)), io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as given, zipfile.ZipFile(made, "w") as changed:
        for name in given.namelist():
            part = given.read(name)
            if name.startswith("xl/worksheets/sheet"):
                root = etree.fromstring(part)
                for stored in root.iter(q("v")):
                    if chance.random() < share:
                        kind, stored.text = chance.choice(CELLS)
                        stored.getparent().set("t", kind)
                        if chance.random() < 0.3:
                            for formula in stored.getparent().findall(q("f")):
                                stored.getparent().remove(formula)
                part = etree.tostring(root)
            changed.writestr(name, part)
    return made.getvalue()


def flipped(chance: random.Random, data: bytes) -> bytes:
    """A bit or a few of the file turned over."""
    bits = bytearray(data)
    for _ in range(chance.choice((1, 2, 8))):
        bits[chance.randrange(len(bits))] ^= 1 << chance.randrange(8)
    return bytes(bits)


def cut(chance: random.Random, data: bytes) -> bytes:
    """The beginning of the file alone."""
    return data[: chance.randrange(len(data))]


@pytest.mark.parametrize("seed", range(FILES))
@pytest.mark.parametrize("mutate", [odd_cells, flipped, cut])
def test_odd_file_is_refused_or_judged(mutate: object, seed: int, tmp_path: Path) -> None:
    """A damaged or absurd workbook is refused in one line, or its checked copy opens with its findings sheet."""
    odd = tmp_path / "odd.xlsx"
    odd.write_bytes(mutate(random.Random(seed), FILLED.read_bytes()))  # type: ignore[operator]
    try:
        checked = check_workbook(odd, out_dir=tmp_path / "out")
    except EngineCheckError as refusal:
        assert "\n" not in str(refusal) and "class '" not in str(refusal)
        return
    assert checked.written_to is not None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(checked.written_to)
    assert checked.sheet in book.sheetnames


@pytest.mark.parametrize("cylinders", [1, 2, 3, 4, 16])
def test_odd_entries_are_judged(cylinders: int) -> None:
    """Whatever stands in any share of the cells, results included, the form is judged, and every message is a sentence."""
    chance = random.Random(cylinders)
    shape = shape_of(cylinders)
    fields = [name for name, cell in the_form.cells(shape).items() if isinstance(cell.item, Field)]
    form = form_with(shape, defaults(shape))
    for _ in range(FORMS):
        cells = dict(form.cells)
        for name in chance.sample(fields, min(len(fields), chance.choice((1, 20, 150)))):
            cells[name] = cells[name]._replace(raw=chance.choice(ENTRIES))
        for name in chance.sample(sorted(form.computed), chance.choice((0, 3, 40))):
            cells[name] = cells[name]._replace(raw=chance.choice(ENTRIES), formula=None)
        found = diagnose(dataclasses.replace(form, cells=cells))
        for each in found.discrepancies:
            assert each.message.endswith("."), each.message
            assert len(each.message) < 700, each.message


def test_typed_over_fault_word() -> None:
    """A word typed over the working cell that names the fault is reported, and nothing rests on it."""
    form = filled(healthy_engine=True)
    typed_over = form.cells["fuel_and_air_fault"]._replace(raw="not sure", formula=None)
    found = diagnose(dataclasses.replace(form, cells={**form.cells, "fuel_and_air_fault": typed_over}))
    assert [each.field for each in found.discrepancies if each.kind == "formula_replaced"] == [
        "fuel_and_air_fault"
    ]
    assert dict(found.states) == dict(diagnose(form).states)


def test_endless_number_names_no_cylinder() -> None:
    """A number longer than any that Python turns into an integer is no cylinder."""
    assert str(named_cylinders("9" * 5000, 4)).endswith("names no cylinders")


@pytest.mark.parametrize(
    ("entries", "said"),
    [
        ({"odometer": "123,456,789"}, "type 123456789 alone"),
        ({"compression_dry_1": "9,8 bar"}, "type 142.137 alone"),
        ({"oil_pressure": -42.0}, "look at the gauge again"),
        ({"spec_cranking_vacuum_min": -15.0}, "look it up again"),
    ],
)
def test_messages_say_what_to_do(entries: dict[str, object], said: str) -> None:
    """Figures are written as they are to be typed, and a figure from the manual is not looked up on a gauge."""
    messages = [each.message for each in diagnosis_of(healthy_engine=True, **entries).discrepancies]
    assert any(said in message for message in messages), messages


def test_all_but_one_low_is_said_so() -> None:
    """Where one cylinder is sound it is not called low with the others, nor is its reading theirs."""
    found = diagnosis_of(healthy_engine=True, compression_dry=(100, 101, 102, 150))
    said = [each.statement for each in found.findings if each.cause in ("general_wear", "valve_timing")]
    assert said, causes_of(found)
    assert all("All cylinders but cylinder 4 are low (100 psi to 102 psi" in each for each in said), said
