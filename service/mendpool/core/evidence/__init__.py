"""How much past reports prove: cases, weights, intervals, rates, durability, the fit."""
