"""recipes/NAME.toml: one recipe as written, and its turn into a checked value."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from controller.settings import values
from controller.settings.fields import FeedPh, FirstFill, Litres, Name, Rate, SpoonWord, Table, Title, example
from controller.settings.units import Spoons


class AdditionTable(Table):
    """[[addition]]: one input and its rate on the finished feed."""

    input: Name
    rate: Rate

    def checked(self) -> values.RecipeAddition:
        """Turn into the checked value."""
        return values.RecipeAddition(input=self.input, rate_ml_l=self.rate.value, rate_text=self.rate.shown)


class TrimTable(Table):
    """[trim]: with what pH is brought down or up; nothing named, no trim that way."""

    acid: Name | None = None
    base: Name | None = None


class RecipeFile(Table):
    """recipes/NAME.toml as a whole; the order of its additions is the order of dosing."""

    title: Title
    spoons: SpoonWord = Spoons.LABEL
    final: Litres
    first_fill: FirstFill
    ph_low: FeedPh
    ph_high: Annotated[FeedPh, example("6.3")]
    trim: TrimTable = Field(default_factory=TrimTable)
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
        )
