"""Status pages: the permanent answer to "is my card still current?", one for every code ever issued."""
