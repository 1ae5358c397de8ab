"""The talk: a story in stops, with a long and a short version. A stop is a question, a panel, and steps that each say something.

Plain data in stops.py; the book's build makes the projected page, the presenter's window, the handout and the answer sheet of it
(book/making/talk.py). Numbers in the lines come from the stop's own pictures, and what a line claims is tested against the model.
"""

from lessons.talk.said import LONG, SHORT, WORDS_A_MINUTE, filled, lines, minutes_of, objections, speaking, spoken, told
from lessons.talk.stop import Claim, Objection, Step, Stop, picture_at, value_of
from lessons.talk.stops import CAUTION, CLOSING, GOING_ON, NO_ADDRESS, STOPS, measured, stop_named

__all__ = [
    "CAUTION", "CLOSING", "Claim", "GOING_ON", "LONG", "NO_ADDRESS", "Objection", "SHORT", "STOPS", "Step", "Stop",
    "WORDS_A_MINUTE", "filled", "lines", "measured", "minutes_of", "objections", "picture_at", "speaking", "spoken",
    "stop_named", "told", "value_of",
]
