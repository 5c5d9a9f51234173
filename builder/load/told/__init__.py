"""What a draft is made from: outlines, word-processor files, slides and recorded talks."""
