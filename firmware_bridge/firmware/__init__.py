"""Code of the microcontroller board: MicroPython, runs under CPython too."""
