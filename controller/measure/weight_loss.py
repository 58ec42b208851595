"""The weight that a turning pump takes off a scale, held against its counts: does what is counted leave?

Pure. A running fit while the motor turns and shakes the scale; exact weights are taken at rest
(`weighing.py`). What to do about a dose that does not leave its bottle is said elsewhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

MISSING_SHARE = 0.25
"""A dose of which more than this is missing was not metered by a worn tube: something is broken or empty."""
SIGMAS = 5.0
SHAKEN_G = 12.0
SHAKEN_SAMPLES = 10
"""A turning motor's noise on a scale before it has been seen, and how many samples that guess counts for
(assumed)."""
LEAST_SAMPLES = 4
TUBE_HOLDS_G = 130.0
"""No suction tube holds more (assumed: 80 mL at 1.4 kg/L and some); more was put on a scale by someone."""


@dataclass(slots=True)
class WeightLoss:
    """Fit of the share k in: seen loss = k x expected loss + noise, from one still weight on.

    Least squares through the origin; the still weight's own doubt is added. `samples`: (expected, lost), g.
    `heavier`: the scale has shown more than at the start than a tube that runs back can bring about.
    """

    before_g: float
    before_standard_g: float
    _count: int = 0
    _expected_g: float = 0.0
    _expected2: float = 0.0
    _product: float = 0.0
    _lost2: float = 0.0
    samples: list[tuple[float, float]] = field(default_factory=list)
    heavier: bool = False

    def add(self, expected_g: float, seen_g: float) -> None:
        """Take one sample: what should have left by now, g, and what the scale shows, g."""
        lost_g = self.before_g - seen_g
        self._count += 1
        self._expected_g += expected_g
        self._expected2 += expected_g**2
        self._product += expected_g * lost_g
        self._lost2 += lost_g**2
        self.samples.append((expected_g, lost_g))
        self.heavier = self.heavier or lost_g < -TUBE_HOLDS_G - SIGMAS * SHAKEN_G

    @property
    def share(self) -> float:
        """Give the share of what was counted that left; 1 while nothing is known."""
        return self._product / self._expected2 if self._expected2 > 0.0 else 1.0

    @property
    def standard_share(self) -> float:
        """Give its standard uncertainty; infinite while nothing is known."""
        if self._count < LEAST_SAMPLES or self._expected2 <= 0.0:
            return math.inf
        left2 = max(self._lost2 - self._product**2 / self._expected2, 0.0)
        noise2 = (SHAKEN_SAMPLES * SHAKEN_G**2 + left2) / (SHAKEN_SAMPLES + self._count - 1)
        base2 = (self.before_standard_g * self._expected_g / self._expected2) ** 2
        return math.sqrt(noise2 / self._expected2 + base2)

    @property
    def missing(self) -> bool:
        """Tell whether it is beyond doubt that more than `MISSING_SHARE` of what was counted is missing."""
        return self.share + SIGMAS * self.standard_share < 1.0 - MISSING_SHARE

    @property
    def taken(self) -> bool:
        """Tell whether it is beyond doubt that this scale loses more than `MISSING_SHARE` of the counts."""
        return self.share - SIGMAS * self.standard_share > MISSING_SHARE
