"""Scope capture: from a recorded trace of a coil at work to its supply, inductance, resistance and opening current.

`trace` reads the CSV, `openings` finds where the contacts part, `rise` fits the current between closing and opening,
`found` puts it together and says what cannot be told, `show` writes the card and the rows for a bench sheet (the picture is the
lessons', lessons/capture_picture.py).
`imagined` makes captures out of the model and `trial` counts how often the stated errors hold. Needs numpy and scipy.
"""
