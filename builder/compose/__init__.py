"""Stage 4, compose: the Library becomes documents. Nothing is read or written; composing twice gives equal results."""
