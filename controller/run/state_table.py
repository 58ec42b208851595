"""Draw the run machine's state table from the live machine: `python -m controller.run.state_table`."""

from __future__ import annotations

from controller.run.sequence import Command, RunState, Sequence


def state_table() -> str:
    """Give the table as Markdown: a row a state, a column a command, the cell says where it leads."""
    leads = {(source, command): target for command, source, target in Sequence().rows()}
    lines = [
        "| state | " + " | ".join(command.value for command in Command) + " |",
        "|---" * (len(Command) + 1) + "|",
    ]
    for state in RunState:
        cells = [leads.get((state.value, command.value), "") for command in Command]
        lines.append(f"| {state.value} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(state_table())
