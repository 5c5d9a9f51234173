"""The checks, one module a subject. Each check is a small generator over the Library."""
