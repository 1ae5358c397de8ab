"""The steps of the book's build, one file a step; `book/build.py` runs them in order."""
