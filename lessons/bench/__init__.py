"""The bench: from the readings of a coil, kept in a bench sheet, to its likely cause and the next step.

`sheet` reads the CSV, `causes` states the priors, `asks` what can be measured, `errors` how far it may be off; `running` runs
one imagined coil, `imagine` and `predict` run thousands, `judge` weighs them, `verdict` is what comes out, `card` says it.
What imagines and judges needs numpy, scipy and joblib and runs natively only; the rest is plain Python and runs in the book's
pages too (tests/test_frame_layers.py holds the line).
"""
