"""Names, scales, units and duplicates are settled here and nowhere else."""
