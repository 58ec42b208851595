"""The feed tank and the supply: layers, mixing, foam, heat, grains on the floor. No pumps, no sensors."""
