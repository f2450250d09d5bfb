"""Formulas: one topic a file, floats or NumPy arrays in and out, SI, a source for each.

Nothing here knows about sites, machines or rules. ``formula`` reads the formulas' own docstrings and
bodies to list them, to mask values they do not hold for, and to show their working.
"""
