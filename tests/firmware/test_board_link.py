import struct

import pytest
from desk import BOOT_ID, STIRRING, Desk, desk_limits, dosing, filling

from controller.run.image import Motion, Trip
from controller.run.request import ALL_OFF, DoseCommand, FillCommand, Request
from firmware_bridge import registers as reg
from firmware_bridge.board import BoardLink, ChannelMotion
from firmware_bridge.firmware.limits import LONGEST_LEASE_MS
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.link import LinkSilent, Master
from sim.memory_line import MemoryLine


def dropping(which):
    """Lose the frames whose number (from 1) is in `which`."""
    count = 0

    def on_request(frame):
        nonlocal count
        count += 1
        return () if count in which else (frame,)

    return on_request


def test_an_image_holds_what_the_board_sees():
    desk = Desk()
    desk.hal.pulses = 4711
    desk.run_talking(500, dosing(dose_id=3, channel=1, target=200, stir=True))
    image = desk.image()
    assert image.boot_id == BOOT_ID
    assert image.uptime_ms == 500
    assert (image.ph_mv, image.ec_us_cm, image.tank_c, image.supply_c) == (177.1, 1240, 21.5, 16.3)
    assert (image.level_mm, image.flow_pulses) == (552.5, 4711)
    assert image.motion == Motion(1, 3, 200, 50, True)
    assert image.enabled
    assert not image.valve_open
    assert image.first_trip is None


def test_every_trip_of_the_board_has_its_name_in_the_image():
    codes = {name: value for name, value in vars(reg).items() if name.startswith("TRIP_")}
    assert len(codes) == len(Trip)
    for name, code in codes.items():
        desk = Desk()
        desk.node.guard.trip(code)
        image = desk.image()
        assert image.first_trip is Trip[name.removeprefix("TRIP_")]
        assert image.trips == {image.first_trip}


@pytest.mark.parametrize(
    ("outputs", "enable"),
    [
        (ALL_OFF, False),
        (STIRRING, True),
        (Request(air=True), True),
        (Request(agitators=frozenset({"kelp"})), True),
        (Request(drain=True), True),
        (Request(permit=True), True),
        (filling(), True),
        (dosing(), True),
    ],
)
def test_the_enable_is_wanted_when_anything_is(outputs, enable):
    desk = Desk()
    assert desk.link.write(outputs)
    assert desk.hal.enable is enable


def test_a_scan_costs_one_read_and_one_write():
    desk = Desk()
    desk.link.read()
    desk.link.write(STIRRING)
    frames = []
    desk.pipe.on_request = lambda frame: frames.append(frame) or (frame,)
    desk.link.read()
    desk.link.write(dosing())
    assert [frame[1] for frame in frames] == [4, 16]


def test_a_silent_board_gives_no_image_and_takes_no_command():
    desk = Desk()
    desk.pipe.on_request = lambda _frame: ()
    assert desk.link.read() is None
    assert not desk.link.write(STIRRING)
    assert desk.link.identity() is None
    assert desk.link.read_motions() is None
    assert not desk.link.renew()
    assert desk.all_off


def test_a_garbled_board_gives_no_image():
    desk = Desk()
    desk.pipe.on_reply = lambda reply: reply[:-1] + bytes((reply[-1] ^ 1,))
    assert desk.link.read() is None


def test_one_lost_frame_is_made_good_within_the_same_call():
    desk = Desk()
    desk.link.read()
    desk.pipe.on_request = dropping({1, 3})
    assert desk.link.read() is not None
    assert desk.link.write(dosing())
    assert len(desk.hal.starts) == 1


def test_a_command_whose_answer_was_lost_is_confirmed_by_its_repeat_and_moves_once():
    desk = Desk()
    desk.link.read()
    lost = []

    def lose_first(reply):
        if lost:
            return reply
        lost.append(reply)
        return b""

    desk.pipe.on_reply = lose_first
    assert desk.link.write(dosing())
    assert len(desk.hal.starts) == 1


def test_a_new_host_takes_over_the_lease_counter_of_a_board_that_was_up():
    desk = Desk()
    for _ in range(40):
        desk.link.write(STIRRING)
    desk.link = BoardLink(desk.pipe, 1)
    assert desk.link.write(STIRRING)
    assert desk.node.guard.lease_counter == 42


