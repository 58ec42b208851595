"""A plant of the demo site with tap water in its tank and sensors as a test wants them."""

from dataclasses import replace

from sim.plant import Plant


def sensed_plant(site, world, water_l=100.0, **changes):
    plant = Plant(site, replace(world, **changes), seed=1)
    if water_l:
        plant.tank.add(water_l * 1e3, world.supply.content(water_l * 1e3))
    plant.advance(1.0)
    return plant


def run(plant, seconds, step_s=1.0):
    for _ in range(round(seconds / step_s)):
        plant.advance(step_s)
