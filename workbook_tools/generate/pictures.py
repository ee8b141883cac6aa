"""Pictures of the form: a drawn dial for each choice of what the needle does.

They were drawn by `tests/support/needle_dials.py` and are shipped as they are: writing a form needs no library for pictures.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

#: The folder of the drawn dials, a file a choice.
DIALS = Path(__file__).with_name("dials")


def file_of(choice: str) -> Path:
    """The file of a choice's dial."""
    return DIALS / f"{choice.replace(' ', '-')}.png"


def options_for(choice: str) -> dict[str, Any]:
    """How XlsxWriter places a choice's dial: the picture's bytes, and what is read out in its place."""
    return {
        "image_data": BytesIO(file_of(choice).read_bytes()),
        "description": f"Dial of a vacuum gauge: {choice}",
        "object_position": 1,
        "x_offset": 4,
        "y_offset": 2,
    }
