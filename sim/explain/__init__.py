"""The page of true against measured values of one simulated night, and the trace behind it."""
