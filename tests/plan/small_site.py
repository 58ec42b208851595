"""A small invented site in code, for planning without files; its figures are round on purpose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from controller.settings import values as v

PUMP_OF = {
    "fish": "p0",
    "gypsum": "p1",
    "phosphate": "p2",
    "soap": "p3",
    "tea": "p4",
    "vinegar": "p5",
    "lime": "p6",
    "peroxide": "p7",
    "kelp": "p8",
    "humate": "p9",
}
# What no dip tube of this site reaches.
UNREACHABLE_ML = 50.0


def pump(name: str, channel: int, **changes: float) -> v.Pump:
    base = v.Pump(
        name=name,
        channel=channel,
        ml_per_count=0.01,
        counts_per_roller=100,
        max_ml_min=200.0,
        min_dose_ml=1.0,
        night_cap_ml=5_000.0,
        pulsation_share=0.001,
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def liquid(name: str, **changes: object) -> v.Input:
    base = v.Input(
        name=name,
        title=f"{name} liquid",
        pump=PUMP_OF.get(name, "p0"),
        agitator=None,
        form=v.Form.SOLUTION,
        reaction=v.Reaction.NEUTRAL,
        carries=frozenset(),
        living=False,
        foams=False,
        oxidiser=False,
        slow_dissolving=False,
        density_kg_l=1.1,
        viscosity_mpa_s=10.0,
        max_ml_min=150.0,
        agitate_s=0.0,
        label_low_ml_l=1.0,
        label_high_ml_l=10.0,
        stock_ml=5_000.0,
        unreachable_ml=UNREACHABLE_ML,
    )
    return replace(base, **changes)  # type: ignore[arg-type]


INPUTS = (
    liquid("fish", form=v.Form.SUSPENSION, agitator="a0", agitate_s=30.0),
    liquid(
        "gypsum",
        form=v.Form.SUSPENSION,
        agitator="a1",
        agitate_s=120.0,
        carries=frozenset({v.Carried.CALCIUM, v.Carried.SULFATE}),
    ),
    liquid("phosphate", carries=frozenset({v.Carried.PHOSPHATE})),
    liquid("soap", foams=True),
    liquid("tea", living=True, agitator="a2", agitate_s=20.0),
    liquid("vinegar", reaction=v.Reaction.ACID, label_low_ml_l=0.1, label_high_ml_l=2.0),
    liquid(
        "lime",
        reaction=v.Reaction.BASE,
        form=v.Form.SUSPENSION,
        slow_dissolving=True,
        agitator="a3",
        agitate_s=40.0,
        label_low_ml_l=0.1,
        label_high_ml_l=2.0,
    ),
    liquid("peroxide", oxidiser=True),
    liquid("kelp"),
    liquid("humate"),
)


def small_rig() -> v.Rig:
    names = sorted(PUMP_OF.values())
    pumps = {name: pump(name, channel) for channel, name in enumerate(names)}
    pumps["rinse"] = pump("rinse", len(names), max_ml_min=600.0, night_cap_ml=20_000.0)
    return v.Rig(
        tank=v.Tank(
            diameter_m=0.60,
            working_l=200.0,
            low_float_l=20.0,
            high_float_l=215.0,
            second_high_float_l=220.0,
            brim_l=240.0,
        ),
        fill=v.Fill(rated_l_min=20.0, pipe_ml=200.0, pulses_per_l=450.0, disagreement_l=3.0),
        stir=v.Stir(flow_l_min=30.0, nozzle_mm=10.0, safety_factor=2.0),
        manifold=v.Manifold(holdup_ml=5.0, rinse_pump="rinse", rinse_ml=50.0, recovery=0.99),
        probe=v.PhProbe(
            offset_mv=0.0, slope_share=0.98, isopotential_ph=7.0, calibrated=date(2025, 1, 1), due_days=30
        ),
        board=v.Board(server_id=1, port=None, baud=115200, valve_cap_s=1_200.0, front_ends=None),
        air_pump=True,
        pumps=pumps,
        agitators=("a0", "a1", "a2", "a3"),
        pins=None,
    )


def small_policy() -> v.Policy:
    return v.Policy(
        name="small",
        title="Small site",
        time_zone="UTC",
        nights=(),
        water=v.Water(
            chlorine=v.ChlorineMethod.ATTESTED,
            rest_s=7_200.0,
            cartridge_left_l=10_000.0,
            temperature_low_c=12.0,
            temperature_high_c=28.0,
            temperature_wait_s=3_600.0,
        ),
        mixing=v.Mixing(injection_dilution=20.0, min_mix_s=30.0, settle_s=300.0, base_wait_s=900.0),
        trim=v.TrimPolicy(
            first_dose_ml_l=0.05,
            share=0.7,
            cap_ml_l=1.0,
            max_trims=5,
            guard_share=0.2,
            rebound_wait_s=600.0,
            stable_s=60.0,
            stable_ph=0.02,
        ),
        keeping=v.Keeping(max_age_s=86_400.0, stir_every_s=3_600.0, stir_s=60.0),
        heel=v.HeelRule(max_l=15.0, max_age_s=43_200.0),
        stock=v.StockRule(short=v.ShortStock.REFUSE, tolerance=0.0),
        proof_tests=v.ProofTests(done=date(2025, 1, 1), by="someone", due_days=365),
    )


def line(name: str, rate_ml_l: float) -> v.RecipeAddition:
    return v.RecipeAddition(input=name, rate_ml_l=rate_ml_l, rate_text=f"{rate_ml_l:g} mL/L")


def recipe(
    *lines: tuple[str, float],
    name: str = "feed",
    final_l: float = 180.0,
    first_fill_share: float = 0.75,
    acid: str | None = "vinegar",
    base: str | None = "lime",
) -> v.Recipe:
    return v.Recipe(
        name=name,
        title=f"A {name}",
        final_l=final_l,
        first_fill_share=first_fill_share,
        additions=tuple(line(input_name, rate) for input_name, rate in lines),
        ph_low=5.8,
        ph_high=6.3,
        trim_acid=acid,
        trim_base=base,
    )


DEFAULT_LINES = (("fish", 2.0), ("kelp", 1.5), ("gypsum", 3.0), ("soap", 1.0), ("tea", 5.0))


def small_site(
    *recipes: v.Recipe,
    inputs: Sequence[v.Input] = (),
    rig: v.Rig | None = None,
    policy: v.Policy | None = None,
) -> v.Site:
    """Build the site; given inputs replace those of the same name, or are added."""
    kept = {one.name: one for one in (*INPUTS, *inputs)}
    chosen = recipes or (recipe(*DEFAULT_LINES), recipe(name="flush", acid=None, base=None))
    return v.Site(
        folder=Path("small"),
        policy=policy or small_policy(),
        rig=rig or small_rig(),
        inputs=kept,
        recipes={one.name: one for one in chosen},
    )
