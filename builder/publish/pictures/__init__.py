"""Pictures as they may be shown."""
