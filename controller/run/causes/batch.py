"""Causes that a phase reports, and a hold that lasts too long: judged at once, never gone without a person.

Rows only. Each row's trip point is worded from the constants and settings that its phase judges by.
"""

from __future__ import annotations

from collections.abc import Callable

from controller.measure.two_probes import AGREE_PH
from controller.plan.times import give_up_s
from controller.run.batch_run import OVERDUE_FACTOR, OVERDUE_S
from controller.run.interlock_row import WET, Clear, Interlock, Priority, Response, above, reported
from controller.run.phases.check import HEEL_TOLERANCE_L, PATIENCE_S
from controller.run.phases.keep import DOUBT_S
from controller.run.phases.release import VOLUME_SHARE
from controller.run.situation import Cause
from controller.settings.values import Site

LONG_HOLD_S = 3600.0
_UNHEARD = frozenset({Cause.ESTOP, Cause.BOARD_SILENT, Cause.BOARD_TRIPPED, Cause.STALE_INPUT})
_PH = frozenset({Cause.PROBE_DOUBTFUL, Cause.TRIM_FAILED, Cause.TANK_UNFIT, Cause.PERMIT_WITHDRAWN})


def _row(
    cause: Cause,
    words: Callable[[Site], str],
    response: Response,
    priority: Priority,
    consequence: str,
    remedy: str,
    follows: frozenset[Cause] = frozenset(),
) -> Interlock:
    return Interlock(
        cause=cause,
        trip=reported(cause, words),
        response=response,
        blocks=WET,
        clear=Clear.ACKNOWLEDGED,
        priority=priority,
        consequence=consequence,
        remedy=remedy,
        follows=follows,
    )


def _precondition(_site: Site) -> str:
    return (
        f"{PATIENCE_S:g} s into the check: board silent or tripped, selector not at AUTO, tank temperature "
        f"or level unread, level more than {HEEL_TOLERANCE_L:g} L off the plan, carbon cartridge too small; "
        "or several of the next three rows at once"
    )


def _clock(_site: Site) -> str:
    return f"{PATIENCE_S:g} s into the check: no date that can be trusted"


def _calibration(site: Site) -> str:
    rig = site.rig
    items = [("pH probe", rig.probe.calibrated, rig.probe.due_days)]
    if rig.second_probe is not None:
        items.append(("second pH probe", rig.second_probe.calibrated, rig.second_probe.due_days))
    for pump in rig.pumps.values():
        if pump.calibrated is not None and pump.due_days is not None:
            items.append((f"pump {pump.name}", pump.calibrated, pump.due_days))
    dates = ", ".join(f"{name}: {due_days} days after {done}" for name, done, due_days in items)
    return f"at the check: today not within the date of a probe, or of a pump that tonight needs ({dates})"


def _proof(site: Site) -> str:
    proof = site.policy.proof_tests
    return f"at the check: today not within {proof.due_days} days after {proof.done}"


def _stock(_site: Site) -> str:
    return "before a dose: what tonight took, with this dose, is more than the bottle's stock within reach"


def _cap(site: Site) -> str:
    caps = ", ".join(f"{pump.name} {pump.night_cap_ml:g} mL" for pump in site.rig.pumps.values())
    return f"before a dose: what tonight took, with this dose, is more than the pump's night cap ({caps})"


def _temperature(site: Site) -> str:
    water = site.policy.water
    return (
        f"tank outside {water.temperature_low_c:g} to {water.temperature_high_c:g} °C for "
        f"{water.temperature_wait_s / 60:g} min after any rest"
    )


def _probe(site: Site) -> str:
    trim = site.policy.trim
    return (
        f"no pH that moves at most {trim.stable_ph:g} in {trim.stable_s:g} s found within "
        f"{give_up_s(trim) / 60:g} min; one of two probes lost, they differ by more than {AGREE_PH:g}, or "
        "their signals are one; or no pH or level at a trim"
    )


def _trim(site: Site) -> str:
    trim = site.policy.trim
    return (
        f"pH outside the recipe's window and no trim may mend it: {trim.max_trims} trims done, or "
        f"{trim.cap_ml_l:g} mL/L of one input reached, or pH did not answer"
    )


def _unfit(site: Site) -> str:
    return (
        "at the release: no pH after the last dose, pH outside the recipe's window, level unread or off the "
        f"plan by more than {site.rig.fill.disagreement_l:g} L + {VOLUME_SHARE * 100:g} %"
    )


def _withdrawn(_site: Site) -> str:
    return (
        f"while kept: pH unread, two probes apart by more than {AGREE_PH:g} or their signals one, or pH "
        f"outside the recipe's window in the still tank, for {DOUBT_S:g} s"
    )


