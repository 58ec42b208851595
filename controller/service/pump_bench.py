"""The weighing of one pump at the bench: what is delivered in which order, and what a person is asked.

The machine's part is `delivery.py`, the arithmetic `controller.measure`; how a person is asked is handed in.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from controller.measure.bench_weighings import slip_of_one, slips
from controller.measure.calibration_budget import Weighed
from controller.measure.metering import whole_roller_ml
from controller.measure.weighed_delivery import WeighedDelivery, WeighingsRefused
from controller.measure.weighing_table import number_in
from controller.plan.delivery import Delivery
from controller.plan.dose_caps import dose_cap_ml
from controller.plan.findings import PlanRefused, Refusal, Rule
from controller.plan.steps import Purpose
from controller.plan.words import plain_ml
from controller.service.delivery import DeliveryBench
from controller.settings.faults import Refused
from controller.settings.values import Input, Pump, Site
from firmware_bridge.faults import HardwareFault

SHARES = (0.1, 0.5, 1.0)
"""Volumes as shares of the largest (form of ISO 8655-6, from memory)."""
LARGEST_ML = 50.0
"""What fits a small beaker and a pocket balance (common practice, no source)."""
NIGHT_SHARE = 0.5
"""The whole series takes at most so much of what the pump may move in a night: the board counts it."""
PRIME_ML = 10.0
MOST_PRIMES = 30
MOST_AGAIN = 3


class Person(Protocol):
    """Whoever stands at the bench."""

    def looks_wet(self) -> bool:
        """Say whether liquid without bubbles came out of the tube."""
        ...

    def empty(self) -> None:
        """Empty the beaker and tare the balance."""
        ...

    def weigh(self, number: int, of: int, expected_g: float) -> str:
        """Read the balance and type the grams."""
        ...

    def tell(self, line: str) -> None:
        """Hear what happens, or what was wrong."""
        ...


@dataclass(frozen=True, slots=True)
class Series:
    """What is weighed: volumes, mL by the present setting, smallest first, and how often each."""

    volumes_ml: tuple[float, ...]
    deliveries: int

    @property
    def total_ml(self) -> float:
        """Give what it moves in all, without priming."""
        return sum(self.volumes_ml) * self.deliveries


def series_for(site: Site, pump: Pump, deliveries: int) -> Series:
    """Choose three volumes of whole rollers. Raises PlanRefused when the pump's caps leave no room."""
    in_night_ml = NIGHT_SHARE * pump.night_cap_ml / deliveries / sum(SHARES)
    largest_ml = min(LARGEST_ML, dose_cap_ml(site, pump), in_night_ml)
    wanted_ml = [max(share * largest_ml, pump.min_dose_ml) for share in SHARES]
    volumes_ml = tuple(sorted({whole_roller_ml(pump, ml) for ml in wanted_ml}))
    if len(volumes_ml) < len(SHARES) or volumes_ml[-1] < 2.0 * volumes_ml[0]:
        value = f"{deliveries} deliveries of three volumes"
        remedy = f"its night cap, {plain_ml(pump.night_cap_ml)}, has no room: weigh fewer, or raise it"
        raise PlanRefused((Refusal(Rule.NIGHT_CAP, pump.name, value, remedy),))
    return Series(volumes_ml, deliveries)


def prime(bench: DeliveryBench, person: Person, pump: Pump, liquid: Input | None) -> float:
    """Deliver until a person sees no more bubbles; give the mL. Raises HardwareFault if that never comes."""
    moved_ml, each_ml = 0.0, whole_roller_ml(pump, max(PRIME_ML, pump.min_dose_ml))
    for _ in range(MOST_PRIMES):
        _deliver(bench, person, Delivery(pump, each_ml, Purpose.PRIME, liquid))
        moved_ml += each_ml
        if person.looks_wet():
            person.empty()
            return moved_ml
    problem = f"no liquid after {plain_ml(moved_ml)}"
    remedy = "look at bottle, suction tube and clamp, then begin again"
    raise HardwareFault(f"pump {pump.name}", problem, remedy)


def weigh_series(
    bench: DeliveryBench,
    person: Person,
    pump: Pump,
    liquid: Input | None,
    series: Series,
    weighed: Weighed,
    keep: Callable[[WeighedDelivery], None],
) -> tuple[WeighedDelivery, ...]:
    """Deliver and weigh small, middle, large, and again, so that a drift spoils none more than another.

    A weight with a plain slip is asked for again; what the whole series shows as wrong is delivered again, a
    few times. `keep` gets every weight as soon as it is typed; one of the same line replaces the one before.
    Raises HardwareFault when the pump does not deliver.
    """
    g_per_ml = 1.0 / weighed.z_ml_g()
    order = [ml for _ in range(series.deliveries) for ml in series.volumes_ml]
    found: list[WeighedDelivery] = []
    for place, ml in enumerate(order, start=1):
        wanted = Delivery(pump, ml, Purpose.CALIBRATION, liquid)
        found.append(_weighed(bench, person, wanted, (place, len(order)), g_per_ml))
        keep(found[-1])
    for _ in range(MOST_AGAIN):
        wrong = slips(found, pump.ml_per_count * g_per_ml, weighed.balance.readability_g)
        single = next((slip for slip in wrong if slip.line), None)
        if single is None:
            break
        person.tell(f"{single}. It is delivered again.")
        ml = order[single.line - 1]
        again = Delivery(pump, ml, Purpose.CALIBRATION, liquid)
        found[single.line - 1] = _weighed(bench, person, again, (single.line, len(order)), g_per_ml)
        keep(found[single.line - 1])
    return tuple(found)


def refuse_slips(deliveries: Sequence[WeighedDelivery], pump: Pump, weighed: Weighed, place: str) -> None:
    """Raise WeighingsRefused when the series cannot be used."""
    wrong = slips(deliveries, pump.ml_per_count / weighed.z_ml_g(), weighed.balance.readability_g)
    if wrong:
        raise WeighingsRefused(place, wrong)


def _weighed(
    bench: DeliveryBench, person: Person, wanted: Delivery, place: tuple[int, int], g_per_ml: float
) -> WeighedDelivery:
    number, of = place
    counts = _deliver(bench, person, wanted)
    expected_g = wanted.ml * g_per_ml
    while True:
        typed = person.weigh(number, of, expected_g).strip()
        try:
            one = WeighedDelivery(number, counts, number_in("grams", typed), None, typed)
        except Refused as refused:
            person.tell(f"{refused}.")
            continue
        slip = slip_of_one(one, expected_g)
        if slip is None:
            return one
        person.tell(f"{replace(slip, line=0)}.")


def _deliver(bench: DeliveryBench, person: Person, wanted: Delivery) -> int:
    """Deliver once and give the counts; what was cut short is thrown away and begun again, a few times."""
    for _ in range(MOST_AGAIN):
        done = bench.deliver(wanted)
        if done.whole:
            return done.counts
        if done.stopped_by_person:
            raise KeyboardInterrupt
        person.tell(f"{wanted.pump.name} stopped early: {done.reason}. Empty the beaker; it begins again.")
        person.empty()
    remedy = "put right what it names, then begin again"
    raise HardwareFault(f"pump {wanted.pump.name}", f"stopped early: {done.reason}", remedy)
