"""The board's state put into input registers. It only tells; nothing is decided or changed here."""

import struct

from firmware_bridge import registers as reg

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware.node import Node


def status_bits(node: "Node") -> int:
    """Give the STATUS_* bits."""
    guard = node.guard
    return (
        (reg.STATUS_ENABLED if node.enabled else 0)
        | (reg.STATUS_VALVE_OPEN if node.valve.is_open else 0)
        | (reg.STATUS_HIGH_FLOAT if guard.high_float else 0)
        | (reg.STATUS_LEAK if guard.leak else 0)
        | (reg.STATUS_RUNNING if node.pumps.running else 0)
        | (reg.STATUS_ARMED if guard.armed else 0)
    )


def input_words(node: "Node", words: bytearray, address: int, count: int) -> bytes | bytearray:
    """Bring `words` up to date and give some of them; empty when there are none at that address."""
    if address + count > reg.INPUT_WORDS:
        return b""
    if address < reg.SCAN_WORDS:
        pack_scan(node, words)
    if address < reg.IN_CHANNELS:
        pack_failed_tests(node, words)
    if address + count > reg.IN_CHANNELS:
        pack_channels(node, words)
    return words[2 * address : 2 * (address + count)]


def pack_scan(node: "Node", words: bytearray) -> None:
    """Fill the block that every scan reads."""
    guard = node.guard
    pumps = node.pumps
    sensors = node.sensors
    struct.pack_into(
        reg.SCAN_FORMAT,
        words,
        0,
        reg.MAP_ID,
        node.boot_id,
        node.uptime.ms(),
        guard.lease_counter,
        status_bits(node),
        guard.trips,
        guard.first_trip,
        node.refusal,
        node.valve.open_id,
        pumps.channel,
        pumps.dose_id,
        pumps.target,
        pumps.done,
        sensors.ph_decimv,
        sensors.ec_us_cm,
        sensors.tank_centic,
        sensors.supply_centic,
        sensors.level_decimm,
        sensors.flow_pulses,
        sensors.second_ph_decimv,
        *sensors.scales_g,
    )


def pack_identity(node: "Node", words: bytearray) -> None:
    """Fill the block that says what the board is; zero limits when they are unsound.

    The checksum of unsound limits is 0 too. `pack_failed_tests` keeps the last word of the block.
    """
    limits = node.limits
    sound = limits.sound()
    struct.pack_into(
        reg.IDENTITY_FORMAT,
        words,
        2 * reg.IN_IDENTITY,
        reg.MAP_ID,
        reg.FIRMWARE_VERSION,
        limits.channels if sound else 0,
        limits.checksum(),
        limits.lease_ms if sound else 0,
        limits.valve_cap_ms if sound else 0,
        node.front_ends_checksum,
        node.guard.failed_tests,
    )


def pack_failed_tests(node: "Node", words: bytearray) -> None:
    """Fill the word that names the self-tests that failed."""
    struct.pack_into(">H", words, 2 * (reg.IN_IDENTITY + reg.IDENTITY_WORDS - 1), node.guard.failed_tests)


def pack_channels(node: "Node", words: bytearray) -> None:
    """Fill one entry a channel."""
    pumps = node.pumps
    for channel in range(len(pumps.last_ids)):
        struct.pack_into(
            reg.CHANNEL_FORMAT,
            words,
            2 * (reg.IN_CHANNELS + channel * reg.CHANNEL_WORDS),
            pumps.last_ids[channel],
            pumps.dones[channel],
            pumps.since_boot[channel],
        )
