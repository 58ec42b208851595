"""Turn a site folder of TOML files into checked, frozen values; the only room that knows units.

`load_site`, `demo_site_folder` and `SiteFaults` may be taken from here. They are fetched on first use, so
that whoever needs only `values` does not load pint and pydantic.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from controller.settings.faults import SiteFaults
    from controller.settings.load import demo_site_folder, load_site

__all__ = ["SiteFaults", "demo_site_folder", "load_site"]


def __getattr__(name: str) -> Any:
    """Fetch one of the public names from `load.py`."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from controller.settings import load

    return getattr(load, name)
