"""Student's t and Grubbs' limits, against scipy and the printed tables."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import linalg, stats

from controller.measure.least_squares import fit
from controller.measure.student import grubbs_limit, t_cdf, t_quantile


@given(st.floats(1e-4, 1 - 1e-4), st.integers(1, 400))
def test_quantiles_are_those_of_scipy(probability: float, dof: int) -> None:
    assert t_quantile(probability, dof) == pytest.approx(stats.t.ppf(probability, dof), rel=1e-8, abs=1e-9)


@given(st.floats(-30, 30), st.integers(1, 400))
def test_probabilities_are_those_of_scipy(t: float, dof: int) -> None:
    assert t_cdf(t, dof) == pytest.approx(stats.t.cdf(t, dof), abs=1e-9)


@pytest.mark.parametrize(("probability", "dof"), [(0.0, 3), (1.0, 3), (0.5, 0)])
def test_no_quantile_is_invented(probability: float, dof: float) -> None:
    with pytest.raises(ValueError, match="no quantile"):
        t_quantile(probability, dof)


@pytest.mark.parametrize(
    ("count", "significance", "limit"),
    # ISO 5725-2:1994, table 5, upper 1 % and 5 % (from memory): 5, 10 and 20 results.
    [(5, 0.01, 1.764), (5, 0.05, 1.715), (10, 0.01, 2.482), (10, 0.05, 2.290), (20, 0.01, 3.001)],
)
def test_limits_of_grubbs_are_the_printed_ones(count: int, significance: float, limit: float) -> None:
    assert grubbs_limit(count, significance) == pytest.approx(limit, abs=6e-4)


def test_the_worked_example_of_the_nist_handbook_comes_out() -> None:
    # NIST/SEMATECH e-Handbook 1.3.5.17.1: eight masses, one-sided 5 % (so twice that on either side): 2.032.
    assert grubbs_limit(8, 0.10) == pytest.approx(2.032, abs=5e-4)


def test_two_results_have_no_outlier() -> None:
    with pytest.raises(ValueError, match="no outlier"):
        grubbs_limit(2)


@given(st.lists(st.floats(0.9, 1.1), min_size=6, max_size=6))
def test_a_weighted_line_is_that_of_scipy(wobble: list[float]) -> None:
    # scipy.linalg: singular values instead of normal equations.
    counts = [100.0, 110.0, 400.0, 420.0, 1000.0, 1050.0]
    seen = [0.05 * count * share for count, share in zip(counts, wobble, strict=True)]
    sigma = [0.02 + 0.004 * value for value in seen]
    found = fit([(1.0, count) for count in counts], seen, sigma)
    design = [(1.0 / one, count / one) for count, one in zip(counts, sigma, strict=True)]
    wanted, *_ = linalg.lstsq(design, [value / one for value, one in zip(seen, sigma, strict=True)])
    inverse = linalg.pinv(design)
    assert found.values == pytest.approx(tuple(wanted), rel=1e-9, abs=1e-9)
    assert found.covariance[1] == pytest.approx(tuple(inverse[1] @ inverse.T), rel=1e-8)
    assert found.covariance[0] == pytest.approx(tuple(inverse[0] @ inverse.T), rel=1e-8)


def test_a_line_through_one_amount_is_refused() -> None:
    with pytest.raises(ValueError, match="apart"):
        fit([(1.0, 5.0)] * 4, [1.0, 1.1, 0.9, 1.0], [0.1] * 4)
    with pytest.raises(ValueError, match="cannot give"):
        fit([(1.0, 5.0), (1.0, 6.0)], [1.0, 1.1], [0.1] * 2)
