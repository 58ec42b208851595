from __future__ import annotations

from collections.abc import Callable

import pytest
import small_site as builder

from controller.settings.values import Site


@pytest.fixture(scope="session")
def small_site() -> Callable[..., Site]:
    """The builder of the small site; see small_site.py."""
    return builder.small_site
