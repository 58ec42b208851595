"""Who is on the line: proof, before anything may move, that this is the board that the settings describe.

Compares what the board says of itself with plain numbers worked out elsewhere; it reads and never writes.
"""

from __future__ import annotations

from dataclasses import dataclass

from firmware_bridge import registers as reg
from firmware_bridge.board import BoardIdentity, BoardLink
from firmware_bridge.faults import HardwareFault
from firmware_bridge.link import BoardRefused, LinkError, LinkSilent

INSTALL = "install the right one with `tankhand board install`"
SET_LIMITS = "write them anew with `tankhand board limits write`"

_KIND = 0xFF00
_SELF_TESTS = {
    reg.SELF_TEST_CODE: (
        "a file of the firmware is not as it was installed",
        "install it anew with `tankhand board install`",
    ),
    reg.SELF_TEST_MEMORY: (
        "its memory does not keep what is written to it",
        "take its power away for a moment; if it comes back, replace the board",
    ),
    reg.SELF_TEST_CONVERTER: (
        "its analogue converter does not see its own supply within range",
        "measure the board's 3.3 V and look for a short in the front ends",
    ),
    reg.SELF_TEST_INPUTS: (
        "its contacts contradict each other or the level",
        "look at the wires of high float, leak contact, reset button and level sensor",
    ),
    reg.SELF_TEST_SETTINGS: ("it holds no sound limits", SET_LIMITS),
    reg.SELF_TEST_MOTOR: (
        "a motor's count ran backwards or too far",
        "take its power away for a moment; if it comes back, replace the board",
    ),
    reg.SELF_TEST_STRAYS: (
        "a file lies on it that is none of its firmware's and could run in its place",
        "install it anew with `tankhand board install`, which takes such files away",
    ),
    reg.SELF_TEST_PULSES: (
        "it cannot read its pulse counter",
        "take its power away for a moment; if it comes back, replace the board",
    ),
}


@dataclass(frozen=True, slots=True)
class Expected:
    """What the board must hold: checksums of limits and front ends, and at least so many pump channels."""

    limits_checksum: int
    front_ends_checksum: int
    channels: int


def connect(link: BoardLink, expected: Expected) -> BoardIdentity:
    """Read what the board is and compare.

    Raises HardwareFault for the first thing that is not as it must be; failed self-tests are told together.
    """
    where = f"board with server id {link.server_id}"
    board = identified(link)
    for _, fault in judged(board, expected):
        if fault:
            raise HardwareFault(where, *fault)
    return board


def judged(board: BoardIdentity, expected: Expected) -> tuple[tuple[str, tuple[str, str] | None], ...]:
    """Judge each side of a board by name: what is wrong and the remedy, or None; another kind ends it."""
    wrong_kind = _wrong_kind(board)
    if wrong_kind:
        return (("kind of board", wrong_kind),)
    return (
        ("kind of board", None),
        ("firmware", _wrong_version(board)),
        ("limits and front ends", _wrong_settings(board, expected)),
        ("self-tests", _failed_self_tests(board.self_tests)),
    )


def identified(link: BoardLink) -> BoardIdentity:
    """Read what the board is. Raises HardwareFault with the likely cause."""
    where = f"board with server id {link.server_id}"
    try:
        return link.identify()
    except LinkSilent as error:
        raise HardwareFault(
            where,
            "nothing answers",
            "check that the board has power, that TX and RX are crossed, and that board.port, board.baud and "
            "board.server_id in rig.toml are its own",
        ) from error
    except BoardRefused as error:
        raise HardwareFault(
            where,
            f"another kind of device answers ({error})",
            "check board.port and board.server_id in rig.toml",
        ) from error
    except LinkError as error:
        raise HardwareFault(
            where,
            f"what answers cannot be understood ({error})",
            "check board.baud in rig.toml, the cable and its ground, and that nothing else is on the line",
        ) from error


def _wrong_kind(board: BoardIdentity) -> tuple[str, str] | None:
    if board.map_id & _KIND != reg.MAP_ID & _KIND:
        return "another kind of device answers", "check board.port and board.server_id in rig.toml"
    if board.map_id != reg.MAP_ID:
        numbers = f"it speaks version {board.map_id & 0xFF} of the register map, not {reg.MAP_ID & 0xFF}"
        return numbers, INSTALL
    return None


def _wrong_version(board: BoardIdentity) -> tuple[str, str] | None:
    if board.firmware_version != reg.FIRMWARE_VERSION:
        has, wants = version_text(board.firmware_version), version_text(reg.FIRMWARE_VERSION)
        return f"it runs firmware {has}, and {wants} is needed", INSTALL
    return None


def _wrong_settings(board: BoardIdentity, expected: Expected) -> tuple[str, str] | None:
    if board.limits_checksum == 0 or board.channels == 0:
        return "it holds no sound limits", SET_LIMITS
    if board.channels < expected.channels:
        return (
            f"it has {board.channels} pump channels, and rig.toml names pumps on {expected.channels}",
            SET_LIMITS,
        )
    if board.limits_checksum != expected.limits_checksum:
        return "its limits are not those of this site", SET_LIMITS
    if board.front_ends_checksum != expected.front_ends_checksum:
        return "its front ends are not described as in rig.toml", SET_LIMITS
    return None


def _failed_self_tests(bits: int) -> tuple[str, str] | None:
    if bits == 0:
        return None
    failed = [words for bit, words in _SELF_TESTS.items() if bits & bit]
    if bits & ~sum(_SELF_TESTS):
        failed.append(("a self-test failed that this program does not know", INSTALL))
    problems = ", and ".join(problem for problem, _ in failed)
    remedies = dict.fromkeys(remedy for _, remedy in failed)
    return f"its self-test failed: {problems}", "; ".join(remedies)


def version_text(number: int) -> str:
    """Write a version that is major * 256 + minor."""
    return f"{number >> 8}.{number & 0xFF}"
