"""The command line: reads what a person typed, calls the other rooms, and shows what they answer.

No decision about a batch lives here. `frame.py` holds the `tankhand` command itself; each subcommand has a
file of its own, imported only when it is asked for, so that a quick command stays quick.
"""

try:
    from controller.cli.frame import main
except KeyboardInterrupt:
    # Not even click is there yet; the words are those of `stop.py`.
    raise SystemExit("Stopped before anything was begun.") from None

__all__ = ["main"]
