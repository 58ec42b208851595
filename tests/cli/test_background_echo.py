"""Lines are printed aside: a terminal that hangs or has gone never holds up who tells them."""

import threading

import click

from controller.cli.background_echo import MOST_WAITING, BackgroundEcho


def test_lines_come_out_in_order(capsys):
    with BackgroundEcho() as echo:
        for number in range(100):
            echo(f"line {number}")
    assert capsys.readouterr().out.splitlines() == [f"line {number}" for number in range(100)]


def test_a_terminal_that_hangs_holds_nobody_up_and_keeps_no_more_than_it_may(mocker):
    released, printed = threading.Event(), []

    def hanging(line):
        released.wait(60)
        printed.append(line)

    mocker.patch.object(click, "echo", hanging)
    mocker.patch("controller.cli.background_echo.FAREWELL_S", 0.0)
    with BackgroundEcho() as echo:
        for number in range(3 * MOST_WAITING):
            echo(str(number))
    assert printed == []
    released.set()
    echo._thread.join(60)
    assert 0 < len(printed) <= MOST_WAITING + 2


def test_a_terminal_that_has_gone_ends_the_printing_and_nothing_else(mocker):
    mocker.patch.object(click, "echo", side_effect=BrokenPipeError())
    with BackgroundEcho() as echo:
        echo("nobody")
        echo("reads this")
    assert not echo._thread.is_alive()
