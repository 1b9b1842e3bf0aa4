"""Does every screw fit, how tight may it be, and what clashes."""
