"""The demo site, read once for all tests; and one way of property testing for all."""

import os

import pytest
from hypothesis import settings

from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site

# No test may depend on the machine's speed; an automatic build must give the same answer twice.
settings.register_profile("everywhere", deadline=None)
settings.register_profile("build", deadline=None, derandomize=True)
settings.load_profile("build" if os.environ.get("CI") else "everywhere")


@pytest.fixture(scope="session")
def demo_site() -> Site:
    return load_site(demo_site_folder())
