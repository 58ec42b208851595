"""Law: the level never passes the high float by more than what is already in the pipe: the board's own float
shuts the valve by itself, whatever the host says; so does its leak contact."""

import pytest
from desk import POLL_MS, STIRRING, Desk, dosing, filling

from controller.run.image import Trip
from controller.run.request import ALL_OFF


def raise_contact(desk: Desk, trip: Trip, on: bool = True) -> None:
    if trip is Trip.HIGH_FLOAT:
        desk.hal.high = on
    else:
        desk.hal.wet = on


CONTACTS = pytest.mark.parametrize("trip", [Trip.HIGH_FLOAT, Trip.LEAK])


@CONTACTS
@pytest.mark.parametrize("outputs", [filling(stir=True), dosing(stir=True, target=1000)])
def test_a_contact_switches_everything_off_within_one_poll(trip, outputs):
    desk = Desk()
    desk.run_talking(200, outputs)
    assert not desk.all_off
    raise_contact(desk, trip)
    desk.run(POLL_MS)
    assert desk.all_off
    assert desk.image().first_trip is trip


@CONTACTS
def test_a_command_that_comes_before_the_next_poll_opens_nothing_for_an_instant(trip):
    desk = Desk()
    desk.link.write(ALL_OFF)
    raise_contact(desk, trip)
    assert not desk.link.write(filling())
    assert "valve on" not in desk.hal.history


@CONTACTS
def test_the_trip_stays_when_the_contact_falls_back(trip):
    desk = Desk()
    raise_contact(desk, trip)
    desk.run(POLL_MS)
    raise_contact(desk, trip, on=False)
    desk.run_talking(1000, ALL_OFF)
    assert not desk.link.write(filling())
    image = desk.image()
    assert image.trips == {trip}
    assert not image.high_float
    assert not image.leak


@CONTACTS
def test_no_reset_helps_while_the_contact_stands(trip):
    desk = Desk()
    raise_contact(desk, trip)
    desk.run(POLL_MS)
    desk.press_reset()
    assert desk.image().trips == {trip}


@CONTACTS
def test_the_first_reason_stays_the_first(trip):
    desk = Desk()
    raise_contact(desk, trip)
    desk.run(POLL_MS)
    desk.hal.high = desk.hal.wet = True
    desk.run(POLL_MS)
    image = desk.image()
    assert image.first_trip is trip
    assert image.trips == {Trip.LEAK, Trip.HIGH_FLOAT}


def test_an_opening_shuts_by_itself_and_the_same_id_never_opens_again():
    desk = Desk()
    desk.run_talking(3000, filling(open_id=4, max_ms=1000, stir=True))
    assert desk.hal.history.count("valve on") == 1
    assert not desk.hal.valve
    assert not desk.image().trips
    assert desk.link.write(STIRRING)
    assert desk.link.write(filling(open_id=4, max_ms=1000))
    assert not desk.hal.valve
    assert desk.link.write(filling(open_id=5, max_ms=1000))
    assert desk.hal.valve


def test_an_opening_lasts_as_long_as_was_asked_while_the_host_talks():
    desk = Desk()
    desk.run_talking(950, filling(max_ms=1000))
    assert desk.hal.valve
    desk.run_talking(50, filling(max_ms=1000))
    assert not desk.hal.valve


def test_an_opening_longer_than_the_boards_cap_trips_and_opens_nothing():
    desk = Desk()
    assert not desk.link.write(filling(max_ms=60_001))
    assert desk.image().first_trip is Trip.VALVE_TIME
    assert desk.hal.history == []


@pytest.mark.parametrize("second", [filling(open_id=2, max_ms=9000), filling(open_id=1, max_ms=9000)])
def test_an_opening_under_way_cannot_be_lengthened(second):
    desk = Desk()
    desk.link.write(filling(open_id=1, max_ms=1000))
    assert not desk.link.write(second)
    assert not desk.hal.valve
    assert desk.image().first_trip is Trip.COMMAND
