"""Turn raw readings and counts into amounts and pH, and decide a pH correction; pure functions."""
