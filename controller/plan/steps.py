"""The words of a plan: the kinds of step, the steps, and the plan that holds them.

Only frozen data lives here. Single steps are made by `making.py`, put in order by `night.py` (a night) and
`trim_round.py` (one trim), and carried out by the phase of the same name in `controller.run.phases`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class StepKind(Enum):
    """Kinds of step. The value is the word that people read."""

    CHECK = "check"
    FILL = "fill"
    CONDITION = "condition water"
    AGITATE = "agitate stock"
    DOSE = "dose"
    RINSE = "rinse"
    MIX = "mix"
    SETTLE = "settle"
    MEASURE = "measure"
    TRIM = "trim"
    REBOUND = "rebound"
    RELEASE = "release"
    KEEP = "keep"
    DELIVER = "deliver"


class Purpose(Enum):
    """Why an amount is dosed."""

    ADDITION = "addition"
    RINSE = "rinse"
    TRIM = "trim"
    CALIBRATION = "calibration"
    PRIME = "prime"
    FLUSH = "flush"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What every step has. `expected_s` is how long it should take, for progress and the time left."""

    kind: StepKind
    title: str
    expected_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Check(Step):
    """Prove the preconditions."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill(Step):
    """Run the supply from `from_l`, which the tank must hold now, to `to_l`; `top_up`: the second stage."""

    from_l: float
    to_l: float
    top_up: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition(Step):
    """Make the water fit: rest for `rest_s`, with `air` if allowed, then wait for the temperature gate."""

    rest_s: float
    air: bool
    temperature_low_c: float
    temperature_high_c: float
    temperature_wait_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Agitate(Step):
    """Agitate a bottle until it has had `agitate_s` without a break; what the mix before gave counts."""

    input: str
    agitator: str
    agitate_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose(Step):
    """Move `target_ml` of one input into the stirred tank at `rate_ml_min`."""

    input: str
    pump: str
    agitator: str | None
    target_ml: float
    rate_ml_min: float
    purpose: Purpose


@dataclass(frozen=True, slots=True, kw_only=True)
class Rinse(Step):
    """Wash the manifold `times` times with `each_ml` of water, with a pause between."""

    after_input: str
    pump: str
    times: int
    each_ml: float
    rate_ml_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix(Step):
    """Stir for `mix_s`. The next bottle's agitator runs during the last `agitate_s` of it."""

    mix_s: float
    air: bool
    next_input: str | None
    next_agitator: str | None
    agitate_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Settle(Step):
    """Keep stir and air off for `settle_s`."""

    settle_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure(Step):
    """Read pH until it is stable: moves at most `stable_ph` over `stable_s`; give up after `give_up_s`."""

    stable_s: float
    stable_ph: float
    give_up_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Trim(Step):
    """Judge the last reading, and trim if it is not between `ph_low` and `ph_high`.

    These lie inside the recipe's window, by which the release judges. A trim adds the steps of one
    round (dose, rinse, mix, settle, measure, trim) right after this one. `before_rebound`: CO2 has yet to
    leave, and pH to rise with it.
    """

    ph_low: float
    ph_high: float
    acid: str | None
    base: str | None
    before_rebound: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebound(Step):
    """Stir for `wait_s` so that CO2 can leave, before the last look at pH.

    `air` only where nothing living or foaming is in the tank.
    """

    wait_s: float
    air: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Release(Step):
    """Give the feed permit if the tank is proven fit, else quarantine it.

    Conductivity is a gate only where a limit is set, µS/cm at 25 °C.
    """

    ph_low: float
    ph_high: float
    conductivity_low_us_cm: float | None = None
    conductivity_high_us_cm: float | None = None

    @property
    def gates_conductivity(self) -> bool:
        """Say whether conductivity has a say at all."""
        return self.conductivity_low_us_cm is not None or self.conductivity_high_us_cm is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep(Step):
    """Keep a released tank: short stirs, permit while in window, at most `max_age_s` old."""

    max_age_s: float
    stir_every_s: float
    stir_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Deliver(Step):
    """Move `target_ml` through one pump into a vessel beside the tank; nothing else may run.

    `input` is what its tube holds, "water" included; its bottle is agitated for `agitate_s` first.
    """

    input: str
    pump: str
    agitator: str | None
    agitate_s: float
    target_ml: float
    rate_ml_min: float
    purpose: Purpose


AnyStep = (
    Check
    | Fill
    | Condition
    | Agitate
    | Dose
    | Rinse
    | Mix
    | Settle
    | Measure
    | Trim
    | Rebound
    | Release
    | Keep
    | Deliver
)


@dataclass(frozen=True, slots=True)
class PlannedAddition:
    """One addition as planned. `living` ones are dosed after pH has been trimmed.

    `pace_limit` says in words what keeps `dose_ml_min` from being more.
    """

    input: str
    title: str
    rate_ml_l: float
    rate_text: str
    ml: float
    pump: str
    dose_ml_min: float
    pace_limit: str
    agitate_s: float
    rinses: int
    rinse_ml: float
    mix_s: float
    living: bool


@dataclass(frozen=True, slots=True)
class PlanWarning:
    """Something a person should know before the night; `rule` is a short fixed name."""

    rule: str
    text: str


@dataclass(frozen=True, slots=True)
class Plan:
    """One night as data. `final_l` = `heel_l` + `water_l` + `rinse_l` + all additions + `reserve_l`.

    `reserve_l` is the room that the top-up leaves for the doses and rinses of the expected trims.

    `duration_s` runs from the preconditions to the release, without trims; `floor_s` is the shortest time the
    same batch can take: rated flow, fastest allowed rates, mixing, one settle and one reading.
    """

    recipe: str
    title: str
    final_l: float
    heel_l: float
    water_l: float
    rinse_l: float
    reserve_l: float
    additions: tuple[PlannedAddition, ...]
    steps: tuple[AnyStep, ...]
    duration_s: float
    floor_s: float
    ph_low: float
    ph_high: float
    warnings: tuple[PlanWarning, ...]

    @property
    def beside_tank(self) -> bool:
        """Tell whether all of it goes into a vessel beside the tank, so that nothing is mixed or released."""
        return bool(self.steps) and all(isinstance(step, Deliver) for step in self.steps)
