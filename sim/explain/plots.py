"""True against measured values over time: level, pH, temperature and conductivity, with one table of all.

Choosing and naming lives here; drawing is in `controller/record/plot_svg.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from controller.record.axis import Point
from controller.record.batch_record import Timed
from controller.record.events import DosePurpose, Reading
from controller.record.page import Html, element, folded, join, table, text
from controller.record.plot_svg import Plot, draw
from controller.record.words import acidity, celsius, conductivity, litres, time_of_day
from sim.explain.differences import MeasuredOf, TrueCourse, TrueOf
from sim.explain.truth_trace import Sample

MOST_TABLE_ROWS = 60


@dataclass(frozen=True, slots=True)
class Quantity:
    """What is measured and true of one thing, and its words.

    `around_probe_of`: what is true where its sensor is, which is all that the sensor can be judged by.
    `in_water`: only a wet probe reads it.
    """

    name: str
    title: str
    unit: str
    write: Callable[[float | None], str]
    measured_of: MeasuredOf
    true_of: TrueOf
    around_probe_of: TrueOf
    decimals: int
    least_span: float
    in_water: bool = True


LEVEL = Quantity(
    "level", "Level of the tank", "L", litres,
    lambda r: r.level_l, lambda s: s.volume_l, lambda s: s.volume_l, 0, 10.0, False,
)  # fmt: skip
PH = Quantity(
    "ph", "pH of the tank", "pH", acidity, lambda r: r.ph, lambda s: s.ph, lambda s: s.ph_at_probe, 1, 0.8
)
TEMPERATURE = Quantity(
    "temperature", "Temperature", "°C", celsius,
    lambda r: r.temperature_c, lambda s: s.temperature_c, lambda s: s.temperature_c, 1, 2.0,
)  # fmt: skip
CONDUCTIVITY = Quantity(
    "conductivity", "Conductivity at 25 °C", "µS/cm", conductivity,
    lambda r: r.ec_us_cm, lambda s: s.ec_us_cm, lambda s: s.ec_at_probe_us_cm, 0, 200.0,
)  # fmt: skip
QUANTITIES = (LEVEL, PH, TEMPERATURE, CONDUCTIVITY)

_WHAT_IS_TRUE = {
    LEVEL.name: "",
    PH.name: "True: the whole tank as if mixed; the probe sees only the water around it.",
    TEMPERATURE.name: "True: the water around the probe.",
    CONDUCTIVITY.name: "True: the whole tank as if mixed, brought to 25 °C; the meter sees only the water "
    "around it, and converts its reading.",
}


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the night, in seconds since it began; `name` keeps its drawings apart from others."""

    course: TrueCourse
    name: str
    from_s: float
    to_s: float
    faults_s: tuple[float, ...]

    @property
    def readings(self) -> tuple[Timed[Reading], ...]:
        """Give the readings in this stretch."""
        return tuple(reading for reading in self.course.record.readings if self.holds(reading.t_s))

    @property
    def samples(self) -> tuple[Sample, ...]:
        """Give the samples in this stretch."""
        return tuple(sample for sample in self.course.samples if self.holds(self.course.t_s(sample)))

    def holds(self, t_s: float) -> bool:
        """Tell whether a moment lies in it."""
        return self.from_s <= t_s <= self.to_s

    def dosed_s(self, *purposes: DosePurpose) -> tuple[float, ...]:
        """Give the moments at which doses with one of these purposes were begun."""
        begun = (d.intent.t_s for d in self.course.record.doses if d.intent.event.purpose in purposes)
        return tuple(t_s for t_s in begun if self.holds(t_s))


def figures(stretch: Stretch) -> Html:
    """Draw every quantity over a stretch of the night, and fold the numbers under the drawings."""
    drawn = (_figure(stretch, quantity) for quantity in QUANTITIES)
    return join(element("div", join(*drawn), "plots"), _data(stretch))


