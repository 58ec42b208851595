"""Lets `python -m controller` stand in for `tankhand`; nothing else lives here."""

from controller.cli import main

if __name__ == "__main__":
    main(prog_name="tankhand")
