"""The bench: from the readings of a coil, kept in a bench sheet, to its likely cause and the next step.

`sheet` reads the CSV, `causes` states the priors, `predict` runs imagined coils, `judge` weighs them, `card` says it.
This part runs natively only: it needs numpy, scipy and joblib (`sheet` and `units` alone are plain Python).
"""
