"""The command `new`: writing an empty form."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from workbook_tools.commands.command import UNIT_NAMES, Command, specs_option, units_option
from workbook_tools.commands.speech import DONE, say
from workbook_tools.errors import BadRequest

if TYPE_CHECKING:
    from workbook_tools.guide.fits import Experience


def options(parser: argparse.ArgumentParser) -> None:
    """Arguments of `new`."""
    parser.add_argument("out", type=Path, metavar="OUT.xlsx", help="the form to write")
    parser.add_argument(
        "--engine",
        metavar="NAME",
        help="an engine of the specs book: its cylinders and figures are filled in",
    )
    specs_option(parser, "the specs book: the shop's data and the engine's figures are filled in")
    parser.add_argument("--cylinders", type=int, metavar="N", help="1 to 16 (default 4)")
    parser.add_argument("--banks", help='front to rear, one group a bank: "1-3-5-7 | 2-4-6-8"')
    parser.add_argument("--firing-order", metavar="ORDER", help='as it fires: "1-3-4-2"')
    units_option(parser, "default us, or those of the specs book")
    parser.add_argument(
        "--currency", metavar="SIGN", help="sign before amounts of money (default: the specs book's, or $)"
    )
    parser.add_argument(
        "--tests", metavar="NAMES", help="a short form with these sheets of tests only: vacuum,compression"
    )
    parser.add_argument(
        "--experience",
        metavar="STORE-OR-REGISTER",
        help="put the shop's own proven repairs into the ranking of suspects",
    )
    parser.add_argument("--job", metavar="NUMBER", help="job number, filled in")


def run(asked: argparse.Namespace) -> int:
    """engine-check new"""
    from workbook_tools.generate.short_form import sheets_for
    from workbook_tools.specs.book import read_specs
    from workbook_tools.specs.new_form import USUAL_CYLINDERS, new_workbook

    if asked.out.suffix.lower() != ".xlsx":
        raise BadRequest(f"{asked.out}: a form is written as .xlsx; give a name that ends so.")
    if asked.out.exists():
        raise BadRequest(
            f"{asked.out} is there already, maybe with readings in it; give another name, or move that file."
        )
    specs = None if asked.specs is None else read_specs(asked.specs)
    experience = learned(asked)
    new_workbook(
        asked.out,
        engine=asked.engine,
        specs=specs,
        cylinders=asked.cylinders,
        banks=asked.banks,
        firing_order=asked.firing_order,
        units=asked.units,
        currency=asked.currency,
        job_number=asked.job,
        sheets=asked.tests and sheets_for(asked.tests),
        experience=experience,
    )
    say_learned(experience)
    cylinders = asked.cylinders or USUAL_CYLINDERS
    whose = f"{cylinders} cylinder{'s' if cylinders > 1 else ''}"
    if specs is not None and asked.engine is not None:
        whose = specs.engine(asked.engine).name
    units = asked.units or ("us" if specs is None else specs.units)
    say_new(asked.out, f"{whose}, {UNIT_NAMES[units]} units")
    return DONE


def learned(asked: argparse.Namespace) -> Experience | None:
    """The shop's proven repairs, None where none are asked for."""
    if asked.experience is None:
        return None
    from workbook_tools.register.experience import experience_of

    return experience_of(asked.experience)


def say_learned(experience: Experience | None) -> None:
    """From how many jobs the ranking was learned."""
    if experience is not None:
        jobs = experience.jobs
        say(
            f"Suspects are ranked by common practice and {jobs} job{'' if jobs == 1 else 's'} with a proven repair."
        )


def say_new(out: Path, what: str) -> None:
    """What form was written, and where to begin."""
    say(f"{out}: a form for {what}. Start on sheet Job.")


NEW = Command(
    name="new",
    help="write an empty form",
    description="Write an empty form for one engine.",
    examples=(
        'new job-117.xlsx --cylinders 8 --banks "1-3-5-7 | 2-4-6-8"',
        'new job-118.xlsx --job 118 --specs engines.xlsx --engine "Pump 4"',
    ),
    options=options,
    run=run,
)
