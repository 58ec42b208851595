"""What the report plots: level and pH until the release and while the tank is kept, each with its table.

Choosing and naming lives here; drawing is in `plot_svg.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from controller.record.axis import Point
from controller.record.batch_record import BatchRecord, Timed
from controller.record.events import DosePurpose, Reading
from controller.record.page import Html, element, folded, join, table
from controller.record.plot_svg import Plot, draw
from controller.record.words import acidity, celsius, conductivity, litres, time_of_day

MOST_TABLE_ROWS = 60
DRY_PROBE_SHARE = 0.1
"""Below this share of the final volume no pH is drawn: the probe hangs in air. A choice, no source."""


def level_figure(record: BatchRecord, name: str, from_s: float, to_s: float) -> Html:
    """Draw the level in a stretch of time, with the final volume and the moments of dosing."""
    readings = _between(record, from_s, to_s)
    final_l = record.started.event.final_l
    dosed = [dose.intent for dose in record.doses if dose.intent.event.purpose != DosePurpose.RINSE]
    arrows = tuple(intent.t_s for intent in dosed if from_s <= intent.t_s <= to_s)
    plot = Plot(
        name=name,
        title="Level of the tank in litres",
        description=_range_text(readings, lambda reading: reading.level_l, litres),
        start=record.started.row.wall,
        from_s=from_s,
        to_s=to_s,
        traces=_traces(readings, lambda reading: reading.level_l),
        decimals=0,
        least_span=10.0,
        arrows=arrows,
        goal=(final_l, f"final {litres(final_l)}"),
    )
    legend = "Level in L over the time of day. Dashed: final volume." + (
        " ▲ a dose of an input." if arrows else ""
    )
    return _figure(plot, legend, readings)


def ph_figure(record: BatchRecord, name: str, from_s: float, to_s: float) -> Html:
    """Draw pH in a stretch of time, with the window and the readings that may be judged."""
    readings = _between(record, from_s, to_s)
    start = record.started.event

    def wet_ph(reading: Reading) -> float | None:
        dry = reading.level_l is not None and reading.level_l < DRY_PROBE_SHARE * start.final_l
        return None if dry else reading.ph

    accepted = [(r.t_s, r.event.ph) for r in readings if r.event.accepted and r.event.ph is not None]
    plot = Plot(
        name=name,
        title="pH of the tank",
        description=f"{_range_text(readings, wet_ph, acidity)} "
        f"Window {start.ph_low:g} to {start.ph_high:g}. Accepted: "
        + (", ".join(f"{ph:.2f}" for _, ph in accepted) or "none")
        + ".",
        start=record.started.row.wall,
        from_s=from_s,
        to_s=to_s,
        traces=_traces(readings, wet_ph),
        decimals=1,
        least_span=0.8,
        diamonds=tuple(accepted),
        band=(start.ph_low, start.ph_high, f"window {start.ph_low:g} to {start.ph_high:g}"),
    )
    legend = (
        "pH over the time of day. Dashed band: the window. ◇ an accepted reading, settled and steady; "
        "the plain line is only for watching, and was never judged."
    )
    return _figure(plot, legend, readings)


def _figure(plot: Plot, legend: str, readings: Sequence[Timed[Reading]]) -> Html:
    if not readings:
        return element("p", f"{plot.title}: no reading is recorded.", "soft")
    caption = element("figcaption", legend)
    return element("figure", join(element("h3", plot.title), draw(plot), caption, _data(readings)))


def _data(readings: Sequence[Timed[Reading]]) -> Html:
    every = max(1, -(-len(readings) // MOST_TABLE_ROWS))
    shown = [r for place, r in enumerate(readings) if place % every == 0 or r.event.accepted]
    rows = [
        (
            time_of_day(reading.row.wall),
            litres(reading.event.level_l),
            acidity(reading.event.ph),
            celsius(reading.event.temperature_c),
            conductivity(reading.event.ec_us_cm),
            "accepted" if reading.event.accepted else "",
        )
        for reading in shown
    ]
    which = "All" if every == 1 else "The accepted ones, and one in every"
    caption = f"{which} {len(readings) if every == 1 else every} readings" + (
        "" if every == 1 else f" of {len(readings)}; the export has them all"
    )
    head = ("time", "level", "pH", "temperature", "conductivity", "")
    return folded("Readings as a table", table(caption, head, rows, numbers=(1, 2, 3, 4)))


def _between(record: BatchRecord, from_s: float, to_s: float) -> tuple[Timed[Reading], ...]:
    return tuple(reading for reading in record.readings if from_s <= reading.t_s <= to_s)


def _traces(
    readings: Sequence[Timed[Reading]], value_of: Callable[[Reading], float | None]
) -> tuple[tuple[Point, ...], ...]:
    """Split into runs, so that no line is drawn over readings that were not there."""
    runs: list[list[Point]] = [[]]
    for reading in readings:
        value = value_of(reading.event)
        if value is not None:
            runs[-1].append((reading.t_s, value))
        elif runs[-1]:
            runs.append([])
    return tuple(tuple(run) for run in runs if run)


def _range_text(
    readings: Sequence[Timed[Reading]],
    value_of: Callable[[Reading], float | None],
    write: Callable[[float], str],
) -> str:
    values = [value for reading in readings if (value := value_of(reading.event)) is not None]
    if not values:
        return "No reading."
    low, high, last = write(min(values)), write(max(values)), write(values[-1])
    return f"{len(values)} readings, from {low} to {high}, last {last}."
