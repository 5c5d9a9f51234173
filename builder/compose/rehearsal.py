"""The rehearsal script, as PDF and plain text: the operation said aloud in the first person, one cue a step, timed."""
