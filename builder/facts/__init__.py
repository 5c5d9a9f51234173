"""Facts: what a department wrote, worked out once and asked by checks, drafts and outputs alike. Pure."""
