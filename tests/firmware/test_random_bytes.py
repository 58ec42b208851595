"""A million random bytes, with silences, through framer and firmware: no pin and no limit ever moves."""

import struct
from random import Random

import pytest
from desk import BOOT_ID
from desk_line import CHARACTER_US, SILENCE_US, DeskLine
from kept_limits import limits_are_kept

from firmware_bridge import registers as reg
from firmware_bridge.firmware.modbus import READ_HOLDING, READ_INPUT, WRITE_MULTIPLE, WRITE_SINGLE, framed

A_MILLION = 1_000_000
FUNCTIONS = (READ_HOLDING, READ_INPUT, WRITE_SINGLE, WRITE_MULTIPLE)
COMMAND_HEAD = struct.pack(
    ">BBHHB", 1, WRITE_MULTIPLE, reg.HOLD_LEASE, reg.COMMAND_WORDS, 2 * reg.COMMAND_WORDS
)


def plain_noise(random: Random) -> bytes:
    return random.randbytes(random.randrange(1, 100))


def noise_that_begins_right(random: Random) -> bytes:
    """Server id and function are right, the rest is chance."""
    return bytes((1, random.choice(FUNCTIONS))) + random.randbytes(random.choice((4, 6, 6, 6, 35, 35, 120)))


def a_command_with_a_wrong_checksum(random: Random) -> bytes:
    """Everything that `the_command` has, but for its checksum."""
    wrong = random.randrange(1, 0x10000)
    sound = the_command()
    return sound[:-2] + bytes((sound[-2] ^ wrong & 0xFF, sound[-1] ^ wrong >> 8))


def the_command(boot_id: int = BOOT_ID, lease: int = 2) -> bytes:
    """A sound command that doses with the enable on."""
    flags = reg.COMMAND_ENABLE | reg.COMMAND_RUN
    words = struct.pack(reg.COMMAND_FORMAT, lease, boot_id, flags, 0, 0, 0, 1, 100, 100)
    return framed(COMMAND_HEAD + words)


def listen(line: DeskLine, random: Random, noise, count: int) -> int:
    """Let the board hear `count` bytes; give how many replies it made."""
    heard = replies = 0
    while heard < count:
        piece = noise(random)
        heard += len(piece)
        pause_us = random.choice((CHARACTER_US, SILENCE_US - 1, SILENCE_US, 20_000))
        replies += bool(line.hear(piece, pause_us))
    return replies + bool(line.fall_silent())


@pytest.mark.parametrize(
    "noise",
    [plain_noise, noise_that_begins_right, a_command_with_a_wrong_checksum],
    ids=lambda one: one.__name__,
)
def test_a_million_random_bytes_move_no_pin(noise):
    line, random = DeskLine(), Random(20261125)
    # A checksum of 16 bits lets one frame in 65536 through: of these some 30,000 hardly more than three.
    assert listen(line, random, noise, A_MILLION) <= 3
    assert line.hal.history == []
    assert line.node.guard.trips == 0
    assert limits_are_kept(line.node)
    # The same test would have noticed: one sound command after all that moves pins.
    line.hear(the_command(), SILENCE_US)
    assert line.fall_silent() == framed(the_command()[:6])
    assert line.hal.history == ["enable on", "motor 0 start 100"]


def test_a_sound_command_anywhere_in_the_noise_would_be_noticed():
    for place in range(0, 60, 7):
        line, random = DeskLine(), Random(place)
        listen(line, random, plain_noise, 100 * place)
        line.hear(the_command(), SILENCE_US)
        line.fall_silent()
        listen(line, random, plain_noise, 1000)
        assert "motor 0 start 100" in line.hal.history


def test_sound_frames_of_random_content_move_no_pin_either():
    """Their checksum is right; the boot id, 32 random bits, is not."""
    line, random = DeskLine(), Random(7)
    for _ in range(20_000):
        line.hear(framed(COMMAND_HEAD + random.randbytes(2 * reg.COMMAND_WORDS)), SILENCE_US)
        assert line.fall_silent()[1] == WRITE_MULTIPLE | 0x80
    assert line.hal.history == []
    assert limits_are_kept(line.node)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_no_sound_frame_to_any_register_moves_a_limit_or_a_pin(function):
    """Every address up to four times the map, then addresses by chance; the numbers by chance, and small."""
    line, random = DeskLine(), Random(function)
    addresses = [*range(4 * reg.INPUT_WORDS), *(random.randrange(0x10000) for _ in range(1000))]
    for address in addresses:
        for value in (1, random.randrange(0x10000)):
            # A command of its right length is the only block that the board takes, and is tried above.
            words = random.randrange(1, 5) if function == WRITE_MULTIPLE else 0
            block = bytes((2 * words,)) + words * struct.pack(">H", value) if words else b""
            line.hear(framed(struct.pack(">BBHH", 1, function, address, words or value) + block), SILENCE_US)
            assert line.fall_silent()[1] & 0x7F == function
        assert limits_are_kept(line.node)
    assert line.hal.history == []


def test_noise_while_a_pump_turns_neither_stops_it_nor_keeps_it_alive():
    line, random = DeskLine(), Random(3)
    line.hear(the_command(), SILENCE_US)
    line.fall_silent()
    began_us = line.now_us
    while line.now_us - began_us < 1_890_000:
        line.hear(plain_noise(random), 5_000)
    assert line.hal.history == ["enable on", "motor 0 start 100"]
    while line.now_us - began_us < 2_000_000:
        line.hear(plain_noise(random), 5_000)
    line.look(5_000)
    assert line.hal.history[2:] == ["enable off", "motor stop"]
