"""One calibration of a pump, from its options to its certificate: chooses the rig and the person."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click

from controller.cli.calibrate.person import CAUTIONS, SELECTOR, PersonAtTerminal
from controller.cli.calibrate.pump_table import text_of
from controller.cli.stop import stop_on_ctrl_c
from controller.measure.bench_weighings import units_note
from controller.measure.calibration_budget import Balance, Weighed
from controller.measure.calibration_limits import Limits, judged
from controller.measure.gravimetry import Air
from controller.measure.pump_calibration import PumpCalibration, calibrate
from controller.measure.weighed_delivery import WeighedDelivery, WeighingsRefused
from controller.measure.weighing_table import read_table
from controller.plan.delivery import input_of
from controller.plan.words import plain_ml
from controller.service.board_settings import limits_of
from controller.service.certificates import keep_calibration
from controller.service.delivery import delivery_bench
from controller.service.lamp_and_sounder import LampAndSounder
from controller.service.live import Around
from controller.service.pump_bench import Person, Series, prime, refuse_slips, series_for, weigh_series
from controller.service.pump_certificate import (
    Weighing,
    calibration_event,
    certificate,
    rig_changes,
    start_shown,
    unchanged,
)
from controller.service.pump_weighings import KeptWeighings
from controller.service.rig_file import check_rewrite, rewrite_rig
from controller.settings.faults import nearest, plain
from controller.settings.load import load_site
from controller.settings.values import Input, Pump, Site

LABEL_OFF_SHARE = 0.005
"""A density in inputs.toml may be off by so much, half-width; a fresh measurement by less (assumed)."""

NotUsable = WeighingsRefused


@dataclass(slots=True)
class Job:
    """What was asked for. `liquid` None: water. `table` None: weighed now, on `rig_name`."""

    site: Site
    pump: Pump
    liquid: Input | None
    weighed: Weighed
    series: Series
    rig_name: str
    port: str | None
    seed: int
    table: Path | None
    new_tube: bool
    by: str
    write: bool
    own_site: bool
    found: PumpCalibration | None = None
    moment: datetime | None = None
    kept: KeptWeighings | None = None

    @property
    def may_write(self) -> bool:
        """Tell whether there is a site of the person's own to write into."""
        return self.own_site

    def run(self, folder: Path) -> dict[str, object]:
        """Weigh or read, work it out, put it on record; give the certificate. Raises NotUsable."""
        place = f"pump {self.pump.name}"
        now = datetime.now(ZoneInfo(self.site.policy.time_zone))
        if self.write:
            # A file that cannot be written is better known before thirty deliveries than after them.
            check_rewrite(self.site.folder, unchanged(self.pump, now))
        if self.table is not None:
            place = plain(str(self.table))
            deliveries = read_table(text_of(self.table, place), place)
            self.moment = now
        else:
            deliveries = self._weigh(folder)
        refuse_slips(deliveries, self.pump, self.weighed, place)
        return self._certify(deliveries, folder)

    def kept_words(self) -> str | None:
        """Say where the typed weights lie; None: none were typed."""
        if self.kept is None or not self.kept.any:
            return None
        return f"The weights are kept in {plain(str(self.kept.place))}; --from-weighings takes them."

    def write_rig(self) -> tuple[Path, bool]:
        """Write rig.toml; give where the old one is, and whether the board's own limits differ now."""
        found, moment = self.found, self.moment
        if found is None or moment is None:
            raise RuntimeError("nothing was found that could be written")
        kept = rewrite_rig(self.site.folder, rig_changes(self.pump, found, moment), moment.date())
        now = load_site(self.site.folder)
        return kept, limits_of(now).checksum() != limits_of(self.site).checksum()

    def _certify(self, deliveries: Sequence[WeighedDelivery], folder: Path) -> dict[str, object]:
        moment = self.moment
        if moment is None:
            raise RuntimeError("nobody knows when this was weighed")
        limits = Limits()
        self.found = found = calibrate(self.pump, deliveries, self.weighed)
        verdict = judged(found, self.pump, limits, new_tube=self.new_tube)
        liquid = "water" if self.liquid is None else self.liquid.title
        rig = "table" if self.table is not None else self.rig_name
        how = Weighing(self.by, moment, liquid, rig)
        page = certificate(self.pump, how, self.weighed, deliveries, found, verdict, limits)
        page["notes"] = [*verdict.notes, *self._notes(deliveries)]
        if self.write and verdict.passed:
            check_rewrite(self.site.folder, rig_changes(self.pump, found, moment))
        keep_calibration(folder, moment, calibration_event(found, page))
        return page

    def _notes(self, deliveries: Sequence[WeighedDelivery]) -> Iterator[str]:
        density = self.weighed.density_kg_m3() / 1000.0
        units = units_note(deliveries, self.pump.ml_per_count / self.weighed.z_ml_g(), density)
        if units is not None:
            yield units
        if self.found is not None and not start_shown(self.found):
            yield "the start of a delivery cannot be told from nothing: rig.toml gets none"
        own = input_of(self.site, self.pump)
        if self.liquid is None and own is not None and own.viscosity_mpa_s > THICK_MPA_S:
            yield (f"{own.title} is thicker than water and may come out less: weigh it with --liquid input")

    def _weigh(self, folder: Path) -> tuple[WeighedDelivery, ...]:
        with stop_on_ctrl_c() as stop, self._rig_and_person() as (served, person):
            self.moment = served.wall_start

            around = Around(
                served.wall_start, served.motions, served.writer, stop, LampAndSounder(served.show)
            )
            with delivery_bench(self.site, served.port, served.pace, folder, around) as bench:
                moved_ml = prime(bench, person, self.pump, self.liquid)
                person.tell(f"Primed with {plain_ml(moved_ml)}.")
                kept = self.kept = KeptWeighings(folder, self.pump, served.wall_start)
                return weigh_series(
                    bench, person, self.pump, self.liquid, self.series, self.weighed, kept.keep
                )

    @contextmanager
    def _rig_and_person(self) -> Iterator[tuple[Any, Person]]:
        from controller.cli.rigs import simulated_rig, wired_rig

        if self.rig_name == "sim":
            from sim.desk import Desk
            from sim.rig import SimRig

            with simulated_rig(self.site, self.seed, None, in_vm=False) as served:
                assert isinstance(served.port, SimRig)
                desk = Desk(served.port, self.pump.channel, self.seed, from_jug=self.liquid is None)
                yield served, desk
            return
        person = PersonAtTerminal()
        person.begin((*CAUTIONS, SELECTOR, self._amount_line()))
        with wired_rig(self.site, self.port) as served:
            yield served, person

    def _amount_line(self) -> str:
        total_ml, cap_ml = self.series.total_ml, self.pump.night_cap_ml
        liquid = (
            "water from a jug (hang the suction tube into it)" if self.liquid is None else self.liquid.title
        )
        return (
            f"Some {plain_ml(round(total_ml))} of {liquid} will be moved. The board counts that for twelve "
            f"to fifteen hours against the pump's night cap of {plain_ml(cap_ml)}."
        )


