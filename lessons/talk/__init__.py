"""The talk: 45 minutes in stops. A stop is a panel, slider positions, a title, a line to say and its minutes.

Plain data in stops.py; the book's build makes the projected page, the presenter's window, the handout and the answer sheet of it
(book/making/talk.py). Numbers in the lines come from the stop's own picture, and what a line claims is tested against the model.
"""

from lessons.talk.stops import CAUTION, STOPS, Claim, Stop, filled, measured, picture_of, stop_named

__all__ = ["CAUTION", "STOPS", "Claim", "Stop", "filled", "measured", "picture_of", "stop_named"]
