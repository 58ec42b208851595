"""Fronts in a bottle fall and rise as theory has them, and slabs this coarse come near a fine solution."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from sim.pumping.column import LAYERS, PACKED_SHARE, Column, Fall
from sim.pumping.stock import Stock, Suspended

AREA_CM2, HEIGHT_ML = 100.0, 3000.0
ALIKE = Suspended(20.0, 2.32, 0.12, 1.0, 20.0)
MIXED = Suspended(20.0, 2.32, 0.12, 1.1, 60.0, 1.6)


def column_after(what, hours, layers=LAYERS):
    stock = Stock(HEIGHT_ML, what, AREA_CM2, layers=layers)
    stock.advance(hours * 3600.0, agitated=False)
    return stock.standing()


def missing_above_ml(column, what):
    """Return how much liquid would be clear if all solids that the upper 80 % lack were missing at the top.

    Of grains that are all alike that is the height of the clear liquid, blurred front or not.
    """
    labelled_ml = solids_ml = top_ml = 0.0
    for slab in reversed(column.slabs):
        if top_ml >= 0.8 * HEIGHT_ML:
            break
        top_ml += slab.ml
        labelled_ml += slab.ml * what.volume_share
        solids_ml += sum(slab.solids_ml)
    return (labelled_ml - solids_ml) / what.volume_share


@pytest.mark.parametrize("share", [0.02, 0.12, 0.3])
@pytest.mark.parametrize("hours", [0.5, 1.5, 3.0])
def test_the_clear_front_of_equal_grains_falls_at_their_hindered_speed(share, hours):
    """Kynch (1952): a front below clear liquid falls as its grains do; how fast, say Richardson & Zaki."""
    what = Suspended(20.0, 2.32, share, 1.0, 20.0)
    stokes_m_s = 9.80665 * 1320.0 * (20e-6) ** 2 / (18 * 20e-3)
    front_ml = stokes_m_s * (1 - share) ** 4.65 * hours * 3600.0 * AREA_CM2 * 100.0
    assert front_ml < 0.5 * HEIGHT_ML
    assert missing_above_ml(column_after(what, hours), what) == pytest.approx(front_ml, rel=0.05)


@pytest.mark.parametrize("hours", [0.5, 3.0, 5.0])
def test_the_bed_of_equal_grains_rises_as_kynch_says(hours):
    """Kynch (1952), a shock between phi and the packed share: f / (packed - phi)."""
    stokes_m_s = 9.80665 * 1320.0 * (20e-6) ** 2 / (18 * 20e-3)
    flux_m_s = 0.12 * stokes_m_s * 0.88**4.65
    rise_ml = flux_m_s / (PACKED_SHARE - 0.12) * hours * 3600.0 * AREA_CM2 * 100.0
    assert column_after(ALIKE, hours).bed.ml == pytest.approx(rise_ml, rel=0.05)


def test_in_the_end_everything_lies_packed_on_the_floor():
    column = column_after(MIXED, 400.0)
    assert column.bed.ml == pytest.approx(0.12 / PACKED_SHARE * HEIGHT_ML, rel=1e-3)
    assert column.bed.share == pytest.approx(PACKED_SHARE, rel=1e-3)


@pytest.mark.parametrize("share", [0.01, 0.12, 0.3, 0.45])
@pytest.mark.parametrize("spread", [1.0, 1.6, 3.0])
def test_nothing_is_ever_packed_denser_than_a_bed(share, spread):
    what = Suspended(20.0, 2.32, share, 1.0, 20.0, spread)
    for hours in (1.0, 5.0, 40.0):
        column = column_after(what, hours)
        for portion in (column.bed, *column.slabs):
            assert min(portion.solids_ml) >= -1e-12
            assert portion.share <= PACKED_SHARE * (1 + 1e-9)


@pytest.mark.parametrize("falls", [(Fall(1.0, 2.39),), (Fall(1.0, 2.39), Fall(0.1, 2.39))])
def test_coarse_grains_that_crowd_at_the_floor_wait_for_room(falls):
    """Beyond Re 500 company hinders so little that more arrive at a slab than fit into it."""
    column = Column(HEIGHT_ML, [0.48 * HEIGHT_ML / len(falls)] * len(falls), falls)
    for still_s in [60.0] * 40 + [1e5]:
        column.settle(still_s)
        for portion in (column.bed, *column.slabs):
            assert portion.share <= PACKED_SHARE * (1 + 1e-9)
        assert sum(column.solids_ml) == pytest.approx(0.48 * HEIGHT_ML, rel=1e-9)
    assert sum(column.bed.solids_ml) == pytest.approx(0.48 * HEIGHT_ML, rel=0.01)


def test_two_sizes_part_as_the_balance_over_their_fronts_demands():
    """Smith (1966): the front of the large falls as they do; as many of the small pass it above as below.

    Solved here by scipy.
    """
    large, small = Fall(0.2, 4.65), Fall(0.05, 4.65)
    still_s, large_ml, small_ml = 7200.0, 180.0, 180.0
    column = Column(HEIGHT_ML, [large_ml, small_ml], (large, small), layers=192)
    column.settle(still_s)
    below = (large_ml + small_ml) / HEIGHT_ML
    front = 0.2 * (1 - below) ** 4.65

    def unbalanced(upper):
        return upper * (0.05 * (1 - upper) ** 4.65 - front) - small_ml / HEIGHT_ML * (
            0.05 * (1 - below) ** 4.65 - front
        )

    upper = brentq(unbalanced, 0.0, 0.2)
    clear_ml, front_ml = 0.05 * (1 - upper) ** 4.65 * still_s, front * still_s
    assert 0.0 < clear_ml < front_ml < 0.6 * HEIGHT_ML
    # Between the two fronts, clear of both: only the small, at the share that the balance gives.
    place, height_ml = 0, column.bed.ml
    while height_ml + column.slabs[place].ml < HEIGHT_ML - 0.5 * (clear_ml + front_ml):
        height_ml += column.slabs[place].ml
        place += 1
    slab = column.slabs[place]
    assert slab.share == pytest.approx(upper, rel=0.01)
    assert slab.solids_ml[0] < 0.01 * slab.solids_ml[1]


def settled_by_scipy(what, hours, cells=150):
    """Solve the same physics another way: 150 cells that shrink as the bed rises, scipy's own steps.

    Returns the share of all solids that lies in the bed at each hour.
    """
    grades = what.grades
    speeds = np.array([what.fall_m_s(grade.size_um)[0] for grade in grades])
    start = np.array([grade.volume_share * what.volume_share for grade in grades])
    height_m = HEIGHT_ML * 1e-6 / (AREA_CM2 * 1e-4)
    faces = np.arange(cells)[:, None] / cells

    def change(_, state):
        floor_m = state[-1]
        depth_m = height_m - floor_m
        shares = state[:-1].reshape(cells, -1) / (depth_m / cells)
        whole = shares.sum(axis=1, keepdims=True)
        falling = shares * speeds * np.clip(1 - whole, 0, 1) ** 4.65
        rise = falling[0].sum() / (PACKED_SHARE - whole[0, 0])
        # Faces move up with the bed, the lowest with all of it, the surface not at all.
        through = falling + shares * rise * (1 - faces)
        gain = -through
        gain[:-1] += through[1:]
        return np.append(gain.ravel(), rise)

    first = np.append(np.tile(start * height_m / cells, (cells, 1)).ravel(), 0.0)
    seconds = [hour * 3600.0 for hour in hours]
    solved = solve_ivp(change, (0.0, seconds[-1]), first, "RK23", t_eval=seconds, rtol=1e-5, atol=1e-8)
    assert solved.success
    floating_m = solved.y[:-1].sum(axis=0)
    return 1 - floating_m / (what.volume_share * height_m)


@pytest.mark.parametrize("what", [ALIKE, MIXED], ids=["alike", "mixed"])
def test_slabs_settle_as_a_fine_solution_by_scipy_within_2_percent_of_all_solids(what):
    hours = [0.5, 2.0, 6.0, 12.0, 24.0]
    reference = settled_by_scipy(what, hours)
    for hour, expected in zip(hours, reference, strict=True):
        column = column_after(what, hour)
        bed_ml = sum(column.bed.solids_ml)
        assert bed_ml / (what.volume_share * HEIGHT_ML) == pytest.approx(expected, abs=0.02)


def doses(layers, hours):
    stock = Stock(10_000.0, Suspended(20.0, 2.32, 0.12, 1.104, 90.0, 1.6), layers=layers)
    stock.advance(hours * 3600.0, agitated=False)
    return np.array([stock.draw(100.0).solids_share for _ in range(95)])


@pytest.mark.parametrize("hours", [2.0, 6.0, 24.0])
def test_the_error_of_coarse_slabs_is_as_small_as_the_docstring_says_and_shrinks_with_finer_ones(hours):
    """Solids drawn up to any point, as a share of the bottle's, against slabs sixteen times finer."""
    fine = np.cumsum(doses(16 * LAYERS, hours)) / 100.0
    coarse, finer = (np.cumsum(doses(layers, hours)) / 100.0 for layers in (LAYERS, 4 * LAYERS))
    assert np.abs(coarse - fine).max() < 0.025
    assert np.abs(finer - fine).max() < 0.5 * np.abs(coarse - fine).max()