THICK_MPA_S = 20.0
"""From here on a liquid may come out less than water does (assumed)."""


def job_of(site: Site, name: str, options: Mapping[str, Any]) -> Job:
    """Read the options together; raises usage errors, and PlanRefused when the caps leave no room."""
    if name not in site.rig.pumps:
        message = f'"{plain(name)}" is no pump of this site; {nearest(name, site.rig.pumps)}.'
        raise click.BadParameter(message, param_hint="'NAME'")
    pump = site.rig.pumps[name]
    liquid = _liquid(site, pump, options)
    return Job(
        site=site,
        pump=pump,
        liquid=liquid,
        weighed=_weighed(liquid, options),
        series=series_for(site, pump, options["deliveries"]),
        rig_name=options["rig"],
        port=options["port"],
        seed=options["seed"],
        table=options["table"],
        new_tube=options["new_tube"],
        by=options["by"] or whoever(),
        write=options["write"],
        own_site=options["site"] is not None,
    )


def _liquid(site: Site, pump: Pump, options: Mapping[str, Any]) -> Input | None:
    if options["liquid"] == "water":
        if options["density"] is not None:
            raise click.BadParameter(
                "The density of water is known; it is for --liquid input.", param_hint="'--density'"
            )
        return None
    liquid = input_of(site, pump)
    if liquid is None:
        raise click.BadParameter(f"{pump.name} draws water.", param_hint="'--liquid'")
    return liquid


def _weighed(liquid: Input | None, options: Mapping[str, Any]) -> Weighed:
    warm_c = options["liquid_temperature"]
    if not 1.0 <= warm_c <= 40.0:
        raise click.BadParameter("Weigh between 1 and 40 °C.", param_hint="'--liquid-temperature'")
    air, balance = Air(warm_c, options["air_pressure"]), Balance(options["readability"])
    if liquid is None:
        return Weighed(liquid_c=warm_c, air=air, balance=balance)
    measured = options["density"]
    if measured is not None:
        return Weighed(liquid_c=warm_c, density_kg_l=measured, air=air, balance=balance)
    return Weighed(warm_c, liquid.density_kg_l, LABEL_OFF_SHARE, air, balance)


def whoever() -> str:
    """Name the user of this computer."""
    return os.environ.get("USER") or os.environ.get("LOGNAME") or "somebody"
