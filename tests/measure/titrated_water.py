"""A closed tank of buffered water under titration, and a night of trimming it: the outside of `trim`.

Charge balance over carbonate, phosphate, citrate and ammonium at 25 °C, concentrations for activities.
Dissociation constants: carbonic 6.352/10.329 (Plummer & Busenberg 1982), phosphoric 2.148/7.198/12.35 and
citric 3.128/4.761/6.396 (Goldberg, Kishore & Lennen 2002; phosphoric from memory), ammonium 9.244
(NIST 46 by way of the PHREEQC databases), water 13.995 (IAPWS 2007). It shares no code with the trim.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from controller.measure.trim import Add, GiveUp, InWindow, Titration, TrimState, decide, learn
from controller.settings.values import Form, Input, Reaction, TrimPolicy

CARBONIC = (6.352, 10.329)
PHOSPHORIC = (2.148, 7.198, 12.35)
CITRIC = (3.128, 4.761, 6.396)
AMMONIUM = 9.244
WATER = 13.995

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


def trim_input(name: str, reaction: Reaction) -> Input:
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
        slow_dissolving=False,
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
BASE = trim_input("potassium_hydroxide", Reaction.BASE)


def negative_charge(pks: tuple[float, ...], ph: float) -> float:
    """Give the mean negative charge of a polyprotic acid at a pH."""
    term = weight = 1.0
    charge = 0.0
    for step, pk in enumerate(pks, start=1):
        term *= 10.0 ** (ph - pk)
        weight += term
        charge += step * term
    return charge / weight


class TitratedWater:
    """Closed water of given totals (mmol/L), brought to its first pH by strong ions."""

    def __init__(
        self,
        ph: float,
        *,
        carbonate_mmol_l: float = 0.0,
        phosphate_mmol_l: float = 0.0,
        citrate_mmol_l: float = 0.0,
        ammonium_mmol_l: float = 0.0,
    ) -> None:
        self.carbonate_mmol_l = carbonate_mmol_l
        self.phosphate_mmol_l = phosphate_mmol_l
        self.citrate_mmol_l = citrate_mmol_l
        self.ammonium_mmol_l = ammonium_mmol_l
        self.strong_meq_l = self._weak_charge_meq_l(ph)

    def add_citric(self, mmol_l: float) -> None:
        """Add citric acid."""
        self.citrate_mmol_l += mmol_l

    def add_strong(self, meq_l: float) -> None:
        """Add strong base (or strong acid, negative)."""
        self.strong_meq_l += meq_l

    def ph(self) -> float:
        """Find the pH at which the charges balance (bisection)."""
        low, high = 1.0, 13.0
        for _ in range(40):
            middle = (low + high) / 2.0
            if self._weak_charge_meq_l(middle) > self.strong_meq_l:
                high = middle
            else:
                low = middle
        return (low + high) / 2.0

    def _weak_charge_meq_l(self, ph: float) -> float:
        return (
            self.carbonate_mmol_l * negative_charge(CARBONIC, ph)
            + self.phosphate_mmol_l * negative_charge(PHOSPHORIC, ph)
            + self.citrate_mmol_l * negative_charge(CITRIC, ph)
            - self.ammonium_mmol_l / (1.0 + 10.0 ** (ph - AMMONIUM))
            + 1000.0 * (10.0 ** (ph - WATER) - 10.0**-ph)
        )


def random_water(rng: random.Random, ph: float) -> TitratedWater:
    """Draw a water: carbonate 0.3 to 4 mmol/L and phosphate 0.1 to 3 mmol/L, each evenly in its logarithm."""
    return TitratedWater(
        ph,
        carbonate_mmol_l=0.3 * (4.0 / 0.3) ** rng.random(),
        phosphate_mmol_l=0.1 * (3.0 / 0.1) ** rng.random(),
    )


@dataclass(frozen=True, slots=True)
class Probing:
    """How well the night reads and doses: one standard deviation of a reading and of a dose (as a share)."""

    noise_ph: float = 0.01
    dose_error: float = 0.02
    acid_mol_l: float = 1.0
    base_mol_l: float = 0.5


@dataclass(frozen=True, slots=True)
class TrimmedNight:
    """What a night of trimming came to; `past_far_edge_ph` is the most that true pH ever went past it."""

    state: TrimState
    end: InWindow | GiveUp
    steps: tuple[Add, ...]
    past_far_edge_ph: float
    true_ph: float

    @property
    def trims(self) -> int:
        return len(self.steps)


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
    min_ml: float = 0.5,
) -> TrimmedNight:
    """Trim a water until the controller says that it is done."""
    low, high = window
    state = TrimState()
    steps: list[Add] = []
    downwards = water.ph() > high
    past_ph = 0.0
    ph = water.ph() + rng.gauss(0.0, probing.noise_ph)
    while True:
        decision = decide(
            state,
            ph,
            window=window,
            tank_l=TANK_L,
            policy=policy,
            acid=acid,
            base=base,
            acid_min_ml=min_ml,
            base_min_ml=min_ml,
            remembered=remembered,
        )
        if not isinstance(decision, Add):
            return TrimmedNight(state, decision, tuple(steps), past_ph, water.ph())
        steps.append(decision)
        true_ml_l = decision.ml * rng.gauss(1.0, probing.dose_error) / TANK_L
        if decision.input is acid:
            water.add_citric(true_ml_l * probing.acid_mol_l)
        else:
            water.add_strong(true_ml_l * probing.base_mol_l)
        after_ph = water.ph() + rng.gauss(0.0, probing.noise_ph)
        state = learn(
            state,
            decision.direction,
            added_ml=decision.ml,
            tank_l=TANK_L,
            ph_before=ph,
            ph_after=after_ph,
        )
        ph = after_ph
        past_ph = max(past_ph, low - water.ph() if downwards else water.ph() - high)
