"""A night of trimming a titrated water with the controller's own trim: pump, probe and guard as on a rig.

A reading is looked for as the measuring phase does, every 5 s until it rests; the whole night shares one
error of the calibration. The chemistry is `titrated_water.py`.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from titrated_water import TitratedWater

from controller.measure.steadiness import Steadiness
from controller.measure.trim import (
    Add,
    GiveUp,
    InWindow,
    Titration,
    TrimState,
    Wait,
    decide,
    learn,
    learn_wait,
    reading_doubt_ph,
)
from controller.settings.values import Form, Input, Reaction, TrimPolicy

# What the demo site is advised to use.
POLICY = TrimPolicy(
    first_dose_ml_l=0.025,
    share=0.9,
    cap_ml_l=3.0,
    max_trims=10,
    guard_share=0.2,
    rebound_wait_s=1800.0,
    stable_s=60.0,
    stable_ph=0.02,
)

TANK_L = 180.0
WINDOW = (5.8, 6.3)
LOOK_S = 5.0
MOST_LOOKS = 2000
BASE_WAIT_S = 1200.0


def trim_input(name: str, reaction: Reaction, *, slow: bool = False) -> Input:
    """Make an acid or base of which trim only reads the name."""
    return Input(
        name=name,
        title=name,
        pump=name,
        agitator=None,
        form=Form.SOLUTION,
        reaction=reaction,
        carries=frozenset(),
        living=False,
        foams=False,
        oxidiser=False,
        slow_dissolving=slow,
        density_kg_l=1.07,
        viscosity_mpa_s=1.5,
        max_ml_min=60.0,
        agitate_s=0.0,
        label_low_ml_l=0.0,
        label_high_ml_l=5.0,
        stock_ml=2000.0,
        unreachable_ml=50.0,
    )


ACID = trim_input("citric_acid", Reaction.ACID)
PHOSPHORIC = trim_input("phosphoric_acid", Reaction.ACID)
BASE = trim_input("potassium_hydroxide", Reaction.BASE)
LIMESTONE = trim_input("limestone", Reaction.BASE, slow=True)


@dataclass(frozen=True, slots=True)
class Probing:
    """How well the night reads and doses: standard deviation of one sample, of the calibration, of what
    wanders from reading to reading, of a dose (as a share); how strong the trim inputs are; the smallest dose
    of their pumps, and a roller of them.
    """

    noise_ph: float = 0.01
    calibration_ph: float = 0.01
    wander_ph: float = 0.0
    dose_error: float = 0.02
    mol_l: dict[str, float] = field(
        default_factory=lambda: {
            "citric_acid": 1.76,
            "phosphoric_acid": 2.5,
            "potassium_hydroxide": 0.5,
            "limestone": 1.0,
        }
    )
    min_ml: float = 0.8
    step_ml: float = 0.16


@dataclass(frozen=True, slots=True)
class TrimmedNight:
    """What a night of trimming came to.

    `past_far_edge_ph` is the most that true pH ever went past the recipe's far edge; `true_ph` is at the end,
    `read_ph` the last reading of it.
    """

    state: TrimState
    end: InWindow | GiveUp
    steps: tuple[Add, ...]
    past_far_edge_ph: float
    true_ph: float
    read_ph: float

    @property
    def trims(self) -> int:
        return len(self.steps)


class _Probe:
    """The probe of one night."""

    def __init__(self, probing: Probing, rng: random.Random) -> None:
        self._noise_ph = probing.noise_ph
        self._rng = rng
        self._off_ph = rng.gauss(0.0, probing.calibration_ph)
        self._wander_ph = probing.wander_ph

    def read(self, water: TitratedWater) -> tuple[float, float]:
        """Look until the controller's own test takes the reading; give its mean and standard uncertainty."""
        ph = water.ph() + self._off_ph + (self._rng.gauss(0.0, self._wander_ph) if self._wander_ph else 0.0)
        at_rest = Steadiness(POLICY.stable_s, POLICY.stable_ph)
        for look in range(MOST_LOOKS):
            at_rest.add(look * LOOK_S, ph + self._rng.gauss(0.0, self._noise_ph))
            rest = at_rest.rest() if look * LOOK_S >= POLICY.stable_s else None
            if rest is not None:
                return rest.mean, rest.doubt
        raise AssertionError("a probe of this noise never comes to rest")


def trim_night(
    water: TitratedWater,
    rng: random.Random,
    *,
    window: tuple[float, float] = WINDOW,
    policy: TrimPolicy = POLICY,
    remembered: tuple[Titration, ...] = (),
    probing: Probing = Probing(),
    acid: Input | None = ACID,
    base: Input | None = BASE,
) -> TrimmedNight:
    """Trim a water to the inner part of a recipe's window until the controller says that it is done."""
    low, high = window
    guard_ph = policy.guard_share * (high - low)
    state = TrimState()
    steps: list[Add] = []
    downwards = water.ph() > high
    past_ph = 0.0
    probe = _Probe(probing, rng)
    ph, u_ph = probe.read(water)
    while True:
        decision = decide(
            state,
            ph,
            window=(low + guard_ph, high - guard_ph),
            tank_l=TANK_L,
            policy=policy,
            acid=acid,
            base=base,
            acid_min_ml=probing.min_ml,
            base_min_ml=probing.min_ml,
            acid_step_ml=probing.step_ml,
            base_step_ml=probing.step_ml,
            remembered=remembered,
            reading_u_ph=u_ph,
        )
        if isinstance(decision, Wait):
            water.wait(BASE_WAIT_S)
            ph, u_ph = probe.read(water)
            state = learn_wait(state, ph)
            past_ph = max(past_ph, low - water.ph() if downwards else water.ph() - high)
            continue
        if not isinstance(decision, Add):
            water.wait(BASE_WAIT_S)
            past_ph = max(past_ph, low - water.ph() if downwards else water.ph() - high)
            return TrimmedNight(state, decision, tuple(steps), past_ph, water.ph(), ph)
        steps.append(decision)
        _dose(water, decision, probing, rng)
        after_ph, after_u_ph = probe.read(water)
        state = learn(
            state,
            decision.direction,
            added_ml=decision.ml,
            tank_l=TANK_L,
            ph_before=ph,
            ph_after=after_ph,
            doubt_ph=reading_doubt_ph(max(u_ph, after_u_ph), policy),
        )
        ph, u_ph = after_ph, after_u_ph
        past_ph = max(past_ph, low - water.ph() if downwards else water.ph() - high)


def _dose(water: TitratedWater, decision: Add, probing: Probing, rng: random.Random) -> None:
    """Let what the pump truly gives react."""
    name = decision.input.name
    true_mmol_l = decision.ml * rng.gauss(1.0, probing.dose_error) / TANK_L * probing.mol_l[name]
    add = {
        ACID.name: water.add_citric,
        PHOSPHORIC.name: water.add_phosphoric,
        BASE.name: water.add_strong,
        LIMESTONE.name: water.add_limestone,
    }
    add[name](true_mmol_l)
    water.wait(BASE_WAIT_S)
