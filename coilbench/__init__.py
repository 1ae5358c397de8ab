"""The bench: from the readings of a coil, kept in a bench sheet, to its likely cause, the next step and a record.

It knows `coilmodel` only and draws no panel: the lessons turn what it found into pictures. `sheet` reads the CSV, `causes` states
the priors, `asks` what can be measured, `errors` how far it may be off; `running` runs one imagined coil, `imagine` and `predict`
run thousands, `stored` weighs them (the one judge, of page and command), `verdict` is what comes out, `advice` names the next
step, `card` says it. `capture` reads a scope's record, `four` chooses a set. What imagines needs numpy, scipy and joblib and runs
natively only; the rest is plain Python and runs in the book's pages too (tests/test_frame_layers.py holds the line).
"""
