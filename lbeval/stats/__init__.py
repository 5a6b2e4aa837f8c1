"""Formulas on arrays; numpy, scipy and statsmodels, no tables."""
