"""Bibliography styles: one source becomes one reference, as HTML and as text. Pure; nothing is looked up."""
