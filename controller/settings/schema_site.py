"""site.toml: the site's own rules as written, and their turn into checked values."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from controller.settings import values
from controller.settings.fields import (
    Day,
    Days,
    DegreesCelsius,
    Guard,
    LitresOrNone,
    Name,
    Rate,
    Seconds,
    SecondsOrNone,
    Share,
    ShareOrNone,
    Table,
    Title,
    example,
    one_of,
)
from controller.settings.schema_schedule import NightTable, TimeZone


class WaterTable(Table):
    """[water]: chlorine and temperature of the supply water."""

    chlorine: Annotated[values.ChlorineMethod, one_of(values.ChlorineMethod), example('"cartridge"')]
    rest: SecondsOrNone
    cartridge_left: LitresOrNone
    temperature_low: DegreesCelsius
    temperature_high: DegreesCelsius
    temperature_wait: SecondsOrNone

    def checked(self) -> values.Water:
        """Turn into the checked value."""
        return values.Water(
            chlorine=self.chlorine,
            rest_s=self.rest.value,
            cartridge_left_l=self.cartridge_left.value,
            temperature_low_c=self.temperature_low.value,
            temperature_high_c=self.temperature_high.value,
            temperature_wait_s=self.temperature_wait.value,
        )


class MixingTable(Table):
    """[mixing]: rules of dosing and mixing."""

    injection_dilution: Annotated[float, Field(ge=2.0, le=1_000.0), example("20")]
    min_mix: Seconds
    settle: Seconds
    base_wait: SecondsOrNone

    def checked(self) -> values.Mixing:
        """Turn into the checked value."""
        return values.Mixing(
            injection_dilution=float(self.injection_dilution),
            min_mix_s=self.min_mix.value,
            settle_s=self.settle.value,
            base_wait_s=self.base_wait.value,
        )


class TrimPolicyTable(Table):
    """[trim]: limits of the pH trims of one night."""

    first_dose: Rate
    share: Share
    cap: Rate
    max_trims: Annotated[int, Field(ge=1, le=20), example("5")]
    guard: Guard
    rebound_wait: SecondsOrNone
    stable_for: Seconds
    stable_within_ph: Annotated[float, Field(gt=0.0, le=0.5), example("0.02")]

    def checked(self) -> values.TrimPolicy:
        """Turn into the checked value."""
        return values.TrimPolicy(
            first_dose_ml_l=self.first_dose.value,
            share=self.share.value,
            cap_ml_l=self.cap.value,
            max_trims=self.max_trims,
            guard_share=self.guard.value,
            rebound_wait_s=self.rebound_wait.value,
            stable_s=self.stable_for.value,
            stable_ph=float(self.stable_within_ph),
        )


class KeepingTable(Table):
    """[keeping]: how a released tank is kept."""

    max_age: Seconds
    stir_every: Seconds
    stir: Seconds

    def checked(self) -> values.Keeping:
        """Turn into the checked value."""
        return values.Keeping(
            max_age_s=self.max_age.value, stir_every_s=self.stir_every.value, stir_s=self.stir.value
        )


class HeelTable(Table):
    """[heel]: what may be left in the tank when a batch starts."""

    max: LitresOrNone
    max_age: SecondsOrNone

    def checked(self) -> values.HeelRule:
        """Turn into the checked value."""
        return values.HeelRule(max_l=self.max.value, max_age_s=self.max_age.value)


class StockTable(Table):
    """[stock]: what to do about a short bottle."""

    short: Annotated[values.ShortStock, one_of(values.ShortStock), example('"refuse"')]
    tolerance: ShareOrNone

    def checked(self) -> values.StockRule:
        """Turn into the checked value."""
        return values.StockRule(short=self.short, tolerance=self.tolerance.value)


class ProofTestsTable(Table):
    """[proof_tests]: when a person last proved interlocks and outputs."""

    done: Day
    by: Title
    due: Days

    def checked(self) -> values.ProofTests:
        """Turn into the checked value."""
        return values.ProofTests(done=self.done, by=self.by, due_days=round(self.due.value))


class SiteFile(Table):
    """site.toml as a whole."""

    name: Name
    title: Title
    time_zone: TimeZone
    night: Annotated[list[NightTable], Field(min_length=1)]
    water: WaterTable
    mixing: MixingTable
    trim: TrimPolicyTable
    keeping: KeepingTable
    heel: HeelTable
    stock: StockTable
    proof_tests: ProofTestsTable

    def checked(self) -> values.Policy:
        """Turn into the checked value."""
        return values.Policy(
            name=self.name,
            title=self.title,
            time_zone=self.time_zone,
            nights=tuple(night.checked() for night in self.night),
            water=self.water.checked(),
            mixing=self.mixing.checked(),
            trim=self.trim.checked(),
            keeping=self.keeping.checked(),
            heel=self.heel.checked(),
            stock=self.stock.checked(),
            proof_tests=self.proof_tests.checked(),
        )
