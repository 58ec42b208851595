"""Bottles, pumps, tubes and the common line: what is really dosed. No tank, no sensors."""
