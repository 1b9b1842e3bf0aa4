"""Ground: errors, findings, tolerances and rigid placements. Imports nothing of ours."""
