"""inputs.toml: the liquid concentrates and their bottles, as written, and their turn into checked values."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from controller.settings import values
from controller.settings.faults import Refused
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
    refuse_together,
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

    @model_validator(mode="after")
    def _fits_together(self) -> InputTable:
        refuse_together(self._label_refusals() + self._bottle_refusals() + self._nature_refusals())
        return self

    def _label_refusals(self) -> list[Refused]:
        if self.label_low.value <= self.label_high.value:
            return []
        problem = f"is below label_low ({self.label_low.text}): the label range is reversed"
        return [Refused(problem, "write the smaller rate as label_low", "label_high", self.label_high.text)]

    def _bottle_refusals(self) -> list[Refused]:
        refusals = []
        if self.form is values.Form.SUSPENSION and self.agitator is None:
            remedy = "add agitator and agitate: an unstirred bottle gives weak doses and then sludge"
            refusals.append(
                Refused("is a suspension whose bottle nothing stirs", remedy, "form", "suspension")
            )
        if self.agitator is not None and self.agitate is None:
            remedy = 'add how long to stir the bottle, e.g. agitate = "60 s"'
            refusals.append(Refused("is named without a time to run", remedy, "agitator", self.agitator))
        if self.agitate is not None and self.agitator is None:
            refusals.append(
                Refused(
                    "has no agitator to run", "add agitator, or remove the line", "agitate", self.agitate.text
                )
            )
        return refusals

    def _nature_refusals(self) -> list[Refused]:
        if not (self.living and self.oxidiser):
            return []
        return [
            Refused("contradicts living = true", "an oxidiser kills what lives: keep one", "oxidiser", True)
        ]

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
        )


class InputsFile(Table):
    """inputs.toml as a whole."""

    spoons: SpoonWord = Spoons.LABEL
    inputs: Annotated[dict[Name, InputTable], Field(min_length=1)]

    def checked(self) -> dict[str, values.Input]:
        """Turn into the checked values, by name."""
        return {name: table.checked(name) for name, table in self.inputs.items()}
