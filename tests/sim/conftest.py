"""What several tests of the simulated physics share: one PHREEQC engine and the demo site's world."""

import pytest
from phreeqc import Phreeqc

from controller.settings.load import demo_site_folder, load_site
from sim.world import load_world


@pytest.fixture(scope="session")
def phreeqc():
    return Phreeqc()


@pytest.fixture(scope="session")
def demo_site():
    return load_site(demo_site_folder())


@pytest.fixture(scope="session")
def demo_world(demo_site):
    return load_world(demo_site)
