"""Student's t and what is built on it: how far chance alone carries few repeats. Arithmetic only."""

from __future__ import annotations

import math

# Enough for 1e-12 with up to some thousands of degrees of freedom.
_TERMS = 200
_HALVINGS = 80


def t_cdf(t: float, dof: float) -> float:
    """Give the probability that Student's t with `dof` degrees of freedom (above 0) lies below `t`."""
    if t * t < dof:
        # Near the middle 1 less the tail would lose what a small t adds.
        return 0.5 + math.copysign(0.5, t) * _beta_share(t * t / (dof + t * t), 0.5, dof / 2.0)
    tail = 0.5 * _beta_share(dof / (dof + t * t), dof / 2.0, 0.5)
    return 1.0 - tail if t > 0 else tail


def t_quantile(probability: float, dof: float) -> float:
    """Give the t below which lies `probability`, between 0 and 1 (ValueError outside)."""
    if not 0.0 < probability < 1.0 or dof <= 0:
        raise ValueError(f"no quantile for probability {probability} with {dof} degrees of freedom")
    if probability < 0.5:
        return -t_quantile(1.0 - probability, dof)
    high = 1.0
    while t_cdf(high, dof) < probability:
        high *= 2.0
    low = 0.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if t_cdf(middle, dof) < probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def grubbs_limit(count: int, significance: float = 0.01) -> float:
    """Give how many standard deviations the farthest of `count` (3 or more) may lie from their mean.

    Grubbs' test for one outlier on either side: G = (n-1)/sqrt(n) sqrt(t2 / (n - 2 + t2)), with t at
    significance/(2n) and n-2 degrees of freedom (NIST/SEMATECH e-Handbook of Statistical Methods,
    1.3.5.17.1). ISO 5725-2 calls what passes it at 1 % an outlier.
    """
    if count < 3:
        raise ValueError(f"no outlier can be told among {count}")
    t = t_quantile(1.0 - significance / (2.0 * count), count - 2)
    return (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))


def _beta_share(x: float, a: float, b: float) -> float:
    """Give the regularised incomplete beta function I_x(a, b), 0 <= x <= 1 (DLMF 8.17)."""
    if x <= 0.0 or x >= 1.0:
        return min(max(x, 0.0), 1.0)
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - _beta_share(1.0 - x, b, a)
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    return math.exp(log_front) / a * _beta_fraction(x, a, b)


def _beta_fraction(x: float, a: float, b: float) -> float:
    """Give the continued fraction of DLMF 8.17.22, from far enough inside it outwards."""
    value = 1.0
    for step in range(_TERMS, 0, -1):
        m, odd = divmod(step, 2)
        if odd:
            term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        else:
            term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        value = 1.0 + term / value
    return 1.0 / value
