"""The forms: what they ask, what they show, and what is to be written of what they were filled in with."""
