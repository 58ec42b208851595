"""The person at the terminal: what is asked and told while a pump is weighed. Words only."""

from __future__ import annotations

import click

CAUTIONS = (
    "Press the emergency stop before you reach into the pump head. Hands, hair and sleeves stay "
    "away from the rollers.",
    "Take the pump's outlet tube off the common line and hang its end into a beaker. Never weigh or "
    "prime into the tank.",
    "Wear gloves and goggles where the input's label asks for them. Wipe up what is spilled.",
    "Balance: level, warmed up, out of the draught, on grams. Beaker empty and dry.",
)
SELECTOR = "Selector at AUTO. Every output but this pump stays off; the wall button holds it."


class PersonAtTerminal:
    """Ask on stderr and read from stdin, so that stdout is left to the answer."""

    def begin(self, lines: tuple[str, ...]) -> None:
        """Show the cautions and wait for a yes; raises click.Abort otherwise."""
        for line in lines:
            click.echo(f"  - {line}", err=True)
        click.confirm("Is all of this so?", abort=True, err=True)

    def looks_wet(self) -> bool:
        """Ask for bubbles."""
        return click.confirm("Does liquid come out without bubbles?", default=False, err=True)

    def empty(self) -> None:
        """Have the beaker emptied."""
        click.prompt(
            "Empty the beaker, put it on the balance, tare, press Enter",
            default="",
            show_default=False,
            prompt_suffix=" ",
            err=True,
        )

    def weigh(self, number: int, of: int, expected_g: float) -> str:
        """Ask for one weight; the balance is tared after each."""
        text: str = click.prompt(
            f"Delivery {number} of {of}, about {expected_g:.3g} g. Touch the drop off. Grams", err=True
        )
        click.echo("  Tare the balance (empty the beaker when it is half full).", err=True)
        return text

    def tell(self, line: str) -> None:
        """Show a line."""
        click.echo(line, err=True)
