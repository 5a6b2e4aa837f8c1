"""Invented seasons to try the tool on, and the generator that made them."""
