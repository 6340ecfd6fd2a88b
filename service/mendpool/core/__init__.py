"""Pure values and functions: no clock, disk, network, randomness or framework."""
