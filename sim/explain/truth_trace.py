"""The physical truth over a night: what the plant really holds, noted while the night runs.

It looks at the plant only, never at what the controller believes, and changes nothing in it: a night that is
traced writes the same record as one that is not. Telling it to people is `page.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from controller.record.events import AnyEvent, Reading
from controller.record.writer import Ledger
from sim.matter.charge_balance import WaterSolver
from sim.matter.conductivity import conductivity_us_cm
from sim.matter.ions import HEAT
from sim.plant import Plant
from sim.vessel.layers import EMPTY_L, Layer
from sim.world import World

EVERY_S = 120.0
"""The longest time between two looks; every recorded reading is one as well."""
MOST_SAMPLES = 2000
REFERENCE_C = 25.0


@dataclass(frozen=True, slots=True)
class Sample:
    """What was so at one moment; `judged`: the controller accepted a reading at this moment.

    pH is that of the whole tank as if mixed; temperature is that of the water around the probe; conductivity
    is that of the whole tank brought to 25 °C. `ph_at_probe` and `ec_at_probe_us_cm` are the same two of the
    water around the probe alone, which is what its sensors can see. An empty tank has none of the five.
    `probe_wet`: the probe hung in water. `probes_mv`: what each fitted electrode gave, the first one first.
    """

    at_s: float
    volume_l: float
    ph: float | None
    temperature_c: float | None
    ec_us_cm: float | None
    judged: bool
    ph_at_probe: float | None = None
    ec_at_probe_us_cm: float | None = None
    probe_wet: bool = False
    probes_mv: tuple[float, ...] = ()


class TruthTrace:
    """Notes samples of one plant, at most `most` of them: beyond that every second one is dropped.

    What was seen with an accepted reading is kept as long as there is room beside it.
    """

    def __init__(self, plant: Plant, every_s: float = EVERY_S, most: int = MOST_SAMPLES) -> None:
        self._plant = plant
        self._every_s = every_s
        self._most = most
        # Solvers of its own: the plant's remember what they were last asked, and must not remember this.
        self._tank, self._around_probe = _Water(), _Water()
        self._samples: list[Sample] = []

    @property
    def samples(self) -> tuple[Sample, ...]:
        """Give the samples in order of time."""
        return tuple(self._samples)

    def look(self, now_s: float, reading: Reading | None, last: bool = False) -> None:
        """Note what is so now, if a reading was recorded, the last look is long ago, or the night ends."""
        due = not self._samples or now_s - self._samples[-1].at_s >= self._every_s
        if not (due or last or reading is not None):
            return
        judged = reading is not None and reading.accepted
        if self._samples and self._samples[-1].at_s == now_s:
            judged = judged or self._samples.pop().judged
        self._samples.append(self._sample(now_s, judged))
        if len(self._samples) > self._most:
            self._thin_out()

    def _sample(self, now_s: float, judged: bool) -> Sample:
        tank = self._plant.tank
        if tank.water.volume_l < EMPTY_L:
            return Sample(now_s, tank.volume_l, None, None, None, judged)
        ph, ec_us_cm = self._tank.look(tank.content(), tank.volume_l)
        # Exchange that still waits to be carried out is left waiting, or the night would not be the same.
        bottom = tank.water.parcels[Layer.BOTTOM.value]
        ph_at_probe, ec_at_probe_us_cm = self._around_probe.look(bottom, tank.water.volume_l / 3.0)
        return Sample(
            now_s,
            tank.volume_l,
            ph,
            tank.temperature_c,
            ec_us_cm,
            judged,
            ph_at_probe,
            ec_at_probe_us_cm,
            tank.level_mm >= self._plant.instruments.probe.true.probe_height_mm,
            self._probes_mv(now_s),
        )

    def _probes_mv(self, now_s: float) -> tuple[float, ...]:
        """Read the electrodes past the instruments, which would let time pass for them at other moments."""
        instruments = self._plant.instruments
        probes = (instruments.probe, instruments.second_probe)
        return tuple(probe.mv(now_s) for probe in probes if probe is not None)

    def _thin_out(self) -> None:
        """Drop every second sample and look half as often; the last one stays."""
        self._every_s *= 2.0
        kept = [sample for place, sample in enumerate(self._samples[::-1]) if sample.judged or place % 2 == 0]
        if len(kept) > self._most * 3 // 4:
            kept = kept[::2]
        self._samples = kept[::-1]


class _Water:
    """Solvers for one water, which begin where they last ended."""

    def __init__(self) -> None:
        self._as_it_is, self._at_reference = WaterSolver(), WaterSolver()

    def look(self, content: Sequence[float], volume_l: float) -> tuple[float, float]:
        """Return pH of a parcel at its own temperature, and its conductivity at 25 °C, µS/cm."""
        per_l = [amount / volume_l for amount in content]
        self._at_reference.find_ph(per_l, REFERENCE_C)
        return self._as_it_is.find_ph(per_l, per_l[HEAT]), conductivity_us_cm(self._at_reference)


class ReadingWatch:
    """A ledger that passes everything on and remembers the reading that was put since it was last asked."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._reading: Reading | None = None

    def put(self, at_s: float, event: AnyEvent) -> int:
        """Pass an event on; an accepted reading is not forgotten over a plain one."""
        if isinstance(event, Reading) and (event.accepted or self._reading is None):
            self._reading = event
        return self._ledger.put(at_s, event)

    def durable(self, ticket: int) -> bool:
        """Tell whether the event with this ticket is on disk."""
        return self._ledger.durable(ticket)

    @property
    def fault(self) -> str | None:
        """Say why the record is not being kept, or None."""
        return self._ledger.fault

    def close(self) -> None:
        """Close the ledger behind it."""
        self._ledger.close()

    def take(self) -> Reading | None:
        """Give the reading that came since the last call, or None."""
        reading, self._reading = self._reading, None
        return reading


@dataclass(frozen=True, slots=True)
class ScaleSeen:
    """What truly stands on a scale, plate and bottles too, and what it shows; None when it is silent."""

    name: str
    stands_g: float
    shows_g: float | None


def scales_seen(plant: Plant, now_s: float) -> tuple[ScaleSeen, ...]:
    """Look at every scale of a plant."""
    instruments = plant.instruments
    return tuple(
        ScaleSeen(platform.name, platform.stands_g, instruments.scale_g(line, now_s))
        for line, platform in instruments.scales.items()
    )


@dataclass(frozen=True, slots=True)
class NightTruth:
    """What only a simulation can know of a night, beside its amounts.

    `solids_share_by_dose` says, for each dose of a suspension, how much of the solids on its label came up
    the tube; `scales` is what stood on the scales by the end.
    """

    seed: int
    world: World
    samples: tuple[Sample, ...]
    solids_share_by_dose: dict[int, float]
    scales: tuple[ScaleSeen, ...] = ()
