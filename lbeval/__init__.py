"""Fair end-of-season evaluations of linebackers from the sheets their coaches graded."""
