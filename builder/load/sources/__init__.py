"""Sources as they are read: BibTeX, RIS, PubMed, CSL-JSON, and the lists of notices."""
