"""What a board says, in words: versions, trips with what to do about them, self-tests by name, readings.

Pure wording; nothing is read or printed here.
"""

from __future__ import annotations

from controller.record.words import celsius, conductivity
from controller.run.image import BoardImage, Trip
from firmware_bridge import registers as reg

_RESET = "then press the board's local reset button"

TRIPS: dict[Trip, tuple[str, str]] = {
    Trip.LEASE: (
        "the computer was silent for longer than the lease",
        "nothing to press: find out why the computer fell silent; its next all-off command clears this",
    ),
    Trip.HIGH_FLOAT: (
        "the high float was lifted, or its wire is cut",
        f"let the level down below the float or mend its wire, {_RESET}",
    ),
    Trip.LEAK: (
        "the leak contact was wet, or its wire is cut",
        f"find where the water comes from, dry the contact, {_RESET}",
    ),
    Trip.VALVE_TIME: (
        "the fill valve was asked to stay open for longer than its cap, at once or in one night",
        f"compare the fills' times with the valve's caps, {_RESET}",
    ),
    Trip.DOSE_CAP: (
        "a dose above the pump's cap was asked for",
        f"look for a slip in recipe or pump calibration, {_RESET}",
    ),
    Trip.NIGHT_CAP: (
        "more than the pump's cap of one night was asked for",
        f"find out what was dosed tonight before anything else, {_RESET}",
    ),
    Trip.COMMAND: (
        "a forbidden command came",
        f"end every other program that talks to the board, {_RESET}",
    ),
    Trip.SELF_TEST: (
        "a self-test failed",
        f"look at the self-tests; take the board's power away for a moment once the cause is gone, {_RESET}",
    ),
    Trip.MEMORY: (
        "what the board keeps over a restart is lost or cannot be written; a new board says this once",
        f"find out what was dosed and filled tonight, {_RESET}; if it comes back, replace the board",
    ),
}

SELF_TESTS: dict[int, str] = {
    reg.SELF_TEST_CODE: "code",
    reg.SELF_TEST_MEMORY: "memory",
    reg.SELF_TEST_CONVERTER: "converter",
    reg.SELF_TEST_INPUTS: "inputs",
    reg.SELF_TEST_SETTINGS: "settings",
    reg.SELF_TEST_MOTOR: "motor",
    reg.SELF_TEST_PULSES: "pulses",
    reg.SELF_TEST_STRAYS: "stray files",
}


def failed_tests(bits: int) -> tuple[str, ...]:
    """Name the self-tests that failed."""
    known = [name for bit, name in SELF_TESTS.items() if bits & bit]
    return (*known, "unknown") if bits & ~sum(SELF_TESTS) else tuple(known)


def input_rows(image: BoardImage) -> tuple[tuple[str, str], ...]:
    """Write every input of the board as it stands now."""
    level, ph, second_ph = image.level_mm, image.ph_mv, image.second_ph_mv
    return (
        ("high float", "lifted, or wire cut" if image.high_float else "below"),
        ("leak contact", "wet, or wire cut" if image.leak else "dry"),
        ("pH electrode", "no reading" if ph is None else f"{ph:.1f} mV"),
        ("second pH electrode", "no reading" if second_ph is None else f"{second_ph:.1f} mV"),
        ("conductivity", conductivity(image.ec_us_cm)),
        ("tank", celsius(image.tank_c)),
        ("supply", celsius(image.supply_c)),
        ("level", "no reading" if level is None else f"{level:.1f} mm"),
        ("flow meter", f"{image.flow_pulses} pulses"),
        *scale_rows(image),
    )


def scale_rows(image: BoardImage) -> tuple[tuple[str, str], ...]:
    """Write what stands on each scale that answers, by its data line; one row when none does."""
    weights = [(line, grams) for line, grams in enumerate(image.scales_g) if grams is not None]
    told = tuple((f"scale on line {line}", f"{grams:.0f} g gross") for line, grams in weights)
    return told or (("scales", "no reading"),)


def output_rows(image: BoardImage) -> tuple[tuple[str, str], ...]:
    """Write what the board drives now."""
    running = f"runs on channel {image.motion.channel}" if image.motion.running else "still"
    return (
        ("enable", "on" if image.enabled else "off"),
        ("fill valve", "open" if image.valve_open else "shut"),
        ("pumps", running),
    )
