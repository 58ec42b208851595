"""The demo site without what a site may do without: scales and a second pH probe."""

from dataclasses import replace

from controller.settings.values import Site


def unweighed(site: Site) -> Site:
    pumps = {name: replace(pump, scale=None) for name, pump in site.rig.pumps.items()}
    return replace(site, rig=replace(site.rig, scales={}, pumps=pumps))


def bare(site: Site) -> Site:
    without = unweighed(site)
    return replace(without, rig=replace(without.rig, second_probe=None))
