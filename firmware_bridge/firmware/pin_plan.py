"""Which pin of the board does what: plain numbers, for the firmware and for the wiring sketch alike.

The plan is for an RP2040-class board with the pins GP0 to GP22 and GP26 to GP28. One STEP and one DIR line go
to all pump drivers; a 4-to-16 line decoder enables at most one driver, whatever the program does.
"""

UART_ID = 0
UART_TX = 0
UART_RX = 1
STEP = 2
DIRECTION = 3
DECODER_ADDRESS = (4, 5, 6, 7)  # least significant first
DECODER_GATE = 8  # low: the addressed driver is enabled; pulled up, so that a board in reset enables none
SCALE_CLOCK = 9
SCALE_DATA = (10, 11, 12, 13, 14)  # data lines 0 to 4; each scale carries one or several bottles
PH_SELECT = 15  # of the analogue switch before ADC_PH: low the first pH module, high the second; pulled down
VALVE = 16
ENABLE = 17
HIGH_FLOAT = 18  # closed to ground while dry: lifted or cut reads high
LEAK = 19  # closed to ground while dry: wet or cut reads high
RESET_BUTTON = 20  # closed to ground while pressed
ONE_WIRE = 21
FLOW_PULSES = 22
ADC_PH = 26
ADC_CONDUCTIVITY = 27
ADC_LEVEL = 28

# Driver pulses for one count: a head with 4 rollers of 8 counts each, a motor of 200 steps, 16 microsteps.
PULSES_PER_COUNT = 100

# A load cell for 10 kg that gives 2 mV/V, read at gain 128: 2 / 3.90625 of 2**23 counts for 10 000 g.
SCALE_COUNTS_PER_G = 429
