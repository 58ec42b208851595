"""Decide what the rig does: settings, plan, run, measure, record and the command line."""
