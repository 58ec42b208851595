"""The checked site: what every other room may know about the rig, its inputs, recipes and policies.

Only frozen values live here, in one unit each (named last in the field). No parsing, no files,
no pint, no pydantic: a value that exists has already been checked by `load.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum
from pathlib import Path


class Form(Enum):
    """How an input is dispersed."""

    SOLUTION = "solution"
    SUSPENSION = "suspension"


class Reaction(Enum):
    """What an input does to pH when it is the purpose or a danger of the input."""

    NEUTRAL = "neutral"
    ACID = "acid"
    BASE = "base"


class Carried(Enum):
    """Ions that must not meet undiluted."""

    CALCIUM = "calcium"
    PHOSPHATE = "phosphate"
    SULFATE = "sulfate"


class ShortStock(Enum):
    """What to do when a bottle holds less than the plan needs."""

    REFUSE = "refuse"
    WITHIN_TOLERANCE = "within tolerance"


class ChlorineMethod(Enum):
    """How the site makes sure that the water carries no chlorine."""

    CARTRIDGE = "cartridge"
    AERATED_REST = "aerated rest"
    ATTESTED = "attested"


@dataclass(frozen=True, slots=True)
class Tank:
    """Feed tank: an upright cylinder. Volumes are contents up to that height."""

    diameter_m: float
    working_l: float
    low_float_l: float
    high_float_l: float
    second_high_float_l: float
    brim_l: float


@dataclass(frozen=True, slots=True)
class Fill:
    """Supply valve, its pipe and its flow meter."""

    rated_l_min: float
    pipe_ml: float
    pulses_per_l: float
    disagreement_l: float


@dataclass(frozen=True, slots=True)
class Stir:
    """Stir pump and the nozzle through which it returns to the tank."""

    flow_l_min: float
    nozzle_mm: float
    safety_factor: float


@dataclass(frozen=True, slots=True)
class Manifold:
    """Common line from the dosing pumps to the stir loop, rinsed with water by a pump of its own."""

    holdup_ml: float
    rinse_pump: str
    rinse_ml: float
    recovery: float


@dataclass(frozen=True, slots=True)
class Pump:
    """One peristaltic pump. `channel` is its place on the board, from 0.

    `dose_cap_ml` None: `controller.plan.dose_caps` works a stand-in out. `scale` names the scale that carries
    what it draws from; None: nothing weighs its doses. `start_ml` is what a delivery gives beyond its counts
    (the intercept of its calibration, may be negative). `calibrated` None: nobody wrote down when.
    `pulsation_share` is how far the volume runs ahead of its mean and behind it between two rollers, peak to
    peak, over a roller's volume; `suction_bore_mm` and `suction_m` are of the tube from the bottle. None:
    nobody measured it, and whoever needs it takes a stand-in. `anti_drip_counts` is by how much the board
    turns the rotor back after a whole dose, and forward again, uncounted, before the next one.
    """

    name: str
    channel: int
    ml_per_count: float
    counts_per_roller: int
    max_ml_min: float
    min_dose_ml: float
    night_cap_ml: float
    dose_cap_ml: float | None = None
    scale: str | None = None
    start_ml: float = 0.0
    calibrated: date | None = None
    due_days: int | None = None
    pulsation_share: float | None = None
    suction_bore_mm: float | None = None
    suction_m: float | None = None
    anti_drip_counts: int = 0


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale under one or several bottles. `line` is its data line on the board, from 0."""

    name: str
    line: int


@dataclass(frozen=True, slots=True)
class PhProbe:
    """pH electrode as last calibrated. `slope_share` is the slope over the Nernst slope."""

    offset_mv: float
    slope_share: float
    isopotential_ph: float
    calibrated: date
    due_days: int


@dataclass(frozen=True, slots=True)
class ConductivityCell:
    """Conductivity cell as last calibrated: true conductivity is `factor` times what the board reads."""

    factor: float
    calibrated: date
    due_days: int


@dataclass(frozen=True, slots=True)
class FrontEnds:
    """Analogue modules on the board: the voltage each gives the board's converter at two known points.

    `ph_zero_mv` at 0 mV of the electrode, `ph_gain` times the electrode's mV on top; conductivity and level
    at nothing (zero) and at full.
    """

    ph_zero_mv: float
    ph_gain: float
    conductivity_zero_mv: float
    conductivity_full_mv: float
    conductivity_full_us_cm: int
    level_zero_mv: float
    level_full_mv: float
    level_full_mm: float


@dataclass(frozen=True, slots=True)
class Board:
    """Microcontroller board. `port` and `front_ends` are None at a site that is only simulated.

    `port` is the serial line's device, `valve_cap_s` the longest single opening of the fill valve.
    """

    server_id: int
    port: str | None
    baud: int
    valve_cap_s: float
    front_ends: FrontEnds | None


@dataclass(frozen=True, slots=True)
class Pins:
    """GPIO numbers of the single-board computer; `agitators` by name.

    `active_low` names the relays that a low level switches on: "stir", "air", "drain", "permit", an agitator.
    """

    selector_hand: int
    selector_auto: int
    button: int
    estop_ok: int
    second_high_float: int
    low_float: int
    stir: int
    air: int | None
    drain: int
    permit: int
    lamp: int
    sounder: int
    agitators: Mapping[str, int]
    active_low: frozenset[str]


