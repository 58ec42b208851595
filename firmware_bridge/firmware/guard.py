"""What keeps the board off: trips with the first reason, the host's lease, arming. No pins, no motion here.

Float, leak, caps, forbidden commands and the self-test latch until the local reset button is pressed while
every cause is gone, over a restart as well. A lost lease does not latch, but like every switching-off by the
board itself it disarms, and so does every start: only an all-off command arms, so that nothing restarts
because a host merely went on talking.
"""

from firmware_bridge.firmware.ticks import elapsed_ms
from firmware_bridge.registers import (
    REFUSED_DOSE_CAP,
    REFUSED_DOSE_CHANGED,
    REFUSED_NIGHT_CAP,
    REFUSED_VALVE_NIGHT,
    REFUSED_VALVE_TIME,
    TRIP_COMMAND,
    TRIP_DOSE_CAP,
    TRIP_HIGH_FLOAT,
    TRIP_LEAK,
    TRIP_LEASE,
    TRIP_NIGHT_CAP,
    TRIP_SELF_TEST,
    TRIP_VALVE_TIME,
)

# Contacts bounce for some 10 ms (common practice, no source); a person presses for much longer.
BUTTON_STILL_MS = 50
_LEASE_BIT = 1 << (TRIP_LEASE - 1)
_SELF_TEST_BIT = 1 << (TRIP_SELF_TEST - 1)


def trip_of(refusal: int) -> int:
    """Name the trip that a refused command causes; 0 when it was only late or out of place."""
    if refusal < REFUSED_DOSE_CHANGED:
        return 0
    if refusal in (REFUSED_VALVE_TIME, REFUSED_VALVE_NIGHT):
        return TRIP_VALVE_TIME
    if refusal == REFUSED_DOSE_CAP:
        return TRIP_DOSE_CAP
    if refusal == REFUSED_NIGHT_CAP:
        return TRIP_NIGHT_CAP
    return TRIP_COMMAND


class Guard:
    """`armed` False: everything must be off. `trips` has bit (code - 1) for each trip that stands.

    `failed_tests` has the SELF_TEST_* bits behind a self-test's trip.
    """

    def __init__(self, lease_ms: int) -> None:
        self._lease_ms = lease_ms
        self.lease_left_ms = 0
        # A button that is down from the start has not been pressed.
        self._button_down = True
        self._button_since_ms = 0
        self._seen_up = False
        self._defective = False
        self.failed_tests = 0
        self.lease_counter = 0
        self.trips = 0
        self.first_trip = 0
        self.armed = False
        self.high_float = False
        self.leak = False

    def trip(self, code: int) -> None:
        """Note a TRIP_* code and disarm; the first one stays the first."""
        self.trips |= 1 << (code - 1)
        if self.first_trip == 0:
            self.first_trip = code
        self.armed = False

    def latched(self) -> bool:
        """Say whether a trip stands that only the local reset clears."""
        return self.trips & ~_LEASE_BIT != 0

    def latches(self) -> int:
        """Give the trips that outlive a restart: all that latch, but for tests that each start makes anew."""
        latched = self.trips & ~_LEASE_BIT
        return latched & ~_SELF_TEST_BIT if self._defective else latched

    def recall(self, trips: int, first_trip: int) -> None:
        """Take over what was latched before a restart."""
        self.trips |= trips
        if first_trip:
            self.first_trip = first_trip

    def disarm(self) -> None:
        """Want an all-off command before anything may go on."""
        self.armed = False

    def arm(self) -> None:
        """Take an all-off command: a lost lease is forgiven, a latched trip is not."""
        if not self.latched():
            self.trips = 0
            self.first_trip = 0
            self.armed = True

    def fail(self, tests: int) -> None:
        """Trip on failed self-tests, SELF_TEST_* bits."""
        self.failed_tests |= tests
        self.trip(TRIP_SELF_TEST)

    def condemn(self, tests: int) -> None:
        """Trip on failed self-tests that no reset can mend."""
        self._defective = True
        self.fail(tests)

    def watch(self, high_float: bool, leak: bool, reset_pressed: bool, now_ms: int) -> None:
        """Take the board's own contacts; a reset counts when pressed anew with every cause gone.

        A float or leak counts at one look, a press only after it has stood still: neither a bounce nor a
        disturbance on the button's wire may clear a trip.
        """
        self.high_float = high_float
        self.leak = leak
        if high_float:
            self.trip(TRIP_HIGH_FLOAT)
        if leak:
            self.trip(TRIP_LEAK)
        if self._pressed_anew(reset_pressed, now_ms) and not (high_float or leak or self._defective):
            self.trips = 0
            self.first_trip = 0
            self.failed_tests = 0

    def _pressed_anew(self, pressed: bool, now_ms: int) -> bool:
        """Say, once a press, that the button has been down for a while after it had been up for a while."""
        if pressed != self._button_down:
            self._button_down = pressed
            self._button_since_ms = now_ms
        if elapsed_ms(now_ms, self._button_since_ms) < BUTTON_STILL_MS:
            return False
        if not pressed:
            self._seen_up = True
            return False
        anew = self._seen_up
        self._seen_up = False
        return anew

    def lease_step(self, counter: int) -> int:
        """Say how much newer a lease counter is: 0 the same, negative older (serial-number arithmetic)."""
        step = (counter - self.lease_counter) & 0xFFFF
        return step if step < 0x8000 else step - 0x10000

    def renew(self, counter: int) -> None:
        """Start the lease anew."""
        self.lease_counter = counter
        self.lease_left_ms = self._lease_ms

    def elapse(self, ms: int) -> None:
        """Let the lease run while something is on; trip when it is over."""
        self.lease_left_ms -= ms
        if self.lease_left_ms <= 0:
            self.trip(TRIP_LEASE)
