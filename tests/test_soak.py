"""A short part of a shop's life at random; `python -m tests.attack.soak` is the long one."""

from __future__ import annotations

import sys

import pytest

from tests.attack.soak import soak


@pytest.mark.skipif(sys.platform == "win32", reason="processes are killed by signal")
def test_nothing_is_lost_in_a_shops_life() -> None:
    """Checks killed, refused and overtaken, files renamed, copied and given away: what people typed is there."""
    done = soak(80, 11)
    assert sum(done.values()) > 40 and len(done) > 8
