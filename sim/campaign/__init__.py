"""Many simulated nights with random faults, waters, wear and people: drawn, run, and added up."""
