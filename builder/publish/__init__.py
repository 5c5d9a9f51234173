"""Stage 5, publish: documents become files. Nothing is half written."""

import warnings

# The typesetter warns, whenever it is imported, where a machine has no fonts. Nothing is set in those.
warnings.filterwarnings("ignore", "No fonts configured")
