"""Turn raw readings and counts into amounts and pH, and decide how pH is trimmed; pure functions."""