def _figure(stretch: Stretch, quantity: Quantity) -> Html:
    course, start = stretch.course, stretch.course.record.started
    measured = [
        (reading.t_s, _seen(course, quantity, reading.event, course.before(reading)))
        for reading in stretch.readings
    ]
    true = [
        (course.t_s(sample), quantity.true_of(sample) if _in_reach(course, quantity, sample) else None)
        for sample in stretch.samples
    ]
    is_ph, is_level = quantity is PH, quantity is LEVEL
    accepted = [(r.t_s, r.event.ph) for r in stretch.readings if r.event.accepted and r.event.ph is not None]
    arrows: tuple[float, ...] = ()
    if is_level:
        arrows = stretch.dosed_s(DosePurpose.ADDITION, DosePurpose.TRIM)
    elif is_ph:
        arrows = stretch.dosed_s(DosePurpose.TRIM)
    event = start.event
    window = f"window {event.ph_low:g} to {event.ph_high:g}"
    plot = Plot(
        name=f"{quantity.name}{stretch.name}",
        title=quantity.title,
        description=" ".join(
            (
                f"Measured: {_range(quantity, measured)}",
                f"True: {_range(quantity, true)}",
                *([f"{window.capitalize()}. Accepted readings: {len(accepted)}."] if is_ph else ()),
            )
        ),
        start=start.row.wall,
        from_s=stretch.from_s,
        to_s=stretch.to_s,
        traces=_runs(measured),
        decimals=quantity.decimals,
        least_span=quantity.least_span,
        diamonds=tuple(accepted) if is_ph else (),
        arrows=arrows,
        band=(event.ph_low, event.ph_high, window) if is_ph else None,
        goal=(event.final_l, f"final {litres(event.final_l)}") if is_level else None,
        truth=_runs(true),
        flags=stretch.faults_s,
        unit=quantity.unit,
    )
    if not plot.lines:
        return element("p", f"{quantity.title}: nothing was measured, and no water was there.", "soft")
    caption = element("figcaption", _legend(quantity, plot))
    return element("figure", join(element("h3", plot.title), draw(plot), caption))


def _legend(quantity: Quantity, plot: Plot) -> str:
    said = ["Thin solid line: true. Dotted: measured." if plot.traces else "Thin solid line: true."]
    if not plot.traces:
        said.append("Nothing was measured here.")
    said.append(_WHAT_IS_TRUE[quantity.name])
    if plot.goal:
        said.append("Dashed: final volume.")
    if plot.band:
        said.append("Dashed band: the window.")
    if plot.diamonds:
        said.append("◇ an accepted reading; its last value is written beside it.")
    if plot.arrows:
        said.append("▲ a trim." if quantity is PH else "▲ a dose of an input.")
    if plot.flags:
        said.append("▼ and the line below it: something was broken on purpose.")
    return " ".join(sentence for sentence in said if sentence)


def _in_reach(course: TrueCourse, quantity: Quantity, sample: Sample | None) -> bool:
    return not quantity.in_water or course.wet(sample)


def _seen(course: TrueCourse, quantity: Quantity, reading: Reading, sample: Sample | None) -> float | None:
    return quantity.measured_of(reading) if _in_reach(course, quantity, sample) else None


def _runs(values: Sequence[tuple[float, float | None]]) -> tuple[tuple[Point, ...], ...]:
    """Split into runs, so that no line is drawn where there was no value."""
    runs: list[list[Point]] = [[]]
    for t_s, value in values:
        if value is not None:
            runs[-1].append((t_s, value))
        elif runs[-1]:
            runs.append([])
    return tuple(tuple(run) for run in runs if run)


def _range(quantity: Quantity, values: Sequence[tuple[float, float | None]]) -> str:
    found = [value for _, value in values if value is not None]
    if not found:
        return "nothing."
    low, high, last = (quantity.write(value) for value in (min(found), max(found), found[-1]))
    return f"{len(found)} values, from {low} to {high}, last {last}."


def _data(stretch: Stretch) -> Html:
    """Fold a table of readings, each with the truth of its moment under it."""
    readings = [reading for reading in stretch.readings if stretch.course.beside(reading) is not None]
    if not readings:
        return element("p", "No reading was recorded.", "soft")
    every = max(1, -(-len(readings) // MOST_TABLE_ROWS))
    shown = [r for place, r in enumerate(readings) if place % every == 0 or r.event.accepted]
    rows = [_row(stretch.course, reading) for reading in shown]
    which = "All readings" if every == 1 else f"The accepted readings, and one in every {every} others"
    head = ("time", "level", "pH", "temperature", "conductivity", "")
    caption = f"{which}; below each, the truth at that moment"
    return folded("Measured and true values as a table", table(caption, head, rows, numbers=(1, 2, 3, 4)))


def _row(course: TrueCourse, reading: Timed[Reading]) -> tuple[str, ...]:
    sample = course.beside(reading)
    cells = (
        join(
            text(quantity.write(quantity.measured_of(reading.event))),
            element("small", "" if sample is None else f"true {_true(quantity, sample)}"),
        )
        for quantity in QUANTITIES
    )
    return (time_of_day(reading.row.wall), *cells, "accepted" if reading.event.accepted else "")


def _true(quantity: Quantity, sample: Sample) -> str:
    value = quantity.true_of(sample)
    return "no water" if value is None else quantity.write(value)
