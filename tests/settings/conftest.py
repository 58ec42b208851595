from pathlib import Path

import pytest
from site_copies import SiteCopy, copy_demo_site


@pytest.fixture
def site_copy(tmp_path: Path) -> SiteCopy:
    return copy_demo_site(tmp_path / "site")


@pytest.fixture(scope="module")
def spoilt_again_and_again(tmp_path_factory: pytest.TempPathFactory) -> SiteCopy:
    """One copy for the many examples of a property; each example restores what it spoilt."""
    return copy_demo_site(tmp_path_factory.mktemp("spoilt") / "site")
