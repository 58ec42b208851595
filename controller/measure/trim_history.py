"""What earlier nights of a recipe, or a jar test, taught about trims: answers, and how far pH rose later.

Pure data and how far it may be used tonight. Reading it out of the record is `run/remembered.py`; what it is
worth beside tonight's own answers is `trim_knowledge.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.measure.buffering import Titration

# Tonight is not that water, or not those amounts, when it conducts so much more or less (assumed: twice what
# probe, temperature and dosing can make of it together).
OTHER_WATER_SHARE = 0.25


@dataclass(frozen=True, slots=True)
class TrimHistory:
    """What is remembered of one recipe with its water and its trim inputs.

    `answers` are of one night, which `source` names, at `temperature_c`, in a tank that conducted `ec_us_cm`
    before its first trim; None: nobody knows. `jar` is a test typed into the recipe. `rebound_ph` is how far
    pH rises in the wait for CO2, `rebound_source` says by what; None: it has not been seen.
    """

    answers: tuple[Titration, ...] = ()
    source: str = ""
    temperature_c: float | None = None
    ec_us_cm: float | None = None
    jar: Titration | None = None
    rebound_ph: float | None = None
    rebound_source: str = ""

    def is_of_this_water(self, ec_us_cm: float | None) -> bool:
        """Say whether tonight's tank may be the remembered one by what it conducts; yes when nobody knows."""
        if ec_us_cm is None or self.ec_us_cm is None:
            return True
        return abs(ec_us_cm - self.ec_us_cm) <= OTHER_WATER_SHARE * self.ec_us_cm

    def usable(self, ec_us_cm: float | None) -> tuple[Titration, ...]:
        """Give the answers that may be used tonight; the jar's where no night has one for its direction."""
        answers = self.answers if self.is_of_this_water(ec_us_cm) else ()
        if self.jar is None or any(answer.direction is self.jar.direction for answer in answers):
            return answers
        return (*answers, self.jar)

    def apart_k(self, temperature_c: float) -> float:
        """Give how far tonight's temperature is from the remembered one, in kelvin; 0 when nobody knows."""
        return 0.0 if self.temperature_c is None else abs(temperature_c - self.temperature_c)

    def words(self, temperature_c: float, ec_us_cm: float | None) -> str:
        """Say what is remembered, for the record; empty when nothing is."""
        told = []
        if self.answers and not self.is_of_this_water(ec_us_cm):
            told.append(
                f"{self.source} is not used: its tank conducted {self.ec_us_cm:.0f} µS/cm,"
                f" this one {ec_us_cm:.0f}"
            )
        usable = self.usable(ec_us_cm)
        if self.answers and usable and usable[0] is self.answers[0]:
            first, last = self.answers[0], self.answers[-1]
            ml_l = sum(answer.ml_l for answer in self.answers)
            apart = f", {self.apart_k(temperature_c):.1f} K away" if self.temperature_c is not None else ""
            told.append(
                f"{self.source}{apart}: {ml_l:.3f} mL/L took pH from {first.ph_before:.2f}"
                f" to {last.ph_after:.2f}"
            )
        if self.jar is not None and self.jar in usable:
            jar = self.jar
            told.append(f"jar test: {jar.ml_l:g} mL/L took pH from {jar.ph_before:.2f} to {jar.ph_after:.2f}")
        return "; ".join(told)


NO_HISTORY = TrimHistory()


def lowered(window: tuple[float, float], ph_low: float, rebound_ph: float) -> tuple[float, float]:
    """Give the window to aim for before pH rises by `rebound_ph`, 0 or more.

    It goes down by the rebound, by at most half its width, and its low end keeps half of its distance from
    the recipe's `ph_low`: a rebound that does not come must not leave the tank outside. Both to 0.01.
    """
    low, high = window
    down_ph = min(max(rebound_ph, 0.0), (high - low) / 2.0)
    return round(max(low - down_ph, (low + ph_low) / 2.0), 2), round(high - down_ph, 2)
