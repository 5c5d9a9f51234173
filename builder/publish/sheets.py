"""Card sheets: the sides of a pocket card imposed on A4, to be cut or folded."""