@dataclass(frozen=True, slots=True)
class Rig:
    """Everything that is bolted down (rig.toml).

    `pins` is None at a site that is only simulated; `second_probe` and `cell` are None where none is fitted,
    or none has been calibrated.
    """

    tank: Tank
    fill: Fill
    stir: Stir
    manifold: Manifold
    probe: PhProbe
    board: Board
    air_pump: bool
    pumps: Mapping[str, Pump]
    agitators: tuple[str, ...]
    pins: Pins | None
    scales: Mapping[str, Scale] = field(default_factory=dict)
    second_probe: PhProbe | None = None
    cell: ConductivityCell | None = None


@dataclass(frozen=True, slots=True)
class Input:
    """A liquid concentrate and its bottle (inputs.toml). `agitator` is None when nothing stirs the bottle.

    Of `stock_ml` the dip tube leaves `unreachable_ml` in the bottle, which can never be dosed.
    """

    name: str
    title: str
    pump: str
    agitator: str | None
    form: Form
    reaction: Reaction
    carries: frozenset[Carried]
    living: bool
    foams: bool
    oxidiser: bool
    slow_dissolving: bool
    density_kg_l: float
    viscosity_mpa_s: float
    max_ml_min: float
    agitate_s: float
    label_low_ml_l: float
    label_high_ml_l: float
    stock_ml: float
    unreachable_ml: float


@dataclass(frozen=True, slots=True)
class RecipeAddition:
    """One line of a recipe. `rate_text` is the line as written, with the unit convention it was read by."""

    input: str
    rate_ml_l: float
    rate_text: str


@dataclass(frozen=True, slots=True)
class JarTest:
    """What a person tried in a jar of this feed: `ml_l` of `input` took pH from `ph_before` to `ph_after`."""

    input: str
    ml_l: float
    ph_before: float
    ph_after: float


@dataclass(frozen=True, slots=True)
class Recipe:
    """One recipe (recipes/NAME.toml). The order of `additions` is the order of dosing.

    Conductivity, µS/cm at 25 °C, is for reference only where both limits are None. `rebound_ph` is how far
    pH is expected to rise in the wait for CO2, 0 to 1; None: as the record of earlier nights shows it.
    """

    name: str
    title: str
    final_l: float
    first_fill_share: float
    additions: tuple[RecipeAddition, ...]
    ph_low: float
    ph_high: float
    trim_acid: str | None
    trim_base: str | None
    conductivity_low_us_cm: float | None = None
    conductivity_high_us_cm: float | None = None
    jar_test: JarTest | None = None
    rebound_ph: float | None = None


@dataclass(frozen=True, slots=True)
class Water:
    """Supply water: how chlorine is dealt with and which temperature is accepted."""

    chlorine: ChlorineMethod
    rest_s: float
    cartridge_left_l: float
    temperature_low_c: float
    temperature_high_c: float
    temperature_wait_s: float


@dataclass(frozen=True, slots=True)
class Mixing:
    """Site rules of dosing and mixing.

    `base_wait_s` is the longer stirring after a trim with a slow-dissolving base, before the settle.
    """

    injection_dilution: float
    min_mix_s: float
    settle_s: float
    base_wait_s: float


@dataclass(frozen=True, slots=True)
class TrimPolicy:
    """Limits of the pH trims of one night.

    `first_dose_ml_l` is the first, careful trim, mL per litre of tank; `cap_ml_l` all trims with one input.
    `guard_share` is the share of a recipe's pH window that trims keep free at each edge, 0 to 0.4.
    """

    first_dose_ml_l: float
    share: float
    cap_ml_l: float
    max_trims: int
    guard_share: float
    rebound_wait_s: float
    stable_s: float
    stable_ph: float


@dataclass(frozen=True, slots=True)
class Keeping:
    """How a released tank is kept until it is fed."""

    max_age_s: float
    stir_every_s: float
    stir_s: float


@dataclass(frozen=True, slots=True)
class HeelRule:
    """What may be left in the tank when a batch starts."""

    max_l: float
    max_age_s: float


@dataclass(frozen=True, slots=True)
class StockRule:
    """What to do about a short bottle; `tolerance` is the share of a dose that may be missing."""

    short: ShortStock
    tolerance: float


@dataclass(frozen=True, slots=True)
class ProofTests:
    """When interlocks and outputs were last proved by a person, and how long that holds."""

    done: date
    by: str
    due_days: int


@dataclass(frozen=True, slots=True)
class PlannedNight:
    """One line of the schedule: local time `hour`:`minute`, on `weekdays` (0 = Monday)."""

    weekdays: frozenset[int]
    hour: int
    minute: int
    recipe: str


@dataclass(frozen=True, slots=True)
class Policy:
    """The site's own rules (site.toml)."""

    name: str
    title: str
    time_zone: str
    nights: tuple[PlannedNight, ...]
    water: Water
    mixing: Mixing
    trim: TrimPolicy
    keeping: Keeping
    heel: HeelRule
    stock: StockRule
    proof_tests: ProofTests


@dataclass(frozen=True, slots=True)
class Site:
    """One site: a folder of TOML files, read and checked as a whole."""

    folder: Path
    policy: Policy
    rig: Rig
    inputs: Mapping[str, Input]
    recipes: Mapping[str, Recipe]
