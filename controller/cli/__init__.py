"""The command line: reads what a person typed, calls the other rooms, and shows what they answer.

No decision about a batch lives here. `frame.py` holds the `tankhand` command itself; each subcommand has a
file of its own, imported only when it is asked for, so that a quick command stays quick.
"""

from controller.cli.frame import main

__all__ = ["main"]
