"""Two programs for the board's programmable I/O (PIO). Nothing here runs as Python: the assembler calls them.

Their words are those of `rp2.asm_pio`, which puts them in place; `wiring.py` loads the programs.
Semantics: RP2040 datasheet, section 3.4 (PIO instruction set).
"""
# ruff: noqa: F821
# mypy: disable-error-code="name-defined,call-overload"

# Cycles of `give_pulses` from one rising edge to the next.
CYCLES_PER_PULSE = 40


def give_pulses() -> None:
    """Give as many pulses as the one word that was put in, then rest low until the next word.

    The number lives in the hardware alone, so that it stops there whatever becomes of the program. Each pulse
    is high for 20 cycles and low for 20.
    """
    label("rest")
    pull(block)
    mov(x, osr)
    label("next")
    jmp(not_x, "rest")
    set(pins, 1)[19]
    set(pins, 0)[17]
    # X is not 0 here, so this always jumps.
    jmp(x_dec, "next")


def count_edges() -> None:
    """Count X down by one at every rising edge of the pin.

    It reads the pin itself and runs at full speed, so that an instruction put in between (`mov(isr, x)` and
    `push(noblock)` tell the count) can neither bend a pulse nor miss one.
    """
    label("again")
    wait(0, pin, 0)
    wait(1, pin, 0)
    jmp(x_dec, "again")
