"""recipes/NAME.toml: one recipe as written, and its turn into a checked value."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, PlainValidator

from controller.settings import values
from controller.settings.faults import Refused
from controller.settings.fields import FeedPh, FirstFill, Litres, Name, Rate, SpoonWord, Table, Title, example
from controller.settings.units import Spoons

NO_ADDITIONS = "none"


class AdditionTable(Table):
    """[[addition]]: one input and its rate on the finished feed."""

    input: Name
    rate: Rate

    def checked(self) -> values.RecipeAddition:
        """Turn into the checked value."""
        return values.RecipeAddition(input=self.input, rate_ml_l=self.rate.value, rate_text=self.rate.shown)


class JarTestTable(Table):
    """jar_test of [trim]: what a person tried in a jar of this feed; `ml_l` for each litre in the jar."""

    input: Name
    ml_l: Annotated[float, Field(gt=0.0, le=20.0), example("0.5")]
    ph_before: FeedPh
    ph_after: Annotated[FeedPh, example("6.1")]

    def checked(self) -> values.JarTest:
        """Turn into the checked value."""
        return values.JarTest(self.input, float(self.ml_l), float(self.ph_before), float(self.ph_after))


class TrimTable(Table):
    """[trim]: with what pH is brought down or up; nothing named, no trim that way."""

    acid: Name | None = None
    base: Name | None = None
    jar_test: JarTestTable | None = None
    rebound_ph: Annotated[float | None, Field(ge=0.0, le=1.0), example("0.1")] = None


def _none(value: object) -> str:
    if value != NO_ADDITIONS:
        raise Refused(
            f'is not "{NO_ADDITIONS}"',
            f'write each input as an [[addition]] of its own, or "{NO_ADDITIONS}" here for plain water',
        )
    return NO_ADDITIONS


class RecipeFile(Table):
    """recipes/NAME.toml as a whole; the order of its additions is the order of dosing.

    A recipe without any says so, or else a file that was cut short would read as plain water; whether it does
    is checked by `relations.py`.
    """

    title: Title
    spoons: SpoonWord = Spoons.LABEL
    final: Litres
    first_fill: FirstFill
    ph_low: FeedPh
    ph_high: Annotated[FeedPh, example("6.3")]
    conductivity_low_us_cm: Annotated[float | None, Field(gt=0, le=20_000)] = None
    conductivity_high_us_cm: Annotated[float | None, Field(gt=0, le=20_000)] = None
    trim: TrimTable = Field(default_factory=TrimTable)
    additions: Annotated[str | None, PlainValidator(_none)] = None
    addition: list[AdditionTable] = Field(default_factory=list)

    def checked(self, name: str) -> values.Recipe:
        """Turn into the checked value."""
        return values.Recipe(
            name=name,
            title=self.title,
            final_l=self.final.value,
            first_fill_share=self.first_fill.value,
            additions=tuple(addition.checked() for addition in self.addition),
            ph_low=float(self.ph_low),
            ph_high=float(self.ph_high),
            trim_acid=self.trim.acid,
            trim_base=self.trim.base,
            jar_test=None if self.trim.jar_test is None else self.trim.jar_test.checked(),
            rebound_ph=None if self.trim.rebound_ph is None else float(self.trim.rebound_ph),
            conductivity_low_us_cm=self.conductivity_low_us_cm,
            conductivity_high_us_cm=self.conductivity_high_us_cm,
        )
