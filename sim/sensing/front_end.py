"""The analogue modules between sensors and board: from physical values to voltages, and to registers.

A module's output ends at its supply rails; what the board makes of that voltage is the firmware's own code.
A site that names no modules gets its values straight into registers. Left out: the converter's steps (12
bits, sixteen readings averaged) and errors of the modules themselves.
"""

from __future__ import annotations

from controller.service.board_settings import front_ends_of
from controller.settings.values import Site
from firmware_bridge.firmware.front_ends import FULL_SCALE_MV


class FrontEnd:
    """The modules of one site."""

    def __init__(self, site: Site) -> None:
        self._modules = front_ends_of(site)

    def ph_decimv(self, mv: float) -> int:
        """Return what the board reads of an electrode's voltage, 0.1 mV, or its word for no reading."""
        modules = self._modules
        if modules is None:
            return round(mv * 10)
        return modules.ph_decimv(converter_decimv(modules.ph_zero_mv + mv * modules.ph_gain_milli * 1e-3))

    def us_cm(self, us_cm: float) -> int:
        """Return what the board reads of a conductivity, uS/cm."""
        modules = self._modules
        if modules is None:
            return round(us_cm)
        span_mv = modules.conductivity_full_mv - modules.conductivity_zero_mv
        share = us_cm / modules.conductivity_full_us_cm
        return modules.conductivity_us_cm(converter_decimv(modules.conductivity_zero_mv + span_mv * share))

    def level_decimm(self, level_mm: float) -> int:
        """Return what the board reads of a level, 0.1 mm."""
        modules = self._modules
        if modules is None:
            return round(level_mm * 10)
        share = level_mm * 10 / modules.level_full_decimm
        span_mv = modules.level_full_mv - modules.level_zero_mv
        return modules.level_decimm(converter_decimv(modules.level_zero_mv + span_mv * share))


def centidegrees(celsius: float) -> int:
    """Return what a one-wire thermometer gives, 0.01 deg C."""
    return round(celsius * 100)


def converter_decimv(output_mv: float) -> int:
    """Return the voltage at the converter, 0.1 mV: a module drives its line no further than the rails."""
    return round(10 * min(max(output_mv, 0.0), FULL_SCALE_MV))
