"""inputs.toml: the liquid concentrates and their bottles, as written, and their turn into checked values."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from controller.settings import values
from controller.settings.fields import (
    DosingFlow,
    KilogramsPerLitre,
    MillilitresOrNone,
    Name,
    Rate,
    Seconds,
    SpoonWord,
    Table,
    Title,
    Viscosity,
    YesNo,
    example,
    one_of,
)
from controller.settings.units import Spoons


class InputTable(Table):
    """[inputs.NAME]: one liquid concentrate. What is left out is "no" or "nothing"."""

    title: Title
    pump: Name
    agitator: Name | None = None
    agitate: Seconds | None = None
    form: Annotated[values.Form, one_of(values.Form), example('"solution"')]
    reaction: Annotated[values.Reaction, one_of(values.Reaction)] = values.Reaction.NEUTRAL
    carries: list[Annotated[values.Carried, one_of(values.Carried)]] = Field(default_factory=list)
    living: YesNo = False
    foams: YesNo = False
    oxidiser: YesNo = False
    slow_dissolving: YesNo = False
    density: KilogramsPerLitre
    viscosity: Viscosity
    max: DosingFlow
    label_low: Rate
    label_high: Rate
    stock: MillilitresOrNone
    unreachable: Annotated[MillilitresOrNone, example('"450 mL"')]

    def checked(self, name: str) -> values.Input:
        """Turn into the checked value."""
        return values.Input(
            name=name,
            title=self.title,
            pump=self.pump,
            agitator=self.agitator,
            form=self.form,
            reaction=self.reaction,
            carries=frozenset(self.carries),
            living=self.living,
            foams=self.foams,
            oxidiser=self.oxidiser,
            slow_dissolving=self.slow_dissolving,
            density_kg_l=self.density.value,
            viscosity_mpa_s=self.viscosity.value,
            max_ml_min=self.max.value,
            agitate_s=self.agitate.value if self.agitate is not None else 0.0,
            label_low_ml_l=self.label_low.value,
            label_high_ml_l=self.label_high.value,
            stock_ml=self.stock.value,
            unreachable_ml=self.unreachable.value,
        )


class InputsFile(Table):
    """inputs.toml as a whole."""

    spoons: SpoonWord = Spoons.LABEL
    inputs: Annotated[dict[Name, InputTable], Field(min_length=1)]

    def checked(self) -> dict[str, values.Input]:
        """Turn into the checked values, by name."""
        return {name: table.checked(name) for name, table in self.inputs.items()}
