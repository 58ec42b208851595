"""The register map: one file for the host and for the board.

Only plain integers and struct formats live here, so that CPython and MicroPython both take it. Words are
16 bits, the high word of a 32-bit number first. No code, no decisions, nothing that only one side knows.
"""

# High byte: kind of device. Low byte: version of this map; raise it with every change of meaning.
MAP_ID = 0x5404
# High byte: major, low byte: minor.
FIRMWARE_VERSION = 0x0301

# The one value of a signed 16-bit reading that means "no reading".
NO_READING = -32768
# Ids and counts stay inside a small integer of a 32-bit MicroPython, so that the pump path never allocates.
MAX_NUMBER = 0x3FFFFFFF
MAX_CHANNELS = 16
# Data lines of scales; each carries one or several bottles.
SCALE_LINES = 5

# Input registers (function 04). First block: all that a scan needs, in one read.
IN_MAP_ID = 0
IN_BOOT_ID = 1  # u32, never 0
IN_UPTIME_MS = 3  # u32, wraps
IN_LEASE = 5  # last lease counter taken
IN_STATUS = 6  # STATUS_* bits
IN_TRIPS = 7  # bit (code - 1) for each TRIP_* code
IN_FIRST_TRIP = 8  # TRIP_* code that came first, 0 none
IN_REFUSAL = 9  # REFUSED_* code of the last refused command, 0 none since boot
IN_OPEN_ID = 10  # u32, last valve opening
IN_MOTION_CHANNEL = 12
IN_MOTION_DOSE_ID = 13  # u32, 0 none yet
IN_MOTION_TARGET = 15  # u32, counts
IN_MOTION_DONE = 17  # u32, counts
IN_PH_DECIMV = 19  # signed, 0.1 mV
IN_EC_US_CM = 20  # signed, µS/cm
IN_TANK_CENTIC = 21  # signed, 0.01 °C
IN_SUPPLY_CENTIC = 22  # signed, 0.01 °C
IN_LEVEL_DECIMM = 23  # signed, 0.1 mm
IN_FLOW_PULSES = 24  # u32; the board counts from 0 again after MAX_NUMBER
IN_SECOND_PH_DECIMV = 26  # signed, 0.1 mV; NO_READING where no second electrode is fitted
IN_SCALES_G = 27  # signed, g gross, one word a line; NO_READING where none answers
SCAN_WORDS = IN_SCALES_G + SCALE_LINES
SCAN_FORMAT = ">HIIHHHHHIHIIIhhhhhIhhhhhh"

# Second block: what the board is, read on connecting.
# Map id, firmware version, channels, limits checksum, lease ms, valve cap ms (u32), front ends checksum, and
# SELF_TEST_* bits of the self-tests that failed.
IN_IDENTITY = 40
IDENTITY_WORDS = 9
IDENTITY_FORMAT = ">HHHHHIHH"

# Third block: one entry a channel, for recovery: last dose id, counts of it, counts since boot (u32 each).
# Ids and counts of the last dose are kept over a restart.
IN_CHANNELS = 56
CHANNEL_WORDS = 6
CHANNEL_FORMAT = ">III"
INPUT_WORDS = IN_CHANNELS + MAX_CHANNELS * CHANNEL_WORDS

STATUS_ENABLED = 1
STATUS_VALVE_OPEN = 2
STATUS_HIGH_FLOAT = 4
STATUS_LEAK = 8
STATUS_RUNNING = 16
STATUS_ARMED = 32  # clear, as after every start: an all-off command is needed before anything may go on

TRIP_LEASE = 1
TRIP_HIGH_FLOAT = 2
TRIP_LEAK = 3
TRIP_VALVE_TIME = 4
TRIP_DOSE_CAP = 5
TRIP_NIGHT_CAP = 6
TRIP_COMMAND = 7
TRIP_SELF_TEST = 8
TRIP_MEMORY = 9

SELF_TEST_CODE = 1  # a file of the firmware is not as it was installed
SELF_TEST_MEMORY = 2  # memory did not keep a pattern
SELF_TEST_CONVERTER = 4  # a converter does not see its own supply within range
SELF_TEST_INPUTS = 8  # contacts contradict each other or the level
SELF_TEST_SETTINGS = 16  # no sound limits on the board
SELF_TEST_MOTOR = 32  # a motor's count ran backwards or too far
SELF_TEST_PULSES = 64  # the pulse counter cannot be read
SELF_TEST_STRAYS = 128  # a file lies there that could run in place of the firmware's own

# Holding registers (function 03). The command block is written whole by function 16: one write, one command.
HOLD_LEASE = 0  # must be newer than the last one; alone by function 06: renews the lease, nothing else
HOLD_BOOT_ID = 1  # u32, the boot id that the host believes
HOLD_FLAGS = 3  # COMMAND_* bits
HOLD_OPEN_ID = 4  # u32, 0: valve shut
HOLD_OPEN_MAX_MS = 6  # u32
HOLD_CHANNEL = 8
HOLD_DOSE_ID = 9  # u32
HOLD_TARGET = 11  # u32, counts
HOLD_COUNTS_PER_S = 13
COMMAND_WORDS = 14
COMMAND_FORMAT = ">HIHIIHIIH"

COMMAND_ENABLE = 1
COMMAND_RUN = 2

# Why a command was refused. Up to OPEN_ID it was late or out of place; from DOSE_CHANGED on it trips.
REFUSED_NONE = 0
REFUSED_LEASE = 1  # lease counter is not newer
REFUSED_BOOT_ID = 2
REFUSED_TRIPPED = 3  # a latched trip stands
REFUSED_NOT_ARMED = 4  # the board switched off by itself; it wants an all-off command first
REFUSED_DOSE_ID = 5  # older than the last one
REFUSED_OPEN_ID = 6  # older than the last one
REFUSED_DOSE_CHANGED = 7  # same dose id, other channel or target
REFUSED_OPEN_CHANGED = 8  # same opening, other time; or a new opening while the valve is open
REFUSED_SECOND_MOTOR = 9  # another motion is not finished
REFUSED_DOSE_WITH_VALVE = 10
REFUSED_CHANNEL = 11
REFUSED_VALUE = 12
REFUSED_VALVE_TIME = 13
REFUSED_DOSE_CAP = 14
REFUSED_NIGHT_CAP = 15
REFUSED_VALVE_NIGHT = 16
