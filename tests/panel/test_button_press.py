"""A bouncing, stuck or broken button never makes a press that nobody made."""

from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.press import SETTLED_S, Press

SCAN_S = 0.05


def looked(press: Press, contacts: list[bool | None], every_s: float, start_s: float = 0.0) -> list[bool]:
    return [press.look(closed, start_s + n * every_s) for n, closed in enumerate(contacts)]


def fresh_presses(down: list[bool]) -> int:
    """Count as the orders do: a press is "down" after "not down"."""
    return sum(now and not before for before, now in zip([False, *down], down, strict=False))


def test_a_press_counts_once_it_has_been_seen_in_two_scans():
    assert looked(Press(), [False, False, True, True, True], SCAN_S) == [False, False, False, True, True]


def test_letting_go_counts_once_it_has_been_seen_in_two_scans():
    down = looked(Press(), [False, False, True, True, False, False], SCAN_S)
    assert down == [False, False, False, True, True, False]


def test_a_spike_shorter_than_a_scan_is_no_press():
    assert not any(looked(Press(), [False, False, True, False, False], SCAN_S))


def test_bounces_at_both_ends_of_a_press_make_one_press():
    press_1ms = [False] * 100 + [True, False] * 8 + [True] * 200 + [False, True] * 8 + [False] * 100
    down = looked(Press(), press_1ms, 0.001)
    assert fresh_presses(down) == 1
    assert not down[-1]


def test_a_button_that_is_stuck_closed_at_the_start_is_no_press_until_it_has_been_open():
    press = Press()
    assert not any(looked(press, [True] * 50, SCAN_S))
    assert looked(press, [False, False, True, True], SCAN_S, 10.0) == [False, False, False, True]


def test_a_button_that_cannot_be_read_is_not_down_and_coming_back_closed_is_no_press():
    press = Press()
    assert looked(press, [False, False, True, True], SCAN_S)[-1]
    assert not any(looked(press, [None, True, True, True, True], SCAN_S, 1.0))
    assert looked(press, [False, False, True, True], SCAN_S, 2.0)[-1]


@given(
    st.lists(st.tuples(st.sampled_from([True, False, None]), st.floats(0.001, SETTLED_S / 2)), max_size=40)
)
def test_a_contact_that_is_never_still_for_the_settling_time_never_presses(changes):
    press, now_s, last = Press(), 0.0, None
    looked(press, [False, False], SCAN_S)
    now_s = 1.0
    for closed, after_s in changes:
        # The same level twice would be stillness: turn it over.
        closed = (not last) if closed is last and closed is not None else closed
        last = closed
        assert not press.look(closed, now_s)
        now_s += after_s
