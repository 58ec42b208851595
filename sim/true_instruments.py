"""What is true of every sensor of a site: errors, lags and noise, each with a stand-in. No physics, no file.

All stand-ins are assumed: middling sensors in good order.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TrueProbe:
    """The pH electrode as it really is; where nothing is said, a little off its last calibration.

    `offset_mv` is what it gives at 25 deg C at the pH that calibration calls isopotential; `isopotential_ph`
    is where temperature really changes nothing. Stray voltages while stir pump, air pump and dosing motors
    run; `streaming_mv` and `junction_mv` at 100 uS/cm and in pure water. It hangs `probe_height_mm` above
    the tank's floor.
    """

    offset_mv: float = 0.0
    slope_share: float = 1.0
    isopotential_ph: float = 7.0
    lag_s: float = 8.0
    slow_lag_s: float = 45.0
    slow_share: float = 0.04
    glass_lag_s: float = 30.0
    noise_mv: float = 0.15
    drift_mv_h: float = 0.03
    reference_wander_mv: float = 0.2
    stray_mv: float = 1.5
    stray_air_mv: float = 0.4
    stray_motor_mv: float = 0.8
    streaming_mv: float = 1.5
    junction_mv: float = 1.0
    probe_height_mm: float = 20.0


@dataclass(frozen=True, slots=True)
class TrueCell:
    """The conductivity cell: error of its constant, conductivity at which polarisation halves its reading."""

    cell_error: float = 0.0
    cell_noise_share: float = 0.002
    per_k: float = 0.02
    polarised_at_us_cm: float = 300_000.0
    cell_offset_c: float = 0.0
    cell_lag_s: float = 20.0


@dataclass(frozen=True, slots=True)
class TrueLevel:
    """The level sensor.

    `foam_share` of the foam's height is taken for water; below `dead_mm` nothing is seen. A sensor that
    hangs `mount_mm` above the floor times an echo and is off by `air_error_c` about the air's temperature;
    0 for any other kind.
    """

    level_offset_mm: float = 0.0
    level_scale: float = 1.0
    level_noise_mm: float = 0.3
    slosh_mm: float = 2.0
    foam_share: float = 0.3
    dead_mm: float = 4.0
    mount_mm: float = 0.0
    air_error_c: float = 0.0


@dataclass(frozen=True, slots=True)
class TrueThermometers:
    """Both thermometers: offset of each, lag and noise; `pipe_minutes` says how slowly the pipe follows."""

    tank_offset_c: float = 0.0
    supply_offset_c: float = 0.0
    thermometer_noise_c: float = 0.02
    thermometer_lag_s: float = 15.0
    pipe_minutes: float = 30.0


@dataclass(frozen=True, slots=True)
class TrueFlowMeter:
    """The flow meter: below this flow its rotor stands still. Its error stands with the supply."""

    least_l_min: float = 0.6


@dataclass(frozen=True, slots=True)
class TrueScales:
    """The scales under the bottles; rig.toml says which there are and who stands on them.

    `tare_g` weighs every empty bottle or can with its cap, `platform_g` the plate below. `vibration_g` while
    an agitator of one of its bottles or any dosing motor runs; `creep_share` of a change of load comes late,
    `creep_minutes` slow; drift is per kelvin away from 20 deg C.
    """

    tare_g: float = 650.0
    platform_g: float = 1500.0
    span_error: float = 0.0005
    scale_noise_g: float = 0.6
    vibration_g: float = 12.0
    creep_share: float = 0.0003
    creep_minutes: float = 10.0
    drift_g_k: float = 0.5