def test_a_host_that_talked_to_nobody_for_long_is_understood_again():
    desk = Desk()
    desk.link.write(STIRRING)
    desk.pipe.on_request = lambda _frame: ()
    for _ in range(40_000):
        desk.link.renew()
    desk.pipe.on_request = lambda frame: (frame,)
    assert desk.link.read() is not None
    assert desk.link.write(STIRRING)


def test_the_lease_counter_goes_round():
    desk = Desk()
    desk.link.write(STIRRING)
    for _ in range(0x10000 + 5):
        desk.link.renew()
    assert desk.node.guard.lease_counter == 7
    assert desk.link.write(STIRRING)


def test_another_device_on_the_line_is_no_board():
    answer = framed(bytes((1, 4, 2 * reg.SCAN_WORDS)) + bytes(2 * reg.SCAN_WORDS))
    assert BoardLink(MemoryLine(lambda _frame: answer), 1).read() is None


def test_the_board_says_what_it_is():
    identity = Desk().link.identity()
    assert (identity.map_id, identity.firmware_version) == (reg.MAP_ID, reg.FIRMWARE_VERSION)
    assert (identity.channels, identity.lease_ms, identity.valve_cap_ms) == (3, LONGEST_LEASE_MS, 60_000)
    assert identity.limits_checksum == desk_limits().checksum() != 0


def test_scales_and_second_electrode_come_with_every_image_and_as_none_where_there_is_none():
    desk = Desk()
    desk.run(10)
    image = desk.image()
    assert (image.second_ph_mv, image.scales_g) == (None, (None,) * 5)
    desk.hal.grams = [2500, -3, reg.NO_READING, 0, 32_767]
    desk.hal.second_ph = -1805
    desk.run(10)
    image = desk.image()
    assert (image.second_ph_mv, image.scales_g) == (-180.5, (2500, -3, None, 0, 32_767))


def test_what_every_channel_has_done_is_read_whole_with_any_number_of_words_before_it():
    desk = Desk()
    desk.run_talking(500, dosing(dose_id=9, target=300, channel=2))
    for _ in range(40):
        motions = desk.link.read_motions()
        assert len(motions) == reg.MAX_CHANNELS
        assert motions[2] == ChannelMotion(2, 9, 50, 50)
        assert {motion.count_done for motion in motions} == {0, 50}


def test_front_ends_and_failed_self_tests_are_part_of_what_the_board_says():
    words = struct.pack(reg.IDENTITY_FORMAT, reg.MAP_ID, reg.FIRMWARE_VERSION, 3, 4711, 2000, 60_000, 815, 5)
    identity = BoardLink(MemoryLine(lambda _frame: framed(bytes((1, 4, len(words))) + words)), 1).identity()
    assert (identity.front_ends_checksum, identity.self_tests) == (815, 5)


@pytest.mark.parametrize("call", ["read", "write", "identity", "read_motions"])
def test_no_call_makes_more_than_two_exchanges_with_a_silent_board(call):
    desk = Desk()
    desk.link.read()
    asked = []
    desk.pipe.on_request = lambda frame: asked.append(frame) or ()
    {"write": lambda: desk.link.write(STIRRING)}.get(call, lambda: getattr(desk.link, call)())()
    assert len(asked) == 2


@pytest.mark.parametrize(
    "outputs",
    [
        Request(dose=DoseCommand(0, 1, 1 << 32, 100, BOOT_ID)),
        Request(dose=DoseCommand(0, -1, 100, 100, BOOT_ID)),
        Request(fill=FillCommand(1, -5, BOOT_ID)),
    ],
)
def test_a_number_that_fits_no_register_is_the_callers_error(outputs):
    desk = Desk()
    with pytest.raises(ValueError, match="fits no register"):
        desk.link.write(outputs)


def test_server_ids_have_their_range():
    with pytest.raises(ValueError, match="server id 248"):
        BoardLink(Desk().pipe, 248)


def test_silence_is_told_apart_from_refusal():
    pipe = MemoryLine(lambda _frame: b"")
    with pytest.raises(LinkSilent):
        Master(pipe, 1).read_input(0, 1)
