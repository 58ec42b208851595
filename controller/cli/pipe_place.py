"""Where the GPIO library may put the pipe that it makes on loading: not in whatever folder one stands in."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def place_for_pipe() -> Iterator[None]:
    """Give lgpio a folder that goes away with the block, unless LG_WD already names one."""
    if "LG_WD" in os.environ:
        yield
        return
    with tempfile.TemporaryDirectory() as folder:
        os.environ["LG_WD"] = folder
        try:
            yield
        finally:
            del os.environ["LG_WD"]
