"""The map of an operation: its steps with their choices, what is in the patient, and what has been seen by then."""
