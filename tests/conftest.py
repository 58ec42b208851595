"""The demo site, read once for all tests."""

import pytest

from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site


@pytest.fixture(scope="session")
def demo_site() -> Site:
    return load_site(demo_site_folder())