def _overdue(_site: Site) -> str:
    return f"a step runs longer than {OVERDUE_FACTOR:g} times its expected time + {OVERDUE_S / 60:g} min"


_STARTS_NOT = "Tonight's batch does not start."
_DATES = frozenset(
    {Cause.PRECONDITION, Cause.CLOCK_DOUBTFUL, Cause.CALIBRATION_OVERDUE, Cause.PROOF_TEST_OVERDUE}
)

ROWS = (
    _row(
        Cause.PRECONDITION,
        _precondition,
        Response.STOP,
        Priority.HIGH,
        _STARTS_NOT,
        "Put right what the text names, then start again.",
        _DATES,
    ),
    _row(
        Cause.CLOCK_DOUBTFUL,
        _clock,
        Response.STOP,
        Priority.HIGH,
        f"{_STARTS_NOT} Without a date neither calibration nor proof tests can be judged.",
        "Set the computer's clock or join it to a time server, then start again.",
        _DATES,
    ),
    _row(
        Cause.CALIBRATION_OVERDUE,
        _calibration,
        Response.STOP,
        Priority.HIGH,
        f"{_STARTS_NOT} pH, or an amount, could not be trusted.",
        "Calibrate what the text names (`tankhand calibrate`) and write it into rig.toml, then start again.",
        _DATES,
    ),
    _row(
        Cause.PROOF_TEST_OVERDUE,
        _proof,
        Response.STOP,
        Priority.HIGH,
        f"{_STARTS_NOT} Nobody has proved floats, leak sensor and emergency stop lately.",
        "Do the proof tests and write them into site.toml, then start again.",
        _DATES,
    ),
    _row(
        Cause.STOCK_EMPTY,
        _stock,
        Response.HOLD,
        Priority.HIGH,
        "The bottle would run dry in the dose; the batch is held before it.",
        "Fill the bottle, then acknowledge and resume: the dose goes on. If you cannot, stop.",
    ),
    _row(
        Cause.CAP_REACHED,
        _cap,
        Response.STOP,
        Priority.HIGH,
        "The dose would pass what the pump may move in one night, and is not begun; the tank is quarantined.",
        "Read pH by hand and correct by hand or discard; judge the cap in rig.toml before the next night.",
    ),
    _row(
        Cause.WATER_TEMPERATURE,
        _temperature,
        Response.HOLD,
        Priority.MEDIUM,
        "The water is too cold or too warm for the inputs; the batch waits.",
        "Let the water come to temperature, then resume, or stop.",
    ),
    _row(
        Cause.PROBE_DOUBTFUL,
        _probe,
        Response.STOP,
        Priority.HIGH,
        "pH cannot be trusted; the tank is quarantined.",
        "Do to the probe what the text says, else clean and calibrate it; read the tank by hand before you "
        "feed it.",
        _PH,
    ),
    _row(
        Cause.TRIM_FAILED,
        _trim,
        Response.STOP,
        Priority.HIGH,
        "pH is outside its window; the tank is quarantined.",
        "Read pH by hand, correct by hand or discard.",
        _PH,
    ),
    _row(
        Cause.DOSE_UNPROVEN,
        lambda _site: "the board restarted while a dose or a rinse was under way",
        Response.HOLD,
        Priority.HIGH,
        "An amount is uncertain; the batch is held until a person has decided.",
        "If it is harmless, acknowledge and resume: the rest is not dosed. If not, stop.",
        _UNHEARD | {Cause.BOARD_RESTARTED},
    ),
    _row(
        Cause.STEP_OVERDUE,
        _overdue,
        Response.HOLD,
        Priority.MEDIUM,
        "The batch waits for something that does not come, and is held.",
        "Look at the rig and at the step named, then acknowledge and resume or stop.",
    ),
    _row(
        Cause.TANK_UNFIT,
        _unfit,
        Response.STOP,
        Priority.HIGH,
        "The tank is quarantined; the feed permit stays off.",
        "Read the reason in the record; correct by hand or discard.",
        _PH,
    ),
    _row(
        Cause.PERMIT_WITHDRAWN,
        _withdrawn,
        Response.STOP,
        Priority.HIGH,
        "The tank must no longer be fed.",
        "Read pH by hand; discard what is too old.",
        _PH,
    ),
    Interlock(
        cause=Cause.HELD_LONG,
        trip=above("seconds held", lambda now: now.held_s, LONG_HOLD_S, "s"),
        response=Response.STOP,
        blocks=WET,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.MEDIUM,
        consequence="The batch was held for too long and is stopped; the tank is quarantined.",
        remedy="Judge the tank by hand.",
        follows=frozenset(Cause) - {Cause.HELD_LONG},
    ),
)
