"""The count and kit sheet on A4: what is laid out, what is in the patient after each step by path, and the counts."""
