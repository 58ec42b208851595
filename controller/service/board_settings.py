"""What this site's board must hold: caps from the pumps and the valve, front ends, and the file of them all.

No link, no files: who reads or writes the board is told here only what it must say.
"""

from __future__ import annotations

from controller.plan.dose_caps import dose_cap_ml
from controller.settings.faults import SiteFaults
from controller.settings.not_wired import FRONT_ENDS, missing
from controller.settings.values import Pump, Site
from firmware_bridge.connect import Expected
from firmware_bridge.faults import HardwareFault
from firmware_bridge.firmware import board_file
from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.firmware.limits import Limits

# Doses are rounded up to whole roller counts, so the board may allow a little more than the plan does.
CAP_MARGIN = 1.05
# A night may fill the tank so often: for one batch, and for two more after batches that were given up.
FILLS_A_NIGHT = 3
# A tired supply takes so much longer than the rated flow says (common practice, no source).
SLOW_SUPPLY = 1.5


def limits_of(site: Site) -> Limits:
    """Give the caps that this site's board carries."""
    pumps: dict[int, Pump] = {pump.channel: pump for pump in site.rig.pumps.values()}
    channels = range(max(pumps) + 1)
    fitted = [pumps.get(channel) for channel in channels]
    night = tuple(1 if one is None else _counts(one, one.night_cap_ml) for one in fitted)
    dose = tuple(1 if one is None else _counts(one, dose_cap_ml(site, one)) for one in fitted)
    speeds = tuple(_top_speed(pumps.get(channel)) for channel in channels)
    valve_cap_ms = max(1, round(site.rig.board.valve_cap_s * 1000))
    tank, fill = site.rig.tank, site.rig.fill
    fill_ms = round(SLOW_SUPPLY * tank.working_l / fill.rated_l_min * 60_000)
    return Limits(
        dose_caps=dose,
        night_caps=night,
        max_counts_per_s=speeds,
        valve_cap_ms=valve_cap_ms,
        valve_night_cap_ms=max(valve_cap_ms, FILLS_A_NIGHT * fill_ms),
        anti_drip=tuple(0 if one is None else one.anti_drip_counts for one in fitted),
    )


def front_ends_of(site: Site) -> FrontEnds | None:
    """Give the analogue modules in the board's whole numbers; None at a site that is only simulated."""
    wired = site.rig.board.front_ends
    if wired is None:
        return None
    return FrontEnds(
        ph_zero_mv=round(wired.ph_zero_mv),
        ph_gain_milli=round(wired.ph_gain * 1000),
        conductivity_zero_mv=round(wired.conductivity_zero_mv),
        conductivity_full_mv=round(wired.conductivity_full_mv),
        conductivity_full_us_cm=wired.conductivity_full_us_cm,
        level_zero_mv=round(wired.level_zero_mv),
        level_full_mv=round(wired.level_full_mv),
        level_full_decimm=round(wired.level_full_mm * 10),
        second_ph=int(site.rig.second_probe is not None),
    )


def board_file_of(site: Site) -> bytes:
    """Give the settings file that the board gets. Raises SiteFaults, HardwareFault."""
    front_ends = front_ends_of(site)
    if front_ends is None:
        raise SiteFaults([missing(FRONT_ENDS)])
    if not front_ends.sound():
        remedy = (
            "let each full value lie at least 100 mV above its zero, and the level's range end below 3.2 m"
        )
        raise HardwareFault("rig.toml: board.front_ends", "the board cannot work with these numbers", remedy)
    try:
        return board_file.pack(site.rig.board.server_id, site.rig.board.baud, limits_of(site), front_ends)
    except ValueError as error:
        remedy = "look for a cap, a speed or a time that is far from the others"
        raise HardwareFault("rig.toml: board and pumps", f"{error}", remedy) from error


def expected_of(site: Site) -> Expected:
    """Give what the board must say of itself; front ends that rig.toml does not tell count as checksum 0."""
    limits, front_ends = limits_of(site), front_ends_of(site)
    return Expected(
        limits_checksum=limits.checksum(),
        front_ends_checksum=0 if front_ends is None else front_ends.checksum(),
        channels=limits.channels,
    )


def _counts(pump: Pump, cap_ml: float) -> int:
    return max(1, round(cap_ml * CAP_MARGIN / pump.ml_per_count))


def _top_speed(pump: Pump | None) -> int:
    return 1 if pump is None else max(1, round(pump.max_ml_min / 60 / pump.ml_per_count))
