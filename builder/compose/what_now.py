"""The "what now?" sheet on A4: from the sign that is seen to its likely cause, what to do, and whom to call."""
