"""Fake pins: what the real firmware touches instead of a board's hardware.

A motor here turns exactly the counts it was given and no more, at its speed, in virtual time; readings come
from the plant. Overrides stand for broken sensors and wires. No physics, no decisions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from firmware_bridge.registers import NO_READING
from sim.plant import Plant
from sim.sensing.front_end import centidegrees

SCALE_EVERY_S = 0.25


@dataclass(slots=True)
class Motor:
    """The motion under way or last done. Counts are whole; `moved` of them have been handed to the plant."""

    channel: int = 0
    count: int = 0
    counts_per_s: int = 1
    started_s: float = 0.0
    stopped: int | None = 0
    moved: int = 0
    backwards: bool = False

    def turned(self, now_s: float) -> int:
        """Give the counts turned so far."""
        if self.stopped is not None:
            return self.stopped
        # The tiny surplus keeps a count that falls exactly on `now_s` from being lost to rounding.
        return min(self.count, int((now_s - self.started_s) * self.counts_per_s + 1e-6))

    def ends_s(self) -> float | None:
        """Give the moment of the last count; None when nothing turns."""
        return None if self.stopped is not None else self.started_s + self.count / self.counts_per_s


@dataclass(slots=True)
class FakePins:
    """The board's pins. `dose_id` tells under which id the firmware runs the motor, for the truth only.

    `overrides` replace a reading by a number or by no reading; `stalled` keeps the motor's counter still.
    `stands_back`: counts by which a channel's rotor stands behind where it has been; turning them again is no
    part of a dose.
    While `converting` is False the converters keep their last values, to save time when nobody reads them.
    """

    plant: Plant
    high_float_l: float
    dose_id: Callable[[], int] = lambda: 0
    now_s: float = 0.0
    valve: bool = False
    enable: bool = False
    reset_down: bool = False
    leak_wet: bool = False
    float_stuck: bool | None = None
    stalled: bool = False
    converting: bool = True
    motor: Motor = field(default_factory=Motor)
    overrides: dict[str, int] = field(default_factory=dict)
    counts_by_dose: dict[int, int] = field(default_factory=dict)
    ml_by_dose: dict[int, float] = field(default_factory=dict)
    stands_back: dict[int, int] = field(default_factory=dict)
    _converted: dict[str, int] = field(default_factory=dict)
    _weights_g: dict[int, int] = field(default_factory=dict)
    _pulses_at_boot: int = 0

    @property
    def motor_running(self) -> bool:
        """Tell whether a motor turns now."""
        return self.motor.stopped is None and self.motor.turned(self.now_s) < self.motor.count

    def move_what_turned(self, powered: bool) -> None:
        """Hand the counts since the last call to the plant; without power the rotor stands still."""
        motor = self.motor
        counts = motor.turned(self.now_s) - motor.moved
        if counts <= 0:
            return
        motor.moved += counts
        if not powered:
            return
        dose_id = self.dose_id()
        ml = self._move(motor, counts, dose_id)
        self.counts_by_dose[dose_id] = self.counts_by_dose.get(dose_id, 0) + self._further(motor, counts)
        self.ml_by_dose[dose_id] = self.ml_by_dose.get(dose_id, 0.0) + ml

    def _move(self, motor: Motor, counts: int, dose_id: int) -> float:
        """Let the plant's pump turn; give the mL that went towards the tank, below 0 when they came back."""
        turn = self.plant.draw_back if motor.backwards else self.plant.pump
        return turn(motor.channel, counts, motor.counts_per_s, dose_id)

    def _further(self, motor: Motor, counts: int) -> int:
        """Give by how many counts a rotor came further than it has ever been: what a dose may count."""
        back = self.stands_back.get(motor.channel, 0)
        self.stands_back[motor.channel] = back + counts if motor.backwards else max(back - counts, 0)
        return 0 if motor.backwards else max(counts - back, 0)

    def motor_start(self, channel: int, count: int, counts_per_s: int) -> None:
        """Start one counted motion."""
        self._start(Motor(channel, count, counts_per_s, self.now_s, None))

    def motor_back(self, channel: int, count: int, counts_per_s: int) -> None:
        """Start one counted motion backwards."""
        self._start(Motor(channel, count, counts_per_s, self.now_s, None, backwards=True))

    def _start(self, motor: Motor) -> None:
        self.motor = motor
        if self.stalled:
            motor.stopped = 0

    def motor_count(self) -> int:
        """Give the counts turned since the start."""
        return self.motor.turned(self.now_s)

    def motor_stop(self) -> None:
        """Stop at the count reached."""
        self.motor.stopped = self.motor.turned(self.now_s)

    def set_valve(self, on: bool) -> None:
        """Drive the fill valve."""
        self.valve = on

    def set_enable(self, on: bool) -> None:
        """Drive the enable."""
        self.enable = on

    def high_float(self) -> bool:
        """Tell whether the board's float is lifted."""
        if self.float_stuck is not None:
            return self.float_stuck
        return self.plant.water_l >= self.high_float_l

    def leak(self) -> bool:
        """Tell whether the leak contact is wet."""
        return self.leak_wet or self.plant.floor_wet

    def reset_pressed(self) -> bool:
        """Tell whether the local reset button is down."""
        return self.reset_down

    def read_ph_decimv(self) -> int:
        """Electrode voltage, 0.1 mV."""
        instruments = self.plant.instruments
        return self._reading("ph", instruments.ph_mv, instruments.front_end.ph_decimv)

    def read_second_ph_decimv(self) -> int:
        """Voltage of the second electrode, 0.1 mV."""
        instruments = self.plant.instruments
        return self._reading("second ph", instruments.second_ph_mv, instruments.front_end.ph_decimv)

    def read_ec_us_cm(self) -> int:
        """Conductivity, µS/cm."""
        instruments = self.plant.instruments
        return self._reading("conductivity", instruments.ec_us_cm, instruments.front_end.us_cm)

    def read_tank_centic(self) -> int:
        """Tank temperature, 0.01 °C."""
        return self._reading("tank temperature", self.plant.instruments.tank_c, centidegrees)

    def read_supply_centic(self) -> int:
        """Supply temperature, 0.01 °C."""
        return self._reading("supply temperature", self.plant.instruments.supply_c, centidegrees)

    def read_level_decimm(self) -> int:
        """Level, 0.1 mm."""
        instruments = self.plant.instruments
        return self._reading("level", instruments.level_mm, instruments.front_end.level_decimm)

    def read_flow_pulses(self) -> int:
        """Flow meter pulses since the board booted."""
        return self.plant.instruments.flow_pulses() - self._pulses_at_boot

    def read_scale_g(self, line: int) -> int:
        """All that stands on the scale of a data line, g; its noise is that of the last reading in time."""
        if not self.converting:
            return self._weights_g.get(line, NO_READING)
        raw = self.overrides.get(f"scale {line}")
        if raw is None:
            grams = self.plant.instruments.scale_g(line, self.now_s // SCALE_EVERY_S * SCALE_EVERY_S)
            raw = NO_READING if grams is None else round(grams)
        self._weights_g[line] = _fitting(raw)
        return self._weights_g[line]

    def forget_pulses(self) -> None:
        """Start counting anew, as a board does that has lost its memory."""
        self._pulses_at_boot = self.plant.instruments.flow_pulses()

    def _reading(
        self, name: str, source: Callable[[float], float | None], registered: Callable[[float], int]
    ) -> int:
        if not self.converting:
            return self._converted.get(name, NO_READING)
        raw = self.overrides.get(name)
        if raw is None:
            reading = source(self.now_s)
            raw = NO_READING if reading is None else registered(reading)
        self._converted[name] = _fitting(raw)
        return self._converted[name]


def _fitting(raw: int) -> int:
    """Return what fits a register, else no reading."""
    return raw if -32768 < raw < 32768 else NO_READING
