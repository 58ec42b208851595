"""What one ligand adds to a charge balance: its protons, its metal pairs, and how they move with both.

A ligand's forms are weighed against its bare activity: each is constant x activities of what it holds,
divided by its own activity coefficient (`lift1` to `lift3` are 1/gamma of a charge of 1 to 3). Slopes by
ln(activity) are covariances of the numbers of protons and metals that the ligand carries, so the Jacobian of
all balances together is symmetric. Ca and Mg count with their whole charge outside, free or paired.
Not here: constants, the search itself.
"""

from __future__ import annotations

from sim.matter.equilibria import HUMIC

Sums = tuple[float, float, float, float, float, float, float, float, float, float, float]
"""Bare activity; charge; slopes h-h, h-Ca, h-Mg; bound Ca, Mg; slopes Ca-Ca, Mg-Mg, Ca-Mg; sum of z2 c."""


def sulfate(total: float, pairs: tuple[float, ...], ions: tuple[float, ...], lift1: float) -> Sums:
    """Return the sums of sulfate: `pairs` and `ions` are of H, Ca, Mg, Na, K, NH4 in this order."""
    h, ca, mg, na, k, nh4 = ions
    with_h, with_ca, with_mg, with_na, with_k, with_nh4 = pairs
    single = (with_h * h + with_na * na + with_k * k + with_nh4 * nh4) * lift1
    lift2 = lift1 * lift1 * lift1 * lift1
    bound_ca, bound_mg = with_ca * ca, with_mg * mg
    activity = total / (lift2 + single + bound_ca + bound_mg)
    held = with_h * h * lift1 * activity
    squares = (4.0 * lift2 + single) * activity
    return _one_proton(total, activity, -2.0, held, bound_ca * activity, bound_mg * activity, squares)


def acetate(total: float, pairs: tuple[float, ...], h: float, ca: float, mg: float, lift1: float) -> Sums:
    """Return the sums of acetate; `pairs` are of H, Ca, Mg."""
    with_h, with_ca, with_mg = pairs
    held, bound_ca, bound_mg = with_h * h, with_ca * ca * lift1, with_mg * mg * lift1
    activity = total / (lift1 + held + bound_ca + bound_mg)
    squares = (lift1 + bound_ca + bound_mg) * activity
    return _one_proton(
        total, activity, -1.0, held * activity, bound_ca * activity, bound_mg * activity, squares
    )


def _one_proton(
    total: float, activity: float, z: float, held: float, ca: float, mg: float, squares: float
) -> Sums:
    """Return the sums of a ligand that carries at most one proton or one metal."""
    free = 1.0 - held / total
    by_ca, by_mg = ca / total, mg / total
    return (
        activity,
        z * total + held,
        held * free,
        -held * by_ca,
        -held * by_mg,
        ca,
        mg,
        ca - ca * by_ca,
        mg - mg * by_mg,
        -ca * by_mg,
        squares,
    )


def three_protons(
    total: float,
    pairs: tuple[float, ...],
    ions: tuple[float, float, float],
    weak: float,
    lifts: tuple[float, float, float],
) -> Sums:
    """Return the sums of phosphate or citrate, bare charge -3.

    `pairs` are cumulated: 1-3 protons, Ca with 0-2, Mg with 0-2; `ions` are H, Ca, Mg; `weak` is the sum of
    constant x activity of pairs of Na and K with the form of one proton.
    """
    h, ca, mg = ions
    lift1, lift2, lift3 = lifts
    h1, h2, h3, c0, c1, c2, m0, m1, m2 = pairs
    twice = h * h
    ca_once, mg_once = ca * c1 * h, mg * m1 * h
    ca_twice, mg_twice = ca * c2 * twice * lift1, mg * m2 * twice * lift1
    bound_ca = ca * c0 * lift1 + ca_once + ca_twice
    bound_mg = mg * m0 * lift1 + mg_once + mg_twice
    paired = weak * h * lift1
    hydrogen, dihydrogen, whole = h1 * h * lift2, h2 * twice * lift1, h3 * twice * h
    activity = total / (lift3 + hydrogen + dihydrogen + whole + bound_ca + bound_mg + paired)
    share = activity / total
    once = hydrogen + ca_once + mg_once + paired
    double = dihydrogen + ca_twice + mg_twice
    k = (once + 2.0 * double + 3.0 * whole) * share
    u, w = bound_ca * share, bound_mg * share
    single = dihydrogen + paired + bound_ca - ca_once + bound_mg - mg_once
    return (
        activity,
        total * (k - 3.0),
        total * ((once + 4.0 * double + 9.0 * whole) * share - k * k),
        total * ((ca_once + 2.0 * ca_twice) * share - k * u),
        total * ((mg_once + 2.0 * mg_twice) * share - k * w),
        total * u,
        total * w,
        total * u * (1.0 - u),
        total * w * (1.0 - w),
        -total * u * w,
        activity * (9.0 * lift3 + 4.0 * hydrogen + single),
    )


