"""The other way round: many linkages at once, and the ones that do what is wished."""
