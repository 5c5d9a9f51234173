"""Stage 2, model: what was read becomes one frozen Library; whatever does not fit is a finding at its place."""
