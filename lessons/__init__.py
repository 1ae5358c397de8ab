"""The course: panels, exercises, the face that draws them, and the engine that answers both kinds of reader."""
