"""Where LibreOffice is required its absence fails the run, and where skips are forbidden any skip does."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
USES_FIXTURE = "def test_it(office): pass"
SKIPS_ITSELF = "import pytest\ndef test_it(): pytest.skip('LibreOffice is not here')"
SKIPS_FOR_ANOTHER_REASON = (
    "import pytest\ndef test_it(): pytest.skip('no such reading on a one-cylinder engine')"
)
NO_TEST = "number = 1"
PASSED, FAILED, NOTHING_RAN = 0, 1, 5


@pytest.mark.parametrize(
    ("source", "required", "no_skips", "code"),
    [
        (USES_FIXTURE, "0", "0", PASSED),
        (USES_FIXTURE, "1", "0", FAILED),
        (SKIPS_ITSELF, "0", "0", PASSED),
        (SKIPS_ITSELF, "1", "0", FAILED),
        (SKIPS_FOR_ANOTHER_REASON, "1", "0", PASSED),
        (SKIPS_FOR_ANOTHER_REASON, "0", "1", FAILED),
        (USES_FIXTURE, "0", "1", FAILED),
        (NO_TEST, "1", "0", NOTHING_RAN),
    ],
)
def test_exit_code_without_libreoffice(
    tmp_path: Path, source: str, required: str, no_skips: str, code: int
) -> None:
    """A run without LibreOffice passes with skips only where neither LibreOffice nor every test is required."""
    test_file = tmp_path / "test_sample.py"
    test_file.write_text(source, encoding="utf-8")
    settings = {
        "ENGINE_CHECK_OFFICE_PYTHON": str(tmp_path / "none"),
        "ENGINE_CHECK_REQUIRE_OFFICE": required,
        "ENGINE_CHECK_NO_SKIPS": no_skips,
        "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1",
    }
    options = ["-q", "-p", "tests.conftest", "--rootdir", str(tmp_path)]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *options, str(test_file)],
        cwd=ROOT,
        env={**os.environ, **settings},
        capture_output=True,
        text=True,
    )
    assert done.returncode == code, done.stdout + done.stderr