def carbonate(total: float, pairs: tuple[float, ...], ions: tuple[float, float, float], lift1: float) -> Sums:
    """Return the sums of carbonate whose total is kept; `pairs`: 1-2 protons, Ca with 0-1, Mg with 0-1."""
    bare, once, whole, ca0, ca1, mg0, mg1 = carbonate_forms(pairs, ions, lift1)
    bound_ca, bound_mg = ca0 + ca1, mg0 + mg1
    activity = total / (bare + once + whole + bound_ca + bound_mg)
    share = activity / total
    single = once + ca1 + mg1
    k = (single + 2.0 * whole) * share
    u, w = bound_ca * share, bound_mg * share
    return (
        activity,
        total * (k - 2.0),
        total * ((single + 4.0 * whole) * share - k * k),
        total * (ca1 * share - k * u),
        total * (mg1 * share - k * w),
        total * u,
        total * w,
        total * u * (1.0 - u),
        total * w * (1.0 - w),
        -total * u * w,
        activity * (4.0 * bare + single),
    )


def held_carbonate(
    co2: float, pairs: tuple[float, ...], ions: tuple[float, float, float], lift1: float
) -> Sums:
    """Return the sums of carbonate whose CO2 (mol/kg) the air holds: each form moves by its own charge."""
    h = ions[0]
    activity = co2 / (pairs[1] * h * h)
    forms = carbonate_forms(pairs, ions, lift1)
    bare, once, _, ca0, ca1, mg0, mg1 = (activity * form for form in forms)
    single = once + ca1 + mg1
    double = bare + ca0 + mg0
    return (
        activity,
        -2.0 * double - single,
        4.0 * double + single,
        -2.0 * ca0 - ca1,
        -2.0 * mg0 - mg1,
        ca0 + ca1,
        mg0 + mg1,
        ca0 + ca1,
        mg0 + mg1,
        0.0,
        4.0 * bare + single,
    )


def carbonate_forms(
    pairs: tuple[float, ...], ions: tuple[float, float, float], lift1: float
) -> tuple[float, float, float, float, float, float, float]:
    """Return CO3-2, HCO3-, CO2, CaCO3, CaHCO3+, MgCO3, MgHCO3+ per bare activity."""
    h, ca, mg = ions
    h1, h2, c0, c1, m0, m1 = pairs
    lift2 = lift1 * lift1 * lift1 * lift1
    once = h * lift1
    return lift2, h1 * once, h2 * h * h, ca * c0, ca * c1 * once, mg * m0, mg * m1 * once


def humate(sites: float, proton: float) -> tuple[float, float]:
    """Return the charge lost by humic-like sites and its slope: independent one-proton sites, no pairs.

    `proton` is its activity times the activity coefficient that a dissociated site shares with single ions.
    """
    lost = slope = 0.0
    for k, share in HUMIC:
        dissociated = k / (k + proton)
        lost += share * dissociated
        slope += share * dissociated * (1.0 - dissociated)
    return sites * lost, sites * slope
