"""Constants of nature that several rooms of the simulation share. Nothing assumed, nothing of a site."""

GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall (CGPM 1901, ISO 80000-3)."""
KELVIN = 273.15
"""0 deg C, K."""
GAS_J_MOL_K = 8.314462618
FARADAY_C_MOL = 96485.33212
"""CODATA 2018; both follow from the exact constants of the SI."""
