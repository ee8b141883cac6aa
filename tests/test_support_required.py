"""Where LibreOffice is required, its absence fails the run, however a test came to be skipped."""

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
    ("source", "required", "code"),
    [
        (USES_FIXTURE, "0", PASSED),
        (USES_FIXTURE, "1", FAILED),
        (SKIPS_ITSELF, "0", PASSED),
        (SKIPS_ITSELF, "1", FAILED),
        (SKIPS_FOR_ANOTHER_REASON, "1", PASSED),
        (NO_TEST, "1", NOTHING_RAN),
    ],
)
def test_exit_code_without_libreoffice(tmp_path: Path, source: str, required: str, code: int) -> None:
    """A run without LibreOffice passes with skips only where LibreOffice is not required."""
    test_file = tmp_path / "test_sample.py"
    test_file.write_text(source, encoding="utf-8")
    settings = {
        "ENGINE_CHECK_OFFICE_PYTHON": str(tmp_path / "none"),
        "ENGINE_CHECK_REQUIRE_OFFICE": required,
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
