"""Run a plan: input image, interlocks, sequence, phases, guard and the scan that ties them."""
